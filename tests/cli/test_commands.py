"""Commands as a person types them: output, exit status, JSON and nothing else where JSON is asked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from real_runs import ROOT, SMALL, refused, run

from fabplan.errors import JobError

EXAMPLE = ROOT / "docs" / "examples" / "lakeside-pavilion" / "job.toml"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(SMALL)
    return path


@pytest.mark.parametrize("command", ["check", "blanks", "nest", "bend"])
def test_reading_commands_print_a_table_or_only_json(small: Path, command: str) -> None:
    shown = run(command, small)
    assert shown.returncode == 0, shown.stderr
    assert "A" in shown.stdout
    data = json.loads(run(command, small, "--json").stdout)
    assert data["units"] == "in"
    assert data["job"]["number"] == "W-3"


def test_plan_writes_the_packet_and_prove_proves_it(small: Path) -> None:
    done = run("plan", small, cwd=small.parent)
    assert done.returncode == 0, done.stderr
    folder = small.parent / "W-3-packet"
    assert {"packet.pdf", "plan.json", "plan.html", "cutlist.csv", "drawings"} <= {p.name for p in folder.iterdir()}
    proof = run("prove", folder / "plan.json", "--job", small)
    assert proof.returncode == 0, proof.stdout + proof.stderr
    assert "The plan is proved." in proof.stdout


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
def test_prove_finds_a_changed_number(small: Path, path: tuple[str | int, ...], wrong: object) -> None:
    from fabplan.job.load import load_job
    from fabplan.plan.file import plan_json
    from fabplan.plan.make import make_plan
    from fabplan.plan.prove import prove

    job = load_job(small)
    data = json.loads(json.dumps(plan_json(make_plan(job))))
    assert prove(data, job).ok
    at = data
    for key in path[:-1]:
        at = at[key]
    assert at[path[-1]] != wrong
    at[path[-1]] = wrong
    try:
        assert not prove(data, job).ok
    except JobError as fault:  # a figure that its exact value beside it gives the lie
        assert "is not its exact value" in str(fault)


def test_same_job_seed_and_effort_give_the_same_bytes(small: Path, tmp_path: Path) -> None:
    outs = []
    for i, env in enumerate(({"PYTHONHASHSEED": "1"}, {"PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "COLUMNS": "40"})):
        folder = tmp_path / f"out{i}"
        done = run("plan", small, "--out", folder, **env)
        assert done.returncode == 0, done.stderr
        outs.append({p.name: p.read_bytes() for p in folder.rglob("*") if p.is_file()})
    assert outs[0] == outs[1]


def test_an_inch_job_and_the_same_job_in_mm_give_the_same_plan(tmp_path: Path) -> None:
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
    a, b = (json.loads(run("nest", p, "--json").stdout) for p in (inch, mm))
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
def test_a_wrong_call_ends_with_a_plain_message(small: Path, args: tuple[str, ...], status: int, says: str) -> None:
    done = run(*args, cwd=small.parent)
    assert done.returncode == status, done.stderr
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_short_stock_ends_with_1_and_writes_nothing_unless_asked(small: Path) -> None:
    small.write_text(SMALL.replace('width = "24 in"\n', 'width = "24 in"\non_hand = "2 ft"\n'))
    done = run("plan", small, cwd=small.parent)
    assert done.returncode == 1
    assert "missing" in done.stderr
    assert not (small.parent / "W-3-packet").exists()
    nest = run("nest", small, "--json")
    assert nest.returncode == 1
    assert json.loads(nest.stdout)["nesting"]["short"]
    allowed = run("plan", small, "--allow-short", cwd=small.parent)
    assert allowed.returncode == 0, allowed.stderr
    assert (small.parent / "W-3-packet" / "packet.pdf").exists()


def test_new_writes_a_job_that_plans(tmp_path: Path) -> None:
    assert run("new", "turret.toml", cwd=tmp_path).returncode == 0
    again = run("new", "turret.toml", cwd=tmp_path)
    assert again.returncode == 2
    assert "Traceback" not in again.stderr
    done = run("plan", "turret.toml", "--effort", "0.1", cwd=tmp_path)
    assert done.returncode == 0, done.stderr


def test_rack_round(small: Path) -> None:
    db = small.parent / "rack.db"
    assert run("rack", "add", db, "copper-16oz", "13 x 24 in", "--count", "2").returncode == 0
    done = run("plan", small, "--rack", db, cwd=small.parent)
    assert done.returncode == 0, done.stderr
    plan = small.parent / "W-3-packet" / "plan.json"
    used = [u["name"] for u in json.loads(plan.read_text())["nesting"]["stock"] if u["form"] == "offcut"]
    assert used, "the plan takes no offcut although they are already paid for"
    proof = run("prove", plan, "--job", small)
    assert proof.returncode == 0, proof.stdout
    other = small.parent / "other.toml"
    other.write_text(SMALL.replace("count = 40", "count = 41"))
    refused(run("rack", "use", db, plan, "--job", other), 1, "is not proved", "Nothing was booked")
    assert run("rack", "use", db, plan, "--job", small).returncode == 0
    refused(run("rack", "use", db, plan, "--job", small), 1, "was booked on")
    left = json.loads(run("rack", "list", db, "--json").stdout)["offcuts"]
    assert not {f"rack {p['id']}" for p in left} & set(used)
