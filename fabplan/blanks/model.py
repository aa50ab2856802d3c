"""Flat metal: what every piece is before it is folded.

A hemmed shingle and a brake-formed drip edge are the same kind of thing: an outline with fold lines.

Frames
------
All points are inches in the blank's own frame: x across `width`, y along `length`, lower left corner of the
bounding box at (0, 0), seen from the FACE. Edges count from 1, counter-clockwise seen from the face; point n
starts edge n. Diamond: 1 upper left, 2 lower left, 3 lower right, 4 upper right.
For a section x runs across the strip from its start edge (leg 1 at x = 0) and y along the piece.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from fabplan import plane
from fabplan.quantities import (
    Degrees,
    Inches,
    Key,
    Nanometres,
    Pounds,
    SquareInches,
    Steps,
    stated,
)

Point = tuple[Inches, Inches]
Polygon = tuple[Point, ...]
Side = Literal["face", "back"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """One fold line.

    Attributes
    ----------
    edge : int
        Edge of the finished outline it folds (flat pieces), or number of the bend from the start edge
        (sections; hems at the ends count as bends).
    line : tuple of two points
        The line to fold on: middle of the bend zone, on the blank.
    toward : {"face", "back"}
    turned : float
        Degrees the metal is turned: 0 flat, 90 square, 180 hem.
    width : float
        Finished width: fold outside to raw edge (sections: outside size of the leg beyond, 0 if none).
    gap : float
        Inside gap of a hem; twice the inside radius.
    radius : float
        Inside bend radius.
    bend_allowance, setback, deduction : float
        Of this bend, inches.
    allowance : float
        Metal the fold adds outside the finished edge (flat pieces), inches.
    slot_depth : float
        Straight part of the flap: the depth of a folding slot that makes this hem.
    flap : polygon
        The flap on the blank after notching, fold line to raw edge; empty for sections.
    hem : bool
        True when this is a 180 degree fold.
    """

    edge: int
    line: tuple[Point, Point]
    toward: Side
    turned: Annotated[Degrees, Key("turned_deg")]
    width: Inches
    gap: Annotated[Inches, Key("hem_gap")]
    radius: Annotated[Inches, Key("inside_radius")]
    bend_allowance: Inches
    setback: Inches
    deduction: Inches
    allowance: Inches = 0.0
    slot_depth: Inches = 0.0
    flap: Polygon = ()
    hem: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Notch:
    """Metal snipped off the sheared blank at one corner.

    `corner` is the point number of the finished outline. `kind` is a trade word: square, 45-degree, straight snip, V,
    point (two snips that leave a point between them), slant (one fold only), slit, side snip.
    `removed` is the polygon cut away (empty for a slit); `legs` the two sizes to mark along the blank edges from the
    sheared corner, first along the edge that ends there, then along the edge that starts there; `depth` from the
    sheared corner to the crossing of the fold lines, for a side snip to the cut. How each is measured is in `says`.
    """

    corner: Annotated[int, Key("point")]
    kind: str
    removed: Polygon
    legs: tuple[Inches, Inches]
    depth: Inches
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EndTurn:
    """A turned end of a section: an end dam, or a return round the corner.

    Attributes
    ----------
    what : {"end dam", "return"}
    at : {"A", "B"}
        End A is y = 0, end B the other.
    leg : int
        Leg whose end is turned, from 1, hems not counted.
    fold : Fold
        Its `edge` goes on from the last bend, `width` is the height or length, `flap` lies on the blank.
    tabs : tuple of Fold
        Tabs of the legs beside it, folded round it once it is turned; their numbers go on from it.
    between : float
        Width of the flap where it stands between two legs and a tool must go in between them, inches, else 0.
    crossings : tuple of points
        Where the lines of this fold and of the bends beside it cross inside: corners of notches, holes of wide bends.
    joined : {"soldered", "sealed", "riveted", "open"}
    rivets : int
        Through each tab.
    seam : float
        Length of all its corners together, inches.
    """

    what: Literal["end dam", "return"]
    at: Literal["A", "B"]
    leg: int
    fold: Fold
    tabs: tuple[Fold, ...] = ()
    between: Inches = 0.0
    crossings: Polygon = ()
    joined: Literal["soldered", "sealed", "riveted", "open"] = "open"
    rivets: int = 0
    seam: Inches = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CreaseLine:
    """A line on the blank bent by hand, last of all."""

    line: tuple[Point, Point]
    turned: Annotated[Degrees, Key("turned_deg")]
    toward: Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """How a finished diamond repeats on the roof (all inches; see docs on the lock geometry).

    side L, top_angle alpha (degrees), lap e (fold to fold, square to the edge), exposed E, hooked depth h,
    spacing p along a course, course height c, cell area covered by one piece, joint clearance, snip depth at the
    finished side tips, upper/lower hem widths and allowances.
    """

    side: Inches
    top_angle: Degrees
    upper_hem: Inches
    lower_hem: Inches
    upper_allowance: Inches
    lower_allowance: Inches
    lap: Inches
    hooked: Inches
    exposed: Inches
    spacing: Inches
    course: Inches
    cell: SquareInches
    joint: Inches
    slack: Inches
    side_snip: Inches
    thickness: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionShape:
    """A bent cross-section: outside legs, signed bends (+ toward the face; hems included as +-180), inside radii.

    `marks` are the bend marks measured from the start edge of the flat strip, `developed` its exact width before
    rounding. `legs` has one more entry than `bends`. `gaps[i]` is the hem gap of bend i, or None for a plain bend.
    """

    legs: tuple[Inches, ...]
    bends: tuple[Degrees, ...]
    radii: Annotated[tuple[Inches, ...], Key("inside_radii")]
    gaps: tuple[Inches | None, ...]
    marks: Annotated[tuple[Inches, ...], Key("bend_marks")]
    developed: Inches
    thickness: Inches

    def hem_at(self, k: int) -> Literal["", "start", "end"]:
        """The end whose hem bend k (from 0) is: its flap lies on its leg. "" for a bend, or a fold between legs."""
        if abs(self.bends[k]) < 180 - 1e-6:
            return ""
        last = len(self.bends) - 1
        if k == 0 and (self.legs[0] < self.legs[1] - 1e-9 or (last > 0 and self.legs[0] <= self.legs[1] + 1e-9)):
            return "start"
        return "end" if k == last and self.legs[-1] <= self.legs[-2] + 1e-9 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """Sizes of the finished piece (inches, square inches); 0 where the idea does not apply."""

    side: Inches = 0.0
    width: Inches = 0.0
    length: Inches = 0.0
    exposed_side: Inches = 0.0
    covers_area: SquareInches = 0.0
    outline: Polygon = ()  # finished corners in the blank frame, before side snips: point n starts edge n


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatPattern:
    """One piece, flat: what is sheared, snipped and folded.

    Attributes
    ----------
    mark, kind, metal : str
        Piece mark, kind as in the job file, metal profile name.
    count : int
        Blanks to make, spare included (0 while counts still come from the roof). A section made in several strips
        counts every strip.
    spare : int
        How many of `count` are spare.
    width_units, length_units : int
        Sheared size in the shop's graduations. Rhombic: strip height, and side along the strip to the nearest
        graduation (`side_along` is exact). Other shapes that are no rectangle: the box around `outline`, rounded up
        where it is not on the grid.
    grid : int
        Nanometres in one graduation.
    outline : polygon
        The SHEARED outline (before snips), counter-clockwise seen from the face.
    snipped : polygon
        Outline after notches and snips.
    folds : tuple of Fold
    notches : tuple of Notch
    grain : {"any", "along", "across"}
        Whether the blank's length must lie along ("along") or across the rolling direction.
    finish : {"bare", "coated", "pre-patinated"}
        Of the face: one with a finish is never scribed, and lies and is pressed on something soft.
    thickness : float
        Of the metal, inches.
    weight : float
        Pounds, one piece after snipping.
    rounding : float
        Sheared size less exact size, inches (side of a diamond, developed width of a section).
    finished : Finished
    lattice : Lattice or None
        Diamonds and their parts.
    section : SectionShape or None
        Of a tapered strip at its end A, y = 0.
    far : SectionShape or None
        The section of a tapered strip at its end B, y = length; the legs between are flat, the bend lines straight.
    notes : tuple of str
        Plain sentences for the page: common rule beside the computed size, lap, warnings.
    parts : int
        Strips a too-long section is split into (1 = whole).
    creases : tuple of CreaseLine
        Lines across an outline bent by hand.
    ends : tuple of EndTurn
        Turned ends of a section, those of end A first.
    """

    mark: str
    kind: str
    metal: str
    count: int
    spare: int
    width_units: Annotated[Steps, Key("width")]
    length_units: Annotated[Steps, Key("length_on_grid")]
    grid: Nanometres
    outline: Polygon
    snipped: Polygon
    folds: tuple[Fold, ...]
    notches: tuple[Notch, ...] = ()
    grain: Literal["any", "along", "across"] = "any"
    finish: Literal["bare", "coated", "pre-patinated"] = "bare"
    weight: Pounds = 0.0
    rounding: Inches = 0.0
    thickness: Inches = 0.0
    finished: Finished = field(default_factory=Finished)
    lattice: Lattice | None = None
    section: SectionShape | None = None
    far: SectionShape | None = None
    notes: tuple[str, ...] = ()
    parts: int = 1
    creases: tuple[CreaseLine, ...] = ()
    ends: tuple[EndTurn, ...] = ()

    @stated
    def side_along(self) -> Annotated[Inches, Key("length")]:
        """Exact sheared size along y, inches: for a rhombic diamond the side S, else the length on the grid."""
        if self.kind == "diamond":
            return float(self.outline[1][1] - self.outline[2][1])
        return self.length_units * self.grid / 25_400_000

    @property
    def end_folds(self) -> tuple[Fold, ...]:
        """Folds of the turned ends and their tabs, in the order of their numbers."""
        return tuple(fold for end in self.ends for fold in (end.fold, *end.tabs))

    @property
    def round(self) -> bool:
        """Whether the piece is a circle, marked out on its blank and snipped all round."""
        return self.kind == "disc"

    @property
    def rectangular(self) -> bool:
        """Whether the sheared outline is the whole bounding rectangle."""
        w = max(p[0] for p in self.outline)
        h = max(p[1] for p in self.outline)
        area = abs(plane.area(self.outline))
        return abs(area - w * h) <= 1e-9 * max(1.0, w * h)
