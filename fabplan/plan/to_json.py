"""The plan as data: `plan.json`, and what every command prints with `--json`.

Numbers are in the job's units (in, in², lb, or mm, mm², kg) with at most 6 decimals; points of slanted cuts have 9,
because a short cut fixes the far edge of a long piece.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

import fabplan
from fabplan.bending.model import BendSchedule, Hold, SectionState
from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.plan.handling import Lift, lifts
from fabplan.plan.model import BuyLine, Plan
from fabplan.plan.status import STATUS
from fabplan.units import NM_PER_INCH, NM_PER_MM, area_number, number, weight_number

Data = dict[str, Any]


class Scale:
    """Turns inches, square inches, pounds and graduations into the job's numbers."""

    def __init__(self, units: str, grid: int) -> None:
        self.units = units
        self.grid = grid
        self.nm = NM_PER_MM if units == "mm" else NM_PER_INCH

    def inch(self, value: float) -> float:
        """A length in inches."""
        return number(float(value), self.units)

    def area(self, value: float) -> float:
        """An area in square inches."""
        return area_number(value, self.units)

    def pounds(self, value: float) -> float:
        """A weight in pounds."""
        return weight_number(value, self.units)

    def steps(self, value: float) -> float:
        """A length in graduations."""
        if isinstance(value, int):
            return tidy(float(Fraction(value * self.grid, self.nm)))
        return tidy(value * self.grid / self.nm)

    def steps_area(self, value: float | Fraction) -> float:
        """An area in square graduations."""
        if isinstance(value, (int, Fraction)):
            return tidy(float(Fraction(value) * Fraction(self.grid, self.nm) ** 2))
        return tidy(value * (self.grid / self.nm) ** 2)

    def points(self, points: Iterable[tuple[float, float]]) -> list[list[float]]:
        """Points in inches."""
        return [[self.inch(x), self.inch(y)] for x, y in points]

    def step_points(self, points: Iterable[tuple[float, float]]) -> list[list[float]]:
        """Points in graduations."""
        return [[round(v * self.grid / self.nm, 9) + 0.0 for v in p] for p in points]


def tidy(value: float) -> float:
    """At most 6 decimals, no minus zero."""
    return round(float(value), 6) + 0.0


def scale_of(job: Job) -> Scale:
    """The scale of a job's numbers."""
    return Scale(job.info.units, int(job.info.round_to))


def head(job: Job, *, stopped_early: bool = False) -> Data:
    """Version, units and job, first in every answer."""
    info: Data = {"name": job.info.name, "number": job.info.number}
    if job.info.revision:
        info["revision"] = job.info.revision
    if job.info.date:
        info["date"] = job.info.date
    return {
        "fabplan": fabplan.__version__,
        "units": job.info.units,
        "job": info,
        "stopped_early": stopped_early,
    }


def _lattice(lattice: Lattice, s: Scale) -> Data:
    return {
        "top_angle": tidy(lattice.top_angle),
        "lap": s.inch(lattice.lap),
        "hooked": s.inch(lattice.hooked),
        "spacing": s.inch(lattice.spacing),
        "course": s.inch(lattice.course),
        "side_snip": s.inch(lattice.side_snip),
        "joint": s.inch(lattice.joint),
        "slack": s.inch(lattice.slack),
    }


def blank_json(p: FlatPattern, s: Scale) -> Data:
    """One flat pattern."""
    out: Data = {
        "mark": p.mark,
        "kind": p.kind,
        "metal": p.metal,
        "count": p.count,
        "spare": p.spare,
        "width": s.steps(p.width_units),
        # A rhombic diamond's side follows from its strip height and need not lie on the grid.
        "length": s.inch(p.side_along),
        "weight": s.pounds(p.weight),
        "rounding": s.inch(p.rounding),
        "grain": p.grain,
        "parts": p.parts,
        "outline": s.points(p.outline),
        "snipped": s.points(p.snipped),
        "folds": [
            {
                "edge": f.edge,
                "line": s.points(f.line),
                "toward": f.toward,
                "turned_deg": tidy(f.turned),
                "width": s.inch(f.width),
                "hem_gap": s.inch(f.gap),
                "inside_radius": s.inch(f.radius),
                "allowance": s.inch(f.allowance),
                "deduction": s.inch(f.deduction),
                "flap": s.points(f.flap),
            }
            for f in p.folds
        ],
        "notches": [
            {
                "point": n.corner,
                "kind": n.kind,
                "legs": [s.inch(n.legs[0]), s.inch(n.legs[1])],
                "depth": s.inch(n.depth),
                "removed": s.points(n.removed),
                "says": n.says,
            }
            for n in p.notches
        ],
        "finished": {
            "side": s.inch(p.finished.side),
            "width": s.inch(p.finished.width),
            "length": s.inch(p.finished.length),
            "exposed_side": s.inch(p.finished.exposed_side),
            "covers_area": s.area(p.finished.covers_area),
        },
        "notes": list(p.notes),
    }
    if p.lattice is not None:
        out["lattice"] = _lattice(p.lattice, s)
    if p.section is not None:
        out["section"] = {
            "legs": [s.inch(x) for x in p.section.legs],
            "bends": [tidy(x) for x in p.section.bends],
            "inside_radii": [s.inch(x) for x in p.section.radii],
            "bend_marks": [s.inch(x) for x in p.section.marks],
            "developed": s.inch(p.section.developed),
        }
    return out


