"""Result tables on the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from fabplan.bending.model import BendSchedule
from fabplan.blanks.model import FlatPattern
from fabplan.errors import visible
from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.plan.handling import show_of
from fabplan.plan.model import Plan
from fabplan.speech import folds, nest, worth
from fabplan.speech.buying import buy_words
from fabplan.speech.labour import assumed_words, hours_rows
from fabplan.speech.status import status_sentence, stopped_sentence
from fabplan.speech.worth import counts_work


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[object]], *, right: Sequence[int] = ()) -> Table:
    """A plain table; text is never read as markup, and hidden characters are spelled out."""
    out = Table(title=Text(visible(title)), title_justify="left", header_style="bold", box=None, pad_edge=False)
    for i, name in enumerate(columns):
        out.add_column(Text(visible(name)), justify="right" if i in right else "left", overflow="fold")
    for row in rows:
        out.add_row(*(cell if isinstance(cell, Text) else Text(visible(str(cell))) for cell in row))
    return out


def blanks_table(patterns: Sequence[FlatPattern], job: Job) -> Table:
    """Flat size of every piece."""
    show = show_of(job)
    rows = [
        (
            p.mark,
            p.kind,
            p.count,
            show.length(p.width_units * p.grid),
            show.length(p.length_units * p.grid),
            show.length(p.finished.side) if p.finished.side else "",
            show.length(p.finished.exposed_side) if p.finished.exposed_side else "",
            show.weight(p.weight * p.count),
        )
        for p in patterns
    ]
    columns = (
        "mark",
        "kind",
        "pieces",
        "blank width",
        "blank length",
        "finished side",
        "exposed side",
        "weight of all",
    )
    return table("Blanks", columns, rows, right=(2, 3, 4, 5, 6, 7))


def _cost(value: float, plan: CutPlan, job: Job) -> str:
    if counts_work(plan) and plan.objective == "area":
        return worth.amount(value, plan, job)
    if plan.objective == "money":
        return f"{value:,.2f} {job.info.currency}".strip()
    return show_of(job).area(value * (plan.grid / 25_400_000) ** 2)


def total_says(plan: CutPlan, job: Job) -> str:
    """What a cut plan takes: money, or metal."""
    return _cost(float(plan.total), plan, job)


def _some(rows: list[tuple[object, ...]], most: int | None) -> list[tuple[object, ...]]:
    """The first rows, and how many more there are."""
    if most is None or len(rows) <= most + 1:
        return rows
    return [*rows[:most], (f"+{len(rows) - most}", "more: --all", *[""] * (len(rows[0]) - 2))]


def nest_tables(plan: CutPlan, job: Job, *, most: int | None = None) -> list[Table | Text]:
    """Stock used, patterns, rivals, and how good the plan is; at most `most` rows of a table."""
    show = show_of(job)

    def total(value: float) -> str:
        return _cost(value, plan, job)

    stock: list[tuple[object, ...]] = [
        (
            u.name,
            u.form,
            show.length(u.used_length * plan.grid) if u.used_length is not None else f"{u.used_count}",
            show.weight(u.pounds),
        )
        for u in plan.stock
        if u.used_length or u.used_count
    ]
    layouts: list[tuple[object, ...]] = [
        (
            i,
            lay.stock,
            lay.repeat,
            show.length(lay.length * plan.grid),
            ", ".join(f"{n} x {mark}" for mark, n in count_marks(b.mark for b in lay.blanks)),
        )
        for i, lay in enumerate(plan.layouts, job.done.layouts + 1)
    ]
    out: list[Table | Text] = [
        table("Stock used", ("stock", "form", "taken", "weight"), _some(stock, most), right=(2, 3)),
        table("Layouts", ("no", "stock", "times", "length", "blanks on each"), _some(layouts, most), right=(0, 2, 3)),
    ]
    rivals = [
        (nest.rival_name(r), "" if r.total is None else total(float(r.total)), nest.rival_words(r)) for r in plan.rivals
    ]
    rivals.insert(0, ("this plan", total(float(plan.total)), ""))
    rivals.append(("proven least", total(float(plan.bound)), ""))
    out.append(
        table(
            "Beside it",
            ("way of cutting", "metal and work" if counts_work(plan) else plan.objective, ""),
            rivals,
            right=(1,),
        )
    )
    above = plan.above_bound
    gap = "" if above is None else f" {above:.2%} above the proven least."
    out.append(
        Text(f"{status_sentence(plan)}{gap} Scrap {plan.scrap_share:.1%}, kept for the rack {plan.kept_share:.1%}.")
    )
    if counts_work(plan):
        out.append(Text(worth.sum_words(plan, job)))
    if stopped := stopped_sentence(plan):
        out.append(Text(stopped, style="bold"))
    out += [Text(note) for note in nest.notes(plan, job)]
    if plan.short:
        out.append(table("Short", ("mark", "missing"), plan.short, right=(1,)))
    return out


def count_marks(marks: Iterable[str]) -> list[tuple[str, int]]:
    """Marks in order of first appearance, with how often each appears."""
    seen: dict[str, int] = {}
    for mark in marks:
        seen[mark] = seen.get(mark, 0) + 1
    return list(seen.items())


def bend_table(schedule: BendSchedule, job: Job) -> Table:
    """The strokes of one piece."""
    show = show_of(job)
    rows = [
        (
            s.step,
            folds.turn_words(s, show) or "-",
            f"{s.side_up} up" + (f", {s.end_in} in" if s.end_in else ""),
            f"{s.gauged_from.what} {s.gauged_from.ref}",
            show.length(s.stop) + (f" to {show.length(s.far.stop)}" if s.far and folds.other_stop(s, show) else ""),
            f"end {s.at}, fold {s.edge}" if s.at else f"{'bend' if schedule.kind == 'section' else 'edge'} {s.edge}",
            f"{s.set_deg:g}° (inside {180 - s.set_deg:g}°)",
            s.tool,
            f"{show.length(s.check.size)} {folds.check_words(s, show)}"
            + (f", {show.length(s.far.size)} at end B" if s.far and folds.other_size(s, show) else ""),
        )
        for s in schedule.steps
    ]
    proof = (
        f"least {'time and ' if schedule.kind == 'flat' else ''}turning over, proven"
        if schedule.proven
        else "best order found, not proven least"
    )
    columns = ("step", "first", "lay it", "stop from", "stop", "fold up", "turn by", "tool", "check")
    return table(f"Piece {schedule.mark}: {proof}", columns, rows, right=(0, 4))


def buy_table(plan: Plan) -> Table:
    """Buying list."""
    currency = plan.job.info.currency
    rows = [
        (
            b.stock,
            b.metal,
            *words[:3],
            "" if b.price is None else f"{b.price:,.2f} {currency}".strip(),
            words[3],
        )
        for b, words in ((b, buy_words(b, show_of(plan.job))) for b in plan.buy)
    ]
    return table("Stock to pull and to buy", ("stock", "metal", "takes", "pull", "buy", "price", "left over"), rows)


def hours_parts(plan: Plan) -> list[Table | Text]:
    """Hours by station, and what was assumed of them."""
    if not plan.hours:
        return []
    out: list[Table | Text] = [table("Hours of work", ("station", "about", "work"), hours_rows(plan.hours), right=(1,))]
    assumed = assumed_words(plan.job, {s.what for h in plan.hours for s in h.spent})
    return [*out, Text(assumed)] if assumed else out


def print_all(parts: Iterable[object]) -> None:
    """Print tables and texts to standard output with a blank line between; text is never read as markup."""
    console = Console(highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        # A pipe has no width: do not fold tables at 80.
        console = Console(highlight=False, markup=False, emoji=False, width=160)
    for part in parts:
        console.print(part)
        console.print()


__all__ = [
    "bend_table",
    "blanks_table",
    "buy_table",
    "count_marks",
    "hours_parts",
    "nest_tables",
    "print_all",
    "show_of",
    "table",
]
