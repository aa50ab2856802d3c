"""A bend schedule: the folds of one piece in an order that works, with settings and check sizes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from fabplan.labour import Spent
from fabplan.quantities import Degrees, Fields, Inches

Point = tuple[Inches, Inches]
Side = Literal["face", "back"]
Soft = Literal["bed", "jaw"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """What a stop or tape is set against: an edge, hem, fold between legs or bend, by number."""

    what: Literal["edge", "hem", "fold", "bend"]
    ref: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What to measure after the step, inches.

    Attributes
    ----------
    what : {"leg", "hem", "flap"}
        "leg": outside of the bend to what `to` names (sections). "hem": outside of the hem to its raw edge
        (sections). "flap": raw edge of a flat piece to the outside of its fold.
    size : float
    to : Gauge or None
        Only for a leg.
    across_edge : int
        Flat pieces: the folded edge that faces the other way, 0 when there is none yet.
    across : float
        Fold to fold across to that edge, 0 without.
    """

    what: Literal["leg", "hem", "flap"]
    size: Inches
    to: Gauge | None = None
    across_edge: int = 0
    across: Inches = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Far:
    """Stop and check size of a stroke at end B of a tapered strip, inches; the step's own are those at end A."""

    stop: Inches
    size: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """How the piece is brought round before a stroke; as it lies when nothing is set.

    Attributes
    ----------
    over : {"", "away", "sideways", "end", "roll"}
        Turned over. Flat pieces: away from you, or left to right. Strips: end for end, so that the same end goes in,
        or rolled, so that the other end goes in.
    rotate : float
        Flat pieces: degrees on the table seen from above, after turning over, positive to the left; 0 for none.
    swap : bool
        Strips: the other end goes in, the same side up.
    shift : bool
        Flat pieces: another edge comes to the tool than was there.
    """

    over: Literal["", "away", "sideways", "end", "roll"] = ""
    rotate: Degrees = 0.0
    swap: bool = False
    shift: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """How the metal is held for a stroke.

    Attributes
    ----------
    way : {"nose", "jaws", "slot", "pushed in", "in front", "under nose", "pressed", "by hand"}
        "nose": clamped behind the bending edge. "jaws", "slot": a hand tool grips the flap. Closing a hem of a strip:
        "pushed in" from where it was bent, or "in front" with the strip toward you; of a flat piece "under nose" of
        the brake, or "pressed" with a hand tool.
    behind : bool
        Strips: the stop is touched by the clamped side, behind the nose; else it is measured in front.
    loose : float
        How much deeper the slot is than the flap, inches.
    bites : int
        Grips along the fold when it is longer than the jaws, else 0.
    bite : float
        Width of the jaws, inches, 0 without bites.
    shim : float or None
        A hem pressed shut: thickness of the shim, inches, 0 without one; None when nothing is pressed shut.
    clear_of, hanging : tuple of int
        Flat pieces: edges whose folds the tool stays off; edges that point down meanwhile.
    packing : bool
        A made hem lies under the clamped metal: the hollow is filled.
    wide_swings : bool
        The wider side of the strip lies on the leaf.
    bar_off : bool
        The leaf's bar is taken off for the stroke.
    shims_in : tuple of int
        Strips: open hems that come under the nose and are held open by their shims.
    deep : float
        Closing a fold between legs or a sharp bend: how far it goes under the nose, inches; 0 for a hem.
    radius : float
        Inside radius that this nose is too sharp for, inches; 0 when it forms the bend.
    by_hand : float
        Degrees past the leaf's reach, pressed by hand; of a stroke by hand, its degrees.
    """

    way: Literal["nose", "jaws", "slot", "pushed in", "in front", "under nose", "pressed", "by hand"] = "nose"
    behind: bool = True
    loose: Inches = 0.0
    bites: int = 0
    bite: Inches = 0.0
    shim: Inches | None = None
    clear_of: tuple[int, ...] = ()
    hanging: tuple[int, ...] = ()
    packing: bool = False
    wide_swings: bool = False
    bar_off: bool = False
    shims_in: tuple[int, ...] = ()
    deep: Inches = 0.0
    radius: Inches = 0.0
    by_hand: Degrees = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionState:
    """The strip in section in the brake's frame (bending edge at the origin, operator at +x), for drawing.

    `line` is the outside polyline; `open_bends` the points of bends not yet made, `hems` doubled edges already closed.
    `clamped_from` is the index of the polyline point at the nose.
    """

    line: tuple[Point, ...]
    nose_index: int
    hems: tuple[tuple[Point, Point], ...] = ()
    unmade: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BrakeSection:
    """Brake outline for drawing: polygons of bed, nose bar and apron (apron at rest).

    `narrow` is the apron with the bar of its edge taken off; empty when the bar stays on.
    """

    bed: tuple[Point, ...]
    nose: tuple[Point, ...]
    apron: tuple[Point, ...]
    narrow: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stroke.

    Attributes
    ----------
    step : int
        From 1.
    edge : int
        Edge (flat piece) or bend number (section).
    turn : Turn
        How the piece is brought round before this stroke.
    hold : Hold
        How it is held.
    turns_over, rotates, changes_tool : bool
    side_up : {"face", "back"}
    end_in : str
        Section: which end goes into the brake ("start end", "finish end"); "" for flat pieces.
    toward : {"face", "back"}
        The side it folds to.
    action : {"fold", "pre-bend", "close", "by hand"}
    turned_deg, set_deg, check_deg : float
        Degrees turned in this stroke's end state; the setting (with springback); what to read with a protractor.
        A hem is 180/180/180.
    metal_springback : float or None
        The metal's own part, computed.
    tool : str
    stop : float
        Stop or mark distance, inches.
    gauged_from : Gauge
    check : Check
    done : tuple of int
        Edges/bends finished before this step.
    loading : {"", "front", "end"}
    before, after : SectionState or None
        For sections; of a tapered strip at its end A.
    far : Far or None
        Of a tapered strip.
    at : {"", "A", "B"}
        Turned ends of sections: the end of the piece that is turned, or whose tab is, at the bench.
    soft : tuple of {"bed", "jaw"}
        Of a face with a finish: whether something soft lies between it and the bed and leaf, and what grips or presses
        it.
    """

    step: int
    edge: int
    turn: Turn
    hold: Hold
    turns_over: bool
    rotates: bool
    changes_tool: bool
    side_up: Side
    end_in: str
    action: Literal["fold", "pre-bend", "close", "by hand"]
    turned_deg: Degrees
    set_deg: Degrees
    check_deg: Degrees
    tool: str
    stop: Inches
    gauged_from: Gauge
    check: Check
    done: tuple[int, ...]
    toward: Side
    metal_springback: Degrees | None = None
    loading: str = ""
    before: SectionState | None = None
    after: SectionState | None = None
    far: Far | None = None
    at: Literal["", "A", "B"] = ""
    soft: tuple[Soft, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldTime:
    """Time at one station: of `each` piece, and once for every `batch`, when tools are set and folds checked."""

    station: Literal["bench", "brake"]
    each: tuple[Spent, ...]
    batch: tuple[Spent, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BendSchedule:
    """All strokes of one piece.

    `proven` when the order is proven least: of flat pieces in time at the tools over a batch, then in turn-overs,
    rotations and tools; of sections in turn-overs, then in what docs/how-numbers-are-computed.md tells. `times` is what
    they take at the stations used, the bench first.
    """

    mark: str
    kind: Literal["flat", "section"]
    steps: tuple[Step, ...]
    proven: bool
    states: int
    turn_overs: int
    rotations: int
    tool_changes: int
    turn_arounds: int = 0
    end_loadings: int = 0
    brake: BrakeSection | None = None
    times: tuple[FoldTime, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """One setting of one tool, and the strokes made with it: (mark, step) in order.

    `stop` is None where nothing is gauged: a hem closed, a stroke by hand; `far_stop` is that at end B of a tapered
    strip.
    """

    tool: str
    stop: Inches | None
    set_deg: Degrees
    far_stop: Inches | None = None
    strokes: tuple[Annotated[tuple[str, int], Fields(("mark", "step"))], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """Set-ups of one batch of every piece that has so many batches; `times` rounds alike."""

    times: int
    setups: tuple[SetUp, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """A change to a piece that cannot be folded, planned again before it is offered.

    Attributes
    ----------
    says : str
        What to do, one plain sentence.
    write : str
        What to write into the job file for it; "" when nothing is.
    """

    says: str
    write: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unbent:
    """A piece that cannot be folded with the tools at hand.

    Attributes
    ----------
    mark : str
    reasons : tuple of str
        One plain sentence per fold that is in the way: the fault of the stage.
    mends : tuple of Mend
    proven : bool
        False when the search was cut short, so that an order might exist.
    """

    mark: str
    reasons: tuple[str, ...]
    mends: tuple[Mend, ...]
    proven: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Bends:
    """All pieces with folds: those that can be folded, and those that cannot."""

    schedules: tuple[BendSchedule, ...]
    unbent: tuple[Unbent, ...] = ()
