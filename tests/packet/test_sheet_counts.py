"""How many sheets a packet takes: no more than a foreman would print. Templates and the set-up sheet do not count."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest

from fabplan.job.load import load_job
from fabplan.packet.model import Packet
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan

HERE = Path(__file__).parent
EXAMPLE = HERE.parents[1] / "docs" / "examples" / "lakeside-pavilion" / "job.toml"
# Laid out by hand from the same work by a fresh reader; the bay is the smallest, the example the largest.
MOST = {"example": 45, "hut": 30, "cupola": 32, "dormer": 26, "bay": 12}


def sheets_taken(packet: Packet) -> int:
    """Sheets of packet.pdf without the set-up sheet."""
    counted = replace(packet, pages=tuple(page for page in packet.pages if page.kind != "setup"))
    with pikepdf.open(io.BytesIO(typeset(counted))) as document:
        return len(document.pages)


@pytest.mark.slow
@pytest.mark.parametrize("name", MOST)
def test_a_whole_job_takes_no_more_sheets_than_wanted(name: str) -> None:
    plan = make_plan(load_job(EXAMPLE if name == "example" else HERE / "jobs" / f"{name}.toml"))
    taken = {paper: sheets_taken(build_packet(plan, paper=paper)) for paper in ("letter", "a4")}
    assert max(taken.values()) <= MOST[name], taken


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_sample_takes_few_sheets(plan: Plan, paper: str) -> None:
    """Cover, two lists on one, two to hang up, three layouts, a folded piece each: nothing runs over."""
    packet = build_packet(plan, paper=paper)
    own = sum(page.kind in ("shear", "piece") for page in packet.pages)
    assert sheets_taken(packet) <= 4 + own
