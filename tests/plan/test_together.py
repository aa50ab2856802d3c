"""Several jobs cut in one shear run: shares add up, each has its own papers, the saved run is proved with its jobs."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from real_runs import refused, run

from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.plan.check_shares import check_shares
from fabplan.plan.file import plan_json
from fabplan.plan.model import JobShare
from fabplan.plan.prove import prove
from fabplan.plan.prove_run import prove_run
from fabplan.plan.together import Together, plan_together
from fabplan.shop import record
from fabplan.shop.rest import prove_rest, rest, rest_text

SHOP = """[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"
[[stock]]
name = "sheet"
form = "sheet"
width = "24 in"
length = "36 in"
price = "52 per sheet"
on_hand = 1
"""
JOB = """shop = "shop.toml"
[job]
name = "{name}"
number = "{number}"
currency = "USD"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = {count}
side = "10 in"
hem = "3/4 in"
[[piece]]
mark = "R"
kind = "rectangle"
count = 4
width = "{width} in"
length = "11 in"
may_turn = false
"""
NUMBERS = ("1042", "1043")


def write(folder: Path) -> list[Path]:
    (folder / "shop.toml").write_text(SHOP)
    out = []
    for number, name, count, width in (("1042", "Porch", 4, 7), ("1043", "Bay", 3, 5)):
        path = folder / f"{number}.toml"
        path.write_text(JOB.format(number=number, name=name, count=count, width=width))
        out.append(path)
    return out


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Path], Together]:
    paths = write(tmp_path_factory.mktemp("both"))
    return paths, plan_together([load_job(p) for p in paths], effort=0, should_stop=lambda: True)


def test_every_blank_of_every_job_is_cut_once(both: tuple[list[Path], Together]) -> None:
    cut = both[1].run.cut_plan
    assert cut is not None
    made: dict[str, int] = {}
    for y in cut.layouts:
        for b in y.blanks:
            made[b.mark] = made.get(b.mark, 0) + y.repeat
    assert made == {"1042 A": 4, "1042 R": 4, "1043 A": 3, "1043 R": 4}


def test_shares_add_up_to_the_run(both: tuple[list[Path], Together]) -> None:
    run_ = both[1].run
    cut = run_.cut_plan
    assert cut is not None
    assert [s.number for s in run_.shares] == list(NUMBERS)
    assert sum((s.metal + s.labour for s in run_.shares), Fraction(0)) == cut.total
    assert all(s.metal > 0 and s.labour > 0 for s in run_.shares)
    assert check_shares(run_.shares, cut, NUMBERS) == []
    more = Fraction(1, 2)

    def moved(a: JobShare, b: JobShare, key: str) -> tuple[JobShare, JobShare]:
        return replace(a, **{key: getattr(a, key) + more}), replace(b, **{key: getattr(b, key) - more})  # type: ignore[arg-type]

    a, b = run_.shares
    wrong: list[Callable[[], tuple[JobShare, ...]]] = [
        lambda: (b, a),
        lambda: (a,),
        lambda: moved(a, b, "metal"),
        lambda: moved(a, b, "labour"),
        lambda: (replace(a, metal=a.metal + more), b),
        lambda: (replace(a, labour=a.labour + more), b),
        lambda: (replace(a, seconds=a.seconds + 1), b),
        lambda: (replace(a, pounds=a.pounds + 1), b),
        lambda: (replace(a, blanks=a.blanks + 1), b),
        lambda: (replace(a, layouts=a.layouts[:-1]), b),
    ]
    for make in wrong:
        assert check_shares(make(), cut, NUMBERS)


def test_metal_on_hand_is_taken_once_for_both(both: tuple[list[Path], Together]) -> None:
    pulled = {line.stock: line.pull.count for line in both[1].run.buy}
    assert (pulled.get("sheet") or 0) <= 1


def test_saved_plans_are_proved(both: tuple[list[Path], Together]) -> None:
    paths, found = both
    jobs = [load_job(p) for p in paths]
    data = json.loads(json.dumps(plan_json(found.run)))
    assert prove_run(data, jobs).ok
    with pytest.raises(JobError, match="is not the run of these jobs"):
        prove_run(data, jobs[::-1])
    own = found.plans[1]
    assert own.cut_in is not None
    assert own.cut_in.run == "1042+1043"
    assert prove(json.loads(json.dumps(plan_json(own))), jobs[1]).ok
    paid = sum(p.cut_in.metal + p.cut_in.labour for p in found.plans if p.cut_in and p.cut_in.metal and p.cut_in.labour)
    assert found.run.cut_plan is not None
    assert float(paid) == pytest.approx(float(found.run.cut_plan.total), abs=0.02)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('number = "1043"', 'number = "1042"', "two jobs have one number"),
        ('currency = "USD"', 'currency = "EUR"', "job > currency: is not as in"),
        ('[metal]', '[labour]\nstroke = "9 s"\n[metal]', r"\[labour\]: is not as in"),
        ('[metal]', '[shear]\nlongest_cut = "50 in"\n[metal]', r"\[shear\]: is not as in"),
        ('[metal]', '[[stock]]\nname = "sheet"\non_hand = 2\n[metal]', 'stock "sheet": is not as in'),
    ],
)  # fmt: skip
def test_jobs_that_cannot_be_cut_together_are_told(tmp_path: Path, old: str, new: str, says: str) -> None:
    paths = write(tmp_path)
    paths[1].write_text(paths[1].read_text().replace(old, new))
    with pytest.raises(JobError, match=says):
        plan_together([load_job(p) for p in paths], effort=0)


@pytest.mark.slow
def test_the_command_writes_a_run_and_a_packet_each(tmp_path: Path) -> None:
    paths = write(tmp_path)
    done = run("plan", *paths, "--effort", "0", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "1043, Bay: 7 blanks" in done.stdout
    assert "One after the other on the same stock they cost" in done.stdout
    for folder in ("1042-1043-run", "1042-packet", "1043-packet"):
        assert (tmp_path / folder / "packet.pdf").is_file()
    jobs = ("--job", paths[0], "--job", paths[1])
    proved = run("prove", "1042-1043-run/plan.json", *jobs, cwd=tmp_path)
    assert "shares: proved" in proved.stdout
    paths[1].write_text(paths[1].read_text().replace('currency = "USD"', 'currency = "EUR"'))
    refused(run("plan", *paths, "--effort", "0", cwd=tmp_path), 2, "is not as in")


def test_blanks_of_a_run_are_written_down_job_by_job(both: tuple[list[Path], Together], tmp_path: Path) -> None:
    paths, found = both
    data = json.loads(json.dumps(plan_json(found.plans[1])))
    path = tmp_path / "1043-record.db"
    with pytest.raises(PlanError, match="Of A 3 are cut for this job, and this would make 4"):
        record.note(path, data, "blanks", {"A": 4})
    record.note(path, data, "blanks", {"A": 3, "R": 4})
    record.note(path, data, "spoiled", {"R": 1})
    job = load_job(paths[1])
    left = rest(job, record.done(path))
    assert {m.mark: m.left for m in left.marks} == {"A": 0, "R": 1}
    again = paths[1].with_name("1043-rest.toml")
    again.write_text(rest_text(paths[1].read_text(), job, left))
    prove_rest(load_job(again), left)
