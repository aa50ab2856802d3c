"""Roof tables as text: for the terminal and for the course sheets."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from fabplan.job.model import Job
from fabplan.job.wording import listed
from fabplan.roof.extras.variation_model import Variation
from fabplan.roof.model import KINDS, CourseCount, Kit, KitItem, OffFall, RoofPlan, SlopeLayout
from fabplan.roof.words import size
from fabplan.speech.roof import RESTS_ON, fastener_words
from fabplan.units import NM_PER_INCH, Nm, Show, to_grid

Row = tuple[str, ...]
SNIPS = "Hem snip"  # a column
SNIP_NOTE = f"{SNIPS}: so many of the whole pieces, whose hidden hem passes an edge and is snipped there."
COUNTED = (
    (SNIPS, "Hem snip: whole pieces whose hidden hems pass an edge."),
    ("Under cap", "Under cap: of the pieces, those of which nothing shows past a cap."),
    ("Left out", "Left out: parts and pieces under a cap."),
)
_NAMES = {
    "whole": "whole",
    "starter": "starter",
    "ridge-half": "ridge half",
    "cut-left": "cut left",
    "cut-right": "cut right",
    "cut-both": "cut both",
    "notched": "notched",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofTable:
    """A titled table of strings; `right` are the columns set to the right.

    `ticked` rows are ticked off at work; `headed` its title stands over it even when it is alone. `lines` are the
    columns of heights to snap, `shapes` the one of cut shapes, `snips` the one of snips where the note does not tell
    what they are.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    right: tuple[int, ...] = ()
    note: str = ""
    ticked: bool = False
    headed: bool = False
    lines: tuple[int, ...] = ()
    shapes: int | None = None
    snips: int | None = None


def show_of(job: Job) -> Show:
    """Formatter of the job's lengths."""
    return Show(job.info.units, int(job.info.round_to))


def tape(job: Job, step: int) -> Show:
    """Formatter of lengths marked with a tape, on the course lines' own step."""
    return Show(job.info.units, step)


def _some(n: int) -> str:
    return f"{n:,}" if n else ""


def on_the_roof(job: Job) -> bool:
    """Whether cut pieces go up whole and are trimmed in place."""
    return job.roof.cut_pieces == "on the roof"


def _cut_words(job: Job) -> tuple[str, str, str, str]:
    """Names of the columns of pieces cut left, right, both, and round an opening."""
    if on_the_roof(job):
        return "Trimmed left", "Trimmed right", "Trimmed both", "Notched"
    return "Cut left", "Cut right", "Cut both", "Notched"


def snapped_every(variation: Sequence[Variation], layout: SlopeLayout) -> int:
    """So many courses lie between lines to snap on a slope: what the hem allows at every lock, 1 at least."""
    return next((max(1, v.largest_per_lock) for v in variation if v.mark == layout.slope.piece), 1)


def course_table(layout: SlopeLayout, job: Job, off_falls: Sequence[OffFall] = ()) -> RoofTable:
    """One row a course, top course first as it stands on the roof."""
    on_roof = on_the_roof(job)
    on_tape = tape(job, layout.mark_step)
    lines = {line.course: line for line in layout.lines}
    rows = []
    for c in sorted(layout.courses, key=lambda c: -c.course):
        line = lines.get(c.course)
        rows.append(
            (
                str(c.course),
                "" if line is None else on_tape.bare(line.mark * layout.mark_step),
                "" if line is None else on_tape.bare(line.top_mark * layout.mark_step),
                _some(c.whole),
                _some(c.trimmed),
                _some(c.starter),
                _some(c.ridge_half),
                _some(c.cut_left),
                _some(c.cut_right),
                _some(c.cut_both),
                _some(c.notched),
                _some(c.under_cap),
                str(c.total),
                off_fall_words(layout, c, off_falls) if on_roof else cuts_words(layout, c),
            )
        )
    times = "" if layout.slope.times == 1 else f" (each of {layout.slope.times})"
    unit = job.info.units
    columns = (
        "Course", f"Line, {unit}", f"Seen, {unit}", "Whole", SNIPS, "Starter", "Ridge half", *_cut_words(job),
        "Under cap", "Total", "From off-falls" if on_roof else "Cut shapes",
    )  # fmt: skip
    total = _sum(layout.courses)
    return RoofTable(
        title=f"Courses of {layout.slope.name}{times}",
        columns=columns,
        rows=(
            *rows,
            (
                "all", "", "", _some(total["whole"]), _some(total["trimmed"]), _some(total["starter"]),
                _some(total["ridge_half"]), _some(total["cut_left"]), _some(total["cut_right"]),
                _some(total["cut_both"]), _some(total["notched"]), _some(total["under_cap"]), str(total["total"]), "",
            ),
        ),
        right=tuple(range(len(columns) - 1)),
        ticked=True,
        headed=bool(times),
        lines=(1,),
        shapes=None if on_roof else len(columns) - 1,
        snips=columns.index(SNIPS),
        note=(
            "Line: height of the course line up the slope from the base line, each taken from the base by itself; the "
            "points of the next course stand on it. Seen: the line through the top tips of this course, which stays in "
            "sight above the hems. " + (_TRIMMED if on_roof else _SHAPED)
        ),
    )  # fmt: skip


