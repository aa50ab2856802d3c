"""From tape readings to slopes: shapes, lean, misfit, refusals, edges and openings."""

from __future__ import annotations

import math
import random
import re
from typing import Any

import numpy as np
import pytest
import roof_jobs as rj
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from fabplan import plane
from fabplan.errors import JobError, PlanError
from fabplan.roof.measure.least_squares import Reading, adjust, change_alone, distance
from fabplan.roof.measure.shapes import DoesNotCloseError, four_sided, regular_spire, triangle_area
from fabplan.roof.measure.spire import irregular_spire
from fabplan.roof.measure.tape import measure_slopes
from fabplan.roof.model import Measured
from fabplan.roof.plan import plan_roof
from fabplan.roof.remarks import LeanUnknown
from fabplan.roof.words import disagree
from fabplan.speech.roof import notes as roof_notes

inch = "{} in".format


def one(**keys: Any) -> Measured:
    found, _ = measure_slopes(rj.job_with(rj.slope(**keys)), {})
    return found[0]


def refusal(**keys: Any) -> str:
    with pytest.raises(JobError) as fault:
        measure_slopes(rj.job_with(rj.slope(**keys)), {})
    return str(fault.value)


# -- closed shapes -----------------------------------------------------------------------------------------------------


def test_triangle_3_4_5() -> None:
    s = one(shape="triangle", bottom="50 in", left="30 in", right="40 in")
    assert s.outline[2] == pytest.approx((18.0, 24.0))
    assert s.area == pytest.approx(600)


def test_needle_triangle_area_is_stable() -> None:
    # W. Kahan, "Miscalculating area and angles of a needle-like triangle" (2000), table of examples (from memory):
    # sides 100000, 99999.99979, 0.00029 have area 9.999999990; the classic formula loses it
    assert triangle_area(100000.0, 99999.99979, 0.00029) == pytest.approx(9.999999990, rel=1e-6)


def test_triangle_by_height_stands_over_the_middle() -> None:
    s = one(shape="triangle", bottom="60 in", height="80 in")
    assert s.outline[2] == pytest.approx((30.0, 80.0))
    assert s.lean is None


@pytest.mark.parametrize(("top", "left_foot"), [(40, 10.0), (80, -10.0)])
def test_trapezoid_either_way_up(top: int, left_foot: float) -> None:
    left, right = math.hypot(10, 48), math.hypot(60 - top - left_foot, 48)
    sides = {"left": "valley", "right": "rake"} if top > 60 else {}  # wider at the top: to be said
    s = one(shape="trapezoid", bottom="60 in", top=inch(top), left=inch(left), right=inch(right), edges=sides)
    assert s.outline[3] == pytest.approx((left_foot, 48.0), abs=1e-5)
    assert s.outline[2] == pytest.approx((left_foot + top, 48.0), abs=1e-5)
    assert s.area == pytest.approx((60 + top) / 2 * 48, abs=1e-3)


def test_trapezoid_with_equal_sides_needs_a_diagonal() -> None:
    text = refusal(shape="trapezoid", bottom="60 in", top="60 in", left="48 in", right="48 in")
    assert "any lean fits: measure it as four-sided, with a diagonal" in text


def test_gable_of_a_wall() -> None:
    s = one(shape="gable", bottom="20 ft", left="10 ft", right="10 ft", height="20 ft")
    assert s.area / 144 == pytest.approx(300)
    assert [e.name for e in s.edges] == ["bottom", "right", "right_slant", "left_slant", "left"]
    t = one(shape="gable", bottom="20 ft", left_slant=inch(120 * math.sqrt(2)), right_slant=inch(120 * math.sqrt(2)))
    assert [e.name for e in t.edges] == ["bottom", "right_slant", "left_slant"]
    assert t.outline[2] == pytest.approx((120.0, 120.0), abs=1e-4)


def test_polygon_either_way_round_is_the_same_slope() -> None:
    points = [["0 in", "0 in"], ["60 in", "0 in"], ["70 in", "50 in"], ["10 in", "60 in"]]
    a = one(shape="polygon", points=points, edges={"2": "valley"})
    b = one(shape="polygon", points=points[::-1], edges={"3": "wall"})
    assert a.area == pytest.approx(b.area)
    assert plane.area(b.outline) > 0
    assert {e.name: e.kind for e in a.edges}["2"] == "valley"
    # reversed, edge 3 is typed from (60, 0) to (0, 0)
    wall = next(e for e in b.edges if e.kind == "wall")
    assert wall.name == "3"
    assert (wall.start, wall.end) == ((0.0, 0.0), (60.0, 0.0))


