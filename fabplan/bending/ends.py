"""Strokes of the turned ends of a section: at the bench with hand tools, after all that the brake makes.

A dam stands where the nose of a full-length brake would have to lie, so the long bends come first (common practice, no
source). Ends are turned first, then their tabs are folded round them, those to the side that
lies up before the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from fabplan.bending.errors import BendError
from fabplan.bending.model import Check, Gauge, Hold, Mend, Step, Turn
from fabplan.bending.tools import Pace, Tool, bench, is_mallet, why_not
from fabplan.blanks.develop import develop
from fabplan.blanks.model import EndTurn, FlatPattern, Fold
from fabplan.errors import JobError
from fabplan.job.kinds.ends import TurnedEnd
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, SectionPiece
from fabplan.units import NM_PER_INCH, Nm, Show

WORDS = {
    "narrow": "holds no fold narrower than {least}",
    "wide": "holds none wider than {greatest}",
    "long": "folds no longer than {longest}",
    "slot": "has a slot {slot} deep",
    "angle": "turns {angle}",
    "between": "does not go in between the legs, {between} apart",
}


class _NoToolError(Exception):
    """No tool turns this fold; `between` legs so far apart."""

    def __init__(self, end: EndTurn, fold: Fold, tools: Sequence[Tool], between: float) -> None:
        super().__init__(fold.edge)
        self.end, self.fold, self.tools, self.between = end, fold, tools, between


def with_ends(
    steps: Sequence[Step], pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]
) -> tuple[tuple[Step, ...], int, int]:
    """The strokes with those of the turned ends after them; turn-overs and swaps of ends that they add.

    Raises
    ------
    BendError
        No hand tool of the shop turns an end.
    """
    out = list(steps)
    overs = swaps = 0
    try:
        picked = list(_picked(pattern, job, steps[-1].side_up if steps else "face"))
    except _NoToolError as none:
        raise BendError(pattern.mark, [_reason(none, job)], _mends(none, pattern, job, metals)) from None
    for end, fold, tool in picked:
        last = out[-1] if out else None
        over = last is not None and last.side_up != fold.toward
        swap = last is not None and last.at not in {"", end.at}
        overs, swaps = overs + over, swaps + swap
        out.append(_step(len(out) + 1, pattern, fold, tool, end.at, out, over=over, swap=swap))
    return tuple(out), overs, swaps


def ends_are_turned(pattern: FlatPattern, job: Job) -> bool:
    """Whether the shop's hand tools turn every end of a piece."""
    try:
        list(_picked(pattern, job, "face"))
    except _NoToolError:
        return False
    return True


def _picked(pattern: FlatPattern, job: Job, up: str) -> Iterator[tuple[EndTurn, Fold, Tool]]:
    """Folds of the ends in the order they are made, each with the tool that takes least time."""
    tools = [tool for tool in bench(job, pattern.thickness) if not tool.is_brake]
    pace = Pace(labour=job.labour, pieces=max(1, min(pattern.count, job.info.batch)))
    for first in (True, False):
        own = sorted((e for e in pattern.ends if (e.fold.toward == up) == first), key=lambda e: e.at)
        # what is turned at both ends has one setting, and its tabs another
        for end, fold in [*((e, e.fold) for e in own), *((e, tab) for e in reversed(own) for tab in e.tabs)]:
            between = end.between if fold is end.fold else 0.0
            long = math.dist(*fold.line)
            fit = [tool for tool in tools if not _why_not(tool, fold, between)]
            if not fit:
                raise _NoToolError(end, fold, tools, between)
            yield end, fold, min(fit, key=lambda tool: pace.stroke(tool, long))


def _why_not(tool: Tool, fold: Fold, between: float) -> str:
    why = why_not(tool, fold, math.dist(*fold.line), 0)
    # a mallet dresses the metal over a block cut to go in; jaws and bars have their own width
    if not why and between and tool.longest_fold > between + 1e-6 and not is_mallet(tool.name):
        return "between"
    return why


