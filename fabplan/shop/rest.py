"""What is left of a job once some of it is cut: counts, metal that is left, and a job file of the rest.

A blank is good for the job as it is now when it is the same metal, size and outline; a finished piece when its folds
are the same too. What no longer fits is told and made again. The rest is a job file of its own, so that it is checked,
planned, proved and booked like any other.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit

from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError, PlanError
from fabplan.job.model import CutPiece, Job, RackStock
from fabplan.packet.output.folder import write_file
from fabplan.plan.changes import same_blank, same_folds
from fabplan.plan.codec import read_as, written
from fabplan.plan.file import scale_of
from fabplan.plan.make import Pieces
from fabplan.shop.record import Done
from fabplan.units import NM_PER_INCH, NM_PER_MM, Show


@dataclass(frozen=True, slots=True, kw_only=True)
class RestMark:
    """One mark: pieces needed now, blanks and pieces that are there and fit, those that no longer fit, still to cut."""

    mark: str
    needed: int
    good: int
    misfit: int
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RestOffcut:
    """Offcuts alike kept from what is cut; nanometres."""

    stock: str
    metal: str
    width: int
    length: int
    grain: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """What is left: every mark, the job's own offcuts, and how much of each stock line is used up.

    `used` is nanometres of a coil, or a count. `too_many` are marks of which more is there than needed.
    """

    marks: tuple[RestMark, ...]
    offcuts: tuple[RestOffcut, ...]
    used: tuple[tuple[str, int], ...]

    @property
    def left(self) -> int:
        """Pieces still to cut."""
        return sum(m.left for m in self.marks)


def rest(job: Job, pieces: Pieces, done: Sequence[Done]) -> Rest:
    """What is left of a job.

    Raises
    ------
    JobError
        The record is of another job, or on another graduation.
    """
    good: Counter[str] = Counter()
    misfit: Counter[str] = Counter()
    offcuts: Counter[tuple[str, str, int, int, str]] = Counter()
    used: Counter[str] = Counter()
    scale = scale_of(job)
    # As a saved plan says them, to six decimals: so are those they are held against.
    now = {p.mark: read_as(FlatPattern, written(p, scale), scale) for p in pieces.patterns}
    for each in done:
        plan = each.plan
        if plan.job.number != job.info.number or plan.units != job.info.units:
            raise JobError(
                "the record is of another job", key="job > number", value=plan.job.number, write="this job's record"
            )
        was = {p.mark: p for p in plan.blanks}
        for mark, t in each.marks.items():
            blank = mark in now and same_blank(was[mark], now[mark])
            whole = blank and same_folds(was[mark], now[mark])
            fits = (t.cut - t.spoiled - t.made if blank else 0) + (t.made if whole else 0)
            good[mark] += fits
            misfit[mark] += t.good - fits
        if plan.nesting is None:
            continue
        uses = {u.name: u for u in plan.nesting.stock}
        grid = plan.nesting.grid
        for number, times in each.layouts.items():
            lay = plan.nesting.layouts[number - 1]
            used[lay.stock] += times * (lay.length * grid if lay.form == "coil" else 1)
            for o in lay.offcuts:
                if o.keep:
                    key = (lay.stock, lay.metal, o.width * grid, o.length * grid, uses[lay.stock].grain)
                    offcuts[key] += times
    marks = [
        RestMark(
            mark=p.mark, needed=p.count, good=good[p.mark], misfit=misfit[p.mark], left=max(0, p.count - good[p.mark])
        )
        for p in pieces.patterns
    ]
    marks += [
        RestMark(mark=m, needed=0, good=0, misfit=n, left=0) for m, n in sorted(misfit.items()) if m not in now and n
    ]
    return Rest(
        marks=tuple(marks),
        offcuts=tuple(
            RestOffcut(stock=s, metal=m, width=w, length=h, grain=g, count=n)
            for (s, m, w, h, g), n in sorted(offcuts.items())
        ),
        used=tuple(sorted(used.items())),
    )


def rest_lines(found: Rest) -> list[str]:
    """The rest in words: ``A: 276 there, 282 needed, 6 more``."""
    out = []
    for m in found.marks:
        if m.needed:
            more = f"{m.left} more" if m.left else "none to cut" if m.good == m.needed else f"{m.good - m.needed} spare"
            out.append(f"{m.mark}: {m.good} there, {m.needed} needed, {more}")
        if m.misfit:
            out.append(f"{m.mark}: {m.misfit} that {'is' if m.misfit == 1 else 'are'} cut no longer fit")
    return out


def rest_text(source: str, job: Job, pieces: Pieces, found: Rest) -> str:
    """The job file of the rest, from the text of the job file: its comments stay, the slopes give way to counts.

    Raises
    ------
    PlanError
        Nothing is left.
    """
    if not found.left:
        raise PlanError("Nothing is left to cut.", help_="No job file was written.")
    doc: Any = tomlkit.parse(source)
    doc["job"]["number"] = f"{job.info.number}-rest"
    doc["job"].pop("spare", None)
    doc["job"].add("spare", "0 %")
    doc.pop("slope", None)
    left = _counts(job, pieces, found)
    kept = tomlkit.aot()
    for piece in doc.get("piece", []):
        count = left.get(str(piece["mark"]).strip(), 0)
        if count:
            piece["count"] = count
            kept.append(piece)
    doc["piece"] = kept
    _stock(doc, job, found)
    return tomlkit.dumps(doc)


def _counts(job: Job, pieces: Pieces, found: Rest) -> dict[str, int]:
    left = Counter({m.mark: m.left for m in found.marks if m.left})
    if pieces.roof is not None:
        for part in pieces.roof.part_sizes:  # blanks smaller than the diamond: a whole one each
            left[part.diamond] += left.pop(part.mark, 0)
    for piece in job.pieces:
        if isinstance(piece, CutPiece) and left[piece.mark] and not left[piece.for_]:
            left[piece.for_] = 1  # a part is drawn from its diamond, which must be in the file
    return dict(left)


def _stock(doc: Any, job: Job, found: Rest) -> None:
    """What is used up is taken off what was on hand; the job's own offcuts come first, and are paid for."""
    if "stock" not in doc:
        doc["stock"] = tomlkit.aot()
    own = {str(line["name"]).strip().casefold(): line for line in doc["stock"]}
    used = dict(found.used)
    for line in job.stock:
        taken = used.get(line.name, 0)
        hand = line.on_hand
        if not taken or isinstance(line, RackStock) or (hand is None and line.form != "offcut"):
            continue
        table = own.get(line.name.casefold())
        if table is None:
            table = tomlkit.table()
            table["name"] = line.name
            table["form"] = line.form
            doc["stock"].append(table)
        if line.form == "coil":
            _coil(table, line.name, hand, taken, job)
        else:
            count = (hand.count if hand is not None and hand.count is not None else 1) - taken
            table["on_hand"] = max(0, count)
    show = Show(job.info.units, 1)
    for number, o in enumerate(found.offcuts, 1):
        table = tomlkit.table()
        table["name"] = f"left {number} of {o.stock}"[:60]
        table["form"] = "offcut"
        table["width"], table["length"] = show.exact(o.width), show.exact(o.length)
        table["on_hand"] = o.count
        table["grain"] = o.grain
        if o.metal != job.metal.use:
            table["metal"] = o.metal
        doc["stock"].append(table)


def _coil(table: Any, name: str, hand: Any, taken: int, job: Job) -> None:
    if hand.length is None:
        raise PlanError(
            f"{name}: what is on hand is given by weight, so what is left of it is not known.",
            help_="Weigh it, write on_hand anew in the job file, and try again.",
        )
    nm = max(0, int(hand.length) - taken)
    unit, text = (NM_PER_MM, "mm") if job.info.units == "mm" else (NM_PER_INCH, "in")
    table["on_hand"] = f"{nm / unit:.3f}".rstrip("0").rstrip(".") + f" {text}"


def write_rest(job_file: Path, out: Path, text: str) -> Path:
    """Write the job file of the rest beside the job, so that the files it names are found.

    Raises
    ------
    JobError
        It would stand elsewhere, or take the place of the job file.
    """
    if out.resolve() == job_file.resolve():
        raise JobError("this is the job file itself", file=str(out), key="--out", write="another name")
    if out.resolve().parent != job_file.resolve().parent:
        raise JobError(
            "the rest stands beside its job, so that the files it names are found", file=str(out), key="--out",
            write="a name in the job's folder",
        )  # fmt: skip
    return write_file(out, text.encode("utf-8"))
