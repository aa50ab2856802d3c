"""Slopes on the roof: the picture beside its course table on one sheet; near-alike slopes share a sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fabplan import plane
from fabplan.packet.model import Block, Column, Heading, Page, Paper, Para, Picture, Split, Table
from fabplan.packet.pages.cautions import ON_ROOF
from fabplan.packet.pages.pictures import slope_picture
from fabplan.packet.setting.page_estimate import (
    BLOCK_GAP,
    TITLE,
    body,
    mm,
    natural_width,
    points,
    stack_height,
    table_height,
)
from fabplan.plan.model import Plan
from fabplan.roof.model import CourseCount, SlopeLayout
from fabplan.speech.format import Say, count, listed, paper, spans
from fabplan.speech.roof_tables import on_the_roof, snapped_every, tape
from fabplan.units import from_inches, to_grid

MOST_KINDS = 6  # of pieces that have columns of their own
NEAR_ALIKE = 0.03  # of a slope's larger side: corners no further apart
GUTTER = 5.0
NO_LINE = "no line"
COUNT, NARROW = 46.0, 0.4  # points of a column of counts, whose title is broken; its share of free width
LEAST_PICTURE = 78.0  # mm wide, and as high
LETTERS = (
    ("whole", "W", "whole"),
    ("starter", "S", "starter"),
    ("ridge_half", "H", "ridge half"),
    ("cut_left", "L", "{} left"),
    ("cut_right", "R", "{} right"),
    ("cut_both", "B", "{} both"),
    ("notched", "N", "notched"),
    ("trimmed", "snip", "hem snip, of the whole"),
    ("under_cap", "cap", "of these under the cap"),
)
CHECKED = "Snap every {}; a line in brackets is not snapped: it checks the tips."
LAST = "No line: it would lie past the top; this course's points stand on the line before."
RIDGE_HALF = "Ridge half: has lost its top."
SIDES = "Left, right: the side that is lost."
OFF_FALLS = "From off-falls: cut the second named first and keep what falls off, as it lies."


@dataclass(frozen=True, slots=True, kw_only=True)
class LikeSlopes:
    """Near-alike slopes of one sheet; slopes of one variant have the same counts in every course."""

    layouts: tuple[SlopeLayout, ...]
    variants: tuple[tuple[SlopeLayout, ...], ...]


def groups(plan: Plan) -> list[LikeSlopes]:
    """The slopes, near-alike ones together, in the job's order."""
    if plan.roof is None:
        return []
    together: list[list[SlopeLayout]] = []
    for layout in plan.roof.slopes:
        found = next((g for g in together if near_alike(g[0], layout, apart=not on_the_roof(plan.job))), None)
        if found is None:
            together.append([layout])
        else:
            found.append(layout)
    out = []
    for some in together:
        by: dict[tuple[CourseCount, ...], list[SlopeLayout]] = {}
        for layout in some:
            by.setdefault(tuple(replace(c, covered=0.0) for c in layout.courses), []).append(layout)
        out.append(LikeSlopes(layouts=tuple(some), variants=tuple(tuple(v) for v in by.values())))
    return out


def near_alike(a: SlopeLayout, b: SlopeLayout, *, apart: bool) -> bool:
    """Whether two slopes have the same lines and marks and nearly the same corners.

    `apart`: pieces are cut at the bench by shapes, so that slopes of different shapes stand apart.
    """
    if (a.slope.piece, a.alignment, a.mark_step, a.lines, a.first_marks) != (
        b.slope.piece, b.alignment, b.mark_step, b.lines, b.first_marks,
    ):  # fmt: skip
        return False
    if a.slope.holes or b.slope.holes or [e.kind for e in a.slope.edges] != [e.kind for e in b.slope.edges]:
        return False
    if apart and [(p.shape, p.mirrored) for p in a.pieces] != [(p.shape, p.mirrored) for p in b.pieces]:
        return False
    x0, y0, x1, y1 = plane.bounds(a.slope.outline)
    near = NEAR_ALIKE * max(x1 - x0, y1 - y0)
    corners = zip(a.slope.outline, b.slope.outline, strict=False)
    return len(a.slope.outline) == len(b.slope.outline) and all(plane.distance(p, q) <= near for p, q in corners)


