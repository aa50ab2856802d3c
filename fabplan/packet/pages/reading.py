"""The sheet to hang up: lines and signs of the drawings, and every word the other sheets use without explaining it."""

from __future__ import annotations

from fabplan.packet.model import Beside, Block, Heading, Page, Para, Picture
from fabplan.packet.pages.bend import at_the_brake
from fabplan.packet.pages.blank import how_to_snip
from fabplan.packet.pages.cut_rows import cut_rows
from fabplan.packet.pages.cut_shots import unset
from fabplan.packet.pages.cut_table import NEAR_BLADE
from fabplan.packet.pages.pictures import line_key
from fabplan.plan.model import Plan
from fabplan.plotter.board.key import draw_brake_key
from fabplan.roof.model import RoofPlan
from fabplan.speech.format import Say, paper

EDGES = (
    "Edges of a piece are numbered; the numbers stand on its blank and hold for its folds. Corner 4-1 lies between "
    "edges 4 and 1."
)
LINES = (
    "Fold lines are the middle of a bend: draw them first, in soft pencil (a scratched line breaks), on the side that "
    "is up for the fold. The depth of a fold ends where the bend begins, on the line or a little short of it."
)
MARKS = (
    "Bend marks of a strip: on both faces, near both short sides. At the brake the stop counts; the mark shows which "
    "bend it is."
)
SNIPS = (
    "Snips are marked along the edges from the sheared corner, first on the edge named first. Depth is a check: from "
    "the corner to the crossing of the fold lines; of a side snip, to the cut."
)
TOWARD = "Toward the face: fold up with the face up; toward the back: with the back up. Every fold goes up."
WHERE_YOU_STAND = (
    "You stand at the right of each picture, at the tool; away from you is to its left. Left turns are "
    "counter-clockwise, seen from above."
)
BOXED = "A size in a heavy box is to be checked after the stroke."
ANGLES = (
    "Set: what the brake is set to, past the angle wanted by what the metal springs back. Reads: the angle of the fold "
    "after the stroke, for checking. Turn: both are one. Closed: turned right back, 180°, flat or on its shim. Stop: "
    "push the metal in until it touches the back stop. Measure: no stop reaches; lay the size off before the nose. A "
    "size from a hem or bend counts from its outside, which touches the stop."
)
BATCH = (
    "Take one piece of a mark through all its strokes and check it; then do each stroke on a whole batch before the "
    "next. A box of the row is a batch."
)
BITE = (
    "Bite: one grip of the jaws. Bend a little at each, along the fold and back again, until the whole flap is turned."
)
DEPTH = "Flap: the hatched metal beyond the fold. Depth: how far the jaws grip in from its raw edge."
SHIM = (
    "Shim: a strip of metal as thick as said. Turn the flap most of the way, lay the shim in the fold, press the flap "
    "down on it, draw it out again."
)
SWAP = "Swap ends: turn the strip end for end, the same side up."
UNDERNEATH = (
    "An open hem that lies underneath must not be pressed flat: lay it past the bench, or put its shim back in."
)
LAYOUTS = (
    "Work one layout at a time, its table from the top; cuts with pictures where the table says so, in the order of "
    "their numbers, from picture to picture. Tick every cut of a layout made once; one made several times has a box "
    "for each made."
)
GAUGE = (
    "Gauge: from the blade to the back gauge. What comes off falls behind the blade. The picture has room for some "
    "sizes only: set by the table. What stays last is never gauged: measure it. Cuts without a picture are square."
)
PULL = "Off the coil: square the coil's end (the plan allows no metal for it), pull so much past the blade, cut."
WAITS = (
    "Drop of a cut: the piece that fell at it. Rest of a cut: what stayed on the table after it. Chalk layout, cut, "
    "drop or rest on the face of every piece that waits."
)
HELD = (
    "At least {} of metal lies before the blade at every cut. Where the hold-downs do not reach the metal, snip by "
    "hand."
)
SCRIBED = "Or scribe: where the gauge does not come so near, lay this off from the edge that stays."
ONE_CUT = (
    "Picture of a cut: the metal as it lies at the shear, face up, you below; turn it until it lies so, never flip "
    "it. Heavy line: the blade; what is above it falls. Dotted: cuts to come. Hatched: scrap. Jagged: the metal goes "
    "on."
)
TO_POINTS = (
    "Scribed points: scribe both ends of the cut on the metal's border and bring the blade to both. A bold size runs "
    "along the border to the blade, each from its own corner; a ring with a bold word: the cut ends at this very "
    "corner. A thin size is the length of a whole side: it tells which way the metal lies."
)
KEPT_FACE = (
    "Coated or pre-patinated metal is drawn face up and marked on the back: points are ticked at the edges, from the "
    "back; names are written there. Nothing is drawn across the face."
)
TO_STOP = (
    "A size and degrees: gauge (black bar) and angle stop (white bar), R or L: at the metal's right or left; degrees "
    "in front of the blade, from its right-hand part round to the stop; 90° is square. The gauge sets the distance, "
    "the stop the direction, or scribed points where they are named. Thin sizes, and rings with a thin word, tell "
    "about where the cut comes out, for checking or for snipping by hand."
)
ON_SLOPE = (
    "A slope is drawn from outside, its base line level. Broken lines: snap these. Sizes under the base line: "
    "points of course 1 from the centre line, left and right. Course numbers at the right."
)
COURSES = (
    "Line: height of the course line up the slope from the base line, each taken from the base by itself; the points "
    "of the next course stand on it. Seen: the line through the top tips of this course, in sight above the hems."
)
TRIMMED = (
    "Trimmed: a whole piece, laid past the edge, scribed in place and snipped; trimmed left has lost its left side."
)
SHAPED = "Cut shapes: numbers of the cut-shape sheet, m: mirrored."
HATCHED = "Hatched: whole pieces trimmed in place."
SHAPES = "Hatched: cut pieces, with the number of their cut shape (m: mirrored)."
HEM_SNIP = "Hem snip, black: whole, but its hidden hem needs a snip."
UNDER_CAP = "Dashed, not hatched: pieces wholly under a cap."
CAP_EDGE = "Dashed across: lower edge of the apex cap."
BRAKE_PARTS = (
    "The leaf brake in section, as the pictures of the strokes show it; you stand at the right.",
    "Bed: the strip lies on it. Nose bar: clamps the strip just behind the bend's mark. Leaf (apron): swings up and "
    "takes the metal with it. The bend's mark lies at the edge where bed and leaf meet.",
)


