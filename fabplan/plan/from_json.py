"""Read a saved plan back: `plan.json` to the models the checkers take.

The file's numbers are in the job's units with six decimals; lengths on the grid come back as whole graduations, and
money and areas from the exact fractions saved beside the rounded numbers.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from fabplan.bending.model import BendSchedule, Check, Gauge, Hold, SectionState, Step, Turn
from fabplan.errors import JobError
from fabplan.job.model import Job, Stock
from fabplan.job.values import OnHand
from fabplan.nesting.model import (
    Cut,
    CutPlan,
    Layout,
    Offcut,
    Placed,
    ProgramStep,
    Rival,
    ShearProgram,
    StockUse,
)
from fabplan.units import NM_PER_INCH, NM_PER_MM, POUNDS_TO_KG, Nm

MOST_BYTES = 100_000_000
_OFF_GRID = 2e-3  # graduations: six decimals of an inch are 3.2e-5 of a 1/32

Data = dict[str, Any]
T = TypeVar("T")


def read_plan(path: Path) -> Data:
    """The saved plan as data.

    Raises
    ------
    JobError
        Not a readable plan.json, or larger than 100 MB.
    """
    name = str(path)
    if path.suffix != ".json":
        raise JobError("a saved plan is a file ending in .json", file=name, write="the plan.json of a packet")
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise JobError(f"the file is too large for a plan (at most {MOST_BYTES // 1_000_000} MB)", file=name)
        data = json.loads(path.read_text(encoding="utf-8"), parse_constant=_no_constant)
    except FileNotFoundError:
        raise JobError("there is no such file", file=name, write="the plan.json of a packet") from None
    except OSError as fault:
        raise JobError(f"the file cannot be read ({fault.strerror})", file=name) from None
    except (ValueError, RecursionError):
        raise JobError("the file is not a plan: it is not valid JSON", file=name, write="a plan.json") from None
    if not isinstance(data, dict) or "fabplan" not in data or not isinstance(data.get("job"), dict):
        raise JobError("the file is not a plan written by fabplan", file=name, write="a plan.json")
    if data.get("units") not in ("in", "mm"):
        raise JobError("the plan's units are neither in nor mm", file=name, key="units")
    return data


def _no_constant(word: str) -> float:
    raise ValueError(word)


class Reader:
    """Turns one plan's numbers into inches, graduations and pounds; a number off the grid is a fault."""

    def __init__(self, data: Data, grid: int) -> None:
        self.data = data
        self.grid = grid
        self.nm = NM_PER_MM if data["units"] == "mm" else NM_PER_INCH
        self.metric = data["units"] == "mm"
        self.faults: list[str] = []

    def inch(self, value: Any) -> float:
        """A length in inches."""
        return float(value) * self.nm / NM_PER_INCH

    def steps(self, value: Any, what: str) -> int:
        """A length in whole graduations."""
        exact = float(value) * self.nm / self.grid
        whole = round(exact)
        if abs(exact - whole) > _OFF_GRID:
            self.faults.append(f"{what} {value} is not on the shop's graduation")
        return whole

    def point(self, pair: Any) -> tuple[float, float]:
        """A point in graduations."""
        x, y = pair
        return float(x) * self.nm / self.grid, float(y) * self.nm / self.grid

    def pounds(self, value: Any) -> float:
        """A weight in pounds."""
        return float(value) / float(POUNDS_TO_KG) if self.metric else float(value)


def shaped(make: Callable[[], T]) -> T:
    """Run a reading step; anything missing or of the wrong type in the file is a worded fault."""
    try:
        return make()
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, ZeroDivisionError, OverflowError) as fault:
        raise JobError(
            f"the saved plan is not complete or has a value of the wrong kind ({type(fault).__name__}: {fault})",
            write="a plan.json as fabplan wrote it",
        ) from None


