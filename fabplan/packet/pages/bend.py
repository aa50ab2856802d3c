"""At the bench and the brake: the finished piece first, then one band for every stroke."""

from __future__ import annotations

from fabplan.bending.model import BendSchedule, Step, Unbent
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.packet.model import Band, Beside, Block, Column, Heading, Notice, Page, Para, Picture, Table, Ticks
from fabplan.packet.pages.cautions import AT_BENCH, AT_BRAKE
from fabplan.packet.pages.kinds import edge_word, fold_name, kind_name
from fabplan.packet.pages.pictures import finished_drawing, plan_drawing, section_drawings
from fabplan.packet.setting.keys import piece_key
from fabplan.plan.model import Plan
from fabplan.plotter.board.key import draw_brake_key
from fabplan.speech import folds
from fabplan.speech.format import Say, count, paper
from fabplan.speech.labour import BEGAN_ENDED, fold_words

BOXES_IN_BAND = 12
BRAKE_PARTS = (
    "The leaf brake in section, as the pictures of the strokes show it; you stand at the right.",
    "Bed: the strip lies on it. Nose bar: clamps the strip just behind the bend's mark. Leaf (apron): swings up and "
    "takes the metal with it. The bend's mark lies at the edge where bed and leaf meet.",
)
WHERE_YOU_STAND = (
    "You stand at the right of each picture, at the tool; away from you is to its left. Left turns are counter-"
    "clockwise, seen from above."
)
UNDERNEATH = (
    "An open hem that lies underneath must not be pressed flat: lay it past the bench, or put its shim back in."
)
BITE = (
    "Bite: one grip of the jaws. Bend a little at each, along the fold and back again, until the whole flap is turned."
)
DEPTH = "Flap: the hatched metal beyond the fold. Depth: how far the jaws grip in from its raw edge."
SHIM = (
    "Shim: a strip of metal as thick as said. Turn the flap most of the way, lay the shim in the fold, press the flap "
    "down on it, draw it out again."
)
ACTIONS = {"fold": "fold up", "pre-bend": "fold up, first stroke", "close": "close", "by hand": "turn by hand"}


def bend_pages(plan: Plan, say: Say) -> list[Page]:
    """One page a piece that is folded; the first that is bent in the brake names the brake's parts."""
    first = next((s for s in plan.schedules if s.brake is not None and s.kind == "section"), None)
    return [_piece(plan, schedule, say, names_parts=schedule is first) for schedule in plan.schedules]


def unbent_pages(plan: Plan) -> list[Page]:
    """One page a piece that cannot be folded: why, and what would help."""
    return [_unbent(plan, unbent) for unbent in plan.unbent]


def _unbent(plan: Plan, unbent: Unbent) -> Page:
    pattern = plan.pattern(unbent.mark)
    left_out = pattern in plan.left_out
    blanks = (
        "Its blanks are not cut, not bought and not counted."
        if left_out
        else "Its blanks are cut, bought and counted all the same, as asked for."
    )
    blocks: list[Block] = [
        Notice(title="NOT PLANNED", items=(folds.unbent_head(unbent).capitalize(), blanks), loud=True, size=12),
        Beside(
            picture=_finished(plan, pattern),
            says=("The finished piece. Bends and hems are counted from the start edge.",)
            if pattern.section is not None
            else ("The finished piece. Edge numbers are those of the blank page.",),
        ),
        Heading(text="What is in the way"),
        *(Para(text=paper(reason), size=10) for reason in unbent.reasons),
        Heading(text="What would help"),
    ]
    for mend in unbent.mends:
        blocks.append(Para(text=paper(mend.says), size=10))
        if mend.write:
            blocks.append(Para(text=f"Write: {mend.write}", size=10))
    if any(mend.write for mend in unbent.mends):
        words = "Each of these changes was planned again, the rounding of the blank included, and can be folded."
        blocks.append(Para(text=words, size=9.5))
    title = f"Fold {pattern.mark}: {kind_name(pattern)}, {count(pattern.count, 'piece')}: NOT PLANNED"
    return Page(key=piece_key(plan, "unbent", pattern.mark), kind="unbent", title=title, blocks=tuple(blocks))


