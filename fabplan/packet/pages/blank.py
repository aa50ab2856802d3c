"""Blank pages: the flat metal of each piece, its snips and fold lines, with every size to mark."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import atan2, degrees, hypot

from fabplan.blanks.model import FlatPattern, Fold, Notch, Point
from fabplan.packet.model import Block, Column, Facts, Heading, Page, Paper, Para, Picture, Table
from fabplan.packet.pages.cautions import AT_SOLDER
from fabplan.packet.pages.kinds import edge_word, fold_name, kind_name
from fabplan.packet.pages.pictures import blank_drawing
from fabplan.packet.setting.keys import piece_key
from fabplan.packet.setting.page_estimate import BLOCK_GAP, TITLE, body, mm, points, stack_height
from fabplan.plan.model import Plan
from fabplan.plotter.blank.blank import edge_count
from fabplan.speech.format import Say, listed, paper
from fabplan.units import from_inches, to_grid

DEPTH_RUNS = "; the depth runs from the sheared tip to the cut"  # said of all depths together
_EDGES = re.compile(r"edges? \d+ and (edge )?\d+")
TOWARD = "Toward the face: fold up with the face up; toward the back: with the back up."
LINES = (
    "Each line is the middle of a bend: draw it in soft pencil (a scratched line breaks) on the side that is up for "
    "its fold. The depth on the fold page ends where the bend begins, on the line or a little short of it."
)
BOTH_SIDES = (
    "Mark every bend on both faces of the strip, near both short sides, in pencil or chalk (a scratched line breaks): "
    "some strokes are made with the back up. At the brake the stop counts; the mark shows which bend it is."
)
SNIPS = (
    "Draw the fold lines first, at the corners on both sides. Marks run along the edges from the sheared corner, "
    "rounded to the graduation: a snip may miss the lines' crossing by as much. Depth, a check: from the corner to the "
    "crossing; side snip: to the cut."
)
BLUNT = "But between edges {} the sheared corner is blunt: there each mark starts at its own end of the blunt side."
FROM_CORNER = "A size at a single line runs from the lower end of the long dimension, or from its left end."
SIDES = "Sides of the sheared blank in turn, counter-clockwise: {}."
BOXED = (
    "The shear leaves {} as a box of {}, sides unmade: no stop of this shear gives them. Face up as drawn, mark the "
    "corners below in the box, scribe the sides from corner to corner and snip them."
)
LEAST_HEIGHT, MOST_HEIGHT = 68.0, 140.0  # of the picture, mm


def blank_pages(plan: Plan, say: Say, paper_: Paper = "letter") -> list[Page]:
    """One page a piece mark, in the job's order; a plain rectangle needs none, the cut list says it all."""
    made = [p for p in plan.patterns if p.count]
    return [_blank(plan, p, say, paper_) for p in made if p.folds or p.notches or p.round or not p.rectangular]


def _blank(plan: Plan, p: FlatPattern, say: Say, paper_: Paper) -> Page:
    spare = f" ({p.spare:,} of them spare)" if p.spare else ""
    said = next((piece.note for piece in plan.job.pieces if piece.mark == p.mark), "")
    facts = (*_facts(p, say), ("Note", said)) if said else tuple(_facts(p, say))
    chained = not p.rectangular and p.section is None and not (p.lattice is not None and p.kind == "diamond")
    tables = (
        _notches(p, say) if p.notches else [],
        _marks(p, say) if p.section else fold_blocks(p, say) if p.folds else [],
    )
    over: list[Block] = [
        Para(text=f"Make {p.count:,}{spare}, {plan.metals[p.metal].title}.", size=13, strong=True),
        Para(text=f"Shear {_sheared(p, say)}.", size=13, strong=True),
        *_scribed(plan, p, say),
        Facts(rows=facts),
    ]
    under: list[Block] = [Para(text=f"{FROM_CORNER} {_sides(p, say)}", size=9.5)] if chained else []
    under += [*tables[1], *tables[0], *(Para(text=paper(note), size=9.5) for note in p.notes if note != said)]
    caution = AT_SOLDER if p.kind == "flat-seam" else ""
    short = plan.cut_plan is not None and plan.cut_plan.status == "short"
    wide, high = body(paper_, landscape=False, banner=short, caution=bool(caution))
    spare_room = high - mm(TITLE + 2 * BLOCK_GAP + stack_height([*over, *under], points(wide)))
    drawing = blank_drawing(plan, p, max(LEAST_HEIGHT, min(MOST_HEIGHT, spare_room)))
    alt = f"Blank {p.mark}, {_sheared(p, say)}, face up, with its edges numbered"
    alt += f", {len(p.notches)} corners to snip" if p.notches else ""
    alt += f" and {len(p.folds)} fold lines." if p.folds else "."
    blocks = [*over, Picture(drawing=drawing, alt=alt, least_px=480), *under]
    title = f"Blank {p.mark}: {kind_name(p)}"
    return Page(key=piece_key(plan, "blank", p.mark), kind="blank", title=title, blocks=tuple(blocks), caution=caution)