def _step(
    number: int,
    pattern: FlatPattern,
    fold: Fold,
    tool: Tool,
    at: Literal["A", "B"],
    before: Sequence[Step],
    *,
    over: bool,
    swap: bool,
) -> Step:
    """One fold of an end with one tool, after the strokes before it."""
    long = math.dist(*fold.line)
    in_bites = tool.in_bites and long > tool.longest_fold + 1e-9 and not is_mallet(tool.name)
    straight = fold.width - fold.setback
    way: Literal["slot", "jaws"] = "slot" if tool.slot_depth > 0 else "jaws"
    return Step(
        step=number,
        edge=fold.edge,
        turn=Turn(over="end" if over else "", swap=swap),
        hold=Hold(
            way=way,
            loose=tool.slot_depth - straight if way == "slot" else 0.0,
            bites=math.ceil(long / tool.longest_fold - 1e-9) if in_bites else 0,
            bite=tool.longest_fold if in_bites else 0.0,
        ),
        turns_over=over,
        rotates=False,
        changes_tool=bool(before) and before[-1].tool != tool.name,
        side_up=fold.toward,
        end_in="",
        action="fold",
        turned_deg=fold.turned,
        set_deg=fold.turned,
        check_deg=fold.turned,
        tool=tool.name,
        stop=straight,
        gauged_from=Gauge(what="edge", ref=fold.edge),
        check=Check(what="flap", size=fold.width),
        done=tuple(sorted({f.edge for f in pattern.folds} | {s.edge for s in before if s.at})),
        toward=fold.toward,
        at=at,
    )


def _name(end: EndTurn, fold: Fold) -> str:
    what = f"The {end.what} of leg {end.leg} at end {end.at}"
    return what if fold is end.fold else f"A tab of the {end.what} of leg {end.leg} at end {end.at}"


def _reason(none: _NoToolError, job: Job) -> str:
    show, fold = Show(job.info.units, job.info.round_to), none.fold
    long = math.dist(*fold.line)
    told = []
    for tool in none.tools:
        words = WORDS[_why_not(tool, fold, none.between)].format(
            least=show.length(tool.least_fold), greatest=show.length(tool.greatest_fold),
            longest=show.length(tool.longest_fold), slot=show.length(tool.slot_depth),
            angle=show.degrees(tool.largest_angle), between=show.length(none.between),
        )  # fmt: skip
        told.append(f"the {tool.name} {words}")
    size = f"{show.length(fold.width)}, turned {show.degrees(fold.turned)}, {show.length(long)} long"
    why = "; ".join(told) or "the shop lists no hand tool"
    return f"{_name(none.end, fold)} ({size}) is turned by no hand tool of the shop: {why}."


def _mends(none: _NoToolError, pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]) -> list[Mend]:
    """Another size, the piece developed and its tools picked again; else an end piece of its own."""
    show, grid = Show(job.info.units, job.info.round_to), job.info.round_to
    own = Mend(says="Make the end a piece of its own, riveted on.")
    piece = next((p for p in job.pieces if p.mark == pattern.mark and isinstance(p, SectionPiece)), None)
    if piece is None:
        return [own]
    key = "end_dams" if none.end.what == "end dam" else "returns"
    size = "tabs" if none.fold is not none.end.fold else "height" if key == "end_dams" else "length"
    limits = [x for tool in none.tools for x in (tool.greatest_fold, tool.least_fold)]
    tried = sorted(
        {round(x * NM_PER_INCH / grid) * grid for x in limits}, key=lambda x: abs(x / NM_PER_INCH - none.fold.width)
    )
    for new in tried:
        turns = [
            turn.model_copy(update={size: Nm(new)}) if turn.leg == none.end.leg and none.end.at in turn.ends else turn
            for turn in getattr(piece, key)
        ]
        changed = piece.model_copy(update={key: tuple(turns)})
        try:
            (made,) = develop(job.model_copy(update={"pieces": (changed,)}), metals)
        except JobError:
            continue
        if not ends_are_turned(made, job):
            continue
        words = show.exact(Nm(new))
        says = f"Make it {words} instead of {show.length(none.fold.width)}: a tool of the shop takes that."
        return [Mend(says=says, write=f"{key} = [{', '.join(_table(turn, show) for turn in turns)}]"), own]
    return [own]


def _table(turn: TurnedEnd, show: Show) -> str:
    """A turned end as the job file has it, without what is left to its default."""
    parts = []
    for key in type(turn).model_fields:
        value = getattr(turn, key)
        if key in turn.model_fields_set and value is not None:
            text = f"{value:g}" if isinstance(value, float) else f'"{value}"' if isinstance(value, str) else str(value)
            parts.append(f"{key} = " + (f'"{show.exact(value)}"' if key in {"height", "length", "tabs"} else text))
    return "{" + ", ".join(parts) + "}"
