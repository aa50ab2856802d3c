"""The terminal as people expect it: version, short help, completion, the answer on the first screen."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from in_process import Said
from real_runs import ROOT, SMALL, run

import fabplan
from fabplan.screen import complete

EXAMPLE = ROOT / "docs" / "examples" / "lakeside-pavilion" / "job.toml"


def test_version_and_short_help() -> None:
    assert run("--version").stdout.strip() == f"fabplan {fabplan.__version__}"
    assert run("-h").stdout == run("--help").stdout
    assert "--rack" in run("plan", "-h").stdout
    assert "rescue" in run("rack", "-h").stdout


def test_the_answer_is_on_the_first_screen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(SMALL)
    done = run("plan", job, "--effort", "0", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    rows = done.stdout.splitlines()
    assert sum(max(1, -(-len(row) // 80)) for row in rows) <= 24
    assert any(row.startswith("Buy ") and "of coil 24" in row for row in rows)
    assert any(row.startswith("Work: ") for row in rows)
    assert any(row.startswith("Packet written to ") for row in rows)
    monkeypatch.chdir(tmp_path)
    whole = Said(capsys, "plan", job, "--effort", "0", "--seconds", "0", "--all").out
    assert "Layouts" in whole
    assert "Blanks" in whole


def asked(command: str, **typed: Any) -> Any:
    return SimpleNamespace(params=typed, command=SimpleNamespace(name=command))


def test_completion_offers_marks_metals_and_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert complete.marks(asked("bend", job=EXAMPLE), "b") == ["B", "BS", "BL", "BR", "BT"]
    assert complete.marks(asked("best-size", job=EXAMPLE), "") == ["A", "B"]
    assert complete.marks(asked("bend", job=tmp_path / "none.toml"), "") == []
    assert complete.marks(asked("bend"), "") == []
    assert "copper-16oz" in complete.metals("Copper-1")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "jobs").mkdir()
    for name in ("a.toml", "b.db", "c.json", ".hidden.toml", "jobs/d.toml"):
        (tmp_path / name).write_text("x")
    assert complete.job_files("") == ["a.toml", "jobs/"]
    assert complete.job_files("jobs/") == ["jobs/d.toml"]
    assert complete.rack_files("") == ["b.db", "jobs/"]
    assert complete.plan_files("c") == ["c.json"]
    assert complete.job_files("nowhere/") == []
    assert complete.marks(asked("bend", job=tmp_path / "a.toml"), "") == []