_SHAPED = "Cut shapes: numbers of the cut-shape sheet, m = mirrored."
_TRIMMED = (
    "Trimmed: a whole piece, laid past the edge, scribed in place and snipped; trimmed left has lost its left side. "
    "From off-falls: cut the second named first and keep what falls off, as it lies."
)


def off_fall_words(layout: SlopeLayout, c: CourseCount, off_falls: Sequence[OffFall]) -> str:
    """Pieces of a course that are got from what falls off another: ``right from the off-fall of left``."""
    out = []
    for o in off_falls:
        if o.slope == layout.slope.name and o.course == c.course:
            second, first = (_NAMES[layout.pieces[n].kind].removeprefix("cut ") for n in (o.second, o.first))
            out.append(f"{second} from the off-fall of {first}")
    return ", ".join(out)


def _sum(courses: Sequence[CourseCount]) -> Counter[str]:
    out: Counter[str] = Counter()
    for c in courses:
        for key in (
            "whole",
            "trimmed",
            "starter",
            "ridge_half",
            "cut_left",
            "cut_right",
            "cut_both",
            "notched",
            "under_cap",
            "total",
        ):
            out[key] += getattr(c, key)
    return out


def cuts_words(layout: SlopeLayout, c: CourseCount) -> str:
    """Cut shapes of a course from left to right, with the share of a whole piece that stays in sight."""
    out = []
    for p in layout.pieces:
        if p.course == c.course and p.shape:
            out.append(f"{p.shape}{'m' if p.mirrored else ''}")
    counts = Counter(out)
    return ", ".join(f"{n} x {name}" if n > 1 else name for name, n in counts.items())


def count_table(plan: RoofPlan, job: Job) -> RoofTable:
    """One row a slope, all equal slopes together, and the sum."""
    rows: list[Row] = []
    grand: Counter[str] = Counter()
    for s in plan.slopes:
        total = _sum(s.courses)
        for key in total:
            grand[key] += total[key] * s.slope.times
        slope = s.slope
        area = show_of(job).area(slope.area)
        rows.append(_count_row(slope.name, _of_marks(s), slope.times, total, len(s.slivers), area))
    area = show_of(job).area(sum(s.slope.area * s.slope.times for s in plan.slopes))
    slivers = sum(len(s.slivers) * s.slope.times for s in plan.slopes)
    rows.append(_count_row("all", "", sum(s.slope.times for s in plan.slopes), grand, slivers, area))
    columns = (
        "Slope", "Piece", "Times", "Area", "Whole", SNIPS, "Starter", "Ridge half", *_cut_words(job), "Under cap",
        "Pieces", "Left out",
    )  # fmt: skip
    return RoofTable(
        title="Pieces by slope (each)",
        headed=True,
        columns=columns,
        rows=tuple(rows),
        right=tuple(range(2, len(columns))),
        note=" ".join(words for title, words in COUNTED if any(row[columns.index(title)] for row in rows)),
    )


def _of_marks(layout: SlopeLayout) -> str:
    """The mark of a slope's pieces, then those of starters and halves that have their own."""
    own = sorted({p.mark for p in layout.pieces} - {layout.slope.piece})
    return ", ".join((layout.slope.piece, *own))


def _count_row(name: str, piece: str, times: int, total: Counter[str], slivers: int, area: str) -> Row:
    return (
        name, piece, str(times), area, _some(total["whole"]), _some(total["trimmed"]), _some(total["starter"]),
        _some(total["ridge_half"]), _some(total["cut_left"]), _some(total["cut_right"]), _some(total["cut_both"]),
        _some(total["notched"]), _some(total["under_cap"]), str(total["total"]), _some(slivers),
    )  # fmt: skip


PARTED = (
    "The second is turned about the blank's middle before it is marked; one straight cut parts the two, and each is "
    "folded by its own marks."
)


