"""Stock against stock: the choices, their order, and what is said of each."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.job.readers import OnHand
from fabplan.plan.make import Pieces, make_nest, make_pieces
from fabplan.plotter.model import Text
from fabplan.shop.chart import compare_chart, size_chart, write_chart
from fabplan.shop.choices import choices, drop_reason
from fabplan.shop.compare import Compared, compare, no_dearer
from fabplan.shop.decide import A_LINE, best_lines, best_of, priced_otherwise, ranked, turns, used_lines
from fabplan.shop.offer import MOST_SIZES, offer
from fabplan.shop.rack import add
from fabplan.shop.report import COMPARE_COLUMNS, compare_json, compare_rows, size_columns, size_json, size_rows
from fabplan.shop.sizes import sweep
from fabplan.units import NM_PER_INCH, Nm

IN = NM_PER_INCH
JOB = """
[job]
name = "Orchard porch"
number = "7"
currency = "USD"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "rectangle"
count = 40
width = "15-1/2 in"
length = "15-1/2 in"
[[piece]]
mark = "S"
kind = "rectangle"
count = 12
width = "4 in"
length = "30 in"
[[stock]]
name = "coil 20"
form = "coil"
width = "20 in"
price = "9.40 per lb"
[[stock]]
name = "coil 16"
form = "coil"
width = "16 in"
price = "9.40 per lb"
[[stock]]
name = "coil 12"
form = "coil"
width = "12 in"
price = "9.40 per lb"
"""


TOLD: list[tuple[int, int, str]] = []


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    path = tmp_path_factory.mktemp("compare") / "job.toml"
    path.write_text(JOB)
    return load_job(path)


@pytest.fixture(scope="module")
def pieces(job: Job) -> Pieces:
    return make_pieces(job)


@pytest.fixture(scope="module")
def compared(job: Job, pieces: Pieces) -> tuple[Compared, ...]:
    """Every choice compared, once; what was told meanwhile is in `TOLD`."""
    TOLD.clear()
    return compare(job, pieces, effort=0, workers=1, done=lambda i, n, name: TOLD.append((i, n, name)))


def test_each_line_alone_then_all_together(job: Job, pieces: Pieces) -> None:
    assert [c.name for c in choices(job, pieces.metals)] == [
        "coil 20 alone",
        "coil 16 alone",
        "coil 12 alone",
        "the job's stock together",
    ]


def test_sold_adds_the_metals_other_widths_once(job: Job, pieces: Pieces) -> None:
    names = [c.name for c in choices(job, pieces.metals, sold=True)]
    assert "coil 24 (sold) alone" in names
    assert "coil 20 (sold) alone" not in names, "the job already lists a 20 in coil"
    assert names[-1] == "everything sold"


def test_the_reason_names_the_drop_on_every_strip(job: Job, pieces: Pieces) -> None:
    says = [drop_reason(s, pieces.patterns, job) for s in job.stock]
    assert says == [
        "1 of A across at 15-1/2 leaves 4-1/2 in of drop on every strip",
        "1 of A across at 15-1/2 leaves 1/2 in of drop on every strip",
        "too narrow for A",
    ]


def test_cheapest_first_and_what_holds_nothing_last(compared: tuple[Compared, ...]) -> None:
    assert TOLD[-1][:2] == (4, 4)
    results = compared
    good = [c for c in results if c.good]
    assert [c.money for c in good] == sorted(c.money for c in good if c.money is not None)
    assert results[-1].name == "coil 12 alone"
    assert "fits on no stock" in results[-1].why
    together = next(c for c in results if c.name == "the job's stock together")
    assert together.money == min(c.money for c in good if c.money is not None), "a mix is never worse than one line"


@pytest.mark.processes
def test_two_processes_give_what_one_gives(job: Job, pieces: Pieces, compared: tuple[Compared, ...]) -> None:
    two = compare(job, pieces, effort=0, workers=2)
    assert [(c.name, c.plan) for c in compared] == [(c.name, c.plan) for c in two]


def test_rows_and_data_say_the_same(job: Job, compared: tuple[Compared, ...]) -> None:
    results = compared
    rows = compare_rows(results, job)
    data = compare_json(results, job)["compare"]
    assert all(len(r) == len(COMPARE_COLUMNS) for r in rows)
    assert [r[0] for r in rows] == [d["stock"] for d in data]
    assert data[-1]["holds_the_job"] is False
    drawing = compare_chart(results, job)
    words = " ".join(m.text for m in drawing.marks if isinstance(m, Text))
    assert all(c.name in words for c in results)


def test_a_chart_is_svg_only(job: Job, compared: tuple[Compared, ...], tmp_path: Path) -> None:
    drawing = compare_chart(compared, job)
    with pytest.raises(JobError, match=r"ending in \.svg"):
        write_chart(drawing, tmp_path / "chart.png")
    assert write_chart(drawing, tmp_path / "chart.svg").read_bytes().startswith(b"<svg")


def test_size_rows_columns_and_chart_agree(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    text = JOB.replace('kind = "rectangle"\ncount = 40\nwidth = "15-1/2 in"\nlength = "15-1/2 in"', DIAMOND)
    path.write_text(text)
    the_job = load_job(path)
    found = sweep(the_job, make_pieces(the_job).metals)
    assert {len(r) for r in size_rows(found, the_job)} == {len(size_columns(found, the_job))}
    assert sum(r[-1] == "< asked" for r in size_rows(found, the_job)) == 1
    data = size_json(found, the_job)["best_size"]
    assert len(data["rows"]) == len(found.rows)
    assert len(data["suggestions"]) <= 3
    words = " ".join(m.text for m in size_chart(found, the_job).marks if isinstance(m, Text))
    assert "coil 20" in words
    assert "coil 16" in words


DIAMOND = 'kind = "diamond"\ncount = 40\nside = "9-1/2 in"\nhem = "3/4 in"'


def test_offered_pieces_match_metal_thickness_and_fit(job: Job, pieces: Pieces, tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    fits = add(db, metal="copper-16oz", thickness=0.0216, width=16 * IN, length=32 * IN)
    add(db, metal="copper-20oz", thickness=0.027, width=16 * IN, length=32 * IN)
    add(db, metal="copper-16oz", thickness=0.027, width=16 * IN, length=32 * IN)
    add(db, metal="copper-16oz", thickness=0.0216, width=3 * IN, length=3 * IN)
    offered = offer(db, job, pieces.patterns, pieces.metals)
    assert [s.name for s in offered] == [f"rack {fits[0]}"]
    plan = make_nest(job.model_copy(update={"stock": (*job.stock, *offered)}), pieces, effort=0)
    assert plan is not None
    assert [u.name for u in plan.stock if u.form == "offcut"] == [f"rack {fits[0]}"]


def test_a_large_rack_offers_only_its_fullest_sizes_pieces_alike_together(
    job: Job, pieces: Pieces, tmp_path: Path
) -> None:
    db = tmp_path / "rack.db"
    for k in range(3 * MOST_SIZES):
        add(db, metal="copper-16oz", thickness=0.0216, width=20 * IN + k, length=20 * IN)
    good = add(db, metal="copper-16oz", thickness=0.0216, width=31 * IN, length=31 * IN, count=5)
    offered = offer(db, job, pieces.patterns, pieces.metals)
    assert len(offered) == MOST_SIZES
    assert offered[0].name == f"rack {good[0]}-{good[-1]}"
    assert offered[0].on_hand is not None
    assert offered[0].on_hand.count == 5


def test_a_job_may_not_use_the_racks_names(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace('"coil 12"', '"rack 3"'))
    the_job = load_job(path)
    made = make_pieces(the_job)
    db = tmp_path / "rack.db"
    add(db, metal="copper-16oz", thickness=0.0216, width=20 * IN, length=20 * IN)
    with pytest.raises(JobError, match="kept for the offcut rack"):
        offer(db, the_job, made.patterns, made.metals)


def test_the_rack_joins_the_mix_and_the_stock_s_offcuts_too(job: Job, pieces: Pieces, tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    add(db, metal="copper-16oz", thickness=0.0216, width=16 * IN, length=40 * IN, count=3)
    rack = offer(db, job, pieces.patterns, pieces.metals)
    names = [c.name for c in choices(job, pieces.metals, rack=rack, sold=False)]
    assert names[-1] == "the job's stock and the rack" and names[-2] == "the job's stock together"
    with_rack = choices(job, pieces.metals, rack=rack, sold=False)[-1]
    assert with_rack.stock == (*job.stock, *rack)


def test_a_line_no_blank_is_cut_from_and_one_too_narrow_say_so(job: Job, pieces: Pieces) -> None:
    assert drop_reason(job.stock[0], (), job) == "no blank of this metal"
    locked = tuple(
        replace(p, grain="along", width_units=30 * 32, length_units=10 * 32) if p.mark == "A" else p
        for p in pieces.patterns
    )
    assert drop_reason(job.stock[0], locked, job) == "too narrow for A"  # it may not be turned to its 10 in side


def test_every_choice_is_told_when_it_is_done_and_short_ones_say_what_is_missing(job: Job, pieces: Pieces) -> None:
    few = job.model_copy(
        update={"stock": tuple(s.model_copy(update={"on_hand": OnHand(length=Nm(60 * IN))}) for s in job.stock)}
    )
    told: list[tuple[int, int, str]] = []
    found = compare(few, pieces, effort=0, workers=1, done=lambda *at: told.append(at))
    assert [n for n, _, _ in told] == list(range(1, len(found) + 1))
    assert {name for _, _, name in told} == {c.name for c in found}
    assert not any(c.good for c in found)
    assert any("does not hold the job: missing" in c.why for c in found)


def test_a_job_without_stock_has_nothing_to_compare(job: Job, pieces: Pieces) -> None:
    assert compare(job.model_copy(update={"stock": ()}), pieces, effort=0, workers=1) == ()


def test_more_stock_is_never_dearer_than_a_part_of_it(job: Job, pieces: Pieces, compared: tuple[Compared, ...]) -> None:
    todo = choices(job, pieces.metals)
    found = list(compared)
    by_name = {c.name: c for c in found}
    ordered = [by_name[choice.name] for choice in todo]
    at = next(i for i, choice in enumerate(todo) if choice.name == "the job's stock together")
    whole = ordered[at]
    assert whole.plan is not None
    best = min((c for c in ordered if c.good and c is not whole), key=lambda c: c.plan.total)  # type: ignore[union-attr]
    assert best.plan is not None
    assert whole.plan.total <= best.plan.total
    # As if the search had done badly with all of the stock.
    bad = replace(whole, plan=replace(whole.plan, total=best.plan.total + 100, status="not_proven"))
    mended = no_dearer(bad, at, todo, [*ordered[:at], bad, *ordered[at + 1 :]], job)
    assert mended.plan is not None
    assert mended.name == whole.name
    assert mended.plan.total == best.plan.total
    assert mended.plan.bound <= whole.plan.bound
    assert mended.plan.layouts == best.plan.layouts
    assert no_dearer(ordered[0], 0, todo, ordered, job) is ordered[0]


def test_the_best_three_say_what_to_buy(compared: tuple[Compared, ...], job: Job, pieces: Pieces) -> None:
    best = best_of(compared, job, pieces)
    assert 1 < len(best) <= 3
    assert len({(b.lines, b.choice.total) for b in best}) == len(best)
    cheapest = min(c.total for c in compared if c.good)
    fewer = len(used_lines_of(compared, cheapest)) - len(best[0].lines)
    assert best[0].choice.total <= cheapest * (1 + A_LINE * max(0, fewer))
    for b in best:
        assert [line.stock for line in b.buy] == [u.name for u in b.choice.plan.stock]  # type: ignore[union-attr]
    said = best_lines(best, job)
    assert said[0].startswith(f"1. {best[0].choice.name}: ")
    assert "at the shear; buy " in said[0]
    assert [b["stock"] for b in compare_json(compared, job, (), best)["best"]] == [b.choice.name for b in best]


def used_lines_of(compared: tuple[Compared, ...], total: Fraction) -> tuple[str, ...]:
    plan = next(c.plan for c in compared if c.good and c.total == total)
    assert plan is not None
    return used_lines(plan)


def test_a_second_line_of_stock_must_save_a_hundredth(compared: tuple[Compared, ...]) -> None:
    alone = next(c for c in compared if c.name == "coil 16 alone")
    assert alone.plan is not None
    (use,) = alone.plan.stock
    two = replace(alone.plan, stock=(use, replace(use, name="coil 20")))
    for gain, first in ((Fraction(1, 200), "coil 16 alone"), (Fraction(1, 50), "both")):
        both = replace(alone, name="both", total=alone.total * (1 - gain), plan=two)
        assert ranked([alone, both])[0].name == first


def test_the_price_that_turns_is_where_both_cost_the_same(
    compared: tuple[Compared, ...], job: Job, pieces: Pieces
) -> None:
    best = best_of(compared, job, pieces)
    found = turns(best, job)
    assert found
    for t in found:
        sums = []
        for b in best[:2]:
            assert b.choice.plan is not None
            own = next((u.cost for u in b.choice.plan.stock if u.name == t.line), Fraction(0))
            sums.append(float(b.counts + own * (Fraction(t.price) / Fraction(t.now) - 1)))
        assert sums[0] == pytest.approx(sums[1])


def test_other_prices_are_tried(job: Job) -> None:
    other = priced_otherwise(job, ["coil 16=10.20 per lb"])
    assert [str(s.price.amount) for s in other.stock if s.price] == ["9.40", "10.20", "9.40"]
    for text, says in (
        ("coil 99=1 per lb", "must be a stock line and its price"),
        ("coil 16=dear", "must be a price per sold unit"),
        ("coil 16=9 per foot", "coil 16 is priced per lb"),
    ):
        with pytest.raises(JobError, match=says):
            priced_otherwise(job, [text])
