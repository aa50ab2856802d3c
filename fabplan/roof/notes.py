"""What the crew should know about the roof, in plain sentences."""

from __future__ import annotations

import math

from fabplan.job.model import Job, SectionPiece
from fabplan.roof.lay.hips import repeating_angles
from fabplan.roof.lay.repeats import hip_angle
from fabplan.roof.measure.tape import WARN_MISFIT, WARN_SIGMAS
from fabplan.roof.model import RoofPlan, SlopeLayout, shoelace
from fabplan.roof.parts.off_falls import cut_on_roof
from fabplan.roof.words import many, size
from fabplan.units import Show, inches

_LEFT_OUT = {
    "sliver": "Parts thinner than the sliver limit, left out under the cap",
    "under a cap": "Pieces wholly under a cap, left out",
}
LEAST_PITCH = math.degrees(math.atan2(3, 12))


def roof_notes(plan: RoofPlan, job: Job) -> list[str]:
    """Notes of all slopes, each said once."""
    units = job.info.units
    out: list[str] = []
    for layout in plan.slopes:
        slope = layout.slope
        out += slope.notes
        if slope.misfit is not None and (slope.misfit.disagreement > WARN_MISFIT or slope.misfit.sigmas > WARN_SIGMAS):
            out.append(
                f"The tape readings of {slope.entry} disagree by {size(slope.misfit.disagreement, units)}: "
                f"{slope.misfit.says}. The best fit to all of them is used."
            )
        if slope.lean is not None and slope.lean.known:
            side = "right" if slope.lean.amount > 0 else "left"
            out.append(
                f"{slope.name} leans {size(abs(slope.lean.amount), units)} to the {side} "
                f"(one standard deviation {size(slope.lean.sigma, units)})."
            )
        alone = sum(other.slope.entry == slope.entry for other in plan.slopes) == 1
        out += [n for n in layout.notes if alone or not n.startswith("Apex cap on ")]
        if slope.pitch is not None and slope.pitch < LEAST_PITCH - 1e-6:
            out.append(
                f"{slope.name} is flatter than 3 in 12, the least slope for metal shingles in the 2018 International "
                "Building Code, 1507.5.2: local codes and makers' instructions decide."
            )
        out += _repeat(layout) if job.roof.cut_pieces == "at the bench" else []
    out += _caps(plan, units)
    for why, words in _LEFT_OUT.items():
        gone = [(s.slope.name, n) for s in plan.slopes if (n := sum(v.why == why for v in s.slivers))]
        if gone:
            least = size(inches(job.roof.least_underlap), units)
            out.append(f"{words}; their neighbours run {least} or more under it: {_listed(gone)}.")
    hidden = [(s.slope.name, n) for s in plan.slopes if (n := sum(p.under_cap for p in s.pieces))]
    if hidden:
        may = "" if job.roof.under_cap == "leave out" else '; under_cap = "leave out" leaves out those that may be'
        out.append(f"Pieces wholly under a cap, laid: {_listed(hidden)}{may}.")
    snips = [(s.slope.name, n) for s in plan.slopes if (n := sum(c.trimmed for c in s.courses))]
    if snips:
        out.append(f"Whole pieces whose hidden hems pass an edge and need a snip there: {_listed(snips)}.")
    cut = on_roof_note(plan, job) if job.roof.cut_pieces == "on the roof" else cut_piece_note(plan, job)
    out += [cut] if cut else []
    said = lengths_note(plan, job)
    out += [said] if said else []
    given = {p.mark for p in job.pieces if p.count is None}
    out += [f"The slopes take no piece {mark}." for mark, n in plan.counts if n == 0 and mark in given]
    over = [k.label for k in plan.kits if k.over]
    out += [f"{label} is one piece heavier than the lift limit." for label in over]
    return list(dict.fromkeys(out))


def on_roof_note(plan: RoofPlan, job: Job) -> str:
    """How many pieces are trimmed in place, what off-falls save, and that this is the default."""
    trimmed = sum(s.slope.times for s in plan.slopes for p in s.pieces if cut_on_roof(p, s))
    if not trimmed:
        return ""
    said = f"Cut pieces: {trimmed:,} go up whole and are scribed and snipped in place."
    saved, over = sum(o.times for o in plan.off_falls), sum(n for _, n in plan.off_fall_spare)
    if saved:
        said += (
            f" {saved:,} of them are got from off-falls: {trimmed - saved:,} whole pieces and {over:,} over go up for "
            f"them instead of {trimmed:,}."
        )
    elif job.roof.use_off_falls:
        said += " No off-fall holds another."
    if "cut_pieces" not in job.roof.model_fields_set:
        said += ' (cut_pieces = "on the roof", the default; "at the bench" cuts them in the shop by templates.)'
    return said