def slope_pages(plan: Plan, say: Say, papers: Paper) -> list[Page]:
    """A sheet a group of near-alike slopes."""
    return [_page(plan, alike, number, say, papers) for number, alike in enumerate(groups(plan), 1)]


def _page(plan: Plan, alike: LikeSlopes, number: int, say: Say, papers: Paper) -> Page:
    first = alike.layouts[0]
    many = len(alike.layouts) > 1
    names = [_named(layout) for layout in alike.layouts]
    title = f"Slope{'s' if many else ''} {listed(names)}"
    if many and len(title) > 60:
        title = f"Slopes {names[0]} to {names[-1]}: {len(names)} nearly alike"
    table = course_columns(plan, alike, say)
    under: list[Block] = []
    differs: list[Block] = [Heading(text="What differs"), _differences(alike, say)] if many else []
    drawn = f" Drawn: {first.slope.name}." if many else ""
    under.append(Para(text=" ".join(_sentences(plan, alike)) + drawn, size=9))
    landscape, blocks = _fit(plan, first, table, differs, under, papers)
    return Page(
        key=f"roof-slope-{number}",
        kind="roof",
        title=title,
        blocks=tuple(blocks),
        station="roof",
        landscape=landscape,
        caution=ON_ROOF,
    )


def _fit(
    plan: Plan, layout: SlopeLayout, table: Table, differs: Sequence[Block], under: Sequence[Block], papers: Paper
) -> tuple[bool, list[Block]]:
    """Picture and tables on one sheet, the picture as large as can be: beside the table, else over it."""
    index = plan.roof.slopes.index(layout) + 1 if plan.roof else 1
    x0, y0, x1, y1 = plane.bounds(layout.slope.outline)
    ways: list[tuple[float, bool, float, float, bool]] = []  # scale, landscape, width, height, beside
    for landscape in (True, False):
        wide, high = body(papers, landscape=landscape, banner=False)
        column = sum(
            min(natural_width(c, [row[x] for row in table.rows]), COUNT if c.share == NARROW else 1e9)
            for x, c in enumerate(table.columns)
        )
        left = wide - GUTTER - mm(column)
        words = mm(TITLE + BLOCK_GAP)
        right = mm(table_height(table, column) + stack_height(differs, column))
        if right + words <= high and left >= LEAST_PICTURE:
            low = mm(stack_height(under, points(left)))
            ways.append((0.0, landscape, left, high - words - low - 6.0, True))
        low = mm(stack_height((*differs, *under), points(wide)))
        over = high - words - low - mm(BLOCK_GAP + table_height(table, points(wide)))
        if over >= LEAST_PICTURE:
            ways.append((0.0, landscape, wide, over, False))
    scaled = [
        (min((w - 46.0) / (x1 - x0), (h - 28.0) / (y1 - y0)), landscape, w, h, beside)
        for _, landscape, w, h, beside in ways
    ]
    for _, landscape, w, h, beside in sorted(scaled, key=lambda way: -way[0]):
        picture = slope_picture(plan, index, w - 1.0, h - 2.0)
        if picture.height > h or picture.width > w:
            continue
        block = Picture(drawing=picture, alt=f"{picture.title}.", least_px=700)
        if beside:
            return landscape, [Split(left=(block, *under), right=(table, *differs), left_mm=w)]
        return landscape, [block, table, *differs, *under]
    wide, high = body(papers, landscape=True, banner=False)
    picture = slope_picture(plan, index, wide - 1.0, 120.0)
    return True, [
        Picture(drawing=picture, alt=f"{picture.title}.", least_px=700),
        replace(table, fresh=True),
        *differs,
        *under,
    ]


