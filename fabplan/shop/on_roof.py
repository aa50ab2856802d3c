"""Pieces that lie on a roof laid in part, and the lines that hold it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from fabplan.errors import JobError, PlanError
from fabplan.job.model import Job, Laid
from fabplan.plan.file import PlanFile
from fabplan.roof.count import count_courses
from fabplan.roof.lay.layout import lay
from fabplan.roof.model import SlopeLayout
from fabplan.roof.plan import mark_parts
from fabplan.units import from_inches, inches


def slope_of(plan: PlanFile, name: str) -> SlopeLayout:
    """A slope of a saved plan by its name on the pages.

    Raises
    ------
    JobError
    """
    slopes = plan.roof.slopes if plan.roof is not None else ()
    for layout in slopes:
        if layout.slope.name == name:
            return layout
    names = [s.slope.name for s in slopes]
    raise JobError(
        "the plan has no such slope", key="SLOPE", value=name, write=" or ".join(names[:12]) or "a job with slopes"
    )


def held(layout: SlopeLayout, courses: int) -> Laid:
    """The lines of a slope as they were snapped, for it to be laid on by them."""
    return Laid.model_construct(
        slope=layout.slope.name,
        courses=courses,
        centre=layout.alignment,
        from_left=from_inches(layout.centre_x),
        base=from_inches(layout.base),
        course=from_inches(layout.course),
    )


def laid_by_plan(plan: PlanFile, job: Job, name: str, courses: int) -> Counter[str]:
    """Pieces on all slopes of this name up to a course, as the saved plan laid them, by the mark of their blank; what
    lay there before that plan is not among them.

    Raises
    ------
    PlanError
        The rules under ``[roof]`` are others than those of the plan, so that its pieces are not known any more.
    """
    saved = slope_of(plan, name)
    diamond = next(p for p in plan.blanks if p.mark == saved.slope.piece)
    assert diamond.lattice is not None
    laid = lay(
        saved.slope,
        diamond.lattice,
        job.roof,
        alignment=saved.alignment,
        centre_x=saved.centre_x,
        base=saved.base,
        course=saved.course,
        top=None if saved.cap_line is None else saved.cap_line + inches(job.roof.underlap),
    )
    again = [(c.course, c.total) for c in count_courses(laid.pieces, saved.cell)]
    if again != [(c.course, c.total) for c in saved.courses]:
        raise PlanError(
            f"What lies on {name} is not known: [roof] or the diamond is another than in the plan it was laid by.",
            help_="Nothing was written. Set [roof] and the diamond back to what they were.",
        )
    on_the_roof = job.model_copy(update={"roof": job.roof.model_copy(update={"cut_pieces": "on the roof"})})
    (marked,) = mark_parts([replace(saved, pieces=laid.pieces)], on_the_roof, {p.mark: p for p in plan.blanks}).layouts
    return laid_pieces(marked, courses, after=saved.laid)


def laid_pieces(layout: SlopeLayout, courses: int, *, after: int | None = None) -> Counter[str]:
    """Pieces of the courses up to one, above what was laid before, on all the slopes alike, by mark."""
    first = -1 if after is None else after
    out: Counter[str] = Counter()
    for p in layout.pieces:
        if first < p.course <= courses:
            out[p.mark] += layout.slope.times
    return out
