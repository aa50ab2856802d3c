"""What is offered for a piece that cannot be bent, typed into its job file and planned again, rounding and all."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from bend_pieces import step_sentences

from fabplan.bending.check.whole import check_schedules
from fabplan.bending.model import Bends
from fabplan.bending.schedule import schedule_all
from fabplan.job.load import load_job
from fabplan.plan.make import make_pieces
from fabplan.units import Show

CASES = Path(__file__).parent / "cases"


def planned(text: str, folder: Path) -> Bends:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    job = load_job(path)
    pieces = make_pieces(job)
    bends = schedule_all(pieces.patterns, job, pieces.metals)
    unbent = [u.mark for u in bends.unbent]
    assert check_schedules(bends.schedules, pieces.patterns, job, pieces.metals, unbent) == []
    return bends


def typed(text: str, mark: str, write: str) -> list[str]:
    """The job with what a mend says written into the piece; two jobs for two strips."""
    if write.startswith("two pieces: "):
        low, high = (part.replace(", bends", "\nbends") for part in write[len("two pieces: ") :].split("; and "))
        return [
            replaced(text, mark, tomllib.loads(low), "end_hem"),
            replaced(text, mark, tomllib.loads(high), "start_hem"),
        ]
    return [replaced(text, mark, tomllib.loads(write))]


def replaced(text: str, mark: str, keys: dict[str, Any], without: str = "") -> str:
    data = tomllib.loads(text)
    for piece in data["piece"]:
        if piece["mark"] == mark:
            for key, value in keys.items():
                piece[key] = {**piece[key], **value} if isinstance(value, dict) else value
            piece.pop(without, None)
    return "\n".join(_lines(data))


def _lines(data: dict[str, Any]) -> list[str]:
    out = []
    for name, tables in data.items():
        for table in tables if isinstance(tables, list) else [tables]:
            out.append(f"[[{name}]]" if isinstance(tables, list) else f"[{name}]")
            out += [f"{key} = {_value(value)}" for key, value in table.items()]
    return out


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value).lower()


def every_mend_works(text: str, folder: Path) -> int:
    tried = 0
    for unbent in planned(text, folder).unbent:
        assert unbent.reasons
        for mend in unbent.mends:
            for changed in typed(text, unbent.mark, mend.write) if mend.write else []:
                again = planned(changed, folder)
                assert unbent.mark not in [u.mark for u in again.unbent], (mend, changed)
                tried += 1
    return tried


TOO_MUCH = """
[job]
name = "x"
number = "1"
[metal]
use = "copper-20oz"
[[piece]]
mark = "S"
kind = "section"
count = 1
length = "48 in"
"""


@pytest.mark.parametrize(
    "keys",
    [
        'legs = ["3 in", "2 in"]\nbends = [90]\n[brake]\nlargest_angle = 80',
        'legs = ["3 in", "1/4 in"]\nbends = [90]',
        'legs = ["3 in", "3 in"]\nbends = [90]\nend_hem = {width = "1-1/4 in", toward = "face", gap = "0 in"}',
        'legs = ["4 in", "3 in", "4 in", "1 in"]\nbends = [90, 90, 90]',
        'legs = ["3-3/16 in", "5-1/2 in", "4-1/2 in", "1/4 in"]\nbends = [90, 90, -90]',
    ],
)
def test_every_mend_offered_works_when_it_is_typed(keys: str, tmp_path: Path) -> None:
    assert every_mend_works(TOO_MUCH + keys, tmp_path) >= 1


@pytest.mark.parametrize("case", ["d7_mend_fails", "d12_z_step", "d13_one_bad_piece_no_packet"])
def test_cases_of_mends(case: str, tmp_path: Path) -> None:
    every_mend_works((CASES / f"{case}.toml").read_text(encoding="utf-8"), tmp_path)


def test_what_is_left_to_the_hands_comes_last_and_the_blank_keeps_the_full_angle(tmp_path: Path) -> None:
    text = TOO_MUCH + 'legs = ["3 in", "2 in"]\nbends = [95]\n'
    brake = "\n[brake]\nlargest_angle = 80"
    (schedule,) = planned(text + "finish_by_hand = [1, 15]" + brake, tmp_path).schedules
    assert [(s.action, s.turned_deg) for s in schedule.steps] == [("fold", 80), ("by hand", 95)]
    assert schedule.steps[1].hold.by_hand == 15
    assert step_sentences(schedule.steps[1], Show("in", 793_750)) == [
        "Off the tools. By hand, over a straight edge clamped along its mark: turn bend 1 the last 15° toward "
        "the face, turned 95° (inside 85°)."
    ]
    path = tmp_path / "job.toml"
    with_hands = make_pieces(load_job(path)).patterns[0]
    path.write_text(text, encoding="utf-8")
    assert make_pieces(load_job(path)).patterns[0] == with_hands
