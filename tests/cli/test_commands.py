"""Commands as a person types them: output, exit status, JSON and nothing else where JSON is asked."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from in_process import Said
from real_runs import PLAIN, ROOT, SMALL, refused, run

from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.prove import Given, prove

EXAMPLE = ROOT / "docs" / "examples" / "lakeside-pavilion" / "job.toml"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(SMALL)
    return path


@pytest.fixture
def plain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job of one plain blank, in the folder one stands in."""
    path = tmp_path / "job.toml"
    path.write_text(PLAIN)
    monkeypatch.chdir(tmp_path)
    return path


@pytest.mark.parametrize("command", ["check", "blanks", "nest", "bend"])
def test_reading_commands_print_a_table_or_only_json(
    small: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    soon = ("--effort", "0", "--seconds", "0") if command == "nest" else ()
    shown = Said(capsys, command, small, *soon)
    assert shown.status == 0, shown.err
    assert "A" in shown.out
    data = Said(capsys, command, small, *soon, "--json").data
    assert data["units"] == "in"
    assert data["job"]["number"] == "W-3"


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A packet of the small job as a process of its own writes it, far from here."""
    folder = tmp_path_factory.mktemp("real")
    (folder / "job.toml").write_text(SMALL)
    elsewhere = {"PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "COLUMNS": "40"}
    done = run("plan", "job.toml", "--effort", "0.02", cwd=folder, **elsewhere)
    assert done.returncode == 0, done.stderr
    return folder / "W-3-packet"


def test_plan_writes_the_packet_and_prove_proves_it(real: Path) -> None:
    assert {"packet.pdf", "plan.json", "plan.html", "cutlist.csv", "drawings"} <= {p.name for p in real.iterdir()}
    proof = run("prove", real / "plan.json", "--job", real.parent / "job.toml")
    assert proof.returncode == 0, proof.stdout + proof.stderr
    assert "The plan is proved." in proof.stdout


def test_same_job_seed_and_effort_give_the_same_bytes(
    real: Path, small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(small.parent)
    assert Said(capsys, "plan", "job.toml", "--effort", "0.02").status == 0

    def files(folder: Path) -> dict[str, bytes]:
        return {p.name: p.read_bytes() for p in folder.rglob("*") if p.is_file()}

    assert files(Path("W-3-packet")) == files(real)


@pytest.fixture(scope="module")
def right(tmp_path_factory: pytest.TempPathFactory) -> tuple[Given, Any]:
    path = tmp_path_factory.mktemp("right") / "job.toml"
    path.write_text(SMALL)
    job = load_job(path)
    data = json.loads(json.dumps(plan_json(make_plan(job, effort=0, should_stop=lambda: True))))
    given = Given(job)
    assert prove(data, job, given).ok
    return given, data


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("nesting", "layouts", 0, "blanks", 0, "x"), 0.5),
        (("nesting", "layouts", 0, "cuts", 0, "back_gauge"), 1.0),
        (("nesting", "total"), 1.0),
        (("nesting", "bound"), 99999999.0),
        (("blanks", 0, "count"), 25),
        (("blanks", 0, "folds", 0, "width"), 0.5),
        (("bending", 0, "steps", 0, "stop"), 3.0),
        (("bending", 0, "steps", 1, "side_up"), "back"),
        (("buy", 0, "need", "weight"), 1.0),
        (("job", "number"), "W-4"),
    ],
)
def test_prove_finds_a_changed_number(right: tuple[Given, Any], path: tuple[str | int, ...], wrong: object) -> None:
    given, data = right[0], copy.deepcopy(right[1])
    at = data
    for key in path[:-1]:
        at = at[key]
    assert at[path[-1]] != wrong
    at[path[-1]] = wrong
    try:
        assert not prove(data, given.job, given).ok
    except JobError as fault:  # a figure that its exact value beside it gives the lie
        assert "is not its exact value" in str(fault)


def test_an_inch_job_and_the_same_job_in_mm_give_the_same_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    inch = tmp_path / "inch.toml"
    inch.write_text(
        SMALL.replace('number = "W-3"', 'number = "W-3"\nround_to = "1/32 in"').replace(
            'hem = "3/4 in"', 'hem = "3/4 in"\nhem_gap = "1/16 in"'
        )
    )
    mm = tmp_path / "mm.toml"
    mm.write_text(
        inch.read_text()
        .replace('number = "W-3"', 'number = "W-3"\nunits = "mm"')
        .replace('width = "24 in"', 'width = "24 in"\nlongest_cut_off = "120 in"')
        + "[shear]\n"
        + LIMITS
    )
    inch.write_text(inch.read_text() + "[shear]\n" + LIMITS)
    a, b = (Said(capsys, "nest", p, "--effort", "0", "--json").data for p in (inch, mm))
    for x, y in zip(a["blanks"], b["blanks"], strict=True):
        assert y["width"] == pytest.approx(x["width"] * 25.4, abs=2e-6)
    assert [(v["repeat"], len(v["blanks"])) for v in a["nesting"]["layouts"]] == [
        (v["repeat"], len(v["blanks"])) for v in b["nesting"]["layouts"]
    ]
    assert b["nesting"]["total"] == pytest.approx(a["nesting"]["total"] * 25.4**2, abs=1e-3)


LIMITS = 'longest_cut = "52 in"\nback_gauge_reach = "48 in"\nleast_held = "1 in"\n'


@pytest.mark.parametrize(
    ("args", "status", "says"),
    [
        (("plan", "nowhere.toml"), 2, "nowhere.toml"),
        (("plan",), 2, "JOB"),
        (("plan", "job.toml", "--effort", "-1"), 2, "--effort"),
        (("plan", "job.toml", "--paper", "legal"), 2, "--paper"),
        (("bend", "job.toml", "--piece", "Z"), 2, "no such piece"),
        (("count", "job.toml"), 2, "no roof slopes"),
        (("metals", "unobtainium"), 2, "unobtainium"),
        (("prove", "job.toml", "--job", "job.toml"), 2, ".json"),
        (("rack", "list", "none.db"), 2, "no offcut rack"),
        (("best-size", "job.toml", "--from", "x"), 2, "not a length"),
    ],
)
def test_a_wrong_call_ends_with_a_plain_message(
    plain: Path, capsys: pytest.CaptureFixture[str], args: tuple[str, ...], status: int, says: str
) -> None:
    done = Said(capsys, *args)
    assert done.status == status, done.err
    assert says in done.err
    assert "Traceback" not in done.err


def test_a_process_leaves_with_the_status_of_its_command(plain: Path) -> None:
    refused(run("plan", "nowhere.toml", cwd=plain.parent), 2, "nowhere.toml")


def test_short_stock_ends_with_1_and_writes_nothing_unless_asked(
    plain: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain.write_text(PLAIN.replace('width = "24 in"\n', 'width = "24 in"\non_hand = "3 in"\n'))
    done = Said(capsys, "plan", plain, "--effort", "0")
    assert done.status == 1
    assert "missing" in done.err
    assert not Path("W-3-packet").exists()
    nest = Said(capsys, "nest", plain, "--effort", "0", "--json")
    assert nest.status == 1
    assert nest.data["nesting"]["short"]
    allowed = Said(capsys, "plan", plain, "--effort", "0", "--allow-short")
    assert allowed.status == 0, allowed.err
    assert Path("W-3-packet", "packet.pdf").exists()


def test_new_writes_a_job_that_plans(plain: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert Said(capsys, "new", "turret.toml").status == 0
    again = Said(capsys, "new", "turret.toml")
    assert again.status == 2
    assert "Traceback" not in again.err
    done = Said(capsys, "plan", "turret.toml", "--effort", "0", "--seconds", "0")
    assert done.status == 0, done.err


def test_rack_round(plain: Path, capsys: pytest.CaptureFixture[str]) -> None:
    soon = ("--effort", "0", "--seconds", "0")
    assert Said(capsys, "rack", "add", "rack.db", "copper-16oz", "13 x 24 in", "--count", "2").status == 0
    done = Said(capsys, "plan", plain, "--rack", "rack.db", *soon)
    assert done.status == 0, done.err
    plan = Path("W-3-packet", "plan.json")
    used = [u["name"] for u in json.loads(plan.read_text())["nesting"]["stock"] if u["form"] == "offcut"]
    assert used, "the plan takes no offcut although they are already paid for"
    assert Said(capsys, "prove", plan, "--job", plain).status == 0
    Path("other.toml").write_text(PLAIN.replace("count = 12", "count = 13"))
    other = Said(capsys, "rack", "use", "rack.db", plan, "--job", "other.toml")
    assert other.status == 1 and "is not proved" in other.err and "Nothing was booked" in other.err
    assert Said(capsys, "rack", "use", "rack.db", plan, "--job", plain).status == 0
    again = Said(capsys, "rack", "use", "rack.db", plan, "--job", plain)
    assert again.status == 1 and "was booked on" in again.err
    left = Said(capsys, "rack", "list", "rack.db", "--json").data["offcuts"]
    assert not {f"rack {p['id']}" for p in left} & set(used)
