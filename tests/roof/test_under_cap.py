"""What lies under a cap: counted apart, left out where it may be; slivers that nothing covers are laid."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import roof_jobs as rj
import shapely

from fabplan.job.model import Job
from fabplan.roof.check.whole import check_roof
from fabplan.roof.model import RoofPlan, SlopeLayout
from fabplan.roof.plan import plan_roof
from fabplan.speech.roof import notes as roof_notes
from fabplan.speech.roof_tables import course_table

HIP_END = {"shape": "trapezoid", "bottom": "190 in", "top": "60 in", "height": "110 in"}
LEAVE = {"under_cap": "leave out", "cap_leg": "4 in", "underlap": "3 in", "least_underlap": "1/4 in"}


def planned(keys: dict[str, Any], **rules: Any) -> tuple[Job, RoofPlan]:
    job = rj.job_with(rj.slope(**keys), rules=rj.roof(**rules))
    out = plan_roof(job, rj.patterns())
    assert check_roof(out, job, rj.patterns()) == []
    return job, out


def test_no_sliver_is_bare_at_a_leaning_eave() -> None:
    """Two top tips at the eave were left out there with nothing over them."""
    for drop in ("2-11/16 in", "1-3/8 in", "3/4 in"):
        lean = {"shape": "rectangle", "bottom": "91 in", "height": "40 in", "eave_drop": drop, "low_end": "right"}
        _, out = planned(lean)
        assert not out.slopes[0].slivers
        assert sum(p.share for p in out.slopes[0].pieces) == pytest.approx(out.slopes[0].ideal, rel=1e-9)


def under(layout: SlopeLayout, leg: float) -> shapely.Polygon:
    """What the caps of a hip end cover: all within a cap's leg of its hips and its ridge."""
    lines = [shapely.LineString([e.start, e.end]) for e in layout.slope.edges if e.kind in ("hip", "ridge")]
    return shapely.union_all([shapely.buffer(line, leg, cap_style="flat") for line in lines])


def test_pieces_wholly_under_a_cap_are_counted_apart_and_laid() -> None:
    job, out = planned(HIP_END, cap_leg="4 in", underlap="3 in")
    layout = out.slopes[0]
    hidden = [p for p in layout.pieces if p.under_cap]
    assert hidden
    zone = under(layout, 4.0 + 1e-6)
    for p in layout.pieces:
        inside = shapely.difference(shapely.Polygon(p.visible), zone).area < 1e-3
        assert p.under_cap == (inside and p.kind != "whole")
    table = course_table(layout, job)
    assert table.rows[-1][table.columns.index("Under cap")] == str(len(hidden))
    assert any("under_cap" in n and f"{len(hidden)} on x" in n for n in roof_notes(out, job))


def test_what_may_be_left_out_is_and_its_neighbours_still_reach() -> None:
    _, laid = planned(HIP_END, **{**LEAVE, "under_cap": "lay"})
    _, out = planned(HIP_END, **LEAVE)
    gone = [s for s in out.slopes[0].slivers if s.why == "under a cap"]
    assert gone
    assert len(out.slopes[0].pieces) == len(laid.slopes[0].pieces) - len(gone)
    zone = under(out.slopes[0], 4.0 - 0.25 + 1e-6)
    assert all(zone.covers(shapely.Polygon(s.visible).buffer(-1e-5)) for s in gone)
    assert dict(out.counts)["A"] <= dict(laid.counts)["A"]


WRONG: tuple[tuple[str, Callable[[SlopeLayout], SlopeLayout], str], ...] = (
    (
        "bare",
        lambda s: replace(s, slivers=(replace(s.slivers[0], visible=s.pieces[40].visible), *s.slivers[1:])),
        "left out",
    ),
    ("count", lambda s: replace(s, courses=(*s.courses[:-1], replace(s.courses[-1], under_cap=7))), "the count says 7"),
    (
        "not hidden",
        lambda s: replace(s, pieces=tuple(replace(p, under_cap=True) if p.kind == "cut-left" else p for p in s.pieces)),
        "is not wholly under a cap",
    ),
)


@pytest.mark.parametrize(("wrong", "says"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_a_wrong_omission_is_refused(wrong: Callable[[SlopeLayout], SlopeLayout], says: str) -> None:
    job, out = planned(HIP_END, **LEAVE)
    faults = check_roof(replace(out, slopes=(wrong(out.slopes[0]),)), job, rj.patterns())
    assert any(says in f for f in faults), faults


def test_left_out_without_leave_is_refused() -> None:
    _, out = planned(HIP_END, **LEAVE)
    asked = rj.job_with(rj.slope(**HIP_END), rules=rj.roof(**{**LEAVE, "under_cap": "lay"}))
    assert any("does not ask for" in f for f in check_roof(out, asked, rj.patterns()))
    far = rj.job_with(rj.slope(**HIP_END), rules=rj.roof(**{**LEAVE, "least_underlap": "2-7/8 in"}))
    assert any("no cap covers it" in f for f in check_roof(out, far, rj.patterns()))
