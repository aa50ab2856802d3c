"""Lists: the cut list and the buying list."""

from __future__ import annotations

from collections import defaultdict

from fabplan.nesting.model import CutPlan
from fabplan.packet.model import Block, Column, Heading, Page, Para, Picture, Table
from fabplan.packet.pages.bend import about_the_folds
from fabplan.packet.pages.cover import least_lines, snips_line, stock_table
from fabplan.packet.pages.hours import assumed_blocks
from fabplan.packet.pages.kinds import kind_name
from fabplan.packet.pages.pictures import stock_chart
from fabplan.packet.pages.piece import has_a_page
from fabplan.packet.pages.roof import office_blocks
from fabplan.packet.setting.keys import piece_key
from fabplan.packet.totals import where_it_goes
from fabplan.plan.model import Plan
from fabplan.speech import nest
from fabplan.speech.buying import coils_words, lead_words, order_words
from fabplan.speech.format import Say, paper, spans
from fabplan.speech.worth import amount, counts_work
from fabplan.units import NM_PER_INCH

LONG_MARK = 12  # letters from which the column of marks may break them


def patterns_by_mark(plan: Plan) -> dict[str, list[int]]:
    """Numbers of the shear patterns each mark is cut in."""
    where: dict[str, list[int]] = defaultdict(list)
    for number, layout in enumerate(plan.cut_plan.layouts if plan.cut_plan else (), plan.job.done.layouts + 1):
        for mark in dict.fromkeys(b.mark for b in layout.blanks):
            where[mark].append(number)
    return where


def cut_list(plan: Plan, say: Say) -> Page:
    """One row a mark: what, how many, what size, where it is cut, what it weighs, and where its pages are."""
    where = patterns_by_mark(plan)
    many = len({p.metal for p in plan.patterns}) > 1
    longest = max((len(p.mark) for p in plan.patterns), default=0)
    missing = dict(plan.cut_plan.short) if plan.cut_plan else {}
    columns = [
        Column(
            title="Mark", strong=True, size=11 if longest > LONG_MARK else 13, share=2 if longest > LONG_MARK else 0
        ),
        Column(title="Piece", share=1, size=9),
        Column(title="Make", align="right", strong=True, size=13),
        Column(title="Spare", align="right"),
        Column(title="Sheared size", align="right", size=12),
    ]
    if many:
        columns.append(Column(title="Metal", share=1, size=9))
    if missing:
        columns.append(Column(title="Missing", align="right", strong=True))
    columns += [
        Column(title="Layout", align="centre", share=0.7, size=9),
        Column(title="Weight", align="right"),
        Column(title="Sheet", align="centre", page=True),
        Column(title="Done", align="centre", tick=True),
    ]
    rows = []
    for p in plan.patterns:
        row = [p.mark, kind_name(p), f"{p.count:,}", f"{p.spare:,}" if p.spare else "–"]
        row.append(say.size(p.width_units * p.grid, p.length_units * p.grid))
        if many:
            row.append(plan.metals[p.metal].title)
        if missing:
            row.append(f"{missing[p.mark]:,}" if missing.get(p.mark) else "–")
        sheet = piece_key(plan, "piece", p.mark) if has_a_page(p, plan.job) else ""
        row += [spans(where[p.mark]) or "–", say.weight(p.weight * p.count), sheet, ""]
        rows.append(tuple(row))
    total = [""] * len(columns)
    titles = [c.title for c in columns]
    total[0] = "All"
    total[titles.index("Make")] = f"{sum(p.count for p in plan.patterns):,}"
    total[titles.index("Spare")] = f"{sum(p.spare for p in plan.patterns):,}"
    total[titles.index("Weight")] = say.weight(sum(p.weight * p.count for p in plan.patterns))
    rows.append(tuple(total))
    table = Table(name="Cut list", columns=tuple(columns), rows=tuple(rows), total=True, close=True)
    words = (
        "Width × length of the blank as it leaves the shear; of a slanted one, width across and side; of any other "
        "outline, the box round it. The weight is of all pieces of the mark, after snipping."
    )
    return Page(key="cut-list", kind="cut-list", title="Cut list", blocks=(table, Para(text=words, size=9)), joins=True)


