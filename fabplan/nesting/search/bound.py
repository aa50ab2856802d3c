"""Bounds that hold whatever the engine does: no plan can cost less.

The area bound takes the blanks' bare metal at the cheapest price. For slanted blanks nested in rows of their own kind a
sharper one comes from the engine itself: a row of k blanks is at least as long as k times the closest spacing and at
least as high as the blank's lowest stand, so k rectangles of that size lie in its place, and any plan of rows is a plan
of those rectangles.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from fractions import Fraction

from fabplan.nesting.cuts import slant
from fabplan.nesting.problem import NEAR, Blank, Group
from fabplan.nesting.search.pieces import rectangle
from fabplan.nesting.search.rivals import Piece


def area_bound(group: Group) -> Fraction:
    """Least cost of the blanks' bare area, taking the cheapest metal first and no more than is on hand.

    Valid for every way of cutting: each stock line costs at least its usable area times its cost per usable area.
    """
    need = sum((Fraction(b.area).limit_denominator(10**6) * b.count for b in group.blanks), Fraction(0))
    if any(b.outline is not None for b in group.blanks):
        need -= Fraction(sum(b.count for b in group.blanks), 10**5)  # outlines are floats: claim no hair too much
    total = Fraction(0)
    usable = [s for s in group.stock if s.usable_width > 0 and s.usable_length > 0]
    for line in sorted(usable, key=lambda s: (s.cost_per_area, s.name)):
        if need <= 0:
            break
        each = line.usable_width * (1 if line.form == "coil" else line.usable_length)
        take = need if line.on_hand is None else min(need, Fraction(each * line.on_hand))
        total += take * line.cost_per_area
        need -= take
    return total


def relaxed_pieces(group: Group, scale: int, leave_out: Collection[str] = ()) -> list[Piece]:
    """Every blank as a rectangle no plan of rows can do with less of, sides in 1/`scale` graduations.

    Blanks named in `leave_out` are not counted at all: they may lie in rows with other kinds.
    """
    out = []
    for blank in group.blanks:
        if blank.mark in leave_out:
            continue
        whole = rectangle(blank)
        width, length = blank.width * scale, blank.length * scale
        if blank.outline is not None:
            width, length = _least_room(blank, group, scale)
        out.append(
            Piece(key=blank.mark, width=width, length=length, count=blank.count, ways=whole.ways, make=whole.make)
        )
    return out


def _least_room(blank: Blank, group: Group, scale: int) -> tuple[int, int]:
    """Width and length of the rectangle, over every stand; across and along the stock for a blank that may not turn."""
    sizes = []
    for pose in slant.poses(blank):
        run = math.floor((_least_run(pose, blank, group) - NEAR) * scale)
        sizes.append((pose.angle, pose.height * scale, run))
    if blank.lie == "any":
        return min(h for _, h, _ in sizes), min(r for _, _, r in sizes)
    # A blank that keeps its frame: a row on its bottom edge lies across the stock, one on its side along it.
    placed = [(run, high) if round(angle / 90) % 2 == 0 else (high, run) for angle, high, run in sizes]
    return min(w for w, _ in placed), min(h for _, h in placed)


def _least_run(pose: slant.Pose, blank: Blank, group: Group) -> float:
    """Least length of row a blank, over all rows the stock and the shear have room for.

    Every row loses metal at its ends, so short rows take more a blank; how long a row may be is limited by the stock
    and by the longest cut, which must run beside it.
    """
    limits = group.limits
    room = 0
    for line in group.stock:
        for run, across in ((line.usable_length, line.usable_width), (line.usable_width, line.usable_length)):
            if across >= pose.height:
                edge_to_edge = across == pose.height  # no cut need run beside the row
                room = max(room, run if edge_to_edge else min(run, limits.longest_cut))
    least = pose.width
    for turning, first in ((False, 0), (True, 0), (True, 1)):
        end = 0.0
        seats = ((pose, turning and bool((n + first) % 2)) for n in range(blank.count))
        for n, (seat, _) in enumerate(slant.seated(seats, pose.height, limits), start=1):
            end = max(end, seat.at + seat.pose.width)
            if end > room + NEAR:
                break
            least = min(least, (end + limits.kerf) / n - limits.kerf)
    return least