def blank_table(plan: RoofPlan) -> RoofTable:
    """From pieces to blanks: two part pieces from one blank taken off; before spare."""
    pieces = dict(plan.pieces)
    saved: Counter[str] = Counter()
    for pair in plan.pairs:
        saved[pair.mark] += pair.times
    parted: Counter[str] = Counter()
    for part in plan.part_sizes:
        parted[part.diamond] += part.times
    fallen: Counter[str] = Counter()
    diamond = {s.slope.name: s.slope.piece for s in plan.slopes}
    for o in plan.off_falls:
        fallen[diamond[o.slope]] += o.times
    over = dict(plan.off_fall_spare)
    rows = tuple(
        (
            mark,
            f"{pieces[mark]:,}" if mark in pieces else "",
            _some(saved[mark]),
            _some(parted[mark]),
            _some(fallen[mark]),
            _some(over.get(mark, 0)),
            f"{n:,}",
        )
        for mark, n in plan.counts
    )
    note = (
        "Without off-falls every piece on the roof takes a blank; with them take up the blanks counted here, the whole "
        "ones over among them."
    )
    return RoofTable(
        title="Blanks from the roof, before spare",
        columns=("Piece", "On the roof", "Two from one blank", "From part blanks", "From off-falls", "Over", "Blanks"),
        rows=rows,
        right=(1, 2, 3, 4, 5, 6),
        note=note if plan.off_falls else "",
    )


def pair_table(plan: RoofPlan) -> RoofTable:
    """Which cut shapes share a blank, and which take one alone."""

    def named(shape: int, flag: bool) -> str:
        return f"{shape}{'m' if flag else ''}"

    rows = [
        (
            p.mark,
            named(p.first, p.first_mirrored),
            named(p.second, p.second_mirrored),
            _lies(p.turned, p.flipped),
            f"{p.times:,}",
        )
        for p in plan.pairs
    ]
    rows += [(p.mark, named(p.shape, p.mirrored), "alone", "", f"{p.times:,}") for p in plan.leftover]
    rows += [
        (part.mark, named(p.shape, p.mirrored), "alone", _lies(p.turned, p.flipped), f"{p.times:,}")
        for part in plan.part_sizes
        for p in part.parts
    ]
    parted = (
        f" {listed((s.mark for s in plan.part_sizes), 'and')}: part blanks, sheared smaller." if plan.part_sizes else ""
    )
    return RoofTable(
        title="Blanks of the cut shapes",
        columns=("Piece", "Cut shape", "With", "Turned in the blank", "Blanks"),
        rows=tuple(rows),
        right=(1, 2, 3, 4),
        note=((PARTED if plan.pairs else "Each is folded by its own marks.") + parted),
    )


def _lies(turned: float, flipped: bool) -> str:
    return f"{turned:g}°" + (", turned over" if flipped else "")


def kit_table(plan: RoofPlan, job: Job) -> RoofTable:
    """One row a kit."""
    show = show_of(job)
    rows = tuple(
        (k.label, str(k.pieces), show.weight(k.pounds), kit_says(k, trimmed=on_the_roof(job))) for k in plan.kits
    )
    most, heaviest = plan.kit_limit
    limit = f"At most {most:,} pieces" + ("" if heaviest is None else f" and {show.weight(heaviest)}") + " a kit."
    return RoofTable(
        title="Kits",
        ticked=True,
        columns=("Kit", "Pieces", "Weight", "What is in it"),
        rows=rows,
        right=(1, 2),
        note=limit,
    )


def kit_says(kit: Kit, *, trimmed: bool = False) -> str:
    """The pieces of a kit in words: whole ones first, then cut shapes by number; or those `trimmed` on the roof."""
    groups: dict[tuple[str, str], list[KitItem]] = {}
    for item in kit.items:
        groups.setdefault((item.mark, item.kind), []).append(item)
    out = []
    for (mark, kind), items in sorted(groups.items(), key=lambda g: (KINDS.index(g[1][0].kind), g[0])):
        n = sum(i.count for i in items)
        shapes = ", ".join(f"{i.count} x {i.shape}" if i.count > 1 else str(i.shape) for i in items if i.shape)
        name = _NAMES[kind].replace("cut ", "trimmed ") if trimmed else _NAMES[kind]
        out.append(f"{n} {mark} {name}" + (f" (shapes {shapes})" if shapes else ""))
    if kit.spare:
        out.append(f"{kit.spare} whole over")
    return "; ".join(out)