def lengths_note(plan: RoofPlan, job: Job) -> str:
    """Lengths of edge metal chosen for this roof; nothing where all are as typed."""
    typed = {p.mark: p.length for p in job.pieces if isinstance(p, SectionPiece)}
    named = [f"{mark} {job.show.exact(nm)} (typed {job.show.exact(typed[mark])})" for mark, nm in plan.edge_lengths]
    if not named:
        return ""
    return (
        f"Edge metal is made in lengths that divide the measured edges: {', '.join(named)}. "
        'lengths = "as typed" under [roof] keeps the typed ones.'
    )


def told_of_cut_pieces(plan: RoofPlan, job: Job) -> list[str]:
    """What the terminal says of the cut pieces: where they are cut, and what the other way would take."""
    cut = on_roof_note(plan, job) if job.roof.cut_pieces == "on the roof" else cut_piece_note(plan, job)
    return [note for note in (cut, ways_note(plan, job), lengths_note(plan, job)) if note]


def ways_note(plan: RoofPlan, job: Job) -> str:
    """Metal and hours of the cut pieces the other way, against those planned."""
    if len(plan.ways) != 2:
        return ""
    here, there = plan.ways
    show = Show(job.info.units, int(job.info.round_to))
    metal, hours = there.metal - here.metal, there.hours - here.hours
    more = [
        f"{'take' if metal > 0 else 'save'} {show.area(abs(metal))} of blanks",
        f"{'take' if hours > 0 else 'save'} {abs(hours):.1f} h",
    ]
    and_templates = f", with {many(there.templates, 'template')}" if there.templates else ""
    return (
        f"Cut pieces {here.how}: {here.blanks:,} blanks of the diamonds, {show.area(here.metal)}, and {here.hours:.1f} "
        f"h to cut and lay those that are cut. {there.how.capitalize()} would {' and '.join(more)} ({there.blanks:,} "
        f"blanks{and_templates}), by the shop's times of the work and without the cuts at the shear."
    )


def cut_piece_note(plan: RoofPlan, job: Job) -> str:
    """Which blanks the cut shapes come from, and what the part blanks save; nothing on a roof without cut shapes."""
    cut = sum(s.same + s.mirrored for s in plan.shapes)
    if not cut:
        return ""
    ways = []
    pairs, alone = sum(p.times for p in plan.pairs), sum(p.times for p in plan.leftover)
    if pairs:
        ways.append(f"{2 * pairs:,} are got two by two from {many(pairs, 'whole blank')}")
    if alone:
        ways.append(f"{alone:,} from a whole blank each")
    if plan.part_sizes:
        sizes = ", ".join(f"{s.times:,} x {s.mark}" for s in plan.part_sizes)
        ways.append(f"{sum(s.times for s in plan.part_sizes):,} from part blanks ({sizes})")
    said = f"Cut pieces: of {cut:,}, {', '.join(ways)}."
    if plan.part_sizes:
        whole = {s.mark: abs(shoelace(s.blank)) for s in plan.shapes}
        less = sum(n * whole[mark] for mark, n in plan.spared)
        saved = less - sum(s.times * s.share * whole[s.diamond] for s in plan.part_sizes)
        metal = sum(n * whole[mark] for mark, n in plan.counts if mark in whole) + less
        show = Show(job.info.units, int(job.info.round_to))
        said += (
            f" The part blanks stand in for {sum(n for _, n in plan.spared):,} whole ones and take "
            f"{show.area(saved)} less metal ({show.percent(saved / metal)} of all diamond blanks)."
        )
    return said


def _listed(items: list[tuple[str, int]]) -> str:
    return ", ".join(f"{n} on {name}" for name, n in items)


def _caps(plan: RoofPlan, units: str) -> list[str]:
    """One sentence for the apex caps of a spire whose slopes are not alike."""
    out = []
    for entry in dict.fromkeys(s.slope.entry for s in plan.slopes):
        mine = [s for s in plan.slopes if s.slope.entry == entry and s.cap_line is not None]
        if len(mine) < 2:
            continue
        long = [max(y for _, y in s.slope.outline) - (s.cap_line or 0.0) for s in mine]
        out.append(
            f"Apex cap on {entry}: {size(min(long), units)} to {size(max(long), units)} long up the slopes; a smaller "
            "apex_width makes it shorter, over courses of single pieces cut on both sides."
        )
    return out


def _repeat(layout: SlopeLayout) -> list[str]:
    base = hip_angle(layout)
    for every, angle in repeating_angles(base) if base is not None else ():
        if abs(angle - layout.top_angle) < 0.05:
            return [
                f"{layout.slope.name}: the cuts along the hips repeat every {every} courses: one set of templates does."
            ]
    return []
