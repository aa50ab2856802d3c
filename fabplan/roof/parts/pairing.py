"""Cut shapes, and two of them from one diamond blank wherever one straight cut can part their hulls.

Turning a part inside the blank is safe because the blank is still flat: each part is folded by its own marks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from fabplan import plane
from fabplan.roof.model import Pair, PartBlank, Polygon

Array = NDArray[np.float64]
SAME = 1 / 32  # inches: shapes that differ less than this are cut by one template
NEAR = 1e-9  # inches, or a share of an area


def mirrored(ring: Polygon) -> Polygon:
    """The ring seen from behind, left and right changed over, still counter-clockwise."""
    return tuple((-x, y) for x, y in reversed(ring))


def placements(top_angle: float, *, flips: bool, quarter_turns: bool) -> tuple[tuple[float, bool], ...]:
    """Ways a part may lie in the blank: (degrees turned, flipped).

    A rhombus comes back onto itself by a half turn; a square by quarter turns too (when the grain allows them);
    turned over as well when the metal has no good side.
    """
    quarter = quarter_turns and math.isclose(top_angle, 90.0, abs_tol=1e-9)
    turns = (0.0, 90.0, 180.0, 270.0) if quarter else (0.0, 180.0)
    return tuple((t, f) for f in ((False, True) if flips else (False,)) for t in turns)


def placed(ring: Polygon, turned: float, flipped: bool) -> Polygon:
    """A part turned (and first flipped) about the blank's middle, counter-clockwise."""
    points = mirrored(ring) if flipped else ring
    return plane.rotated(points, turned)


class Fits:
    """Which placed parts lie clear of a part, by a separating edge of either hull."""

    def __init__(self, hulls: Sequence[Polygon]) -> None:
        """Parts to test against, as hulls in their placed position."""
        longest = max(len(h) for h in hulls)
        padded = [list(h) + [h[-1]] * (longest - len(h)) for h in hulls]
        self.points: Array = np.array(padded)
        step = np.roll(self.points, -1, axis=1) - self.points
        length = np.linalg.norm(step, axis=2, keepdims=True)
        unit = np.where(length > 0, step / np.where(length > 0, length, 1.0), 0.0)
        self.normals: Array = np.stack([unit[..., 1], -unit[..., 0]], axis=-1)
        self.offsets: Array = np.where(length[..., 0] > 0, np.einsum("pvk,pvk->pv", self.normals, self.points), np.inf)

    def clear_of(self, part: Polygon, among: NDArray[np.int64]) -> NDArray[np.bool_]:
        """For each hull of `among`, whether a straight cut parts it from this one."""
        one = Fits([part])
        points, normals, offsets = self.points[among], self.normals[among], self.offsets[among]
        ours = np.min(points @ one.normals[0].T, axis=1) - one.offsets[0]
        theirs = np.min(normals @ one.points[0].T, axis=2) - offsets
        return np.asarray((ours.max(axis=1) >= -NEAR) | (theirs.max(axis=1) >= -NEAR))


def pair_parts(
    mark: str,
    parts: Sequence[tuple[int, bool, Polygon, int]],
    ways: Sequence[tuple[float, bool]],
    blank_area: float = float("inf"),
) -> tuple[tuple[Pair, ...], tuple[PartBlank, ...]]:
    """Pair parts greedily, largest first with the largest that fits.

    Parameters
    ----------
    mark : str
    parts : sequence of (shape number, mirrored, metal, how many)
    ways : sequence of (degrees turned, flipped)
        From `placements`.
    blank_area : float
        Square inches; rules out pairs too big for it at once.

    Returns
    -------
    pairs, leftover
    """
    order = sorted(parts, key=lambda p: (-abs(shapely.Polygon(p[2]).area), p[0], p[1]))
    left = [p[3] for p in order]
    if not order:
        return (), ()
    hulls = [plane.hull(p[2]) for p in order]
    fits = Fits([placed(h, turned, flipped) for h in hulls for turned, flipped in ways])
    pairs: list[Pair] = []
    areas = np.array([abs(plane.area(h)) for h in hulls])
    for i, (shape, mirror, _, _) in enumerate(order):
        # hulls that lie clear of each other in one blank have no more area than it
        open_ = [j for j in range(i, len(order)) if left[j] and areas[i] + areas[j] <= blank_area + 1e-6]
        if not left[i] or not open_:
            continue
        among = np.array([j * len(ways) + w for j in open_ for w in range(len(ways))])
        clear = fits.clear_of(hulls[i], among).reshape(len(open_), len(ways))
        first = np.argmax(clear, axis=1)
        for at in np.flatnonzero(clear.any(axis=1)).tolist():
            j = open_[at]
            times = left[i] // 2 if i == j else min(left[i], left[j])
            if not times:
                continue
            turned, flipped = ways[int(first[at])]
            left[i] -= times
            left[j] -= times
            pairs.append(
                Pair(
                    mark=mark,
                    first=shape,
                    first_mirrored=mirror,
                    second=order[j][0],
                    second_mirrored=order[j][1],
                    turned=turned,
                    flipped=flipped,
                    times=times,
                )
            )
    leftover = tuple(
        PartBlank(mark=mark, shape=p[0], mirrored=p[1], outline=p[2], times=n)
        for p, n in zip(order, left, strict=True)
        if n
    )
    return tuple(pairs), leftover
