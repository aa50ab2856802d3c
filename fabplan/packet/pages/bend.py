"""At the bench and the brake: the finished piece first, then a card for every stroke."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fabplan.bending.model import BendSchedule, Step, Unbent
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.packet.model import Band, Beside, Block, Cards, Heading, Notice, Page, Para, Picture, Ticks
from fabplan.packet.pages.kinds import edge_word, fold_name, kind_name
from fabplan.packet.pages.pictures import end_drawing, finished_drawing, plan_drawing, section_drawings
from fabplan.packet.setting.keys import piece_key
from fabplan.plan.model import Plan
from fabplan.speech import folds
from fabplan.speech.ends import fold_title
from fabplan.speech.format import Say, count, listed, paper
from fabplan.speech.labour import BEGAN_ENDED, fold_words

ACTIONS = {"fold": "fold up", "pre-bend": "first stroke", "close": "close", "by hand": "turn by hand"}


def stroke_blocks(plan: Plan, schedule: BendSchedule, say: Say, facts: str = "") -> list[Block]:
    """How the piece lies at the start (after its `facts`), a card for every stroke, boxes for the batches."""
    pattern = plan.pattern(schedule.mark)
    pieces = pattern.count + plan.job.done.unfolded.get(pattern.mark, 0)
    labels = batches(pieces, plan.job.info.batch)
    early = [paper(note) for note in folds.notes(schedule, pattern, plan.job, plan.metals).before]
    columns = _columns(schedule)
    small = columns == 3 or (schedule.kind == "section" and columns > 1)
    bands = [_band(plan, schedule, pattern, step, say, labels, small=small) for step in schedule.steps]
    says = " ".join((*([facts] if facts else []), _start(schedule), *early))
    takes = fold_words(schedule, pieces, plan.job.info.batch)
    return [
        Para(text=f"{says} {takes}   {BEGAN_ENDED}" if takes else says, size=9),
        Cards(
            bands=tuple(bands) if schedule.kind == "section" else _alike(bands),
            columns=columns,
        ),
    ]


def _columns(schedule: BendSchedule) -> int:
    """Columns of the cards, so that six strokes stand on the piece's sheet."""
    strokes = len(schedule.steps)
    if schedule.kind == "section":
        return 1 if strokes < 4 else 2
    return 3 if strokes == 3 or strokes > 4 else 2


def about_the_folds(plan: Plan, say: Say) -> list[Block]:
    """What the office knows of the settings at the brake: whence the springback."""
    told: dict[str, list[str]] = {}
    for schedule in plan.schedules:
        for note in folds.notes(schedule, plan.pattern(schedule.mark), plan.job, plan.metals).after:
            told.setdefault(paper(note), []).append(schedule.mark)
    return [Para(text=f"{listed(marks)}: {note}", size=9) for note, marks in told.items()]


def _alike(bands: Iterable[Band]) -> tuple[Band, ...]:
    """The cards, words that an earlier one has told left out."""
    told: dict[tuple[str, ...], str] = {}
    out = []
    for band in bands:
        first = told.setdefault(band.says[:2], band.number)
        rest = () if first == band.number else band.says[2:]
        out.append(
            replace(band, says=(" ".join((f"As stroke {first}.", *rest) if first != band.number else band.says),))
        )
    return tuple(out)


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
            picture=finished_picture(plan, pattern),
            says=("The finished piece. Bends and hems are counted from the start edge.",)
            if pattern.section is not None
            else ("The finished piece. Edge numbers are those of the blank.",),
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


def at_the_brake(schedule: BendSchedule) -> bool:
    """Whether a stroke of the piece is made in a brake."""
    return any("brake" in step.tool for step in schedule.steps)


def batches(pieces: int, size: int) -> tuple[str, ...]:
    """Labels of the batches: ``1–25``, ``26–50``, ``51–60``."""
    out = []
    for first in range(1, pieces + 1, size):
        last = min(first + size - 1, pieces)
        out.append(f"{first:,}" if last == first else f"{first:,}–{last:,}")
    return tuple(out)


def finished_picture(plan: Plan, pattern: FlatPattern) -> Picture:
    folds = ", ".join(
        f"{edge_word(pattern)} {f.edge} {_one(fold_name(pattern, f))} toward the {f.toward}" for f in pattern.folds
    )
    alt = f"Piece {pattern.mark} finished: {folds}."
    return Picture(drawing=finished_drawing(plan, pattern), alt=alt, least_px=300)


