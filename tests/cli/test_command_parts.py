"""What commands are made of: names typed, refusals, the answer on the first screen, output that is cut off."""

from __future__ import annotations

import errno
import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from real_runs import SMALL

from fabplan.cli import choosing, commands, planning, rack, record, shared, times
from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.plan.make import make_pieces, make_plan
from fabplan.plan.model import Plan
from fabplan.screen import answer, output, tables


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("small") / "job.toml"
    path.write_text(SMALL, encoding="utf-8")
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


def test_marks_with_counts_as_typed() -> None:
    assert record.counts_of(["A=2", "B=1", "A=3"], ["A", "B"]) == {"A": 5, "B": 1}
    for typed in ("A", "A=0", "A=-1", "=4", "A=x"):
        with pytest.raises(JobError):
            record.counts_of([typed], ["A"])
    with pytest.raises(JobError, match="no such piece"):
        record.counts_of(["Z=1"], ["A"])


def test_the_record_and_the_rest_lie_beside_the_job(plan: Plan, tmp_path: Path) -> None:
    path = record.record_of(plan.job, tmp_path / "job.toml", None)
    assert path.parent == tmp_path and path.name.endswith("-record.db")
    assert record.record_of(plan.job, tmp_path / "job.toml", tmp_path / "own.db") == tmp_path / "own.db"
    assert record.next_stem("porch") != "porch"
    assert record.next_stem(record.next_stem("porch")) != record.next_stem("porch")


def test_stations_named_for_whom() -> None:
    every = planning.stations_of("")
    assert planning.stations_of("roof, Shear") == tuple(s for s in every if s in {"roof", "shear"})
    with pytest.raises(JobError, match="names a station"):
        planning.stations_of("kitchen")


def test_what_cannot_be_made_is_refused_with_what_to_do(plan: Plan) -> None:
    assert plan.cut_plan is not None
    shared.refuse_short(plan.cut_plan, False, plan.job)  # nothing is short
    shared.refuse_unbent(())
    shared.refuse_unplanned(plan)
    short = SimpleNamespace(status="short", short=tuple((f"M{n}", 2) for n in range(20)), stopped_early=False)
    shared.refuse_short(short, True, plan.job)
    with pytest.raises(PlanError) as caught:
        shared.refuse_short(short, False, plan.job)
    assert "2 of M0" in str(caught.value) and "8 more marks" in str(caught.value)
    assert "--allow-short" in str(caught.value)
    shared.known_mark(["A"], Path("job.toml"), None)
    with pytest.raises(JobError, match="Z"):
        shared.known_mark(["A"], Path("job.toml"), "Z")
    assert shared.offered(None, plan.job) is None


def test_pieces_that_cannot_be_folded_are_left_out_of_a_comparison(plan: Plan) -> None:
    kept, (marks, lines) = choosing.foldable(plan.job, make_pieces(plan.job))
    assert marks == [] and lines == [] and kept is not None


def test_a_folder_that_is_gone_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    commands.here()
    monkeypatch.setattr(Path, "cwd", lambda: (_ for _ in ()).throw(FileNotFoundError()))
    with pytest.raises(PlanError, match="gone"):
        commands.here()


def test_every_command_stands_in_the_help_once() -> None:
    names = [c.name or c.callback.__name__ for c in commands.app.registered_commands if c.callback]
    assert len(names) == len(set(names)) and {"plan", "check", "best-size", "open", "rest"} <= set(names)
    groups = {g.name for g in commands.app.registered_groups}
    assert groups == {"rack", "record", "times"}
    for sub, least in ((rack.rack_app, 8), (record.record_app, 6), (times.times_app, 4)):
        assert len(sub.registered_commands) >= least


def test_the_answer_fits_a_small_terminal_and_names_the_packet(plan: Plan) -> None:
    lines = answer.answer_lines(plan, Path("small-packet"))
    assert 3 < len(lines) <= 22
    assert any("small-packet" in line for line in lines)
    assert answer.notes_of(plan) is not None


def test_a_limit_no_file_types_is_told_where_the_plan_reaches_it(plan: Plan) -> None:
    """Pulled 10 ft at a time, nothing is short; pulled at the least pull, that limit alone is told of the pulls."""
    assert plan.cut_plan is not None and "shear > least_pull" in plan.job.assumed

    def told(**shear: int) -> str:
        limits = plan.job.shear.model_copy(update={"least_held": 0, "least_gauge": 0, "width_tolerance": 0, **shear})
        job = plan.job.model_copy(update={"shear": limits})
        return next((n for n in answer.notes_of(replace(plan, job=job)) if "Limits assumed" in n), "")

    longest = max(y.length for y in plan.cut_plan.layouts) * plan.cut_plan.grid
    shortest = min(y.length for y in plan.cut_plan.layouts) * plan.cut_plan.grid
    assert told(least_pull=shortest // 2) == ""
    assert "least_pull" in told(least_pull=longest) and "least_gauge" not in told(least_pull=longest)
    everything = " ".join(answer.notes_of(plan, everything=True))
    assert all(key in everything for key in ("least_held", "least_gauge", "width_tolerance", "least_pull"))


def test_tables_never_read_a_mark_as_markup(plan: Plan, capsys: pytest.CaptureFixture[str]) -> None:
    tables.print_all([tables.table("T", ("mark", "n"), [("[bold]A[/bold]", 3)], right=(1,))])
    assert "[bold]A[/bold]" in capsys.readouterr().out
    assert tables.count_marks(["B", "A", "B"]) == [("B", 2), ("A", 1)]
    assert plan.cut_plan is not None
    said = tables.total_says(plan.cut_plan, plan.job)
    assert any(c.isdigit() for c in said)


def test_faults_of_the_computer_are_said_and_those_of_the_program_are_not() -> None:
    full = output.surroundings_say(OSError(errno.ENOSPC, "No space left on device", "plan.json"))
    assert "plan.json" in full and "Traceback" not in full
    assert output.surroundings_say(ZeroDivisionError()) == ""
    assert json.loads(output.json_text({"mark": "é"})) == {"mark": "é"}
