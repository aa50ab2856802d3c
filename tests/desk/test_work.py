"""What the slow hands say: the whole of what `check` looks at, and a plan with its pages."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from desk_asker import PORCH, Asker

from fabplan.desk.desk import News
from fabplan.desk.hand import Hand
from fabplan.desk.work import JobOverview, Looker, PlanStage, plan
from fabplan.job.load import load_job_text
from fabplan.plan.make import make_pieces

SLOPE = """
[[slope]]
name = "west"
shape = "triangle"
piece = "A"
bottom = "60 in"
height = "60 in"
"""


def pictures(known: JobOverview) -> tuple[tuple[str, str], ...]:
    assert known.pictures is not None
    return known.pictures.drawn


def porch(folder: Path, text: str = PORCH) -> Path:
    path = folder / "porch.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_counts_weights_and_hours_are_those_of_the_stages(tmp_path: Path) -> None:
    path = porch(tmp_path)
    job = load_job_text(PORCH, path)
    last = list(Looker().look(7, job, (), ""))[-1]
    assert last.done and last.serial == 7 and not last.faults
    assert [row[:3] for row in last.blanks] == [("A", "diamond", "12"), ("D", "section", "4")]
    weights = sum(p.weight * p.count for p in make_pieces(job).patterns)
    facts = dict(last.facts)
    assert facts["pieces"] == "16 pieces, 2 marks"
    assert job.show.weight(weights) in facts["metal in blanks"]
    assert "bench" in facts["hours"] and "brake" in facts["hours"]


def test_a_slope_is_drawn_before_all_is_counted(tmp_path: Path) -> None:
    text = PORCH.replace("count = 12\n", "") + SLOPE
    job = load_job_text(text, porch(tmp_path, text))
    looker = Looker()
    steps = list(looker.slope(1, job, "west"))
    assert [title for title, _ in pictures(steps[0])] == ["west, with its courses, being checked"]
    assert [title for title, _ in pictures(steps[-1])] == ["west, with its courses"]
    assert pictures(steps[0])[0][1] == pictures(steps[-1])[0][1]  # nothing else but the proof is missing
    assert not any(s.done for s in steps)
    last = list(looker.look(2, job, ("slope", 0), "west"))[-1]
    assert pictures(last) == pictures(steps[-1])
    assert last.slopes and last.done


def test_what_cannot_be_laid_is_a_fault_and_no_traceback(tmp_path: Path) -> None:
    text = PORCH.replace("count = 12\n", "") + SLOPE.replace('"60 in"', '"0.5 in"')
    job = load_job_text(text, porch(tmp_path, text))
    last = list(Looker().look(1, job, ("slope", 0), "west"))[-1]
    assert last.done and last.faults
    assert list(Looker().slope(1, job, "west"))[-1].faults


@pytest.mark.slow
def test_a_plan_tells_how_far_it_is_and_brings_its_pages(tmp_path: Path) -> None:
    path = porch(tmp_path, PORCH + "\n[nest]\nsearch_effort = 0\n")
    told: list[PlanStage] = []
    made = plan(load_job_text(path.read_text(encoding="utf-8"), path), str(tmp_path), told.append, lambda: False)
    assert [s.stage for s in told[:3]] == ["Pieces and counts", "Folds", "Cut plan, first layouts"]
    assert any(s.stage == "Cut plan" and s.best and s.bound for s in told)
    assert {station for station, _ in made.pages} == {"office", "shear", "bench", "brake"}
    assert (
        made.shear.startswith(b"%PDF")
        and made.answer
        and "--all" not in str(made.answer)
        and made.layouts
        and not made.changed
    )
    assert (tmp_path / made.folder / "packet.pdf").is_file() and made.folder == "7-packet"
    again = plan(load_job_text(path.read_text(encoding="utf-8"), path), str(tmp_path), told.append, lambda: False)
    assert again.changed == ("Nothing changed for the shop.",)
    more = path.read_text(encoding="utf-8").replace("count = 12", "count = 20")
    other = plan(load_job_text(more, path), str(tmp_path), told.append, lambda: False)
    assert any("A 20, was 12" in line for line in other.changed)


def test_the_page_hears_of_news_when_there_is_some_and_of_another_job(tmp_path: Path) -> None:
    desk = Asker(tmp_path / "porch.toml", PORCH).desk
    first = desk.check(PORCH, ()).serial
    before = desk.whole(first)
    assert before.known is None and not before.gone
    told: list[News] = []
    waiting = threading.Thread(target=lambda: told.append(desk.whole(first, before.seen)))
    waiting.start()
    desk._looked(JobOverview(serial=first, facts=(("pieces", "16"),)))
    waiting.join(30)
    assert told[0].known is not None and told[0].known.facts == (("pieces", "16"),) and told[0].seen > before.seen
    waiting = threading.Thread(target=lambda: told.append(desk.whole(first, told[0].seen)))
    waiting.start()
    desk.check(PORCH.replace("count = 12", "count = 13"), ())
    waiting.join(30)
    assert told[1].gone and told[1].known is None


@pytest.mark.slow
def test_a_hand_answers_drops_old_orders_and_ends(tmp_path: Path) -> None:
    job = load_job_text(PORCH, porch(tmp_path))
    done, heard = threading.Event(), []

    def hear(answer: object) -> None:
        heard.append(answer)
        if isinstance(answer, JobOverview) and answer.done and answer.serial == 5:
            done.set()

    hand = Hand("look", hear)
    hand.start()
    for serial in range(1, 6):
        hand.order(serial, job, (), "")
    assert done.wait(120)
    finished = [a.serial for a in heard if isinstance(a, JobOverview) and a.done]
    assert finished[-1] == 5 and len(finished) < 5
    process = hand._process
    hand.end()
    assert not process.is_alive()
