"""Turned ends at the bench: order, tools, words and pictures; each wrong stroke is found.

The order is the trade's (common practice, no source): hems and long bends on the brake, then the dams, then the tabs
round them; between standing legs only what goes in between them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from bend_pieces import step_sentences

from fabplan.bending.check.whole import check_schedules
from fabplan.bending.ends import ends_are_turned, with_ends
from fabplan.bending.model import Bends, BendSchedule
from fabplan.bending.schedule import schedule_all
from fabplan.blanks.model import FlatPattern
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.packet.pages.ends import end_blocks
from fabplan.plan.make import make_pieces, metals_of
from fabplan.plotter.bend.ends import draw_end, draw_finished_end
from fabplan.plotter.blank.blank import draw_blank
from fabplan.plotter.model import Shape
from fabplan.speech.ends import fold_title
from fabplan.speech.folds import check_words, notes, turn_words
from fabplan.speech.format import Say

PAN = """
[job]
name = "Reading room"
number = "9"
[metal]
use = "copper-16oz"
[[piece]]
mark = "P"
kind = "section"
count = 4
length = "36 in"
{keys}
[[stock]]
name = "coil"
form = "coil"
width = "24 in"
"""
SILL = """legs = ["1 in", "5 in", "2 in"]
bends = [-90, 90]
end_hem = {width = "1/2 in", toward = "back", gap = "0 in"}
end_dams = [{leg = 2, height = "1-1/2 in", toward = "face"}]"""
TROUGH = """legs = ["3 in", "4 in", "4 in"]
bends = [90, 90]
end_dams = [{{leg = 2, height = "{height}", at = "A", tabs = "3/4 in"}}]"""
DRIP = """legs = ["3 in", "2 in", "3/4 in"]
bends = [-90, 45]
returns = [{leg = 2, length = "1-1/2 in", at = "B", toward = "back"}]"""


@cache
def planned(keys: str, more: str = "") -> tuple[Job, FlatPattern, Bends]:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_text(PAN.replace("{keys}", keys) + more, encoding="utf-8")
        job = load_job(path)
    pieces = make_pieces(job)
    bends = schedule_all(pieces.patterns, job, pieces.metals)
    unbent = [u.mark for u in bends.unbent]
    assert check_schedules(bends.schedules, pieces.patterns, job, pieces.metals, unbent) == []
    return job, pieces.patterns[0], bends


def schedule_of(keys: str, more: str = "") -> BendSchedule:
    _, _, bends = planned(keys, more)
    assert not bends.unbent, bends.unbent
    return bends.schedules[0]


def test_a_sill_pan_is_hemmed_bent_dammed_and_its_tabs_are_folded_round() -> None:
    schedule = schedule_of(SILL)
    assert [s.edge for s in schedule.steps] == [3, 3, *sorted({1, 2}), 4, 6, 7, 5]
    assert [s.at for s in schedule.steps] == ["", "", "", "", "A", "B", "B", "A"]
    assert {s.side_up for s in schedule.steps if s.at} == {"face"}
    assert [turn_words(s, SHOW) for s in schedule.steps if s.at][1:] == [
        "bring end B round to you", "", "bring end A round to you"
    ]  # fmt: skip


def test_between_standing_legs_goes_only_what_is_narrower() -> None:
    # 3-7/8 in between the legs: the 3-1/2 in jaws of the seamer go in, but hold no more than 1-1/2 in
    _, pattern, _ = planned(TROUGH.format(height="1-1/2 in"))
    assert 3.8 < pattern.ends[0].between < 4
    tools = {h: [s.tool for s in schedule_of(TROUGH.format(height=h)).steps if s.at] for h in ("1-1/2 in", "3 in")}
    assert tools["3 in"][0] == "mallet"
    narrow = TROUGH.format(height="1 in").replace('"4 in", "4 in"', '"3 in", "4 in"')
    assert next(s.tool for s in schedule_of(narrow).steps if s.at) == "mallet"  # over a block cut to go in


def test_a_return_is_turned_with_its_own_side_up() -> None:
    schedule = schedule_of(DRIP)
    last = schedule.steps[-1]
    assert (last.at, last.side_up, last.toward) == ("B", "back", "back")
    assert last.turns_over == (schedule.steps[-2].side_up != "back")


def test_a_dam_that_no_tool_holds_is_refused_and_the_height_offered_works() -> None:
    keys = TROUGH.format(height="8 in").replace('["3 in", "4 in", "4 in"]', '["2 in", "4 in", "2 in"]')
    _, _, bends = planned(keys)
    (unbent,) = bends.unbent
    assert "is turned by no hand tool of the shop: the hand seamer holds none wider than 1-1/2 in" in unbent.reasons[0]
    first, own = unbent.mends
    assert "a piece of its own" in own.says
    written = tomllib.loads(first.write)["end_dams"]
    assert written == [{"leg": 2, "at": "A", "height": "6 in", "tabs": "3/4 in"}]
    line = next(line for line in keys.splitlines() if line.startswith("end_dams"))
    schedule_of(keys.replace(line, first.write))


# -- words and pictures -----------------------------------------------------------------------------------------------

JOB, SILL_PATTERN, BENDS = planned(SILL)
SHOW = Say.of(JOB).show


def test_strokes_of_the_ends_come_after_all_others_and_need_a_tool() -> None:
    steps = BENDS.schedules[0].steps
    long = [s for s in steps if not s.at]
    assert steps[: len(long)] == tuple(long)
    again, _, _ = with_ends(long, SILL_PATTERN, JOB, metals_of(JOB))
    assert [(s.edge, s.at) for s in again] == [(s.edge, s.at) for s in steps]
    assert ends_are_turned(SILL_PATTERN, JOB)
    assert not ends_are_turned(SILL_PATTERN, JOB.model_copy(update={"hem_tools": ()}))


def test_the_words_of_a_dam_and_its_tab() -> None:
    steps = BENDS.schedules[0].steps
    dam, tab = (next(s for s in steps if s.edge == n) for n in (4, 5))
    says = " ".join(step_sentences(dam, SHOW, SILL_PATTERN))
    assert "Hand seamer 1-15/32 in onto the end of leg 2, in 2 bites of up to 3-1/2 in; fold up, turned 90°" in says
    assert "The tabs beside it stay straight." in says
    says = " ".join(step_sentences(tab, SHOW, SILL_PATTERN))
    assert "the tab of leg 3" in says
    assert "round the corner, flat on the outside of the end dam" in says
    assert "2 rivets through each tab, then solder its corners full length" in says
    assert check_words(dam, SHOW) == "raw edge of fold 4 to its outside"
    assert [fold_title(SILL_PATTERN, n) for n in (4, 5)] == ["end dam of leg 2 at end A", "tab of leg 3 at end A"]
    early = " ".join(notes(BENDS.schedules[0], SILL_PATTERN, JOB, metals_of(JOB)).before)
    assert "Bend on the brake first, then turn the ends at the bench, then fold their tabs." in early


def test_wide_bends_are_drilled_before_they_are_snipped() -> None:
    job, pattern, bends = planned(SILL + '\ninside_radius = "1/8 in"')
    early = " ".join(notes(bends.schedules[0], pattern, job, metals_of(job)).before)
    assert "drill 1/8 in at each crossing" in early


def test_aluminum_is_sealed_and_not_soldered() -> None:
    coil = '[[stock]]\nname = "b"\nform = "coil"\nwidth = "24 in"\nmetal = "aluminum-0.032in"\n'
    _, pattern, bends = planned(SILL + '\nmetal = "aluminum-0.032in"', coil)
    assert {e.joined for e in pattern.ends} == {"sealed"}
    last = bends.schedules[0].steps[-1]
    assert "Bed each tab in sealant" in " ".join(step_sentences(last, SHOW, pattern))


def test_every_corner_of_both_ends_is_on_the_sheet() -> None:
    blocks = end_blocks(SILL_PATTERN, Say.of(JOB))
    folds, *corners = blocks
    assert [row[0] for row in folds.rows] == ["4", "5", "6", "7"]  # type: ignore[union-attr]
    listed = sum(len(table.columns) - 1 for table in corners)  # type: ignore[union-attr]
    at_a = sum(y < 18 for _, y in SILL_PATTERN.snipped)
    assert listed in (at_a, len(SILL_PATTERN.snipped))


def test_the_pictures_hatch_what_is_snipped_and_what_is_turned() -> None:
    blank = draw_blank(SILL_PATTERN, show=SHOW, width_mm=88, height_mm=84)
    hatched = [m for m in blank.marks if isinstance(m, Shape) and m.fill == "hatch"]
    assert len(hatched) == len(SILL_PATTERN.notches)
    step = next(s for s in BENDS.schedules[0].steps if s.edge == 5)
    for when in ("before", "after"):
        picture = draw_end(SILL_PATTERN, BENDS.schedules[0], step, when, width_mm=42, height_mm=27)
        active = [m for m in picture.marks if isinstance(m, Shape) and m.fill == "hatch"]
        assert len(active) == 1
    finished = draw_finished_end(SILL_PATTERN, "B", "x", width_mm=42, height_mm=30)
    assert sum(isinstance(m, Shape) for m in finished.marks) == 4 + 2  # legs and hem, the dam, its tab


# -- the checker ------------------------------------------------------------------------------------------------------

Change = Callable[[BendSchedule], BendSchedule]


def step(schedule: BendSchedule, n: int, **changes: Any) -> BendSchedule:
    steps = list(schedule.steps)
    steps[n] = replace(steps[n], **changes)
    return replace(schedule, steps=tuple(steps))


def swapped(schedule: BendSchedule, a: int, b: int) -> BendSchedule:
    steps = list(schedule.steps)
    steps[a], steps[b] = replace(steps[b], step=a + 1), replace(steps[a], step=b + 1)
    return replace(schedule, steps=tuple(steps))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda s: swapped(s, 4, 7), "a tab is folded round what is not turned yet"),
        (lambda s: replace(s, steps=s.steps[:-1]), "is never made"),
        (lambda s: step(s, 4, tool="tinner's jaws"), "the shop has no"),
        (lambda s: step(s, 4, tool="folding bar"), "does not hold a fold"),
        (lambda s: step(s, 4, turned_deg=80.0), "it is turned 90"),
        (lambda s: step(s, 4, stop=1.0), "its depth is not that of the flap"),
        (lambda s: step(s, 4, check=replace(s.steps[4].check, size=1.0)), "its check size"),
        (lambda s: step(s, 4, side_up="back"), "must lie up"),
        (lambda s: step(s, 4, done=(1,)), "says folds (1,) are made"),
        (lambda s: step(s, 5, turn=replace(s.steps[5].turn, swap=False)), "does not bring end B round"),
        (lambda s: step(s, 4, hold=replace(s.steps[4].hold, bites=3)), "how it is held"),
        (lambda s: replace(s, turn_arounds=s.turn_arounds + 1), "turn-overs, swaps"),
    ],
)
def test_a_wrong_stroke_is_found(change: Change, says: str) -> None:
    wrong = change(BENDS.schedules[0])
    found = check_schedules([wrong], [SILL_PATTERN], JOB, metals_of(JOB))
    assert any(says in fault for fault in found), found
