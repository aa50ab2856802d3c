"""Sheets part by part, of a plan made by hand: at the shear, at the bench, lists, the sheet to hang up."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.packet.pages import bend, blank, cut_shots, cut_table, lists, reading, roof, roof_slopes, shear, shear_room
from fabplan.packet.pages.cut_rows import cut_rows
from fabplan.plan.make import make_pieces
from fabplan.plan.model import Plan
from fabplan.speech.format import Say

SPIRE = """
[job]
name = "Turret"
number = "T-9"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
[[slope]]
name = "turret"
shape = "regular-spire"
piece = "A"
sides = 4
side = "4 ft"
slant = "5 ft"
"""


@pytest.fixture(scope="module")
def say(plan: Plan) -> Say:
    return Say.of(plan.job)


def test_a_sheet_for_every_layout_of_the_cut_plan(plan: Plan, say: Say) -> None:
    assert plan.cut_plan is not None
    for paper in ("letter", "a4"):
        pages = shear.shear_pages(plan, say, paper)  # type: ignore[arg-type]
        assert 0 < len(pages) <= len(plan.cut_plan.layouts)
        told = " ".join(page.title for page in pages)
        assert all(str(n) in told for n in range(1, len(plan.cut_plan.layouts) + 1))


def test_a_sheet_is_shared_out_so_that_the_picture_is_large_and_nothing_is_lost(plan: Plan, say: Say) -> None:
    assert plan.cut_plan is not None
    layout = plan.cut_plan.layouts[0]
    told = shear_room.Told(
        plan=plan,
        layout=layout,
        number=1,
        head=(),
        table=cut_table.cut_table(cut_rows(layout), plan.cut_plan, layout, say),
        pictures=(),
        tail=(),
        drawn={},
    )
    blocks, _ = shear_room.arranged(told, "letter", banner=False)
    assert told.table.rows[0][0] in repr(blocks) and "drawing" in repr(blocks)
    pair = shear_room.paired(told, told, "letter", banner=False)
    assert pair is None or all(told.table.rows[0][0] in repr(half) for half in pair)


def test_the_cut_table_has_every_cut_once_with_its_setting(plan: Plan, say: Say) -> None:
    assert plan.cut_plan is not None
    layout = plan.cut_plan.layouts[0]
    rows = cut_rows(layout)
    table = cut_table.cut_table(rows, plan.cut_plan, layout, say)
    assert len(table.rows) == len(rows)
    gauged = next(r for r in rows if r.back_gauge is not None)
    assert cut_table.gauge_words(gauged, plan.cut_plan, layout, say) == say.bare(gauged.back_gauge * plan.cut_plan.grid)
    assert not any(cut_shots.unset(r) for r in rows if r.back_gauge is not None and r.angle == 90)
    assert cut_shots.cut_pictures(layout, [r for r in rows if not cut_shots.unset(r)], plan.cut_plan.grid, say) == []
    kept = cut_table.kept_table(plan.cut_plan, layout, say)
    assert (kept is None) == (not any(o.keep for o in layout.offcuts))


def test_the_cut_list_counts_what_the_layouts_make(plan: Plan, say: Say) -> None:
    assert plan.cut_plan is not None
    cut_in = lists.patterns_by_mark(plan)
    for mark, numbers in cut_in.items():
        made = {n for n, y in enumerate(plan.cut_plan.layouts, 1) if any(b.mark == mark for b in y.blanks)}
        assert set(numbers) == made
    page = lists.cut_list(plan, say)
    told = repr(page)
    for pattern in plan.patterns:
        assert f"'{pattern.mark}'" in told and f"'{pattern.count}'" in told
    buying = lists.buying_list(plan, say)
    assert buying is not None and all(line.stock in repr(buying) for line in plan.buy)


def test_batches_cover_all_pieces_once() -> None:
    assert bend.batches(60, 25) == ("1–25", "26–50", "51–60")
    assert bend.batches(20, 25) == ("1–20",) or len(bend.batches(20, 25)) == 1


def test_every_stroke_has_its_card(plan: Plan, say: Say) -> None:
    for schedule in plan.schedules:
        told = repr(bend.stroke_blocks(plan, schedule, say))
        assert all(f"number='{step.step}'" in told for step in schedule.steps)
    assert any(bend.at_the_brake(s) for s in plan.schedules) == any(s.steps[0].end_in for s in plan.schedules)
    assert bend.unbent_pages(plan) == []


def test_the_blank_says_its_sheared_size_and_its_raw_edges(plan: Plan, say: Say) -> None:
    for pattern in plan.patterns:
        facts = blank.blank_facts(pattern, say)
        assert facts and blank.sheared(pattern, say)
        assert blank.boxed(plan, pattern.mark) == 0  # every blank of this plan is sheared all round
        for fold in pattern.folds:
            assert say.degrees(fold.turned) in blank.fold_words(pattern, fold, say) or fold.hem or fold.turned == 180
            if fold.flap:
                assert blank.to_raw_edge(fold) > 0
    assert blank.round_to_grid(1.02, 793_750) == 33 * 793_750


def test_the_sheet_to_hang_up_explains_each_word_once(plan: Plan) -> None:
    page = reading.reading_page(plan)
    terms = [row for row in repr(page).split("'") if row.strip()]
    assert len(terms) > 20
    assert page.title


def test_a_plan_without_a_roof_has_no_roof_sheets(plan: Plan, say: Say) -> None:
    assert plan.roof is None
    assert roof.roof_pages(plan, say) == []
    assert roof.office_blocks(plan) == []
    assert roof.names_key('write "cut_pieces = cheaper"') or roof.names_key("alike_within = 1 in")
    assert not roof.names_key("Nail every second cleat.")


def test_equal_faces_of_a_spire_share_a_sheet(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(SPIRE, encoding="utf-8")
    job = load_job(path)
    pieces = make_pieces(job)
    plan = Plan(job=job, metals=pieces.metals, patterns=pieces.patterns, cut_plan=None, schedules=(), roof=pieces.roof)
    (group,) = roof_slopes.groups(plan)
    first = group.layouts[0]
    assert roof_slopes.near_alike(first, first, apart=False)
    table = roof_slopes.course_columns(plan, group, Say.of(job))
    assert len(table.rows) >= len(first.courses)
    (sheet,) = roof_slopes.slope_pages(plan, Say.of(job), "letter")
    assert first.slope.name in sheet.title