@pytest.mark.parametrize("n", [3, 4, 5, 6, 8, 12])
def test_regular_spire_angles_against_corners_in_space(n: int) -> None:
    spire = regular_spire(n, 40.0, top_side=12.0, height=90.0)
    step = 2 * math.pi / n

    def ring(side: float, z: float) -> np.ndarray:
        r = side / (2 * math.sin(math.pi / n))
        return np.array([(r * math.cos(k * step), r * math.sin(k * step), z) for k in range(3)])

    low, high = ring(40.0, 0.0), ring(12.0, 90.0)
    normals = [np.cross(low[k + 1] - low[k], high[k] - low[k]) for k in (0, 1)]
    normals = [m / np.linalg.norm(m) for m in normals]
    assert spire.bend == pytest.approx(math.degrees(math.acos(normals[0] @ normals[1])), abs=1e-9)
    assert spire.pitch == pytest.approx(math.degrees(math.acos(abs(normals[0][2]))), abs=1e-9)
    hip = high[0] - low[0]
    assert spire.hip == pytest.approx(float(np.linalg.norm(hip)))
    along = (low[1] - low[0]) / np.linalg.norm(low[1] - low[0])
    angle = math.degrees(math.acos(float(along @ hip) / float(np.linalg.norm(hip))))
    assert spire.base_angle == pytest.approx(angle, abs=1e-9)


def test_spire_by_height_slant_or_hip_is_one_spire() -> None:
    a = regular_spire(5, 40.0, height=90.0)
    assert regular_spire(5, 40.0, slant=a.slant).height == pytest.approx(90)
    assert regular_spire(5, 40.0, hip=a.hip).height == pytest.approx(90)


# -- redundant readings ------------------------------------------------------------------------------------------------

corner = st.tuples(st.floats(-8, 8), st.floats(-8, 8))


@settings(max_examples=40, deadline=None)
@given(corner, corner, corner, st.floats(-1.5, 1.5))
def test_second_diagonal_shows_just_what_it_is_off_by(a: tuple, b: tuple, c: tuple, off: float) -> None:
    p = np.array([(0, 0), (96 + a[0], 0), (88 + b[0], 130 + b[1]), (6 + c[0], 128 + c[1])])
    names = {"bottom": (0, 1), "right": (1, 2), "top": (2, 3), "left": (3, 0), "up": (0, 2), "back": (1, 3)}
    true = {k: float(np.linalg.norm(p[i] - p[j])) for k, (i, j) in names.items()}

    def fitted(extra: float) -> tuple[Any, list[Reading]]:
        readings = [
            Reading(name=k, of=distance(i, j), read=true[k] + (extra if k == "back" else 0.0), sigma=1 / 16)
            for k, (i, j) in names.items()
        ]
        return adjust(p, readings), readings

    exact, _ = fitted(0.0)
    assert exact.redundancy == 1
    assert np.abs(exact.corrections).max() < 1e-9
    fit, readings = fitted(off)
    assert change_alone(fit, readings, 5) == pytest.approx(-off, abs=1e-6)
    if abs(off) > 0.05:
        # with one redundancy every reading looks equally wrong: nothing can say which tape is off
        sizes = np.abs(fit.standardised)
        assert sizes.max() - sizes.min() < 1e-3 * sizes.max()


def four(off: float = 0.0, **more: Any) -> dict[str, Any]:
    p = [(0, 0), (96, 0), (88, 130), (6, 128)]
    d = [math.dist(p[i], p[j]) for i, j in ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3))]
    keys = ("bottom", "right", "top", "left", "diagonal_up_right", "diagonal_up_left")
    return {
        "shape": "four-sided",
        **{k: inch(round(v, 6)) for k, v in zip(keys, [*d[:5], d[5] + off], strict=True)},
        **more,
    }


