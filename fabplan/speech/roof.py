"""What the crew should know about the roof, in plain sentences."""

from __future__ import annotations

import math
from typing import assert_never

from fabplan import plane
from fabplan.job.model import Job
from fabplan.roof.lay.hips import repeating_angles
from fabplan.roof.lay.repeats import hip_angle
from fabplan.roof.measure.tape import WARN_MISFIT, WARN_SIGMAS
from fabplan.roof.model import CutWay, Fastener, RoofPlan, SlopeLayout
from fabplan.roof.parts.off_falls import cut_on_roof
from fabplan.roof.remarks import (
    ApexCap,
    Choice,
    EaveDrop,
    EvenCourses,
    HeldCourses,
    HipsMeet,
    LeanUnknown,
    NoApexCap,
    NoLevelRidge,
    NotHooked,
    NotPlumb,
    SlopeNote,
    SpirePoint,
    TapeDiagonal,
)
from fabplan.roof.words import disagree, many, size
from fabplan.units import Show, inches

RESTS_ON = (
    "These figures rest on a geometric model of the lock and on the spreads in the shop file, not on a mock-up: lay up "
    "ten courses and measure them before relying on them."
)
_LEFT_OUT = {
    "sliver": "Parts thinner than the sliver limit, left out under the cap",
    "under a cap": "Pieces wholly under a cap, left out",
}
LEAST_PITCH = math.degrees(math.atan2(3, 12))


def notes(plan: RoofPlan, job: Job) -> tuple[str, ...]:
    """Everything to read of a roof before starting."""
    hips = [_hips_meet(n, job.info.units) for n in plan.notes if isinstance(n, HipsMeet)]
    choices = [_choice(n) for n in plan.notes if isinstance(n, Choice)]
    ways = ways_note(plan, job)
    return (*hips, *hook_words(plan, job), *_roof_notes(plan, job), *choices, *([ways] if ways else []))


def note_words(note: SlopeNote, job: Job) -> str:
    """A fact of a slope in words."""
    units = job.info.units
    if isinstance(note, EaveDrop):
        if note.level is None:
            return f"Courses follow the eave, which drops {size(note.drop, units)} to the {note.low_end}."
        through = "middle of the eave" if note.level == "middle" else f"{note.level} end of the eave"
        return (
            f"Courses are level though the eave drops {size(note.drop, units)} to the {note.low_end}: "
            f"heights are from a level line through the {through}, and the starters taper."
        )
    if isinstance(note, NoApexCap):
        return (
            f"An apex cap {size(note.width, units)} wide would cover slope {note.slope} down to its first course, so "
            "none is planned: cover the point in one piece."
        )
    if isinstance(note, ApexCap):
        said = f"Apex cap on {note.slope}: {size(note.length, units)} long up the slope, from course line {note.line}."
        if note.narrow is not None:
            said += (
                f" With apex_width = {size(6.0, units)} it would be {size(note.narrow, units)} long, over courses of "
                "single pieces cut on both sides."
            )
        return said
    if isinstance(note, EvenCourses):
        how = (
            f"On {note.slope} {many(note.courses, 'course')} come out even at the ridge when each is closed up by "
            f"{size(note.closed, units)}, leaving {size(note.hooked, units)} hooked"
        )
        if note.how == "refused":
            least = size(inches(job.roof.least_hook), units)
            return f"{how}: less than the least hook of {least}, so they are not."
        return f"{how}." if note.how == "done" else f"{how}: even_courses = true does that."
    if isinstance(note, HeldCourses):
        return (
            f"{note.slope} is laid up to course {note.courses}: its centre line, base line and courses stay where they "
            "were snapped; kits and hours are of what is above."
        )
    if isinstance(note, NoLevelRidge):
        return f"{note.slope} has no level ridge, so its courses keep their full height."
    if isinstance(note, LeanUnknown):
        return (
            f"The lean of {size(abs(note.amount), units)} is less than two standard deviations of the "
            f"tape ({size(2 * note.sigma, units)}): treat the slope as straight, or drop a plumb line."
        )
    if isinstance(note, SpirePoint):
        corners = ", ".join(f"{c:.1f}°" for c in note.corners)
        return (
            f"The point of {note.entry} stands {size(note.off, units)} from over the middle of the corners (known to "
            f"{size(note.sigma, units)}); plan corners {corners} (known to {note.corner_sigma:.2f}°)."
        )
    if isinstance(note, TapeDiagonal):
        return f"One diagonal taped across the base of {note.entry} would check these sizes and sharpen the corners."
    assert_never(note)


