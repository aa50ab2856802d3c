"""One truth a page: what two places say of one thing agrees to the digit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from one_truth import Truth, collected

from fabplan.job.load import load_job
from fabplan.packet.model import Band, Block, Cards, Packet, Para, Split, Table
from fabplan.packet.pages.build import build_packet
from fabplan.plan.make import make_pieces, make_plan
from fabplan.plan.model import Plan

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "docs" / "examples"
JOBS = {
    "example": EXAMPLES / "lakeside-pavilion" / "job.toml",
    "boathouse": EXAMPLES / "boathouse-zinc" / "job.toml",
    **{name: HERE / "jobs" / f"{name}.toml" for name in ("hut", "cupola", "dormer", "bay")},
}
LEAST = 25  # subjects that several places of the sample tell


def test_the_sample_says_one_thing_of_everything(packet: Packet) -> None:
    truth = collected(packet)
    assert truth.unlike() == []
    assert truth.twice() > LEAST


@pytest.mark.parametrize("name", ["hut", pytest.param("dormer", marks=pytest.mark.slow)])
def test_a_roof_says_one_thing_of_everything(name: str) -> None:
    job = load_job(JOBS[name])
    pieces = make_pieces(job)
    plan = Plan(job=job, metals=pieces.metals, patterns=pieces.patterns, cut_plan=None, schedules=(), roof=pieces.roof)
    truth = collected(build_packet(plan))
    assert truth.unlike() == []
    kinds = {subject[0] for subject in truth.told}
    assert {"edge", "pieces of slope", "snapped line", "made", "blank"} <= kinds


@pytest.mark.slow
@pytest.mark.parametrize("name", JOBS)
def test_a_whole_job_says_one_thing_of_everything(name: str) -> None:
    plan = make_plan(load_job(JOBS[name]))
    for paper in ("letter", "a4"):
        truth = collected(build_packet(plan, paper=paper))
        assert truth.unlike() == []
        assert truth.twice() > LEAST


def changed(packet: Packet, old: str, new: str, kind: str) -> Packet:
    """The packet with a number of one kind of page misprinted."""

    def block(one: Block) -> Block:
        match one:
            case Para():
                return replace(one, text=one.text.replace(old, new))
            case Table():
                return replace(one, rows=tuple(tuple(c.replace(old, new) for c in row) for row in one.rows))
            case Split():
                return replace(one, left=tuple(map(block, one.left)), right=tuple(map(block, one.right)))
            case Cards():
                return replace(one, bands=tuple(band(b) for b in one.bands))
        return one

    def band(one: Band) -> Band:
        return replace(one, settings=tuple((n, v.replace(old, new)) for n, v in one.settings))

    pages = (replace(p, blocks=tuple(map(block, p.blocks))) if p.kind == kind else p for p in packet.pages)
    return replace(packet, pages=tuple(pages))


@pytest.mark.parametrize(
    ("kind", "old", "new", "subject"),
    [
        ("cut-list", "14 1⁄32 ×", "14 ×", "blank A"),
        ("cut-list", "140", "141", "made A"),
        ("shear", "48 1⁄8 in long", "48 in long", "pull 1"),
        ("piece", "Shear 14 1⁄32", "Shear 14 1⁄16", "blank A"),
        ("piece", "3 1⁄2", "4", "stop D"),
        ("setup", "180°", "178°", "set A"),
        ("buy", "1,204.50", "1,204.00", "metal and work"),
    ],
)
def test_a_misprint_is_found(packet: Packet, kind: str, old: str, new: str, subject: str) -> None:
    wrong = changed(packet, old, new, kind)
    assert wrong != packet
    assert any(line.startswith(subject) for line in collected(wrong).unlike())


def test_findings_of_a_fresh_reading_are_told_apart() -> None:
    """Sizes that pages once gave for one thing, each nearly alike."""
    for one, two in (("9", "8.5"), ("53.5", "53"), ("324", "324.5"), ("19 29⁄32", "19 15⁄16"), ("290", "290.8")):
        truth = Truth()
        truth.note(("size",), one, "here")
        truth.note(("size",), f"{one} mm", "there")
        assert truth.unlike() == []
        truth.note(("size",), two, "elsewhere")
        assert len(truth.unlike()) == 1
