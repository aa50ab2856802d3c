"""Flat-lock pans, plain rectangles and free outlines."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.flat.corner import OutlineFold, edges_of
from fabplan.blanks.flat.lay import lay_flat
from fabplan.blanks.flat.pattern import flat_pattern
from fabplan.blanks.model import CreaseLine, Finished, FlatPattern, Point, Side
from fabplan.blanks.piece_rules import DEFAULT_SLACK, PieceRules
from fabplan.job.model import FlatSeamPiece, OutlinePiece, RectanglePiece
from fabplan.units import Nm, inches


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """One finished size and the sheared one: `units` on the grid, `exact` before rounding, `made` what it gives."""

    units: int
    sheared: float
    exact: float
    made: float

    @property
    def rounding(self) -> float:
        return self.sheared - self.exact


def sized(bench: PieceRules, typed: Nm, taken: float, *, folded: bool) -> Sized:
    """A typed finished size plus the metal of its folds; computed sizes go to the nearest graduation, typed ones up."""
    exact = inches(typed) + taken
    units = bench.units(exact) if folded else bench.units(typed, "up")
    sheared = bench.inches(units)
    return Sized(units=units, sheared=sheared, exact=exact, made=sheared - taken)


def box(width: float, length: float) -> tuple[Point, ...]:
    """Rectangle with edge 1 on top, 2 left, 3 below, 4 right."""
    return ((width, length), (0.0, length), (0.0, 0.0), (width, 0.0))


def pan_lap(bench: PieceRules) -> float:
    """Lap of a flat-lock seam, fold to fold."""
    piece = bench.piece
    assert isinstance(piece, FlatSeamPiece)
    return inches(piece.hem) + bench.metal.thickness + inches(DEFAULT_SLACK)


def flat_seam_pattern(bench: PieceRules, *, count: int, spare: int, notes: tuple[str, ...]) -> FlatPattern:
    """Rectangular flat-lock pan: top and left to the face, bottom and right to the back."""
    piece = bench.piece
    assert isinstance(piece, FlatSeamPiece)
    to_face = (1, 2) if piece.face_edges is None else piece.face_edges
    gap = None if piece.hem_gap is None else inches(piece.hem_gap)
    folds: dict[int, OutlineFold] = {}
    for edge in range(1, 5):
        side: Side = "face" if edge in to_face else "back"
        folds[edge] = bench.fold(inches(piece.hem), side, gap=gap)
    taken = 2 * folds[1].allowance
    width = sized(bench, piece.width, taken, folded=True)
    length = sized(bench, piece.length, taken, folded=True)
    lap = pan_lap(bench)
    shown = inches(piece.width) - lap, inches(piece.length) - lap
    return flat_pattern(
        bench,
        lay_flat(box(width.made, length.made), folds),
        finished=Finished(width=inches(piece.width), length=inches(piece.length), covers_area=shown[0] * shown[1]),
        width_units=width.units,
        length_units=length.units,
        count=count,
        spare=spare,
        grain=piece.grain,
        finish=piece.finish or "bare",
        rounding=max(width.rounding, length.rounding, key=abs),
        notes=(f"Shows {bench.show.size(*shown)} once locked.", *notes),
    )


def rectangle_pattern(bench: PieceRules, *, count: int, spare: int, notes: tuple[str, ...]) -> FlatPattern:
    """Plain blank, no folds."""
    piece = bench.piece
    assert isinstance(piece, RectanglePiece)
    width = sized(bench, piece.width, 0.0, folded=False)
    length = sized(bench, piece.length, 0.0, folded=False)
    return flat_pattern(
        bench,
        lay_flat(box(width.made, length.made), {}),
        finished=Finished(width=width.exact, length=length.exact, covers_area=width.exact * length.exact),
        width_units=width.units,
        length_units=length.units,
        count=count,
        spare=spare,
        grain=piece.grain,
        finish=piece.finish or "bare",
        rounding=max(width.rounding, length.rounding, key=abs),
        notes=notes,
    )


def outline_folds(bench: PieceRules) -> dict[int, OutlineFold]:
    """Folds of an outline by edge number.

    Raises
    ------
    JobError
        A number beyond the outline's edges, or one given twice.
    """
    piece = bench.piece
    assert isinstance(piece, OutlinePiece)
    folds: dict[int, OutlineFold] = {}
    for k, spec in enumerate(piece.folds, 1):
        if spec.edge > len(piece.points):
            raise bench.fault(
                f"folds[{k}] > edge",
                f"the outline has {len(piece.points)} edges",
                value=str(spec.edge),
                write=f"a number from 1 to {len(piece.points)}",
            )
        if spec.edge in folds:
            raise bench.fault(f"folds[{k}] > edge", "an edge can be folded once", value=str(spec.edge))
        folds[spec.edge] = bench.fold_of(spec)
    return folds


def outline_points(bench: PieceRules) -> tuple[Point, ...]:
    """Corners of a free outline, inches.

    Raises
    ------
    JobError
        The outline crosses itself, has no area, or runs clockwise.
    """
    piece = bench.piece
    assert isinstance(piece, OutlinePiece)
    points = tuple((inches(x), inches(y)) for x, y in piece.points)
    sides = zip(points, (*points[1:], points[0]), strict=True)
    if any(math.dist(a, b) < 1e-6 for a, b in sides):
        raise bench.fault("points", "two corners that follow each other must not be the same point")
    if not clip.shape(points).is_valid or abs(plane.area(points)) < 1e-6:
        raise bench.fault("points", "the outline must not cross or touch itself and must enclose some metal")
    if plane.area(points) < 0:
        raise bench.fault(
            "points",
            "corners run counter-clockwise seen from the face, and these run clockwise",
            write="the same corners in the opposite order",
        )
    return points


def outline_pattern(bench: PieceRules, *, count: int, spare: int, notes: tuple[str, ...]) -> FlatPattern:
    """Any polygon with folds on numbered edges."""
    piece = bench.piece
    assert isinstance(piece, OutlinePiece)
    points, folds = outline_points(bench), outline_folds(bench)
    xs, ys = [p[0] for p in piece.points], [p[1] for p in piece.points]
    finished = Finished(
        width=inches(max(xs) - min(xs)), length=inches(max(ys) - min(ys)), covers_area=plane.area(points)
    )
    notes = (*notes, *crease_notes(piece))
    if _square_cornered(points) and len(points) == 4:
        made = _box_outline(bench, points, folds, finished, count=count, spare=spare, notes=notes)
    else:
        made = flat_pattern(
            bench,
            lay_flat(points, folds),
            finished=finished,
            count=count,
            spare=spare,
            grain=piece.grain,
            finish=piece.finish or "bare",
            notes=(*notes, "Marked out to its own corners; the size is the rectangle around it, rounded up."),
        )
    corners = made.finished.outline
    creases = tuple(
        CreaseLine(line=(corners[c.from_ - 1], corners[c.to - 1]), turned=c.turned, toward=c.toward)
        for c in piece.creases
    )
    return replace(made, creases=creases) if creases else made


def crease_notes(piece: OutlinePiece) -> list[str]:
    """How the creases of an outline are bent, those alike in one sentence."""
    alike: dict[tuple[int, float, str], list[str]] = {}
    for c in piece.creases:
        alike.setdefault((c.from_, c.turned, c.toward), []).append(str(c.to))
    return [
        f"By hand over a bar, when the edges are folded: bend {turned:g}° to the {toward} along the lines from corner "
        f"{start} to {'corner' if len(ends) == 1 else 'corners'} {', '.join(ends)}."
        for (start, turned, toward), ends in alike.items()
    ]


def _square_cornered(points: tuple[Point, ...]) -> bool:
    sides = zip(points, (*points[1:], points[0]), strict=True)
    return all(a[0] == b[0] or a[1] == b[1] for a, b in sides)


def _box_outline(
    bench: PieceRules,
    points: tuple[Point, ...],
    folds: Mapping[int, OutlineFold],
    finished: Finished,
    *,
    count: int,
    spare: int,
    notes: tuple[str, ...],
) -> FlatPattern:
    """A rectangle typed as an outline: sheared on the grid like any other."""
    piece = bench.piece
    assert isinstance(piece, OutlinePiece)
    xs, ys = [p[0] for p in piece.points], [p[1] for p in piece.points]
    across, along = 0.0, 0.0
    folded_across = folded_along = False
    for number, edge in enumerate(edges_of(points, folds), 1):
        if number not in folds:
            continue
        if abs(edge.out[0]) > 0.5:
            across, folded_across = across + edge.allowance, True
        else:
            along, folded_along = along + edge.allowance, True
    width = sized(bench, Nm(max(xs) - min(xs)), across, folded=folded_across)
    length = sized(bench, Nm(max(ys) - min(ys)), along, folded=folded_along)
    made = tuple((0.0 if x == min(xs) else width.made, 0.0 if y == min(ys) else length.made) for x, y in piece.points)
    return flat_pattern(
        bench,
        lay_flat(made, folds),
        finished=finished,
        width_units=width.units,
        length_units=length.units,
        count=count,
        spare=spare,
        grain=piece.grain,
        finish=piece.finish or "bare",
        rounding=max(width.rounding, length.rounding, key=abs),
        notes=notes,
    )