def hook_words(plan: RoofPlan, job: Job) -> list[str]:
    """What of the drip edge does not suit the starters or the pitch."""
    units = job.info.units
    out = [
        f"Warning: {n.starter} cannot hook {n.section} as it lies on the slope: its nearest edge points "
        f"{n.turned:.0f}° off the slope and lies {size(n.off, units)} off its plane. Let the leg on the slope run "
        'past the eave and fold it back there ("bends" may hold 180), or turn the hems down over the eave by hand.'
        for n in plan.notes
        if isinstance(n, NotHooked)
    ]
    bent: dict[tuple[str, float, float], list[NotPlumb]] = {}
    for n in plan.notes:
        if isinstance(n, NotPlumb):
            bent.setdefault((n.section, round(n.bend, 1), n.found), []).append(n)
    for (section, wanted, found), some in bent.items():
        where = ", ".join(dict.fromkeys(n.slope for n in some))
        out.append(
            f"Warning: the face of {section} hangs {abs(wanted - found):.0f}° out of plumb on {where}: at a pitch of "
            f"{some[0].pitch:.1f}° its bend is {wanted:.1f}°, not {found:g}°"
            ' ("roof" in its place takes it from the pitch).'
        )
    return out


def _hips_meet(note: HipsMeet, units: str) -> str:
    return f"{note.hip}: the courses of both slopes meet within {size(note.within, units)}."


def _choice(note: Choice) -> str:
    return (
        f"A choice for {note.slope}: with top_angle = {note.angle:g} the cuts along its hips repeat every "
        f"{many(note.every, 'course')}: {many(note.shapes, 'cut shape')} to make templates of instead of "
        f"{note.shapes_now}, {note.blanks:,} whole blanks, pairs taken off, instead of {note.blanks_now:,}."
    )


def _apart(f: Fastener, job: Job) -> str:
    apart = f.apart or 0.0
    return f"{apart:g} in" if job.info.units == "in" else f"{apart * 25.4:.0f} mm"


def fastener_words(f: Fastener, job: Job) -> str:
    """How fasteners are counted."""
    if f.what == "cleat nails":
        return f"{f.each} a cleat"
    if f.what == "edge strip nails":
        return f"one every {_apart(f, job)} along the eaves"
    if f.what == "cap cleats":
        return f"one every {_apart(f, job)} along both lower edges of hip and ridge caps"
    source = job.roof.fastener_source or "the shop's own count"
    return f"{f.each} a piece, whole and cut ({source})"


def _roof_notes(plan: RoofPlan, job: Job) -> list[str]:
    """Notes of all slopes, each said once."""
    units = job.info.units
    out: list[str] = []
    for layout in plan.slopes:
        slope = layout.slope
        out += [note_words(n, job) for n in slope.notes]
        if slope.misfit is not None and (slope.misfit.disagreement > WARN_MISFIT or slope.misfit.sigmas > WARN_SIGMAS):
            out.append(
                f"The tape readings of {slope.entry} disagree by {size(slope.misfit.disagreement, units)}: "
                f"{disagree(slope.misfit)}. The best fit to all of them is used."
            )
        if slope.lean is not None and slope.lean.known:
            side = "right" if slope.lean.amount > 0 else "left"
            out.append(
                f"{slope.name} leans {size(abs(slope.lean.amount), units)} to the {side} "
                f"(one standard deviation {size(slope.lean.sigma, units)})."
            )
        alone = sum(other.slope.entry == slope.entry for other in plan.slopes) == 1
        out += [note_words(n, job) for n in layout.notes if alone or not isinstance(n, ApexCap)]
        if slope.pitch is not None and slope.pitch < LEAST_PITCH - 1e-6:
            says = (
                "3 in 12, the least slope for metal shingles in the 2018 International Building Code, 1507.5.2"
                if units == "in"
                else "14° (25 %), a usual least slope for metal shingles"
            )
            out.append(f"{slope.name} is flatter than {says}: local codes and makers' instructions decide.")
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
        said += (
            ' (cut_pieces = "on the roof", the default; "at the bench" cuts them in the shop by templates, "cheaper" '
            "lets metal and hours decide.)"
        )
    return said


def lengths_note(plan: RoofPlan, job: Job) -> str:
    """Lengths of edge metal chosen for this roof; nothing where all are as typed."""
    named = [
        f"{x.mark} {job.show.exact(x.length)}"
        + (f" (typed {job.show.exact(x.typed)})" if x.mark == x.of and x.length != x.typed else "")
        for x in plan.edge_lengths
    ]
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
        f"h to snip, fold, cut and lay those that are cut. {there.how.capitalize()} would {' and '.join(more)} "
        f"({there.blanks:,} blanks{and_templates}){_worth_words(here, there, job)}."
    )


def _worth_words(here: CutWay, there: CutWay, job: Job) -> str:
    """What the other way comes to in money, metal and hours together, and what to write where it is less."""
    if here.money is None or there.money is None:
        return ", by the shop's times of the work and without the cuts at the shear"
    off = there.money - here.money
    amount = f"{abs(off):,.0f} {job.info.currency}".rstrip()
    said = f": about {amount} {'more' if off >= 0 else 'less'} in all, without the cuts at the shear"
    return said if off >= 0 else f'{said}. For that write cut_pieces = "{there.how}" under [roof]'


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
        whole = {s.mark: abs(plane.area(s.blank)) for s in plan.shapes}
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
