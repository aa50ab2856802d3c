"""Finished diamonds laid at their own spacing cover the plane, and every lock has its lap."""

from __future__ import annotations

import math
from typing import Any

import pytest
from blank_jobs import job, metals, piece
from folding import FoldedPiece, fold
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.blanks import clip
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern, Lattice, Point

FINE = "0.00001 in"  # a graduation so fine that rounding does not disturb the lattice
AREA = 2e-3  # square inches in a window of some hundred


def made(**keys: Any) -> FlatPattern:
    return develop(job(piece(kind="diamond", **keys), round_to=FINE), metals())[0]


def upright(p: FlatPattern) -> Any:
    """Map from the blank's frame to one with the finished top tip straight above the bottom tip, middle at 0."""
    top, _, bottom, _ = (complex(*c) for c in p.finished.outline)
    middle, up = (top + bottom) / 2, (top - bottom) / abs(top - bottom)

    def place(points: Any, x: float = 0.0, y: float = 0.0) -> tuple[Point, ...]:
        turned = [(complex(*q) - middle) / up * 1j + complex(x, y) for q in points]
        return tuple((c.real, c.imag) for c in turned)

    return place


def seen(p: FlatPattern) -> tuple[Point, ...]:
    """Finished outline, side tips snipped: what lies on the roof."""
    whole = clip.intersection(clip.shape(p.finished.outline), clip.shape(p.snipped))
    # the snips at the top and bottom may take a few thousandths off the finished tips; the fold covers them
    tips = [n for n in p.notches if n.kind == "side snip"]
    body = clip.shape(p.finished.outline)
    for n in tips:
        body = clip.difference(body, clip.shape(n.removed))
    assert body.area == pytest.approx(whole.area, abs=0.01)
    return clip.corners(clip.largest(body))


def spots(lat: Lattice, rows: range, columns: range) -> list[tuple[int, float, float]]:
    return [(k, (i + k % 2 / 2) * lat.spacing, k * lat.course) for k in rows for i in columns]


ANGLES = [60, 75, 90, 105, 120]
HEMS = [("1 in", "1 in"), ("3/4 in", "1 in"), ("1 in", "3/4 in")]
cases = pytest.mark.parametrize(("angle", "hems"), [(a, h) for a in ANGLES for h in HEMS])


@cases
@pytest.mark.parametrize("joint", ["0 in", "1/16 in"])
def test_no_gap_in_a_window(angle: int, hems: tuple[str, str], joint: str) -> None:
    p = made(side="11 in", top_angle=angle, upper_hem=hems[0], lower_hem=hems[1], joint=joint)
    lat = p.lattice
    assert lat is not None
    place, own = upright(p), seen(p)
    cover = clip.shape([])
    w, h = 1.2 * lat.spacing, 1.2 * lat.course
    window = clip.shape([(-w, -h), (w, -h), (w, h), (-w, h)])
    for _, x, y in spots(lat, range(-4, 5), range(-3, 4)):
        one = clip.intersection(clip.shape(place(own, x, y)), window)
        if not one.is_empty:
            cover = clip.join([cover, one]) if not cover.is_empty else one
    assert clip.difference(window, cover).area < AREA


@cases
def test_what_shows_of_a_piece_is_its_cell(angle: int, hems: tuple[str, str]) -> None:
    p = made(side="11 in", top_angle=angle, upper_hem=hems[0], lower_hem=hems[1], joint="0 in")
    lat = p.lattice
    assert lat is not None
    place, own = upright(p), seen(p)
    left = clip.shape(place(own))
    for k, x, y in spots(lat, range(1, 4), range(-2, 3)):
        if k > 0:  # every course lies over the ones below it
            left = clip.difference(left, clip.shape(place(own, x, y)))
    assert left.area == pytest.approx(lat.exposed**2 * math.sin(math.radians(angle)), abs=AREA)
    assert left.area == pytest.approx(p.finished.covers_area, abs=AREA)


@cases
def test_side_tips_of_one_course_share_no_area(angle: int, hems: tuple[str, str]) -> None:
    keys: dict[str, Any] = {"side": "11 in", "top_angle": angle, "upper_hem": hems[0], "lower_hem": hems[1]}
    for joint, gap in (("0 in", 0.0), ("1/16 in", 1 / 16)):
        p = made(**keys, joint=joint)
        lat = p.lattice
        assert lat is not None
        place, own = upright(p), seen(p)
        one, next_ = clip.shape(place(own)), clip.shape(place(own, lat.spacing))
        assert clip.overlap(one, next_) < 1e-4
        assert one.distance(next_) == pytest.approx(gap, abs=1e-4)
        # unsnipped they would overlap by a rhombus of the lap
        whole = clip.shape(place(p.finished.outline))
        both = clip.overlap(whole, clip.shape(place(p.finished.outline, lat.spacing)))
        assert both == pytest.approx(lat.lap**2 / math.sin(math.radians(angle)), abs=1e-3)