def _named(layout: SlopeLayout) -> str:
    times = layout.slope.times
    return layout.slope.name if times == 1 else f"{layout.slope.name} (each of {times})"


def course_columns(plan: Plan, alike: LikeSlopes, say: Say) -> Table:
    """One row a course, the top one first: its lines, and of every variant how many of what."""
    first = alike.layouts[0]
    every = snapped_every(plan.roof.variation, first) if plan.roof else 1
    on_tape = tape(plan.job, first.mark_step)
    lines = {line.course: line for line in first.lines}
    columns = [
        Column(title="Course", align="right", size=10, strong=True),
        Column(title=f"Line, {plan.job.info.units}", align="right", size=14, strong=True),
        Column(title="Seen", align="right", size=9),
    ]
    used = [(key, letter, name) for key, letter, name in LETTERS if any(getattr(c, key) for c in first.courses)]
    alone = in_columns(alike)
    how = "Trimmed" if on_the_roof(plan.job) else "Cut"
    if alone:
        columns += [
            Column(title=name.split(",")[0].format(how).capitalize(), align="right", size=9, share=NARROW)
            for _, _, name in used
        ]
        columns.append(Column(title="All", align="right", size=9, strong=True))
    else:
        columns += [Column(title=_variant(v), size=9) for v in alike.variants]
    extra = [_extra(plan, first, c) for c in first.courses]
    shaped = len(alike.variants) == 1 and any(extra)
    if shaped:
        columns.append(Column(title="From off-falls" if on_the_roof(plan.job) else "Cut shapes", size=9, share=1))
    columns.append(Column(title="Done", align="centre", size=9, tick=True))
    rows = []
    for n in range(len(first.courses) - 1, -1, -1):
        course = first.courses[n]
        line = lines.get(course.course)
        mark = NO_LINE if line is None else paper(on_tape.bare(line.mark * first.mark_step))
        if line is not None and line.course % every:
            mark = f"({mark})"
        row = [str(course.course), mark, "" if line is None else paper(on_tape.bare(line.top_mark * first.mark_step))]
        if alone:
            row += [_some(getattr(course, key)) for key, _, _ in used] + [str(course.total)]
        else:
            row += [_counts(v[0].courses[n]) for v in alike.variants]
        rows.append((*row, *([extra[n]] if shaped else []), ""))
    if alone:
        sums = [_some(sum(getattr(c, key) for c in first.courses)) for key, _, _ in used]
        total = ("all", "", "", *sums, str(sum(c.total for c in first.courses)), *([""] if shaped else []), "")
    else:
        sums = [f"{sum(c.total for c in v[0].courses)} pieces" for v in alike.variants]
        total = ("all", "", "", *sums, *([""] if shaped else []), "")
    name = f"Courses of {listed(layout.slope.name for layout in alike.layouts)}"
    return Table(name=name, columns=tuple(columns), rows=(*rows, total), total=True, close=True)


def in_columns(alike: LikeSlopes) -> bool:
    """Whether every kind of piece has a column of its own; else a word tells all pieces of a course."""
    kinds = sum(any(getattr(c, key) for c in alike.layouts[0].courses) for key, _, _ in LETTERS)
    return len(alike.variants) == 1 and kinds <= MOST_KINDS


def _some(n: int) -> str:
    return f"{n:,}" if n else ""


def _variant(layouts: Sequence[SlopeLayout]) -> str:
    names = [layout.slope.name for layout in layouts]
    if len(names) > 2:
        return f"{names[0]} and {len(names) - 1} more"
    return listed(names)


def _counts(course: CourseCount) -> str:
    """``6 W, L, R``: six whole, one trimmed left, one right."""
    out = []
    for key, letter, _ in LETTERS:
        n = getattr(course, key)
        if n:
            out.append(letter if n == 1 and key not in ("whole", "starter") else f"{n} {letter}")
    return ", ".join(out)


