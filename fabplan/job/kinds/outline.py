"""Any polygon with folds on numbered edges."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import HemSpec, Model, PieceBase, Toward, Where, hand_faults
from fabplan.job.values import (
    HandBends,
    SignedLength,
    angle_within,
    whole_within,
)
from fabplan.plane import turn
from fabplan.units import NM_PER_MM, Nm, Show

_FARTHEST = 10_000 * NM_PER_MM


class EdgeFold(HemSpec):
    """A fold on a numbered edge of an outline."""

    edge: Annotated[int, whole_within(1, 60)] = Field(description="Edge number; edge 1 starts at the first point.")


class Crease(Model):
    """A line across an outline, from corner to corner, bent by hand when its edges are folded."""

    from_: Annotated[int, whole_within(1, 60)] = Field(alias="from", description="Corner it starts at.")
    to: Annotated[int, whole_within(1, 60)] = Field(description="Corner it ends at.")
    turned: Annotated[float, angle_within(1, 179)] = Field(description="Degrees turned.")
    toward: Toward = Field(description="Side of the metal it is bent to: face or back.")


class OutlinePiece(PieceBase):
    """Any polygon (finished outline, counter-clockwise seen from the face) with folds on numbered edges."""

    PRINTED = "shaped piece"

    kind: Literal["outline"]
    points: tuple[tuple[SignedLength, SignedLength], ...] = Field(
        min_length=3, max_length=60, description="Corners as [x, y], counter-clockwise seen from the face."
    )
    folds: tuple[EdgeFold, ...] = Field(default=(), max_length=60, description="Folds on numbered edges.")
    creases: tuple[Crease, ...] = Field(
        default=(), max_length=60, description="Lines from corner to corner that are bent by hand, last of all."
    )
    finish_by_hand: HandBends = Field(
        default=(), description="Edges left to the hands, last of all: [edge, degrees] or a list of such pairs."
    )

    def faults(self, at: Where) -> Iterator[JobError]:
        """What is wrong with the corners, folds and curves taken together."""
        points = self.points
        edges = list(zip(points, (*points[1:], points[0]), strict=True))
        for n, (start, end) in enumerate(edges):
            if start == end:
                yield at.entry.fault(("points", n), "the next corner is at the same place", write="each corner once")
                return
        farthest = Nm(max(abs(value) for point in points for value in point))
        if farthest > _FARTHEST:
            yield at.entry.fault(
                ("points",), "may reach 10 m (32 ft) at most", value=at.typed(farthest), write="a smaller outline"
            )
            return
        if _crosses(edges):
            yield at.entry.fault(
                ("points",), "the outline crosses itself", write="the corners in order round the piece"
            )
        elif sum(a[0] * b[1] - b[0] * a[1] for a, b in edges) <= 0:
            yield at.entry.fault(
                ("points",), "the corners must run counter-clockwise seen from the face", write="them in reverse order"
            )
        taken: set[int] = set()
        for n, fold in enumerate(self.folds):
            if fold.edge > len(points):
                yield at.entry.fault(
                    ("folds", n, "edge"), f"the outline has {len(points)} edges", value=str(fold.edge),
                    write=f"a number from 1 to {len(points)}",
                )  # fmt: skip
            elif fold.edge in taken:
                yield at.entry.fault(("folds", n, "edge"), "an edge is folded once", value=str(fold.edge),
                                  write="another edge")  # fmt: skip
            taken.add(fold.edge)
        for n, crease in enumerate(self.creases):
            ends = (crease.from_, crease.to)
            if max(ends) > len(points) or abs(ends[0] - ends[1]) in (0, 1, len(points) - 1):
                yield at.entry.fault(
                    ("creases", n), "runs between two corners of the outline that are not neighbours",
                    value=f"{ends[0]} to {ends[1]}, of {len(points)} corners", write="two other corners",
                )  # fmt: skip
        turned = {fold.edge: fold.turned for fold in self.folds}
        yield from hand_faults(at, self.finish_by_hand, turned, "edge", whole=True)

    def sizes_said(self, show: Show) -> list[str]:
        creases = [f"{len(self.creases)} creases"] if self.creases else []
        return [f"{len(self.points)} corners", f"{len(self.folds)} folds", *creases]


def _crosses(edges: Sequence[tuple[tuple[Nm, Nm], tuple[Nm, Nm]]]) -> bool:
    """Whether two edges of a closed outline meet anywhere but at their common corner (exact, whole numbers)."""
    count = len(edges)
    for i in range(count):
        for j in range(i + 1, count):
            (a, b), (c, d) = edges[i], edges[j]
            if j == i + 1 or (i == 0 and j == count - 1):
                shared, before, after = (b, a, d) if j == i + 1 else (a, b, c)
                if turn(before, shared, after) == 0 and _dot(before, shared, after) > 0:
                    return True
            elif _meet(a, b, c, d):
                return True
    return False


def _dot(a: tuple[int, int], at: tuple[int, int], c: tuple[int, int]) -> int:
    return (a[0] - at[0]) * (c[0] - at[0]) + (a[1] - at[1]) * (c[1] - at[1])


def _meet(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int], d: tuple[int, int]) -> bool:
    sides = (turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b))
    if ((sides[0] > 0) != (sides[1] > 0)) and ((sides[2] > 0) != (sides[3] > 0)) and 0 not in sides:
        return True
    return any(
        side == 0 and _dot(p, at, q) <= 0
        for side, p, at, q in ((sides[0], a, c, b), (sides[1], a, d, b), (sides[2], c, a, d), (sides[3], c, b, d))
    )
