"""Starter and drip edge in the plane of the slope: geometry worked by hand.

The leg on the slope is the x axis, up the slope positive. A drip edge of legs 3/4, 2-1/2 and 3 in bent 90 and -45: its
face leaves the eave at 45 degrees to the slope, 2-1/2 x (cos 45, sin 45) = 1.768 in under the plane; its kick comes
back up by 3/4 x sin 45 = 0.530, so its edge lies 1.237 in under the plane and points 45 degrees off it.
"""

from __future__ import annotations

from typing import Any

import pytest
import roof_jobs as rj

from fabplan.job.model import CutPiece, Job, SectionPiece
from fabplan.roof.extras.hooking import hook_notes, hooked_edges
from fabplan.roof.plan import plan_roof
from fabplan.roof.remarks import NotHooked, NotPlumb
from fabplan.speech.roof import notes

DRIP: dict[str, Any] = {"legs": ["3/4 in", "2-1/2 in", "3 in"], "bends": [90, -45]}


def section(**keys: Any) -> SectionPiece:
    given = {"kind": "section", "mark": "D", "length": "48 in", **DRIP, **keys}
    return SectionPiece.model_validate(given, context={"units": "in"})


@pytest.mark.parametrize(
    ("keys", "turned", "off"),
    [
        ({}, 45.0, 1.237),
        ({"legs": ["3 in", "2-1/2 in", "3/4 in"], "bends": [-45, 90]}, 45.0, 1.237),  # the same, from the other edge
        # the roof leg runs on past the eave and is folded back: its fold points down the slope, in its plane
        ({"legs": ["2 in", "3/4 in", "3-3/4 in"], "bends": [60, 180]}, 0.0, 0.0),
        ({"legs": ["4 in"], "bends": []}, 0.0, 0.0),
        # a lip of 1/2 in, 20 degrees below the slope: 1/2 sin 20 = 0.171 in under it
        ({"legs": ["1/2 in", "4 in"], "bends": [-20]}, 20.0, 0.171),
    ],
)
def test_where_the_edge_lies(keys: dict[str, Any], turned: float, off: float) -> None:
    found = [(abs(a), abs(b)) for a, b in hooked_edges(section(**keys))]
    assert any(a == pytest.approx(turned, abs=0.01) and b == pytest.approx(off, abs=0.001) for a, b in found), found


def with_drip(pitch: float | None, **keys: Any) -> Job:
    slope = rj.slope(shape="rectangle", bottom="60 in", height="60 in", **({} if pitch is None else {"pitch": pitch}))
    job = rj.job_with(slope)
    pieces = tuple(
        section(**keys)
        if p.mark == "D"
        else p.model_copy(update={"hooks": "D"})
        if isinstance(p, CutPiece) and p.kind == "starter"
        else p
        for p in job.pieces
    )
    return job.model_copy(update={"pieces": pieces})


def found(job: Job) -> list[Any]:
    return hook_notes(plan_roof(job, rj.patterns()).slopes, job)


def test_a_drip_edge_that_offers_no_edge_in_the_slope_is_named() -> None:
    job = with_drip(45)
    (note,) = found(job)
    assert isinstance(note, NotHooked)
    assert (note.starter, note.section) == ("S", "D")
    assert note.turned == pytest.approx(45)
    assert note.off == pytest.approx(1.237, abs=1e-3)
    said = [n for n in notes(plan_roof(job, rj.patterns()), job) if "cannot hook D" in n]
    assert len(said) == 1 and said[0].startswith("Warning: S cannot hook D") and "points 45° off" in said[0]


def test_a_folded_edge_in_the_slope_is_hooked() -> None:
    assert found(with_drip(30, legs=["2 in", "3/4 in", "3-3/4 in"], bends=[60, 180])) == []


@pytest.mark.parametrize(("pitch", "out"), [(45, False), (40.5, False), (30, True), (None, False)])
def test_a_face_out_of_plumb_is_named(pitch: float | None, out: bool) -> None:
    plumb = [n for n in found(with_drip(pitch)) if isinstance(n, NotPlumb)]
    assert bool(plumb) == out
    if out:
        assert (plumb[0].bend, plumb[0].found) == (60, 45)
