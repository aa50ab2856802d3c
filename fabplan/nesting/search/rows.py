"""A bound on the metal for slanted blanks in rows: every row priced whole, as short and as low as it can be.

A row of n blanks on one of their edges is no shorter than the closest n cuts can part, and exactly as high as they
stand. Rows of every count and stand are offered as rectangles, leftovers cost nothing, and the linear program over
panels of such rectangles (P. C. Gilmore, R. E. Gomory, Operations Research 13, 1965) says what stock any plan of rows
must take. Each round's prices give one true sentence about the stock counts; a small integer program over the counts
keeps them all.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from fabplan.nesting.cuts import slant
from fabplan.nesting.engine.lp import quiet
from fabplan.nesting.priced.cells import Bit
from fabplan.nesting.priced.charges import Charges
from fabplan.nesting.priced.columns import Floats, size
from fabplan.nesting.priced.pricing import LayoutPricer
from fabplan.nesting.priced.search import Search
from fabplan.nesting.problem import NEAR, Blank, Group
from fabplan.nesting.search.pieces import rectangle, strip_ways
from fabplan.nesting.search.rivals import Piece

SAFE = 1e-9  # of a bound worked out in floats
MOST_ROWS = 240  # more than so many kinds of row take too long to price
ANY = 1 << 24  # graduations: no limit
_milp: Any = milp
Row = tuple[int, int, int, float]  # height, length, blanks, angle where the blank keeps its frame


def rows_bound(group: Group, leave_out: Collection[str] = ()) -> Fraction:
    """Least cost of the metal of every plan of rows; 0 where this says nothing.

    Parameters
    ----------
    group : Group
    leave_out : collection of str
        Marks of blanks that may lie in rows with other kinds: they are not counted.
    """
    blanks = tuple(b for b in group.blanks if b.mark not in leave_out)
    if not blanks or group.limits.stages == 3 or group.limits.kerf:  # a saw's rows are not priced to a hair
        return Fraction(0)
    limits = replace(group.limits, reach=ANY, least_gauge=1, least_scribed=1, least_pull=0, least_held=0)
    loose = replace(group, blanks=blanks, limits=limits, second=Fraction(0))
    bits = _bits(loose)
    if len(bits) > MOST_ROWS:
        return Fraction(0)
    charges = replace(Charges.of(loose), tick=Fraction(0), gauge=1, scribe_from=1, held=0)  # metal alone, to a hair
    search = _Search(loose, charges, pair=False)
    search.bits, search.pricer = bits, LayoutPricer(loose, bits, charges)
    if not _seen(loose, bits) or search.close() is None:
        return Fraction(0)
    plain = Fraction(max(0.0, search.bound * (1 - SAFE))).limit_denominator(10**9)
    return max(plain - Fraction(1, 10**8), search.stock_bound())


def _seen(group: Group, bits: list[Bit]) -> bool:
    """Whether the pricer sees every plan in strips: no coil too wide to cut off, no piece too long to rip.

    A sheet too long for the blade one way is one panel that way, or it is cut from its other side.
    """
    longest = group.limits.longest_cut
    for line in group.stock:
        if line.form == "coil" and line.width > longest:
            return False
        for swap in (False, True) if line.form != "coil" else (False,):
            along = line.width if swap else line.length
            if line.trim and max(line.width, line.length) > longest:
                return False
            long = (size(b, turned, swap)[1] for b in bits for turned in b.piece.ways(line))
            if any(min(along, longest) < one <= along for one in long):
                return False
    return True


class _Search(Search):
    """Keeps what every round of full pricing says of the stock counts."""

    def dual_bound(self, worth: Floats, total: float) -> float:
        """See `Search`."""
        self.said = [*getattr(self, "said", []), (worth, total)]
        return super().dual_bound(worth, total)

    def stock_bound(self) -> Fraction:
        """Least cost of stock counts that no sentence forbids; 0 where they cannot be found."""
        said: list[tuple[Floats, float]] = getattr(self, "said", [])
        lines = self.group.stock
        if not said or any(s.form == "coil" for s in lines):
            return Fraction(0)  # a coil is cut anywhere: the linear program says as much
        cost = np.array([float(s.cost) for s in lines])
        most = np.array([np.inf if s.on_hand is None else float(s.on_hand) for s in lines])
        rows = np.array([worth / total for worth, total in said if total > 0])
        if not len(rows):  # stopped before a price was found
            return Fraction(0)
        with quiet():
            found = _milp(
                cost,
                constraints=LinearConstraint(rows, lb=1.0 - SAFE),
                integrality=np.ones(len(lines)),
                bounds=Bounds(0, most),
                options={"mip_rel_gap": 0.0},
            )
        if found.x is None or found.status != 0:
            return Fraction(0)
        whole = sum((s.cost * round(float(n)) for s, n in zip(lines, found.x, strict=True)), Fraction(0))
        near = float(whole) - float(found.mip_dual_bound) <= 1e-6 * float(whole)
        return whole if near else Fraction(0)


def _bits(group: Group) -> list[Bit]:
    """Plain blanks, and the rows of slanted ones that no other row does as well as."""
    out: list[Bit] = []
    for row, blank in enumerate(group.blanks):
        if blank.outline is None:
            out.append(Bit(row=row, count=1, piece=rectangle(blank), work=0, settings=frozenset()))
            continue
        for height, length, n, angle in _rows(blank, group):
            piece = Piece(
                key=f"{blank.mark} x{n} {height} high",
                width=height,
                length=length,
                count=blank.count,
                ways=partial(strip_ways, angle, blank.lie),
                make=rectangle(blank).make,
            )
            out.append(Bit(row=row, count=n, piece=piece, work=0, settings=frozenset()))
    return out


def _rows(blank: Blank, group: Group) -> list[Row]:
    found: set[Row] = set()
    for pose in slant.poses(blank):
        angle = 0.0 if blank.lie == "any" else pose.angle
        for n, length in _shortest(pose, blank, group).items():
            found.add((pose.height, length, n, angle))
    kept: list[Row] = []
    for r in sorted(found, key=lambda r: (-r[2], r[0], r[1], r[3])):
        if not any(k[0] <= r[0] and k[1] <= r[1] and k[3] == r[3] for k in kept):
            kept.append(r)
    return kept


def _shortest(pose: slant.Pose, blank: Blank, group: Group) -> dict[int, int]:
    """Length of the shortest row of so many, every count that some stock and the shear have room for."""
    room = 0
    for line in group.stock:
        for run, across in ((line.usable_length, line.usable_width), (line.usable_width, line.usable_length)):
            if across >= pose.height:
                # No cut need run beside a row as high as the stock is wide.
                room = max(room, run if across == pose.height else min(run, group.limits.longest_cut))
    out: dict[int, int] = {}
    for turning, first in ((False, 0), (True, 0), (True, 1)):
        end = 0.0
        seats = ((pose, turning and bool((n + first) % 2)) for n in range(blank.count))
        for n, (seat, _) in enumerate(slant.seated(seats, pose.height, group.limits), start=1):
            end = max(end, seat.at + seat.pose.width)
            if end > room + NEAR:
                break
            length = math.ceil(end - NEAR)
            out[n] = min(out.get(n, length), length)
    return out
