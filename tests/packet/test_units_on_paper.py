"""A metric packet holds no inch, an inch packet no millimetre; cautions included."""

from __future__ import annotations

import re
from dataclasses import replace

import packet_sample
import pytest

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
