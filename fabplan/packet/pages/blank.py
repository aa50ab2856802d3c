"""Blank pages: the flat metal of each piece, its snips and fold lines, with every size to mark."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import atan2, degrees, hypot

from fabplan.blanks.model import FlatPattern, Fold, Notch, Point
from fabplan.packet.model import Block, Column, Heading, Para, Picture, Split, Table
from fabplan.packet.pages.ends import end_blocks
from fabplan.packet.pages.kinds import edge_word, fold_name
from fabplan.packet.pages.pictures import BLANK_WIDTH, STRIP_WIDTH, blank_drawing
from fabplan.plan.model import Plan
from fabplan.plotter.blank.blank import edge_count
from fabplan.speech.format import Say, listed, paper
from fabplan.units import from_inches, to_grid

DEPTH_RUNS = "; the depth runs from the sheared tip to the cut"  # said of all depths together
_EDGES = re.compile(r"edges? \d+ and (edge )?\d+")
MOST_BENDS = 6  # side by side
BLUNT = "At corners {} the sheared corner is blunt: there each mark starts at its own end of the blunt side."
FROM_CORNER = "A size at a single line runs from the lower end of the long dimension, or from its left end."
BOXED = (
    "The shear leaves {} as a box of {}, sides unmade: no stop of this shear gives them. Face up as drawn, mark the "
    "corners below in the box, scribe the sides from corner to corner and snip them."
)
SIDES = "Sides of the sheared blank in turn, counter-clockwise: {}."


def blank_blocks(
    plan: Plan, p: FlatPattern, say: Say, height: float, under: Sequence[Block] = (), beside: Sequence[Block] = ()
) -> Split:
    """The flat metal: its picture with `under` below; at its right fold lines and snips, alike ones in one row."""
    chained = not p.rectangular and not (p.lattice is not None and p.kind == "diamond")
    picture = _picture(plan, p, say, height)
    sides: list[Block] = [Para(text=f"{FROM_CORNER} {_sides(p, say)}", size=9)] if chained else []
    tables = [*(fold_blocks(p, say) if p.folds else []), *(_notches(p, say))]
    return Split(left=(picture, *sides, *under), right=(*tables, *beside), left_mm=BLANK_WIDTH)


def strip_blocks(plan: Plan, p: FlatPattern, say: Say, height: float, finished: Sequence[Block]) -> list[Block]:
    """The strip of a section beside the finished piece, and its bend marks."""
    picture = _picture(plan, p, say, height)
    tables = [*_marks(p, say), *end_blocks(p, say)]
    if not finished:
        return [picture, *tables]
    return [Split(left=(picture,), right=tuple(finished), left_mm=STRIP_WIDTH), *tables]


def _picture(plan: Plan, p: FlatPattern, say: Say, height: float) -> Picture:
    alt = f"Blank {p.mark}, {sheared(p, say)}, face up, with its edges numbered"
    alt += f", {len(p.notches)} {'notches' if p.ends else 'corners'} to snip" if p.notches else ""
    alt += f" and {len(p.folds)} fold lines." if p.folds else "."
    return Picture(drawing=blank_drawing(plan, p, height), alt=alt, least_px=480)


def scribed_blocks(plan: Plan, p: FlatPattern, say: Say) -> list[Block]:
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
        Column(title="From the left", align="right", size=14, strong=True),
        Column(title="From the lower edge", align="right", size=14, strong=True),
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


def sheared(p: FlatPattern, say: Say) -> str:
    width, length = p.width_units * p.grid, p.length_units * p.grid
    if p.far is not None:
        ends = [say.bare(round_to_grid(p.outline[k][0], p.grid)) for k in (-1, 0)]
        return f"{ends[0]} at end A, {ends[1]} at end B × {say.length(length)}, tapered at the finish edge"
    if p.lattice is not None and p.kind == "diamond" and not p.rectangular:
        sharp = _sharpest(p.outline)
        return (
            f"a slanted blank, {say.length(width)} across, sides of {say.length(length)}, corners of "
            f"{say.degrees(sharp)} and {say.degrees(180 - sharp)}"
        )
    if not p.rectangular and p.section is None:
        return f"to the outline drawn, which lies within {say.size(width, length)}"
    return say.size(width, length)


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


def blank_facts(p: FlatPattern, say: Say) -> list[tuple[str, str]]:
    rows = []
    done = p.finished
    if done.side:
        weather = f"; {say.length(done.exposed_side)} to the weather" if done.exposed_side else ""
        of = "side" if p.kind == "diamond" else "part of a diamond of side"
        rows.append(("Finished", f"{of} {say.length(done.side)} over the folds{weather}"))
    elif p.round:
        rows.append(("Finished", f"{say.length(done.width)} across"))
    elif done.width and done.length:
        rows.append(("Finished", say.size(done.width, done.length)))
    if p.parts > 1:
        rows.append(("Strips", f"{p.parts} to each piece, lapped"))
    if p.grain != "any":
        rows.append(("Grain", f"rolling direction {p.grain} the length"))
    if p.finish != "bare":
        rows.append(("Face", f"{p.finish}: never scribe it"))
    snipped = ", after snipping" if p.notches else ""
    rows.append(("Weight", f"{say.weight(p.weight)} each, {say.weight(p.weight * p.count)} in all{snipped}"))
    return rows


def _notches(p: FlatPattern, say: Say) -> list[Block]:
    if not p.notches:
        return []
    edges = edge_count(p)
    alike: dict[tuple[str, ...], list[str]] = {}
    for n in p.notches:
        depth = say.bare(n.depth) if n.depth and not _blunt(p, n) else "–"
        row = (n.kind, say.bare(n.legs[0]), say.bare(n.legs[1]), depth)
        alike.setdefault(row, []).append(f"{(n.corner - 2) % edges + 1}-{n.corner}")
    columns = (
        Column(title="Corner", strong=True, share=1),
        Column(title="Snip", size=9, share=0.8),
        Column(title="First", align="right", size=14, strong=True),
        Column(title="Second", align="right", size=14, strong=True),
        Column(title="Depth", align="right", size=9),
    )
    rows = tuple((", ".join(corners), *row) for row, corners in alike.items())
    blocks: list[Block] = [
        Heading(text="Snip these corners"),
        Table(name=f"Corners to snip, sizes in {say.units}", columns=columns, rows=rows, close=True),
    ]
    blunt = [f"{(n.corner - 2) % edges + 1}-{n.corner}" for n in p.notches if _blunt(p, n)]
    if blunt:
        blocks.append(Para(text=BLUNT.format(listed(blunt)), size=9, strong=True))
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


def fold_words(p: FlatPattern, fold: Fold, say: Say) -> str:
    """``open hem 3⁄4 to the face, gap 1⁄16``, ``90° to the back (inside 90°)``, ``fold flat back to the face``."""
    if not fold.hem:
        wide = f", {say.bare(fold.width)} wide" if fold.width and fold.flap else ""
        return f"{say.degrees(fold.turned)} to the {fold.toward} (inside {say.degrees(180 - fold.turned)}){wide}"
    gap = f", gap {say.exact_near(fold.gap)}" if fold.gap > 0 else ""
    wide = "" if p.section is not None and not p.section.hem_at(fold.edge - 1) else f" {say.bare(fold.width)}"
    return f"{fold_name(p, fold)}{wide} to the {fold.toward}{gap}"


def fold_blocks(p: FlatPattern, say: Say) -> list[Block]:
    """The fold lines of a flat piece as a table under its heading."""
    alike: dict[tuple[str, str], list[str]] = {}
    for f in p.folds:
        alike.setdefault((say.bare(to_raw_edge(f)), fold_words(p, f, say)), []).append(str(f.edge))
    table = Table(
        name=f"Fold lines, sizes in {say.units}",
        columns=(
            Column(title="Edge", align="centre", strong=True, size=12),
            Column(title="From raw edge", align="right", size=14, strong=True),
            Column(title="Fold", size=9, share=1),
        ),
        rows=tuple((", ".join(edges), *row) for row, edges in alike.items()),
        close=True,
    )
    return [Heading(text="Fold lines"), table]


def _turn(p: FlatPattern, fold: Fold, say: Say) -> str:
    """``open hem, back``, ``90°, face``: what is folded there and toward which side."""
    return f"{fold_name(p, fold) if fold.hem else say.degrees(fold.turned)}, {fold.toward}"


def _marks(p: FlatPattern, say: Say) -> list[Block]:
    """Bend marks of a strip, a column a bend where they fit side by side, else a row; of both ends if unlike."""
    word = edge_word(p).capitalize()
    ends = ("From start",) if p.far is None else ("From start, end A", "From start, end B")
    at = [[say.bare(round_to_grid(f.line[n][0], say.show.grid)) for f in p.folds] for n in range(len(ends))]
    name = f"Bend marks, sizes in {say.units}"
    if len(p.folds) <= MOST_BENDS:
        columns = (
            Column(title=word, size=9, strong=True),
            *(Column(title=f"{f.edge}: {_turn(p, f, say)}", align="centre", size=14, share=1) for f in p.folds),
        )
        rows = tuple((end, *marks) for end, marks in zip(ends, at, strict=True))
        return [Table(name=name, columns=columns, rows=rows, close=True, large=(0, 1))]
    columns = (
        Column(title=word, align="centre", strong=True, size=12),
        *(Column(title=end, align="right", size=14, strong=True) for end in ends),
        Column(title="Turn", size=9, share=1),
    )
    rows = tuple((str(f.edge), *(marks[n] for marks in at), fold_words(p, f, say)) for n, f in enumerate(p.folds))
    return [Table(name=name, columns=columns, rows=rows, close=True)]
