"""Course lines, first-line marks and closing up."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import roof_jobs as rj
from hypothesis import given
from hypothesis import strategies as st

from fabplan.roof.lay.courses import close_up, course_lines, first_marks, to_step
from fabplan.roof.lay.lattice import Grid
from fabplan.roof.lay.layout import lay
from fabplan.roof.plan import plan_roof
from fabplan.roof.remarks import EvenCourses
from fabplan.units import NM_PER_INCH, NM_PER_MM

SIXTEENTH = NM_PER_INCH // 16


@given(st.floats(2, 12), st.floats(60, 120), st.sampled_from([SIXTEENTH, NM_PER_INCH // 8, NM_PER_MM]))
def test_no_line_is_ever_more_than_half_a_step_off(side: float, angle: float, step: int) -> None:
    lattice = rj.lattice(side=side + 4, angle=angle)
    grid = Grid(spacing=lattice.spacing, course=lattice.course, centre_x=0, base=0, alignment="point")
    half = step / NM_PER_INCH / 2 + 1e-9
    lines = course_lines(grid, lattice, 0, 200, step)
    for k, line in enumerate(lines):
        assert abs(line.mark * step / NM_PER_INCH - k * lattice.course) <= half
        assert abs(line.top_mark * step / NM_PER_INCH - line.top_line) <= half
        # the line in sight: top tips of course k stand the hidden hems above the points two courses up
        hidden = lattice.lap / math.sin(math.radians(angle) / 2)
        assert line.top_line == pytest.approx((k + 1) * lattice.course + hidden)
    steps = [b.mark - a.mark for a, b in pairwise(lines)]
    assert max(steps) - min(steps) <= 1


@given(st.floats(5, 200), st.floats(-30, 30), st.sampled_from(["point", "joint"]))
def test_first_marks_are_symmetric_and_each_rounded_by_itself(width: float, off: float, alignment: str) -> None:
    lattice = rj.lattice()
    grid = Grid(spacing=lattice.spacing, course=lattice.course, centre_x=off, base=0, alignment=alignment)  # type: ignore[arg-type]
    marks = first_marks(grid, off - width, off + width, SIXTEENTH)
    exact = [m for m, _ in marks]
    assert exact == pytest.approx([-m for m in exact[::-1]])
    assert [n for _, n in marks] == [-n for _, n in marks[::-1]]
    assert (0.0 in exact) == (alignment == "point")
    for m, n in marks:
        assert abs(n / 16 - m) <= 1 / 32 + 1e-9
    assert len(marks) in (int(2 * width / lattice.spacing), int(2 * width / lattice.spacing) + 1)


def test_halves_round_up() -> None:
    assert to_step(1 / 32, SIXTEENTH) == 1
    assert to_step(3 / 32, SIXTEENTH) == 2


@given(st.floats(20, 500), st.sampled_from([0.5, 0.75, 1.0]), st.floats(60, 120))
def test_courses_are_only_ever_closed(height: float, hem: float, angle: float) -> None:
    lattice = rj.lattice(side=12, hem=hem, angle=angle)
    out = close_up(height, lattice, 0.375)
    assert out.course * out.courses == pytest.approx(height)
    assert out.course <= lattice.course + 1e-9
    assert out.closed >= 0
    assert out.hooked == pytest.approx(lattice.hooked - out.closed * math.sin(math.radians(angle) / 2))
    assert out.allowed == (out.hooked >= 0.375 - 1e-9)
    assert out.courses == 1 or height > (out.courses - 1) * lattice.course - 1e-6


def test_a_short_slope_that_would_lose_its_hook_is_not_closed() -> None:
    # 60 in with 3/4 in hems: ten courses closed by about 1/2 in leave less than 3/8 in hooked
    out = close_up(60.0, rj.lattice(), 0.375)
    assert (out.courses, out.allowed) == (10, False)
    assert out.closed == pytest.approx(0.503, abs=1e-3)


def test_courses_come_out_even_at_the_ridge_when_asked() -> None:
    tall = rj.slope(shape="rectangle", bottom="90 in", height="168 in")
    plain = plan_roof(rj.job_with(tall), rj.patterns()).slopes[0]
    even = plan_roof(rj.job_with(tall, rules=rj.roof(even_courses=True)), rj.patterns()).slopes[0]
    assert plain.course == plain.full_course
    assert even.course < even.full_course
    top = even.base + even.courses[-1].course * even.course
    assert top == pytest.approx(167.0)  # the ridge cap takes its leg less the underlap
    last = [p for p in even.pieces if p.course == even.courses[-1].course]
    # all ridge halves are the plain half now; before they were odd strips
    assert {p.standard for p in last if p.kind == "ridge-half"} == {True}
    assert not any(p.standard for p in plain.pieces if p.kind == "ridge-half")
    assert any(isinstance(n, EvenCourses) and n.how == "offered" for n in plain.notes)


def test_courses_that_would_unhook_are_left_and_the_note_says_so() -> None:
    short = rj.slope(shape="rectangle", bottom="60 in", height="33 in", stop_short={"top": "0 in"})
    layout = plan_roof(rj.job_with(short, rules=rj.roof(even_courses=True)), rj.patterns()).slopes[0]
    assert layout.course == layout.full_course
    assert any(isinstance(n, EvenCourses) and n.how == "refused" for n in layout.notes)


@pytest.mark.parametrize("side", [8.0, 10.0, 12.0])
def test_exposed_side_without_metal_or_slack_is_the_blank_less_three_hems(side: float) -> None:
    """The limit of no thickness and no slack with plain allowances: E = S - 3 w (our own geometry, no source)."""
    lattice = rj.lattice(side=side - 1.5, thickness=0.0, slack=0.0)
    blank = lattice.side + lattice.upper_allowance + lattice.lower_allowance
    assert blank == pytest.approx(side)
    assert lattice.exposed == pytest.approx(side - 3 * 0.75)


@pytest.mark.parametrize(("shown", "pieces"), [(266.0, 14.13), (330.0, 9.18)])
def test_pieces_to_the_square_metre(shown: float, pieces: float) -> None:
    # a mill's page on square zinc diamonds (name withheld): 266 mm -> 14.13, 330 mm -> 9.18 pieces a square metre
    lattice = rj.lattice(side=shown / 25.4 + 0.75, thickness=0.0, slack=0.0)
    assert lattice.exposed == pytest.approx(shown / 25.4)
    result = lay(
        rj.measured(((0, 0), (400, 0), (400, 400), (0, 400)), kinds="ergr"),
        lattice,
        rj.roof(sliver="0.001 in"),
        alignment="point",
        centre_x=200.0,
        base=0.0,
    )
    metres = 400 * 400 * 0.0254**2
    assert sum(p.share for p in result.pieces) / metres == pytest.approx(pieces, abs=0.006)


def test_millimetre_job_marks_whole_millimetres() -> None:
    job = rj.job_with(rj.slope(shape="rectangle", bottom="90 in", height="60 in"))
    metric = job.model_copy(update={"info": job.info.model_copy(update={"units": "mm"})})
    layout = plan_roof(metric, rj.patterns()).slopes[0]
    assert layout.mark_step == NM_PER_MM
    assert layout.lines[3].mark == round(3 * layout.course * 25.4)


def test_a_ridge_the_caps_leave_bare_is_no_reason_to_close_courses() -> None:
    # 1/2 in of ridge between hips capped 1 in to each side: no metal reaches the ridge
    spire = rj.slope(shape="regular-spire", sides=4, side="60 in", top_side="1/2 in", slant="100 in")
    layout = plan_roof(rj.job_with(spire, rules=rj.roof(even_courses=True)), rj.patterns()).slopes[0]
    assert layout.course == layout.full_course
