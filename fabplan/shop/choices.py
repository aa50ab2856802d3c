"""The stock choices worth comparing for one job, and why each comes out as it does, in a line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, Stock
from fabplan.plan.make import in_place
from fabplan.units import Nm, Show


@dataclass(frozen=True, slots=True, kw_only=True)
class StockChoice:
    """One way of buying or taking the metal: stock lines that together can serve the job."""

    name: str
    stock: tuple[Stock, ...]


def metal_of(line: Stock, job: Job) -> str:
    """Metal of a stock line."""
    return line.metal or job.metal.use


def sold_lines(profile: MetalProfile, job: Job) -> tuple[Stock, ...]:
    """Stock lines for every width and sheet the metal's profile lists, priced by weight when the job does so."""
    by_weight = [
        s.price for s in job.stock if metal_of(s, job) == profile.name and s.price and s.price.per in ("lb", "kg")
    ]
    price = by_weight[0] if by_weight else None
    show = Show(job.info.units, int(job.info.round_to))
    coil_like = [s for s in job.stock if s.form == "coil"]
    longest = coil_like[0].longest_cut_off if coil_like else None
    common: dict[str, Any] = {"on_hand": None, "price": price, "metal": profile.name, "grain": "along"}
    coils = tuple(
        Stock.model_construct(
            name=f"coil {show.bare(w)} (sold)",
            form="coil",
            width=w,
            length=None,
            longest_cut_off=longest,
            trim_each_edge=Nm(0),
            **common,
        )
        for w in profile.coil_widths
    )
    sheets = tuple(
        Stock.model_construct(
            name=f"sheet {show.bare(w)} x {show.bare(h)} (sold)",
            form="sheet",
            width=w,
            length=h,
            longest_cut_off=None,
            trim_each_edge=Nm(0),
            **common,
        )
        for w, h in profile.sheets
    )
    return coils + sheets


def choices(
    job: Job,
    metals: Mapping[str, MetalProfile],
    *,
    rack: Sequence[Stock] = (),
    sold: bool = False,
) -> tuple[StockChoice, ...]:
    """Each coil, each sheet size, all of them together, and the rack added to all.

    In a job of several metals one metal's lines vary at a time while the others keep all theirs. Offcuts listed in
    the job take part only in the mixes: alone they seldom hold a job.
    """
    own = [s for s in job.stock if s.form != "offcut"]
    lines: list[Stock] = list(own)
    if sold:
        have = {(s.form, s.width, s.length, metal_of(s, job)) for s in own}
        for profile in metals.values():
            lines += [s for s in sold_lines(profile, job) if (s.form, s.width, s.length, metal_of(s, job)) not in have]
    out: list[StockChoice] = []
    for line in lines:
        others = tuple(s for s in own if metal_of(s, job) != metal_of(line, job))
        out.append(StockChoice(name=f"{line.name} alone", stock=(line, *others)))
    if len(own) > 1 or len(job.stock) > len(own):
        out.append(StockChoice(name="the job's stock together", stock=job.stock))
    if sold and len(lines) > len(own):
        out.append(StockChoice(name="everything sold", stock=(*lines, *(s for s in job.stock if s.form == "offcut"))))
    if rack:
        out.append(StockChoice(name="the job's stock and the rack", stock=in_place(job.stock, rack)))
    return tuple(out)


def drop_reason(line: Stock, patterns: Sequence[FlatPattern], job: Job) -> str:
    """What a strip of the job's biggest blank leaves across this stock, in a line."""
    show = Show(job.info.units, int(job.info.round_to))
    metal = metal_of(line, job)
    mine = [p for p in patterns if p.metal == metal and p.count]
    if not mine:
        return "no blank of this metal"
    main = max(mine, key=lambda p: (p.count * p.width_units * p.length_units, p.mark))
    across = int(line.width) - 2 * int(line.trim_each_edge)
    sides = {main.width_units * main.grid}
    if main.grain == "any" and main.rectangular:
        sides.add(main.length_units * main.grid)
    fits = [(across % side, -side, side) for side in sides if side <= across]
    if not fits:
        return f"too narrow for {main.mark}"
    drop, _, side = min(fits)
    n = across // side
    text = f"{n} of {main.mark} across at {show.bare(side)}"
    return f"{text}, nothing left over" if drop == 0 else f"{text} leaves {show.length(drop)} of drop on every strip"
