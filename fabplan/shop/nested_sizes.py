"""The best sizes of a sweep nested: what the whole job takes at each, in metal and work, as a plan would say it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from fabplan.errors import FabplanError
from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.plan.make import make_nest, make_pieces
from fabplan.shop.sizes import SizeRow, SizeSweep, diamond_of, with_size
from fabplan.units import Nm

CANDIDATES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedSize:
    """A size with the plan of the whole job at it, or why there is none; `saves`: share of the asked size's total."""

    row: SizeRow
    asked: bool
    pieces: int = 0
    plan: CutPlan | None = None
    why: str = ""
    saves: float = 0.0


def candidates(found: SizeSweep) -> list[SizeRow]:
    """The sizes suggested, then those that take least, as far as they differ from the asked one."""
    ordered = [s.row for s in found.suggestions]
    ordered += sorted(found.rows, key=lambda r: (r.best.metal_per_square, abs(r.side - found.asked.side)))
    out: list[SizeRow] = []
    for row in ordered:
        asked = (row.side_nm, row.top_angle) == (found.asked.side_nm, found.asked.top_angle)
        if not asked and row not in out and len(out) < CANDIDATES:
            out.append(row)
    return out


def nested_sizes(job: Job, found: SizeSweep, done: Callable[[int, int], None] | None = None) -> tuple[NestedSize, ...]:
    """The asked size and the best candidates, each with the cut plan of the whole job, the cheapest first.

    Stock on hand counts as without end, so that sizes are compared by what they take.
    """
    piece = diamond_of(job, found.mark)
    endless = job.model_copy(
        update={
            "stock": tuple(
                s if s.form == "offcut" else s.model_copy(update={"on_hand": None, "buy": False}) for s in job.stock
            )
        }
    )
    rows = [found.asked, *candidates(found)]
    out: list[NestedSize] = []
    for n, row in enumerate(rows):
        trial = with_size(endless, piece, Nm(row.side_nm), row.top_angle)
        try:
            pieces = make_pieces(trial)
            plan = make_nest(pieces.job, pieces, seconds=None)
            count = sum(p.count for p in pieces.patterns if p.kind == "diamond")
            out.append(NestedSize(row=row, asked=n == 0, pieces=count, plan=plan))
        except FabplanError as fault:
            out.append(NestedSize(row=row, asked=n == 0, why=str(fault)))
        if done:
            done(n + 1, len(rows))
    base = out[0].plan
    total = Fraction(0) if base is None else base.total
    judged = [
        x
        if x.plan is None or not total or x.asked
        else NestedSize(row=x.row, asked=False, pieces=x.pieces, plan=x.plan, saves=float(1 - x.plan.total / total))
        for x in out
    ]
    return tuple(sorted(judged, key=lambda x: (x.plan is None, 0 if x.plan is None else x.plan.total, x.row.side_nm)))