def reading_page(plan: Plan) -> Page:
    """Lines, signs and words, each said once."""
    alt = "Key to the lines and signs used in the drawings, each beside its meaning."
    blocks: list[Block] = []
    if plan.cut_plan is not None:
        blocks += [Heading(text="At the shear"), *(Para(text=words, size=9) for words in _shear_words(plan))]
    blocks += [Heading(text="On the blank"), *(Para(text=words, size=9) for words in _blank_words(plan))]
    if plan.schedules:
        blocks += [Heading(text="At the fold"), *(Para(text=words, size=9) for words in _fold_words(plan))]
    if plan.roof is not None and plan.roof.slopes:
        words = " ".join(_roof_words(plan.roof))
        blocks += [Heading(text="On the roof"), Para(text=words, size=9)]
    blocks.append(Picture(drawing=line_key(plan), alt=alt, least_px=640))
    brake = next((s.brake for s in plan.schedules if s.brake is not None and at_the_brake(s)), None)
    if brake is not None:
        picture = Picture(drawing=draw_brake_key(brake), alt="The leaf brake in section: bed, nose bar and leaf.")
        blocks.append(Beside(picture=picture, says=BRAKE_PARTS))
    return Page(key="reading", kind="reading", title="Lines, signs and words", blocks=tuple(blocks), joins=True)


def _shear_words(plan: Plan) -> list[str]:
    layouts = plan.cut_plan.layouts if plan.cut_plan is not None else ()
    rows = [row for y in layouts for row in cut_rows(y)]
    grid = plan.cut_plan.grid if plan.cut_plan is not None else 1
    own = [row for row in rows if unset(row)]
    bare = all(p.finish == "bare" for p in plan.patterns)
    told = [
        (True, LAYOUTS),
        (True, GAUGE),
        (any(y.form == "coil" for y in layouts), PULL),
        (True, WAITS if bare else WAITS.replace("on the face", "on the back")),
        (True, HELD.format(Say.of(plan.job).exact(plan.job.shear.least_held))),
        (any(row.back_gauge is not None and row.back_gauge * grid < NEAR_BLADE for row in rows), SCRIBED),
        (bool(own), ONE_CUT),
        (any(row.back_gauge is None or row.marked for row in own), TO_POINTS),
        (not bare, KEPT_FACE),
        (any(row.back_gauge is not None for row in own), TO_STOP),
    ]
    return [words for used, words in told if used]


def _blank_words(plan: Plan) -> list[str]:
    out = [EDGES]
    if plan.schedules:
        out += [TOWARD, LINES]
    if any(p.section for p in plan.patterns):
        out.append(MARKS)
    snips = [notch for p in plan.patterns for notch in p.notches]
    if snips:
        out += [SNIPS, *how_to_snip(snips)]
    return out


def _roof_words(roof: RoofPlan) -> list[str]:
    pieces = [p for layout in roof.slopes for p in layout.pieces]
    told = [
        (True, ON_SLOPE),
        (True, COURSES),
        (True, SHAPED if any(p.shape for p in pieces) else TRIMMED),
        (True, SHAPES if any(p.shape for p in pieces) else HATCHED),
        (any(p.trimmed for p in pieces), HEM_SNIP),
        (any(p.under_cap for p in pieces), UNDER_CAP),
        (any(layout.cap_line is not None for layout in roof.slopes), CAP_EDGE),
    ]
    return [words for used, words in told if used]


def _fold_words(plan: Plan) -> list[str]:
    holds = [step.hold for s in plan.schedules for step in s.steps]
    told = [
        (True, WHERE_YOU_STAND),
        (True, BOXED),
        (True, ANGLES),
        (True, BATCH),
        (any(h.bites for h in holds), BITE),
        (any(h.way == "jaws" for h in holds), DEPTH),
        (any(h.shim for h in holds), SHIM),
        (any(s.turn_arounds for s in plan.schedules), SWAP),
        (any(s.turn_overs for s in plan.schedules) and any(h.shim for h in holds), UNDERNEATH),
    ]
    return [paper(words) for used, words in told if used]