def nesting_json(plan: CutPlan, s: Scale, job: Job, metals: Mapping[str, MetalProfile]) -> Data:
    """A cut plan; stock lines carry the metal's thickness and grain, which a rack needs to keep an offcut."""
    grain = {line.name: line.grain for line in job.stock}

    def cost(value: Fraction) -> float:
        return s.steps_area(value) if plan.objective == "area" else tidy(float(value))

    def exact(value: Fraction) -> str:
        # Beside the rounded number, so that a saved plan can be proved to the last digit.
        return str(value * Fraction(s.grid, s.nm) ** 2 if plan.objective == "area" else value)

    above = plan.above_bound
    return {
        "objective": plan.objective,
        "total": cost(plan.total),
        "bound": cost(plan.bound),
        "above_bound": None if above is None else tidy(above),
        "exact": {"total": exact(plan.total), "bound": exact(plan.bound)},
        "status": plan.status,
        "status_says": STATUS[plan.status],
        "scrap_share": tidy(plan.scrap_share),
        "kept_share": tidy(plan.kept_share),
        "blanks_area": s.steps_area(plan.blanks_area),
        "stock_area": s.steps_area(plan.stock_area),
        "stock": [
            {
                "name": u.name,
                "form": u.form,
                "metal": u.metal,
                "thickness": s.inch(metals[u.metal].thickness),
                "grain": grain.get(u.name, "along"),
                "width": s.steps(u.width),
                "length": None if u.length is None else s.steps(u.length),
                "used_length": None if u.used_length is None else s.steps(u.used_length),
                "used_count": u.used_count,
                "weight": s.pounds(u.pounds),
                "cost": cost(u.cost),
                "cost_exact": exact(u.cost),
            }
            for u in plan.stock
        ],
        "layouts": [
            {
                "stock": lay.stock,
                "repeat": lay.repeat,
                "width": s.steps(lay.width),
                "length": s.steps(lay.length),
                "blanks": [
                    {
                        "mark": b.mark,
                        "x": s.steps(b.x),
                        "y": s.steps(b.y),
                        "width": s.steps(b.width),
                        "length": s.steps(b.length),
                        "turned": b.turned,
                        "outline": None if b.outline is None else s.step_points(b.outline),
                    }
                    for b in lay.blanks
                ],
                "cuts": [
                    {
                        "step": c.step,
                        "back_gauge": None if c.back_gauge is None else s.steps(c.back_gauge),
                        "from": s.step_points([c.start])[0],
                        "to": s.step_points([c.end])[0],
                        "angle_deg": tidy(c.angle),
                        "stage": c.stage,
                        "held": s.steps(c.held),
                        "comes_off": c.comes_off,
                        "left": c.left,
                    }
                    for c in lay.cuts
                ],
                "offcuts": [
                    {
                        "x": s.steps(o.x),
                        "y": s.steps(o.y),
                        "width": s.steps(o.width),
                        "length": s.steps(o.length),
                        "keep": o.keep,
                        "label": o.label,
                    }
                    for o in lay.offcuts
                ],
            }
            for lay in plan.layouts
        ],
        "short": [{"mark": mark, "missing": n} for mark, n in plan.short],
        "rivals": [
            {"name": r.name, "total": None if r.total is None else cost(r.total), "says": r.says} for r in plan.rivals
        ],
        "shear_program": None
        if plan.program is None
        else {
            "settings": plan.program.settings,
            "settings_layout_by_layout": plan.program.settings_layout_by_layout,
            "least_settings": plan.program.least_settings,
            "most_open_stacks": plan.program.most_open_stacks,
            "steps": [
                {
                    "step": p.step,
                    "back_gauge": None if p.back_gauge is None else s.steps(p.back_gauge),
                    "angle_deg": tidy(p.angle),
                    "cuts": [{"layout": n, "steps": list(cuts), "times": times} for n, cuts, times in p.items],
                    "says": p.says,
                }
                for p in plan.program.steps
            ],
        },
        "notes": list(plan.notes),
    }


