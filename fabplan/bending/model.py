"""A bend schedule: the folds of one piece in an order that works, with settings and check sizes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Side = Literal["face", "back"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """What a stop or tape is set against: an edge, hem or bend, by number."""

    what: Literal["edge", "hem", "bend"]
    ref: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What to measure after the step: words and size (inches)."""

    what: str
    size: float


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
    """Brake outline for drawing: polygons of bed, nose bar and apron (apron at rest)."""

    bed: tuple[Point, ...]
    nose: tuple[Point, ...]
    apron: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stroke.

    Attributes
    ----------
    step : int
        From 1.
    edge : int
        Edge (flat piece) or bend number (section).
    turn : str
        What to do with the piece before this stroke, in words ("turn over end for end",
        "rotate a quarter turn left", "").
    turns_over, rotates, changes_tool : bool
    side_up : {"face", "back"}
    end_in : str
        Section: which end goes into the brake ("start end", "finish end"); "" for flat pieces.
    action : {"fold", "pre-bend", "close"}
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
        For sections.
    says : str
        One plain sentence for the apprentice.
    """

    step: int
    edge: int
    turn: str
    turns_over: bool
    rotates: bool
    changes_tool: bool
    side_up: Side
    end_in: str
    action: Literal["fold", "pre-bend", "close"]
    turned_deg: float
    set_deg: float
    check_deg: float
    tool: str
    stop: float
    gauged_from: Gauge
    check: Check
    done: tuple[int, ...]
    toward: Side
    metal_springback: float | None = None
    loading: str = ""
    before: SectionState | None = None
    after: SectionState | None = None
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BendSchedule:
    """All strokes of one piece. `proven` when the order is proven least in turn-overs, then rotations, then tools."""

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
    assumed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
