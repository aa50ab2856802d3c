"""Bend order of a section on the leaf brake.

A state is (bends made, face up, which end is in the brake). Every bend goes up, so its sign says which side is up.
Moves between strokes: roll over (face and end change) is one turn-over; turn over end for end (face only) is one
turn-over and one swap of ends; swap ends (end only) is one swap. A hem is one move of two strokes: as far as the leaf
goes, then closed under the nose, pushed in where it stands or with the ends swapped. The cost, left to right:
turn-overs, swaps of ends, loadings from the end of the brake, bends gauged from a bend, hems made after plain bends,
strokes that swing the wider side.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from fabplan.bending.brake import BrakeShape
from fabplan.bending.search import Cost, Found, search
from fabplan.bending.section import Strip
from fabplan.bending.strokes import Strokes

PROVEN_UP_TO = 12  # bends: below, the search always runs to its end
MOST_STATES = 12_000  # beyond, it settles for a good order after so many states


class State(NamedTuple):
    """Bends made (bit set), whether the face is up, whether the finish end is in the brake."""

    made: int
    face_up: bool
    finish_in: bool


class Move(NamedTuple):
    """Make bend `bend` with that end clamped; a hem is closed pushed in, or with the ends swapped."""

    bend: int
    finish_in: bool
    pushed_in: bool


class SectionProblem:
    """The search problem of one strip."""

    def __init__(self, strip: Strip, brake: BrakeShape, springback: float) -> None:
        self.strip = strip
        self.strokes = Strokes(strip, brake, springback)
        self.all = (1 << strip.n) - 1
        self.positive = sum(1 << k for k in range(strip.n) if strip.bends[k] > 0)
        self.plain = sum(1 << k for k in range(strip.n) if not strip.hems[k])

    def starts(self) -> Iterator[tuple[Cost, State]]:
        for face in (True, False):
            for finish in (False, True):
                yield (0, 0, 0, 0, 0, 0), State(0, face, finish)

    def done(self, state: State) -> bool:
        return state.made == self.all

    def progress(self, state: State) -> int:
        return state.made.bit_count()

    def estimate(self, state: State) -> Cost:
        left = self.all & ~state.made
        other = left & ~self.positive if state.face_up else left & self.positive
        return int(other != 0), 0, 0, 0, 0, 0

    def moves(self, state: State) -> Iterator[tuple[Cost, Move, State]]:
        strokes, made = self.strokes, state.made
        for k in range(self.strip.n):
            if made >> k & 1 or strokes.alone(k) is not None:
                continue
            face = bool(self.positive >> k & 1)
            hem = self.strip.hems[k]
            from_bend = int(not hem and self._gauge_is_bend(k, made))
            late = int(hem and made & self.plain != 0)
            for finish in (False, True):
                if strokes.clamped(k, finish, made) is not None or strokes.swinging(k, not finish, made) is not None:
                    continue
                over = int(face != state.face_up)
                # a roll changes face and end together; anything else that changes the end is a swap
                swap = int((finish != state.finish_in) != bool(over))
                from_end = int(not strokes.front_loading(k, finish, made))
                clamped = self.strip.width - self.strip.marks[k] if finish else self.strip.marks[k]
                wide = int(clamped < self.strip.width / 2)
                if not hem:
                    after = State(made | 1 << k, face, finish)
                    yield (over, swap, from_end, from_bend, 0, wide), Move(k, finish, False), after
                    continue
                hem_end = not self.strip.hem_at_start[k]  # True: the finish end carries the hem
                for pushed_in in (True, False):
                    if pushed_in and finish == hem_end:
                        continue  # the hem itself was clamped
                    end = finish if pushed_in else hem_end
                    again = int(end != finish)
                    yield (
                        (over, swap + again, from_end, 0, late, wide),
                        Move(k, finish, pushed_in),
                        State(made | 1 << k, face, end),
                    )

    def allowed(self, state: State, action: Move) -> bool:
        if self.strokes.together(action.bend, action.finish_in, state.made) is not None:
            return False
        if not self.strip.hems[action.bend]:
            return True
        return self.strokes.closing(action.bend, action.pushed_in, state.made) is None

    def _gauge_is_bend(self, k: int, made: int) -> bool:
        return all(self.strip.path(k, high, made).end[0] == "bend" for high in (False, True))


def bend_order(
    strip: Strip, brake: BrakeShape, springback: float, *, most_states: int | None = None
) -> tuple[SectionProblem, Found[State, Move]]:
    """Least-cost bend order.

    Proven least, or proven impossible, up to 12 bends; beyond that the work is limited and the best order found
    is returned, not proven.
    """
    problem = SectionProblem(strip, brake, springback)
    limit = most_states if most_states is not None else None if strip.n <= PROVEN_UP_TO else MOST_STATES
    found = search(problem, most_states=limit)
    if found.cost is None and not found.proven and most_states is None:
        found = search(problem, most_states=limit, settle=True)
    return problem, found