def test_four_sided_from_either_diagonal() -> None:
    keys = four()
    both = one(**keys)
    for left_out in ("diagonal_up_right", "diagonal_up_left"):
        s = one(**{k: v for k, v in keys.items() if k != left_out})
        assert s.misfit is None
        assert np.allclose(s.outline, both.outline, atol=1e-5)
    assert both.misfit is not None
    assert both.misfit.disagreement < 1e-5


def test_misfit_is_told_without_naming_a_tape() -> None:
    s = one(**four(0.5))
    assert s.misfit is not None
    assert s.misfit.disagreement == pytest.approx(0.5, abs=1e-4)
    assert "any one of them may be off" in disagree(s.misfit)
    by_name = {r.name: r for r in s.misfit.readings}
    assert len(by_name) == 6
    # every reading alone could make it close
    p = {k: r.read for k, r in by_name.items()}
    for name, reading in by_name.items():
        closed = dict(p)
        assert reading.alone is not None
        closed[name] += reading.alone
        up, back = closed.pop("diagonal_up_right"), closed.pop("diagonal_up_left")
        corners = four_sided(**closed, up_right=up)
        assert math.dist(corners[1], corners[3]) == pytest.approx(back, abs=1e-4)
    job = rj.job_with(rj.slope(**four(0.5)))
    plan = plan_roof(job, rj.patterns())
    said = [n for n in roof_notes(plan, job) if "disagree" in n]
    assert len(said) == 1
    assert "disagree by 0.50 in" in said[0]
    assert "can not tell which" in said[0]


def test_more_than_two_inches_apart_is_refused_unless_told_to_go_on() -> None:
    text = refusal(**four(2.4))
    assert "the readings disagree by 2.40 in, more than 2.00 in" in text
    assert "go_on = true" in text
    s = one(**four(2.4, go_on=True))
    assert s.misfit is not None
    assert s.misfit.disagreement == pytest.approx(2.4, abs=1e-3)


def test_a_slant_and_a_height_that_disagree() -> None:
    s = one(shape="triangle", bottom="60 in", left="100 in", right="100 in", height="96 in")
    true = math.sqrt(100**2 - 30**2)
    assert s.misfit is not None
    assert s.misfit.disagreement == pytest.approx(96 - true, abs=1e-3)
    assert true < max(y for _, y in s.outline) < 96


# -- lean --------------------------------------------------------------------------------------------------------------


def test_lean_is_amplified_from_the_slants() -> None:
    s = one(shape="triangle", bottom="120 in", left="361 in", right="360 in")
    assert s.lean is not None
    assert s.lean.amount == pytest.approx((361**2 - 360**2) / 240)
    s = one(shape="triangle", bottom="120 in", left="366 in", right="360 in")
    assert s.lean is not None
    assert s.lean.amount == pytest.approx(18.15, abs=0.01)


def test_lean_uncertainty_against_draws() -> None:
    tape = 1 / 8
    spread = base_tape("1/8 in")
    keys = {"shape": "triangle", "bottom": "60 in", "left": "240 in", "right": "240 in"}
    found, _ = measure_slopes(rj.job_with(rj.slope(**keys), spread=spread), {})
    lean = found[0].lean
    assert lean is not None
    rng = random.Random(11)
    draws = [
        ((240 + rng.gauss(0, tape)) ** 2 - (240 + rng.gauss(0, tape)) ** 2) / (2 * (60 + rng.gauss(0, tape)))
        for _ in range(4000)
    ]
    sd = float(np.std(draws))
    assert abs(lean.sigma - sd) < 4 * sd / math.sqrt(2 * len(draws))
    assert not lean.known


def base_tape(tape: str) -> Any:
    spread = rj.base()[0].spread
    return type(spread).model_validate(
        {"shear": "1/64 in", "fold": "1/64 in", "play": "1/32 in", "tape": tape}, context={"units": "in"}
    )


def test_a_lean_below_two_sigmas_is_called_straight() -> None:
    s = one(shape="triangle", bottom="60 in", left="240-1/16 in", right="240 in")
    assert any(isinstance(n, LeanUnknown) for n in s.notes)


# -- irregular spires --------------------------------------------------------------------------------------------------


