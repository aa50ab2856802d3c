"""Never worse than rectpack's guillotine packers, run here through rectpack's own front door."""

from __future__ import annotations

import random

import pytest
import rectpack
from nesting_jobs import METALS, make_job, rect, stock
from rectpack import guillotine

from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search.pieces import rectangle
from fabplan.nesting.search.rivals import RULES, best_rectpack


def bins_of(rule: str, order: object, pieces: list[tuple[int, int]], sheet: tuple[int, int]) -> int | None:
    """Sheets rectpack opens, None when it leaves a piece out (it does so without a word)."""
    packer = rectpack.newPacker(pack_algo=getattr(guillotine, f"Guillotine{rule}"), sort_algo=order, rotation=True)
    packer.add_bin(*sheet, count=200, merge=False)
    for w, h in pieces:
        packer.add_rect(w, h)
    packer.pack()
    if sum(len(b) for b in packer) != len(pieces):
        return None
    return len(packer)


@pytest.mark.parametrize("seed", range(2))
def test_never_more_sheets_than_any_packer(seed: int) -> None:
    r = random.Random(seed)
    kinds = [(r.randint(100, 700), r.randint(100, 900), r.randint(1, 9)) for _ in range(10)]
    pieces = [(w, h) for w, h, n in kinds for _ in range(n)]
    blanks = [rect(f"P{k}", w, h, n) for k, (w, h, n) in enumerate(kinds)]
    job = make_job([stock("sheet", "sheet", 36, 96)], effort=0.05, least_held=0, reach=120)
    plan = nest(blanks, job, METALS)
    opened = [
        bins_of(rule, order, pieces, (1152, 3072))
        for rule in RULES
        for order in (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE)
    ]
    assert plan.stock[0].used_count is not None
    assert plan.stock[0].used_count <= min(n for n in opened if n is not None)


def test_piece_that_fits_nowhere_is_noticed() -> None:
    blanks = [rect("A", 300, 400, 3), rect("B", 1200, 1200, 1)]
    group = build_groups(blanks, make_job([stock("sheet", "sheet", 36, 96)]), METALS)[0]
    tried = best_rectpack(group, [rectangle(b) for b in group.blanks], work=10_000)
    assert tried.layouts is None and tried.outcome.what == "left_over"
