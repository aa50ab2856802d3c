"""What was timed: the work of a part of a saved plan, written in the log; and times fitted from the log into a file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from fabplan.errors import JobError, PlanError
from fabplan.job.model import Job
from fabplan.job.wording import listed
from fabplan.job.write_toml import set_keys
from fabplan.labour import Labour, Spent, span
from fabplan.nesting.cuts.program import shear_program
from fabplan.nesting.minutes import program_work
from fabplan.plan.file import PlanFile, read_plan, saved
from fabplan.plan.hours import batch_work
from fabplan.shop.fit_times import SURE, Fit, FittedTime
from fabplan.shop.times_file import Timed

LOG = "times.db"


def log_path(job: Job, log: Path | None) -> Path:
    """The log: as named, or beside the shop file, or beside the job file."""
    return log if log is not None else Path(job.shop or job.file).parent / LOG


def plan_of(job: Job, path: Path) -> PlanFile:
    """The saved plan of a job.

    Raises
    ------
    JobError
        It is not there, or of another job.
    """
    plan = saved(read_plan(path))
    if plan.job.number != job.info.number:
        raise JobError(
            "the plan is of another job", file=str(path), key="job", value=plan.job.number,
            write=f"the plan.json of job {job.info.number}",
        )  # fmt: skip
    return plan


def layout_work(plan: PlanFile, job: Job, number: int, times: int | None) -> dict[str, float]:
    """Work of one layout cut by itself: its settings too; of some of its repeats only when `times` is given."""
    cut = plan.nesting
    if cut is None or not 1 <= number <= len(cut.layouts):
        there = 0 if cut is None else len(cut.layouts)
        raise JobError(
            "the plan has no such layout", key="--layout", value=str(number),
            write=f"a number from 1 to {there}" if there else "another kind of work: nothing is cut",
        )  # fmt: skip
    layout = cut.layouts[number - 1]
    part = layout.repeat if times is None else times
    if not 1 <= part <= layout.repeat:
        raise JobError(
            f"layout {number} is made {layout.repeat} times", key="--times", value=str(part),
            write=f"a number from 1 to {layout.repeat}",
        )  # fmt: skip
    own = [
        s if s.what == "layout" else Spent(what=s.what, times=s.times, seconds=s.seconds * part / layout.repeat)
        for s in layout.spent
    ]
    shares = {s.what: s.times * part / layout.repeat for s in layout.spent}
    work = {s.what: shares[s.what] if s.what not in ("stroke", "layout") else float(s.times) for s in layout.spent}
    work["stroke"] = _light_strokes(own, job.labour, shares.get("stroke", 0.0))
    for s in program_work(shear_program((layout,)), job.labour):
        work[s.what] = work.get(s.what, 0.0) + s.times
    return work


def cutting_work(plan: PlanFile, job: Job) -> dict[str, float]:
    """Work of all cutting, by the shear program."""
    if plan.nesting is None:
        raise JobError("the plan has nothing cut", key="--cutting", write="--fold or --roof")
    work = {s.what: float(s.times) for s in plan.nesting.spent}
    work["stroke"] = _light_strokes(plan.nesting.spent, job.labour, work.get("stroke", 0.0))
    return work


def fold_work(plan: PlanFile, job: Job, mark: str, pieces: int | None) -> dict[str, float]:
    """Work of folding pieces of one mark, all of them or so many."""
    schedule = next((s for s in plan.bending if s.mark == mark), None)
    if schedule is None:
        known = ", ".join(f'"{s.mark}"' for s in plan.bending[:8])
        raise JobError(
            "no piece of this mark is folded", key="--fold", value=mark, write=known or "another kind of work"
        )
    count = next(p.count for p in plan.blanks if p.mark == mark)
    made = count if pieces is None else pieces
    if not 1 <= made <= count:
        raise JobError(
            f"there are {count} of {mark}", key="--pieces", value=str(made), write=f"a number from 1 to {count}"
        )
    work: dict[str, float] = {}
    for time in schedule.times:
        for s in batch_work(time.each, time.batch, made, job.info.batch):
            work[s.what] = work.get(s.what, 0.0) + _in_units(s, job.labour)
    return work


def roof_work(plan: PlanFile) -> dict[str, float]:
    """Work of laying the whole roof."""
    found = next((h for h in plan.hours if h.station == "roof"), None)
    if found is None:
        raise JobError("the plan has no roof", key="--roof", write="--layout, --cutting or --fold")
    return {s.what: float(s.times) for s in found.spent}


def _light_strokes(spent: Iterable[Spent], labour: Labour, plain: float) -> float:
    """Strokes, a heavy one as the light ones it takes the time of."""
    seconds = sum(s.seconds for s in spent if s.what == "stroke")
    return round(seconds / labour.stroke, 6) if labour.stroke else plain


def _in_units(s: Spent, labour: Labour) -> float:
    """How often, in terms of the key's own time: a long bend or a foot of mallet counts by its length."""
    each = float(getattr(labour, s.what))
    return round(s.seconds / each, 6) if each and s.what in ("brake_stroke", "mallet") else float(s.times)