def spire_readings(rng: random.Random, n: int) -> tuple[np.ndarray, list[float], list[float]]:
    corners = []
    for k in range(n):
        at = 2 * math.pi * (k + rng.uniform(-0.12, 0.12)) / n
        corners.append((60 * math.cos(at) * rng.uniform(0.9, 1.1), 60 * math.sin(at) * rng.uniform(0.9, 1.1), 0.0))
    p = np.array([*corners, (rng.uniform(-5, 5), rng.uniform(-5, 5), rng.uniform(120, 300))])
    eaves = [float(np.linalg.norm(p[(i + 1) % n] - p[i])) for i in range(n)]
    hips = [float(np.linalg.norm(p[n] - p[i])) for i in range(n)]
    return p, eaves, hips


@pytest.mark.parametrize("seed", range(12))
def test_spire_is_recovered_from_its_sizes(seed: int) -> None:
    rng = random.Random(seed)
    n = rng.choice([3, 4, 5, 6, 8])
    p, eaves, hips = spire_readings(rng, n)
    extra = [(0, 2, float(np.linalg.norm(p[0] - p[2])))] if n > 3 and seed % 2 else []
    found = irregular_spire(eaves, hips, extra)
    assert found.fit.redundancy == len(extra)
    for i in range(n):
        b, w = found.base[i], found.base[(i + 1) % n]
        assert math.dist(b, w) == pytest.approx(eaves[i], abs=1e-6)
        assert math.dist((*b, 0.0), found.apex) == pytest.approx(hips[i], abs=1e-6)
        left, right, top = found.face(i)
        assert math.dist(left, top) == pytest.approx(hips[i], abs=1e-6)
        assert math.dist(right, top) == pytest.approx(hips[(i + 1) % n], abs=1e-6)
    assert found.apex[2] == pytest.approx(p[n, 2], abs=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_slants_do_as_well_as_hips(seed: int) -> None:
    """With a tape across where the slopes are even in number: a base of such sides racks without changing a slant."""
    rng = random.Random(seed)
    n = rng.choice([3, 4, 5, 6, 8])
    p, eaves, hips = spire_readings(rng, n)
    slants = [float(np.linalg.norm(p[n] - (p[i] + p[(i + 1) % n]) / 2)) for i in range(n)]
    across = [] if n % 2 else [(0, 2, float(np.linalg.norm(p[0] - p[2])))]
    found = irregular_spire(eaves, [], across, slants=slants)
    for i in range(n):
        assert math.dist((*found.base[i], 0.0), found.apex) == pytest.approx(hips[i], abs=1e-5)
    both = irregular_spire(eaves, hips, across, slants=[slants[0] + 1.0, *slants[1:]])
    assert both.fit.redundancy >= n
    worst = int(np.argmax(np.abs(both.fit.standardised)))
    assert both.readings[worst].name == "slant 1"
    if across:
        with pytest.raises(DoesNotCloseError, match="free to rack"):
            irregular_spire(eaves, [], slants=slants)


def test_a_regular_spire_given_as_irregular_is_the_regular_one() -> None:
    regular = regular_spire(6, 48.0, height=150.0)
    found = irregular_spire([48.0] * 6, [regular.hip] * 6)
    assert found.bends == pytest.approx([regular.bend] * 6)
    assert found.pitches == pytest.approx([regular.pitch] * 6)
    assert found.plan_corners == pytest.approx([120.0] * 6)


def test_spire_uncertainty_against_draws() -> None:
    rng = random.Random(5)
    p, eaves, hips = spire_readings(rng, 4)
    tape = 1 / 16
    exact = irregular_spire(eaves, hips, sigma=tape)
    corners = []
    for _ in range(80):
        noisy = irregular_spire([e + rng.gauss(0, tape) for e in eaves], [h + rng.gauss(0, tape) for h in hips])
        corners.append(noisy.plan_corners)
    sd = np.std(np.array(corners), axis=0).max()
    assert abs(sd - exact.plan_corner_sigma) < 4 * exact.plan_corner_sigma / math.sqrt(2 * 80)
    diagonal = [(0, 2, float(np.linalg.norm(p[0] - p[2])))]
    assert irregular_spire(eaves, hips, diagonal, sigma=tape).plan_corner_sigma < exact.plan_corner_sigma / 2


# -- refusals ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        (
            {"shape": "triangle", "bottom": "100 in", "left": "40 in", "right": "50 in"},
            "the two shorter sides do not reach along the longest, by 10.00 in",
        ),
        (
            {"shape": "four-sided", "bottom": "60 in", "right": "60 in", "top": "60 in", "left": "60 in",
             "diagonal_up_right": "130 in"},
            "by 10.00 in",
        ),
        ({"shape": "regular-spire", "sides": 4, "side": "60 in", "slant": "29 in"}, "by 1.00 in"),
        ({"shape": "regular-spire", "sides": 4, "side": "60 in", "hip": "25 in"}, "by 5.00 in"),
        (
            {"shape": "irregular-spire", "eaves": ["60 in"] * 4, "hips": ["20 in", "20 in", "90 in", "90 in"]},
            "the two hips of slope 1 do not meet over its eave, by 20.00 in",
        ),
        (
            {"shape": "irregular-spire", "eaves": ["90 in", "20 in", "30 in", "30 in"], "hips": ["90 in"] * 4},
            "the other eaves do not reach along the longest, by 10.00 in",
        ),
        (
            {"shape": "polygon", "points": [["0 in", "0 in"], ["9 in", "9 in"], ["9 in", "0 in"], ["0 in", "9 in"]]},
            "crosses itself",
        ),
        (
            {"shape": "polygon", "points": [["0 in", "0 in"], ["9 in", "0 in"], ["9 in", "0 in"], ["0 in", "9 in"]]},
            "two corner points of the outline fall together",
        ),
        ({"shape": "rectangle", "bottom": "60 in", "height": "60 in", "edges": {"front": "wall"}}, "no such edge"),
        (
            {"shape": "rectangle", "bottom": "60 in", "height": "60 in", "eave_drop": "61 in"},
            "must be less than the eave's length",
        ),
        (
            {"shape": "rectangle", "bottom": "60 in", "height": "60 in",
             "openings": [{"from_left": "70 in", "up": "0 in", "width": "5 in", "height": "5 in"}]},
            "the opening lies outside the slope",
        ),
        (
            {"shape": "rectangle", "bottom": "60 in", "height": "60 in",
             "openings": [{"from_left": "0 in", "up": "0 in", "width": "70 in", "height": "70 in"}]},
            "the opening leaves nothing of the slope",
        ),
        (
            {"shape": "regular-spire", "sides": 4, "side": "60 in", "height": "90 in",
             "openings": [{"slope": 5, "from_left": "20 in", "up": "5 in", "width": "5 in", "height": "5 in"}]},
            "an opening's slope is a number from 1 to 4 (found 5)",
        ),
    ],
)  # fmt: skip
def test_refusals_say_by_how_much(keys: dict[str, Any], says: str) -> None:
    with pytest.raises(JobError) as fault:
        plan_roof(rj.job_with(rj.slope(**keys)), rj.patterns())
    text = str(fault.value)
    assert says in text
    assert 'slope "x"' in text
    # never which tape: no reading is called wrong
    assert not re.search(r"(left|right|bottom|top|diagonal\w*) is (wrong|off)", text)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"shape": "rectangle", "bottom": "60 in"}, "a rectangle also needs height"),
        (
            {"shape": "rectangle", "bottom": "60 in", "height": "60 in", "left": "3 in"},
            "left is not a size of a rectangle",
        ),
        (
            {"shape": "four-sided", "bottom": "1 in", "right": "1 in", "top": "1 in", "left": "1 in"},
            "four sides alone fix no shape",
        ),
        (
            {"shape": "regular-spire", "sides": 4, "side": "9 in", "across_flats": "9 in", "height": "9 in"},
            "side and across_flats say the same thing",
        ),
        (
            {"shape": "regular-spire", "sides": 4, "side": "9 in", "slant": "9 in", "height": "9 in"},
            "give one of height, slant, hip",
        ),
        ({"shape": "irregular-spire", "eaves": ["9 in"] * 4, "hips": ["9 in"] * 3}, "as many hips as eaves"),
        (
            {"shape": "rectangle", "bottom": "9 in", "height": "9 in", "run_past": {"left": "1 in"},
             "stop_short": {"left": "1 in"}},
            "run_past and stop_short both name the left edge",
        ),
        (
            {"shape": "rectangle", "bottom": "9 in", "height": "9 in", "openings": [{"from_left": "1 in"}]},
            "an opening needs up and width and height (or points)",
        ),
    ],
)  # fmt: skip
def test_schema_asks_for_what_a_shape_needs(keys: dict[str, Any], says: str) -> None:
    with pytest.raises(ValidationError, match=re.escape(says)):
        rj.slope(**keys)


