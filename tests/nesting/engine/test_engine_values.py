"""The engine against published optimal values and complete enumeration."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import pytest
from engine_problems import open_instance, prove, shop_instance
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.nesting.engine.problem import Item, Limits, Options, Problem, StockSize
from fabplan.nesting.engine.solve import solve

MACEDO = "Macedo, Alves and Valerio de Carvalho (2010), optima as printed in H. Becker's thesis"
# Proven optima, 2-stage with trim, no turning, first cut horizontal: Macedo, Alves, Valerio de Carvalho, Computers &
# Operations Research 37 (2010), as printed in H. Becker's PhD thesis. The engine may cut more freely, never less.
TWO_STAGE = {"macedo2010-A1-O": 4, "macedo2010-A7-O": 14, "macedo2010-A13-O": 14, "macedo2010-A23-O": 14}
# Proven optima, guillotine with any number of stages, first cut either way: same thesis, exact MILP.
# No plan beats them.
ANY_STAGE = {
    "macedo2010-A1-O": 3,
    "macedo2010-A3-O": 8,
    "macedo2010-A5-O": 13,
    "macedo2010-A7-O": 13,
    "macedo2010-A13-O": 13,
    "macedo2010-A17-O": 5,
    "macedo2010-A23-O": 13,
    "macedo2010-A37-O": 5,
    "macedo2010-A3-R": 8,
}


@pytest.mark.published(MACEDO)
@pytest.mark.parametrize("name", sorted(TWO_STAGE))
def test_no_worse_than_published_two_stage_optimum(name: str) -> None:
    problem = open_instance(name)
    answer = solve(problem)
    prove(problem, answer)
    assert answer.cost <= TWO_STAGE[name]


@pytest.mark.published(MACEDO)
@pytest.mark.parametrize("name", sorted(ANY_STAGE))
def test_never_better_than_published_optimum_of_any_stages(name: str) -> None:
    problem = open_instance(name)
    answer = solve(problem, Options(effort=0.2))
    prove(problem, answer)
    assert answer.cost >= ANY_STAGE[name]


@pytest.mark.published("Hopper (2000), Table A.1")
@pytest.mark.parametrize("name", ["hopper_strip-t1a", "hopper_strip-t1c"])
def test_zero_waste_strip_bound_does_not_pass_the_optimum(name: str) -> None:
    """Hopper (2000), Table A.1: a strip 200 wide is filled to length 200 when cut in any number of stages."""
    given_ = open_instance(name)
    coil = StockSize(key=0, form="coil", width=200, length=400, cost=Fraction(1))
    answer = solve(Problem(items=given_.items, stock=(coil,)), Options(effort=0.05))
    assert answer.cost >= 200


@pytest.mark.parametrize("name", ["t0", "t2", "t6", "t8", "w05", "w12"])
def test_small_jobs_are_proven(name: str) -> None:
    for stages in (2, 3):
        problem = shop_instance(name, stages=stages)
        answer = solve(problem)
        prove(problem, answer)
        assert answer.status == "proven"


def _strips_by_hand(pieces: tuple[tuple[int, int], ...], width: int, longest: int) -> int | None:
    """Least coil for pieces that may not turn: every grouping into panels, strips and rows, tried out."""

    @cache
    def panel(mask: int) -> int | None:
        best = None
        for length in range(1, longest + 1):
            need = strips(mask, length)
            if need is not None and need <= width:
                best = length
                break
        return best

    @cache
    def strips(mask: int, length: int) -> int | None:
        if not mask:
            return 0
        best, sub = None, mask
        while sub:
            if sub & (mask & -mask):
                rows = [pieces[i] for i in range(len(pieces)) if sub >> i & 1]
                if sum(p[1] for p in rows) <= length:
                    rest = strips(mask ^ sub, length)
                    if rest is not None:
                        total = max(p[0] for p in rows) + rest
                        best = total if best is None else min(best, total)
            sub = (sub - 1) & mask
        return best

    @cache
    def whole(mask: int) -> int | None:
        if not mask:
            return 0
        best, sub = None, mask
        while sub:
            if sub & (mask & -mask):
                one, rest = panel(sub), whole(mask ^ sub)
                if one is not None and rest is not None:
                    best = one + rest if best is None else min(best, one + rest)
            sub = (sub - 1) & mask
        return best

    return whole((1 << len(pieces)) - 1)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(2, 9), st.integers(2, 9)), min_size=1, max_size=5), st.integers(9, 14))
def test_agrees_with_trying_everything(pieces: list[tuple[int, int]], width: int) -> None:
    problem = Problem(
        items=tuple(
            Item(key=i, width=w, length=length, count=1, may_turn=False) for i, (w, length) in enumerate(pieces)
        ),
        stock=(StockSize(key="c", form="coil", width=width, length=16, cost=Fraction(1)),),
    )
    answer = solve(problem)
    prove(problem, answer)
    assert answer.status == "proven"
    assert answer.cost == _strips_by_hand(tuple(pieces), width, 16)


def test_a_sheet_cut_either_way_and_in_panels_saves_sheets() -> None:
    """Macedo instance A1: 4 sheets in two stages from one side, 3 with either side first (values as above)."""
    strict = open_instance("macedo2010-A1-O", both_directions=False, sheet_as_coil=False)
    turned = Problem(
        items=tuple(
            Item(key=i.key, width=i.length, length=i.width, count=i.count, may_turn=False) for i in strict.items
        ),
        stock=tuple(
            StockSize(key=s.key, form="sheet", width=s.length, length=s.width, cost=s.cost) for s in strict.stock
        ),
        limits=Limits(both_directions=False, sheet_as_coil=False),
    )
    costs = sorted(solve(p).cost for p in (strict, turned))
    assert costs == [3, 4]
    assert solve(open_instance("macedo2010-A1-O")).cost == 3


@pytest.mark.parametrize(
    ("name", "most", "least"),
    [("macedo2010-A35-O", 17, 16), pytest.param("macedo2010-A33-O", 36, 33, marks=pytest.mark.slow)],
)
def test_many_kinds_on_one_sheet_size_come_near_the_bound_early(name: str, most: int, least: int) -> None:
    """Many kinds, few of each (Macedo et al. 2010; no optimum published): the least is the area of the pieces."""
    problem = open_instance(name)
    told: list[Fraction] = []

    def stop() -> bool:
        return bool(told) and told[-1] <= most

    def progress(cost: Fraction | None, bound: Fraction, gap: float | None) -> None:
        if cost is not None:
            told.append(cost)

    answer = solve(problem, Options(effort=0, progress=progress, should_stop=stop))
    prove(problem, answer)
    assert least <= answer.bound <= answer.cost <= most