def _piece(plan: Plan, schedule: BendSchedule, say: Say, *, names_parts: bool) -> Page:
    pattern = plan.pattern(schedule.mark)
    labels = batches(pattern.count, plan.job.info.batch)
    inside = len(labels) <= BOXES_IN_BAND
    notes = folds.notes(schedule, pattern, plan.job, plan.metals)
    early, late = ([paper(note) for note in some] for some in (notes.before, notes.after))
    takes = fold_words(schedule, pattern.count, plan.job.info.batch)
    blocks: list[Block] = [
        Beside(picture=_finished(plan, pattern), says=tuple(_order(schedule, pattern))),
        *([Para(text=f"{takes}   {BEGAN_ENDED}", size=10)] if takes else []),
        *(Para(text=note, size=10) for note in (_start(schedule), *early)),
        *(Para(text=note, size=9.5) for note in _tool_words(schedule)),
    ]
    assumed = folds.assumed_words(schedule, plan.job)
    if assumed:
        words = "Assumed, because the job and shop files do not say: " + "; ".join(assumed) + "."
        blocks.append(Para(text=paper(words), size=9.5))
    blocks += [_band(plan, schedule, pattern, step, say, labels if inside else ()) for step in schedule.steps]
    if not inside:
        blocks += [Heading(text="Batches: tick each step when the whole batch is done"), _batch_table(schedule, labels)]
    if names_parts and schedule.brake is not None:
        picture = Picture(
            drawing=draw_brake_key(schedule.brake), alt="The leaf brake in section: bed, nose bar and leaf."
        )
        blocks.append(Beside(picture=picture, says=BRAKE_PARTS))
    blocks += [Para(text=note, size=10) for note in late]
    caution = AT_BENCH if all("brake" not in step.tool for step in schedule.steps) else AT_BRAKE
    title = f"Fold {pattern.mark}: {kind_name(pattern)}, {count(pattern.count, 'piece')}"
    return Page(
        key=piece_key(plan, "bend", pattern.mark), kind="bend", title=title, blocks=tuple(blocks), caution=caution
    )


def batches(pieces: int, size: int) -> tuple[str, ...]:
    """Labels of the batches: ``1–25``, ``26–50``, ``51–60``."""
    out = []
    for first in range(1, pieces + 1, size):
        last = min(first + size - 1, pieces)
        out.append(f"{first:,}" if last == first else f"{first:,}–{last:,}")
    return tuple(out)


def _finished(plan: Plan, pattern: FlatPattern) -> Picture:
    folds = ", ".join(
        f"{edge_word(pattern)} {f.edge} {_one(fold_name(f))} toward the {f.toward}" for f in pattern.folds
    )
    alt = f"Piece {pattern.mark} finished: {folds}."
    return Picture(drawing=finished_drawing(plan, pattern), alt=alt, least_px=300)


def _one(name: str) -> str:
    """``an open hem``, ``a fold``."""
    return f"{'an' if name.startswith('o') else 'a'} {name}"


def _order(schedule: BendSchedule, pattern: FlatPattern) -> list[str]:
    """What is seen, how many strokes and turns it takes, and how the strokes are named."""
    turns = [
        count(n, one, many)
        for n, one, many in (
            (schedule.turn_overs, "turn-over", ""),
            (schedule.rotations, "rotation", ""),
            (schedule.turn_arounds, "swap of ends", "swaps of ends"),
            (schedule.tool_changes, "change of tool", "changes of tool"),
        )
        if n
    ]
    proof = _PROVEN[schedule.kind] if schedule.proven else "The best order found, not proven least."
    word = edge_word(pattern).capitalize()
    return [
        f"The finished piece. {', '.join([count(len(schedule.steps), 'step'), *turns])}. {proof}",
        f"{word} numbers are those of the blank page. Every fold goes up; the side named lies up.",
    ]


_PROVEN = {
    "flat": "Proven: no order takes less time at the tools, nor, in that time, less turning over.",
    "section": "Proven: no order takes less turning over.",
}


def _start(schedule: BendSchedule) -> str:
    """How the piece lies before the first step, and where one stands."""
    first = schedule.steps[0]
    if schedule.kind == "flat":
        return f"Start with the {first.side_up} up and edge {first.edge} at the tool. {WHERE_YOU_STAND}"
    swap = " Swap ends: turn the strip end for end, the same side up." if schedule.turn_arounds else ""
    return f"Start with the {first.side_up} up and the {first.end_in} in the brake.{swap}"


