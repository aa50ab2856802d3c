"""Choosing a finished size: the saw-tooth of the stock's width, and what is claimed for a change."""

from __future__ import annotations

from math import ceil, radians, tan
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.make import metals_of
from fabplan.shop.sizes import SizeSweep, sweep
from fabplan.units import NM_PER_INCH, Nm, parse_length

JOB = """
[job]
name = "Orchard porch"
number = "7"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 500
side = "{side}"
top_angle = {angle}
hem = "3/4 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
[[stock]]
name = "coil 20"
form = "coil"
width = "20 in"
[[stock]]
name = "sheet"
form = "sheet"
width = "36 in"
length = "96 in"
"""


def job(tmp_path: Path, side: str = "10 in", angle: float = 90) -> Job:
    path = tmp_path / "job.toml"
    path.write_text(JOB.format(side=side, angle=angle))
    return load_job(path)


def swept(the_job: Job, **options: object) -> SizeSweep:
    return sweep(the_job, metals_of(the_job), **options)  # type: ignore[arg-type]


def test_sweet_spots_are_the_largest_blanks_that_go_a_whole_number_of_times_across(tmp_path: Path) -> None:
    found = swept(job(tmp_path), least=Nm(7 * NM_PER_INCH), most=Nm(11 * NM_PER_INCH), step=parse_length("1/32 in"))
    for name, spots in found.sweet:
        if name == "sheet":
            continue
        width = float(name.split()[1])
        for k in spots:
            row, above = found.rows[k], found.rows[k + 1]
            n = int(width // row.strip)
            assert int(width // above.strip) == n - 1
            assert width - n * row.strip < n / 32 + 1e-9


def test_the_best_of_several_stocks_takes_the_least_metal(tmp_path: Path) -> None:
    rows = swept(job(tmp_path), least=Nm(9 * NM_PER_INCH), most=Nm(11 * NM_PER_INCH), step=parse_length("1/4 in")).rows
    assert any(len({o.metal_per_square for o in row.on}) > 1 for row in rows)
    assert all(row.best.metal_per_square == min(o.metal_per_square for o in row.on) for row in rows)


def test_asked_size_on_the_tooth_gets_no_suggestion(tmp_path: Path) -> None:
    first = swept(
        job(tmp_path), least=Nm(8 * NM_PER_INCH), most=parse_length("10-7/16 in"), step=parse_length("1/16 in")
    )
    best = first.suggestions[-1].row.side_nm
    again = swept(
        job(tmp_path, side=f"{best / NM_PER_INCH} in"), least=Nm(8 * NM_PER_INCH), most=Nm(best), step=Nm(1_587_500)
    )
    assert again.suggestions == ()
    assert "already" in again.says[0]


def test_savings_are_what_the_rows_say_and_the_bigger_piece_is_told_apart(tmp_path: Path) -> None:
    found = swept(job(tmp_path))
    assert 1 <= len(found.suggestions) <= 3
    for s in found.suggestions:
        saved = 1 - s.row.best.metal_per_square / found.asked.best.metal_per_square
        assert s.saves == pytest.approx(saved)
        assert 0 <= s.of_that_bigger <= s.saves


@settings(max_examples=15, deadline=None)
@given(side=st.integers(7 * 16, 13 * 16), angle=st.sampled_from([60.0, 75.0, 90.0, 110.0]))
def test_metal_on_a_coil_matches_laying_the_rows_out(
    tmp_path_factory: pytest.TempPathFactory, side: int, angle: float
) -> None:
    the_job = job(tmp_path_factory.mktemp("s"), side=f"{side / 16} in", angle=angle)
    found = swept(the_job, least=parse_length(f"{side / 16} in"), most=parse_length(f"{side / 16} in"))
    row = found.asked
    slant = 0.0 if angle == 90 else abs(row.strip / tan(radians(angle)))
    for on in row.on[:2]:
        width = float(on.stock.split()[1])
        if on.across == 0:
            assert row.strip > width
            continue
        # Panels of at most 120 in, filled one blank after another.
        left, metal = ceil(row.pieces / on.across), 0.0
        while left > 0:
            rows = 0
            while rows < left and (rows + 1) * row.blank_side + slant <= 120 + 1e-9:
                rows += 1
            metal += (rows * row.blank_side + slant) * width
            left -= rows
        assert on.bought == pytest.approx(metal)


def test_pieces_cover_the_area_the_asked_ones_cover(tmp_path: Path) -> None:
    found = swept(job(tmp_path))
    for row in found.rows:
        exposed = row.blank_side / row.hem_factor**0.5
        assert (row.pieces - 1) * exposed**2 < 500 * (found.asked.blank_side**2 / found.asked.hem_factor) + 1e-6


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"mark": "Z"}, "only a diamond's size can be chosen"),
        ({"least": Nm(5 * NM_PER_INCH), "most": Nm(4 * NM_PER_INCH)}, "not above the most"),
        ({"step": Nm(100)}, "at most 2000 sizes"),
    ],
)
def test_what_cannot_be_swept_is_refused(tmp_path: Path, options: dict[str, object], says: str) -> None:
    with pytest.raises(JobError, match=says):
        swept(job(tmp_path), **options)


