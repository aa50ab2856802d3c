"""The hand-made plan, set once for the whole run."""

from __future__ import annotations

import packet_sample
import pytest
from packet_sample import thinned

from fabplan.packet.model import Packet
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.model import Plan


@pytest.fixture(scope="session")
def plan() -> Plan:
    """The hand-made plan."""
    return packet_sample.plan()


@pytest.fixture(scope="session")
def packet(plan: Plan) -> Packet:
    """Its pages."""
    return build_packet(plan)


@pytest.fixture(scope="session")
def letter(packet: Packet) -> bytes:
    """Its PDF on Letter."""
    return typeset(packet)


@pytest.fixture(scope="session")
def a4(plan: Plan) -> bytes:
    """Its PDF on A4, without most of the templates: the tiles are the same on both papers."""
    return typeset(thinned(build_packet(plan, paper="a4")))


@pytest.fixture(scope="session", params=["letter", "a4"])
def pdf(request: pytest.FixtureRequest) -> bytes:
    """Its PDF on both papers."""
    made: bytes = request.getfixturevalue(request.param)
    return made