def _sheared(p: FlatPattern, say: Say) -> str:
    width, length = p.width_units * p.grid, p.length_units * p.grid
    if p.lattice is not None and p.kind == "diamond" and not p.rectangular:
        sharp = _sharpest(p.outline)
        return (
            f"a slanted blank, {say.length(width)} across, sides of {say.length(length)}, corners of "
            f"{say.degrees(sharp)} and {say.degrees(180 - sharp)}"
        )
    if not p.rectangular and p.section is None:
        return f"to the outline drawn, which lies within {say.size(width, length)}"
    return say.size(width, length)


def _scribed(plan: Plan, p: FlatPattern, say: Say) -> list[Block]:
    """How the slanted sides are made of blanks that leave the shear as their box."""
    boxes = boxed(plan, p.mark)
    if not boxes:
        return []
    grid = p.grid
    width, length = (max(to_grid(from_inches(q[k]), grid, "up") for q in p.outline) * grid for k in (0, 1))
    all_ = "these" if boxes >= p.count else f"{boxes:,} of these"
    corners = [(say.bare(round_to_grid(x, grid)), say.bare(round_to_grid(y, grid))) for x, y in p.outline]
    columns = (
        Column(title="Corner of edges", align="centre", strong=True),
        Column(title="From the left", align="right", size=12, strong=True),
        Column(title="From the lower edge", align="right", size=12, strong=True),
    )
    edges = edge_count(p)
    named = [f"{(n - 1) % edges + 1} and {n + 1}" if len(corners) == edges else str(n + 1) for n in range(len(corners))]
    rows = tuple((name, *at) for name, at in zip(named, corners, strict=True))
    return [
        Para(text=BOXED.format(all_, say.size(width, length)), size=11, strong=True, keep=True),
        Table(name=f"Corners in the box, sizes in {say.units}", columns=columns, rows=rows, whole=True),
    ]


def boxed(plan: Plan, mark: str) -> int:
    """How many blanks of a mark leave the shear as their box."""
    layouts = plan.cut_plan.layouts if plan.cut_plan else ()
    return sum(y.repeat * sum(b.mark == mark and b.boxed for b in y.blanks) for y in layouts)


def round_to_grid(inches: float, grid: int) -> int:
    """Nanometres of a length, to the nearest graduation."""
    return to_grid(from_inches(inches), grid) * grid


def _sharpest(outline: Sequence[Point]) -> float:
    """Least corner of an outline, degrees."""
    around = [outline[-1], *outline, outline[0]]
    turns = [
        degrees(atan2(c[1] - b[1], c[0] - b[0]) - atan2(b[1] - a[1], b[0] - a[0])) % 360
        for a, b, c in zip(around, around[1:], around[2:], strict=False)
    ]
    return min(180 - turn for turn in turns)


def _sides(p: FlatPattern, say: Say) -> str:
    """The sides of an outline in turn, from the one that starts nearest the lower left."""
    first = min(range(len(p.outline)), key=lambda k: sum(p.outline[k]))
    ring = [*p.outline[first:], *p.outline[:first]]
    long = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)]
    return SIDES.format(", ".join(say.bare(round(side, 6)) for side in long))


def _facts(p: FlatPattern, say: Say) -> list[tuple[str, str]]:
    rows = []
    done = p.finished
    if done.side:
        weather = f"; {say.length(done.exposed_side)} to the weather" if done.exposed_side else ""
        of = "side" if p.kind == "diamond" else "part of a diamond of side"
        rows.append(("Finished", f"{of} {say.length(done.side)}, outside of fold to outside of fold{weather}"))
    elif p.round:
        rows.append(("Finished", f"{say.length(done.width)} across"))
    elif done.width and done.length:
        rows.append(("Finished", say.size(done.width, done.length)))
    if p.parts > 1:
        rows.append(("Strips", f"{p.parts} to each piece, lapped"))
    if p.grain != "any":
        rows.append(("Grain", f"rolling direction {p.grain} the length"))
    if abs(p.rounding) > 1e-9 and not any("ounded" in note for note in p.notes):
        more = "more" if p.rounding > 0 else "less"
        rows.append(("Rounding", f"{say.fine(abs(p.rounding))} {more} than the exact size; nothing to do about it"))
    snipped = ", after snipping" if p.notches else ""
    rows.append(("Weight", f"{say.weight(p.weight)} each, {say.weight(p.weight * p.count)} in all{snipped}"))
    return rows