def _across(lat: Lattice) -> Point:
    """Unit normal of the edge between a piece and the one up and to the right of it, pointing up."""
    half = math.radians(lat.top_angle) / 2
    return (math.cos(half), math.sin(half))


@cases
def test_every_lock_has_its_lap_and_is_hooked(angle: int, hems: tuple[str, str]) -> None:
    p = made(side="11 in", top_angle=angle, upper_hem=hems[0], lower_hem=hems[1])
    lat = p.lattice
    assert lat is not None
    place = upright(p)
    nx, ny = _across(lat)

    def reach(points: Any, x: float = 0.0, y: float = 0.0) -> list[float]:
        return [a * nx + b * ny for a, b in place(points, x, y)]

    low, high = (0.0, 0.0), (lat.spacing / 2, lat.course)
    lap = max(reach(p.finished.outline, *low)) - min(reach(p.finished.outline, *high))
    assert lap == pytest.approx(max(lat.upper_hem, lat.lower_hem) + lat.thickness + lat.slack, abs=1e-4)
    # the lower piece's upper right hem (edge 4, folded over its face) inside the upper piece's lower left hem (edge 2)
    piece_: FoldedPiece = fold(p)
    flap = {f.edge: f.plan for f in piece_.flaps}
    one, other = reach(flap[4], *low), reach(flap[2], *high)
    rounds = {f.edge: -f.deduction / 2 for f in p.folds}  # fold lines stand this far outside the finished edges
    hooked = max(other) - (min(one))
    assert hooked == pytest.approx(lat.hooked, abs=1e-3)
    assert max(one) - rounds[4] == pytest.approx(max(reach(p.finished.outline)), abs=1e-4)
    assert (
        clip.overlap(clip.shape(place(flap[4], *low)), clip.shape(place(flap[2], *high)))
        > 0.5 * lat.hooked * lat.exposed
    )


@cases
@pytest.mark.parametrize("kind", ["starter", "ridge-half", "rake-left", "rake-right"])
def test_parts_lie_on_the_same_lattice(angle: int, hems: tuple[str, str], kind: str) -> None:
    whole = piece(kind="diamond", side="11 in", top_angle=angle, upper_hem=hems[0], lower_hem=hems[1])
    part = piece(kind=kind, mark="P", cut_fold="none", **{"for": "A"})
    p, q = develop(job(whole, part, round_to=FINE), metals())
    lat = p.lattice
    assert lat is not None
    half = math.radians(angle) / 2
    diamond = clip.shape(upright(p)(seen(p)))
    body = clip.shape(q.finished.outline)
    for n in q.notches:
        if n.kind == "side snip":
            body = clip.difference(body, clip.shape(n.removed))
    q_line = -lat.lap / (2 * math.sin(half))
    xs, ys = [x for x, _ in q.finished.outline], [y for _, y in q.finished.outline]
    if kind == "starter":
        by = (-(max(xs) + min(xs)) / 2, 11 * math.cos(half) - max(ys))
        keep = clip.half_plane((0, q_line), (0, -1), 99)
    elif kind == "ridge-half":
        by = (-(max(xs) + min(xs)) / 2, -11 * math.cos(half) - min(ys))
        keep = clip.half_plane((0, q_line), (0, 1), 99)
    elif kind == "rake-left":
        by = (-min(xs), -(max(ys) + min(ys)) / 2)
        keep = clip.half_plane((0, 0), (-1, 0), 99)
    else:
        by = (-max(xs), -(max(ys) + min(ys)) / 2)
        keep = clip.half_plane((0, 0), (1, 0), 99)
    placed = clip.shape([(x + by[0], y + by[1]) for x, y in clip.corners(clip.largest(body))])
    assert clip.apart(placed, clip.intersection(diamond, keep)) < 0.02


@settings(max_examples=15, deadline=None)
@given(st.floats(60, 120), st.floats(0.4, 1.2), st.floats(0.4, 1.2), st.floats(8, 14))
def test_no_gap_for_any_angle_and_hems(angle: float, upper: float, lower: float, side: float) -> None:
    hems = (f"{upper:.4f} in", f"{lower:.4f} in")
    p = made(side=f"{side:.4f} in", top_angle=round(angle, 4), upper_hem=hems[0], lower_hem=hems[1])
    lat = p.lattice
    assert lat is not None
    place, own = upright(p), seen(p)
    cell = clip.shape([(0, lat.course), (-lat.spacing / 2, 0), (0, -lat.course), (lat.spacing / 2, 0)])
    left = cell
    for _, x, y in spots(lat, range(-3, 4), range(-2, 3)):
        left = clip.difference(left, clip.shape(place(own, x, y)))
    assert left.area < AREA