def _extra(plan: Plan, layout: SlopeLayout, course: CourseCount) -> str:
    from fabplan.speech.roof_tables import cuts_words, off_fall_words

    if on_the_roof(plan.job):
        return paper(off_fall_words(layout, course, plan.roof.off_falls)) if plan.roof else ""
    return paper(cuts_words(layout, course))


def _differences(alike: LikeSlopes, say: Say) -> Table:
    """The sizes of every slope of the group, a row each."""
    rows = []
    for layout in alike.layouts:
        outline, eave = layout.slope.outline, layout.slope.edges[0]
        _, y0, _, y1 = plane.bounds(outline)
        start = min(eave.start[0], eave.end[0])
        sides = [e.length for e in layout.slope.edges]
        cells = [layout.slope.name, *(_length(say, s) for s in sides), _length(say, y1 - y0)]
        cells.append(_length(say, layout.centre_x - start))
        rows.append(tuple(cells))
    kinds = [e.kind for e in alike.layouts[0].slope.edges]
    seen: Counter[str] = Counter()
    titles = []
    for kind in kinds:
        seen[kind] += 1
        titles.append(kind.capitalize() + (f" {seen[kind]}" if kinds.count(kind) > 1 else ""))
    columns = [
        Column(title="Slope", size=9, strong=True),
        *(Column(title=title, align="right", size=9) for title in titles),
        Column(title="Height", align="right", size=9),
        Column(title="Left to centre", align="right", size=9),
    ]
    return Table(name="What differs", columns=tuple(columns), rows=tuple(rows), close=True, whole=True)


def _length(say: Say, inches: float) -> str:
    return say.bare(to_grid(from_inches(inches), say.show.grid) * say.show.grid)


def marks_words(layouts: Sequence[SlopeLayout], how: str) -> Iterator[str]:
    """Which columns are pieces of a mark of their own, and that all others are of the slope's mark."""
    piece = layouts[0].slope.piece
    laid = [p for layout in layouts for p in layout.pieces]
    named = []
    for key, _, name in LETTERS:
        of_kind = [p for p in laid if p.kind == key.replace("_", "-")]
        for mark in sorted({p.mark for p in of_kind} - {piece}):
            courses = sorted({p.course for p in of_kind if p.mark == mark})
            some = any(p.mark != mark for p in of_kind)
            where = f" of course{'s' if len(courses) > 1 else ''} {spans(courses)}" if some else ""
            named.append(f"{name.format(how)}{where}: {mark}")
    if not named:
        return
    sides = any(p.course == 0 and p.mark == piece and p.kind.startswith("cut-") for p in laid)
    rest = f"all others, those {how} in course 0 too: {piece}" if sides else f"all others: {piece}"
    said = "; ".join((*named, rest))
    yield f"{said[:1].upper()}{said[1:]}."


def _sentences(plan: Plan, alike: LikeSlopes) -> Iterator[str]:
    """What the columns mean, as far as they stand in the table."""
    first = alike.layouts[0]
    every = snapped_every(plan.roof.variation, first) if plan.roof else 1
    yield CHECKED.format(count(every, "course")) if every > 1 else "Snap every line."
    used = [one for one in LETTERS if any(getattr(c, one[0]) for y in alike.layouts for c in y.courses)]
    how = "trimmed" if on_the_roof(plan.job) else "cut"
    if not in_columns(alike):
        yield f"{', '.join(f'{letter} {name.format(how)}' for _, letter, name in used)}; a letter alone: one."
    if len(first.lines) < len(first.courses):
        yield LAST
    keys = [key for key, _, _ in used]
    if "ridge_half" in keys:
        yield RIDGE_HALF
    if "cut_left" in keys or "cut_right" in keys:
        yield SIDES
    yield from marks_words(alike.layouts, how)
    if plan.roof and on_the_roof(plan.job) and any(o.slope == first.slope.name for o in plan.roof.off_falls):
        yield OFF_FALLS