def _layout(r: Reader, d: Data, form: dict[str, str], metal: dict[str, str]) -> Layout:
    return Layout(
        stock=str(d["stock"]),
        form=form[d["stock"]],  # type: ignore[arg-type]
        metal=metal[d["stock"]],
        repeat=_whole(d["repeat"]),
        width=r.steps(d["width"], "layout width"),
        length=r.steps(d["length"], "layout length"),
        blanks=tuple(
            Placed(
                mark=str(b["mark"]),
                x=r.steps(b["x"], "x"),
                y=r.steps(b["y"], "y"),
                width=r.steps(b["width"], "blank width"),
                length=r.steps(b["length"], "blank length"),
                turned=_flag(b["turned"]),
                outline=None if b["outline"] is None else tuple(r.point(p) for p in b["outline"]),
            )
            for b in d["blanks"]
        ),
        cuts=tuple(
            Cut(
                step=_whole(c["step"]),
                start=r.point(c["from"]),
                end=r.point(c["to"]),
                back_gauge=None if c["back_gauge"] is None else r.steps(c["back_gauge"], "back gauge"),
                held=r.steps(c["held"], "held width"),
                angle=float(c["angle_deg"]),
                stage=_whole(c.get("stage", 1)),
                comes_off=str(c["comes_off"]),
                left=str(c["left"]),
            )
            for c in d["cuts"]
        ),
        offcuts=tuple(
            Offcut(
                x=r.steps(o["x"], "offcut x"),
                y=r.steps(o["y"], "offcut y"),
                width=r.steps(o["width"], "offcut width"),
                length=r.steps(o["length"], "offcut length"),
                keep=_flag(o["keep"]),
                label=str(o["label"]),
            )
            for o in d["offcuts"]
        ),
    )


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"{value!r} is not a whole number")
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"{value!r} is neither true nor false")
    return value


def _program(r: Reader, d: Data | None) -> ShearProgram | None:
    if d is None:
        return None
    return ShearProgram(
        steps=tuple(
            ProgramStep(
                step=_whole(s["step"]),
                back_gauge=None if s["back_gauge"] is None else r.steps(s["back_gauge"], "back gauge"),
                angle=float(s["angle_deg"]),
                items=tuple(
                    (_whole(c["layout"]), tuple(_whole(k) for k in c["steps"]), _whole(c["times"])) for c in s["cuts"]
                ),
                says=str(s["says"]),
            )
            for s in d["steps"]
        ),
        settings=_whole(d["settings"]),
        settings_layout_by_layout=_whole(d["settings_layout_by_layout"]),
        most_open_stacks=_whole(d["most_open_stacks"]),
        least_settings=_whole(d["least_settings"]),
    )


def read_cut_plan(r: Reader) -> CutPlan:
    """The cut plan of a saved plan (run inside `shaped`)."""
    d: Data = r.data["nesting"]
    form = {s["name"]: str(s["form"]) for s in d["stock"]}
    metal = {s["name"]: str(s["metal"]) for s in d["stock"]}
    scale = Fraction(r.grid, r.nm) ** 2

    def cost(exact: Any) -> Fraction:
        value = Fraction(str(exact))
        return value / scale if d["objective"] == "area" else value

    def near(value: Any, exact: Fraction, what: str) -> None:
        shown = exact * scale if d["objective"] == "area" else exact
        if value is None or abs(float(value) - float(shown)) > 1e-6 * max(1.0, abs(float(shown))):
            r.faults.append(f"{what} {value} is not its exact value")

    total, bound = cost(d["exact"]["total"]), cost(d["exact"]["bound"])
    near(d["total"], total, "the total")
    near(d["bound"], bound, "the bound")
    stock = []
    for s in d["stock"]:
        exact = cost(s["cost_exact"])
        near(s["cost"], exact, f"the cost of {s['name']}")
        length = None if s["length"] is None else r.steps(s["length"], "stock length")
        width = r.steps(s["width"], "stock width")
        used_length = None if s["used_length"] is None else r.steps(s["used_length"], "used length")
        used_count = None if s["used_count"] is None else _whole(s["used_count"])
        run = used_length if used_length is not None else (used_count or 0) * (length or 0)
        stock.append(
            StockUse(
                name=str(s["name"]),
                form=s["form"],
                metal=str(s["metal"]),
                width=width,
                length=length,
                used_length=used_length,
                used_count=used_count,
                cost=exact,
                area=width * run,
                pounds=r.pounds(s["weight"]),
            )
        )
    layouts = tuple(_layout(r, x, form, metal) for x in d["layouts"])
    above = d["above_bound"]
    plan = CutPlan(
        grid=r.grid,
        objective=d["objective"],
        total=total,
        bound=bound,
        status=d["status"],
        stopped_early=_flag(r.data["stopped_early"]),
        layouts=layouts,
        stock=tuple(stock),
        short=tuple((str(x["mark"]), _whole(x["missing"])) for x in d["short"]),
        scrap_share=float(d["scrap_share"]),
        kept_share=float(d["kept_share"]),
        blanks_area=float(d["blanks_area"]) / float(scale),
        stock_area=float(d["stock_area"]) / float(scale),
        rivals=tuple(
            Rival(name=str(v["name"]), total=None if v["total"] is None else cost(v["total"]), says=str(v["says"]))
            for v in d["rivals"]
        ),
        program=_program(r, d["shear_program"]),
        notes=tuple(str(n) for n in d["notes"]),
    )
    expected = plan.above_bound
    if (above is None) != (expected is None) or (expected is not None and abs(float(above) - expected) > 1e-6):
        r.faults.append("how far the total is above the bound is not what they give")
    return plan


