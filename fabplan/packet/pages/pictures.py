"""The packet's drawings, asked of the plotter."""

from __future__ import annotations

from dataclasses import replace

from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks.model import FlatPattern
from fabplan.nesting.model import Layout
from fabplan.packet.output.files import file_stem
from fabplan.packet.rolling import layout_way, marked, rolled_ways, shows_rolling
from fabplan.packet.setting.short_names import short_marks
from fabplan.packet.totals import where_it_goes
from fabplan.plan.model import Plan
from fabplan.plotter.bend.ends import draw_end, draw_finished_end
from fabplan.plotter.bend.fold import draw_fold_plan, draw_fold_section
from fabplan.plotter.bend.section import draw_brake, draw_strip_plan
from fabplan.plotter.blank.blank import draw_blank
from fabplan.plotter.blank.finished import draw_finished
from fabplan.plotter.blank.template import draw_template
from fabplan.plotter.board.key import draw_key
from fabplan.plotter.charts import StockBar, draw_stock_bars
from fabplan.plotter.model import Drawing
from fabplan.plotter.roof.elevation import RoofPage, roof_pages, slope_drawings
from fabplan.plotter.sheet.cut_step import draw_cut_step
from fabplan.plotter.sheet.replay import MadeCut
from fabplan.plotter.sheet.sheet import draw_sheet
from fabplan.speech.format import Say
from fabplan.units import Show

BLANK_WIDTH, STRIP_WIDTH, FINISHED_WIDTH = 90.0, 88.0, 96.0  # mm, of a blank, of a strip, of a section finished
SMALL_PLAN, SMALL_FLAT, SMALL_SECTION = 24.0, 33.0, 31.8  # mm, of the pictures of a stroke where cards stand close
HIGH, LOW, MANY_STROKES = 24.0, 20.5, 5
END_WIDE, END_HIGH = 42.0, 27.0  # mm, of an end in space
CUT_HEIGHT = 20.0  # mm, of the picture of one cut, as far as its sizes let it


def line_key(plan: Plan) -> Drawing:
    """Key of the lines and signs in the drawings."""
    return draw_key(
        width_mm=180.0,
        shear=plan.cut_plan is not None,
        folding=bool(plan.schedules),
        roof=plan.roof is not None,
        rolled=any(shows_rolling(plan, p) for p in plan.patterns),
        units=plan.job.info.units,
    )


def layout_drawing(plan: Plan, layout: Layout, number: int, width: float, height: float) -> Drawing:
    """Picture of a cutting layout, with its marks made short, on so much paper in mm."""
    cut = plan.cut_plan
    if cut is None:
        raise ValueError("the plan has no cut plan")
    show = Say.of(plan.job).show
    rolled = (short_marked(plan, layout), layout_way(plan, layout))
    name = f"layout-{number}"
    return draw_sheet(layout, grid=cut.grid, show=show, name=name, width_mm=width, height_mm=height, rolled=rolled)


def short_marked(plan: Plan, layout: Layout) -> frozenset[str]:
    """Marks that show the rolling direction, as the pages shorten them."""
    short = short_marks(p.mark for p in plan.patterns)
    return frozenset(short.get(mark, mark) for mark in marked(plan, layout))


def cut_drawing(plan: Plan, layout: Layout, number: int, made: MadeCut, width: float, larger: float = 1.0) -> Drawing:
    """Picture of one cut on its own metal, no wider than so many mm; `larger` times as high as where room is short."""
    grid = plan.cut_plan.grid if plan.cut_plan is not None else 1
    show = Say.of(plan.job).show
    name = f"layout-{number}-cut-{made.cut.step}"
    return draw_cut_step(layout, made, grid=grid, show=show, name=name, width_mm=width, height_mm=CUT_HEIGHT * larger)


def blank_drawing(plan: Plan, pattern: FlatPattern, height: float) -> Drawing:
    number = plan.patterns.index(pattern) + 1
    name = f"blank-{number}-{file_stem(pattern.mark)}"
    return draw_blank(
        pattern,
        show=Say.of(plan.job).show,
        name=name,
        width_mm=STRIP_WIDTH if pattern.section else BLANK_WIDTH,
        height_mm=height,
        rolled=rolled_ways(plan, pattern),
    )


def finished_drawing(plan: Plan, pattern: FlatPattern) -> Drawing:
    number = (*plan.patterns, *plan.left_out).index(pattern) + 1
    name = f"finished-{number}-{file_stem(pattern.mark)}"
    return draw_finished(
        pattern,
        show=Say.of(plan.job).show,
        name=name,
        width_mm=FINISHED_WIDTH if pattern.section else BLANK_WIDTH,
        height_mm=28.0,
    )


