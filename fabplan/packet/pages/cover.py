"""First pages: the cover, and the cautions behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from fabplan.nesting.model import CutPlan
from fabplan.nesting.refused import uncut_words
from fabplan.packet.model import Block, Column, Facts, Heading, Notice, Page, Para, Split, Table
from fabplan.packet.pages import cautions
from fabplan.packet.pages.hours import hours_blocks
from fabplan.packet.pages.shares import share_blocks
from fabplan.packet.totals import Share, pieces_cut, where_it_goes
from fabplan.plan.model import Plan
from fabplan.speech.buying import amount_words, buy_words, heavy_notes, lacking_words
from fabplan.speech.folds import not_planned
from fabplan.speech.format import Say, count, listed, paper
from fabplan.speech.spares import spare_notes
from fabplan.speech.status import short_sentence, status_sentence, stopped_sentence
from fabplan.speech.worth import counts_work, least_words, sum_words
from fabplan.units import NM_PER_INCH

CHECKS = 118.0  # mm of the checks beside the contents
LONG_PACKET = 12  # pages from which the cover says where to find them
KINDS_OF_PAGES = {
    "buy": "Office: buying list",
    "cut-list": "Office: cut list",
    "cautions": "To hang up: cautions, signs, words",
    "shear": "Shear: cutting layouts",
    "setup": "Bench: set-up sheet",
    "piece": "Bench and brake: pieces",
    "unbent": "Office: not planned",
    "roof": "Roof: slopes, kits",
}
LONGEST_BANNER = 84  # letters that stand on one line over a page


def short_list(plan: Plan) -> str:
    """``12 of A, 3 of C`` for a plan that is short, else nothing."""
    return ", ".join(f"{n:,} of {mark}" for mark, n in plan.cut_plan.short) if plan.cut_plan else ""


def banner(plan: Plan) -> str:
    """What stands at the head of every page: SHORT, or marks that are NOT PLANNED."""
    lost = [*(u.mark for u in plan.uncut), *(u.mark for u in plan.unbent)]
    said = not_planned(lost)
    if len(said) > LONGEST_BANNER:
        said = f"NOT PLANNED: {count(len(lost), 'mark')}: see the cover"
    if plan.cut_plan is None or plan.cut_plan.status != "short":
        return said
    tail = f". {said}" if said else ""
    short = f"SHORT: this plan does not make {short_list(plan)}"
    if len(short + tail) <= LONGEST_BANNER:
        return short + tail
    marks = count(len(plan.cut_plan.short), "mark")
    return (
        f"SHORT: this plan does not make all of {marks}: see the cover{'. NOT PLANNED: see the cover' if said else ''}"
    )


def stock_table(plan: Plan, say: Say, *, long: bool) -> Table:
    """What to pull from stock and what to buy; `long` adds what is left over."""
    priced = any(line.price is not None for line in plan.buy)
    ordered = any(line.order is not None for line in plan.buy)
    many = len({line.metal for line in plan.buy}) > 1
    columns = [Column(title="Stock", strong=True, share=1, size=10)]
    if many:
        columns.append(Column(title="Metal", share=1.2, size=9))
    columns += [
        Column(title="Needed", align="right", size=9),
        Column(title="Pull", align="right", strong=True, size=10),
    ]
    columns.append(Column(title="Buy", align="right", strong=True, size=10))
    if ordered:
        columns.append(Column(title="Order", align="right", strong=True, size=10))
    columns.append(Column(title="Weight", align="right", size=9))
    if priced:
        columns.append(Column(title="To pay", align="right", size=9))
    if long:
        columns.append(Column(title="Left over", align="right", size=9))
    columns.append(Column(title="Done", align="centre", tick=True))
    rows = []
    for line in plan.buy:
        row = [line.stock]
        if many:
            row.append(plan.metals[line.metal].title)
        need, pull, buy, left = (paper(words) or "–" for words in buy_words(line, say.show))
        row += [need, pull, buy]
        if ordered:
            row.append(paper(amount_words(line.order or line.buy, line, say.show)) or "–")
        row.append(say.weight(line.need.pounds))
        if priced:
            row.append(say.money(line.to_pay) if line.to_pay is not None else "–")
        if long:
            row.append(left)
        rows.append((*row, ""))
    if len(plan.buy) > 1:
        blank = [""] * (len(columns))
        blank[0] = "All"
        titles = [c.title for c in columns]
        blank[titles.index("Weight")] = say.weight(sum(line.need.pounds for line in plan.buy))
        if priced:
            blank[titles.index("To pay")] = say.money(sum(line.to_pay for line in plan.buy if line.to_pay is not None))
        rows.append(tuple(blank))
    name = "Stock to pull and to buy"
    return Table(name=name, columns=tuple(columns), rows=tuple(rows), total=len(plan.buy) > 1, close=True)


def where_table(plan: Plan, say: Say) -> Table:
    """In blanks, back on the rack, scrap bin."""
    goes = where_it_goes(plan)

    def row(name: str, part: Share) -> tuple[str, ...]:
        share = part.area / goes.stock.area if goes.stock.area else 0.0
        return (name, say.weight(part.pounds), say.area(part.area), say.percent(share))

    return Table(
        name="Where the metal goes",
        columns=(
            Column(title="Where", share=1, strong=True),
            Column(title="Weight", align="right"),
            Column(title="Area", align="right"),
            Column(title="Share", align="right"),
        ),
        rows=(
            row("In blanks", goes.blanks),
            row("Back on the rack", goes.kept),
            row("Scrap bin", goes.scrap),
            row("All metal taken", goes.stock),
        ),
        total=True,
        whole=True,
        close=True,
    )


def snips_line(plan: Plan, say: Say) -> str:
    """How much of the blanks is snipped off later; empty when nothing is."""
    goes = where_it_goes(plan)
    if goes.snips.area < 0.5:
        return ""
    return (
        f"Snips and notches then take {say.weight(goes.snips.pounds)} ({say.area(goes.snips.area)}) of the blanks to "
        "the scrap bin as well."
    )


def takes_lines(plan: Plan, say: Say) -> tuple[str, ...]:
    """What the plan takes in all and what is known of it, in plain sentences."""
    cut = plan.cut_plan
    if cut is None:
        return ()
    if counts_work(cut):
        first = sum_words(cut, plan.job, _on_hand(plan, cut, say))
    elif cut.objective == "money":
        first = f"Metal cost: {say.money(cut.total)}{_on_hand(plan, cut, say)}."
    else:
        first = f"Metal taken: {_metal(cut, say, cut.total)}{_on_hand(plan, cut, say)}."
    stopped = stopped_sentence(cut)
    lines = (first, status_sentence(cut))
    return (*lines, stopped) if stopped else lines


def least_lines(plan: Plan, say: Say) -> tuple[str, ...]:
    """The proven least of a plan that is not short, and how far above it the plan is: for the office."""
    cut = plan.cut_plan
    if cut is None or cut.status == "short":
        return ()
    if counts_work(cut):
        return (least_words(cut, plan.job),)
    least = say.money(cut.bound) if cut.objective == "money" else _metal(cut, say, cut.bound)
    above = cut.above_bound
    far = f" This plan is {say.percent(above, 2)} above it." if above else ""
    return (f"Proven least: {least}.{far}",)


def _metal(cut: CutPlan, say: Say, value: Fraction) -> str:
    """So many squares of the plan's graduation as an area."""
    return say.area(float(value) * (cut.grid / NM_PER_INCH) ** 2)