def _state(state: SectionState | None, s: Scale) -> Data | None:
    if state is None:
        return None
    return {
        "line": s.points(state.line),
        "nose_index": state.nose_index,
        "hems": [s.points(pair) for pair in state.hems],
        "unmade": s.points(state.unmade),
    }


def _hold(hold: Hold, s: Scale) -> Data:
    return {
        "way": hold.way,
        "behind": hold.behind,
        "loose": s.inch(hold.loose),
        "bites": hold.bites,
        "bite": s.inch(hold.bite),
        "shim": None if hold.shim is None else s.inch(hold.shim),
        "clear_of": list(hold.clear_of),
        "hanging": list(hold.hanging),
        "packing": hold.packing,
        "wide_swings": hold.wide_swings,
        "by_hand": tidy(hold.by_hand),
    }


def bending_json(schedule: BendSchedule, s: Scale) -> Data:
    """One bend schedule."""
    return {
        "mark": schedule.mark,
        "kind": schedule.kind,
        "proven": schedule.proven,
        "states": schedule.states,
        "turn_overs": schedule.turn_overs,
        "rotations": schedule.rotations,
        "tool_changes": schedule.tool_changes,
        "turn_arounds": schedule.turn_arounds,
        "end_loadings": schedule.end_loadings,
        "steps": [
            {
                "step": st.step,
                "edge": st.edge,
                "turn": {
                    "over": st.turn.over,
                    "rotate": tidy(st.turn.rotate),
                    "swap": st.turn.swap,
                    "shift": st.turn.shift,
                },
                "hold": _hold(st.hold, s),
                "turns_over": st.turns_over,
                "rotates": st.rotates,
                "changes_tool": st.changes_tool,
                "side_up": st.side_up,
                "end_in": st.end_in,
                "action": st.action,
                "toward": st.toward,
                "turned_deg": tidy(st.turned_deg),
                "set_deg": tidy(st.set_deg),
                "check_deg": tidy(st.check_deg),
                "tool": st.tool,
                "stop": s.inch(st.stop),
                "gauged_from": {"what": st.gauged_from.what, "ref": st.gauged_from.ref},
                "check": {
                    "what": st.check.what,
                    "size": s.inch(st.check.size),
                    "to": None if st.check.to is None else {"what": st.check.to.what, "ref": st.check.to.ref},
                    "across_edge": st.check.across_edge,
                    "across": s.inch(st.check.across),
                },
                "done": list(st.done),
                "metal_springback": None if st.metal_springback is None else tidy(st.metal_springback),
                "loading": st.loading,
                "before": _state(st.before, s),
                "after": _state(st.after, s),
            }
            for st in schedule.steps
        ],
    }


def buy_json(line: BuyLine, s: Scale) -> Data:
    """One line of the buying list."""
    return {
        "stock": line.stock,
        "metal": line.metal,
        "need": line.need,
        "pull": line.pull,
        "buy": line.buy,
        "weight": s.pounds(line.pounds),
        "price": None if line.price is None else float(line.price),
        "left": line.left,
    }


def lift_json(item: Lift, s: Scale) -> Data:
    """One thing to lift."""
    limit = None if item.limit is None else s.pounds(item.limit)
    return {"kind": item.kind, "what": item.what, "weight": s.pounds(item.pounds), "limit": limit, "over": item.over}


def plan_json(plan: Plan) -> Data:
    """The whole plan, keys in the order of the contract."""
    s = scale_of(plan.job)
    roof: Data = {"slopes": [], "courses": [], "kits": []}
    if plan.roof is not None:
        from fabplan.roof.to_json import roof_json

        roof = roof_json(plan.roof, plan.job.info.units)
    return {
        **head(plan.job, stopped_early=plan.cut_plan is not None and plan.cut_plan.stopped_early),
        "blanks": [blank_json(p, s) for p in plan.patterns],
        "nesting": None if plan.cut_plan is None else nesting_json(plan.cut_plan, s, plan.job, plan.metals),
        "bending": [bending_json(b, s) for b in plan.schedules],
        "roof": roof,
        "buy": [buy_json(line, s) for line in plan.buy],
        "handling": [lift_json(item, s) for item in lifts(plan)],
        "notes": list(plan.notes),
    }
