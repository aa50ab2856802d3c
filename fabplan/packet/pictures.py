"""The packet's drawings, asked of the plotter."""

from __future__ import annotations

from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks.model import FlatPattern
from fabplan.plan.model import Plan
from fabplan.packet.say import Say
from fabplan.packet.files import file_stem
from fabplan.plotter.blank import draw_blank
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


def blank_drawing(plan: Plan, pattern: FlatPattern) -> Drawing:
    number = plan.patterns.index(pattern) + 1
    name = f"blank-{number}-{file_stem(pattern.mark)}"
    return draw_blank(pattern, show=Say.of(plan.job).show, name=name, width_mm=170.0, height_mm=112.0)


def finished_drawing(plan: Plan, pattern: FlatPattern) -> Drawing:
    return _stub("finished", 120, 35)


def plan_drawing(plan: Plan, schedule: BendSchedule, step: Step) -> Drawing:
    return _stub("plan", 44, 38)


def section_drawings(plan: Plan, schedule: BendSchedule, step: Step) -> list[tuple[Drawing, str]]:
    return [(_stub("before and after", 52, 30), "before and after")]