def _tool_words(schedule: BendSchedule) -> list[str]:
    """Words of the hand tool that the steps use, each told once."""
    holds = [step.hold for step in schedule.steps]
    words = [
        (any(h.bites for h in holds), BITE),
        (any(h.way == "jaws" for h in holds), DEPTH),
        (any(h.shim for h in holds), SHIM),
    ]
    told = [meaning for used, meaning in words if used]
    if schedule.turn_overs and SHIM in told:
        told.append(UNDERNEATH)
    return [" ".join(told)] if told else []


def _band(
    plan: Plan, schedule: BendSchedule, pattern: FlatPattern, step: Step, say: Say, labels: tuple[str, ...]
) -> Band:
    word = edge_word(pattern)
    fold = next((f for f in pattern.folds if f.edge == step.edge), None)
    up = f"{step.side_up} up"
    title = f"{word.capitalize()} {step.edge}: {_what(fold, step, say)}"
    pictures = [
        Picture(
            drawing=plan_drawing(plan, schedule, step),
            alt=f"Step {step.step}, seen from above, {up}: {word} {step.edge} is folded.",
        )
    ]
    pictures += [
        Picture(
            drawing=drawing,
            alt=f"Step {step.step} in section, {when}: {word} {step.edge} turned {say.degrees(step.turned_deg)}.",
        )
        for drawing, when in section_drawings(plan, schedule, step)
    ]
    turn = folds.turn_words(step, say.show)
    return Band(
        number=str(step.step),
        first=_sentence(turn) if turn else "",
        title=title,
        side=up.upper(),
        reversed_=step.side_up == "back",
        pictures=tuple(pictures),
        says=(paper(folds.step_words(step, say.show)),),
        settings=tuple(_settings(step, say)),
        check_size=say.bare(step.check.size),
        check_says=f"check: {paper(folds.check_words(step))}"
        + (", the hem still open" if step.action == "pre-bend" else ""),
        ticks=Ticks(name=f"Batches, step {step.step}", labels=tuple(f"pieces {label}" for label in labels)),
    )


def _sentence(words: str) -> str:
    words = paper(words.strip())
    return words[:1].upper() + words[1:] + ("" if words.endswith(".") else ".")


def _what(fold: Fold | None, step: Step, say: Say) -> str:
    """``open hem, fold up``, ``fold up 45°``."""
    if fold is not None and fold.hem:
        return f"{fold_name(fold)}, {ACTIONS[step.action]}"
    return f"{ACTIONS[step.action]} {say.degrees(step.turned_deg)}"


def _settings(step: Step, say: Say) -> list[tuple[str, str]]:
    rows = [("In the brake", step.end_in)] if step.end_in else []
    rows.append(("Tool", step.tool))
    if step.action not in {"close", "by hand"}:
        name = "Stop" if step.end_in else "Depth"
        rows.append((name, f"{say.bare(step.stop)} from {folds.gauged_words(step)}"))
    turned = say.degrees(step.turned_deg)
    if step.action == "close":
        rows.append(("Turn", "closed, 180°"))
    elif step.set_deg != step.check_deg:
        rows.append(("Set", say.degrees(step.set_deg)))
        rows.append(("Reads", f"{say.degrees(step.check_deg)} (inside {say.degrees(180 - step.check_deg)})"))
    else:
        inside = "" if step.turned_deg == 180 else f" (inside {say.degrees(180 - step.turned_deg)})"
        rows.append(("Turn", f"{turned}{inside}"))
    return rows


def _batch_table(schedule: BendSchedule, labels: tuple[str, ...]) -> Table:
    steps = [str(s.step) for s in schedule.steps]
    sets = max(1, min(3, 15 // (len(steps) + 2)))
    one = [Column(title="Pieces", strong=True), *(Column(title=s, align="centre", tick=True) for s in steps)]
    high = -(-len(labels) // sets)
    rows = []
    for n in range(high):
        row: list[str] = []
        for label in labels[n::high]:
            row += [label, *("" for _ in steps)]
        row += ["–"] * (sets * len(one) - len(row))
        rows.append(tuple(row))
    return Table(name="Batches, a column for every step", columns=tuple(one * sets), rows=tuple(rows))
