"""The file on the desk: what is written, and what never is."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from desk_asker import PORCH, Asker

from fabplan.desk.document import Document, write_blank
from fabplan.errors import FabplanError, JobError, PlanError
from fabplan.job import write_toml
from fabplan.job.load import load_job


def test_a_change_keeps_comments_order_and_spelling(porch: Asker) -> None:
    assert porch.set("piece.0", "side", "9-1/2 in")["ok"]
    assert porch.text == PORCH.replace('side = "10 in"     # taped', 'side = "9-1/2 in"     # taped')
    assert porch.set("piece.1", "legs", '3/4 in, 2 1/2", 3 in')["ok"]
    assert 'legs = ["3/4 in", \'2 1/2"\', "3 in"]' in porch.text
    assert porch.set("piece.0", "count", "")["ok"]
    assert "count = 12" not in porch.text and "# ---- shingles ----" in porch.text


def test_what_is_only_typed_is_not_written(porch: Asker) -> None:
    assert porch.set("piece.0", "side", "9-1/2 in", what="try")["ok"]
    assert porch.text == PORCH


@pytest.mark.parametrize("start", ["\ufeff", ""])
@pytest.mark.parametrize("end", ["\r\n", "\n"])
def test_line_ends_and_a_byte_order_mark_stay(tmp_path: Path, start: str, end: str) -> None:
    asker = Asker(tmp_path / "job.toml", start + PORCH.replace("\n", end)).enter()
    assert asker.set("job", "number", "8")["ok"]
    assert asker.text == start + PORCH.replace('"7"', '"8"').replace("\n", end)


def test_another_program_s_change_is_shown_and_never_written_over(porch: Asker) -> None:
    theirs = PORCH.replace("count = 12", "count = 13")
    porch.path.write_text(theirs, encoding="utf-8")
    assert porch.get("/state").get_json()["changed"] == ["-count = 12", "+count = 13"]
    answer = porch.set("piece.0", "side", "9 in")
    assert not answer["ok"] and "another program changed this file" in answer["say"]
    assert porch.text == theirs
    page = porch.get("/?at=piece.0").text
    assert "+count = 13" in page and "Read the file again" in page
    assert porch.post("again")["ok"]
    assert porch.get("/state").get_json()["changed"] == []
    assert porch.set("piece.0", "side", "9 in")["ok"]
    assert "count = 13" in porch.text and 'side = "9 in"' in porch.text


def test_a_change_between_the_look_and_the_write_is_seen(porch: Asker, monkeypatch: pytest.MonkeyPatch) -> None:
    theirs = PORCH + "# theirs\n"
    whole = write_toml.shutil.copymode

    def meanwhile(*args: object) -> None:
        whole(*args)  # type: ignore[arg-type]
        porch.path.write_text(theirs, encoding="utf-8")

    monkeypatch.setattr(write_toml.shutil, "copymode", meanwhile)
    assert not porch.set("job", "number", "8")["ok"]
    assert porch.text == theirs
    assert [p.name for p in porch.path.parent.iterdir()] == ["porch.toml"]


def test_a_full_disk_leaves_the_old_file(porch: Asker, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(write_toml.os, "fsync", full)
    answer = porch.set("job", "number", "8")
    assert not answer["ok"] and "no space left" in answer["say"]
    monkeypatch.undo()
    assert porch.text == PORCH
    assert porch.set("job", "number", "9")["ok"]


def test_a_file_taken_away_is_told(porch: Asker) -> None:
    porch.path.unlink()
    assert porch.get("/state").get_json()["changed"]
    assert not porch.set("job", "number", "8")["ok"]
    assert not porch.path.exists()
    assert porch.get("/?at=job").status_code == 200


def test_changes_are_taken_back_one_by_one(porch: Asker) -> None:
    for number in ("8", "9"):
        porch.set("job", "number", number)
    assert porch.post("back")["ok"] and '"8"' in porch.text
    assert porch.post("back")["ok"] and porch.text == PORCH
    assert porch.post("back")["ok"] and porch.text == PORCH


def test_an_older_page_writes_nothing(porch: Asker) -> None:
    old = porch.desk.document.version
    porch.set("job", "number", "8")
    answer = porch.post("set", at="piece.0", name="piece.0.side", text="9 in", version=old)
    assert answer.get("stale") and not answer["ok"]
    answer = porch.post("drop", at="piece.0", version=old)
    assert answer.get("stale")
    assert porch.text == PORCH.replace('"7"', '"8"')


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    real.write_text(PORCH, encoding="utf-8")
    link = tmp_path / "job.toml"
    link.symlink_to(real)
    document = Document(link, str(link))
    document.write(document.text + "# more\n")
    assert link.is_symlink() and real.read_text(encoding="utf-8").endswith("# more\n")


@pytest.mark.parametrize("name", ["turret.toml", "lake-side_pavilion.toml", 'a "b".toml'])
def test_a_new_file_says_all_that_a_job_needs_but_its_pieces(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    write_blank(path)
    with pytest.raises(JobError) as caught:
        load_job(path)
    assert "no pieces" in str(caught.value)
    with pytest.raises(FabplanError):
        write_blank(path)


def test_nothing_is_begun_where_it_cannot_be(tmp_path: Path) -> None:
    with pytest.raises(JobError):
        write_blank(tmp_path / "none" / "job.toml")


def test_whole_text_and_tables_are_written_as_typed(porch: Asker) -> None:
    assert porch.post("text", at="", text=PORCH + "\n# more\n")["go"] == "/?at=text"
    assert porch.text == PORCH + "\n# more\n"
    assert porch.post("text", at="stock.0", text='[[stock]]\nname = "c"   # new\nform = "coil"\nwidth = 20')["ok"]
    assert 'name = "c"   # new' in porch.text and porch.text.endswith("# more\n")
    assert not porch.post("text", at="stock.0", text="[[stock]\n")["ok"]
    porch.post("text", at="", text="[job\nname =")
    assert porch.text == "[job\nname =\n"  # what one types in the file is what is in the file
    assert "this is not valid TOML" in porch.get("/?at=piece.0").text or "heading is not closed" in porch.get("/").text


def test_a_job_file_too_long_is_refused(porch: Asker) -> None:
    with pytest.raises((JobError, PlanError)):
        porch.desk.document.write(PORCH + "#" * 1_000_001)
    assert porch.text == PORCH
    assert os.path.getsize(porch.path) == len(PORCH.encode())
