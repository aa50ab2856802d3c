"""What stands beside a form: the picture and facts of the entry at hand, though another is still being written."""

from __future__ import annotations

from pathlib import Path

import pytest
from desk_asker import PORCH

from fabplan.desk.board import board, entry_name, without_faulty
from fabplan.job.load import load_job_text
from fabplan.job.model import Job


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    return load_job_text(PORCH, tmp_path_factory.mktemp("porch") / "job.toml")


def test_a_piece_is_shown_flat_and_finished_by_its_name(job: Job) -> None:
    mark = job.pieces[0].mark
    shown = board(job, ("piece", 0), mark)
    assert len(shown.pictures) >= 2 and shown.facts and not shown.faults
    assert board(job, ("piece", 0), "no such mark").pictures == ()


def test_a_table_without_a_picture_has_its_facts(job: Job) -> None:
    assert any(what == "shear" or what.startswith("shear ") or says for what, says in board(job, ("shear",)).facts)
    assert board(job, ()).pictures == ()
    assert entry_name("piece", {"mark": " A "}) == entry_name("piece", {"mark": "A"}) == "A"


def test_one_entry_half_written_hides_no_other(job: Job, tmp_path: Path) -> None:
    text = PORCH + '\n[[piece]]\nmark = "Z"\nkind = "rectangle"\ncount = 1\n'
    index = len(job.pieces)
    left = without_faulty(text, tmp_path / "job.toml", [("piece", index, "width")], ("piece", 0))
    assert left is not None and [p.mark for p in left.pieces] == [p.mark for p in job.pieces]
    assert without_faulty(text, tmp_path / "job.toml", [("piece", index, "width")], ("piece", index)) is None