def written_keys(fit: Fit) -> dict[str, FittedTime]:
    """Times sure enough to be written, by key."""
    return {t.key: t for t in fit.times if t.sure}


def write_times(job: Job, fit: Fit) -> tuple[str, tuple[str, ...]]:
    """Write the sure times under [labour] in the shop file, or the job's when it names none; the file and the keys.

    Raises
    ------
    PlanError
        Nothing is sure enough yet, or the file cannot be written.
    """
    sure = written_keys(fit)
    if not sure:
        raise PlanError(
            "Nothing is sure enough to be written yet.", help_="Time more work, and work of more different kinds."
        )
    values: Mapping[str, str] = {key: rounded(t.seconds) for key, t in sure.items()}
    notes = {key: f"{interval(t)}, {SURE:.0%} sure, {fit.timings} timings" for key, t in sure.items()}
    file = job.shop or job.file
    set_keys(Path(file), "labour", values, comments=notes, shown=file)
    return file, tuple(sure)


def rounded(seconds: float) -> str:
    """A fitted time as it is written: three figures."""
    return span(float(f"{seconds:.3g}"))


def interval(t: FittedTime) -> str:
    """``7.1 to 9.3 s``."""
    return f"{t.low:.3g} to {t.high:.3g} s"


LOG_COLUMNS = ("no", "when (UTC)", "job", "what", "took, min", "as planned, min")
FIT_COLUMNS = ("time", "now", "found", f"lies in ({SURE:.0%})", "")


def planned_seconds(job: Job, work: Mapping[str, float]) -> float:
    """What work takes by the job's present times."""
    return sum(times * float(getattr(job.labour, key)) for key, times in work.items())


def expected_says(job: Job, work: Mapping[str, float]) -> str:
    """``the plan counts 19 min``."""
    return f"the plan counts {planned_seconds(job, work) / 60:.0f} min"


def log_rows(found: Sequence[Timed], job: Job) -> list[tuple[object, ...]]:
    """Timings for a table."""
    return [
        (e.id, e.at, e.job, e.what, f"{e.seconds / 60:.1f}", f"{planned_seconds(job, e.work) / 60:.1f}") for e in found
    ]


def log_data(found: Sequence[Timed]) -> list[dict[str, object]]:
    """Timings as data."""
    return [
        {"number": e.id, "at": e.at, "job": e.job, "what": e.what, "seconds": e.seconds, "work": dict(e.work)}
        for e in found
    ]


def fit_rows(fit: Fit, job: Job) -> list[tuple[object, ...]]:
    """Fitted times for a table."""
    return [
        (
            t.key,
            span(float(getattr(job.labour, t.key))) + (" assumed" if t.key in job.labour.assumed else ""),
            rounded(t.seconds) if math.isfinite(t.high) else "",
            interval(t) if math.isfinite(t.high) else "anything",
            "" if t.sure else "not sure enough yet",
        )
        for t in fit.times
    ]


def fit_notes(fit: Fit) -> list[str]:
    """What cannot be told apart, and what would help."""
    notes = [
        f"{listed(group, 'and')} cannot be told apart yet: they always come together. Time work that has more of one "
        "and less of the other."
        for group in fit.together
    ]
    vague = [t.key for t in fit.times if not t.sure]
    if vague:
        notes.append(f"Time more work that has {listed(vague, 'or')} in it.")
    return notes


def fit_data(fit: Fit) -> dict[str, object]:
    """A fit as data; an interval without end is null."""
    return {
        "timings": fit.timings,
        "times": [
            {
                "key": t.key,
                "seconds": round(t.seconds, 3),
                "low": round(t.low, 3),
                "high": round(t.high, 3) if math.isfinite(t.high) else None,
                "sure": t.sure,
            }
            for t in fit.times
        ],
        "not_told_apart": [list(group) for group in fit.together],
    }