def test_does_not_close_carries_how_much() -> None:
    with pytest.raises(DoesNotCloseError) as fault:
        triangle_area(10, 4, 5)
    assert fault.value.short == pytest.approx(1)


# -- edges and openings ------------------------------------------------------------------------------------------------


def test_edge_kinds_by_direction_and_by_override() -> None:
    s = one(shape="rectangle", bottom="60 in", height="60 in")
    assert [e.kind for e in s.edges] == ["eave", "rake", "ridge", "rake"]
    s = one(shape="trapezoid", bottom="60 in", top="20 in", height="40 in", edges={"left": "valley", "top": "wall"})
    assert [e.kind for e in s.edges] == ["eave", "hip", "wall", "valley"]
    s = one(shape="rectangle", bottom="60 in", height="60 in", edges={"2": "hip"}, run_past={"4": "1/2 in"})
    assert s.edges[1].kind == "hip"
    assert s.edges[3].reach == pytest.approx(0.5)


def test_reach_by_kind() -> None:
    rules = rj.roof(cap_leg="4 in", underlap="1-1/2 in", valley_short="2-1/2 in")
    keys = {"shape": "trapezoid", "bottom": "90 in", "top": "40 in", "height": "60 in", "edges": {"left": "valley"}}
    found, _ = measure_slopes(rj.job_with(rj.slope(**keys), rules=rules), {"A": 0.7})
    assert {e.name: e.reach for e in found[0].edges} == {"bottom": 0.0, "right": -2.5, "top": -2.5, "left": -2.5}
    assert found[0].edges[0].fold == 0.7


