"""What follows from the layout: caps, hips, edges, underlayment, fasteners, kits, counts, data."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from itertools import pairwise
from typing import Any

import pytest
import roof_jobs as rj
from hypothesis import given
from hypothesis import strategies as st

from fabplan.blanks.develop import develop
from fabplan.errors import JobError, PlanError
from fabplan.plan.codec import written
from fabplan.plan.forms import Scale
from fabplan.plan.make import metals_of
from fabplan.roof.extras.edges import pieces_for
from fabplan.roof.extras.underlayment import rows_for
from fabplan.roof.lay.hips import meeting, repeating_angles
from fabplan.roof.lay.layout import lay
from fabplan.roof.measure.shapes import polygon_side, regular_spire
from fabplan.roof.model import RoofPlan, SlopeLayout
from fabplan.roof.parts.alike import NumberedShapes
from fabplan.roof.plan import plan_roof
from fabplan.roof.remarks import ApexCap, Choice, NoApexCap
from fabplan.speech.roof import notes as roof_notes
from fabplan.speech.roof_tables import count_tables, kit_says

OFFER = re.compile(
    r"A choice for .*: with top_angle = ([\d.]+) .* (\d+) cut shapes to make templates of instead of (\d+), "
    r"([\d,]+) whole blanks, pairs taken off, instead of"
)
SPIRE = {"shape": "regular-spire", "sides": 4, "side": "90 in", "slant": "160 in"}
WING = {"shape": "rectangle", "bottom": "120 in", "height": "90 in", "count": 2, "pitch": 40}


def plan(*keys: dict[str, Any], rules: dict[str, Any] | None = None, **parts: Any) -> RoofPlan:
    slopes = tuple(rj.slope(**{"name": f"s{i}", **k}) for i, k in enumerate(keys))
    return plan_roof(rj.job_with(*slopes, rules=rj.roof(**(rules or {})), **parts), rj.patterns())


# -- hips --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("n", "at"), [(4, "50 %"), (5, "0 %"), (6, "100 %"), (8, "50 %")])
def test_lattices_of_a_regular_spire_meet_at_the_hips(n: int, at: str) -> None:
    keys = {"shape": "regular-spire", "sides": n, "across_flats": "80 in", "height": "170 in"}
    out = plan(keys, rules={"hips": "wrapped", "centre_at": at})
    met = meeting(out.slopes[0], out.slopes[0])
    assert met is not None
    assert max(met.side, met.plumb) < 1e-9
    assert {e.reach for e in out.slopes[0].slope.edges if e.kind == "hip"} == {0.75}
    assert not [r for r in out.edge_runs if r.kind == "hip"]
    # the pieces along both hips are mirror images
    kinds = Counter(p.kind for p in out.slopes[0].pieces)
    assert kinds["cut-left"] == kinds["cut-right"]


def test_wrapped_hips_that_do_not_meet_are_refused_with_the_mismatch() -> None:
    keys = {
        "shape": "irregular-spire",
        "eaves": ["96 in", "99 in", "94 in", "98 in"],
        "hips": ["190 in", "191 in", "189 in", "192 in"],
    }
    with pytest.raises(PlanError, match=r"can not be wrapped: .* miss each other by \d+\.\d\d in.*at most 0.25 in"):
        plan(keys, rules={"hips": "wrapped"})
    with pytest.raises(PlanError, match="what meets it there is not known"):
        plan({"shape": "triangle", "bottom": "60 in", "height": "60 in"}, rules={"hips": "wrapped"})


@pytest.mark.parametrize("n", [4, 8])
def test_cuts_along_a_hip_repeat_at_the_offered_top_angle(n: int) -> None:
    """The rule is our own; here it is tried: shapes along the hips at an offered angle against the square diamond."""
    spire = regular_spire(n, 192.0 if n == 4 else polygon_side(8, across_flats=120), slant=360.0)

    def distinct(angle: float) -> int:
        sorter = NumberedShapes()
        laid = lay(
            rj.measured(spire.face),
            rj.lattice(angle=angle),
            rj.roof(),
            alignment="point",
            centre_x=spire.side / 2,
            base=0.0,
        )
        for p in laid.pieces:
            if p.kind in ("cut-left", "cut-right"):
                sorter.number(p.metal)
        return len(sorter.shapes)

    every, angle = min(repeating_angles(spire.base_angle), key=lambda o: abs(o[1] - 90))
    assert every % 2 == 1
    assert math.tan(math.radians(angle / 2)) * math.tan(math.radians(spire.base_angle)) == pytest.approx(every)
    assert distinct(angle) < distinct(90.0) / 2


@pytest.mark.parametrize(("sides", "side", "height"), [(4, "72 in", "130 in"), (6, "60 in", "110 in")])
def test_the_offered_choice_comes_true(sides: int, side: str, height: str) -> None:
    """The page offers an angle with figures; the roof laid with that angle, developed anew, has just those figures."""
    keys = {"shape": "regular-spire", "sides": sides, "side": side, "height": height}
    job = rj.job_with(rj.slope(**keys))
    found = [re.match(OFFER, n) for n in roof_notes(plan_roof(job, rj.patterns()), job)]
    offers = [m for m in found if m]
    assert offers, "a regular spire of this slope has a top angle that needs fewer templates"
    for m in offers:
        angle, shapes, before, blanks = float(m[1]), int(m[2]), int(m[3]), int(m[4])
        assert shapes <= 0.75 * before
        pieces = tuple(p.model_copy(update={"top_angle": angle}) if p.mark == "A" else p for p in job.pieces)
        other = job.model_copy(update={"pieces": pieces})
        roof = plan_roof(other, develop(other, metals_of(other)))
        assert (len(roof.shapes), dict(roof.counts)["A"]) == (shapes, blanks)


def test_no_choice_is_offered_where_hips_are_not_alike_or_courses_are_closed_up() -> None:
    uneven = {"shape": "triangle", "bottom": "72 in", "left": "130 in", "right": "138 in"}
    even = {"shape": "regular-spire", "sides": 4, "side": "72 in", "height": "130 in"}
    for keys, rules in ((uneven, {}), (even, {"even_courses": True})):
        assert not [n for n in plan(keys, rules=rules).notes if isinstance(n, Choice)]


def test_apex_cap_ends_the_pieces_on_a_course_line() -> None:
    out = plan(SPIRE, rules={"cap_leg": "3 in", "underlap": "2 in"})
    s = out.slopes[0]
    assert s.cap_line is not None
    end = s.cap_line + 2.0
    assert (end - s.base) / s.course == pytest.approx(round((end - s.base) / s.course))
    width = 90 * (160 - s.cap_line) / 160
    assert width >= s.spacing
    assert 90 * (160 - s.cap_line - s.course) / 160 < s.spacing
    assert max(y for ring in s.region for _, y in ring) == pytest.approx(end)
    note = next(n for n in s.notes if isinstance(n, ApexCap))
    assert note.narrow is not None and note.narrow < note.length
    bare = plan(SPIRE, rules={"apex_cap": False}).slopes[0]
    assert bare.cap_line is None
    wide = plan(SPIRE, rules={"apex_width": "30 in"}).slopes[0]
    assert wide.cap_line is not None
    assert wide.cap_line < s.cap_line


def test_a_cap_that_would_swallow_a_small_spire_is_not_planned() -> None:
    out = plan({**SPIRE, "side": "20 in", "slant": "24 in"}, rules={"apex_width": "19 in"})
    assert out.slopes[0].cap_line is None
    assert any(isinstance(n, NoApexCap) for n in out.slopes[0].notes)


# -- centre line -------------------------------------------------------------------------------------------------------


def test_better_takes_the_alignment_with_fewer_blanks() -> None:
    def blanks(centre: str) -> int:
        return sum(dict(plan(SPIRE, rules={"centre": centre}).counts)[m] for m in ("A", "S", "T"))

    assert blanks("better") == min(blanks("point"), blanks("joint"))
    own = plan({**SPIRE, "centre": "joint"}, rules={"centre": "point"})
    assert own.slopes[0].alignment == "joint"


# -- edges -------------------------------------------------------------------------------------------------------------


@given(st.floats(1, 2000), st.floats(20, 144), st.floats(0, 12))
def test_strips_just_cover_a_run(length: float, stock: float, lap: float) -> None:
    n = pieces_for(length, stock, lap)
    assert n * stock - (n - 1) * lap >= length - 1e-6
    assert n == 1 or (n - 1) * stock - (n - 2) * lap < length


@pytest.mark.published("Copper in Architecture Design Handbook (Copper Development Association, pub. A4050)")
def test_twenty_feet_of_ten_foot_strips_lapped_three_inches_take_three() -> None:
    # 10 ft lengths, ends lapped 3 in: Copper in Architecture Design Handbook (CDA), 9.7
    assert pieces_for(240, 120, 3) == 3
    assert pieces_for(120, 120, 3) == 1
    assert pieces_for(237, 120, 3) == 2


def test_runs_along_edges() -> None:
    out = plan(
        SPIRE, {**WING, "openings": [{"from_left": "40 in", "up": "20 in", "width": "20 in", "height": "30 in"}]}
    )
    by_kind = Counter[str]()
    for r in out.edge_runs:
        by_kind[r.kind] += r.times
    # a ridge lies between both wings: one run, not two
    assert by_kind == {"eave": 6, "hip": 4, "ridge": 1, "rake": 4, "sill": 2, "head": 2, "jamb": 4}
    hip = next(r for r in out.edge_runs if r.kind == "hip")
    s = out.slopes[0]
    assert s.cap_line is not None
    full = math.hypot(160, 45)
    assert hip.length == pytest.approx(full * s.cap_line / 160 + 2 * 3)
    counts = dict(out.counts)
    assert counts["D"] == 4 * pieces_for(90, 48, 3) + 2 * pieces_for(120, 48, 3)
    assert counts["H"] == 4 * pieces_for(hip.length, 48, 3)


def test_a_mark_along_an_edge_must_be_a_section() -> None:
    with pytest.raises(JobError, match=r"roof > eave_piece: names the section .* \(found \"A\"\)"):
        plan(WING, rules={"eave_piece": "A"})


# -- underlayment ------------------------------------------------------------------------------------------------------


def test_a_roll_covers_gross_and_net() -> None:
    # 36 in x 66.7 ft with 3-1/2 in side and 6 in end laps: 200.1 sq ft gross, 179.3 net (common practice, no source)
    rules = rj.roof()
    width, length = rules.roll_width / 25.4e6, rules.roll_length / 25.4e6
    assert width * length / 144 == pytest.approx(200.1, abs=0.05)
    net = (width - rules.roll_side_lap / 25.4e6) * (length - rules.roll_end_lap / 25.4e6)
    assert net / 144 == pytest.approx(179.3, abs=0.05)


@given(st.floats(1, 500), st.floats(12, 48), st.floats(0, 6))
def test_rows_just_cover_a_height(height: float, width: float, lap: float) -> None:
    n = rows_for(height, width, lap)
    assert width + (n - 1) * (width - lap) >= height - 1e-6
    assert n == 1 or width + (n - 2) * (width - lap) < height


def test_runs_are_counted_row_by_row_and_never_by_area() -> None:
    out = plan(SPIRE, {**WING, "count": 1})
    spire, wing = out.underlayment
    exposed = 36 - 3.5
    for row, run in enumerate(spire.runs):
        assert run == pytest.approx(90 * (160 - row * exposed) / 160 + 2 * 6)
    assert wing.runs == pytest.approx([120.0] * 3)
    assert spire.times == 4
    assert spire.total == pytest.approx(4 * sum(spire.runs))
    for u in out.underlayment:
        assert u.rolls > u.rolls_by_area


# -- fasteners ---------------------------------------------------------------------------------------------------------


def test_fasteners_by_piece_and_by_spacing() -> None:
    out = plan({**WING, "count": 1}, rules={"nails_per_piece": 1, "cleats_per_piece": 2, "nails_per_cleat": 2})
    counts = {f.what: f.count for f in out.fasteners}
    pieces = sum(dict(out.pieces).values())
    assert counts["shingle nails"] == pieces
    assert counts["shingle cleats"] == 2 * pieces
    assert counts["edge strip nails"] == 120 // 3 + 1
    caps = 2 * (120 // 12 + 1)
    assert counts["cap cleats"] == caps
    assert counts["cleat nails"] == 2 * (2 * pieces + caps)


# -- kits --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("most", "heaviest"), [(30, None), (200, 40.0), (12, 8.0), (3, None), (5, 0.1)])
def test_kits_hold_every_piece_once_and_keep_the_limits(most: int, heaviest: float | None) -> None:
    handling = rj.base()[0].handling.model_copy(update={"lift_limit": heaviest})
    slopes = tuple(rj.slope(**{"name": f"s{i}", **k}) for i, k in enumerate((SPIRE, WING)))
    job = rj.job_with(*slopes, rules=rj.roof(kit_pieces=most), handling=handling)
    out = plan_roof(job, rj.patterns())
    packed: Counter[tuple[str, str, int]] = Counter()
    for kit in out.kits:
        assert kit.pieces == sum(i.count for i in kit.items) <= most
        if heaviest is not None:
            assert kit.pounds <= heaviest + 1e-9 or (kit.over and kit.pieces == 1)
        for i in kit.items:
            packed[i.mark, i.kind, i.shape] += i.count
    laid: Counter[tuple[str, str, int]] = Counter()
    for s in out.slopes:
        for p in s.pieces:
            laid[p.mark, p.kind, p.shape] += s.slope.times
    assert packed == laid
    assert len({k.label for k in out.kits}) == len(out.kits)
    if heaviest == 0.1:
        assert any("heavier than the lift limit" in n for n in roof_notes(out, job))


def test_kits_go_up_course_by_course() -> None:
    out = plan(SPIRE, rules={"kit_pieces": 60})
    spans = [(k.first_course, k.last_course) for k in out.kits]
    assert spans == sorted(spans)
    assert spans[0][0] == 0
    assert all(b[0] == a[1] + 1 for a, b in pairwise(spans))
    assert out.kits[0].label.startswith("s0: kit 1 of ")
    assert "A whole" in kit_says(out.kits[1])


# -- counts ------------------------------------------------------------------------------------------------------------


def test_blanks_are_pieces_less_pairs() -> None:
    out = plan(SPIRE, {**WING, "height": "96 in"}, rules={"even_courses": True})
    pieces, counts = dict(out.pieces), dict(out.counts)
    paired = sum(p.times for p in out.pairs)
    assert paired > 0
    assert counts["A"] == pieces["A"] - paired
    assert counts["S"] == pieces["S"] > 0
    assert counts["T"] == pieces["T"] > 0
    shapes = sum(s.same + s.mirrored for s in out.shapes)
    assert shapes == 2 * paired + sum(p.times for p in out.leftover)
    single = plan(SPIRE, rules={"pair": False})
    assert not single.pairs
    assert dict(single.counts)["A"] == dict(single.pieces)["A"]


def test_a_count_beside_a_slope_is_an_error_that_shows_both() -> None:
    job = rj.job_with(rj.slope(**WING))
    pieces = tuple(p.model_copy(update={"count": 640}) if p.mark == "A" else p for p in job.pieces)
    with pytest.raises(JobError, match=r'piece "A" > count: has a count of 640, and the slopes take \d+') as fault:
        plan_roof(job.model_copy(update={"pieces": pieces}), rj.patterns())
    assert fault.value.exit_code == 2


def test_a_slope_names_a_diamond() -> None:
    with pytest.raises(JobError, match=r'names the diamond laid on it.*found "D".*Write "A"'):
        plan_roof(rj.job_with(rj.slope(**{**WING, "piece": "D"})), rj.patterns())
    with pytest.raises(JobError, match="two slopes have this name"):
        plan_roof(rj.job_with(rj.slope(**WING), rj.slope(**WING)), rj.patterns())


def test_rake_halves_lie_on_rakes_seen_facing_the_roof() -> None:
    lattice = rj.patterns()[0].lattice
    assert lattice is not None
    job = rj.job_with(
        rj.slope(shape="rectangle", bottom=f"{6 * lattice.spacing:.6f} in", height="80 in"),
        rules=rj.roof(centre="point"),
    )
    template = next(p for p in job.pieces if p.mark == "S")
    rakes = tuple(
        template.model_copy(update={"mark": mark, "kind": kind})
        for mark, kind in (("L", "rake-left"), ("R", "rake-right"))
    )
    patterns = (
        *rj.patterns(),
        *(type(rj.patterns()[0])(**_fields(rj.patterns()[1], mark=p.mark, kind=p.kind)) for p in rakes),
    )
    out = plan_roof(job.model_copy(update={"pieces": (*job.pieces, *rakes)}), patterns)
    pieces = [p for p in out.slopes[0].pieces if p.mark in ("L", "R")]
    assert {p.mark for p in pieces} == {"L", "R"}
    for p in pieces:
        xs = [x for x, _ in p.visible]
        # the piece on the left rake is the right half of a diamond
        assert (min(xs) if p.mark == "L" else max(xs)) == pytest.approx(p.centre[0], abs=1e-4)


def _fields(pattern: Any, **changed: Any) -> dict[str, Any]:
    return {name: getattr(pattern, name) for name in pattern.__dataclass_fields__} | changed


# -- as data and as tables ---------------------------------------------------------------------------------------------


IN = Scale("in", 793_750)


def full() -> tuple[Any, RoofPlan]:
    skylight = {"from_left": "40 in", "up": "20 in", "width": "20 in", "height": "9 in"}
    wing = {**WING, "name": "wing", "openings": [skylight]}
    job = rj.job_with(rj.slope(**{**SPIRE, "name": "turret"}), rj.slope(**wing))
    return job, plan_roof(job, rj.patterns())


def test_plan_data_holds_the_counts_and_repeats_itself() -> None:
    job, out = full()
    data = written(out, IN)
    text = json.dumps(data, allow_nan=False)
    assert text == json.dumps(written(plan_roof(job, rj.patterns()), IN))
    courses = [(c["total"], s["slope"]["times"]) for s in data["slopes"] for c in s["courses"]]
    assert sum(total * times for total, times in courses) == sum(dict(out.pieces).values())
    assert sum(k["pieces"] for k in data["kits"]) == sum(dict(out.pieces).values())
    assert data["counts"] == dict(out.counts)


def test_plan_data_in_millimetres_are_the_same_sizes() -> None:
    _, out = full()
    inch, metric = written(out, IN), written(out, Scale("mm", 500_000))
    assert metric["slopes"][0]["spacing"] == pytest.approx(inch["slopes"][0]["spacing"] * 25.4, abs=1e-5)
    assert metric["slopes"][0]["slope"]["area"] == pytest.approx(inch["slopes"][0]["slope"]["area"] * 645.16, rel=1e-9)
    assert metric["kits"][0]["weight"] == pytest.approx(inch["kits"][0]["weight"] * 0.45359237, abs=1e-5)


def test_tables_are_square_and_their_sums_hold() -> None:
    job, out = full()
    tables = count_tables(out, job)
    for table in tables:
        assert all(len(row) == len(table.columns) for row in table.rows), table.title
    first = tables[0]
    assert first.rows[-1][0] == "all"
    assert int(first.rows[-1][first.columns.index("Pieces")]) == sum(dict(out.pieces).values())
    courses: SlopeLayout = out.slopes[0]
    table = tables[1]
    assert [row[0] for row in table.rows[:-1]] == [str(c.course) for c in courses.courses[::-1]]
    assert int(table.rows[-1][table.columns.index("Total")]) == len(courses.pieces)
