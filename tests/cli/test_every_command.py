"""Every command in this process: what it prints, that --json prints JSON alone, and what it leaves with."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from in_process import Said
from real_runs import HEAD, PLAIN, SMALL, STOCK

from fabplan import cli
from fabplan.cli import pieces

ROOF = (
    HEAD
    + """[[piece]]
mark = "A"
kind = "diamond"
side = "9-1/4 in"
hem = "3/4 in"
[[slope]]
name = "south"
shape = "rectangle"
piece = "A"
bottom = "60 in"
height = "48 in"
"""
    + STOCK
)
SOON = ("--effort", "0", "--seconds", "0")  # the first plan found
NARROW = SMALL.replace('width = "24 in"', 'width = "3 in"')


@pytest.fixture
def jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name, text in {"small": SMALL, "roof": ROOF, "narrow": NARROW, "bare": SMALL.replace(STOCK, "")}.items():
        Path(f"{name}.toml").write_text(text, encoding="utf-8")
    return tmp_path


def test_count_tells_slopes_and_courses(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = Said(capsys, "count", "roof.toml")
    data = Said(capsys, "count", "roof.toml", "--json").data
    assert told.status == 0 and "south" in told.out and "Course" in told.out
    (slope,) = data["roof"]["slopes"]
    assert slope["slope"]["name"] == "south"


def test_count_without_slopes_says_what_to_write(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = Said(capsys, "count", "small.toml")
    assert (told.status, told.out) == (2, "")
    assert "small.toml: [[slope]]: the job has no roof slopes to count" in told.err


def test_blanks_and_bends_on_the_terminal(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    blanks = Said(capsys, "blanks", "small.toml")
    bends = Said(capsys, "bend", "small.toml", "--piece", "A")
    assert "diamond" in blanks.out and "rectangle" in blanks.out
    assert "hand seamer" in bends.out and "180" in bends.out
    marks = [s["mark"] for s in Said(capsys, "bend", "small.toml", "--json").data["bending"]]
    assert marks == ["A"]  # a plain blank has no folds
    wrong = Said(capsys, "bend", "small.toml", "--piece", "Q")
    assert wrong.status == 2 and "no such piece" in wrong.err and "A or K" in wrong.err


def test_nest_prints_patterns_and_the_proven_least(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = Said(capsys, "nest", "small.toml", "--effort", "0")
    assert told.status == 0 and "proven least" in told.out and "coil 24" in told.out
    nesting = Said(capsys, "nest", "small.toml", "--effort", "0", "--json").data["nesting"]
    assert nesting["bound"] <= nesting["total"]


def test_nest_needs_stock_and_enough_of_it(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bare = Said(capsys, "nest", "bare.toml")
    assert bare.status == 2 and "no stock to cut from" in bare.err
    Path("short.toml").write_text(PLAIN + 'on_hand = "3 in"\n', encoding="utf-8")
    short = Said(capsys, "nest", "short.toml", "--effort", "0")
    assert short.status == 1 and "missing" in short.err and "--allow-short" in short.err


def test_check_says_back_what_was_read(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "9-1/4 in" in Said(capsys, "check", "small.toml").out
    rows = Said(capsys, "check", "small.toml", "--json").data["understood"]
    assert any("9-1/4" in row["value"] for row in rows)


def test_draw_and_template_write_files(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawn = Said(capsys, "draw", "small.toml", *SOON, "--out", "pictures")
    assert drawn.status == 0 and list(Path("pictures").glob("*.svg"))
    tiled = Said(capsys, "template", "small.toml", "--piece", "A", "--paper", "a4")
    assert tiled.status == 0
    assert Path("W-3-A-template.pdf").read_bytes().startswith(b"%PDF")


def test_metals_are_listed_and_shown_with_sources(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listed = Said(capsys, "metals")
    shown = Said(capsys, "metals", "copper-16oz")
    assert "copper-16oz" in listed.out and "zinc-0.7mm" in listed.out
    assert "source" in shown.out and "0.0216" in shown.out
    names = {m["name"] for m in Said(capsys, "metals", "--json").data}
    assert {"copper-16oz", "zinc-0.8mm"} <= names
    assert [m["name"] for m in Said(capsys, "metals", "copper-20oz", "--json").data] == ["copper-20oz"]


def test_compare_ranks_the_stock_and_draws_it(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("two.toml").write_text(PLAIN.replace("count = 12", "count = 3") + STOCK.replace("24", "20"), encoding="utf-8")
    told = Said(capsys, "compare", "two.toml", *SOON, "--chart", "bars.svg")
    assert told.status == 0 and "coil 24" in told.out and "coil 20" in told.out
    assert Path("bars.svg").read_text(encoding="utf-8").lstrip().startswith("<")
    choices = Said(capsys, "compare", "two.toml", *SOON, "--json").data["compare"]
    good = [c for c in choices if c["holds_the_job"]]
    assert len(good) >= 2 and [c["area"] for c in good] == sorted(c["area"] for c in good)


def test_compare_says_when_no_stock_holds_the_job(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = Said(capsys, "compare", "narrow.toml", "--effort", "0")
    assert told.status == 1 and "None of the stock choices holds the whole job" in told.err


def test_best_size_sweeps_and_draws(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sweep = ("best-size", "roof.toml", "--from", "9 in", "--to", "9-1/2 in", "--step", "1/4 in", "--no-nest")
    told = Said(capsys, *sweep, "--chart", "curve.svg")
    assert told.status == 0, told.err
    assert "Piece A" in told.out and Path("curve.svg").exists()
    assert Said(capsys, *sweep, "--json").data
    assert Said(capsys, "best-size", "roof.toml", "--from", "nine").status == 2


def test_prove_leaves_with_1_for_a_plan_that_is_not_right(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = Said(capsys, "plan", "small.toml", *SOON, "--out", "packet", "--json")
    assert made.status == 0 and made.data["job"]["number"] == "W-3"
    saved = Path("packet/plan.json")
    right = Said(capsys, "prove", str(saved), "--job", "small.toml", "--json")
    assert right.status == 0 and right.data["proved"] is True
    data = json.loads(saved.read_text(encoding="utf-8"))
    data["blanks"][0]["count"] += 1
    saved.write_text(json.dumps(data), encoding="utf-8")
    wrong = Said(capsys, "prove", str(saved), "--job", "small.toml")
    assert wrong.status == 1 and "NOT proved: do not cut by it" in wrong.out


def test_a_fault_of_the_program_is_not_taken_for_the_user_s(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(path: Path) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(pieces, "read", broken)
    with pytest.raises(ZeroDivisionError):
        cli.main(["check", "any.toml"])


def test_plain_python_runs_the_command_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from fabplan.__main__ import main

    monkeypatch.setattr(sys, "argv", ["fabplan", "metals", "copper-16oz", "--json"])
    with pytest.raises(SystemExit) as leaving:
        main()
    assert not leaving.value.code
    assert json.loads(capsys.readouterr().out)[0]["name"] == "copper-16oz"
