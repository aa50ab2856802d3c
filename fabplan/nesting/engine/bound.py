"""Lower bounds: every set of duals gives a cut over stock counts, and a tiny program over the counts a bound.

If no pattern of one unit of stock k can be worth more than V_k under piece prices v, then any plan that uses n_k
units meets sum V_k n_k >= v . d. Minimising the cost of n under the cuts seen so far bounds every plan; with whole
counts the bound is often the optimum itself when few sheets are used.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from fabplan.nesting.engine.frame import HUGE, Frame
from fabplan.nesting.engine.lp import quiet

Floats = npt.NDArray[np.float64]
_linprog: Any = linprog
_milp: Any = milp
SLACK = 1e-9
NODES = 1000


class StockMix:
    """Cuts over stock counts, and the best bounds found from them."""

    def __init__(self, frame: Frame, keep: int = 24) -> None:
        self.frame, self.keep = frame, keep
        self.rows: list[Floats] = []
        self.linear = 0.0
        self.bound = Fraction(0)

    def add(self, worth: Floats, total: float) -> float:
        """Add the cut `worth . n >= total`; the linear bound (scaled cost) of this cut alone is returned."""
        if total <= 0:
            return 0.0
        row = worth / (total * (1 - SLACK))
        self.rows.append(row)
        if len(self.rows) > self.keep:
            self.rows.pop(0)
        alone = float(self.alone(row))
        self.linear = max(self.linear, alone)
        return alone

    def add_areas(self) -> None:
        """The plainest cut: stock must have room for the area of the pieces."""
        frame = self.frame
        room = np.zeros(len(frame.problem.stock))
        for v in frame.views:
            t = frame.tables[v.table]
            along = frame.coil_step if v.coil else v.Y * t.unit_along
            room[v.stock] = max(room[v.stock], float(v.X * t.unit_across * along))
        self.add(room, float(frame.area @ frame.demand))

    def alone(self, row: Floats) -> float:
        """Linear bound of one cut: fractional knapsack cover for one cut."""
        cost, need, spent = self.frame.cost, 1.0, 0.0
        useful = [k for k in range(row.size) if row[k] > 0]
        for k in sorted(useful, key=lambda k: cost[k] / row[k]):
            take = min(need / row[k], float(self.frame.available[k]))
            spent += take * float(cost[k])
            need -= take * float(row[k])
            if need <= 1e-12:
                return float(spent)
        return float(spent)

    def exact(self, seconds: float | None = None) -> Fraction:
        """Best bound so far as an exact cost: whole counts under all kept cuts."""
        frame = self.frame
        value = self.rounded(self.linear)
        a = np.array(self.rows)
        live = np.flatnonzero((a > 0).any(axis=0)) if self.rows else np.zeros(0, dtype=np.int64)
        if live.size:
            sub = a[:, live]
            upper = np.where(frame.available[live] >= HUGE, np.inf, frame.available[live].astype(float))
            value = max(value, self._whole(sub, live, upper, seconds))
        self.bound = max(self.bound, value)
        return self.bound

    def _whole(self, sub: Floats, live: npt.NDArray[np.int64], upper: Floats, seconds: float | None) -> Fraction:
        frame = self.frame
        cost = frame.cost[live]
        sheet = np.array([frame.problem.stock[int(k)].form == "sheet" for k in live])
        ones = np.ones(sub.shape[0])
        best = 0.0
        linear = _linprog(cost, A_ub=-sub, b_ub=-ones, bounds=np.column_stack([np.zeros(live.size), upper]))
        if linear.status == 0:
            best = float(linear.fun)
        if not sheet.any():
            return self.rounded(best)
        # coil is cut in small steps: only sheets need to be whole
        options: dict[str, Any] = {"node_limit": NODES, "mip_rel_gap": 0.0, "disp": False}
        if seconds is not None:
            options["time_limit"] = max(0.05, seconds)
        with quiet():
            result = _milp(
                cost,
                constraints=[LinearConstraint(sub, lb=ones)],
                integrality=sheet.astype(np.int64),
                bounds=Bounds(0, upper),
                options=options,
            )
        if result.status == 0 and result.x is not None and sheet.all():
            n = np.rint(result.x).astype(np.int64)
            return sum((frame.unit_cost[int(k)] * int(c) for k, c in zip(live, n, strict=True)), Fraction(0))
        dual = getattr(result, "mip_dual_bound", None)
        if dual is not None and np.isfinite(dual):
            best = max(best, float(dual))
        return self.rounded(best)

    def step(self) -> Fraction:
        """The greatest amount every plan's cost is a multiple of."""
        step = Fraction(0)
        for u in self.frame.unit_cost:
            num = _gcd(step.numerator * u.denominator, u.numerator * step.denominator)
            step = Fraction(num, step.denominator * u.denominator)
        return step

    def rounded(self, scaled: float) -> Fraction:
        """A scaled bound as an exact cost, rounded up to the next cost any plan can have."""
        frame = self.frame
        step = self.step()
        if step <= 0 or scaled <= 0:
            return Fraction(0)
        low = scaled * (1 - SLACK)
        ratio = float(frame.cost_scale / step)
        if low * ratio < 1e7:
            return step * ceil(low * ratio - 1e-6)
        return frame.cost_scale * Fraction(low).limit_denominator(1 << 40) * Fraction((1 << 40) - 4, 1 << 40)


def _gcd(a: int, b: int) -> int:
    while b:
        a, b = b, a % b
    return a
