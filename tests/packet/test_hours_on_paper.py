"""Hours on paper: by station on the cover, on every pattern and fold page, with room to write began and ended."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fabplan.job.load import load_job
from fabplan.labour import TIME_KEYS, Spent
from fabplan.packet.check_totals import least
from fabplan.packet.model import Block, Packet, Page, Para, Table
from fabplan.packet.pages.build import build_packet
from fabplan.packet.pages.cover import least_lines, takes_lines
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.speech.format import Say
from fabplan.speech.labour import WORK, time_words, work_words

JOB = """
[job]
name = "Well house"
number = "W-3"
currency = "USD"
batch = 10
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 24
side = "9-1/4 in"
hem = "3/4 in"
[[piece]]
mark = "K"
kind = "rectangle"
count = 9
width = "2-1/8 in"
length = "4 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "60 in"
price = "9.40 per lb"
[labour]
stroke = "8 s"
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("hours") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


@pytest.fixture(scope="module")
def packet(plan: Plan) -> Packet:
    return build_packet(plan)


def words(page: Page) -> list[str]:
    return [b.text for b in page.blocks if isinstance(b, Para)]


def page_of(packet: Packet, kind: str) -> Page:
    return next(p for p in packet.pages if p.kind == kind)


def hours_table(blocks: tuple[Block, ...]) -> Table:
    return next(b for b in blocks if isinstance(b, Table) and b.name == "Hours")


def test_hours_by_station_stand_on_the_cover(plan: Plan, packet: Packet) -> None:
    rows = hours_table(packet.pages[0].blocks).rows
    assert [row[0] for row in rows] == ["Shear", "Bench", "All"]
    assert [row[1] for row in rows[:2]] == [time_words(h.seconds) for h in plan.hours]
    strokes = next(s.times for s in plan.hours[0].spent if s.what == "stroke")
    assert f"{strokes:,} cuts" in rows[0][2]


def test_what_was_assumed_is_said_and_only_that(packet: Packet) -> None:
    said = next(text for text in words(page_of(packet, "buy")) if text.startswith("Times assumed"))
    assert "an hour counts as 60 USD" in said
    assert "set_gauge 45 s" in said
    assert "rate = 0 under [labour] gives the least metal" in said
    assert "stroke" not in said.replace("brake_stroke", "")  # the job says it
    assert "brake_stroke" not in said  # nothing is bent in the brake
    assert "lay" not in said.replace("layout", "")


@pytest.mark.parametrize("kind", ["shear", "piece"])
def test_pages_say_how_long_and_have_room_for_the_times(plan: Plan, packet: Packet, kind: str) -> None:
    pages = [p for p in packet.pages if p.kind == kind]
    assert pages
    for page in pages:
        (line,) = [text for text in words(page) if "Began" in text]
        assert "About " in line
        assert line.endswith("Began ________   Ended ________")


def test_a_batch_and_all_of_a_mark(plan: Plan, packet: Packet) -> None:
    """24 pieces in batches of 10: three settings; a batch is not simply 10/24 of all."""
    (time,) = plan.schedules[0].times
    each, batch = sum(s.seconds for s in time.each), sum(s.seconds for s in time.batch)
    (line,) = [text for p in packet.pages if p.kind == "piece" for text in words(p) if "Began" in text]
    assert (
        f"About {time_words(10 * each + batch)} a batch of 10, {time_words(24 * each + 3 * batch)} for all 24."
    ) in line


@pytest.mark.parametrize(("seconds", "says"), [(40, "40 s"), (75, "1 min"), (1320, "22 min"), (15_480, "4.3 h")])
def test_times_in_words(seconds: float, says: str) -> None:
    assert time_words(seconds) == says


def test_every_kind_of_work_has_words() -> None:
    assert set(WORK) == set(TIME_KEYS)
    assert work_words([Spent(what="stroke", times=1, seconds=10.0)]) == "1 cut"
    many = [Spent(what="scribe", times=2, seconds=150.0), Spent(what="stroke", times=1361, seconds=13_610.0)]
    assert work_words(many) == "1,361 cuts, 2 scribed cuts"  # the longest first


def summed(plan: Plan, objective: str) -> Plan:
    """The plan with metal and work in one total, a bound below it."""
    cut = plan.cut_plan
    assert cut is not None
    both = cut.metal_total + cut.labour_total
    return replace(plan, cut_plan=replace(cut, objective=objective, total=both, bound=both * 9 / 10))  # type: ignore[arg-type]


def test_both_sums_stand_on_the_cover(plan: Plan) -> None:
    both = summed(plan, "money")
    cut = both.cut_plan
    assert cut is not None
    lines = (*takes_lines(both, Say.of(both.job))[:1], *least_lines(both, Say.of(both.job)))
    metal, work = float(cut.metal_total), float(cut.labour_total)
    minutes = time_words(sum(s.seconds for s in cut.spent))
    assert lines[0] == (
        f"Metal: USD {metal:,.2f}. Work at the shear: USD {work:,.2f} ({minutes}). Together: USD {metal + work:,.2f}."
    )
    assert lines[1].startswith(f"Proven least of metal and work: USD {0.9 * (metal + work):,.2f}. This plan is 11.11 %")
    assert lines[1].endswith(f"Proven least of the metal alone: USD {float(cut.metal_bound):,.2f}.")
    packet = build_packet(both)
    assert list(least(packet, both)) == []
    shop = [w for page in packet.pages if page.kind != "buy" for w in words(page)]
    assert not [w for w in shop if "roven" in w]  # the buying list tells the office
    wrong = replace(both, cut_plan=replace(cut, labour_total=cut.labour_total + 1))
    assert list(least(packet, wrong))


def test_without_prices_work_is_told_in_metal(plan: Plan) -> None:
    """``metal 310 lb + work worth 22 lb``: the weight of so much of the plan's metal."""
    both = summed(plan, "area")
    cut = both.cut_plan
    assert cut is not None
    pounds, area = sum(u.pounds for u in cut.stock), sum(u.area for u in cut.stock)
    cut = replace(cut, metal_total=Fraction(area), labour_total=Fraction(area, 10), total=Fraction(11 * area, 10))
    both = replace(both, cut_plan=replace(cut, bound=cut.total))
    lines = takes_lines(both, Say.of(both.job))
    say = Say.of(both.job)
    assert lines[0].startswith(f"Metal: {say.weight(pounds)}. Work at the shear: worth {say.weight(pounds / 10)} (")
    assert list(least(build_packet(both), both)) == []
