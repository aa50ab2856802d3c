"""What the README says is so: its commands exist, its job plans, its test command is the one that is run."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from fabplan.cli import app
from fabplan.job.load import load_job
from fabplan.plan.make import make_nest, make_pieces

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", README, flags=re.S)


def test_set_up_is_two_lines_and_the_second_is_what_runs_before_a_change_is_taken() -> None:
    setup = [text.strip() for kind, text in BLOCKS if not kind and text.startswith((".venv", "python3"))]
    assert len(setup) == 2
    assert all("\n" not in line for line in setup)
    test_command = setup[1].split("&&")[-1].strip()
    assert test_command in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert (ROOT / setup[0].split()[-1]).is_file()


def test_every_command_named_exists() -> None:
    group = typer.main.get_command(app)
    known = set(group.commands)  # type: ignore[attr-defined]
    named = set(re.findall(r"`?fabplan ([a-z-]+)\b", README)) - {"reads", "says", "counts"}
    assert named <= known, named - known
    assert known <= named, f"the README does not name {known - named}"


def test_the_job_shown_loads_and_nests(tmp_path: Path) -> None:
    (shown,) = (text for kind, text in BLOCKS if kind == "toml")
    path = tmp_path / "job.toml"
    path.write_text(shown, encoding="utf-8")
    job = load_job(path)
    plan = make_nest(job, make_pieces(job), effort=0)
    assert plan is not None
    assert plan.status != "short"


def test_links_lead_somewhere() -> None:
    for page in (*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")):
        for target in re.findall(r"\]\((?!https?:)([^)#]+)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_the_guide_to_running_a_checker_runs() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", guide, flags=re.S)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", sorted(p.parent.name for p in (ROOT / "docs" / "examples").glob("*/job.toml")))
def test_examples_load(name: str) -> None:
    assert load_job(ROOT / "docs" / "examples" / name / "job.toml").pieces
