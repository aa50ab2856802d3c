"""The hand-made plan, set once for the whole run."""

from __future__ import annotations

import packet_sample
import pytest

from fabplan.packet.build import build_packet
from fabplan.packet.model import Packet
from fabplan.packet.typeset import typeset
from fabplan.plan.model import Plan


@pytest.fixture(scope="session")
def plan() -> Plan:
    """The hand-made plan."""
    return packet_sample.plan()


@pytest.fixture(scope="session")
def packet(plan: Plan) -> Packet:
    """Its pages."""
    return build_packet(plan)


@pytest.fixture(scope="session", params=["letter", "a4"])
def pdf(request: pytest.FixtureRequest, plan: Plan) -> bytes:
    """Its PDF on both papers."""
    return typeset(build_packet(plan, paper=request.param))
