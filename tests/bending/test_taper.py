"""Tapered strips: two end sections, straight bend lines, flat legs between them."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from pathlib import Path

import pytest

from fabplan.bending.check.whole import check_schedule
from fabplan.bending.errors import BendError
from fabplan.bending.schedule import schedule_bends
from fabplan.bending.setups import set_up_sheet
from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.make import metals_of

HEAD = '[job]\nname = "Boathouse"\nnumber = "7"\n[metal]\nuse = "copper-16oz"\n'
VALLEY = """
[[piece]]
mark = "V"
kind = "section"
count = 6
length = "46 in"
legs = ["9 in", "1 in", "1 in", "9 in"]
taper_to = ["6 in", "1 in", "1 in", "6 in"]
bends = [45, -90, 45]
start_hem = {width = "1/2 in", toward = "face", gap = "1/16 in"}
end_hem = {width = "1/2 in", toward = "face", gap = "1/16 in"}
"""
GUTTER = """
[[piece]]
mark = "G"
kind = "section"
count = 4
length = "46 in"
legs = ["5 in", "4 in", "4 in", "1 in"]
taper_to = ["3-1/2 in", "4 in", "2-1/2 in", "1 in"]
bends = [90, 90, -90]
"""


def made(text: str, folder: Path) -> tuple[Job, list[FlatPattern]]:
    path = folder / "job.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    job = load_job(path)
    patterns = list(develop(job, metals_of(job)))
    assert check_patterns(patterns, job, metals_of(job)) == []
    return job, patterns


def faults(pattern: FlatPattern, job: Job, **changes: object) -> list[str]:
    schedule = schedule_bends(pattern, job, metals_of(job))
    assert schedule.proven
    first, *rest = schedule.steps
    if changes:
        assert first.far is not None
        first = replace(first, far=replace(first.far, **changes))  # type: ignore[arg-type]
    return check_schedule(replace(schedule, steps=(first, *rest)), pattern, job, metals_of(job))


def test_a_tapered_valley_and_gutter_liner_are_planned_and_replayed(tmp_path: Path) -> None:
    job, (valley, gutter) = made(VALLEY + GUTTER, tmp_path)
    for pattern in (valley, gutter):
        assert faults(pattern, job) == []
        assert not pattern.rectangular
        assert pattern.weight == pytest.approx(
            sum(x for x in (pattern.outline[0][0], pattern.outline[-1][0])) / 2 * 46 / 144, rel=1e-9
        )  # a trapezoid of 1 lb to the square foot
    assert valley.far is not None
    assert valley.section is not None
    assert valley.section.developed - valley.far.developed == pytest.approx(6)
    # both lines of the rib lean alike: the slant of a right triangle of 3 in on 46 in
    line = valley.folds[1].line
    assert math.hypot(line[1][0] - line[0][0], 46) == pytest.approx(math.sqrt(3**2 + 46**2))


def test_each_end_is_the_plain_section_of_its_own_sizes(tmp_path: Path) -> None:
    _, (gutter,) = made(GUTTER, tmp_path)
    plain = GUTTER.replace('taper_to = ["3-1/2 in", "4 in", "2-1/2 in", "1 in"]\n', "")
    other = plain.replace('legs = ["5 in", "4 in", "4 in", "1 in"]', 'legs = ["3-1/2 in", "4 in", "2-1/2 in", "1 in"]')
    _, (near,) = made(plain, tmp_path)
    _, (far,) = made(other, tmp_path)
    assert (gutter.section, gutter.far) == (near.section, far.section)


@pytest.mark.parametrize("changes", [{"stop": 1.0}, {"size": 2.0}])
def test_a_wrong_size_at_end_b_is_caught(changes: dict[str, object], tmp_path: Path) -> None:
    job, (gutter,) = made(GUTTER, tmp_path)
    assert faults(gutter, job, **changes)


def test_a_size_for_an_end_that_is_not_there_is_caught(tmp_path: Path) -> None:
    job, (gutter,) = made(GUTTER, tmp_path)
    schedule = schedule_bends(gutter, job, metals_of(job))
    assert check_schedule(schedule, replace(gutter, far=None), job, metals_of(job))
    bare = replace(schedule, steps=tuple(replace(s, far=None) for s in schedule.steps))
    assert check_schedule(bare, gutter, job, metals_of(job))


def test_what_the_narrow_end_cannot_do_is_refused(tmp_path: Path) -> None:
    job, (gutter,) = made(GUTTER.replace('"2-1/2 in", "1 in"]\nb', '"2-1/2 in", "1/4 in"]\nb'), tmp_path)
    with pytest.raises(BendError, match="short of the 3/8 in it needs"):
        schedule_bends(gutter, job, metals_of(job))


def test_a_wrong_blank_is_caught(tmp_path: Path) -> None:
    job, (gutter,) = made(GUTTER, tmp_path)
    (a, *rest) = gutter.outline
    for wrong in (
        replace(gutter, outline=((a[0] + 1 / 16, a[1]), *rest)),
        replace(gutter, far=gutter.section),
        replace(gutter, folds=tuple(replace(f, line=(f.line[0], (f.line[0][0], 46.0))) for f in gutter.folds)),
    ):
        assert check_patterns([wrong], job, metals_of(job))


def test_lines_that_lean_too_much_are_refused(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="lean 10 degrees at most"):
        made(GUTTER.replace('length = "46 in"', 'length = "8 in"'), tmp_path)


def test_the_set_up_sheet_names_both_stops(tmp_path: Path) -> None:
    job, (valley, gutter) = made(VALLEY + GUTTER, tmp_path)
    sheet = set_up_sheet([schedule_bends(p, job, metals_of(job)) for p in (valley, gutter)], 1 / 32)
    both = [one for one in sheet if one.far_stop is not None]
    assert len(both) == 6  # the hems of the valley are alike at both ends
    assert all(one.stop is not None and one.far_stop is not None and one.stop > one.far_stop for one in both)


def random_tapered(rng: random.Random) -> str:
    n = rng.randint(1, 4)
    legs = [rng.choice([0.5, 0.75, 1, 2, 3, 4, 5]) for _ in range(n + 1)]
    to = [max(0.5, leg - rng.choice([0, 0, 0.5, 1, 2])) for leg in legs]
    to[0] = legs[0] + 1
    bends = [rng.choice([-1, 1]) * rng.choice([30, 45, 60, 90, 90, 120]) for _ in range(n)]

    def sizes(values: list[float]) -> str:
        return ", ".join(f'"{v:g} in"' for v in values)

    hem = '\nend_hem = {width = "1/2 in", toward = "back"}' if rng.random() < 0.4 else ""
    keys = f"legs = [{sizes(legs)}]\ntaper_to = [{sizes(to)}]\nbends = {bends}{hem}"
    return f'[[piece]]\nmark = "R"\nkind = "section"\ncount = 1\nlength = "46 in"\n{keys}\n'


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(150))
def test_random_tapered_strips_are_replayed(seed: int, tmp_path: Path) -> None:
    job, (pattern,) = made(random_tapered(random.Random(seed)), tmp_path)
    try:
        assert faults(pattern, job) == []
    except BendError as error:
        assert error.reasons