def _on_hand(plan: Plan, cut: CutPlan, say: Say) -> str:
    """How much of the metal's cost is to pay, where some of it is on hand."""
    pulled = any(line.pull.length or line.pull.count for line in plan.buy)
    pay = sum((line.price for line in plan.buy if line.price is not None), Decimal(0))
    if cut.objective != "money" or not pulled or pay >= cut.metal_total:
        return ""
    if not pay:
        return " (all of it stock on hand)" if counts_work(cut) else ", all of it stock on hand"
    hand = say.money(cut.metal_total - Fraction(pay))
    return f" ({say.money(pay)} to pay, {hand} the price of stock on hand)"


def extras_line(plan: Plan) -> str:
    """Blanks the patterns make beyond what the job asks for."""
    got = pieces_cut(plan)
    extra = [(p.mark, got[p.mark] - p.count) for p in plan.patterns]
    over = [f"{n:,} of {mark}" for mark, n in extra if n > 0]
    return f"The patterns make more than the job asks for: {listed(over)} extra." if over else ""


def sign_off(plan: Plan) -> Table:
    """Who checks what, with room for initials."""
    near = paper(f"within {Say.of(plan.job).show.exact(plan.job.info.round_to)}")
    rows = [("Metal, thickness, width; cross chalked on the face (side seen)", "Shear operator")]
    if plan.cut_plan is not None:
        rows.append((f"First blank of every mark: its page's sizes, {near}", "Shear operator"))
    if plan.schedules:
        rows.append(("First piece of every mark: its check sizes", "Bench or brake"))
    rows.append(("Pieces of every mark counted against the cut list", "Crew lead"))
    if plan.roof is not None:
        rows.append(("Slopes measured again, course lines snapped and checked", "Crew lead"))
    return Table(
        name="Who checks what",
        columns=(
            Column(title="Check", share=1, size=9),
            Column(title="Who", size=9),
            Column(title="Initials, date", share=0.4),
        ),
        rows=tuple((*row, "") for row in rows),
        whole=True,
        close=True,
    )


def contents(pages: Sequence[Page]) -> Table:
    """Where every kind of page begins, and how many pieces of work it holds."""
    first: dict[str, str] = {}
    for page in pages:
        if page.kind in KINDS_OF_PAGES:
            first.setdefault(page.kind, page.key)
    return Table(
        name="Where to find it",
        columns=(
            Column(title="Pages", strong=True, size=9, share=1),
            Column(title="From page", align="right", page=True),
        ),
        rows=tuple((KINDS_OF_PAGES[kind], key) for kind, key in first.items()),
        whole=True,
        close=True,
    )


