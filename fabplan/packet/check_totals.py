"""Reads the totals on the office pages back: to make, buying list, where the metal goes, cost, kits and edges.

Every figure is worked out again from the layouts, the blanks and the checked lists, and held against the words to
the last digit they print.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal

from fabplan import check_plane
from fabplan.packet.check_read import UnreadableError, pages_of, read_count, read_length, rows_of, table_of
from fabplan.packet.model import Facts, Packet, Page, Para, Table, flat
from fabplan.plan.model import Amount, BuyLine, Plan
from fabplan.units import MM2_PER_SQ_IN, NM_PER_INCH, POUNDS_TO_KG, from_inches, to_grid

_FIGURE = re.compile(r"-?\d[\d,]*(?:\.\d+)?")
_NONE = ("–", "")


def _figure(text: str, which: int = 0) -> float:
    found = _FIGURE.findall(text)
    if not found:
        raise UnreadableError(f"{text!r} holds no figure")
    return float(found[which].replace(",", ""))


def _weighs(text: str, pounds: float, plan: Plan) -> bool:
    """Whether a printed weight is this one: one decimal from 10 up, two from 1 up, three below."""
    value = pounds * float(POUNDS_TO_KG) if plan.job.info.units == "mm" else pounds
    places = 1 if value >= 10 else 2 if value >= 1 else 3
    return abs(_figure(text) - value) <= 0.5000001 * 0.1**places + 1e-9


def _covers(text: str, square_inches: float, plan: Plan) -> bool:
    if plan.job.info.units == "mm":
        return abs(_figure(text) - square_inches * float(MM2_PER_SQ_IN) / 1e6) <= 0.00501
    return abs(_figure(text) - square_inches / 144) <= 0.0501


def _pays(text: str, amount: Decimal | float) -> bool:
    return abs(_figure(text, -1) - float(amount)) <= 0.00501


def made(packet: Packet, plan: Plan) -> Iterator[str]:
    """How many pieces and marks there are to make, and how many are spare."""
    for page in pages_of(packet, "cover"):
        rows = [row for block in page.blocks if isinstance(block, Facts) for row in block.rows]
        for name, text in rows:
            if name != "To make":
                continue
            figures = [read_count(found) for found in _FIGURE.findall(text)]
            spare = sum(p.spare for p in plan.patterns)
            wanted = [sum(p.count for p in plan.patterns), len(plan.patterns), *([spare] if spare else [])]
            if figures != wanted:
                yield f"cover: {text!r} to make, planned {wanted}"


def buying(packet: Packet, plan: Plan) -> Iterator[str]:
    """What to pull, buy and pay, line by line and in all."""
    if not plan.buy:
        return
    for page in [*pages_of(packet, "cover"), *pages_of(packet, "buy")]:
        table = table_of(page, "Stock")
        rows = list(rows_of(table))
        if [row["Stock"] for row in rows] != [line.stock for line in plan.buy]:
            yield f"{page.title}: not one row for every stock"
            continue
        for row, line in zip(rows, plan.buy, strict=True):
            yield from (f"{page.title}, {line.stock}: {fault}" for fault in _line(row, line, plan))
        if table.total:
            last = dict(zip((c.title for c in table.columns), table.rows[-1], strict=True))
            if not _weighs(last["Weight"], sum(line.need.pounds for line in plan.buy), plan):
                yield f"{page.title}: {last['Weight']} printed in all"
            if "To pay" in last and not _pays(last["To pay"], _to_pay(plan)):
                yield f"{page.title}: {last['To pay']} printed to pay in all"


def _to_pay(plan: Plan) -> Decimal:
    return sum((line.to_pay for line in plan.buy if line.to_pay is not None), Decimal(0))


def _line(row: dict[str, str], line: BuyLine, plan: Plan) -> Iterator[str]:
    if line.order is not None and "Order" not in row:
        yield "what is ordered is not printed"
    amounts = {"Needed": line.need, "Pull": line.pull, "Buy": line.buy, "Left over": line.left}
    amounts["Order"] = line.order or line.buy
    for title, amount in amounts.items():
        if title in row and not _amount(row[title], amount, plan, down=title == "Left over"):
            yield f"{title.lower()}: {row[title]} printed"
    if not _weighs(row["Weight"], line.need.pounds, plan):
        yield f"{row['Weight']} printed"
    if "To pay" in row and (row["To pay"] in _NONE) != (line.to_pay is None):
        yield f"to pay: {row['To pay']} printed"
    elif line.to_pay is not None and not _pays(row.get("To pay", ""), line.to_pay):
        yield f"to pay: {row.get('To pay')} printed"


def _amount(text: str, amount: Amount | None, plan: Plan, *, down: bool) -> bool:
    """Whether words say this amount: a count, or a length to a tenth that is never short (`down`: never long)."""
    n = 0 if amount is None else amount.count or amount.length or 0
    if text in _NONE or amount is None:
        return text in _NONE and n == 0
    if amount.length is None:
        return read_count(_FIGURE.findall(text)[0]) == n
    tenth = n / (1e8 if plan.job.info.units == "mm" else 30_480_000)
    over = _figure(text) * 10 - tenth
    if not (-1.000001 < over < 1e-6 if down else -1e-6 < over < 1.000001):
        return False
    _, bracket, weight = text.partition("(")
    pounds = amount.pounds * float(POUNDS_TO_KG) if plan.job.info.units == "mm" else amount.pounds
    return not bracket or abs(_figure(weight) - pounds) <= 0.0501


def where(packet: Packet, plan: Plan) -> Iterator[str]:
    """Metal in blanks, on the rack and in the scrap bin: weights, areas and shares."""
    cut = plan.cut_plan
    if cut is None:
        return
    inch = cut.grid / NM_PER_INCH
    sums = {"In blanks": Counter[str](), "Back on the rack": Counter[str](), "All metal taken": Counter[str]()}
    for y in cut.layouts:
        blanks = sum(b.width * b.length if b.outline is None else check_plane.area(b.outline) for b in y.blanks)
        kept = sum(o.width * o.length for o in y.offcuts if o.keep)
        for name, squares in zip(sums, (blanks, kept, y.width * y.length), strict=True):
            sums[name][y.metal] += squares * inch * inch * y.repeat  # type: ignore[assignment]
    area = {name: float(sum(by.values())) for name, by in sums.items()}
    pounds = {name: sum(a * plan.metals[m].weight / 144 for m, a in by.items()) for name, by in sums.items()}
    for found in (area, pounds):
        found["Scrap bin"] = found["All metal taken"] - found["In blanks"] - found["Back on the rack"]
    for page in pages_of(packet, "cover"):
        rows = list(_all_rows(table_of(page, "Where")))
        if sorted(row["Where"] for row in rows) != sorted(area):
            yield "cover: where the metal goes is not told in full"
            continue
        for row in rows:
            name = row["Where"]
            share = 100 * area[name] / (area["All metal taken"] or 1.0)
            right = _weighs(row["Weight"], abs(pounds[name]), plan) and _covers(row["Area"], area[name], plan)
            if not right or abs(_figure(row["Share"]) - share) > 0.0501:
                yield f"cover, {name.lower()}: {row['Weight']}, {row['Area']}, {row['Share']} printed"


def _all_rows(table: Table) -> Iterator[dict[str, str]]:
    titles = [c.title for c in table.columns]
    return (dict(zip(titles, row, strict=True)) for row in table.rows)


def least(packet: Packet, plan: Plan) -> Iterator[str]:
    """What the plan takes in all, and its proven least."""
    cut = plan.cut_plan
    if cut is None:
        return
    square = (cut.grid / NM_PER_INCH) ** 2
    told = {"Metal cost: ": cut.total, "Metal taken: ": cut.total, "Proven least: ": cut.bound}
    told |= {"Metal: ": cut.metal_total, "Work at the shear: ": cut.labour_total, "Together: ": cut.total}
    told |= {"Proven least of metal and work: ": cut.bound, "Proven least of the metal alone: ": cut.metal_bound}
    weight = sum(u.pounds for u in cut.stock) / (sum(u.area for u in cut.stock) or 1)
    plain = ("Metal cost: ", "Metal taken: ", "Proven least: ")
    for page in (*pages_of(packet, "cover"), *pages_of(packet, "buy")):
        for text in (block.text for block in page.blocks if isinstance(block, Para)):
            for start, value in told.items():
                _, found, rest = text.partition(start)
                if not found:
                    continue
                said = rest.split("(")[0].split(". ")[0].removeprefix("worth ").removesuffix(".")
                if start not in plain and cut.objective == "area":
                    if not _weighs(said, float(value) * weight, plan):
                        yield f"{page.title}: {start}{said} printed"
                    continue
                money = start != "Metal taken: " and cut.objective == "money"
                if not (_pays(said, float(value)) if money else _covers(said, float(value) * square, plan)):
                    yield f"{page.title}: {start}{said} printed"


def kits_and_edges(packet: Packet, plan: Plan) -> Iterator[str]:
    """Pieces and weight of every kit; times, length and pieces of every edge."""
    if plan.roof is None:
        return
    pages = pages_of(packet, "roof")
    kits = [row for row in _named(pages, "Kits") if row["Kit"]]
    if [row["Kit"] for row in kits] != [k.label for k in plan.roof.kits]:
        yield "roof: not one row for every kit"
        return
    for row, kit in zip(kits, plan.roof.kits, strict=True):
        if read_count(row["Pieces"]) != kit.pieces or not _weighs(row["Weight"], kit.pounds, plan):
            yield f"roof, kit {kit.label}: {row['Pieces']} pieces, {row['Weight']} printed"
    edges = [row for row in _named(pages, "Edges by length") if row["Edge"]]
    if len(edges) != len(plan.roof.edge_runs):
        yield "roof: not one row for every edge"
        return
    unit, grid = plan.job.info.units, int(plan.job.info.round_to)
    for row, run in zip(edges, plan.roof.edge_runs, strict=True):
        length = read_length(row["Length"].removesuffix(unit), unit)
        right = length == to_grid(from_inches(run.length), grid) * grid
        if not right or (read_count(row["Times"]), read_count(row["Pieces"])) != (run.times, run.pieces * run.times):
            yield f"roof, {run.kind} of {run.where}: {row['Times']} x {row['Length']}, {row['Pieces']} pieces printed"


def _named(pages: Sequence[Page], name: str) -> list[dict[str, str]]:
    found = [block for page in pages for block in flat(page.blocks) if isinstance(block, Table) and block.name == name]
    return [row for table in found for row in rows_of(table)]