SQUARING = "Coil is reckoned exactly as it is pulled: buy as much more as squaring the ends takes."


def buying_list(plan: Plan, say: Say) -> Page | None:
    """What to buy and pull, and the other ways of cutting the job that were tried beside it."""
    cut = plan.cut_plan
    if cut is None or not plan.buy:
        return None
    blocks: list[Block] = [stock_table(plan, say, long=True)]
    chart = stock_chart(plan)
    if chart is not None:
        blocks.append(Picture(drawing=chart, alt=chart_words(plan, say), least_px=560))
    if any(line.price is not None for line in plan.buy):
        blocks.append(Para(text="Prices are those of the job file, for the metal bought.", size=9))
    terms = [f"Pull off {line.stock}: {coils_words(line, say.show)}." for line in plan.buy if line.coils]
    terms += [order_words(line, say.show, plan.job.info.currency) for line in plan.buy] + [lead_words(plan.buy)]
    blocks += [Para(text=paper(words), size=9) for words in terms if words]
    if any(layout.form == "coil" for layout in cut.layouts):
        blocks.append(Para(text=SQUARING, size=9))
    if cut.rivals:
        square = (cut.grid / NM_PER_INCH) ** 2
        rows = [("This plan", _total(plan, say, float(cut.total), square), "")]
        for rival in cut.rivals:
            total = "–" if rival.total is None else _total(plan, say, float(rival.total), square)
            rows.append((nest.rival_name(rival), total, paper(nest.rival_words(rival))))
        rows.append(
            (
                "Proven least",
                _total(plan, say, float(cut.bound), square),
                "No plan cut in strips costs less.",
            )
        )
        blocks += [
            Heading(text="Other ways of cutting the same job"),
            Table(
                name="Other ways of cutting the same job",
                columns=(
                    Column(title="Way", share=1, size=9),
                    Column(title=_cost_title(cut), align="right"),
                    Column(title="Remark", share=1.5, size=9),
                ),
                rows=tuple(rows),
                close=True,
            ),
        ]
    notes = [paper(note) for note in nest.notes(cut, plan.job)]
    snips = snips_line(plan, say)
    proof: list[Block] = [
        *([Para(text=snips, size=9)] if snips else []),
        *(Para(text=line, size=9) for line in least_lines(plan, say)),
        *(Para(text=f"– {note}", size=9) for note in notes),
        *assumed_blocks(plan),
        *about_the_folds(plan, say),
        *office_blocks(plan),
    ]
    if proof:
        blocks += [Heading(text="For the office: notes, assumed times, settings"), *proof]
    return Page(key="buying", kind="buy", title="Buying list", blocks=tuple(blocks), joins=True)


def chart_words(plan: Plan, say: Say) -> str:
    """The chart of the stock taken, in words."""
    parts = []
    for name in dict.fromkeys(layout.stock for layout in plan.cut_plan.layouts) if plan.cut_plan else ():
        goes = where_it_goes(plan, stock=name)
        shares = [say.percent(part.area / goes.stock.area) for part in (goes.blanks, goes.kept, goes.scrap)]
        parts.append(
            f"{name}: {say.weight(goes.stock.pounds)}, {shares[0]} in blanks, {shares[1]} kept, {shares[2]} scrap"
        )
    return "Weight taken of every stock. " + "; ".join(parts) + "."


def _cost_title(cut: CutPlan) -> str:
    if counts_work(cut):
        return "Metal and work"
    return "Cost" if cut.objective == "money" else "Metal"


def _total(plan: Plan, say: Say, value: float, square: float) -> str:
    if plan.cut_plan is not None and counts_work(plan.cut_plan):
        return amount(value, plan.cut_plan, plan.job)
    if plan.cut_plan is not None and plan.cut_plan.objective == "money":
        return say.money(value)
    return say.area(value * square)
