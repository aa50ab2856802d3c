"""The sheet to hang up: lines and signs of the drawings, and every word the other sheets use without explaining it."""

from __future__ import annotations

from fabplan.packet.model import Beside, Block, Heading, Page, Para, Picture
from fabplan.packet.pages.bend import at_the_brake
from fabplan.packet.pages.blank import how_to_snip
from fabplan.packet.pages.pictures import line_key
from fabplan.plan.model import Plan
from fabplan.plotter.board.key import draw_brake_key
from fabplan.speech.format import paper

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
UNDERNEATH = (
    "An open hem that lies underneath must not be pressed flat: lay it past the bench, or put its shim back in."
)
BRAKE_PARTS = (
    "The leaf brake in section, as the pictures of the strokes show it; you stand at the right.",
    "Bed: the strip lies on it. Nose bar: clamps the strip just behind the bend's mark. Leaf (apron): swings up and "
    "takes the metal with it. The bend's mark lies at the edge where bed and leaf meet.",
)


def reading_page(plan: Plan) -> Page:
    """Lines, signs and words, each said once."""
    alt = "Key to the lines and signs used in the drawings, each beside its meaning."
    blocks: list[Block] = [Picture(drawing=line_key(plan), alt=alt, least_px=640)]
    blocks += [Heading(text="On the blank"), *(Para(text=words, size=10) for words in _blank_words(plan))]
    if plan.schedules:
        blocks += [Heading(text="At the fold"), *(Para(text=words, size=10) for words in _fold_words(plan))]
    brake = next((s.brake for s in plan.schedules if s.brake is not None and at_the_brake(s)), None)
    if brake is not None:
        picture = Picture(drawing=draw_brake_key(brake), alt="The leaf brake in section: bed, nose bar and leaf.")
        blocks.append(Beside(picture=picture, says=BRAKE_PARTS))
    return Page(key="reading", kind="reading", title="Lines, signs and words", blocks=tuple(blocks))


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


def _fold_words(plan: Plan) -> list[str]:
    holds = [step.hold for s in plan.schedules for step in s.steps]
    told = [
        (True, WHERE_YOU_STAND),
        (True, BOXED),
        (True, BATCH),
        (any(h.bites for h in holds), BITE),
        (any(h.way == "jaws" for h in holds), DEPTH),
        (any(h.shim for h in holds), SHIM),
        (any(s.turn_overs for s in plan.schedules) and any(h.shim for h in holds), UNDERNEATH),
    ]
    return [paper(words) for used, words in told if used]