def end_drawing(plan: Plan, pattern: FlatPattern, at: str) -> Drawing:
    """A turned end finished, in space."""
    number = (*plan.patterns, *plan.left_out).index(pattern) + 1
    name = f"finished-{number}-{file_stem(pattern.mark)}-end-{at}"
    return draw_finished_end(pattern, at, name, width_mm=END_WIDE, height_mm=END_HIGH + 3.0)


def plan_drawing(plan: Plan, schedule: BendSchedule, step: Step, *, small: bool) -> Drawing:
    """A stroke from above; `small` where cards stand close."""
    pattern = plan.pattern(schedule.mark)
    draw = draw_strip_plan if schedule.kind == "section" else draw_fold_plan
    drawing = draw(pattern, schedule, step, width_mm=SMALL_PLAN if small else 34.0, height_mm=_high(schedule))
    return _named(plan, schedule, step, drawing, "above")


def _high(schedule: BendSchedule) -> float:
    """Height in mm of the pictures of a stroke: with many strokes they stand closer."""
    return LOW if schedule.kind == "section" and len(schedule.steps) >= MANY_STROKES else HIGH


def section_drawings(plan: Plan, schedule: BendSchedule, step: Step, *, small: bool) -> list[tuple[Drawing, str]]:
    """A stroke in section; `small` where cards stand close."""
    pattern = plan.pattern(schedule.mark)
    if schedule.kind == "flat":
        wide = SMALL_FLAT if small else 46.0
        drawing = draw_fold_section(
            pattern, schedule, step, show=Say.of(plan.job).show, width_mm=wide, height_mm=_high(schedule)
        )
        return [(_named(plan, schedule, step, drawing, "section"), "before and after")]
    wide = SMALL_SECTION if small else 44.0
    if step.at:
        return [
            (_named(plan, schedule, step, drawing, when), when)
            for when in ("before", "after")
            for drawing in (draw_end(pattern, schedule, step, when, width_mm=END_WIDE, height_mm=END_HIGH),)
        ]
    return [
        (
            _named(
                plan,
                schedule,
                step,
                draw_brake(pattern, schedule, step, when, width_mm=wide, height_mm=_high(schedule)),
                when,
            ),
            when,
        )
        for when in ("before", "after")
        if (step.before if when == "before" else step.after) is not None
    ]


def _named(plan: Plan, schedule: BendSchedule, step: Step, drawing: Drawing, what: str) -> Drawing:
    """The drawing under a name that no other piece's drawing has."""
    number = [p.mark for p in plan.patterns].index(schedule.mark) + 1
    return replace(drawing, name=f"fold-{number}-{file_stem(schedule.mark)}-step-{step.step}-{what}")


def stock_chart(plan: Plan) -> Drawing | None:
    """Weight taken of every stock and where it goes."""
    if plan.cut_plan is None:
        return None
    say = Say.of(plan.job)
    bars = []
    for name in dict.fromkeys(layout.stock for layout in plan.cut_plan.layouts):
        goes = where_it_goes(plan, stock=name)
        whole = goes.stock.area or 1.0
        bars.append(
            StockBar(
                name=name,
                amount=goes.stock.pounds,
                blanks=goes.blanks.area / whole,
                kept=goes.kept.area / whole,
                scrap=goes.scrap.area / whole,
                says=f"{say.weight(goes.stock.pounds)}, scrap {say.percent(goes.scrap.area / whole)}",
            )
        )
    title = "Weight taken of every stock: in blanks, back on the rack, scrap bin"
    return draw_stock_bars(bars, name="stock-taken", title=title, width_mm=180.0) if bars else None


def template_tiles(pattern: FlatPattern, show: Show, job: str, number: int) -> list[Drawing]:
    """Tiles of a full-scale template, row by row."""
    return [
        replace(tile.drawing, name=f"template-{number}-{file_stem(pattern.mark)}-row-{tile.row}-column-{tile.column}")
        for tile in draw_template(pattern, show=show, job=job)
    ]


def roof_sheets(plan: Plan) -> tuple[RoofPage, ...]:
    """Drawings and tables of the whole roof; none without slopes."""
    return roof_pages(plan.roof, plan.job) if plan.roof is not None and plan.roof.slopes else ()


def slope_picture(plan: Plan, number: int, width: float, height: float) -> Drawing:
    """Elevation of slope `number` (from 1) in so many mm."""
    if plan.roof is None:
        raise ValueError("the plan has no roof")
    return slope_drawings(plan.roof, plan.job, number, width, height)[0]