def cover(plan: Plan, say: Say, pages: Sequence[Page] = ()) -> Page:
    """Job, stock, where the metal goes, how near the least, who checks what, and the key to the lines.

    Of a long packet, whose other `pages` are given, it says where to find what.
    """
    info = plan.job.info
    used = [plan.metals[name] for name in dict.fromkeys(p.metal for p in (*plan.patterns, *plan.left_out))]
    metals = [f"{metal.title} ({say.fine(metal.thickness)} thick)" for metal in used]
    pieces = sum(p.count for p in plan.patterns)
    spare = sum(p.spare for p in plan.patterns)
    named = [info.number, f"revision {info.revision}" if info.revision else "", info.date]
    facts = [("Job", ",  ".join(part for part in named if part)), ("Metal", listed(metals))]
    made = f"{count(pieces, 'piece')} of {count(len(plan.patterns), 'mark')}"
    facts.append(("To make", f"{made}, {spare:,} of them spare" if spare else made))
    blocks: list[Block] = [
        Facts(rows=tuple(facts)),
        Para(text=f"Read the cautions first. {cautions.FIRST}", strong=True, size=10),
    ]
    cut = plan.cut_plan
    if cut is not None and cut.status == "short":
        missing = tuple(f"{n:,} of {mark} are missing." for mark, n in cut.short)
        blocks.append(Notice(title=f"SHORT: {short_sentence(cut)}", items=missing, loud=True, size=13))
    if plan.unbent or plan.uncut:
        blocks.append(_unplanned(plan))
    blocks += rest_blocks(plan)
    if plan.buy:
        blocks += [Heading(text="Stock to pull and to buy"), stock_table(plan, say, long=False)]
    if cut is not None:
        blocks += [Heading(text="Where the metal goes"), where_table(plan, say)]
        blocks += [Para(text=line, size=9) for line in (extras_line(plan),) if line]
        blocks += [Heading(text="What it takes"), *(Para(text=line, size=9) for line in takes_lines(plan, say))]
    blocks += share_blocks(plan, say)
    blocks += hours_blocks(plan)
    checks: tuple[Block, ...] = (Heading(text="Who checks what"), sign_off(plan))
    if len(pages) > LONG_PACKET:
        blocks.append(Split(left=checks, right=(Heading(text="Where to find it"), contents(pages)), left_mm=CHECKS))
    else:
        blocks += checks
    told = spare_notes(plan) if cut else ()
    lacking = lacking_words(plan.lacking, plan.job)
    notes = (*([lacking] if lacking else []), *heavy_notes(plan.lifts, say.show), *told)
    if notes:
        blocks.append(Notice(title="Read before starting", items=tuple(paper(n) for n in notes), size=9))
    return Page(key="cover", kind="cover", title=info.name, blocks=tuple(blocks))


def rest_blocks(plan: Plan) -> list[Block]:
    """Of the rest of a job: what is there already, what of it lies cut, and what is laid."""
    done, laid = plan.job.done, plan.job.laid
    if not done.pieces and not laid:
        return []
    words = []
    if done.pieces:
        words.append(f"There already, and not cut again: {_counts(done.pieces)}.")
    if done.unfolded:
        words.append(f"Of them lie cut, to be snipped and folded with the others: {_counts(done.unfolded)}.")
    if laid:
        words.append(f"Laid: {', '.join(f'{h.slope} up to course {h.courses}' for h in laid)}; their lines stay.")
    if done.layouts or done.sheets:
        words.append("Layouts and sheets of paper are numbered on from the first packet.")
    return [Heading(text="The rest of a job"), *(Para(text=paper(w)) for w in words)]


def _counts(pieces: Mapping[str, int]) -> str:
    return ", ".join(f"{n:,} of {mark}" for mark, n in pieces.items())


def _unplanned(plan: Plan) -> Notice:
    """Pieces that cannot be cut or folded, and what becomes of their blanks."""
    items = [
        f"{count(plan.pattern(u.mark).count, 'piece')} of {u.mark} cannot be cut. {uncut_words(u, plan.job)[0]}"
        for u in plan.uncut
    ]
    for unbent in plan.unbent:
        pattern = plan.pattern(unbent.mark)
        what = "not cut, not bought, not counted" if pattern in plan.left_out else "blanks cut and counted as asked for"
        items.append(f"{count(pattern.count, 'piece')} of {unbent.mark} cannot be folded: {what}. See its page.")
    return Notice(title="NOT PLANNED", items=tuple(items), loud=True, size=13)


def caution_page(plan: Plan) -> Page:
    """All cautions."""
    used = [plan.metals[name] for name in dict.fromkeys(p.metal for p in plan.patterns)]
    finishes = dict.fromkeys(p.finish for p in plan.patterns if p.finish != "bare")
    return Page(
        key="cautions",
        kind="cautions",
        title="Cautions: read before the first cut",
        blocks=(cautions.everything(used, plan.job.info.units, finishes),),
    )
