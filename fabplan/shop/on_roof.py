"""Pieces that lie on a roof laid in part, and the lines that hold it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

from fabplan.errors import JobError, PlanError
from fabplan.job.model import Job, Laid
from fabplan.job.slopes import copy_of
from fabplan.plan.file import PlanFile
from fabplan.roof.count import count_courses
from fabplan.roof.lay.layout import lay
from fabplan.roof.model import RoofPlan, SlopeLayout
from fabplan.roof.plan import mark_parts
from fabplan.units import from_inches, inches

Blanks = dict[str, Fraction]


def slope_of(plan: PlanFile, name: str) -> SlopeLayout:
    """A slope of a saved plan by its name on the pages, or by that of one of several alike (``dormer no. 2``).

    Raises
    ------
    JobError
    """
    slopes = plan.roof.slopes if plan.roof is not None else ()
    for layout in slopes:
        if layout.slope.name == name:
            return layout
    which = copy_of(name)
    for layout in slopes:
        if which is not None and layout.slope.name == which[0] and which[1] <= _alike(slopes, layout):
            return layout
    names = [n for s in slopes for n in (s.slope.name, *([f"{s.slope.name} no. 1"] if s.slope.times > 1 else []))]
    raise JobError(
        "the plan has no such slope", key="SLOPE", value=name, write=" or ".join(names[:12]) or "a job with slopes"
    )


def _alike(slopes: Sequence[SlopeLayout], layout: SlopeLayout) -> int:
    """How many slopes are alike, those among them that have their own name by now."""
    names = [copy_of(s.slope.name) for s in slopes]
    return layout.slope.times + sum(which is not None and which[0] == layout.slope.name for which in names)


def copies(plan: PlanFile, job: Job, name: str, laid: Collection[str]) -> int:
    """How many of a plan's slopes a name stands for, beside the other names that are laid: one of several alike, or all
    that are not named themselves."""
    layout = slope_of(plan, name)
    slopes = plan.roof.slopes if plan.roof is not None else ()
    entry = next((s for s in job.slopes if s.name == layout.slope.entry), None)
    named = _alike(slopes, layout) - layout.slope.times
    each = layout.slope.times // max(1, (entry.count if entry is not None else layout.slope.times + named) - named)
    if layout.slope.name != name:
        return each
    own = {s.slope.name for s in slopes}
    others = [which for n in laid if n not in own and (which := copy_of(n)) is not None and which[0] == name]
    return layout.slope.times - each * len(others)


def held(layout: SlopeLayout, name: str, courses: int) -> Laid:
    """The lines of a slope as they were snapped, for it, or the one alike with this name, to be laid on by them."""
    return Laid.model_construct(
        slope=name,
        courses=courses,
        centre=layout.alignment,
        from_left=from_inches(layout.centre_x),
        base=from_inches(layout.base),
        course=from_inches(layout.course),
    )


def laid_by_plan(plan: PlanFile, job: Job, name: str, courses: int, times: int) -> Blanks:
    """Blanks in so many slopes of this name up to a course, as the saved plan laid them; what lay there before that
    plan is not among them.

    Raises
    ------
    PlanError
        The rules under ``[roof]`` are others than those of the plan, so that its pieces are not known any more.
    """
    saved = slope_of(plan, name)
    assert plan.roof is not None
    patterns = {p.mark: p for p in plan.blanks}
    again = []
    for layout in plan.roof.slopes:
        diamond = patterns[layout.slope.piece]
        assert diamond.lattice is not None
        laid = lay(
            layout.slope,
            diamond.lattice,
            job.roof,
            alignment=layout.alignment,
            centre_x=layout.centre_x,
            base=layout.base,
            course=layout.course,
            top=None if layout.cap_line is None else layout.cap_line + inches(job.roof.underlap),
        )
        if [(c.course, c.total) for c in count_courses(laid.pieces, layout.cell)] != [
            (c.course, c.total) for c in layout.courses
        ]:
            raise PlanError(
                f"What lies on {name} is not known: [roof] or the diamond is another than in the plan it was laid by.",
                help_="Nothing was written. Set [roof] and the diamond back to what they were.",
            )
        again.append(replace(layout, pieces=laid.pieces))
    marked = next(s for s in mark_parts(again, job, patterns).layouts if s.slope.name == saved.slope.name)
    marked = replace(marked, slope=replace(marked.slope, times=times))
    return laid_blanks(marked, plan.roof, courses, after=saved.laid)


def laid_blanks(layout: SlopeLayout, roof: RoofPlan, courses: int, *, after: int | None = None) -> Blanks:
    """Blanks of the courses up to one, above what was laid before, on all the slopes alike, by mark.

    A cut shape that comes from several kinds of blanks counts as part of each; one of a pair is half a blank.
    """
    first = -1 if after is None else after
    from_what = sources(roof)
    out: Blanks = {}
    for p in layout.pieces:
        if first < p.course <= courses:
            for mark, share in from_what.get((p.shape, p.mirrored), {p.mark: Fraction(1)}).items():
                out[mark] = out.get(mark, Fraction(0)) + share * layout.slope.times
    return out


def sources(roof: RoofPlan) -> dict[tuple[int, bool], Blanks]:
    """What blanks one piece of each cut shape takes, by mark."""
    found: dict[tuple[int, bool], list[tuple[str, Fraction, int]]] = {}
    for size in roof.part_sizes:
        for u in size.parts:
            found.setdefault((u.shape, u.mirrored), []).append((size.mark, Fraction(1), u.times))
    for pair in roof.pairs:
        for key in ((pair.first, pair.first_mirrored), (pair.second, pair.second_mirrored)):
            found.setdefault(key, []).append((pair.mark, Fraction(1, 2), pair.times))
    for rest in roof.leftover:
        found.setdefault((rest.shape, rest.mirrored), []).append((rest.mark, Fraction(1), rest.times))
    out: dict[tuple[int, bool], Blanks] = {}
    for key, some in found.items():
        times = sum(n for _, _, n in some)
        each: Blanks = {}
        for mark, share, n in some:
            each[mark] = each.get(mark, Fraction(0)) + share * Fraction(n, times)
        out[key] = each
    return out
