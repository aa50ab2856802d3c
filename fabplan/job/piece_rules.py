"""What must hold inside one piece: hems against sides, gaps against metal, bends against legs, outlines that close."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from fabplan.errors import JobError, quoted
from fabplan.job import defaults
from fabplan.job.lines import Path
from fabplan.job.merge import Entry
from fabplan.job.metals import MetalProfile
from fabplan.job.model import CutPiece, DiamondPiece, FlatSeamPiece, OutlinePiece, PieceBase, SectionPiece
from fabplan.units import NM_PER_MM, Nm, Show, from_inches

_FARTHEST = 10_000 * NM_PER_MM


class PieceRules:
    """Rules of one piece.

    Parameters
    ----------
    entry : Entry
        Where it stands.
    metal : MetalProfile or None
        Its metal; None when that could not be read.
    show : Show
        Prints sizes as the job does.
    """

    def __init__(self, entry: Entry, metal: MetalProfile | None, show: Show) -> None:
        self.entry, self.metal, self.show = entry, metal, show

    def faults(self, piece: PieceBase) -> Iterator[JobError]:
        """Every fault of a piece whose keys could be read one by one."""
        if isinstance(piece, DiamondPiece):
            yield from self.diamond(piece)
        elif isinstance(piece, CutPiece):
            yield from self.cut_piece(piece)
        elif isinstance(piece, FlatSeamPiece):
            yield from self.flat_seam(piece)
        elif isinstance(piece, OutlinePiece):
            yield from self.outline(piece)
        elif isinstance(piece, SectionPiece):
            yield from self.section(piece)

    def typed(self, length: Nm) -> str:
        return self.show.exact(length)

    def cut_piece(self, piece: CutPiece) -> Iterator[JobError]:
        fold = piece.cut_fold
        if piece.hooks is not None and fold == "none":
            yield self.entry.fault(
                ("hooks",), "a piece without a fold on its cut edge hooks nothing", value=quoted(piece.hooks),
                write='a cut_fold, or take out "hooks"',
            )  # fmt: skip
        if piece.kind == "starter" and fold is not None and fold != "none" and fold.turned == 180:
            yield from self.hook_gap(("cut_fold", "gap"), fold.gap)

    def diamond(self, piece: DiamondPiece) -> Iterator[JobError]:
        if piece.side is not None and piece.blank is not None:
            yield self.entry.fault(
                ("blank",), "side and blank say the same thing",
                value=f"side {self.typed(piece.side)}, blank {self.typed(piece.blank)}", write="one of the two",
            )  # fmt: skip
        side = piece.side or piece.blank
        if side is None:
            yield self.entry.fault((), '"side" is missing', write='side = "12 in" (finished), or blank = "14-1/32 in"')
        both = piece.upper_hem is not None and piece.lower_hem is not None
        if piece.hem is None and not both:
            missing = "hem" if piece.upper_hem is piece.lower_hem is None else (
                "lower_hem" if piece.lower_hem is None else "upper_hem"
            )  # fmt: skip
            yield self.entry.fault((), f'"{missing}" is missing', write=f'{missing} = "1 in"')
        for which in ("upper", "lower"):
            key = f"{which}_hem" if getattr(piece, f"{which}_hem") is not None else "hem"
            width: Nm | None = getattr(piece, key)
            if side is not None and width is not None and 2 * width >= side:
                yield self.entry.fault(
                    (key,), f"a hem must be narrower than half the side, {self.typed(side)}",
                    value=self.entry.found((key,)), write="a narrower hem or a longer side",
                )  # fmt: skip
            gap_key = f"{which}_gap" if getattr(piece, f"{which}_gap") is not None else "hem_gap"
            yield from self.hook_gap((gap_key,), getattr(piece, gap_key))

    def hook_gap(self, path: Path, gap: Nm | None) -> Iterator[JobError]:
        """A hem that must hook needs room for the metal of its neighbour."""
        if self.metal is None:
            return
        least = from_inches(self.metal.thickness)
        wide = defaults.hem_gap(self.show.unit) if gap is None else gap
        if wide < least:
            value = f"{self.typed(wide)}, the default" if gap is None else self.entry.found(path)
            yield self.entry.fault(
                path, f"a hem that must hook needs a gap of at least the metal's thickness, {self.show.fine(least)}",
                value=value, write=f"{path[-1]} = {quoted(self.typed(_round_up(least, self.show.grid)))} or more",
            )  # fmt: skip

    def flat_seam(self, piece: FlatSeamPiece) -> Iterator[JobError]:
        short = min(piece.width, piece.length)
        if 2 * piece.hem >= short:
            yield self.entry.fault(
                ("hem",), f"a hem must be narrower than half the pan, {self.typed(short)}",
                value=self.entry.found(("hem",)),
                write="a narrower hem or a larger pan",
            )  # fmt: skip
        if piece.face_edges is not None and len(set(piece.face_edges)) != len(piece.face_edges):
            yield self.entry.fault(("face_edges",), "names an edge twice", value=str(list(piece.face_edges)),
                              write="each edge once")  # fmt: skip
        yield from self.hook_gap(("hem_gap",), piece.hem_gap)

    def outline(self, piece: OutlinePiece) -> Iterator[JobError]:
        points = piece.points
        edges = list(zip(points, (*points[1:], points[0]), strict=True))
        for at, (start, end) in enumerate(edges):
            if start == end:
                yield self.entry.fault(("points", at), "the next corner is at the same place", write="each corner once")
                return
        farthest = Nm(max(abs(value) for point in points for value in point))
        if farthest > _FARTHEST:
            yield self.entry.fault(
                ("points",), "may reach 10 m (32 ft) at most", value=self.typed(farthest), write="a smaller outline"
            )
            return
        if _crosses(edges):
            yield self.entry.fault(
                ("points",), "the outline crosses itself", write="the corners in order round the piece"
            )
        elif sum(a[0] * b[1] - b[0] * a[1] for a, b in edges) <= 0:
            yield self.entry.fault(
                ("points",), "the corners must run counter-clockwise seen from the face", write="them in reverse order"
            )
        taken: set[int] = set()
        for at, fold in enumerate(piece.folds):
            if fold.edge > len(points):
                yield self.entry.fault(
                    ("folds", at, "edge"), f"the outline has {len(points)} edges", value=str(fold.edge),
                    write=f"a number from 1 to {len(points)}",
                )  # fmt: skip
            elif fold.edge in taken:
                yield self.entry.fault(("folds", at, "edge"), "an edge is folded once", value=str(fold.edge),
                                  write="another edge")  # fmt: skip
            taken.add(fold.edge)

    def section(self, piece: SectionPiece) -> Iterator[JobError]:
        if len(piece.bends) != len(piece.legs) - 1:
            legs, bends = len(piece.legs), len(piece.bends)
            yield self.entry.fault(
                ("bends",), "there is one bend between each two legs",
                value=f"{legs} {'leg' if legs == 1 else 'legs'}, {bends} {'bend' if bends == 1 else 'bends'}",
                write=f"{legs - 1} {'bend' if legs == 2 else 'bends'}",
            )  # fmt: skip
        for at, turned in enumerate(piece.bends):
            if turned == 0:
                yield self.entry.fault(("bends", at), "a bend of 0 degrees is none", value="0",
                                  write="the degrees turned, or one longer leg")  # fmt: skip
            elif abs(turned) == 180:
                yield self.entry.fault(
                    ("bends", at), "a fold of 180 degrees is a hem", value=f"{turned:g}",
                    write='start_hem or end_hem = {width = "1/2 in", toward = "back"}',
                )  # fmt: skip
        if isinstance(piece.inside_radius, tuple) and len(piece.inside_radius) != len(piece.bends):
            yield self.entry.fault(
                ("inside_radius",), "a list of radii has one for each bend",
                value=f"{len(piece.inside_radius)} for {len(piece.bends)} bends",
                write="one radius, or one for each bend",
            )  # fmt: skip
        for key, leg in (("start_hem", piece.legs[0]), ("end_hem", piece.legs[-1])):
            hem = getattr(piece, key)
            if hem is not None and hem.turned == 180 and hem.width > leg:
                yield self.entry.fault(
                    (key, "width"), f"a hem must be no wider than its leg, {self.typed(leg)}",
                    value=self.entry.found((key, "width")), write="a narrower hem or a longer leg",
                )  # fmt: skip


def _round_up(length: Nm, grid: int) -> Nm:
    return Nm(math.ceil(length / grid) * grid)


def _crosses(edges: Sequence[tuple[tuple[Nm, Nm], tuple[Nm, Nm]]]) -> bool:
    """Whether two edges of a closed outline meet anywhere but at their common corner (exact, whole numbers)."""
    count = len(edges)
    for i in range(count):
        for j in range(i + 1, count):
            (a, b), (c, d) = edges[i], edges[j]
            if j == i + 1 or (i == 0 and j == count - 1):
                shared, before, after = (b, a, d) if j == i + 1 else (a, b, c)
                if _turn(before, shared, after) == 0 and _dot(before, shared, after) > 0:
                    return True
            elif _meet(a, b, c, d):
                return True
    return False


def _turn(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> int:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _dot(a: tuple[int, int], at: tuple[int, int], c: tuple[int, int]) -> int:
    return (a[0] - at[0]) * (c[0] - at[0]) + (a[1] - at[1]) * (c[1] - at[1])


def _meet(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int], d: tuple[int, int]) -> bool:
    sides = (_turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b))
    if ((sides[0] > 0) != (sides[1] > 0)) and ((sides[2] > 0) != (sides[3] > 0)) and 0 not in sides:
        return True
    return any(
        turn == 0 and _dot(p, at, q) <= 0
        for turn, p, at, q in ((sides[0], a, c, b), (sides[1], a, d, b), (sides[2], c, a, d), (sides[3], c, b, d))
    )
