"""Words for the metal at the shear are made from facts: no mark, however it reads, is taken for a word of ours."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.packet.model import Table
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.short_names import short_marks
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.prove import prove
from fabplan.speech.cuts import MetalPart, Take, drops_words, lot_words, takes_words

A = MetalPart("blank", (("A", 1),))
SCRAP = MetalPart("scrap")

JOB = """[job]
name = "t"
number = "T1"
keep_at_least = "2 x 2 in"
[metal]
use = "copper-16oz"
[[piece]]
mark = "MARK"
kind = "rectangle"
count = 7
width = "4 in"
length = "7 in"
[[piece]]
mark = "C"
kind = "rectangle"
count = 5
width = "5 in"
length = "5-1/2 in"
[[stock]]
name = "s"
form = "coil"
width = "20 in"
[nest]
search_effort = 0
"""
MARKS = ["scrap", "offcut to keep", "A; 2 B"]
MORE = ["Keep", "dust", "piece with 2 P", "panel with 2 C", "C to trim", "1 C"]


@pytest.mark.parametrize("mark", [*MARKS, *(pytest.param(m, marks=pytest.mark.slow) for m in MORE)])
def test_a_blank_of_any_name_is_planned_proved_and_printed_as_a_blank(mark: str, tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(JOB.replace("MARK", mark), encoding="utf-8")
    job = load_job(file)
    plan = make_plan(job)
    assert prove(plan_json(plan), job).ok
    said = [
        row[3:5]  # what comes off, what is left
        for page in build_packet(plan).pages
        if page.kind == "shear"
        for table in page.blocks
        if isinstance(table, Table) and table.columns[0].title == "Cut"
        for row in table.rows
    ]
    assert plan.cut_plan is not None
    shown = short_marks([mark, "C"]).get(mark, mark)
    assert any(shown in words for row in said for words in row)
    waste = {cut.falls.use for layout in plan.cut_plan.layouts for cut in layout.cuts} - {"blank", "piece"}
    bare = {words.split(" × ")[-1] for row in said for words in row[0].split(", ")}
    assert ("scrap" in bare) == ("scrap" in waste)
    assert ("offcut to keep" in bare) == ("keep" in waste)


@pytest.mark.parametrize(
    ("lots", "words"),
    [
        ([A], "A"),
        ([A] * 6, "6 × A"),
        ([A, A, SCRAP], "2 × A, scrap"),
        ([SCRAP, SCRAP], "2 × scrap"),
        ([MetalPart("piece", (("A", 1),))], "A to trim"),
        ([MetalPart("piece", (("A", 2), ("B", 1)))], "piece with 2 A, 1 B"),
        ([MetalPart("piece", (("A", 1),), panel=True)], "panel with 1 A"),
        ([MetalPart("keep"), MetalPart("keep")], "2 × offcut to keep"),
        ([MetalPart("blank", (("scrap", 1),)), SCRAP], "1 × blank “scrap”, scrap"),
    ],
)
def test_what_drops(lots: list[MetalPart], words: str) -> None:
    assert drops_words(lots) == words
    assert len(lots) > 1 or lot_words(lots[0]) == words


def test_what_is_put_in() -> None:
    assert takes_words([Take("panel")]) == "the panel"
    assert takes_words([Take("drop", 3)]) == "drop of 3"
    assert takes_words([Take("drop", 1), Take("drop", 2), Take("rest", 5)]) == "drops of 1, 2 and rest of 5"
    # in the order of the cuts made on them: the third cut of these is on the drop of 15
    some = [Take("drop", 13), Take("rest", 14), Take("drop", 15), Take("drop", 17)]
    assert takes_words(some) == "drop of 13, rest of 14 and drops of 15, 17"
