"""From the tape readings of a ``[[slope]]`` to slopes in true shape, with what disagrees and by how much."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.errors import JobError
from fabplan.job.model import Job
from fabplan.job.slopes import Slope
from fabplan.roof.measure import shapes
from fabplan.roof.measure.copies import parted
from fabplan.roof.measure.edging import edge_slope, open_slope
from fabplan.roof.measure.least_squares import (
    Adjusted,
    Array,
    Reading,
    adjust,
    change_alone,
    distance,
    foot_along,
    height_over,
    sigma_of,
)
from fabplan.roof.measure.spire import IrregularSpire, irregular_spire
from fabplan.roof.model import Hip, Lean, Measured, Misfit, Point, TapeReading
from fabplan.roof.remarks import LeanUnknown, SlopeNote, SpirePoint, TapeDiagonal
from fabplan.roof.words import disagree, size
from fabplan.units import inches

WARN_MISFIT = 0.25  # inches; common practice, no source
WARN_SIGMAS = 3.0
REFUSE_MISFIT = 2.0
AGREED = 1e-4  # inches: no tape is read so fine


@dataclass(frozen=True, slots=True)
class _NamedCorners:
    """Corner points with edge names, counter-clockwise from the left end of the bottom."""

    points: tuple[Point, ...]
    names: tuple[str, ...]
    lean: Lean | None = None
    misfit: Misfit | None = None
    pitch: float | None = None
    notes: tuple[SlopeNote, ...] = ()


def measure_slopes(job: Job, eave_fold: Mapping[str, float]) -> tuple[tuple[Measured, ...], tuple[Hip, ...]]:
    """All slopes of a job in true shape, and the hips of its spires.

    Parameters
    ----------
    job : Job
    eave_fold : mapping of piece mark to inches
        Metal a starter's base fold takes beyond the eave line.

    Raises
    ------
    JobError
        Readings that make no shape (it says by how much they do not close), or edges and openings that do not fit.
    """
    slopes: list[Measured] = []
    hips: list[Hip] = []
    for entry in job.slopes:
        try:
            found, ridges = _measure(entry, job, eave_fold.get(entry.piece, 0.0))
        except shapes.DoesNotCloseError as fault:
            by = f", by {size(fault.short, job.info.units)}" if fault.short > 1e-9 else ""
            raise JobError(
                f"the sizes do not close: {fault.says}{by}",
                file=job.file,
                key=f'slope "{entry.name}"',
                write="the sizes as taped again; which of them is off can not be told from them",
            ) from None
        slopes += found
        hips += ridges
    return parted(slopes, hips, job)


def _measure(entry: Slope, job: Job, eave_fold: float) -> tuple[list[Measured], list[Hip]]:
    if entry.shape == "regular-spire":
        return _regular(entry, job, eave_fold)
    if entry.shape == "irregular-spire":
        return _irregular(entry, job, eave_fold)
    shape = _PLANE[entry.shape](entry, inches(job.spread.tape))
    return [_built(entry, job, eave_fold, shape, entry.name, entry.count, 1)], []


def _built(
    entry: Slope, job: Job, eave_fold: float, shape: _NamedCorners, name: str, times: int, face: int
) -> Measured:
    _refuse_misfit(entry, job, shape.misfit)
    edges = edge_slope(entry, job, shape.points, shape.names, eave_fold)
    notes: list[SlopeNote] = list(shape.notes)
    if shape.lean is not None and not shape.lean.known and abs(shape.lean.amount) > 1 / 64:
        notes.append(LeanUnknown(amount=shape.lean.amount, sigma=shape.lean.sigma))
    pitch = entry.pitch if shape.pitch is None else shape.pitch
    slope = Measured(
        name=name,
        entry=entry.name,
        piece=entry.piece,
        times=times,
        edges=edges,
        pitch=pitch,
        lean=shape.lean,
        misfit=shape.misfit,
        notes=tuple(notes),
    )
    return open_slope(slope, entry, job, face)


def _refuse_misfit(entry: Slope, job: Job, misfit: Misfit | None) -> None:
    if misfit is not None and misfit.disagreement > REFUSE_MISFIT and not entry.go_on:
        raise JobError(
            f"the readings disagree by {size(misfit.disagreement, job.info.units)}, more than "
            f"{size(REFUSE_MISFIT, job.info.units)}; {disagree(misfit)}",
            file=job.file,
            key=f'slope "{entry.name}"',
            write="the sizes as taped again, or go_on = true to plan with the best fit",
        )


# -- plane slopes ------------------------------------------------------------------------------------------------------


def _rectangle(s: Slope, _sigma: float) -> _NamedCorners:
    b, h = _inch(s.bottom), _inch(s.height)
    return _NamedCorners(((0, 0), (b, 0), (b, h), (0, h)), ("bottom", "right", "top", "left"))


def _triangle(s: Slope, sigma: float) -> _NamedCorners:
    b, names = _inch(s.bottom), ("bottom", "right", "left")
    if s.left is None or s.right is None:
        x = b / 2 if s.apex_from_left is None else inches(s.apex_from_left)
        lean = Lean(amount=x - b / 2, sigma=sigma) if s.apex_from_left is not None else None
        return _NamedCorners(((0, 0), (b, 0), (x, _inch(s.height))), names, lean)
    left, right = inches(s.left), inches(s.right)
    top = shapes.apex(b, left, right)
    lean = Lean(amount=top[0] - b / 2, sigma=sigma * math.hypot(left, right) / b)
    checks = []
    if s.height is not None:
        checks.append(Reading(name="height", of=height_over(2, 0, 1), read=inches(s.height), sigma=sigma))
    if s.apex_from_left is not None:
        checks.append(
            Reading(name="apex_from_left", of=foot_along(2, 0, 1), read=inches(s.apex_from_left), sigma=sigma)
        )
    points: tuple[Point, ...] = ((0.0, 0.0), (b, 0.0), top)
    if not checks:
        return _NamedCorners(points, names, lean)
    readings = [
        Reading(name="bottom", of=distance(0, 1), read=b, sigma=sigma),
        Reading(name="right", of=distance(1, 2), read=right, sigma=sigma),
        Reading(name="left", of=distance(2, 0), read=left, sigma=sigma),
        *checks,
    ]
    fit = adjust(np.array(points), readings)
    return _fitted(fit, readings, len(checks), names, sigma)


def _trapezoid(s: Slope, sigma: float) -> _NamedCorners:
    b, a, names = _inch(s.bottom), _inch(s.top), ("bottom", "right", "top", "left")
    if s.left is None or s.right is None:
        x = (b - a) / 2 if s.top_from_left is None else inches(s.top_from_left)
        h = _inch(s.height)
        lean = Lean(amount=x + a / 2 - b / 2, sigma=sigma) if s.top_from_left is not None else None
        return _NamedCorners(((0, 0), (b, 0), (x + a, h), (x, h)), names, lean)
    left, right = inches(s.left), inches(s.right)
    points = shapes.trapezoid(b, a, left, right)
    lean = Lean(amount=points[3][0] + a / 2 - b / 2, sigma=sigma * math.hypot(left, right) / abs(b - a))
    checks = []
    if s.height is not None:
        checks.append(Reading(name="height", of=height_over(3, 0, 1), read=inches(s.height), sigma=sigma))
    if s.top_from_left is not None:
        checks.append(Reading(name="top_from_left", of=foot_along(3, 0, 1), read=inches(s.top_from_left), sigma=sigma))
    if not checks:
        return _NamedCorners(points, names, lean)
    readings = [
        Reading(name="bottom", of=distance(0, 1), read=b, sigma=sigma),
        Reading(name="right", of=distance(1, 2), read=right, sigma=sigma),
        Reading(name="top", of=distance(2, 3), read=a, sigma=sigma),
        Reading(name="left", of=distance(3, 0), read=left, sigma=sigma),
        *checks,
        # the top is parallel to the bottom: a condition, not a reading
        Reading(name="", of=lambda p: float(height_over(2, 0, 1)(p) - height_over(3, 0, 1)(p)), read=0.0, sigma=1e-4),
    ]
    return _fitted(adjust(np.array(points), readings), readings, len(checks), names, sigma)


def _four_sided(s: Slope, sigma: float) -> _NamedCorners:
    sides = {k: _inch(getattr(s, k)) for k in ("bottom", "right", "top", "left")}
    up_right = None if s.diagonal_up_right is None else inches(s.diagonal_up_right)
    up_left = None if s.diagonal_up_left is None else inches(s.diagonal_up_left)
    points = shapes.four_sided(**sides, up_right=up_right, up_left=up_left)
    names = ("bottom", "right", "top", "left")
    ends = {"bottom": (0, 1), "right": (1, 2), "top": (2, 3), "left": (3, 0)}
    readings = [Reading(name=k, of=distance(*ends[k]), read=v, sigma=sigma) for k, v in sides.items()]
    if up_right is not None:
        readings.append(Reading(name="diagonal_up_right", of=distance(0, 2), read=up_right, sigma=sigma))
    if up_left is not None:
        readings.append(Reading(name="diagonal_up_left", of=distance(1, 3), read=up_left, sigma=sigma))
    return _fitted(adjust(np.array(points), readings), readings, len(readings) - 5, names, sigma)


def _polygon(s: Slope, _sigma: float) -> _NamedCorners:
    points = tuple((inches(x), inches(y)) for x, y in s.points or ())
    names = tuple(str(i + 1) for i in range(len(points)))
    if sum(p[0] * q[1] - p[1] * q[0] for p, q in zip(points, points[1:] + points[:1], strict=True)) < 0:
        points = points[:1] + points[:0:-1]
        names = names[::-1]
    return _NamedCorners(points, names)


def _gable(s: Slope, sigma: float) -> _NamedCorners:
    b = _inch(s.bottom)
    left = 0.0 if s.left is None else inches(s.left)
    right = 0.0 if s.right is None else inches(s.right)
    lean = None
    if s.left_slant is not None and s.right_slant is not None:
        top = shapes.over((0, left), (b, right), inches(s.left_slant), inches(s.right_slant))
        span = math.hypot(b, right - left)
        lean = Lean(amount=top[0] - b / 2, sigma=sigma * math.hypot(inches(s.left_slant), inches(s.right_slant)) / span)
        lean = lean if left == right else None
    else:
        top = (b / 2 if s.apex_from_left is None else inches(s.apex_from_left), _inch(s.height))
    corners: list[tuple[Point, str]] = [((0.0, 0.0), "bottom")]
    if right > 0:
        corners.append(((b, 0.0), "right"))
    corners += [((b, right), "right_slant"), (top, "left_slant")]
    if left > 0:
        corners.append(((0.0, left), "left"))
    else:
        corners[0] = ((0.0, 0.0), "bottom")
    return _NamedCorners(tuple(p for p, _ in corners), tuple(name for _, name in corners), lean)


def _ell(s: Slope, _sigma: float) -> _NamedCorners:
    """A rectangle with one upper corner missing; ledge and return are the edges of the missing corner."""
    b, a, left, right = _inch(s.bottom), _inch(s.top), _inch(s.left), _inch(s.right)
    if left > right:
        corners = ((0.0, 0.0), (b, 0.0), (b, right), (a, right), (a, left), (0.0, left))
        return _NamedCorners(corners, ("bottom", "right", "ledge", "return", "top", "left"))
    corners = ((0.0, 0.0), (b, 0.0), (b, right), (b - a, right), (b - a, left), (0.0, left))
    return _NamedCorners(corners, ("bottom", "right", "top", "return", "ledge", "left"))


_PLANE: dict[str, Callable[[Slope, float], _NamedCorners]] = {
    "rectangle": _rectangle,
    "triangle": _triangle,
    "trapezoid": _trapezoid,
    "four-sided": _four_sided,
    "polygon": _polygon,
    "gable": _gable,
    "ell": _ell,
}


def _inch(length: int | None) -> float:
    if length is None:  # the schema asks for it
        raise TypeError("a needed size is missing")
    return inches(length)


def _in_frame(points: Array) -> tuple[Point, ...]:
    """Put the first point at the origin and the second on the x axis; exact where they already are."""
    along = points[1] - points[0]
    along = along / np.linalg.norm(along)
    moved = points - points[0]
    turned = np.stack([moved @ along, moved @ np.array([-along[1], along[0]])], axis=1)
    turned[1, 1] = 0.0
    return tuple((float(x), float(y)) for x, y in turned)


def _fitted(
    fit: Adjusted, readings: Sequence[Reading], checks: int, names: tuple[str, ...], sigma: float
) -> _NamedCorners:
    points = _in_frame(fit.points)
    top = [2, 3] if len(points) == 4 else [2]

    def lean_of(p: Array) -> float:
        along = (p[1] - p[0]) / np.linalg.norm(p[1] - p[0])
        return float((np.mean([p[i] for i in top], axis=0) - (p[0] + p[1]) / 2) @ along)

    lean = Lean(amount=lean_of(fit.points), sigma=sigma_of(fit, lean_of))
    return _NamedCorners(points, names, lean, misfit_of(fit, readings, checks))


def misfit_of(fit: Adjusted, readings: Sequence[Reading], checks: int, *, fixed: Sequence[int] = ()) -> Misfit | None:
    """What redundant readings disagree by; None when there are none. The `checks` are the last named readings."""
    named = [i for i, r in enumerate(readings) if r.name]
    if checks <= 0:
        return None
    check = named[len(named) - checks :]
    alone = {i: change_alone(fit, readings, i, fixed=fixed) for i in check}
    disagreement = max(abs(alone[i]) for i in check)
    if fit.redundancy == 1:
        agreed = disagreement < AGREED  # what a flat corner makes of a hair is no change anybody could tape
        others = [i for i in named if i not in alone]
        alone |= {i: 0.0 if agreed else change_alone(fit, readings, i, fixed=fixed) for i in others}
    sigmas = (
        float(np.abs(fit.standardised[check]).max())
        if fit.redundancy == 1
        else float(np.sqrt(np.sum((fit.corrections / [r.sigma for r in readings]) ** 2) / max(fit.redundancy, 1)))
    )
    return Misfit(
        disagreement=disagreement,
        readings=tuple(
            TapeReading(
                name=readings[i].name, read=readings[i].read, correction=float(fit.corrections[i]), alone=alone.get(i)
            )
            for i in named
        ),
        redundancy=fit.redundancy,
        sigmas=sigmas,
        checks=tuple(readings[i].name for i in check),
    )


# -- spires ------------------------------------------------------------------------------------------------------------


def _regular(entry: Slope, job: Job, eave_fold: float) -> tuple[list[Measured], list[Hip]]:
    n = entry.sides or 0

    def side_of(side: int | None, flats: int | None, corners: int | None) -> float:
        if side is not None:
            return inches(side)
        if flats is not None:
            return shapes.polygon_side(n, across_flats=inches(flats))
        return shapes.polygon_side(n, across_corners=inches(corners)) if corners is not None else 0.0

    spire = shapes.regular_spire(
        n,
        side_of(entry.side, entry.across_flats, entry.across_corners),
        top_side=side_of(entry.top_side, entry.top_across_flats, entry.top_across_corners),
        height=None if entry.height is None else inches(entry.height),
        slant=inches(entry.slants[0]) if entry.slants else None,
        hip=None if entry.hip is None else inches(entry.hip),
    )
    names = ("bottom", "right", "top", "left") if spire.top_side else ("bottom", "right", "left")
    shape = _NamedCorners(spire.face, names, pitch=spire.pitch)
    opened = sorted({o.slope for o in entry.openings})
    _check_faces(entry, job, opened, n)
    plain = n - len(opened)
    out = []
    if plain:
        one = entry.name if not opened else f"{entry.name} (others)"
        out.append(_built(entry, job, eave_fold, shape, one, plain * entry.count, 0))
    out += [_built(entry, job, eave_fold, shape, f"{entry.name} {i}", entry.count, i) for i in opened]
    corner = 180 - 360 / n
    first = out[0].name
    hip = Hip(
        name=f"{entry.name} hip",
        length=spire.hip,
        bend=spire.bend,
        plan_corner=corner,
        slope_left=first,
        slope_right=first,
    )
    return out, [hip] * (n * entry.count)


def _irregular(entry: Slope, job: Job, eave_fold: float) -> tuple[list[Measured], list[Hip]]:
    """The slopes and hips of a spire taped on every side, adjusted to its readings."""
    sigma = inches(job.spread.tape)
    n = len(entry.eaves or ())
    for d in entry.base_diagonals:
        if max(d.from_, d.to) > n or (d.from_ - d.to) % n in (0, 1, n - 1):
            raise JobError(
                f"a base diagonal joins two corners that are not neighbours, of corners 1 to {n}",
                file=job.file,
                key=f'slope "{entry.name}" > base_diagonals',
                value=f"from {d.from_} to {d.to}",
            )
    spire = irregular_spire(
        [inches(v) for v in entry.eaves or ()],
        [inches(v) for v in entry.hips or ()],
        [(d.from_ - 1, d.to - 1, inches(d.length)) for d in entry.base_diagonals],
        None if entry.height is None else inches(entry.height),
        slants=[inches(v) for v in entry.slants],
        sigma=sigma,
    )
    checks = len(spire.readings) - 2 * n
    level = [3 * i + 2 for i in range(n)]
    misfit = misfit_of(spire.fit, spire.readings, checks, fixed=level)
    _check_faces(entry, job, sorted({o.slope for o in entry.openings}), n)
    out = []
    for i in range(n):
        points = spire.face(i)
        left, right = math.dist(points[0], points[2]), math.dist(points[1], points[2])
        lean = Lean(amount=points[2][0] - points[1][0] / 2, sigma=sigma * math.hypot(left, right) / points[1][0])
        shape = _NamedCorners(
            points,
            ("bottom", "right", "left"),
            lean,
            misfit,
            spire.pitches[i],
            _spire_notes(spire, entry) if i == 0 else (),
        )
        out.append(_built(entry, job, eave_fold, shape, f"{entry.name} {i + 1}", entry.count, i + 1))
    hips = [
        Hip(
            name=f"{entry.name} hip {i + 1}",
            length=math.dist(spire.apex, (*spire.base[i], 0.0)),
            bend=spire.bends[i],
            plan_corner=spire.plan_corners[i],
            slope_left=f"{entry.name} {(i - 1) % n + 1}",
            slope_right=f"{entry.name} {i + 1}",
        )
        for i in range(n)
    ]
    return out, hips * entry.count


def _check_faces(entry: Slope, job: Job, faces: Sequence[int], n: int) -> None:
    if faces and faces[-1] > n:
        raise JobError(
            f"an opening's slope is a number from 1 to {n}",
            file=job.file,
            key=f'slope "{entry.name}" > openings',
            value=str(faces[-1]),
        )


def _spire_notes(spire: IrregularSpire, entry: Slope) -> tuple[SlopeNote, ...]:
    point = SpirePoint(
        entry=entry.name,
        off=math.hypot(*spire.apex_offset),
        sigma=float(spire.apex_offset_sigma),
        corners=tuple(float(c) for c in spire.plan_corners),
        corner_sigma=float(spire.plan_corner_sigma),
    )
    return (point,) if entry.base_diagonals else (point, TapeDiagonal(entry=entry.name))
