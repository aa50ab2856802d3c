"""End dams and returns on the blank: sizes by hand, laws over random strips, the blank folded up in space.

The blank is folded here by code of this file: every face is turned about its fold line (Rodrigues), thickness left out,
so edges meet to within a few thicknesses and the clearance beside a dam.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from blank_jobs import job, metals, piece
from end_jobs import METALS, job_text, random_piece, written
from numpy.typing import NDArray

from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.model import EndTurn, FlatPattern, Fold, Point
from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.make import metals_of
from fabplan.units import NM_PER_INCH

Vector = NDArray[np.float64]
CLEAR = 1 / 32  # inches beside a dam (common practice, no source)
AIRFRAME = "Aviation Maintenance Technician Handbook - Airframe, FAA-H-8083-31, ch. 4, Figs. 4-124 to 4-126"


def strip(**keys: Any) -> Job:
    sizes = {"length": "36 in", "legs": ["1 in", "5 in", "2 in"], "bends": [90, 90]}
    return job(piece(mark="P", kind="section", **{**sizes, **keys}))


def made(**keys: Any) -> FlatPattern:
    asked = strip(**keys)
    (pattern,) = develop(asked, metals())
    assert check_patterns((pattern,), asked, metals()) == []
    return pattern


def area(points: tuple[Point, ...]) -> float:
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], points[0]), strict=True))) / 2


# -- sizes by hand ----------------------------------------------------------------------------------------------------


def test_a_pan_whose_bends_take_no_metal_is_longer_by_its_dams() -> None:
    dam = {"leg": 2, "height": "3/4 in", "tabs": "1/2 in"}
    p = made(allowance="plain", legs=["1 in", "5 in", "2 in"], end_dams=[dam])
    inch = p.grid / NM_PER_INCH
    assert (p.width_units * inch, p.length_units * inch) == (8.0, 37.5)
    assert [(e.what, e.at, e.leg) for e in p.ends] == [("end dam", "A", 2), ("end dam", "B", 2)]
    assert [f.edge for f in p.end_folds] == [3, 4, 5, 6, 7, 8]
    assert [sorted(y for _, y in e.fold.line) for e in p.ends] == [[0.75, 0.75], [36.75, 36.75]]
    # with plain bends the bend zone is two setbacks wide, a thickness on each side of the mark
    low, high = min(x for x, _ in p.ends[0].fold.flap), max(x for x, _ in p.ends[0].fold.flap)
    assert (low, high) == pytest.approx((1 + 0.0216 + CLEAR, 6 - 0.0216 - CLEAR))


def test_one_end_is_dammed_and_the_other_stays_plain() -> None:
    p = made(end_dams=[{"leg": 2, "height": "2 in", "at": "b"}])
    at_a = sorted(x for x, y in p.snipped if y < 18)
    assert at_a == [0.0, p.outline[3][0]]
    assert {e.at for e in p.ends} == {"B"}
    assert p.folds[0].line[0][1] == 0.0


def test_a_drip_edge_is_returned_round_a_corner_and_its_other_legs_are_notched() -> None:
    p = made(legs=["3 in", "2 in", "3/4 in"], bends=[-90, 45], end_hem={"width": "1/2 in", "toward": "back"},
             returns=[{"leg": 2, "length": "1-1/2 in", "toward": "back", "at": "A"}])  # fmt: skip
    (end,) = p.ends
    assert (end.what, end.tabs, end.joined, end.rivets) == ("return", (), "open", 0)
    assert len(p.notches) == 2
    kept = max(x for x, y in p.snipped if y < 1) - min(x for x, y in p.snipped if y < 1)
    assert kept == pytest.approx(2, abs=0.1)


def test_a_leg_between_two_that_are_turned_serves_both() -> None:
    p = made(legs=["2-1/2 in", "8 in", "2-1/2 in"], bends=[-90, -90],
             returns=[{"leg": n, "length": "1-1/2 in", "at": "A", "turned": 45} for n in (1, 3)])  # fmt: skip
    xs = [x for x, y in p.snipped if y < 18]
    assert xs == sorted(xs)  # from the start edge on, and never back
    middle = p.width_units * p.grid / NM_PER_INCH / 2
    assert sum(abs(x - middle) < 0.1 for x in xs) == 1
    # mitred at 45 degrees as far as the returns reach: the leg covers both corners
    assert min(y for x, y in p.snipped if abs(x - middle) < 0.1) == pytest.approx(0.44, abs=0.02)


def test_a_hem_on_a_turned_leg_is_cut_back_from_the_fold() -> None:
    p = made(legs=["5 in", "2 in"], bends=[90], start_hem={"width": "1/2 in", "toward": "face", "gap": "0 in"},
             end_dams=[{"leg": 1, "height": "1 in", "at": "A"}])  # fmt: skip
    line = p.ends[0].fold.line[0][1]
    at_hem = min(y for x, y in p.snipped if x < 0.4)
    assert line + 0.02 < at_hem < line + 0.1


def test_a_metric_strip_keeps_to_its_grid() -> None:
    keys = {"length": "900 mm", "legs": ["25 mm", "125 mm", "50 mm"], "bends": [90, 90]}
    asked = job(piece("mm", mark="P", kind="section", end_dams=[{"leg": 2, "height": "40 mm"}], **keys), units="mm")
    (pattern,) = develop(asked, metals())
    assert check_patterns((pattern,), asked, metals()) == []
    tab = pattern.ends[0].tabs[0]
    assert tab.width * 25.4 == pytest.approx(12)
    leaning = {**keys, "legs": ["70 mm", "120 mm", "90 mm"], "bends": [60, 75]}
    asked = job(piece("mm", mark="P", kind="section", end_dams=[{"leg": 2, "height": "50 mm"}], **leaning), units="mm")
    (pattern,) = develop(asked, metals())
    assert check_patterns((pattern,), asked, metals()) == []
    assert [tab.width * 25.4 > 12 for tab in pattern.ends[0].tabs] == [True, True]


@pytest.mark.published(AIRFRAME)
def test_the_crossings_where_holes_go_are_those_of_the_flats() -> None:
    # AIRFRAME: channel 1.00 x 2.00 x 1.00, T .040, R .16: flats .8, 1.6, .8; relief where inside tangents cross
    asked = strip(legs=["1 in", "2 in", "1 in"], inside_radius="0.16 in",
                  end_dams=[{"leg": 2, "height": "3/4 in", "at": "A"}])  # fmt: skip
    sheet = metals(thickness=0.040, bend_factor=0.4469)
    (pattern,) = develop(asked, sheet)
    (left, _), (right, _) = pattern.ends[0].crossings
    assert right - left == pytest.approx(1.6, abs=1e-6)
    # the flat of the first leg ends .8 in from its raw edge, one bend allowance before the first crossing
    assert left - pattern.folds[0].bend_allowance == pytest.approx(0.8, abs=1e-6)


# -- the blank folded in space ----------------------------------------------------------------------------------------


def turned_about(p: Vector, a: Vector, b: Vector, degrees: float) -> Vector:
    axis, r, t = (b - a) / np.linalg.norm(b - a), p - a, math.radians(degrees)
    found: Vector = a + r * math.cos(t) + np.cross(axis, r) * math.sin(t) + axis * (axis @ r) * (1 - math.cos(t))
    return found


def up(p: Point) -> Vector:
    return np.array([p[0], p[1], 0.0])


def towards(fold: Fold, inside: Vector) -> float:
    """The angle to turn what lies beyond a fold line, positive about its direction a -> b."""
    a, b = up(fold.line[0]), up(fold.line[1])
    beyond = -(inside - a)
    sense = math.copysign(1.0, float(np.cross(b - a, beyond)[2]))
    return sense * fold.turned * (1 if fold.toward == "face" else -1)


class Folded:
    """A strip folded up: any point of a leg or of what is turned, in space; the leg at `base` stays where it is."""

    def __init__(self, p: FlatPattern, base: int) -> None:
        self.p, self.base = p, base

    def on_leg(self, q: Vector, leg: int) -> Vector:
        """A point of a leg (counted with hems): turned about every bend between it and the base, the nearest last."""
        between = range(self.base, leg) if leg > self.base else range(self.base - 1, leg - 1, -1)
        for k in reversed(list(between)):
            fold = self.p.folds[k]
            middle = up(fold.line[0]) + np.array([-1.0 if leg > self.base else 1.0, 0.0, 0.0])
            q = turned_about(q, up(fold.line[0]), up(fold.line[1]), towards(fold, middle))
        return q

    def flap(self, end: EndTurn, q: Point) -> Vector:
        fold = end.fold
        inside = up(fold.line[0]) + np.array([0.0, 1.0 if end.at == "A" else -1.0, 0.0])
        return turned_about(up(q), up(fold.line[0]), up(fold.line[1]), towards(fold, inside))

    def tab(self, end: EndTurn, tab: Fold, leg: int, q: Point) -> Vector:
        a, b = up(tab.line[0]), up(tab.line[1])
        inside = a + np.array([0.0, 1.0 if end.at == "A" else -1.0, 0.0])
        return self.on_leg(turned_about(up(q), a, b, towards(tab, inside)), leg)


def plane(a: Vector, b: Vector, c: Vector) -> tuple[Vector, Vector]:
    normal = np.cross(b - a, c - a)
    return a, normal / np.linalg.norm(normal)


def closes(p: FlatPattern, first: int) -> int:
    """Fold every end up and measure its corners and tabs; how many were looked at."""
    seen = 0
    section = p.section
    assert section is not None
    near = 4 * p.thickness + 1 / 64 + 2 * max((f.radius for f in p.folds if not f.hem), default=0.0)
    for end in p.ends:
        base = end.leg - 1 + first
        folded = Folded(p, base)
        through, normal = plane(*(folded.flap(end, q) for q in end.fold.flap[:3]))
        for tab in end.tabs:
            leg = base - 1 if tab.flap[1][0] < end.fold.flap[0][0] else base + 1
            # the tab lies flat on the outside of what is turned
            off = [float((folded.tab(end, tab, leg, q) - through) @ normal) for q in tab.flap]
            assert max(map(abs, off)) < near, (p.mark, end.leg, off)
            seen += 1
        for side, leg in ((0, base - 1), (1, base + 1)):
            k = base - 1 if side == 0 else base
            if not 0 <= k < len(p.folds) or p.folds[k].hem or p.folds[k].toward != end.fold.toward:
                continue
            # the raw corner comes to the leg beside it: never through it, no further off than the clearance where
            # that leans in or stands square
            x, sense = p.folds[k].line[0][0], -1 if side == 0 else 1
            ys = [y for _, y in p.folds[k].line]
            spots = [(x, ys[0]), (x, ys[1]), (x + sense * 0.5, ys[0])]
            at, square = plane(*(folded.on_leg(up(q), leg) for q in spots))
            inside = float((up(end.fold.line[0]) + up(end.fold.line[1]) - 2 * at) @ square)
            corner = folded.flap(end, end.fold.flap[3 if side == 0 else 2])
            away = float((corner - at) @ square) * math.copysign(1.0, inside)
            assert away > -p.thickness, (p.mark, end.leg, away)
            if p.folds[k].turned >= 90:
                assert away < CLEAR + near, (p.mark, end.leg, away)
            seen += 1
    return seen


def fuzzed(seed: int, folder: Path) -> tuple[FlatPattern, Job] | None:
    rng = random.Random(seed)
    text = job_text(random_piece(rng, "S"), rng.choice(METALS))
    try:
        asked = load_job(written(text, folder))
        (pattern,) = develop(asked, metals_of(asked))
    except JobError:
        return None
    return pattern, asked


def held(seeds: range, folder: Path) -> tuple[int, int]:
    made = corners = 0
    for seed in seeds:
        found = fuzzed(seed, folder)
        if found is None:
            continue
        pattern, asked = found
        assert check_patterns((pattern,), asked, metals_of(asked)) == [], seed
        hem = asked.pieces[0].start_hem  # type: ignore[union-attr]
        corners += closes(pattern, 0 if hem is None else 1)
        made += 1
    return made, corners


def test_folded_in_space_the_ends_close_to_a_box(tmp_path: Path) -> None:
    made, corners = held(range(24), tmp_path)
    assert made >= 8
    assert corners >= 8


@pytest.mark.slow
def test_folded_in_space_many_ends_close(tmp_path: Path) -> None:
    made, corners = held(range(1000, 2000), tmp_path)
    assert made >= 350
    assert corners >= 400


@pytest.mark.parametrize("height", ["3/4 in", "1-1/2 in", "2 in"])
@pytest.mark.parametrize("legs", [("1 in", "5 in", "2 in"), ("2 in", "3 in", "2-1/2 in")])
def test_the_blank_is_the_sum_of_its_flats(legs: tuple[str, ...], height: str) -> None:
    p = made(legs=list(legs), end_dams=[{"leg": 2, "height": height, "tabs": "1/2 in"}])
    inch = p.grid / NM_PER_INCH
    wide, body = p.width_units * inch, 36.0
    flats = wide * body
    for end in p.ends:
        a, b, *_ = end.fold.flap
        base = p.length_units * inch - body  # both ends together
        flats += (b[0] - a[0]) * base / 2
        for tab in end.tabs:
            # what is left on beyond the end: from the end to the raw edge, its lower side at 45 degrees
            raw = abs(tab.flap[2][1] - (end.fold.line[0][1] + (1 if end.at == "A" else -1) * -end.fold.deduction / 2))
            long = abs(tab.flap[2][0] - tab.flap[3][0])
            flats += raw * long + raw * raw / 2
    assert area(p.snipped) == pytest.approx(flats, abs=1e-6)
    assert area(p.outline) - area(p.snipped) == pytest.approx(sum(area(n.removed) for n in p.notches), abs=1e-4)
    assert p.weight == pytest.approx(area(p.snipped) / 144)


# -- what is refused --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"end_dams": [{"leg": 2, "height": "2 in"}], "bends": [-90, 90]}, "do not stand to one side"),
        ({"end_dams": [{"leg": 1, "height": "2 in", "toward": "back", "tabs": "1/2 in"}]}, "nothing can be a tab"),
        ({"end_dams": [{"leg": 2, "height": "2 in", "tabs": "0 in"}], "bends": [60, 90]}, "leaves the corner open"),
        ({"end_dams": [{"leg": 2, "height": "2 in", "tabs": "3/8 in"}], "bends": [60, 90]}, "reach over the open"),
        ({"end_dams": [{"leg": 2, "height": "2 in", "tabs": "1-1/4 in"}]}, "a tab is narrower than its corner"),
        (
            {"end_dams": [{"leg": 2, "height": "4 in", "tabs": "1-1/2 in"}], "legs": ["4 in", "2 in", "4 in"]},
            "two tabs must not lie",
        ),
        (
            {"end_dams": [{"leg": 2, "height": "4 in"}], "legs": ["4 in", "3 in", "4 in"], "bends": [120, 120]},
            "of its raw edge is left",
        ),
        (
            {"end_dams": [{"leg": 3, "height": "2 in"}], "legs": ["1 in", "1 in", "5 in", "2 in"],
             "bends": [90, 90, 90]},
            "would run into leg 1",
        ),
        (
            {"returns": [{"leg": 1, "length": "3 in"}, {"leg": 3, "length": "3 in"}],
             "legs": ["2 in", "5 in", "2 in"], "bends": [90, 90]},
            "would lie over one another",
        ),
        ({"end_dams": [{"leg": 1, "height": "1 in"}], "bends": [160, 90]}, "lies over the end beside it"),
        ({"end_dams": [{"leg": 1, "height": "1 in", "toward": "face"}], "bends": [180, 90],
          "legs": ["3 in", "2 in", "2 in"]},
         "beside a fold of 180"),
        ({"end_dams": [{"leg": 2, "height": "2 in"}], "length": "118 in"}, "is made in one"),
        ({"end_dams": [{"leg": 2, "height": "6 in", "turned": 135}], "length": "8 in",
          "legs": ["1 in", "12 in", "1 in"], "bends": [90, 90]}, "lean in over one another"),
    ],
)  # fmt: skip
def test_what_cannot_be_closed_is_refused(keys: dict[str, Any], says: str) -> None:
    with pytest.raises(JobError, match=says):
        develop(strip(**keys), metals())


@pytest.mark.parametrize("bends", [[60, 90], [45, 75]])
def test_left_out_every_corner_has_the_tab_it_needs(bends: list[float]) -> None:
    keys: dict[str, Any] = {"bends": bends, "legs": ["3 in", "5 in", "3 in"]}
    dam = {"leg": 2, "height": "1 in"}
    with pytest.raises(JobError, match="or leave it out: each corner has what it needs"):
        develop(strip(end_dams=[{**dam, "tabs": "0 in"}], **keys), metals())
    wide = [tab.width for tab in made(end_dams=[dam], **keys).ends[0].tabs]
    assert wide[0] > 0.5
    assert (wide[1] == 0.5) == (bends[1] == 90)


# -- the checker ------------------------------------------------------------------------------------------------------


def end(p: FlatPattern, **changes: Any) -> FlatPattern:
    return replace(p, ends=(replace(p.ends[0], **changes), *p.ends[1:]))


def own(p: FlatPattern, **changes: Any) -> FlatPattern:
    return end(p, fold=replace(p.ends[0].fold, **changes))


def tab(p: FlatPattern, **changes: Any) -> FlatPattern:
    first, *rest = p.ends[0].tabs
    return end(p, tabs=(replace(first, **changes), *rest))


def moved(points: tuple[Point, ...], n: int, dx: float, dy: float) -> tuple[Point, ...]:
    return tuple((x + dx, y + dy) if k == n else (x, y) for k, (x, y) in enumerate(points))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda p: replace(p, ends=()), "the ends turned are not those asked for"),
        (lambda p: end(p, leg=3), "not those asked for"),
        (lambda p: end(p, joined="open"), "its corners are open"),
        (lambda p: end(p, rivets=9), "9 rivets a tab"),
        (lambda p: end(p, seam=1.0), "in long together"),
        (lambda p: end(p, between=0.0), "room between the legs"),
        (lambda p: end(p, tabs=()), "numbered on"),
        (lambda p: end(p, tabs=p.ends[0].tabs[:1]), "numbered on"),
        (lambda p: own(p, toward="back"), "turned to another side"),
        (lambda p: own(p, width=3.0), "width is 3"),
        (lambda p: own(p, edge=9), "numbered on"),
        (lambda p: own(p, flap=moved(p.ends[0].fold.flap, 2, 0.0, 0.1)), "higher than asked for"),
        (lambda p: own(p, flap=moved(p.ends[0].fold.flap, 3, -0.1, 0.0)), "in of the leg beside it"),
        (lambda p: own(p, flap=moved(p.ends[0].fold.flap, 3, 0.1, 0.0)), "off the leg beside it"),
        (lambda p: own(p, flap=moved(p.ends[0].fold.flap, 0, 0.1, 0.0)), "its flap begins"),
        (lambda p: tab(p, turned=80.0), "a tab is turned 80"),
        (lambda p: tab(p, width=0.6), "as wide as asked"),
        (lambda p: tab(p, flap=moved(p.ends[0].tabs[0].flap, 2, 0.0, -0.1)), "does not come out as wide"),
        (lambda p: tab(p, flap=moved(p.ends[0].tabs[0].flap, 0, 0.0, 0.1)), "does not begin on the outside"),
        (lambda p: replace(p, notches=p.notches[1:]), "the notches are not what is snipped off"),
        (lambda p: replace(p, snipped=p.outline), "crosses the line of a bend"),
        (lambda p: replace(p, length_units=p.length_units + 2), "not where what is turned ends"),
    ],
)
def test_a_wrong_end_is_found(change: Callable[[FlatPattern], FlatPattern], says: str) -> None:
    asked = strip(end_dams=[{"leg": 2, "height": "3/4 in", "tabs": "1/2 in"}], legs=["2 in", "5 in", "2 in"])
    (pattern,) = develop(asked, metals())
    found = check_patterns((change(pattern),), asked, metals())
    assert any(says in fault for fault in found), found
