"""Fold order of flat pieces: which edge next, which side up, with which tool.

A state is (stage of every fold, side up, edge at the tool, tool). Stages: 0 flat, 1 pre-bent as far as the tool goes
on the way to 180 degrees, 2 finished. Every fold goes up, so a fold toward the face needs the face up. The cost of an
order, compared left to right: the time of strokes and settings over a batch (where the shop's times are given),
turn-overs, rotations, tool changes, degrees rotated. Going to another edge that faces
the same way is a shift; turning over brings the same edge, or one facing the opposite way, to the tool.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from fabplan.bending.flat.footprint import (
    FoldFrame,
    flap_footprint,
    frame_of,
    meets,
    stretch,
    strip,
)
from fabplan.bending.flat.swing import Standing, strikes
from fabplan.bending.search import Cost, OrderFound, search
from fabplan.bending.tools import Pace, Tool, why_not
from fabplan.blanks.model import Fold, Point

FLAT, PREBENT, FINISHED = 0, 1, 2
HIGH_ENOUGH = 90.0  # a hem pre-bent at least so far can be laid over and closed
SAME_WAY = 0.5  # degrees
BITE_SHARE = 0.6  # most of a bite that may be left out in one place: a 1 in hem runs 2 in along a 45 degree cut
END_OFF = (
    1 / 4
)  # inches of a fold's end that a full-length tool may leave unpressed, to keep clear of what stands there
SEAMER_SHARE = 0.5  # a tool in bites must take at least this share of the fold


class FoldState(NamedTuple):
    """Where the work stands; `edge` and `tool` are -1 before the first stroke."""

    stages: tuple[int, ...]
    face_up: bool
    edge: int
    tool: int


class FoldStroke(NamedTuple):
    """One stroke: fold index, tool index, stage reached, and how the piece is brought to it."""

    fold: int
    tool: int
    stage: int
    turn_over: bool
    rotate: bool


@dataclass(frozen=True, slots=True)
class Clash:
    """Why a stroke cannot be made while another fold stands as it does."""

    kind: str  # "crush" a hem under the press strip, "bed", "under nose", "land" on a standing flap
    area: float


@dataclass(frozen=True, slots=True)
class Setting:
    """What one stroke meets with the tool at one place: clashes, and stretches left out, by (fold, stage)."""

    clashes: dict[tuple[int, int], Clash]
    left_out: dict[tuple[int, int], float]


class FlatProblem:
    """The search problem of one flat piece.

    Parameters
    ----------
    folds : sequence of Fold
    tools : sequence of Tool
    thickness : float
        Inches.
    face_up : bool, optional
        Side up at the start; None leaves it free.
    outline : sequence of points
        The snipped blank, for how deep it lies behind a fold; empty: not asked.
    pace : Pace, optional
        Times of the shop; without, time is no part of the cost.
    """

    def __init__(
        self,
        folds: Sequence[Fold],
        tools: Sequence[Tool],
        thickness: float,
        face_up: bool | None = None,
        outline: Sequence[Point] = (),
        pace: Pace | None = None,
    ) -> None:
        self.pace = pace
        self.folds, self.tools, self.thickness = tuple(folds), tuple(tools), thickness
        self.face_up, self.outline = face_up, tuple(outline)
        self.frames: tuple[FoldFrame, ...] = tuple(frame_of(f) for f in self.folds)
        self.up = tuple(f.toward == "face" for f in self.folds)
        self.settings: dict[tuple[int, int, int], tuple[Setting, ...]] = {}
        self._ways, self._between = self._directions()
        self._left: dict[tuple[frozenset[int], frozenset[int], int], Cost] = {}
        self._options = tuple(
            tuple(self._strokes_from(i, stage) for stage in (FLAT, PREBENT)) for i in range(len(self.folds))
        )
        self._none: Cost = () if pace is None else (0,)
        self._least = [self._least_work(i) for i in range(len(self.folds))] if pace is not None else []
        self._fits: dict[tuple[tuple[int, ...], int, int, int], bool] = {}

    # -- the search problem ---------------------------------------------------------------------------------------
    def starts(self) -> Iterator[tuple[Cost, FoldState]]:
        flat = (FLAT,) * len(self.folds)
        for up in (True, False) if self.face_up is None else (self.face_up,):
            yield (*self._none, 0, 0, 0, 0), FoldState(flat, up, -1, -1)

    def done(self, state: FoldState) -> bool:
        return all(s == FINISHED for s in state.stages)

    def progress(self, state: FoldState) -> int:
        return sum(state.stages)

    def estimate(self, state: FoldState) -> Cost:
        """Turn-overs, rotations and degrees that are surely left.

        With the least turn-overs, every direction still to be folded on the side that is up comes to the tool once,
        then every one of the other side, the first of them perhaps by the turn-over alone; each costs at least the
        angle to the nearest. An order that turns over once more costs more in the first place, whatever it saves.
        """
        mine: set[int] = set()
        others: set[int] = set()
        for i, stage in enumerate(state.stages):
            if stage != FINISHED:
                (mine if self.up[i] == state.face_up else others).add(self._ways[i])
        here = self._ways[state.edge] if state.edge >= 0 else -1
        key = (frozenset(mine), frozenset(others), here)
        if key not in self._left:
            self._left[key] = self._at_least(*key)
        if self.pace is None:
            return self._left[key]
        work = sum(self._least[i][stage] for i, stage in enumerate(state.stages) if stage != FINISHED)
        return (work, *self._left[key])

    def _at_least(self, mine: frozenset[int], others: frozenset[int], here: int) -> Cost:
        def nearest(ways: frozenset[int], among: frozenset[int]) -> list[int]:
            return sorted(min((self._between[a][b] for b in among if b != a), default=0) for a in ways)

        if here >= 0:
            first = nearest(mine - {here}, mine | {here})
        else:
            first = nearest(mine, mine)[:-1]  # the first of all is laid to the tool as it comes
        second = nearest(others, others)[:-1]
        return int(bool(others)), len(first) + len(second), 0, sum(first) + sum(second)

    def moves(self, state: FoldState) -> Iterator[tuple[Cost, FoldStroke, FoldState]]:
        for i, stage in enumerate(state.stages):
            if stage == FINISHED:
                continue
            over, rotate, degrees = self._bring(state, i)
            for tool, reached in self._options[i][stage]:
                change = state.tool >= 0 and tool != state.tool
                stages = (*state.stages[:i], reached, *state.stages[i + 1 :])
                yield (
                    (*self._work(state, i, tool, reached), int(over), int(rotate), int(change), degrees),
                    FoldStroke(i, tool, reached, over, rotate),
                    FoldState(stages, self.up[i], i, tool),
                )

    def allowed(self, state: FoldState, action: FoldStroke) -> bool:
        key = (state.stages, action.fold, action.tool, action.stage)
        if key not in self._fits:
            settings = self.setting(action.fold, action.tool, action.stage)
            self._fits[key] = any(not self.clashes(s, state.stages, action) for s in settings)
        return self._fits[key]

    # -- geometry -------------------------------------------------------------------------------------------------
    def clashes(self, setting: Setting, stages: Sequence[int], stroke: FoldStroke) -> list[tuple[int, Clash]]:
        """What the stroke would harm, with the other folds as they stand: (fold, clash)."""
        found = [(j, setting.clashes[j, q]) for j, q in enumerate(stages) if (j, q) in setting.clashes]
        if setting.left_out:
            bite = self.tools[stroke.tool].longest_fold * BITE_SHARE
            length = self.frames[stroke.fold].length
            gaps = {j: setting.left_out[j, q] for j, q in enumerate(stages) if (j, q) in setting.left_out}
            most = length * (1 - SEAMER_SHARE)
            if sum(gaps.values()) > most + 1e-9 or any(g > bite + 1e-9 for g in gaps.values()):
                found += [(j, Clash("crush", g * self.tools[stroke.tool].press_strip)) for j, g in gaps.items()]
        return found

    def setting(self, i: int, tool: int, stage: int) -> tuple[Setting, ...]:
        """The one or two places of the tool along fold i, with what each meets."""
        key = (i, tool, stage)
        if key not in self.settings:
            self.settings[key] = tuple(self._setting(i, self.tools[tool], stage, at) for at in self._places(i, tool))
        return self.settings[key]

    def _places(self, i: int, tool: int) -> tuple[tuple[float, float], ...]:
        """Where the press strip may run along fold i: a longer tool stands over beyond one end or the other."""
        length, t = self.frames[i].length, self.tools[tool]
        spare = 0.0 if t.in_bites else t.longest_fold - length
        if spare <= 1e-9:
            return ((0.0, length),)
        off = min(END_OFF, length / 8)
        return (off, length + spare), (-spare, length - off)  # it keeps clear of what stands at one end

    def _setting(self, i: int, tool: Tool, stage: int, at: tuple[float, float]) -> Setting:
        clashes: dict[tuple[int, int], Clash] = {}
        left_out: dict[tuple[int, int], float] = {}
        frame, fold = self.frames[i], self.folds[i]
        press = strip(frame, tool.press_strip, *at)
        turned = fold.turned if stage == FINISHED else 180.0
        landing = flap_footprint(fold, frame, turned, wall=False)
        for j, other in enumerate(self.folds):
            if j == i:
                continue
            for q in (PREBENT, FINISHED):
                standing = q == PREBENT or other.turned < 180
                print_j = flap_footprint(other, self.frames[j], other.turned if q == FINISHED else 180.0)
                if tool.press_strip > 0 and (standing or other.gap > 0):
                    pressed = meets(press, print_j)
                    if pressed is not None:
                        if tool.in_bites:
                            left_out[j, q] = stretch(frame, pressed)
                        else:
                            clashes[j, q] = Clash("crush", pressed.area)
                if standing and tool.is_brake and (j, q) not in clashes and self._in_brake(i, j, q, tool, at):
                    clashes[j, q] = Clash("under nose" if self.up[i] == self.up[j] else "bed", print_j.area)
                if self.up[i] == self.up[j] and turned < 180 and q == FINISHED and other.turned < 180:
                    if strikes(fold, frame, turned, Standing(other, self.frames[j], other.turned)):
                        clashes[j, q] = Clash("land", print_j.area)
                elif self.up[i] == self.up[j] and (standing or turned >= 180):
                    shared = meets(landing, print_j)
                    if shared is not None:
                        clashes[j, q] = Clash("land", shared.area)
        return Setting(clashes, left_out)

    def _in_brake(self, i: int, j: int, stage: int, tool: Tool, at: tuple[float, float]) -> bool:
        """Whether standing fold j, behind the bending edge, meets the brake's bed or the underside of its nose."""
        us = _depths([self.frames[i].local(p) for p in self.folds[j].line], at)
        if not us or min(us) > -1e-6:
            return False  # beside the brake, or in front of it
        if self.up[i] != self.up[j]:
            return -max(us) < tool.bed_depth  # behind the bed it hangs free
        if -max(us) > tool.beam_depth:
            return False
        turned = self.folds[j].turned if stage == FINISHED else tool.largest_angle
        height = self.folds[j].width * math.sin(math.radians(turned))
        room = max(0.0, -max(us) - tool.press_strip) * math.tan(math.radians(tool.slope))
        return height > min(room, tool.jaw) + 1e-9

    # -- time -----------------------------------------------------------------------------------------------------
    def _work(self, state: FoldState, i: int, tool: int, reached: int) -> Cost:
        """Time of a stroke over the batch, and of a setting that differs from the last stroke's."""
        if self.pace is None:
            return ()
        work = self.pace.stroke(self.tools[tool], self.frames[i].length)
        if state.edge >= 0:
            last = self._setting_of(state.edge, state.tool, state.stages[state.edge])
            if last == self._setting_of(i, tool, reached):
                return (work,)
        return (work + self.pace.setting,)

    def _setting_of(self, i: int, tool: int, stage: int) -> tuple[int, float, float]:
        fold, t = self.folds[i], self.tools[tool]
        angle = fold.turned if stage == FINISHED else t.largest_angle
        return tool, round(fold.width, 4), angle

    def _least_work(self, i: int) -> tuple[int, int, int]:
        """Least time from each stage of a fold on, settings left out."""
        assert self.pace is not None
        length = self.frames[i].length

        def least(stage: int, after: Mapping[int, int]) -> int:
            ways = [
                self.pace.stroke(self.tools[k], length) + after[reached]  # type: ignore[union-attr]
                for k, reached in self._options[i][stage]
                if reached in after
            ]
            return min(ways, default=0)

        closing = least(PREBENT, {FINISHED: 0})
        return least(FLAT, {FINISHED: 0, PREBENT: closing}), closing, 0

    # -- helpers --------------------------------------------------------------------------------------------------
    def behind(self, i: int) -> float | None:
        """How deep the piece lies behind fold i."""
        return -min((self.frames[i].local(p)[1] for p in self.outline), default=0.0) if self.outline else None

    def _strokes_from(self, i: int, stage: int) -> tuple[tuple[int, int], ...]:
        """(tool, stage reached) of every stroke that may start at `stage`."""
        out: list[tuple[int, int]] = []
        fold, length = self.folds[i], self.frames[i].length
        # of equal costs: a flange goes to the brake before the bench, and nothing is beaten over that can be folded
        order = sorted(
            range(len(self.tools)),
            key=lambda k: (
                self.tools[k].largest_angle <= HIGH_ENOUGH,
                self.tools[k].is_brake if fold.turned >= 180 else not self.tools[k].is_brake,
            ),
        )
        for k in order:
            tool = self.tools[k]
            if why_not(tool, fold, length, stage, self.behind(i)):
                continue
            if stage == PREBENT or tool.largest_angle >= fold.turned - 1e-6:
                out.append((k, FINISHED))
            else:
                out.append((k, PREBENT))
        if stage == PREBENT and fold.turned < 180:
            return ()
        return tuple(out)

    def _bring(self, state: FoldState, i: int) -> tuple[bool, bool, int]:
        """Turn over?, rotate?, degrees rotated, to bring fold i to the tool with its side up."""
        over = self.up[i] != state.face_up
        if state.edge < 0:
            return over, False, 0
        turn = apart(self.frames[i].direction, self.frames[state.edge].direction)
        if over:
            turn = min(turn, 180 - turn)
        return over, turn > SAME_WAY, round(turn) if turn > SAME_WAY else 0

    def _directions(self) -> tuple[tuple[int, ...], list[list[int]]]:
        """A number for each direction that folds face, and the whole degrees between any two of them."""
        seen: list[float] = []
        out: list[int] = []
        for frame in self.frames:
            known = next((k for k, d in enumerate(seen) if apart(frame.direction, d) <= SAME_WAY), len(seen))
            if known == len(seen):
                seen.append(frame.direction)
            out.append(known)
        return tuple(out), [[math.floor(apart(a, b) + 1e-6) for b in seen] for a in seen]


