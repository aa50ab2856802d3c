"""One sheet a piece: what is sheared, snipped and folded, with every size to mark and set."""

from __future__ import annotations

from dataclasses import replace

from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.packet.model import Block, Page, Paper, Para, Station
from fabplan.packet.pages.bend import at_the_brake, end_pictures, finished_picture, stroke_blocks
from fabplan.packet.pages.blank import blank_blocks, blank_facts, scribed_blocks, sheared, strip_blocks
from fabplan.packet.pages.cautions import AT_BENCH, AT_BRAKE, AT_SOLDER
from fabplan.packet.pages.kinds import kind_name
from fabplan.packet.setting.keys import piece_key
from fabplan.packet.setting.page_estimate import body, filled_height
from fabplan.plan.model import Plan
from fabplan.speech.format import Say, paper

ALONE, SHARED, STRIP, ENDS = 120.0, 47.0, 40.0, 84.0  # mm, a blank's picture: without strokes, with, of a section

MOST_SHARED = 0.5  # of a sheet, of a piece that may join another
MANY_ROWS = 5  # folds and snips whose tables leave no room under them


def has_a_page(p: FlatPattern, job: Job) -> bool:
    """Whether a piece takes more than its row of the cut list; a plain rectangle does not."""
    if not p.count and not job.done.unfolded.get(p.mark):
        return False
    return bool(p.folds or p.notches or p.round or not p.rectangular)


def rows(p: FlatPattern) -> int:
    """Rows that folds and snips take beside the blank, alike ones in one."""
    folds = {(f.toward, f.turned, f.width, f.gap) for f in p.folds}
    if p.ends:
        return len(folds) + len(p.end_folds) + len(p.snipped)
    return len(folds) + len({(n.kind, n.legs, n.depth) for n in p.notches})


def piece_pages(plan: Plan, say: Say, papers: Paper = "letter") -> list[Page]:
    """A page a piece, those of the bench first, then those of the brake, each in the job's order.

    A piece that takes less than half a sheet joins the one before it where that leaves room.
    """
    pages = [_piece(plan, p, say) for p in plan.patterns if has_a_page(p, plan.job)]
    pages.sort(key=lambda page: page.station == "brake")
    wide, high = body(papers, landscape=False, banner=False)
    out: list[Page] = []
    for page in pages:
        short = filled_height(page.blocks, wide) < MOST_SHARED * high
        out.append(replace(page, joins=short and bool(out)))
    return out


def _piece(plan: Plan, p: FlatPattern, say: Say) -> Page:
    """The sheet of one piece: sizes, picture, tables, strokes."""
    schedule = next((s for s in plan.schedules if s.mark == p.mark), None)
    brake = schedule is not None and at_the_brake(schedule)
    spare = f", {p.spare:,} of them spare" if p.spare else ""
    waiting = plan.job.done.unfolded.get(p.mark, 0)
    more = f"; {waiting:,} more lie cut: snip and fold them too" if waiting else ""
    said = next((piece.note for piece in plan.job.pieces if piece.mark == p.mark), "")
    height = (
        ENDS
        if p.ends
        else SHARED
        if p.far is not None
        else STRIP
        if p.section
        else ALONE
        if schedule is None
        else SHARED
    )
    told = [f"{name.lower()} {what}" for name, what in blank_facts(p, say)] + ([f"note: {said}"] if said else [])
    facts = "; ".join(told)[:1].upper() + "; ".join(told)[1:] + "."
    finished: list[Block] = [] if schedule is None else [finished_picture(plan, p), *end_pictures(plan, p)]
    words = [Para(text=paper(note), size=9) for note in p.notes if note != said]
    under, beside = (finished, words) if rows(p) > MANY_ROWS else (words, finished)
    flat = (plan, p, say, height, under, beside)
    blocks: list[Block] = [
        Para(text=f"Shear {sheared(p, say)}. {plan.metals[p.metal].title}.", size=12, strong=True),
        *([] if p.section and schedule else [Para(text=facts, size=9)]),
        *scribed_blocks(plan, p, say),
        *([*strip_blocks(plan, p, say, height, finished), *words] if p.section else [blank_blocks(*flat)]),
    ]
    if schedule is not None:
        blocks += stroke_blocks(plan, schedule, say, facts if p.section else "")
    caution = AT_SOLDER if p.kind == "flat-seam" else AT_BRAKE if brake else AT_BENCH
    station: Station = "brake" if brake else "bench"
    return Page(
        key=piece_key(plan, "piece", p.mark),
        kind="piece",
        title=f"{p.mark}: {kind_name(p)}, make {p.count:,}{spare}{more}",
        blocks=tuple(blocks),
        station=station,
        caution=caution,
    )