def edge_table(plan: RoofPlan, job: Job) -> RoofTable:
    """Strips and caps."""
    show = show_of(job)
    rows = tuple(
        (
            r.kind,
            r.where,
            r.mark,
            str(r.times),
            show.length(r.length),
            show.length(r.stock),
            show.length(r.lap) if r.pieces > 1 else "",
            str(r.pieces),
            str(r.pieces * r.times),
        )
        for r in plan.edge_runs
    )
    return RoofTable(
        title="Edges by length",
        columns=("Edge", "Where", "Piece", "Times", "Length", "Of", "Lap", "Each", "Pieces"),
        rows=rows,
        right=(3, 4, 5, 6, 7, 8),
        note="Hip lengths are less the apex cap, plus the laps at bottom and top.",
    )


def underlayment_table(plan: RoofPlan, job: Job) -> RoofTable:
    """Rolls by runs, and by area to show the difference."""
    show = show_of(job)
    rows = [
        (u.slope, str(u.times), str(u.rows), show.run(u.total), show.number(u.rolls), show.number(u.rolls_by_area))
        for u in plan.underlayment
    ]
    if rows:
        rolls = sum(u.rolls for u in plan.underlayment)
        by_area = sum(u.rolls_by_area for u in plan.underlayment)
        total = sum(u.total for u in plan.underlayment)
        rows.append(("all", "", "", show.run(total), show.number(rolls), show.number(by_area)))
    return RoofTable(
        title="Underlayment",
        ticked=True,
        columns=("Slope", "Times", "Rows", "Length", "Rolls", "By area"),
        rows=tuple(rows),
        right=(1, 2, 3, 4, 5),
        note="Rolls are counted by the runs rolled out. By area is what area alone would say, which is too few.",
    )


def fastener_table(plan: RoofPlan, job: Job) -> RoofTable:
    """Nails and cleats before spare."""
    return RoofTable(
        title="Fasteners",
        columns=("What", "Count", "Counted as"),
        rows=tuple((f.what, f"{f.count:,}", fastener_words(f, job)) for f in plan.fasteners),
        right=(1,),
    )


def _up(value: float, grid: int) -> Nm:
    return Nm(to_grid(Fraction(value) * NM_PER_INCH, grid, "up") * grid)


def _down(value: float, grid: int) -> Nm:
    return Nm(to_grid(Fraction(value) * NM_PER_INCH, grid, "down") * grid)


def variation_table(v: Variation, job: Job) -> RoofTable:
    """How often to snap a line, and the hem that needs."""
    fine = Show(job.info.units, NM_PER_INCH // 64 if job.info.units == "in" else 500_000)
    rows = tuple(
        (
            f"every {i.courses} courses" if i.courses > 1 else "every course",
            fine.length(_up(i.hem_per_lock, fine.grid)),
            "yes" if i.allowed_per_lock else "no",
            fine.length(_up(i.hem_whole_roof, fine.grid)),
            "yes" if i.allowed_whole_roof else "no",
            fine.length(_down(i.course_at_most, fine.grid)),
            Show("in", 1).percent(i.short_of_printed, 1),
        )
        for i in v.intervals
    )
    last = v.drifts[-1]
    sixteenth, stop = ("1/16 in", "1/64 in") if job.info.units == "in" else ("1.6 mm", "0.4 mm")
    percent = Show("in", 1).percent(float(Fraction(v.confidence).limit_denominator(10**6)), 2)
    low = "low" if last.height_mean < 0 else "high"
    columns = (
        "Snap a line", "Hem, each lock", f"{fine.length(v.hem)} is enough", "Hem, whole roof", "is enough",
        "Course at most", "Short of the lines",
    )  # fmt: skip
    return RoofTable(
        title=f"Hand-made variation of {v.mark}: how often to snap a line",
        columns=columns,
        rows=rows,
        right=(1, 3, 5, 6),
        note=(
            f"Confidence {percent}, {v.locks:,} locks. The lines printed are {size(v.layout_course, job.info.units)} "
            f"apart, the mean course is {size(v.mean_course, job.info.units)}; short of the lines: points that end "
            f"more than {sixteenth} below a printed line. With no line, {last.courses} courses end "
            f"{fine.length(abs(last.height_mean))} {low} of their printed line on average, give or take "
            f"{fine.length(2 * last.height_sigma)}; a fold stop off by {stop} moves them {fine.length(v.stop_error)}. "
            f"{RESTS_ON}"
        ),
    )


def count_tables(plan: RoofPlan, job: Job) -> tuple[RoofTable, ...]:
    """What `fabplan count` prints."""
    return (
        count_table(plan, job),
        *(course_table(s, job, plan.off_falls) for s in plan.slopes),
        blank_table(plan),
        *((pair_table(plan),) if plan.shapes else ()),
        kit_table(plan, job),
        edge_table(plan, job),
        underlayment_table(plan, job),
        fastener_table(plan, job),
        *(variation_table(v, job) for v in plan.variation),
    )
