"""Blank pages: the flat metal of each piece, its snips and fold lines, with every size to mark."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from fabplan.blanks.model import FlatPattern, Fold, Notch, Point
from fabplan.packet import cautions
from fabplan.packet.keys import piece_key
from fabplan.packet.kinds import edge_word, fold_name, kind_name
from fabplan.packet.model import Block, Column, Facts, Heading, Page, Para, Picture, Table
from fabplan.packet.pictures import blank_drawing
from fabplan.packet.say import Say, paper
from fabplan.plan.model import Plan


def blank_pages(plan: Plan, say: Say) -> list[Page]:
    """One page a piece mark, in the job's order."""
    return [_blank(plan, pattern, say) for pattern in plan.patterns]


def _blank(plan: Plan, p: FlatPattern, say: Say) -> Page:
    size = say.size(p.width_units * p.grid, p.length_units * p.grid)
    alt = f"Blank {p.mark}, {size}, face up, with its edges numbered"
    alt += f", {len(p.notches)} corners to snip" if p.notches else ""
    alt += f" and {len(p.folds)} fold lines." if p.folds else "."
    blocks: list[Block] = [
        Facts(rows=tuple(_facts(plan, p, say))),
        Picture(drawing=blank_drawing(plan, p), alt=alt, least_px=480),
    ]
    if p.notches:
        blocks += [Heading(text="Snip these corners"), _notches(p, say)]
    if p.folds:
        name = "Bend marks" if p.section else "Fold lines"
        blocks += [Heading(text=name), _marks(p, say) if p.section else _folds(p, say)]
        blocks.append(
            Para(text="Toward the face: fold up with the face up. Toward the back: fold up with the back up.", size=10)
        )
    blocks += [Para(text=paper(note), size=10) for note in p.notes]
    if p.kind == "flat-seam":
        blocks.append(cautions.at_solder())
    title = f"Blank {p.mark}: {kind_name(p)}"
    return Page(key=piece_key(plan, "blank", p.mark), kind="blank", title=title, blocks=tuple(blocks))


def _facts(plan: Plan, p: FlatPattern, say: Say) -> list[tuple[str, str]]:
    made = f"{p.count:,}" + (f" ({p.spare:,} of them spare)" if p.spare else "")
    rows = [("Make", made), ("Metal", plan.metals[p.metal].title)]
    width, length = p.width_units * p.grid, p.length_units * p.grid
    slanted = not p.rectangular and len(p.outline) == 4
    if slanted:
        rows.append(("Sheared", f"strip {say.length(width)} wide, side {say.length(length)} along the strip"))
    else:
        rows.append(("Sheared", say.size(width, length)))
    if p.parts > 1:
        rows.append(("Strips", f"{p.parts} to each piece, lapped"))
    done = p.finished
    if done.side:
        rows.append(("Finished", f"side {say.length(done.side)}, outside of fold to outside of fold"))
    elif done.width and done.length:
        rows.append(("Finished", say.size(done.width, done.length)))
    if done.exposed_side:
        rows.append(("To the weather", f"side {say.length(done.exposed_side)}"))
    if abs(p.rounding) > 1e-9:
        rows.append(("Rounded", f"{say.fine(abs(p.rounding))} {'more' if p.rounding > 0 else 'less'} than computed"))
    if p.grain != "any":
        rows.append(("Grain", f"rolling direction {p.grain} the length"))
    rows.append(("Weight", f"{say.weight(p.weight)} each, {say.weight(p.weight * p.count)} in all"))
    return rows


def _notches(p: FlatPattern, say: Say) -> Table:
    edges = len(p.outline)

    def legs(n: Notch) -> tuple[str, str]:
        earlier, later = (n.corner - 2) % edges + 1, n.corner
        return f"{say.bare(n.legs[0])} on edge {earlier}", f"{say.bare(n.legs[1])} on edge {later}"

    rows = [(str(n.corner), n.kind, *legs(n), say.bare(n.depth) if n.depth else "–", paper(n.says)) for n in p.notches]
    return Table(
        name=f"Corners to snip, sizes in {say.units}",
        columns=(
            Column(title="Corner", align="centre", strong=True, size=13),
            Column(title="Snip", share=0.8),
            Column(title="Mark", size=12),
            Column(title="and mark", size=12),
            Column(title="Depth", align="right", size=12),
            Column(title="How", share=1.6, size=10),
        ),
        rows=tuple(rows),
    )


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


def _folds(p: FlatPattern, say: Say) -> Table:
    rows = [
        (
            str(f.edge),
            say.bare(to_raw_edge(f)),
            f"the {f.toward}",
            _turned(f, say),
            say.bare(f.width),
            _shim(f, say),
        )
        for f in p.folds
    ]
    return Table(
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


def _shim(fold: Fold, say: Say) -> str:
    return say.exact_near(fold.gap) if fold.hem and fold.gap > 0 else "–"


def _marks(p: FlatPattern, say: Say) -> Table:
    rows: list[Sequence[str]] = []
    before = 0.0
    for f in p.folds:
        at = f.line[0][0]
        rows.append(
            (
                str(f.edge),
                say.bare(at),
                say.bare(at - before),
                f"the {f.toward}",
                _turned(f, say),
                _shim(f, say),
            )
        )
        before = at
    return Table(
        name=f"Bend marks, sizes in {say.units}",
        columns=(
            Column(title=edge_word(p).capitalize(), align="centre", strong=True, size=13),
            Column(title="From the start edge", align="right", size=12, strong=True),
            Column(title="From the mark before", align="right", size=12),
            Column(title="Toward", share=0.8),
            Column(title="Turned", share=1.2),
            Column(title="Gap inside", align="right"),
        ),
        rows=tuple(tuple(r) for r in rows),
    )
