"""Bounds that hold whatever the engine does: no plan can cost less.

The area bound takes the blanks' bare metal at the cheapest price. For slanted blanks nested in rows of their own kind a
sharper one comes from the engine itself: a row of k blanks is at least as long as k times the closest spacing and at
least as high as the blank's lowest stand, so k rectangles of that size lie in its place, and any plan of rows is a plan
of those rectangles.
"""

from __future__ import annotations

import math
from fractions import Fraction

from fabplan.nesting import slant
from fabplan.nesting.pieces import own_poses, rectangle
from fabplan.nesting.problem import NEAR, Blank, Group
from fabplan.nesting.rivals import Piece


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


def relaxed_pieces(group: Group, scale: int) -> list[Piece] | None:
    """Every blank as a rectangle no plan of rows can do with less of, sides in 1/`scale` graduations.

    None when the angle stop leaves a slanted blank no cut to part it by.
    """
    out = []
    for blank in group.blanks:
        whole = rectangle(blank)
        width, length = blank.width * scale, blank.length * scale
        if blank.outline is not None:
            size = _least_room(blank, group, scale)
            if size is None:
                return None
            width, length = size
        out.append(
            Piece(key=blank.mark, width=width, length=length, count=blank.count, ways=whole.ways, make=whole.make)
        )
    return out


def _least_room(blank: Blank, group: Group, scale: int) -> tuple[int, int] | None:
    """Width and length of the rectangle, across and along the stock for a blank that may not turn."""
    sizes = []
    for pose in own_poses(blank, group):
        up, down = (pose, False), (pose, True)
        gaps = [slant.spacing(a, b, group.limits) for a in (up, down) for b in (up, down)]
        spaces = [g for g in gaps if g is not None]
        if not spaces:
            return None
        mixed = [g for g in (gaps[1], gaps[2]) if g is not None]
        alike = [g for g in (gaps[0], gaps[3]) if g is not None]
        closest = min([*alike, sum(mixed) / 2] if len(mixed) == 2 else spaces)
        # The last blank of a row is as wide as itself, so counting it at the spacing claims nothing too much.
        run = math.floor((min(closest, pose.width) - group.limits.kerf) * scale + NEAR)
        sizes.append((pose.angle, pose.height * scale, run))
    if not sizes:  # cut from its bounding box
        return blank.width * scale, blank.length * scale
    if blank.lie == "any":
        return min(h for _, h, _ in sizes), min(r for _, _, r in sizes)
    # A blank that keeps its frame: a row on its bottom edge lies across the stock, one on its side along it.
    placed = [(run, high) if round(angle / 90) % 2 == 0 else (high, run) for angle, high, run in sizes]
    return min(w for w, _ in placed), min(h for _, h in placed)
