"""A metric packet holds no inch, an inch packet no millimetre; cautions included."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import packet_sample
import page_reader
import pytest
from in_process import Said

from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.typeset import words_of
from fabplan.plan.model import Plan

INCHES = re.compile(r"\d ?(?:in|ft|lb|oz|sq ft)\b(?! section)|\u2044|\binch|CFR|OSHA")
MILLIMETRES = re.compile(r"\d ?(?:mm|cm|kg|m²)(?![\w²³])|millimet|\d m\b")


def metric() -> Plan:
    plan = packet_sample.plan(units="mm", round_to=500_000, currency="EUR")
    patterns = tuple(replace(p, grid=500_000) for p in plan.patterns)
    metals = {name: replace(metal, title="Copper 0.55 mm, H00") for name, metal in plan.metals.items()}
    assert plan.cut_plan is not None
    return replace(plan, patterns=patterns, metals=metals, cut_plan=replace(plan.cut_plan, grid=500_000))


def of_the_sample(words: str) -> bool:
    """Texts that the hand-made plan brings along as typed: a note and the name of a tool."""
    return "Common rule beside it" in words or "1 in slot" in words


@pytest.mark.parametrize(("units", "other"), [("mm", INCHES), ("in", MILLIMETRES)])
def test_a_packet_keeps_to_its_units(units: str, other: re.Pattern[str]) -> None:
    packet = build_packet(metric() if units == "mm" else packet_sample.plan())
    found = [w for w in words_of(packet) if other.search(w) and not of_the_sample(w)]
    assert found == []


# An invented lean-to: a small diamond roof, its starter and a hooked strip; no size of a tool is typed.
REAL = """[job]
name = "Ferry hut"
number = "F-4"
units = "{units}"
paper = "{paper}"
currency = "{money}"
[metal]
use = "{metal}"
[[piece]]
mark = "R"
kind = "diamond"
side = "{side}"
hem = "{hem}"
[[piece]]
mark = "RS"
kind = "starter"
for = "R"
[[piece]]
mark = "B"
kind = "section"
count = 2
length = "{long}"
legs = ["{hem}", "{wide}"]
bends = [80]
end_hem = {{width = "{end}", toward = "back"}}
[[slope]]
name = "front"
shape = "rectangle"
piece = "R"
bottom = "{long}"
height = "{high}"
pitch = 10
[[stock]]
name = "coil"
form = "coil"
width = "{coil}"
"""
SIZES = {
    "mm": {
        "paper": "a4", "money": "EUR", "metal": "zinc-0.7mm", "side": "330 mm", "hem": "15 mm", "long": "700 mm",
        "wide": "60 mm", "end": "12 mm", "high": "700 mm", "coil": "500 mm",
    },
    "in": {
        "paper": "letter", "money": "USD", "metal": "copper-16oz", "side": "14 in", "hem": "3/4 in", "long": "36 in",
        "wide": "2-1/2 in", "end": "1/2 in", "high": "36 in", "coil": "24 in",
    },
}  # fmt: skip
METRIC_WORDS = re.compile(r"\d ?(?:mm|cm|kg|m²|m)(?![\w²³/])|millimet|\bmetre")


@pytest.mark.parametrize(("units", "other"), [("mm", INCHES), ("in", METRIC_WORDS)])
def test_what_is_read_back_of_a_job_keeps_to_its_units(
    units: str, other: re.Pattern[str], job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The terminal's answer to `check` and `blanks`, where every size of the tools is assumed."""
    says = spoken(capsys, ("check", job), ("blanks", job))
    assert any("longest_bend" in line for line in says)  # what is assumed is told
    assert any("outside the" in line for line in says)  # and so is the handbook's size
    assert others(says, other, units) == []
    said = " ".join(says)
    limits = ("1300 mm", "1200 mm", "3000 mm", "10 mm") if units == "mm" else ("52 in", "48 in", "120 in", "3/8 in")
    cut, gauge, bend, flange = limits
    assert f"cuts to {cut}, back gauge to {gauge}" in said and f"longest_bend {bend}" in said
    assert f"least_flange {flange}" in said  # sizes a shop of these units says


@pytest.mark.slow
@pytest.mark.parametrize(("units", "other"), [("mm", INCHES), ("in", METRIC_WORDS)])
def test_a_job_from_file_to_paper_keeps_to_its_units(
    units: str, other: re.Pattern[str], job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Pages, templates, screen page and all that the terminal says while planning."""
    says = spoken(capsys, ("bend", job), ("count", job), ("plan", job, "--effort", "0", "--all"))
    screen = next(job.parent.rglob("plan.html")).read_text("utf-8")
    screen = re.sub(r"<style.*?</style>|<script.*?</script>", " ", screen, flags=re.S)
    says += re.sub(r"<[^>]*>", "\n", screen).splitlines()
    says += page_reader.text(next(job.parent.rglob("packet.pdf")).read_bytes())
    assert others(says, other, units) == []
    bar = {
        "mm": "this bar must measure 150 mm and the upright one 100 mm",
        "in": "measure 6 in and the upright one 4 in",
    }
    assert all(bar[units] in page for page in page_reader.text(next(job.parent.rglob("templates.pdf")).read_bytes()))


@pytest.fixture
def job(units: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The job in its units, in a folder of its own, and a terminal wide enough to break no line."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "400")
    path = tmp_path / "job.toml"
    path.write_text(REAL.format(units=units, **SIZES[units]), encoding="utf-8")
    return path


def spoken(capsys: pytest.CaptureFixture[str], *commands: tuple[object, ...]) -> list[str]:
    says: list[str] = []
    for command in commands:
        said = Said(capsys, *command)
        assert said.status == 0, said.err
        says += (said.out + said.err).splitlines()
    return says


def others(says: list[str], other: re.Pattern[str], units: str) -> list[str]:
    """Lines in the other system; names of metal profiles are as they are."""
    return [line for line in says if other.search(line.replace(SIZES[units]["metal"], ""))]
