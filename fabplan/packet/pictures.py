"""The packet's drawings, asked of the plotter."""

from __future__ import annotations

from dataclasses import replace

from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks.model import FlatPattern
from fabplan.plan.model import Plan
from fabplan.packet.say import Say
from fabplan.packet.files import file_stem
from fabplan.plotter.blank import draw_blank
from fabplan.plotter.finished import draw_finished
from fabplan.plotter.fold import draw_fold_plan, draw_fold_section
from fabplan.plotter.section import draw_brake, draw_strip_plan
from fabplan.plotter.sheet import draw_sheet
from fabplan.plotter.model import Drawing, Shape, Text


def _stub(name: str, w: float, h: float) -> Drawing:
    return Drawing(
        name=name,
        title=name,
        width=w,
        height=h,
        marks=(
            Shape(points=((1, 1), (w - 1, 1), (w - 1, h - 1), (1, h - 1)), pen="outline"),
            Text(at=(w / 2, h / 2), text=name, size=10),
        ),
    )


def line_key() -> Drawing:
    return _stub("key", 180, 24)


def layout_drawing(plan: Plan, number: int, height: float) -> Drawing:
    cut = plan.cut_plan
    if cut is None:
        raise ValueError("the plan has no cut plan")
    show = Say.of(plan.job).show
    layout = cut.layouts[number - 1]
    return draw_sheet(layout, grid=cut.grid, show=show, name=f"pattern-{number}", width_mm=248.0, height_mm=height)


def blank_drawing(plan: Plan, pattern: FlatPattern, height: float) -> Drawing:
    number = plan.patterns.index(pattern) + 1
    name = f"blank-{number}-{file_stem(pattern.mark)}"
    return draw_blank(pattern, show=Say.of(plan.job).show, name=name, width_mm=170.0, height_mm=height)


def finished_drawing(plan: Plan, pattern: FlatPattern) -> Drawing:
    number = plan.patterns.index(pattern) + 1
    name = f"finished-{number}-{file_stem(pattern.mark)}"
    return draw_finished(pattern, show=Say.of(plan.job).show, name=name, height_mm=38.0)


def plan_drawing(plan: Plan, schedule: BendSchedule, step: Step) -> Drawing:
    pattern = plan.pattern(schedule.mark)
    if schedule.kind == "section":
        drawing = draw_strip_plan(pattern, schedule, step, width_mm=42.0, height_mm=38.0)
    else:
        drawing = draw_fold_plan(pattern, schedule, step, width_mm=46.0, height_mm=40.0)
    return _named(plan, schedule, step, drawing, "above")


def section_drawings(plan: Plan, schedule: BendSchedule, step: Step) -> list[tuple[Drawing, str]]:
    pattern = plan.pattern(schedule.mark)
    if schedule.kind == "flat":
        drawing = draw_fold_section(pattern, schedule, step, show=Say.of(plan.job).show, width_mm=50.0, height_mm=30.0)
        return [(_named(plan, schedule, step, drawing, "section"), "before and after")]
    return [
        (
            _named(plan, schedule, step, draw_brake(pattern, schedule, step, when, width_mm=54.0, height_mm=28.0), when),
            when,
        )
        for when in ("before", "after")
        if (step.before if when == "before" else step.after) is not None
    ]


def _named(plan: Plan, schedule: BendSchedule, step: Step, drawing: Drawing, what: str) -> Drawing:
    """The drawing under a name that no other piece's drawing has."""
    number = [p.mark for p in plan.patterns].index(schedule.mark) + 1
    return replace(drawing, name=f"fold-{number}-{file_stem(schedule.mark)}-step-{step.step}-{what}")


def slope_drawings(plan: Plan, number: int) -> list[Drawing]:
    return []


def roof_drawings(plan: Plan) -> list[Drawing]:
    return []
