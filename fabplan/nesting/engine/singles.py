"""First columns: every piece alone, in every stock it fits."""

from __future__ import annotations

from fabplan.nesting.engine.columns import PatternColumn, column, holdable
from fabplan.nesting.engine.frame import HUGE, Frame, single_way


def singles(frame: Frame) -> list[PatternColumn]:
    """One column per piece and view, as many of the piece in one row as the shear allows."""
    out: list[PatternColumn] = []
    limits = frame.problem.limits
    longest = HUGE if limits.longest_cut is None else limits.longest_cut
    for i, view in enumerate(frame.views):
        t = frame.tables[view.table]
        stock = frame.problem.stock[view.stock]
        span = stock.length if view.direction == "width" else stock.width
        for o in range(t.size):
            a, b = int(t.across[o]), int(t.along[o])
            if a > view.X or b > view.Y:
                continue
            y = single_way(
                a * t.unit_across,
                b * t.unit_along,
                view.X * t.unit_across,
                view.Y * t.unit_along,
                span,
                longest,
                frame.kerf,
                view.coil,
                view.many,
                stock.trim,
            )
            if y is None:
                continue
            # one piece: the strip is exactly as wide as the piece, the panel as long as it or the whole sheet
            along = b if view.coil or (view.many and y == b * t.unit_along) else view.Y
            out.append(column(frame, i, ((along, ((a, ((b, ((o, 1),)),)),)),)))
            fit = min(view.X // a, int(frame.demand[t.item[o]]))
            deep = a > t.gauge_across
            if fit > 1 and not deep and along <= view.rip_max:
                out.append(column(frame, i, ((along, tuple((a, ((b, ((o, 1),)),)) for _ in range(fit))),)))
    return [c for c in out if holdable(frame, c)]
