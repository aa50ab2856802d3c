"""Weights people lift: each sheet, coil panel, bundle of blanks and kit, against the shop's limits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal

from fabplan.job.model import Job
from fabplan.plan.model import Plan
from fabplan.quantities import Key, Pounds, stated
from fabplan.units import NM_PER_INCH, Show

SQ_IN_PER_SQ_FT = 144.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """One thing to lift: `what` in words, its weight in pounds, and whether it is above the limit that applies."""

    kind: Literal["sheet", "panel", "bundle", "kit"]
    what: str
    pounds: Annotated[Pounds, Key("weight")]
    limit: Pounds | None

    @stated
    def over(self) -> bool:
        """Heavier than the limit."""
        return self.limit is not None and self.pounds > self.limit + 1e-9


def show_of(job: Job) -> Show:
    """The formatter of a job's lengths and weights."""
    return Show(job.info.units, int(job.info.round_to))


def lifts(plan: Plan) -> tuple[Lift, ...]:
    """Everything the crew lifts: sheets and panels to the shear, batches of blanks to the bench, kits to the roof.

    A bundle is one batch of a piece. What one person carries (sheets, panels, bundles) is held against ``carry_limit``,
    kits against ``lift_limit``; when only one of the two is given it holds for all.
    """
    job = plan.job
    show = show_of(job)
    given = job.handling
    carry = given.carry_limit if given.carry_limit is not None else given.lift_limit
    lift = given.lift_limit if given.lift_limit is not None else given.carry_limit
    out: list[Lift] = []
    if plan.cut_plan is not None:
        inch = plan.cut_plan.grid / NM_PER_INCH
        seen: set[tuple[str, int]] = set()
        for layout in plan.cut_plan.layouts:
            key = (layout.stock, layout.length)
            if key in seen:
                continue
            seen.add(key)
            area = layout.width * layout.length * inch**2
            kind: Literal["sheet", "panel"] = "panel" if layout.form == "coil" else "sheet"
            size = show.size(layout.width * plan.cut_plan.grid, layout.length * plan.cut_plan.grid)
            noun = "a panel off" if layout.form == "coil" else "one of"
            pounds = area / SQ_IN_PER_SQ_FT * plan.metals[layout.metal].weight
            out.append(Lift(kind=kind, what=f"{noun} {layout.stock}, {size}", pounds=pounds, limit=carry))
    for p in plan.patterns:
        if p.count:
            n = min(job.info.batch, p.count)
            out.append(Lift(kind="bundle", what=f"{n} of {p.mark}", pounds=n * p.weight, limit=carry))
    if plan.roof is not None:
        out += [Lift(kind="kit", what=f"kit {k.label}", pounds=k.pounds, limit=lift) for k in plan.roof.kits]
    return tuple(out)


def heavy_notes(found: Iterable[Lift], show: Show) -> tuple[str, ...]:
    """A warning for each kind of thing above its limit, naming the heaviest."""
    notes = []
    kinds: dict[str, list[Lift]] = {}
    for item in found:
        if item.over:
            kinds.setdefault(item.kind, []).append(item)
    for kind, heavy in kinds.items():
        worst = max(heavy, key=lambda i: i.pounds)
        assert worst.limit is not None
        plural = kind if len(heavy) == 1 else f"{kind}s"
        notes.append(
            f"Too heavy for the limit of {show.weight(worst.limit)}: {len(heavy)} {plural}, "
            f"the heaviest {worst.what} at {show.weight(worst.pounds)}. Lift with help or split."
        )
    return tuple(notes)
