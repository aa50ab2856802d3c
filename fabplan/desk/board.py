"""What stands beside a form: pictures of the table at hand, and what fabplan understood of it.

Nothing is drawn here: the stages are asked for their results and the plotter for its drawings.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fabplan.desk.figures import Shown
from fabplan.errors import FabplanError, JobError
from fabplan.job.edit_toml import drop_entry, set_value
from fabplan.job.kinds.part import CutPiece
from fabplan.job.lines import Path
from fabplan.job.load import load_job_text
from fabplan.job.model import Job, Stock
from fabplan.job.summary import piece_said, said_rows, stock_said
from fabplan.units import Nm, to_grid

if TYPE_CHECKING:
    from fabplan.blanks.model import FlatPattern
    from fabplan.nesting.model import Layout
    from fabplan.plotter.model import Drawing
    from fabplan.roof.extras.variation_model import Variation
    from fabplan.roof.model import SlopeLayout

BLANK_MM, HIGH_MM, SECTION_MM, STOCK_MM = 128.0, 96.0, 52.0, 128.0  # of the pictures, as wide and high at most
MOST_LAYOUTS = 6
Facts = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """Pictures, facts, and faults of the stages that were asked."""

    pictures: tuple[Shown, ...] = ()
    facts: Facts = ()
    faults: tuple[FabplanError, ...] = ()


def without_faulty(text: str, shown: Any, faults: Iterable[Path], keep: Path) -> Job | None:
    """The job without the pieces, stock, tools and slopes that have faults, but for the one at `keep`; None if in vain.

    So a picture is drawn while another entry is still being written, or while it is not yet said how many.
    """
    found = set(faults)
    uncounted = (*keep, "count")
    bad = {(p[0], p[1]) for p in found - {uncounted} if len(p) > 1 and isinstance(p[1], int)}
    if keep in bad or not found:
        return None
    try:
        if uncounted in found:
            text = set_value(text, uncounted, 1)
        for table, index in sorted(bad, key=lambda p: (str(p[0]), -int(p[1]))):
            text = drop_entry(text, str(table), int(index))
        return load_job_text(text, shown)
    except (FabplanError, tomllib.TOMLDecodeError):
        return None


def board(job: Job, at: Path, name: str = "", layouts: Sequence[Layout] = ()) -> Board:
    """What stands beside the table at a path.

    Parameters
    ----------
    job : Job
    at : tuple
        ``("piece", 3)``, ``("stock", 0)``, ``("shear",)``.
    name : str
        Mark or name of the entry, which finds it though others were left out.
    layouts : sequence of Layout
        Of the last plan, for the pictures of stock.
    """
    table = at[0] if at else ""
    if table == "piece" and len(at) > 1:
        return _piece(job, name)
    if table == "stock" and len(at) > 1:
        line = next((s for s in job.stock if s.name == name), None)
        return Board() if line is None else _stock(job, line, layouts)
    if table == "brake":
        return Board(pictures=_brake(job), facts=_facts(job, ("brake",)))
    known = {
        "job": ("job", "units", "spare", "batch", "offcuts kept"), "metal": ("metal",), "shear": ("shear",),
        "nest": ("nest",), "labour": ("labour",), "hem_tool": ("hem tools",), "piece": ("piece",), "stock": ("stock",),
        "slope": ("slope",),
    }  # fmt: skip
    return Board(facts=_facts(job, known.get(str(table), ())))


def _facts(job: Job, whats: Sequence[str]) -> Facts:
    return tuple(
        (what, says)
        for what, says in said_rows(job)
        if any(what == w or what.startswith(f"{w} ") for w in whats)
        or (what == "assumed" and any(says.startswith(w) for w in whats))
    )


def _piece(job: Job, mark: str) -> Board:
    from fabplan.blanks.check.patterns import check_patterns
    from fabplan.blanks.develop import develop
    from fabplan.plan.make import metals_of
    from fabplan.plotter.blank.blank import draw_blank
    from fabplan.plotter.blank.finished import draw_finished

    piece = next((p for p in job.pieces if p.mark == mark), None)
    if piece is None:
        return Board()
    wanted = {mark}
    if isinstance(piece, CutPiece):
        wanted |= {piece.for_, piece.hooks or ""}
    small = job.model_copy(update={"pieces": tuple(p for p in job.pieces if p.mark in wanted)})
    metals = metals_of(small)
    try:
        patterns = develop(small, metals)
    except JobError as fault:
        return Board(facts=((f"piece {mark}", piece_said(piece, job.show)),), faults=(fault,))
    faults = check_patterns(patterns, small, metals)
    if faults:  # a bug: nothing is shown of it
        return Board(faults=(FabplanError("The flat patterns did not pass their check: " + "; ".join(faults[:3])),))
    p = next(p for p in patterns if p.mark == mark)
    blank = draw_blank(p, show=job.show, name="blank", width_mm=BLANK_MM, height_mm=HIGH_MM)
    done = draw_finished(p, show=job.show, name="finished", width_mm=BLANK_MM, height_mm=SECTION_MM)
    if p.section is not None:
        pictures = (_shown("Section", done), _shown("Blank, bend lines where they are marked", blank))
    else:
        pictures = (_shown("Blank, with its snips and fold lines", blank), _shown("Finished", done))
    return Board(pictures=pictures, facts=_blank_facts(job, p, piece_said(piece, job.show)))


def _blank_facts(job: Job, p: FlatPattern, said: str) -> Facts:
    show = job.show
    rows = [("understood", said), ("blank", show.size(p.width_units * p.grid, p.length_units * p.grid))]
    every = f", {show.weight(p.weight * p.count)} in all" if p.count else ""
    rows.append(("weight", f"{show.weight(p.weight)} each{every}"))
    if p.finished.exposed_side:
        rows.append(("to the weather", f"{show.length(p.finished.exposed_side)} a side"))
    return (*rows, *(("note", note) for note in p.notes))


def _shown(title: str, drawing: Drawing) -> Shown:
    return Shown(title=title, drawing=drawing, alt=drawing.title)


def _stock(job: Job, line: Stock, layouts: Sequence[Layout]) -> Board:
    from fabplan.nesting.model import Layout, Placed
    from fabplan.plotter.sheet.sheet import draw_sheet

    grid = int(job.info.round_to)
    long = _long(job, line)
    own = [y for y in layouts if y.stock == line.name]
    width, length = to_grid(line.width, grid, "down"), to_grid(long, grid, "down")
    whole = Placed(mark=line.name, x=0, y=0, width=width, length=length, turned=False)
    bare = Layout(
        stock=line.name, form=line.form, metal=line.metal or job.metal.use, repeat=1, width=width, length=length,
        blanks=(whole,), cuts=(), offcuts=(),
    )  # fmt: skip
    what = "Longest length cut off" if line.form == "coil" else "As bought"
    title = f"{line.name}, {what.lower()}: {job.show.size(line.width, long)}"
    plain = replace(draw_sheet(bare, grid=grid, show=job.show, name="stock", width_mm=STOCK_MM), title=title)
    pictures = [_shown(f"{what}, to scale", plain)]
    for n, layout in enumerate(layouts, 1):
        if layout.stock == line.name and len(pictures) <= MOST_LAYOUTS:
            drawn = draw_sheet(layout, grid=grid, show=job.show, name=f"layout-{n}", width_mm=STOCK_MM, height_mm=90)
            pictures.append(_shown(f"Layout {n} of the last plan, {layout.repeat} times", drawn))
    facts = [("understood", stock_said(line, job.show)), ("area", job.show.area(line.width * long / (25_400_000**2)))]
    if len(own) > MOST_LAYOUTS:
        facts.append(("last plan", f"{len(own)} layouts of this stock; the first {MOST_LAYOUTS} are drawn"))
    return Board(pictures=tuple(pictures), facts=tuple(facts))


def _long(job: Job, line: Stock) -> Nm:
    from fabplan.job import defaults

    if line.length is not None:
        return line.length
    return line.longest_cut_off or defaults.longest_cut_off(job.info.units)


def _brake(job: Job) -> tuple[Shown, ...]:
    from fabplan.bending.brake.tool import brake_shape
    from fabplan.plan.make import metals_of
    from fabplan.plotter.board.key import draw_brake_key

    metal = metals_of(job)[job.metal.use]
    drawing = draw_brake_key(brake_shape(job.brake, metal.thickness).drawing(), width_mm=BLANK_MM, height_mm=HIGH_MM)
    return (_shown("The brake in section", drawing),)


def slope_pictures(layouts: Sequence[SlopeLayout], variation: Sequence[Variation], job: Job) -> tuple[Shown, ...]:
    """Elevations of slopes, with their courses."""
    from fabplan.plotter.roof.elevation import draw_layout

    return tuple(
        _shown(f"{layout.slope.name}, with its courses", draw_layout(layout, variation, job, n))
        for n, layout in enumerate(layouts, 1)
    )


def entry_name(table: str, data: Mapping[str, Any]) -> str:
    """Mark or name of an entry, as the models read it."""
    from fabplan.job.merge import ARRAYS

    return str(data.get(ARRAYS.get(table, ""), "")).strip()
