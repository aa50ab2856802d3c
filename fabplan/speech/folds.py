"""Folding at the bench and the brake, in the apprentice's words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.springback import metal_springback
from fabplan.bending.model import BendSchedule, Check, Gauge, Step, Turn, Unbent
from fabplan.bending.tools import BY_HAND, LEAF_BRAKE
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Brake, Job
from fabplan.speech.ends import end_notes, end_sentences
from fabplan.units import Show, inches

TURNS = {45: "an eighth turn", 90: "a quarter turn", 135: "three eighths of a turn", 180: "half a turn"}
WIDE_GAP = 1 / 4 + 1e-6  # inches: above it a hem is more than a doubled edge
OVER = {
    "away": "turn over away from you",
    "sideways": "turn over left to right",
    "end": "turn over end for end (the same end goes in)",
    "roll": "turn over (roll it over: the other end goes in)",
}


def join(words: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def angle_words(turned: float, show: Show) -> str:
    """``turned 45° (inside 135°)``."""
    return f"turned {show.degrees(turned)} (inside {show.degrees(180 - turned)})"


# bringing the piece round -------------------------------------------------------------------------------------------


def rotate_words(degrees: float, show: Show) -> str:
    """Rotation on the table as seen from above; positive to the left (counter-clockwise)."""
    size = abs(degrees)
    part = next((words for turn, words in TURNS.items() if abs(size - turn) < 0.5), show.degrees(size))
    if abs(size - 180) < 0.5:
        return f"rotate {part}"
    return f"rotate {part} to the {'left' if degrees > 0 else 'right'}"


def turn_words(step: Step, show: Show) -> str:
    """How the piece is brought round before a stroke; empty when it lies right."""
    turn = step.turn
    if step.at:
        words = ["turn it over"] if turn.over else []
        return ", ".join([*words, f"bring end {step.at} round to you"] if turn.swap else words)
    if step.end_in:
        return OVER[turn.over] if turn.over else "swap ends" if turn.swap else ""
    return _flat_turn(turn, step.edge, show)


def _flat_turn(turn: Turn, edge: int, show: Show) -> str:
    if turn.rotate:
        rotate = f"{rotate_words(turn.rotate, show)}: edge {edge} to the tool"
        return f"{OVER[turn.over]}, then {rotate}" if turn.over else rotate
    if turn.over:
        return f"{OVER[turn.over]}: edge {edge} {'comes to' if turn.shift else 'stays at'} the tool"
    return f"shift to edge {edge}" if turn.shift else ""


# one stroke ---------------------------------------------------------------------------------------------------------


class Sentence(NamedTuple):
    """A sentence of a stroke, and what is left of it beside the settings (side up, stop, how far it is turned)."""

    full: str
    brief: str = ""


def stroke_sentences(step: Step, show: Show, pattern: FlatPattern | None = None) -> list[Sentence]:
    """The stroke in sentences, what to check left out; of a flat piece the first is the side that lies up.

    A turned end of a section is told from its `pattern`.
    """
    up = Sentence(f"{_up(step)}.")
    said: list[Sentence | str]
    if step.action == "by hand":
        said = [*([] if step.end_in else [up]), *_hand_words(step, show)]
    elif step.at and pattern is not None:
        said = [up, *end_sentences(pattern, step, show)]
    else:
        said = _strip_stroke(step, show) if step.end_in else _flat_stroke(step, show)
    return [s if isinstance(s, Sentence) else Sentence(s, s) for s in (*said, *soft_words(step))]


SOFT = {"bed": "Soft cover on the bed: the face lies on it.", "jaw": "Soft jaw on the face."}


def soft_words(step: Step) -> list[str]:
    """What is laid between a face with a finish and the tools."""
    return [SOFT[where] for where in step.soft]


def face_words(finish: str) -> str:
    """How a face with a finish is kept, said once a piece."""
    return (
        f"{finish.capitalize()} face: never scribed. Marks go on the back, in pencil; seen from there, left and right "
        "change places. A soft cover (felt, clean card) lies on bed and leaf wherever the back is up, a soft jaw "
        "(tape, leather) on whatever grips or presses the face."
    )


def named(ref: Gauge) -> str:
    """``the start edge``, ``the fold of hem 4``, ``the outside of bend 2``."""
    if ref.what == "edge":
        return "the start edge" if ref.ref == 1 else "the finish edge"
    return f"the fold of hem {ref.ref}" if ref.what == "hem" else f"the outside of {ref.what} {ref.ref}"


def _up(step: Step) -> str:
    return f"{step.side_up.capitalize()} up"


def _hand_words(step: Step, show: Show) -> list[str]:
    """What is left to the hands, last of all."""
    what = "bend" if step.end_in else "edge"
    goal = f"turned {show.degrees(180)}" if step.turned_deg >= 180 else angle_words(step.turned_deg, show)
    rest = (
        "from flat"
        if abs(step.hold.by_hand - step.turned_deg) < 0.05
        else f"the last {show.degrees(step.hold.by_hand)}"
    )
    how = "over a straight edge clamped along its mark" if step.turned_deg < 180 else "with mallet and block"
    return [f"Off the tools. By hand, {how}: turn {what} {step.edge} {rest} toward the {step.toward}, {goal}."]


def _strip_stroke(step: Step, show: Show) -> list[Sentence | str]:
    """What to do at the brake for one stroke of a strip, a sentence each."""
    hold = step.hold
    head = Sentence(f"{_up(step)}, {step.end_in} in.", f"{step.end_in[:1].upper()}{step.end_in[1:]} in.")
    if step.action == "close" and step.hold.deep:
        return [head, *_shut_words(step, show), *([_shims_words(hold.shims_in)] if hold.shims_in else [])]
    if step.action == "close":
        how = (
            "Push the strip in until the hem is under the nose, and close it"
            if hold.way == "pushed in"
            else "Hem under the nose, the strip out in front, and close it"
        )
        shim = f"on a shim of {show.length(hold.shim)}" if hold.shim else "flat"
        return [head, f"{how} {shim}.", *([_shims_words(hold.shims_in)] if hold.shims_in else [])]
    parts: list[Sentence | str] = [head]
    if step.loading == "end":
        parts.append(
            f"Slide it in from the end of the brake: what {_behind(step)} the nose does not go through the jaw."
        )
    parts.append(_stop_words(step, show))
    if step.action == "pre-bend":
        parts.append(Sentence(f"Swing as far as the leaf goes, {angle_words(step.turned_deg, show)}."))
    else:
        reads = angle_words(step.check_deg, show)
        parts.append(Sentence(f"Swing up, {angle_words(step.set_deg, show)}; let go, it reads {reads}."))
    if hold.bar_off:
        parts.insert(1, "Take the bar off the leaf's edge for this stroke.")
    if hold.shims_in:
        parts.append(_shims_words(hold.shims_in))
    if hold.radius:
        parts.append(
            f"This nose bends sharper than the inside radius of {show.length(hold.radius)} wanted: use a rounded nose "
            "of that radius, set back by it and the metal's thickness, or form it over a pipe; make a test bend first."
        )
    if hold.by_hand:
        parts.append(f"The leaf goes no further: press the last {show.degrees(hold.by_hand)} by hand.")
    if hold.packing:
        parts.append(
            "A hem lies under the strip: fill the hollow from its raw edge to the bend with packing as thick as the "
            "layer underneath."
        )
    if hold.wide_swings:
        parts.append("The wide side lies on the leaf.")
    return parts


def _behind(step: Step) -> str:
    """``stands behind``, ``hangs behind``, ``stands and hangs behind``: where the clamped metal goes."""
    state = step.before
    heights = [y for _, y in state.line[: state.nose_index + 1]] if state is not None else []
    words = (["stands"] if max(heights, default=0.0) > WIDE_GAP else []) + (
        ["hangs"] if min(heights, default=0.0) < -WIDE_GAP else []
    )
    return " and ".join(words or ["stands"]) + " behind"


def _shut_words(step: Step, show: Show) -> list[str]:
    """A fold between legs closed flat or on its shim; a bend sharper than the leaf goes pressed to its angle."""
    hold, deep = step.hold, show.length(step.hold.deep)
    if step.turned_deg < 180:
        high = show.length(hold.shim or 0.0)
        return [
            f"The bend goes under the front of the nose, {deep} deep, the strip out in front; press it down to blocks "
            f"of {high} beside the strip, until it reads {angle_words(step.turned_deg, show)}.",
        ]
    where = (
        "Push the strip in until the fold is under the nose"
        if hold.way == "pushed in"
        else f"The fold goes under the nose, {deep} deep, the strip out in front"
    )
    return [f"{where}; close it {f'on a shim of {show.length(hold.shim)}' if hold.shim else 'flat'}."]


def _shims_words(hems: tuple[int, ...]) -> str:
    return f"Hem {join([str(h) for h in hems])} comes under the nose: put its shim back in, so that it stays open."


def _stop_words(step: Step, show: Show) -> Sentence:
    tape, ref = "Stop" if step.hold.behind else "Measure", step.gauged_from
    if step.far is not None and other_stop(step, show):
        both = f"{show.length(step.stop)} at end A and {show.length(step.far.stop)} at end B"
        return Sentence(
            f"{tape} {both} from {named(ref)}: the marks of bend {step.edge} at both ends lie along the nose."
        )
    if ref.what == "edge":
        return Sentence(f"{tape} {show.length(step.stop)} from {named(ref)} to the mark of bend {step.edge}.")
    # a made bend takes up metal: the mark then lies a little nearer than the leg is long
    off = "he mark may lie a little off the edge."
    return Sentence(f"{tape} {show.length(step.stop)} from {named(ref)}; t{off}", f"T{off}")


def _flat_stroke(step: Step, show: Show) -> list[Sentence | str]:
    hold, up = step.hold, Sentence(f"{_up(step)}.")
    parts: list[Sentence | str]
    shim = "" if hold.shim is None else f" on a shim of {show.length(hold.shim)}" if hold.shim else " flat"
    if step.action == "close":
        how = "under the nose" if hold.way == "under nose" else f"with the {step.tool}"
        parts = [up, f"Close the hem of edge {step.edge} {how}{shim}."]
    else:
        grip = _grip_words(step, show)
        parts = [up, f"{grip[0].upper()}{grip[1:]}."]
        turned = step.turned_deg
        goal = f"turned {show.degrees(turned)}" if turned >= 180 else angle_words(turned, show)
        if step.action == "pre-bend":
            parts.append(Sentence(f"Fold up as far as it goes, {goal}."))
        elif step.set_deg > turned:
            parts.append(Sentence(f"Fold up, {angle_words(step.set_deg, show)}; let go, it reads {goal}."))
        else:
            parts.append(Sentence(f"Fold up, {goal}{shim}.", f"Shim {show.length(hold.shim)}." if hold.shim else ""))
    if hold.clear_of:
        many = "folds" if len(hold.clear_of) > 1 else "fold"
        parts.append(f"Stay off the {many} of {join([f'edge {e}' for e in hold.clear_of])} at the corner.")
    if hold.hanging:
        points = "points" if len(hold.hanging) == 1 else "point"
        edges = join([f"edge {e}" for e in hold.hanging]).capitalize()
        parts.append(f"{edges} {points} down now: lay the piece on a block, so that it hangs free.")
    return parts


def _grip_words(step: Step, show: Show) -> str:
    """What holds the flap, and how deep."""
    hold, depth = step.hold, show.length(step.stop)
    if hold.way == "nose":
        words = f"fold line under the nose, {depth} from the raw edge"
    elif hold.way == "slot":
        words = f"edge {step.edge} in the slot of the {step.tool}"
        if hold.loose > show.grid / 25_400_000 / 2:
            words += f", {depth} deep: set its edge on the fold line, do not push to the bottom"
    else:
        words = f"{step.tool} {depth} onto the flap"
    if hold.bites:
        words += f", in {hold.bites} bites of up to {show.length(hold.bite)} along the fold"
    return words


def other_stop(step: Step, show: Show) -> bool:
    """Whether the stop is another at end B of a tapered strip, as printed."""
    return step.far is not None and show.bare(step.far.stop) != show.bare(step.stop)


def other_size(step: Step, show: Show) -> bool:
    """Whether the check size is another at end B, as printed."""
    return step.far is not None and show.bare(step.far.size) != show.bare(step.check.size)


def check_words(step: Step, show: Show) -> str:
    """Where the check size is measured: ``outside of bend 1 to the start edge``."""
    return _check_at(step) + (" at end A" if other_size(step, show) else "")


def _check_at(step: Step) -> str:
    check: Check = step.check
    if step.at:
        return f"raw edge of fold {step.edge} to its outside"
    if check.what == "flap":
        return f"raw edge of edge {step.edge} to the outside of its fold"
    if check.what == "hem" or check.to is None:
        return f"outside of hem {step.edge} to its raw edge"
    return f"outside of bend {step.edge} to {named(check.to)}"


# the whole piece ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """What is read before the first stroke, and what explains after the last."""

    before: tuple[str, ...]
    after: tuple[str, ...]


def notes(schedule: BendSchedule, pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]) -> Notes:
    """Sentences about the whole piece."""
    show = Show(job.info.units, job.info.round_to)
    before: list[str] = []
    after: list[str] = []
    if schedule.kind == "section":
        strip = BendStrip(pattern)
        before += _strip_notes(strip, pattern, show)
        before += end_notes(pattern, show) if pattern.ends else []
        after += _springback_notes(schedule, strip, job, metals[pattern.metal], show)
    before += _batch_notes(schedule, pattern, job, show)
    if pattern.finish != "bare":
        before.insert(0, face_words(pattern.finish))
    return Notes(before=tuple(before), after=tuple(after))


def _strip_notes(strip: BendStrip, pattern: FlatPattern, show: Show) -> list[str]:
    tapered = ["Tapered: end A and end B as on the blank, mark both; set every stroke by its marks at both ends."]
    out = tapered if pattern.far is not None else []
    out += [
        f"The start edge is {_end_words(strip, 0, show)}, the finish edge {_end_words(strip, strip.n, show)}: "
        f"mark the start edge on {'both sides' if pattern.finish == 'bare' else 'the back'} of every strip. Bends and "
        "hems count from it."
    ]
    if pattern.parts > 1:
        out.append(
            f"Longer than the shop cuts or bends in one: every piece is made in {pattern.parts} strips of "
            f"{show.length(strip.length)}, bent alike and lapped on the roof."
        )
    wide = [k + 1 for k, gap in enumerate(strip.gaps) if gap is not None and gap > WIDE_GAP]
    quarter = "1/4 in" if show.unit == "in" else "6 mm"
    out += [f"Hem {k} opens more than {quarter}: it is drawn as a doubled edge; watch it at the nose." for k in wide]
    return out


def _springback_notes(schedule: BendSchedule, strip: BendStrip, job: Job, metal: MetalProfile, show: Show) -> list[str]:
    bends = [s for s in schedule.steps if s.metal_springback is not None]
    if not bends:
        return []
    worst = max(bends, key=lambda s: (s.metal_springback or 0.0, s.turned_deg))
    radius = strip.radii[worst.edge - 1]
    low = metal_springback(metal, worst.turned_deg, radius, pick=min)
    high = metal_springback(metal, worst.turned_deg, radius)
    own = (
        f"Settings go past the angle wanted by the shop's springback, {show.degrees(job.brake.springback)} at a square "
        f"sharp bend, and what the metal opens more or less at its own angle and radius, to the half degree. "
        f"The metal's own part is {show.number(low)} to {show.number(high)} degrees at bend {worst.edge}, "
        f"turned {show.degrees(worst.turned_deg)}, from its yield and modulus"
    )
    more = high > job.brake.springback
    return [own + (": more than the shop's. Make a test bend first." if more else "; the rest is play.")]


def _end_words(strip: BendStrip, i: int, show: Show) -> str:
    """``that of hem 1``, ``the free one of the 2 in leg at bend 3``: as the finished section shows it."""
    ends = zip(strip.end_hems, strip.hem_at_start, strict=True)
    if any(hem and (i == 0 if first else i == strip.n) for hem, first in ends):
        return f"that of hem {1 if i == 0 else strip.n}"
    return f"the free one of the {show.length(strip.legs[i])} leg at bend {1 if i == 0 else strip.n}"


def _batch_notes(schedule: BendSchedule, pattern: FlatPattern, job: Job, show: Show) -> list[str]:
    """Strokes of one setting are made one after another over the whole batch."""
    out: list[str] = []
    alike: dict[tuple[str, str, float], list[int]] = {}
    for s in schedule.steps:
        if s.action not in {"close", "by hand"}:
            stop = show.bare(s.stop)
            if s.far is not None and other_stop(s, show):
                stop += f" at end A, {show.bare(s.far.stop)} at end B"
            alike.setdefault((s.tool, stop, round(s.set_deg, 2)), []).append(s.step)
    for (tool, stop, angle), numbers in alike.items():
        if len(numbers) > 1:
            out.append(
                f"Steps {join([str(n) for n in numbers])} share one setting of the {tool}: "
                f"{stop} {show.unit}, {show.degrees(angle)}."
            )
    return out


def unbent_words(unbent: Unbent) -> str:
    """A piece that cannot be folded, for the terminal: why, and what to write for it to go."""
    head = f'piece "{unbent.mark}" is NOT PLANNED: {unbent_head(unbent)}'
    helps = [f"{m.says[:-1]}: {m.write}." if m.write else m.says for m in unbent.mends]
    return " ".join([head, *unbent.reasons, *(["What would help:"] if helps else []), *helps])


def unbent_head(unbent: Unbent) -> str:
    """Whether it is proven."""
    if unbent.proven:
        return "it cannot be folded with the tools at hand."
    return "no order was found in the work allowed."


def not_planned(plan_marks: Iterable[str]) -> str:
    """What stands at the head of every page: ``NOT PLANNED: C and D``."""
    marks = list(plan_marks)
    return f"NOT PLANNED: {join(marks)}" if marks else ""


def left_out_words(unbent: Sequence[Unbent], *, counted: bool = False) -> list[str]:
    """A line for every piece the plan leaves out, for sums without its blanks; `counted` where they are all in them."""
    what = "its blanks are in these sums, not in a plan" if counted else "its blanks are in none of these sums"
    return [f"{u.mark} cannot be folded with the tools at hand: {what}." for u in unbent]


# what the schedule rests on -----------------------------------------------------------------------------------------

ASSUMED_WORDS = {
    "longest_bend": "longest bend",
    "largest_angle": "largest angle",
    "nose_angle": "nose angle",
    "nose_land": "nose land",
    "nose_setback": "nose set back",
    "apron_bar": "apron bar",
    "apron_bar_off": "leaf's edge without its bar",
    "apron_hang": "apron hangs",
    "bed_depth": "bed runs back",
    "beam_depth": "clamping beam runs back",
    "jaw": "jaw opens",
    "throat": "throat",
    "least_flange": "least flange",
    "least_clamp": "least clamped flat",
    "deepest_flattened_hem": "deepest hem flattened",
    "springback": "springback of the shop",
}


def brake_assumed(brake: Brake, show: Show) -> tuple[str, ...]:
    """The brake sizes that took the shop default, in words."""
    out = []
    for key, words in ASSUMED_WORDS.items():
        if not any(a == key or a.endswith((f".{key}", f"> {key}")) for a in brake.assumed):
            continue
        value = getattr(brake, key)
        if key in {"largest_angle", "nose_angle", "springback"}:
            text = show.degrees(value)
        elif key == "nose_setback":
            text = f"{show.number(value)} thicknesses"
        else:
            text = show.exact(value)
        out.append(f"{words} {text}")
    return tuple(out)


def assumed_words(schedule: BendSchedule, job: Job) -> tuple[str, ...]:
    """Sizes of the tools that this schedule uses and the job and shop files do not give."""
    show = Show(job.info.units, job.info.round_to)
    hands = sorted({s.tool for s in schedule.steps} - {LEAF_BRAKE, BY_HAND})
    out: tuple[str, ...] = ()
    if "hem_tool" in job.assumed and hands:
        wide = {t.name: inches(t.longest_fold) for t in job.hem_tools}
        out = (f"{join([f'{name} {show.length(wide[name])} wide' for name in hands])}, as usual",)
    if any(s.tool == LEAF_BRAKE for s in schedule.steps):
        out += brake_assumed(job.brake, show)
    return out


def gauged_words(step: Step) -> str:
    """What the stop or the tool's depth is measured from."""
    what, ref = step.gauged_from.what, step.gauged_from.ref
    if what == "edge":
        return ("the start edge" if ref == 1 else "the finish edge") if step.end_in else f"raw edge {ref}"
    return f"{what} {ref}"
