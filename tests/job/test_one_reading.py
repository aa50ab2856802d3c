"""A line that is not TOML hides no other fault of the file."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.errors import JobError, JobErrors
from fabplan.job.load import load_job

JOB = """[job]
name = "t"
number = T1
[metal]
use = "copper-16oz"
[[piece]]
mark = "C"
kind = "rectangle"
count = -3
width = 4-1/2 in
length = “5 in”
[[piece]]
mark = "D"
kind = "rectangle"
count = 3
width = "banana"
length = "5 in"
[[stock]]
name = "s"
form = "sheeet"
width = "36 in"
"""


def lines(path: Path) -> list[int | None]:
    with pytest.raises(JobErrors) as caught:
        load_job(path)
    return [fault.line for fault in caught.value.errors]


def test_every_fault_of_the_file_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    assert lines(path) == [3, 9, 10, 11, 16, 20]


def test_a_line_that_cannot_be_guessed_at_makes_no_key_missing(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace('mark = "D"', 'mark "D"'), encoding="utf-8")
    assert lines(path) == [3, 9, 10, 11, 13, 16, 20]


def test_a_value_mended_to_be_read_is_still_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    good = JOB.replace("T1", '"T1"').replace("“5 in”", '"5 in"').replace("-3", "3").replace("banana", "2 in")
    path.write_text(good.replace("sheeet", 'sheet"\nlength = "96 in'), encoding="utf-8")
    with pytest.raises(JobError, match=r"line 10: a value with a unit or words must stand in quotes") as caught:
        load_job(path)
    assert not isinstance(caught.value, JobErrors)