def _depths(ends: list[tuple[float, float]], at: tuple[float, float]) -> list[float]:
    """u at the ends of the part of a segment (points (s, u)) whose s lies within `at`; empty when none does."""
    (s0, u0), (s1, u1) = sorted(ends)
    low, high = max(s0, at[0]), min(s1, at[1])
    if low > high:
        return []
    if s1 - s0 < 1e-9:
        return [u0, u1]
    return [u0 + (u1 - u0) * (s - s0) / (s1 - s0) for s in (low, high)]


def apart(a: float, b: float) -> float:
    """Degrees between two directions, 0..180."""
    gap = abs(a - b) % 360
    return min(gap, 360 - gap)


def fold_order(
    folds: Sequence[Fold],
    tools: Sequence[Tool],
    thickness: float,
    *,
    face_up: bool | None = None,
    outline: Sequence[Point] = (),
    most_states: int | None = None,
    pace: Pace | None = None,
) -> tuple[FlatProblem, OrderFound[FoldState, FoldStroke]]:
    """Least-cost fold order of a flat piece; `cost` None when the tools at hand cannot make it.

    With more states than `most_states` the best order found is returned, not proven.
    """
    problem = FlatProblem(folds, tools, thickness, face_up, outline, pace)
    found = search(problem, most_states=most_states)
    if found.cost is None and not found.proven:
        found = search(problem, most_states=most_states, settle=True)
    return problem, found
