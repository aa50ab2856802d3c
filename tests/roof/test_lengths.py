"""Edge metal from the measured edges: one length a mark that divides them, never longer than the shop can make."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
import roof_jobs as rj

from fabplan.plan.make import make_pieces
from fabplan.roof.check.whole import check_roof
from fabplan.roof.model import RoofPlan
from fabplan.roof.plan import plan_roof
from fabplan.speech.roof import notes

WING = {"shape": "rectangle", "bottom": "98 in", "height": "75 in", "count": 2}
SPIRE = {"shape": "regular-spire", "sides": 4, "side": "90 in", "slant": "160 in"}


def planned(keys: dict[str, Any], **rules: Any) -> tuple[Any, RoofPlan]:
    job = rj.job_with(rj.slope(**keys), rules=rj.roof(**{"lengths": "from the edges", **rules}))
    out = plan_roof(job, rj.patterns())
    assert check_roof(out, job, rj.patterns()) == []
    return job, out


def strip(out: RoofPlan, mark: str) -> float:
    return math.fsum(r.times * r.pieces * r.stock for r in out.edge_runs if r.mark == mark)


@pytest.mark.parametrize("keys", [WING, SPIRE])
def test_lengths_cover_every_edge_with_laps_and_take_no_more_than_typed_ones(keys: dict[str, Any]) -> None:
    job, out = planned(keys)
    _, typed = planned(keys, lengths="as typed")
    assert not typed.edge_lengths
    chosen = {x.mark: x.length for x in out.edge_lengths}
    assert chosen
    for r in out.edge_runs:
        if r.mark:
            assert r.pieces * r.stock - (r.pieces - 1) * r.lap >= r.length - 1e-9
            assert r.stock <= 48 + 1e-9
    for mark in chosen:
        assert strip(out, mark) < strip(typed, mark)
    step = int(job.info.round_to)
    assert all(nm % step == 0 for nm in chosen.values())
    assert any("lengths" in n and "typed 48 in" in n for n in notes(out, job))


def test_two_strips_for_98_in_with_a_lap_of_3_are_half_of_101_each() -> None:
    _, out = planned({**WING, "count": 1}, edge_lap="3 in")
    run = next(r for r in out.edge_runs if r.kind == "eave")
    # three of 48 in, 36-1/4 in would do: three equal ones of a third of 98 + 2 laps
    assert run.pieces == 3
    assert run.stock == pytest.approx((98 + 2 * 3) / 3, abs=1 / 32)


def test_the_pieces_are_made_at_the_length_chosen() -> None:
    job = rj.job_with(rj.slope(**WING), rules=rj.roof(lengths="from the edges", cut_pieces="on the roof"), stock=())
    pieces = make_pieces(job)
    assert pieces.roof is not None
    made = next(x.length for x in pieces.roof.edge_lengths if x.mark == "D")
    drip = next(p for p in pieces.whole if p.mark == "D")
    assert drip.length_units * drip.grid == made
    assert make_pieces(pieces.job).whole == pieces.whole


def test_a_length_that_does_not_hold_is_refused() -> None:
    job, out = planned(WING)
    (mine,) = [x for x in out.edge_lengths if x.mark == "D"]
    others = tuple(x for x in out.edge_lengths if x.mark != "D")
    nm = mine.length
    step = int(job.info.round_to)
    for wrong in (nm - step, nm + step // 2, 60 * 25_400_000):
        bad = replace(out, edge_lengths=(*others, replace(mine, length=wrong)))
        assert check_roof(bad, job, rj.patterns())
    typed = rj.job_with(rj.slope(**WING), rules=rj.roof(lengths="as typed"))
    assert check_roof(out, typed, rj.patterns())
