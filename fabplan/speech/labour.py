"""Words for the time work takes: how long, what of, what was assumed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from fabplan.bending.model import BendSchedule
from fabplan.job.kinds.rake_cover import RakeCoverPiece
from fabplan.job.model import Job, SectionPiece
from fabplan.job.summary import hour_said
from fabplan.labour import Spent, spans
from fabplan.nesting.model import CutPlan, Layout
from fabplan.plan.hours import batch_work
from fabplan.plan.model import StationTime
from fabplan.units import Show

WORK: Final = {
    "stroke": ("cut", "cuts"),
    "scribe": ("scribed cut", "scribed cuts"),
    "pull": ("pull", "pulls"),
    "sheet": ("sheet fetched", "sheets fetched"),
    "offcut": ("offcut fetched", "offcuts fetched"),
    "layout": ("layout begun", "layouts begun"),
    "set_gauge": ("gauge setting", "gauge settings"),
    "set_stop": ("angle-stop setting", "angle-stop settings"),
    "stack": ("pile beyond six", "piles beyond six"),
    "snip": ("snip", "snips"),
    "bite": ("bite", "bites"),
    "bar_fold": ("fold in the bar", "folds in the bar"),
    "mallet": ("fold with the mallet", "folds with the mallet"),
    "turn_over": ("turn-over", "turn-overs"),
    "quarter_turn": ("turn to another edge", "turns to another edge"),
    "set_bench": ("setting", "settings"),
    "check_fold": ("check", "checks"),
    "brake_stroke": ("stroke", "strokes"),
    "lay": ("piece or length laid", "pieces and lengths laid"),
    "lay_cut": ("piece trimmed and laid", "pieces trimmed and laid"),
    "snap_line": ("line snapped", "lines snapped"),
}
STATION: Final = {"shear": "Shear", "bench": "Bench", "brake": "Brake", "roof": "Roof"}
BEGAN_ENDED: Final = "Began ________   Ended ________"


def time_words(seconds: float) -> str:
    """A time as one says it: ``40 s``, ``22 min``, ``4.3 h``."""
    if seconds < 59.5:
        return f"{round(seconds)} s"
    if seconds < 59.5 * 60:
        return f"{round(seconds / 60)} min"
    return f"{seconds / 3600:,.1f} h"


def work_words(spent: Iterable[Spent]) -> str:
    """What the work is, what takes longest first: ``1,361 cuts, 57 scribed cuts``."""
    ordered = sorted(spent, key=lambda s: -s.seconds)
    return ", ".join(f"{s.times:,} {WORK[s.what][s.times != 1]}" for s in ordered)


def hours_rows(hours: Iterable[StationTime]) -> list[tuple[str, str, str]]:
    """Station, time, what of; the sum last when there are several."""
    found = list(hours)
    rows = [(STATION[h.station], time_words(h.seconds), work_words(h.spent)) for h in found]
    if len(found) > 1:
        rows.append(("All", time_words(sum(h.seconds for h in found)), ""))
    return rows


def layout_words(layout: Layout) -> str:
    """How long all repeats of a layout take: ``About 22 min besides the settings.``"""
    seconds = sum(s.seconds for s in layout.spent)
    return f"About {time_words(seconds)} besides the settings."


def fold_words(schedule: BendSchedule, pieces: int, batch: int) -> str:
    """``About 31 min a batch of 25, 50 min for all 40.``; empty without times."""

    def takes(n: int) -> str:
        return time_words(
            sum(s.seconds for t in schedule.times for s in batch_work(t.each, t.batch, n, batch)),
        )

    if not schedule.times:
        return ""
    if pieces <= batch:
        return f"About {takes(pieces)} for {'the piece' if pieces == 1 else f'all {pieces:,}'}."
    return f"About {takes(batch)} a batch of {batch:,}, {takes(pieces)} for all {pieces:,}."


def limits_words(job: Job, plan: CutPlan | None = None) -> str:
    """Limits at the shear that no file types, and what they were before; empty when all are typed.

    With a `plan`, only those it comes up against: a cut gauged, held or trimmed, or a length pulled, at the limit.
    """
    if not job.stock:
        return ""
    show = Show(job.info.units, job.info.round_to)
    metric = job.info.units == "mm"
    was = {
        "least_held": f"{'25 mm' if metric else '1 in'} before", "least_gauge": "new", "width_tolerance": "new",
        "least_pull": "new",
    }  # fmt: skip
    if metric:
        was |= {"longest_cut": "1320.8 mm before", "back_gauge_reach": "1219.2 mm before"}
    met = set(was) if plan is None else _limits_met(job, plan)
    said = [
        f"{key} {show.exact(getattr(job.shear, key))} ({old})"
        for key, old in was.items()
        if key in met and f"shear > {key}" in job.assumed
    ]
    out = [f"Limits assumed under [shear]; type your own: {', '.join(said)}."] if said else []
    bend = job.brake.longest_bend
    longest = max((p.length for p in job.pieces if isinstance(p, SectionPiece | RakeCoverPiece)), default=0)
    if metric and "longest_bend" in job.brake.assumed and (plan is None or longest >= bend):
        out.append(f"Assumed under [brake]: longest_bend {show.exact(bend)} (3048 mm before).")
    return " ".join(out)


def _limits_met(job: Job, plan: CutPlan) -> set[str]:
    """Keys of [shear] whose limit some cut or pull of the plan reaches, to a graduation."""
    shear, step = job.shear, plan.grid
    met = set()
    for layout in plan.layouts:
        if layout.form == "coil" and layout.length * step <= shear.least_pull + step:
            met.add("least_pull")
        for cut in layout.cuts:
            long = math.dist(cut.start, cut.end) * step
            gauge = None if cut.back_gauge is None else cut.back_gauge * step
            if long >= shear.longest_cut - step:
                met.add("longest_cut")
            if gauge is not None and gauge >= shear.back_gauge_reach - step:
                met.add("back_gauge_reach")
            if gauge is not None and gauge <= shear.least_gauge + step:
                met.add("least_gauge")
            if cut.on is not None and cut.held * step <= shear.least_held + step:
                met.add("least_held")
            if (
                gauge is None
                and not cut.falls.blanks
                and _thin(cut.falls.outline) * step <= (shear.width_tolerance + step)
            ):
                met.add("width_tolerance")
    return met


def _thin(outline: Sequence[tuple[float, float]]) -> float:
    """How wide a part is, box across its narrow way."""
    return min(max(p[k] for p in outline) - min(p[k] for p in outline) for k in (0, 1))


def assumed_words(job: Job, used: Iterable[str]) -> str:
    """What was assumed of the times behind the plan, and how to do without; empty when nothing was.

    `used` are the keys of the work the plan has.
    """
    labour = job.labour
    keys = set(used)
    times = spans(labour, [key for key in labour.assumed if key in keys])
    rate = hour_said(job) if "rate" in labour.assumed else ""
    said = "; ".join(part for part in (rate, times) if part)
    if not said:
        return ""
    tail = " rate = 0 under [labour] gives the least metal." if rate else ""
    return f"Times assumed, because no file says them (common practice, no source): {said}.{tail}"
