"""What the settings of the shear add to a layout while layouts are priced.

A setting is paid once, however often it is used: what a use of it costs follows from how often the plan at hand uses
it. A setting the plan has already costs next to nothing, a new one nearly all; so plans gather on few settings (slope
scaling, D. Kim, P. M. Pardalos, Operations Research Letters 24, 1999).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.nesting.priced.cells import Bit
from fabplan.nesting.priced.charges import Charges, Setting
from fabplan.nesting.priced.columns import Floats, LayoutColumn

LEAST = 0.25  # uses: a setting costs no more than four times itself


@dataclass(frozen=True, slots=True)
class Dues:
    """Cost of one use: `size` of a square setting by its gauge, `bits` of the settings inside each cell."""

    size: Floats
    bits: Floats


def once(charges: Charges, settings: Iterable[Setting]) -> float:
    """What it costs to make these settings once, the angle stop with them."""
    own = set(settings)
    stops = {a for _, a in own if a != 90.0}
    return float(charges.money(charges.set_gauge * len(own) + charges.set_stop * len(stops)))


def dues_of(
    bits: Sequence[Bit], charges: Charges, used: Mapping[Setting, float], top: int, *, unused: float
) -> tuple[Dues, dict[Setting, float]]:
    """Dues where setting s is used `used[s]` times, and any other would be used `unused` times.

    Returns
    -------
    Dues, and the cost of a use of every setting of `used`
    """
    gauge, stop = float(charges.money(charges.set_gauge)), float(charges.money(charges.set_stop))
    angles: dict[float, float] = {}
    for (_, angle), times in used.items():
        angles[angle] = angles.get(angle, 0.0) + times

    def one(setting: Setting) -> float:
        price = gauge / max(used.get(setting, unused), LEAST)
        if setting[1] != 90.0:
            price += stop / max(angles.get(setting[1], unused), LEAST)
        return price

    prices = {s: one(s) for s in used}
    size = np.full(top + 1, gauge / unused)
    size[0] = 0.0
    for (deep, angle), price in prices.items():
        if angle == 90.0 and deep <= top:
            size[deep] = price
    return Dues(size, np.array([sum(prices.get(s, one(s)) for s in b.settings) for b in bits])), prices


def uses(columns: Sequence[LayoutColumn], times: Floats) -> dict[Setting, float]:
    """How often each setting is used by so many of each layout."""
    out: dict[Setting, float] = {}
    for j in np.flatnonzero(times > 1e-7):
        for s, n in columns[int(j)].often.items():
            out[s] = out.get(s, 0.0) + n * float(times[j])
    return out