DIAMOND = JOB[JOB.index("[[piece]]") : JOB.index("[[stock]]")]
STRIP = '[[piece]]\nmark = "K"\nkind = "rectangle"\ncount = 4\nwidth = "2 in"\nlength = "4 in"\n'


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (DIAMOND, STRIP, "the job has no diamond to size"),
        (DIAMOND, DIAMOND + DIAMOND.replace('"A"', '"B"'), "the job has several diamonds"),
        (JOB[JOB.index("[[stock]]") :], "", "lists no coil or sheet of this diamond's metal"),
        (JOB[JOB.index("[[stock]]") :], '[[stock]]\nname = "strip"\nform = "coil"\nwidth = "8 in"\n', "cannot be made"),
        (
            JOB[JOB.index("[[stock]]") :],
            '[[stock]]\nname = "short"\nform = "coil"\nwidth = "24 in"\nlongest_cut_off = "9 in"\n',
            "cannot be made",
        ),
        (
            JOB[JOB.index("[[stock]]") :],
            '[[stock]]\nname = "bit"\nform = "sheet"\nwidth = "24 in"\nlength = "8 in"\n',
            "cannot be made",
        ),
    ],
    ids=["no diamond", "two diamonds", "no stock", "coil too narrow", "cut-off too short", "sheet too short"],
)
def test_a_job_without_a_size_to_choose_says_why(tmp_path: Path, old: str, new: str, says: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace(old, new).format(side="10 in", angle=90), encoding="utf-8")
    with pytest.raises(JobError, match=says):
        swept(load_job(path))


def test_one_of_two_diamonds_is_sized_when_named(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    both = JOB.replace(DIAMOND, DIAMOND + DIAMOND.replace('"A"', '"B"').replace('"{side}"', '"8 in"'))
    path.write_text(both.format(side="10 in", angle=90), encoding="utf-8")
    found = swept(load_job(path), mark="B", step=parse_length("1/2 in"))
    assert (found.asked.side, found.rows[0].side, found.rows[-1].side) == (8.0, 6.0, 10.0)


def test_sizes_too_small_for_their_hems_are_left_out(tmp_path: Path) -> None:
    found = swept(job(tmp_path, side="4 in"), least=Nm(NM_PER_INCH), most=Nm(4 * NM_PER_INCH))
    assert min(r.side for r in found.rows) > 1.5


def test_a_diamond_counted_beside_one_laid_on_slopes_is_sized() -> None:
    from real_runs import ROOT

    job = load_job(ROOT / "docs" / "examples" / "lakeside-pavilion" / "job.toml")
    found = sweep(job, metals_of(job), mark="B", least=Nm(8 * NM_PER_INCH), most=Nm(8 * NM_PER_INCH))
    assert [r.pieces for r in found.rows] == [99]  # 96 and 3 % spare