def end_pictures(plan: Plan, pattern: FlatPattern) -> list[Picture]:
    """The turned ends finished, in space."""
    ends = dict.fromkeys(end.at for end in pattern.ends)
    told = {at: ", ".join(fold_title(pattern, e.fold.edge) for e in pattern.ends if e.at == at) for at in ends}
    return [
        Picture(drawing=end_drawing(plan, pattern, at), alt=f"Piece {pattern.mark} finished: {told[at]}.", least_px=200)
        for at in ends
    ]


def _one(name: str) -> str:
    """``an open hem``, ``a fold``."""
    return f"{'an' if name.startswith('o') else 'a'} {name}"


def _start(schedule: BendSchedule) -> str:
    """How the piece lies before the first step, and where one stands."""
    first = schedule.steps[0]
    if schedule.kind == "flat":
        return f"Start with the {first.side_up} up and edge {first.edge} at the tool."
    return f"Start with the {first.side_up} up and the {first.end_in} in the brake."


def _band(
    plan: Plan,
    schedule: BendSchedule,
    pattern: FlatPattern,
    step: Step,
    say: Say,
    labels: tuple[str, ...],
    *,
    small: bool,
) -> Band:
    """One stroke on the page: its picture or pictures, what is done, its settings and checks."""
    word = edge_word(pattern)
    fold = next((f for f in pattern.folds if f.edge == step.edge), None)
    up = f"{step.side_up} up"
    title = f"{word.capitalize()} {step.edge}: {_what(pattern, fold, step, say)}"
    if step.at:
        title = f"Fold {step.edge}: {fold_title(pattern, step.edge)}, {_what(pattern, fold, step, say)}"
    pictures = [
        Picture(
            drawing=plan_drawing(plan, schedule, step, small=small),
            alt=f"Step {step.step}, seen from above, {up}: {word} {step.edge} is folded.",
        )
        for _ in range(0 if step.at else 1)
    ]
    pictures += [
        Picture(
            drawing=drawing,
            alt=f"Step {step.step} in section, {when}: {word} {step.edge} turned {say.degrees(step.turned_deg)}.",
        )
        for drawing, when in section_drawings(plan, schedule, step, small=small)
    ]
    turn = folds.turn_words(step, say.show)
    return Band(
        number=str(step.step),
        first=_sentence(turn) if turn else "",
        title=title,
        side=up.upper(),
        reversed_=step.side_up == "back",
        pictures=tuple(pictures),
        says=tuple(paper(s.brief) for s in folds.stroke_sentences(step, say.show, pattern) if s.brief),
        settings=tuple(_settings(step, say)),
        check_size=say.bare(step.check.size),
        check_says=paper(folds.check_words(step, say.show))
        + (f", {say.bare(step.far.size)} at end B" if step.far and folds.other_size(step, say.show) else "")
        + (", still open" if step.action == "pre-bend" else ""),
        ticks=Ticks(name=_at_a_time(plan.job.info.batch, labels), labels=labels),
    )


def _at_a_time(batch: int, labels: tuple[str, ...]) -> str:
    return f"{batch} at a time" if len(labels) > 1 else "All pieces"


def _sentence(words: str) -> str:
    words = paper(words.strip())
    return words[:1].upper() + words[1:] + ("" if words.endswith(".") else ".")


def _what(pattern: FlatPattern, fold: Fold | None, step: Step, say: Say) -> str:
    """``open hem, fold up``, ``fold up 45°``."""
    if fold is not None and fold.hem:
        return f"{fold_name(pattern, fold)}, {ACTIONS[step.action]}"
    return f"{ACTIONS[step.action]} {say.degrees(step.turned_deg)}"


def _settings(step: Step, say: Say) -> list[tuple[str, str]]:
    """What is set, each a few words and the size or angle."""
    rows = []
    if step.action not in {"close", "by hand"}:
        name = "Depth" if not step.end_in else "Stop" if step.hold.behind else "Measure"
        two = folds.other_stop(step, say.show)
        end = ", end A" if two else ""
        rows.append((f"{name} from {folds.gauged_words(step).removeprefix('the ')}{end}:", say.bare(step.stop)))
        if two and step.far is not None:
            rows.append(("end B", say.bare(step.far.stop)))
    if step.action == "close" and not 0 < step.check_deg < 180:
        rows.append(("Turn", "closed"))
    elif step.set_deg != step.check_deg:
        rows.append(("Set", say.degrees(step.set_deg)))
        rows.append(("Reads", say.degrees(step.check_deg)))
    else:
        rows.append(("Turn", say.degrees(step.turned_deg)))
    return rows