def test_opening_edges_seen_from_the_metal() -> None:
    keys = {"shape": "rectangle", "bottom": "60 in", "height": "60 in"}
    s = one(
        **keys, openings=[{"from_left": "20 in", "up": "10 in", "width": "8 in", "height": "30 in", "name": "flue"}]
    )
    assert s.area == pytest.approx(3600 - 240)
    kinds = {e.kind: (e.start[1] + e.end[1]) / 2 for e in s.holes[0].edges}
    assert kinds["sill"] == pytest.approx(10)
    assert kinds["head"] == pytest.approx(40)
    bite = one(
        **keys, openings=[{"from_left": "20 in", "up": "-5 in".replace("-", ""), "width": "8 in", "height": "90 in"}]
    )
    assert bite.area == pytest.approx(3600 - 8 * 55)
    assert sum(e.kind == "open" for e in bite.holes[0].edges) == 1


def test_nothing_left_is_said() -> None:
    rules = rj.roof(cap_leg="40 in", underlap="0 in", least_underlap="0 in")
    with pytest.raises(PlanError, match="Nothing is left to cover on slope x"):
        plan_roof(
            rj.job_with(rj.slope(shape="regular-spire", sides=4, side="30 in", height="40 in"), rules=rules),
            rj.patterns(),
        )


def test_too_many_pieces_is_refused_with_a_number() -> None:
    with pytest.raises(PlanError, match=r"would take about [\d,]+ pieces; at most 50,000"):
        plan_roof(rj.job_with(rj.slope(shape="rectangle", bottom="2000 ft", height="2000 ft")), rj.patterns())


@pytest.mark.parametrize(("left", "right"), [(90, 40), (40, 90)])
def test_an_ell_is_a_rectangle_less_one_upper_corner(left: int, right: int) -> None:
    taped = {"bottom": "100 in", "top": "30 in", "left": f"{left} in", "right": f"{right} in"}
    job = rj.job_with(rj.slope(shape="ell", **taped))
    (found,), _ = measure_slopes(job, {})
    assert found.area == 100 * 90 - 70 * 50
    lengths = {e.name: math.dist(e.start, e.end) for e in found.edges}
    assert lengths == {"bottom": 100, "right": right, "top": 30, "left": left, "ledge": 70, "return": 50}
    assert {e.name: e.kind for e in found.edges} == {
        "bottom": "eave", "right": "rake", "left": "rake", "return": "rake", "top": "ridge", "ledge": "ridge"
    }  # fmt: skip
