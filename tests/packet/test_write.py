"""The files of the packet."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import packet_sample
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import JobError
from fabplan.packet.output.files import cutlist_file, file_stem, plain_cell, unlike
from fabplan.packet.output.folder import RECORD
from fabplan.packet.output.write import drawings_folder, packet_files, packet_folder, write_drawings, write_packet
from fabplan.packet.setting.svg_cache import Ink
from fabplan.plan.file import plan_json
from fabplan.plan.model import Plan
from fabplan.plotter.model import Drawing, Text


@pytest.fixture(scope="module")
def files(plan: Plan) -> dict[str, bytes]:
    return packet_files(plan)


def test_the_folder_holds_what_it_says(plan: Plan, files: dict[str, bytes], tmp_path: Path) -> None:
    folder = write_packet(plan, tmp_path / "out")
    names = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()} - {RECORD}
    assert {"packet.pdf", "plan.json", "plan.html", "cutlist.csv"} <= names
    drawings = {n for n in names if n.startswith("drawings/")}
    assert drawings == names - {"packet.pdf", "templates.pdf", "plan.json", "plan.html", "cutlist.csv"}
    assert all(n.endswith(".svg") for n in drawings)
    assert {"drawings/layout-1.svg", "drawings/blank-1-A.svg", "drawings/line-key.svg"} <= drawings
    assert {n: (folder / n).read_bytes() for n in names} == files


def test_plan_file_is_the_plan(plan: Plan, files: dict[str, bytes]) -> None:
    assert json.loads(files["plan.json"]) == json.loads(json.dumps(plan_json(plan)))


def test_cut_list_has_the_plan_files_keys(plan: Plan, files: dict[str, bytes]) -> None:
    rows = list(csv.reader(io.StringIO(files["cutlist.csv"].decode(), newline="")))
    blanks = plan_json(plan)["blanks"]
    keys = rows[0]
    assert set(keys) <= set(blanks[0])
    assert not any(isinstance(blanks[0][k], (list, dict)) for k in keys)
    assert rows[0][:4] == ["mark", "kind", "metal", "count"]
    assert [r[0] for r in rows[1:]] == [b["mark"] for b in blanks]
    assert rows[1][keys.index("width")] == "14.03125"


@pytest.mark.parametrize(
    ("typed", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+A", "'+A"),
        ("-A", "'-A"),
        ("@x", "'@x"),
        ("\tA", "'\tA"),
        ("A=1", "A=1"),
        ("A;=1+1", "A;'=1+1"),
        ("A|@x", "A|'@x"),
        ('A;"=1', "A;'\"'=1"),
        ("A;  -1", "A;'  '-1"),
        ("A =1", "A '=1"),
        ("eave - left", "eave - left"),
        ("AS-2; 4x", "AS-2; 4x"),
        (-3, "-3"),
        (None, ""),
    ],
)
def test_cells_are_never_formulas(typed: object, cell: str) -> None:
    assert plain_cell(typed) == cell


def test_a_formula_mark_is_neutralised_in_the_file() -> None:
    rows = list(csv.reader(io.StringIO(cutlist_file({"blanks": [{"mark": '=cmd("x")', "count": 3}]}).decode())))
    assert rows == [["mark", "count"], ['\'=cmd("x")', "3"]]


@pytest.mark.parametrize(
    ("text", "stem"),
    [
        ("LP-07", "LP-07"),
        ("../../etc/passwd", "etc-passwd"),
        ("a/b\\c:d", "a-b-c-d"),
        ("..", "piece"),
        ("", "piece"),
        ("CON", "piece-CON"),
        ("A" * 300, "A" * 60),
        ("Dach ü", "Dach-ü"),
        ("$(rm -rf)", "rm--rf"),
    ],
)
def test_file_names(text: str, stem: str) -> None:
    assert file_stem(text) == stem


@given(st.lists(st.text(max_size=70), max_size=12))
def test_file_names_are_plain_and_apart(texts: list[str]) -> None:
    names = unlike(file_stem(t) for t in texts)
    assert len({n.casefold() for n in names}) == len(texts)
    for name in names:
        assert name
        assert not set(name) & set('/\\:*?"<>|.\0\n')
        assert name == name.strip()


def test_default_folders() -> None:
    job = packet_sample.job(number="../B 7")
    assert packet_folder(job) == Path("B-7-packet")
    assert drawings_folder(job) == Path("B-7-drawings")
    assert packet_folder(job, Path("x")) == Path("x")


def test_drawings_alone(plan: Plan, tmp_path: Path) -> None:
    folder = write_drawings(plan, tmp_path / "d")
    assert (folder / "layout-1.svg").is_file()
    write_drawings(plan, tmp_path / "d")
    assert all(p.suffix == ".svg" for p in folder.iterdir() if p.name != RECORD)


def test_unprintable_name_names_its_key_and_writes_nothing(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"job\.toml: job > name: U\+5C4B") as caught:
        write_packet(packet_sample.plan(name="屋根"), tmp_path / "out")
    assert caught.value.exit_code == 2
    assert list(tmp_path.iterdir()) == []


def test_a_drawing_with_an_unprintable_word_is_refused() -> None:
    word = Text(at=(1.0, 1.0), text="a屋", size=9.0)
    drawing = Drawing(name="d", title="d", width=10.0, height=10.0, marks=(word,))
    with pytest.raises(JobError, match=r"U\+5C4B"):
        Ink().svg(drawing)


def test_same_plan_same_files(files: dict[str, bytes]) -> None:
    assert packet_files(packet_sample.plan()) == files


def test_a4(plan: Plan, files: dict[str, bytes]) -> None:
    other = packet_files(plan, paper="a4")
    assert other["packet.pdf"] != files["packet.pdf"]
    assert set(other) == set(files)  # pictures are as large as the paper lets them be
    assert all(other[name] == files[name] for name in ("plan.json", "cutlist.csv"))