def _notches(p: FlatPattern, say: Say) -> list[Block]:
    edges = edge_count(p)
    rows = []
    for n in p.notches:
        earlier = (n.corner - 2) % edges + 1
        row = [f"{earlier} and {n.corner}", n.kind, say.bare(n.legs[0]), say.bare(n.legs[1])]
        row.append(say.bare(n.depth) if n.depth and not _blunt(p, n) else "–")
        rows.append(tuple(row))
    columns = [
        Column(title="Between edges", align="centre", strong=True, size=12),
        Column(title="Snip", share=0.8),
        Column(title="On the first edge", align="right", size=12, strong=True),
        Column(title="On the second", align="right", size=12, strong=True),
        Column(title="Depth", align="right", size=12),
    ]
    blocks: list[Block] = [
        Heading(text="Snip these corners"),
        Table(name=f"Corners to snip, sizes in {say.units}", columns=tuple(columns), rows=tuple(rows)),
    ]
    blocks.append(Para(text=SNIPS, size=9.5))
    blunt = [f"{(n.corner - 2) % edges + 1} and {n.corner}" for n in p.notches if _blunt(p, n)]
    blocks += [Para(text=how, size=9.5) for how in how_to_snip(p.notches)]
    if blunt:
        blocks.append(Para(text=BLUNT.format(listed(blunt)), size=9.5, strong=True))
    return blocks


def _blunt(p: FlatPattern, notch: Notch) -> bool:
    """Whether a whole side of the sheared blank goes with a snip: the marks then start at two corners."""
    gone = [any(hypot(x - u, y - v) < 1e-6 for u, v in notch.removed) for x, y in p.outline]
    return any(a and b for a, b in zip(gone, (*gone[1:], gone[0]), strict=True))


def how_to_snip(notches: Sequence[Notch]) -> list[str]:
    """How each kind of corner is snipped, said once for all corners of the kind."""
    alike = [_EDGES.sub("both edges", paper(n.says)).replace(DEPTH_RUNS, "") for n in notches if n.says]
    return list(dict.fromkeys(alike))


def to_raw_edge(fold: Fold) -> float:
    """Distance in inches from a fold line to the raw edge beyond it, square to the line."""
    return max((_away(fold.line, q) for q in fold.flap), default=0.0)


def _away(line: tuple[Point, Point], q: Point) -> float:
    (ax, ay), (bx, by) = line
    long = hypot(bx - ax, by - ay) or 1.0
    return abs((bx - ax) * (q[1] - ay) - (by - ay) * (q[0] - ax)) / long


def _turned(fold: Fold, say: Say) -> str:
    if fold.hem:
        return f"180°, {fold_name(fold)}"
    return f"{say.degrees(fold.turned)} (inside {say.degrees(180 - fold.turned)})"


def fold_blocks(p: FlatPattern, say: Say) -> list[Block]:
    """The fold lines of a flat piece as a table under its heading."""
    rows = [
        (
            str(f.edge),
            say.bare(to_raw_edge(f)),
            f.toward,
            _turned(f, say),
            say.bare(f.width),
            _shim(f, say),
        )
        for f in p.folds
    ]
    table = Table(
        name=f"Fold lines, sizes in {say.units}",
        columns=(
            Column(title="Edge", align="centre", strong=True, size=13),
            Column(title="Line from raw edge", align="right", size=12),
            Column(title="Toward", share=0.8),
            Column(title="Turned", share=1.2),
            Column(title="Finished width", align="right", size=12),
            Column(title="Gap inside", align="right"),
        ),
        rows=tuple(rows),
    )
    return [Heading(text="Fold lines"), table, Para(text=f"{TOWARD} {LINES}", size=9.5)]


def _shim(fold: Fold, say: Say) -> str:
    return say.exact_near(fold.gap) if fold.hem and fold.gap > 0 else "–"


def _marks(p: FlatPattern, say: Say) -> list[Block]:
    rows: list[Sequence[str]] = []
    before = 0
    for f in p.folds:
        at = to_grid(from_inches(f.line[0][0]), say.show.grid) * say.show.grid  # so that the column adds up
        rows.append(
            (
                str(f.edge),
                say.bare(at),
                say.bare(at - before),
                f.toward,
                _turned(f, say),
                _shim(f, say),
            )
        )
        before = at
    table = Table(
        name=f"Bend marks, sizes in {say.units}",
        columns=(
            Column(title=edge_word(p).capitalize(), align="centre", strong=True, size=13),
            Column(title="From start edge", align="right", size=12, strong=True),
            Column(title="From last mark", align="right", size=12),
            Column(title="Toward", share=0.5),
            Column(title="Turned", share=1.6),
            Column(title="Gap inside", align="right"),
        ),
        rows=tuple(tuple(r) for r in rows),
    )
    return [Heading(text="Bend marks"), table, Para(text=f"{TOWARD} {BOTH_SIDES}", size=9.5)]
