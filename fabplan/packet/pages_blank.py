"""Blank pages: the flat metal of each piece, its snips and fold lines, with every size to mark."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import hypot

from fabplan.blanks.model import FlatPattern, Fold, Notch, Point
from fabplan.packet.cautions import AT_SOLDER
from fabplan.packet.keys import piece_key
from fabplan.packet.kinds import edge_word, fold_name, kind_name
from fabplan.packet.model import Block, Column, Facts, Heading, Page, Paper, Para, Picture, Table
from fabplan.packet.pictures import blank_drawing
from fabplan.packet.room import BLOCK_GAP, TITLE, body, mm, points, stack_height
from fabplan.packet.say import Say, paper
from fabplan.plan.model import Plan
from fabplan.plotter.blank import edge_count

_EDGES = re.compile(r"edges? \d+ and (edge )?\d+")
TOWARD = "Toward the face: fold up with the face up. Toward the back: fold up with the back up."
LEAST_HEIGHT, MOST_HEIGHT = 72.0, 140.0  # of the picture, mm


def blank_pages(plan: Plan, say: Say, paper_: Paper = "letter") -> list[Page]:
    """One page a piece mark, in the job's order; a plain rectangle needs none, the cut list says it all."""
    return [_blank(plan, p, say, paper_) for p in plan.patterns if p.folds or p.notches or not p.rectangular]


def _blank(plan: Plan, p: FlatPattern, say: Say, paper_: Paper) -> Page:
    spare = f" ({p.spare:,} of them spare)" if p.spare else ""
    said = next((piece.note for piece in plan.job.pieces if piece.mark == p.mark), "")
    facts = (*_facts(p, say), ("Note", said)) if said else tuple(_facts(p, say))
    tables = _notches(p, say) if p.notches else [], _marks(p, say) if p.section else _folds(p, say) if p.folds else []
    over: list[Block] = [
        Para(text=f"Make {p.count:,}{spare}, {plan.metals[p.metal].title}.", size=13, strong=True),
        Para(text=f"Shear {_sheared(p, say)}.", size=13, strong=True),
        Facts(rows=facts),
    ]
    under = [*tables[0], *tables[1], *(Para(text=paper(note), size=10) for note in p.notes if note != said)]
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
        return f"strips {say.length(width)} wide, then every {say.length(length)} along the strip on the slant"
    if not p.rectangular and p.section is None:
        return f"to the outline drawn, which lies within {say.size(width, length)}"
    return say.size(width, length)


def _facts(p: FlatPattern, say: Say) -> list[tuple[str, str]]:
    rows = []
    done = p.finished
    if done.side:
        weather = f"; {say.length(done.exposed_side)} to the weather" if done.exposed_side else ""
        rows.append(("Finished", f"side {say.length(done.side)}, outside of fold to outside of fold{weather}"))
    elif done.width and done.length:
        rows.append(("Finished", say.size(done.width, done.length)))
    if p.parts > 1:
        rows.append(("Strips", f"{p.parts} to each piece, lapped"))
    if p.grain != "any":
        rows.append(("Grain", f"rolling direction {p.grain} the length"))
    if abs(p.rounding) > 1e-9 and not any("ounded" in note for note in p.notes):
        rows.append(("Rounded", f"{say.fine(abs(p.rounding))} {'more' if p.rounding > 0 else 'less'} than computed"))
    rows.append(("Weight", f"{say.weight(p.weight)} each, {say.weight(p.weight * p.count)} in all, after snipping"))
    return rows


def _notches(p: FlatPattern, say: Say) -> list[Block]:
    edges = edge_count(p)
    rows = []
    for n in p.notches:
        earlier = (n.corner - 2) % edges + 1
        row = [f"{earlier} and {n.corner}", n.kind, say.bare(n.legs[0]), say.bare(n.legs[1])]
        row.append(say.bare(n.depth) if n.depth else "–")
        rows.append(tuple(row))
    columns = [
        Column(title="Between edges", align="centre", strong=True, size=12),
        Column(title="Snip", share=0.8),
        Column(title="Mark, first edge", align="right", size=12, strong=True),
        Column(title="Mark, second", align="right", size=12, strong=True),
        Column(title="Depth", align="right", size=12),
    ]
    blocks: list[Block] = [
        Heading(text="Snip these corners"),
        Table(name=f"Corners to snip, sizes in {say.units}", columns=tuple(columns), rows=tuple(rows)),
    ]
    words = (
        "Marks are taken along the edges from the sheared corner; depth from that corner to the fold lines' crossing."
    )
    blocks.append(Para(text=words, size=10))
    blocks += [Para(text=how, size=10) for how in how_to_snip(p.notches)]
    return blocks


def how_to_snip(notches: Sequence[Notch]) -> list[str]:
    """How each kind of corner is snipped, said once for all corners of the kind."""
    alike = [_EDGES.sub("both edges", paper(n.says)) for n in notches if n.says]
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


def _folds(p: FlatPattern, say: Say) -> list[Block]:
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
    return [Heading(text="Fold lines"), table, Para(text=TOWARD, size=10)]


def _shim(fold: Fold, say: Say) -> str:
    return say.exact_near(fold.gap) if fold.hem and fold.gap > 0 else "–"


def _marks(p: FlatPattern, say: Say) -> list[Block]:
    rows: list[Sequence[str]] = []
    before = 0.0
    for f in p.folds:
        at = f.line[0][0]
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
    return [Heading(text="Bend marks"), table, Para(text=TOWARD, size=10)]
