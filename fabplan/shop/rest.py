"""What is left of a job once some of it is cut: counts, metal that is left, and a job file of the rest.

A blank is good for the job as it is now when it is the same metal, size and outline; a finished piece when its folds
are the same too. What no longer fits is told and made again. Courses that are laid stay where they are, however their
slope is measured now: what lies on the roof is as many pieces as the plan it was laid by laid there, and of the job as
it is now the courses above are left. The rest is a job file of its own, so that it is checked, planned, proved and
booked like any other.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import Any

import tomlkit

from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError, PlanError, ProofError, visible
from fabplan.job.model import Done, Job, Laid, RackStock
from fabplan.nesting.model import Offcut
from fabplan.packet.output.folder import write_file
from fabplan.plan.changes import same_blank, same_folds
from fabplan.plan.codec import read_as, written
from fabplan.plan.file import scale_of
from fabplan.plan.make import Pieces, make_pieces
from fabplan.shop.on_roof import copies, held, laid_blanks, laid_by_plan, slope_of
from fabplan.shop.record import DoneByPlan
from fabplan.shop.record import done as done_in
from fabplan.units import NM_PER_INCH, NM_PER_MM, Show, to_grid


@dataclass(frozen=True, slots=True, kw_only=True)
class RestMark:
    """One mark.

    Attributes
    ----------
    mark : str
    needed : int
        Pieces the job takes now, less what was there before it was planned; laid courses take what lies there.
    good : int
        Blanks and pieces cut that fit, those on the roof too.
    unfolded : int
        Of them those that lie cut; 0 where nobody wrote down what is made.
    on_roof : int
        Of them those that are laid.
    misfit : int
        Blanks and pieces cut that no longer fit.
    left : int
        Still to cut.
    """

    mark: str
    needed: int
    good: int
    unfolded: int = 0
    on_roof: int = 0
    misfit: int
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RestOffcut:
    """Offcuts alike kept from what is cut, with the numbers chalked on them; nanometres."""

    stock: str
    metal: str
    width: int
    length: int
    grain: str
    count: int
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """What is left: every mark, the job's own offcuts, how much of each stock line is used up, what the job file of the
    rest says is there, and the lines of slopes laid in part.

    `used` is nanometres of a coil, or a count; `pounds` what that weighs.
    """

    marks: tuple[RestMark, ...]
    offcuts: tuple[RestOffcut, ...]
    used: tuple[tuple[str, int], ...]
    pounds: tuple[tuple[str, float], ...]
    there: Done
    laid: tuple[Laid, ...]

    @property
    def left(self) -> int:
        """Pieces still to cut."""
        return sum(m.left for m in self.marks)


def rest(job: Job, done: Sequence[DoneByPlan], *, sheets: int = 0, racked: Collection[str] = ()) -> Rest:
    """What is left of a job.

    Parameters
    ----------
    job : Job
    done : sequence of DoneByPlan
        Its record, plan by plan.
    sheets : int
        Sheets of paper its packet has.
    racked : collection of str
        Plans, by their digest, whose offcuts are booked on a rack: they are taken from there.

    Raises
    ------
    JobError
        The record is of another job, or on another graduation.
    PlanError
        More lies on the roof than was cut.
    """
    for each in done:
        if each.plan.job.number != job.info.number or each.plan.units != job.info.units:
            raise JobError(
                "the record is of another job",
                key="job > number",
                value=each.plan.job.number,
                write="this job's record",
            )
    lines = {h.slope: h for h in job.laid}
    for each in done:
        lines.update({name: held(slope_of(each.plan, name), name, k) for name, k in each.laid.items()})
    roofs = [each.plan.roof for each in done if each.plan.roof is not None]
    part_blanks = any(r.part_sizes for r in roofs) if roofs else job.done.part_blanks
    before = job.done
    job = job.model_copy(
        update={
            "laid": tuple(lines.values()),
            "done": before.model_copy(update={"part_blanks": part_blanks, "unfolded": {}}),
        }
    )
    pieces = make_pieces(job)
    patterns = _as_saved(job, pieces)
    names = _names(patterns, done)
    good, unfolded, misfit = _fitting(patterns, done, names)
    on_roof = [_on_roof(each, job) for each in done]
    _refuse_more_laid(on_roof, done, before)
    lies: dict[str, Fraction] = {}
    for each, what in zip(done, on_roof, strict=True):
        for mark, n in what.items():
            now_called = names[each.digest].get(mark)
            if now_called is None:  # laid, and so no matter that no other of its kind fits
                misfit[mark] -= ceil(n)
            else:
                _add(lies, {now_called: n})
    ahead = _laid_now(pieces, done)
    # So many more the laid courses would take now than lie there: they are not cut.
    spared = {m: floor(ahead.get(m, Fraction(0)) - lies.get(m, Fraction(0))) for m in {*ahead, *lies}}
    there = Counter(before.pieces)
    there.update(good)
    there.update(spared)
    marks = []
    for p in pieces.patterns:
        needed = p.count - spared.get(p.mark, 0)
        laid = ceil(lies.get(p.mark, Fraction(0)))
        left = max(0, needed - good[p.mark])
        waiting = min(unfolded[p.mark], max(0, good[p.mark] - laid)) if p.folds else 0
        marks.append(
            RestMark(
                mark=p.mark, needed=needed, good=good[p.mark], unfolded=waiting, on_roof=laid,
                misfit=misfit[p.mark], left=left,
            )
        )  # fmt: skip
    now = {p.mark for p in pieces.patterns}
    marks += [
        RestMark(mark=m, needed=0, good=0, misfit=n, left=0) for m, n in sorted(misfit.items()) if m not in now and n
    ]
    offcuts, used, pounds = _metal(job, done, racked)
    return Rest(
        marks=tuple(marks),
        offcuts=offcuts,
        used=used,
        pounds=pounds,
        there=Done(
            pieces={p.mark: there[p.mark] for p in pieces.patterns if there[p.mark] > 0},
            unfolded={m.mark: m.unfolded for m in marks if m.unfolded},
            part_blanks=part_blanks,
            layouts=before.layouts + max((len(d.plan.nesting.layouts) for d in done if d.plan.nesting), default=0),
            sheets=before.sheets + sheets,
            offcuts=max((before.offcuts, *(o.number or 0 for d in done for o in _kept(d)))),
        ),
        laid=job.laid,
    )


Names = dict[str, dict[str, str | None]]


def _as_saved(job: Job, pieces: Pieces) -> dict[str, FlatPattern]:
    """Patterns by mark as a saved plan says them, to six decimals: so are those they are held against."""
    scale = scale_of(job)
    return {p.mark: read_as(FlatPattern, written(p, scale), scale) for p in pieces.patterns}


def _names(now: dict[str, FlatPattern], done: Sequence[DoneByPlan]) -> Names:
    """Of every plan, what each of its blanks can be used for now: a mark, or None."""
    return {each.digest: {p.mark: _same(p, now) for p in each.plan.blanks} for each in done}


def _fitting(
    now: dict[str, FlatPattern], done: Sequence[DoneByPlan], names: Names
) -> tuple[Counter[str], Counter[str], Counter[str]]:
    """Blanks and pieces by mark: those that fit, those of them not yet folded, and those that no longer fit."""
    good, unfolded, misfit = Counter[str](), Counter[str](), Counter[str]()
    for each in done:
        was = {p.mark: p for p in each.plan.blanks}
        for mark, t in each.marks.items():
            name = names[each.digest][mark]
            whole = name is not None and same_folds(was[mark], now[name])
            cut = t.cut - t.spoiled - t.made if name is not None else 0
            fits = cut + (t.made if whole else 0)
            if name is not None:
                good[name] += fits
                unfolded[name] += cut if t.made else 0
            misfit[mark] += t.good - fits
    return good, unfolded, misfit


def _same(was: FlatPattern, now: dict[str, FlatPattern]) -> str | None:
    """The mark a blank can be used for now: its own, or of a part blank that of another of the same outline."""
    if was.mark in now and same_blank(was, now[was.mark]):
        return was.mark
    if was.kind == "part":
        return next((m for m, p in now.items() if p.kind == "part" and same_blank(was, p)), None)
    return None


def _add(to: dict[str, Fraction], more: dict[str, Fraction]) -> None:
    for mark, n in more.items():
        to[mark] = to.get(mark, Fraction(0)) + n


def _laid_now(pieces: Pieces, done: Sequence[DoneByPlan]) -> dict[str, Fraction]:
    """Blanks the job as it is now takes for the courses that are laid since the plan."""
    out: dict[str, Fraction] = {}
    if pieces.roof is None:
        return out
    slopes = {s.slope.name: s for s in pieces.roof.slopes}
    for each in done:
        for name, k in each.laid.items():
            if name in slopes:
                _add(out, laid_blanks(slopes[name], pieces.roof, k, after=slope_of(each.plan, name).laid))
    return out


def _on_roof(each: DoneByPlan, job: Job) -> dict[str, Fraction]:
    """Blanks of one plan that lie on the roof."""
    out: dict[str, Fraction] = {}
    for name, k in each.laid.items():
        _add(out, laid_by_plan(each.plan, job, name, k, copies(each.plan, job, name, each.laid)))
    return out


def _refuse_more_laid(on_roof: Sequence[dict[str, Fraction]], done: Sequence[DoneByPlan], before: Done) -> None:
    lies: dict[str, Fraction] = {}
    good = Counter(before.pieces)
    for each, what in zip(done, on_roof, strict=True):
        _add(lies, what)
        good.update({mark: t.good for mark, t in each.marks.items()})
    for mark, n in lies.items():
        if n > good[mark]:
            raise PlanError(
                f"{ceil(n):,} of {mark} lie on the roof by this record, and {good[mark]:,} good ones were cut.",
                help_="Nothing was written. Write down what is cut (fabplan record cut), or how far it is laid.",
            )


def _kept(each: DoneByPlan) -> list[Offcut]:
    """Offcuts to keep of all the layouts of a plan."""
    layouts = each.plan.nesting.layouts if each.plan.nesting is not None else ()
    return [o for y in layouts for o in y.offcuts if o.keep]


def _metal(
    job: Job, done: Sequence[DoneByPlan], racked: Collection[str]
) -> tuple[tuple[RestOffcut, ...], tuple[tuple[str, int], ...], tuple[tuple[str, float], ...]]:
    """Offcuts kept, and what is used up of every line of stock, as a length or count and by weight."""
    offcuts, used = Counter[tuple[str, str, int, int, str]](), Counter[str]()
    numbers: dict[tuple[str, str, int, int, str], list[int]] = {}
    pounds = Counter[str]()
    for each in done:
        nesting = each.plan.nesting
        if nesting is None:
            continue
        uses = {u.name: u for u in nesting.stock}
        grid = nesting.grid
        kerf = to_grid(job.shear.kerf, grid, "up")
        for number, times in each.layouts.items():
            lay = nesting.layouts[number - 1]
            use = uses[lay.stock]
            used[lay.stock] += times * ((lay.length + kerf) * grid if lay.form == "coil" else 1)
            whole = use.used_length if lay.form == "coil" else use.used_count
            share = Fraction(times * (lay.length + kerf if lay.form == "coil" else 1), whole or 1)
            pounds[lay.stock] += use.pounds * float(share)  # type: ignore[assignment]
            for o in lay.offcuts:
                if o.keep and each.digest not in racked:
                    key = (lay.stock, lay.metal, o.width * grid, o.length * grid, use.grain)
                    offcuts[key] += times
                    numbers.setdefault(key, []).append(o.number or 0)
    return (
        tuple(
            RestOffcut(
                stock=s, metal=m, width=w, length=h, grain=g, count=n, numbers=tuple(sorted(numbers[s, m, w, h, g]))
            )
            for (s, m, w, h, g), n in sorted(offcuts.items())
        ),
        tuple(sorted(used.items())),
        tuple(sorted((name, float(n)) for name, n in pounds.items())),
    )


def rest_lines(found: Rest) -> list[str]:
    """The rest in words: ``A: 276 there, 282 needed, 6 more``."""
    out = []
    for m in found.marks:
        if m.needed or m.good:
            there = m.good + m.left - m.needed
            more = f"{m.left} more" if m.left else "none to cut" if there == 0 else f"{there} spare"
            told = [f"{m.on_roof} of them laid"] if m.on_roof else []
            told += [f"{m.unfolded} to fold"] if m.unfolded else []
            out.append(f"{m.mark}: {m.good} there{''.join(f', {t}' for t in told)}, {m.needed} needed, {more}")
        if m.misfit:
            out.append(f"{m.mark}: {m.misfit} that {'is' if m.misfit == 1 else 'are'} cut no longer fit")
    for h in found.laid:
        out.append(f"{h.slope}: laid up to course {h.courses}; its lines stay where they are")
    return out


def next_number(number: str) -> str:
    """Number of the rest of a job, and of the rest of that.

    >>> next_number("1042"), next_number("1042-rest"), next_number("1042-rest-2")
    ('1042-rest', '1042-rest-2', '1042-rest-3')
    """
    before = re.fullmatch(r"(.*)-rest(?:-(\d+))?", number)
    return f"{number}-rest" if before is None else f"{before[1]}-rest-{int(before[2] or 1) + 1}"


def refuse_begun(record: Path, rest_file: Path) -> None:
    """Refuse to work out a rest anew when its own record says that some of it is done: that would be planned twice.

    Raises
    ------
    PlanError
    """
    if record.exists() and any(d.layouts or d.laid or any(t.cut for t in d.marks.values()) for d in done_in(record)):
        raise PlanError(
            f"{visible(record.name)} says that some of the rest is cut already, and it would be planned again.",
            help_=f"Nothing was written. Change {visible(rest_file.name)} and ask for its rest: "
            f"fabplan rest {visible(rest_file.name)}.",
        )


def rest_text(source: str, job: Job, found: Rest) -> str:
    """The job file of the rest, from the text of the job file: its comments and slopes stay, and it says what is there.

    Raises
    ------
    PlanError
        Nothing is left.
    """
    if not found.left and not any(m.unfolded for m in found.marks):
        raise PlanError("Nothing is left to cut.", help_="No job file was written.")
    doc: Any = tomlkit.parse(source)
    doc["job"]["number"] = next_number(job.info.number)
    for name in ("done", "laid"):
        doc.pop(name, None)
    _stock(doc, job, found)
    doc.append("done", _done_table(found.there))
    if found.laid:
        several = tomlkit.aot()
        for h in found.laid:
            table = tomlkit.table()
            table.update({"slope": h.slope, "courses": h.courses, "centre": h.centre})
            table.update({key: _length(int(getattr(h, key)), job, 6) for key in ("from_left", "base", "course")})
            several.append(table)
        doc.append("laid", several)
    return tomlkit.dumps(doc)


def _done_table(there: Done) -> Any:
    table = tomlkit.table()
    table.comment("what is cut, made and laid already")
    for key, counts in (("pieces", there.pieces), ("unfolded", there.unfolded)):
        if counts:
            inline = tomlkit.inline_table()
            inline.update(counts)
            table[key] = inline
    if there.part_blanks is not None:
        table["part_blanks"] = there.part_blanks
    table["layouts"], table["sheets"] = there.layouts, there.sheets
    if there.offcuts:
        table["offcuts"] = there.offcuts
    return table


def _stock(doc: Any, job: Job, found: Rest) -> None:
    """What is used up is taken off what was on hand; the job's own offcuts come first, and are paid for."""
    if "stock" not in doc:
        doc["stock"] = tomlkit.aot()
    own = {str(line["name"]).strip().casefold(): line for line in doc["stock"]}
    used, pounds = dict(found.used), dict(found.pounds)
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
        if hand is not None and hand.length is not None:
            table["on_hand"] = _length(max(0, int(hand.length) - taken), job)
        elif hand is not None and hand.pounds is not None:
            table["on_hand"] = f"{max(0.0, hand.pounds - pounds[line.name]):.4f}".rstrip("0").rstrip(".") + " lb"
        else:
            count = (hand.count if hand is not None and hand.count is not None else 1) - taken
            table["on_hand"] = max(0, count)
    show = Show(job.info.units, 1)
    names = {str(line["name"]).strip().casefold() for line in doc["stock"]} | {s.name.casefold() for s in job.stock}
    number = 0
    for o in found.offcuts:
        name = f"{', '.join(f'K{n}' for n in o.numbers)} off {o.stock}"
        while len(name) > 60 or name.casefold() in names:
            name = f"left {(number := number + 1)} of {o.stock}"[:60]
        names.add(name.casefold())
        table = tomlkit.table()
        table["name"] = name
        table["form"] = "offcut"
        table["width"], table["length"] = show.exact(o.width), show.exact(o.length)
        table["on_hand"] = o.count
        table["grain"] = o.grain
        if o.metal != job.metal.use:
            table["metal"] = o.metal
        doc["stock"].append(table)


def _length(nm: int, job: Job, places: int = 4) -> str:
    """A length in the job's units, rounded down: no more metal is there than there is."""
    per, text = (NM_PER_MM, "mm") if job.info.units == "mm" else (NM_PER_INCH, "in")
    whole, part = divmod(nm * 10**places // per, 10**places)
    if whole < 0 and part:  # -0.5 is one below, and a half
        whole, part = whole + 1, 10**places - part
        return f"-{abs(whole)}.{part:0{places}d}".rstrip("0") + f" {text}"
    return f"{whole}.{part:0{places}d}".rstrip("0").rstrip(".") + f" {text}"


def prove_rest(rest_job: Job, found: Rest) -> None:
    """Hold the job file of the rest against what is left.

    Raises
    ------
    ProofError
    """
    counts = {p.mark: p.count for p in make_pieces(rest_job).patterns}
    faults = [
        f"{m.mark}: {counts.get(m.mark, 0)} would be cut, {m.left} are left"
        for m in found.marks
        if counts.get(m.mark, 0) != m.left
    ]
    if faults:
        raise ProofError("job file of the rest", faults)


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
