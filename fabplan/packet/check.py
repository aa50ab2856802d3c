"""Reads the printed words back and holds every number against the plan, before anything is written.

Imports only models and units: no page builder. What is read is what will stand on the paper.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from fabplan.nesting.model import Cut, Layout
from fabplan.packet.check_read import (
    UnreadableError,
    pages_of,
    read_count,
    read_length,
    read_numbers,
    read_size,
    rows_of,
    table_of,
)
from fabplan.packet.check_totals import buying, kits_and_edges, least, made, where
from fabplan.packet.model import Band, Notice, Packet, Page, Para, Shots, TallyBoxes, flat
from fabplan.plan.model import Plan
from fabplan.units import from_inches, to_grid


def check_packet(packet: Packet, plan: Plan) -> list[str]:
    """Faults of a packet: printed counts, sizes, settings, steps and batches that are not the plan's.

    Parameters
    ----------
    packet : Packet
    plan : Plan
        Checked results.

    Returns
    -------
    list of str
        Empty when every number stands as planned.
    """
    faults: list[str] = []
    for check in (
        _cut_list,
        _layouts,
        _boxed,
        _bends,
        _setups,
        _banner,
        made,
        buying,
        where,
        least,
        kits_and_edges,
    ):
        try:
            faults += check(packet, plan)
        except (UnreadableError, ValueError, KeyError, IndexError) as error:
            faults.append(f"{check.__name__.strip('_')}: cannot be read back ({error})")
    return faults


# the checks -------------------------------------------------------------------------------------------------------


def _cut_list(packet: Packet, plan: Plan) -> Iterator[str]:
    (page,) = pages_of(packet, "cut-list")
    unit = plan.job.info.units
    rows = list(rows_of(table_of(page, "Mark")))
    if [row["Mark"] for row in rows] != [p.mark for p in plan.patterns]:
        yield "cut list: not one row for every mark"
        return
    for row, p in zip(rows, plan.patterns, strict=True):
        if read_count(row["Make"]) != p.count:
            yield f"cut list, {p.mark}: {row['Make']} printed, {p.count} planned"
        planned = (p.width_units * p.grid, p.length_units * p.grid)
        if read_size(row["Sheared size"], unit) != planned:
            yield f"cut list, {p.mark}: size {row['Sheared size']} is not the blank's"


def _layouts(packet: Packet, plan: Plan) -> Iterator[str]:
    layouts = plan.cut_plan.layouts if plan.cut_plan else ()
    pages = pages_of(packet, "shear")
    if len(pages) != len(layouts):
        yield f"{len(pages)} layout pages for {len(layouts)} layouts"
        return
    for page, layout in zip(pages, layouts, strict=True):
        yield from _layout(page, layout, plan)


def _layout(page: Page, layout: Layout, plan: Plan) -> Iterator[str]:
    grid = plan.cut_plan.grid if plan.cut_plan else 1
    unit = plan.job.info.units
    head = next((block.text for block in page.blocks if isinstance(block, Para)), "")
    each = Counter(blank.mark for blank in layout.blanks)
    if not head.startswith(f"Make {layout.repeat:,} of this layout.") or any(
        f"{n} × {mark}" not in head for mark, n in each.items()
    ):
        yield f"{page.title}: {head!r} is not how often and what"
    cuts = {cut.step: cut for cut in layout.cuts}
    made: list[int] = []
    pictures = [shot for block in flat(page.blocks) if isinstance(block, Shots) for shot in block.shots]
    pictured = [step for shot in pictures for step in read_numbers(shot.title)]
    for row in rows_of(table_of(page, "Cut")):
        steps = read_numbers(row["Cut"])
        if not row["Gauge"]:
            if not set(steps) <= set(pictured):
                yield f"{page.title}, cuts {row['Cut']}: neither a setting nor a picture"
            continue
        made += steps
        for step in steps:
            if step in cuts and not _as_planned(row, cuts[step], grid, unit, layout.length * grid):
                yield f"{page.title}, cut {step}: setting {row['Gauge']} is not the plan's"
    for shot in pictures:
        for step in read_numbers(shot.title):
            if step in cuts and not _pictured(shot.sets, cuts[step], grid, unit):
                yield f"{page.title}, cut {step}: setting {shot.sets} is not the plan's"
    if sorted(made + pictured) != sorted(cuts):
        yield f"{page.title}: its table and pictures do not tell every cut once"
    boxes = next((block.count for block in page.blocks if isinstance(block, TallyBoxes)), 1)
    if boxes not in (layout.repeat, -(-layout.repeat // 10)):
        yield f"{page.title}: {boxes} boxes for {layout.repeat} made"


def _as_planned(row: dict[str, str], cut: Cut, grid: int, unit: str, length: int) -> bool:
    if cut.back_gauge is None:
        return row["Put in"].startswith("off the coil") and read_length(row["Gauge"], unit) == length
    return read_length(row["Gauge"], unit) == cut.back_gauge * grid and abs(cut.angle - 90) <= 0.06


def _pictured(sets: str, cut: Cut, grid: int, unit: str) -> bool:
    """``scribed points``, ``7 1⁄8   135° left``, ``7 1⁄8 and scribed points``."""
    if cut.back_gauge is None:
        return sets == "scribed points"
    gauge, _, stop = sets.removesuffix(" and scribed points").partition("   ")
    degrees = float(stop.partition("°")[0]) if stop else cut.angle
    return read_length(gauge, unit) == cut.back_gauge * grid and abs(degrees - cut.angle) <= 0.06


def _boxed(packet: Packet, plan: Plan) -> Iterator[str]:
    """Every blank that leaves the shear as its box has the corners of its outline on its own page."""
    layouts = plan.cut_plan.layouts if plan.cut_plan else ()
    marks = {b.mark for y in layouts for b in y.blanks if b.boxed}
    for p in plan.patterns:
        if p.mark not in marks:
            continue
        pages = [page for page in pages_of(packet, "piece") if page.title.startswith(f"{p.mark}: ")]
        if len(pages) != 1:
            yield f"blank {p.mark}: nothing tells that its sides are snipped"
            continue
        unit = plan.job.info.units
        rows = list(rows_of(table_of(pages[0], "Corner of edges")))
        printed = [tuple(read_length(row[k], unit) for k in ("From the left", "From the lower edge")) for row in rows]
        if printed != [tuple(to_grid(from_inches(at), p.grid) * p.grid for at in corner) for corner in p.outline]:
            yield f"blank {p.mark}: the corners to scribe are not those of its outline"


def _bends(packet: Packet, plan: Plan) -> Iterator[str]:
    own = {f"piece-{n}": p.mark for n, p in enumerate(plan.patterns, 1)}
    found = {
        own.get(page.key, ""): page
        for page in pages_of(packet, "piece")
        if any(isinstance(b, Band) for b in flat(page.blocks))
    }
    if sorted(found) != sorted(schedule.mark for schedule in plan.schedules):
        yield f"strokes are printed of {sorted(found)}, planned of {sorted(s.mark for s in plan.schedules)}"
        return
    pages = [found[schedule.mark] for schedule in plan.schedules]
    unit, grid = plan.job.info.units, int(plan.job.info.round_to)
    for page, schedule in zip(pages, plan.schedules, strict=True):
        bands = [block for block in flat(page.blocks) if isinstance(block, Band)]
        if [int(band.number) for band in bands] != [step.step for step in schedule.steps]:
            yield f"{page.title}: not one band for every step"
            continue
        for band, step in zip(bands, schedule.steps, strict=True):
            where = f"{page.title}, step {step.step}"
            if band.side != f"{step.side_up} up".upper() or band.reversed_ != (step.side_up == "back"):
                yield f"{where}: {band.side} printed"
            planned = to_grid(from_inches(step.check.size), grid) * grid
            if read_length(band.check_size, unit) != planned:
                yield f"{where}: check size {band.check_size} is not the plan's"
            if step.far is not None:
                ends = [to_grid(from_inches(size), grid) * grid for size in (step.far.size, step.far.stop)]
                here = [to_grid(from_inches(size), grid) * grid for size in (step.check.size, step.stop)]
                told = re.search(r", ([^,]+) at end B", band.check_says)
                stops = [read_length(value, unit) for name, value in band.settings if name == "end B"]
                gauged = step.action not in {"close", "by hand"}
                size = read_length(told[1], unit) if told else here[0]
                if size != ends[0] or stops != ([ends[1]] if gauged and ends[1] != here[1] else []):
                    yield f"{where}: the sizes at end B are not the plan's"
        waiting = plan.job.done.unfolded.get(schedule.mark, 0)
        yield from _batches(page, bands, plan.pattern(schedule.mark).count + waiting)


def _setups(packet: Packet, plan: Plan) -> Iterator[str]:
    """Every stroke stands once on the set-up sheet, at its own tool, stop and angle, in its piece's order."""
    pages = pages_of(packet, "setup")
    if len(pages) != (len(plan.schedules) > 1):
        yield f"{len(pages)} set-up sheets"
    unit, grid = plan.job.info.units, int(plan.job.info.round_to)
    steps = {(s.mark, step.step): step for s in plan.schedules for step in s.steps}
    marks = "|".join(re.escape(s.mark) for s in sorted(plan.schedules, key=lambda s: -len(s.mark)))
    done: list[tuple[str, int]] = []
    for row in rows_of(table_of(pages[0], "Set-up")) if pages else ():
        for mark, numbers in re.findall(rf"(?:^|; )({marks}): ([\d–, ]+)(?=; |$)", row["Strokes: piece, steps"]):
            for key in ((mark, n) for n in read_numbers(numbers)):
                done.append(key)
                step = steps[key]
                gauged = step.action not in {"close", "by hand"}
                stop = to_grid(from_inches(step.stop), grid) * grid if gauged else None
                near, _, other = row["Stop or depth"].partition(" to ")
                printed = None if near == "–" else read_length(near, unit)
                far = to_grid(from_inches(step.far.stop), grid) * grid if gauged and step.far is not None else None
                if (read_length(other, unit) if other else None) != (far if far != stop else None):
                    yield f"set-up sheet, {mark} step {step.step}: not its own stop at end B"
                shut = row["Set"] == "closed" and stop is None
                angle = abs((180.0 if shut else float(row["Set"].rstrip("°"))) - step.set_deg)
                if row["Tool"] != step.tool or printed != stop or angle > 0.06:
                    yield f"set-up sheet, {mark} step {step.step}: not its own tool, stop or angle"
    if pages and (sorted(done) != sorted(steps) or any(a[0] == b[0] and a[1] > b[1] for a, b in combinations(done, 2))):
        yield "set-up sheet: not every stroke once in its piece's order"