def _named(name: str) -> int:
    """How many pieces of the rack a line's name stands for: ``rack 4, 7-9`` is four."""
    runs = [run.partition("-") for run in name.removeprefix("rack ").split(", ")]
    return sum(int(last or first) - int(first) + 1 for first, _, last in runs)


def rack_stock(data: Data, r: Reader) -> tuple[Stock, ...]:
    """Stock lines of a saved plan that came from an offcut rack, not from the job file."""
    return tuple(
        Stock.model_construct(
            name=s["name"],
            form="offcut",
            width=Nm(r.steps(s["width"], "offcut width") * r.grid),
            length=Nm(r.steps(s["length"], "offcut length") * r.grid),
            longest_cut_off=None,
            trim_each_edge=Nm(0),
            on_hand=OnHand(count=_named(str(s["name"]))),
            price=None,
            metal=s["metal"],
            grain=s["grain"],
        )
        for s in data["nesting"]["stock"]
        if s["form"] == "offcut" and str(s["name"]).startswith("rack ")
    )


def _state(r: Reader, d: Data | None) -> SectionState | None:
    if d is None:
        return None
    return SectionState(
        line=tuple((r.inch(x), r.inch(y)) for x, y in d["line"]),
        nose_index=_whole(d["nose_index"]),
        hems=tuple(((r.inch(a[0]), r.inch(a[1])), (r.inch(b[0]), r.inch(b[1]))) for a, b in d["hems"]),
        unmade=tuple((r.inch(x), r.inch(y)) for x, y in d["unmade"]),
    )


def read_schedule(r: Reader, d: Data) -> BendSchedule:
    """One bend schedule of a saved plan (run inside `shaped`)."""
    return BendSchedule(
        mark=str(d["mark"]),
        kind=d["kind"],
        steps=tuple(
            Step(
                step=_whole(s["step"]),
                edge=_whole(s["edge"]),
                turn=Turn(
                    over=s["turn"]["over"],
                    rotate=float(s["turn"]["rotate"]),
                    swap=_flag(s["turn"]["swap"]),
                    shift=_flag(s["turn"]["shift"]),
                ),
                hold=_hold(r, s["hold"]),
                turns_over=_flag(s["turns_over"]),
                rotates=_flag(s["rotates"]),
                changes_tool=_flag(s["changes_tool"]),
                side_up=s["side_up"],
                end_in=str(s["end_in"]),
                action=s["action"],
                turned_deg=float(s["turned_deg"]),
                set_deg=float(s["set_deg"]),
                check_deg=float(s["check_deg"]),
                tool=str(s["tool"]),
                stop=r.inch(s["stop"]),
                gauged_from=Gauge(what=s["gauged_from"]["what"], ref=_whole(s["gauged_from"]["ref"])),
                check=_check(r, s["check"]),
                done=tuple(_whole(k) for k in s["done"]),
                toward=s["toward"],
                metal_springback=None if s["metal_springback"] is None else float(s["metal_springback"]),
                loading=str(s["loading"]),
                before=_state(r, s["before"]),
                after=_state(r, s["after"]),
            )
            for s in d["steps"]
        ),
        proven=_flag(d["proven"]),
        states=_whole(d["states"]),
        turn_overs=_whole(d["turn_overs"]),
        rotations=_whole(d["rotations"]),
        tool_changes=_whole(d["tool_changes"]),
        turn_arounds=_whole(d["turn_arounds"]),
        end_loadings=_whole(d["end_loadings"]),
    )


def _check(r: Reader, d: Data) -> Check:
    to = d["to"]
    return Check(
        what=d["what"],
        size=r.inch(d["size"]),
        to=None if to is None else Gauge(what=to["what"], ref=_whole(to["ref"])),
        across_edge=_whole(d["across_edge"]),
        across=r.inch(d["across"]),
    )


def _hold(r: Reader, d: Data) -> Hold:
    return Hold(
        way=d["way"],
        behind=_flag(d["behind"]),
        loose=r.inch(d["loose"]),
        bites=_whole(d["bites"]),
        bite=r.inch(d["bite"]),
        shim=None if d["shim"] is None else r.inch(d["shim"]),
        clear_of=tuple(_whole(e) for e in d["clear_of"]),
        hanging=tuple(_whole(e) for e in d["hanging"]),
        packing=_flag(d["packing"]),
        wide_swings=_flag(d["wide_swings"]),
        by_hand=float(d["by_hand"]),
    )


def grid_of(job: Job) -> int:
    """The job's graduation, nanometres."""
    return int(job.info.round_to)
