"""Pages of the cut shapes made at the bench: each on its blank with the folds and snips left, and its template."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fabplan.blanks.model import FlatPattern
from fabplan.packet.model import Block, Facts, Page, Para, Picture
from fabplan.packet.output.files import file_stem
from fabplan.packet.pages.blank import fold_blocks
from fabplan.packet.pages.template import tile_pages
from fabplan.packet.rolling import rolled_ways
from fabplan.plan.model import Plan
from fabplan.plotter.blank.blank import draw_blank
from fabplan.roof.model import CutShape, RoofPlan
from fabplan.roof.parts.shape_patterns import shape_patterns
from fabplan.speech.format import Say

HOW = (
    "Lay the template of this shape on the blank, tip to tip, and mark. Hatched metal is cut off: its sizes run along "
    "the sheared sides from the corner. Fold the hems that are left as the whole piece is folded; the cut side stays "
    "flat and is turned up or dressed on the roof."
)
MIRRORED = "Turn the template over for the mirrored ones; their hems fold to the same sides."


def cut_shape_pages(plan: Plan, say: Say) -> list[Page]:
    """A page for every cut shape; none where pieces are cut on the roof."""
    if plan.roof is None:
        return []
    pages: list[Page] = []
    for shape, pattern in zip(plan.roof.shapes, _patterns(plan, plan.roof), strict=True):
        pages.append(_page(plan, shape, pattern, plan.roof, say))
    return pages


def shape_tiles(plan: Plan) -> list[Page]:
    """The full-scale templates of the cut shapes."""
    pages: list[Page] = []
    for number, pattern in enumerate(_patterns(plan, plan.roof) if plan.roof else (), 1):
        alone = replace(pattern, outline=pattern.snipped, notches=())
        pages += tile_pages(plan.job, alone, len(plan.patterns) + number)
    return pages


def _patterns(plan: Plan, roof: RoofPlan) -> Sequence[FlatPattern]:
    return shape_patterns(roof, plan.patterns)


def _page(plan: Plan, shape: CutShape, pattern: FlatPattern, roof: RoofPlan, say: Say) -> Page:
    made = f"Make {shape.same:,}" if shape.same else "Make none as drawn"
    made += f" and {shape.mirrored:,} mirrored" if shape.mirrored else ""
    drawing = draw_blank(
        pattern,
        show=say.show,
        name=f"shape-{file_stem(pattern.mark)}",
        width_mm=170.0,
        height_mm=110.0,
        rolled=rolled_ways(plan, plan.pattern(shape.mark)),
    )
    facts = (
        ("From", _from(shape, roof)),
        ("Within", say.size(*(round(v * 25_400_000) for v in (shape.width, shape.height)))),
        ("Weight", f"{say.weight(pattern.weight)} each, after cutting"),
    )
    blocks: list[Block] = [
        Para(text=f"{made}, number {shape.number} on the roof pages.", size=13, strong=True),
        Facts(rows=facts),
        Picture(drawing=drawing, alt=f"Cut shape {pattern.mark} on its blank, face up.", least_px=480),
        Para(text=f"{HOW} {MIRRORED}" if shape.mirrored else HOW, size=9.5),
        *(fold_blocks(pattern, say) if pattern.folds else ()),
    ]
    return Page(
        key=f"shape-{shape.number}",
        kind="shape",
        title=f"Cut shape {pattern.mark}",
        blocks=tuple(blocks),
        station="bench",
    )


def _from(shape: CutShape, roof: RoofPlan) -> str:
    """Blanks the shape is got from, each with how many."""
    ways = []
    whole = sum(p.times for p in roof.leftover if p.shape == shape.number)
    if whole:
        ways.append(f"{whole:,} from a whole blank {shape.mark} each")
    paired = sum(p.times * ((p.first == shape.number) + (p.second == shape.number)) for p in roof.pairs)
    if paired:
        ways.append(f"{paired:,} two by two from whole blanks {shape.mark} (see the cut shapes of the roof)")
    for size in roof.part_sizes:
        n = sum(p.times for p in size.parts if p.shape == shape.number)
        if n:
            ways.append(f"{n:,} from part blanks {size.mark}")
    return "; ".join(ways)