def _batches(page: Page, bands: list[Band], count: int) -> Iterator[str]:
    """Every piece stands in one batch of every step."""
    lists = [list(band.ticks.labels) for band in bands]
    for labels in lists:
        pieces = [n for label in labels for n in read_numbers(label.replace(",", ""))]
        if sorted(pieces) != list(range(1, count + 1)):
            yield f"{page.title}: the batches do not hold pieces 1 to {count}"
            return


def _banner(packet: Packet, plan: Plan) -> Iterator[str]:
    """SHORT heads every page; what is missing stands there, or on the cover when there is too much of it."""
    short = plan.cut_plan.short if plan.cut_plan else ()
    if short and not packet.banner.startswith("SHORT"):
        yield "the head of the pages does not say that the plan is short"
    if (plan.unbent or plan.uncut) and "NOT PLANNED" not in packet.banner:
        yield "the head of the pages does not say that pieces are not planned"
    for uncut in plan.uncut:
        if f"of {uncut.mark} cannot be cut" not in str(pages_of(packet, "cover")[0].blocks):
            yield f"the cover does not say that {uncut.mark} cannot be cut"
    for unbent in plan.unbent:
        pages = [page for page in pages_of(packet, "unbent") if page.title.startswith(f"Fold {unbent.mark}:")]
        if len(pages) != 1:
            yield f"{len(pages)} pages say why {unbent.mark} cannot be folded"
        if f"of {unbent.mark} cannot be folded" not in str(pages_of(packet, "cover")[0].blocks):
            yield f"the cover does not say that {unbent.mark} cannot be folded"
    told = [packet.banner]
    if "see the cover" in packet.banner:
        blocks = [block for page in pages_of(packet, "cover") for block in page.blocks]
        told += [item for block in blocks if isinstance(block, Notice) for item in block.items]
    for mark, n in short:
        if not any(f"{n:,} of {mark}" in words for words in told):
            yield f"the pages do not say that {n} of {mark} are missing"
