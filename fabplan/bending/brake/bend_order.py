"""Bend order of a section on the leaf brake.

The order is searched from its end: the finished section is unbent, one bend after another, until the strip is flat. A
bend that could be made last is rare, one that could be made first is not, so far fewer sets of bends are looked at than
from the flat strip on, and an impossible section shows itself at once.

A state is (bends still made, face up, which end is in the brake for the stroke that follows). Every bend goes up, so
its sign says which side is up. Between strokes: roll over (face and end change) is one turn-over; turn over end for end
(face only) is one turn-over and one swap of ends; swap ends (end only) is one swap. A hem, a fold between legs and a
bend sharper than the leaf goes are one move of two strokes: as far as the leaf goes, then closed under the nose, pushed
in where it stands or with the ends swapped.

The cost, left to right, each counted for a whole batch, which goes through a stroke together: turn-overs; wide bodies
swung on small holds (a person holds what is clamped and steers what swings); swaps of ends; loadings from the end of
the brake; strokes with the apron's bar taken off; shims kept in open hems; bends gauged from a bend; hems made after
plain bends; strokes that swing the wider side.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.strokes import Strokes
from fabplan.bending.brake.tool import BrakeShape
from fabplan.bending.search import Cost, OrderFound, search

PROVEN_UP_TO = 12  # bends: below, the search always runs to its end
MOST_STATES = 8_000  # beyond, it settles for a good order after so many states
SMALL_HOLD = 4.0  # inches clamped: less does not steady a wider body on the leaf (common practice, no source)
WIDE_BODY = 12.0  # inches swung: more on a small hold counts twice
PLACES = 9


class BendState(NamedTuple):
    """Bends made (bit set); whether the face is up and the finish end in the brake for the next stroke."""

    made: int
    face_up: bool
    finish_in: bool


class Move(NamedTuple):
    """Make bend `bend` with that end clamped; a hem is closed pushed in, or with the ends swapped."""

    bend: int
    finish_in: bool
    pushed_in: bool


class BendStroke(NamedTuple):
    """One move of the order found: bends made before it, side up, end in, and the end in when it is done."""

    made: int
    move: Move
    face_up: bool
    end_after: bool


class SectionProblem:
    """The search problem of one strip, from the finished section back to the flat strip."""

    def __init__(
        self, strip: BendStrip, brake: BrakeShape, springback: float | Sequence[float], strokes: Strokes | None = None
    ) -> None:
        self.strip = strip
        self.strokes = Strokes(strip, brake, springback) if strokes is None else strokes
        self._clamped: dict[tuple[int, bool, int], tuple[int, int, bool]] = {}
        self._swung: dict[tuple[int, bool, int], tuple[int, bool]] = {}
        self.all = (1 << strip.n) - 1 & ~strip.skipped
        self.positive = sum(1 << k for k in range(strip.n) if strip.bends[k] > 0)
        self.plain = sum(1 << k for k in range(strip.n) if not strip.hems[k] and not strip.skipped >> k & 1)

    def starts(self) -> Iterator[tuple[Cost, BendState]]:
        last = self.strip.bends[-1] > 0  # of equal orders the one that ends with the last bend
        for face in (last, not last):
            for finish in (False, True):
                yield (0,) * PLACES, BendState(self.all, face, finish)

    def done(self, state: BendState) -> bool:
        return state.made == 0

    def progress(self, state: BendState) -> int:
        return self.strip.n - state.made.bit_count()

    def estimate(self, state: BendState) -> Cost:
        other = state.made & ~self.positive if state.face_up else state.made & self.positive
        return (int(other != 0), *(0,) * (PLACES - 1))

    def moves(self, state: BendState) -> Iterator[tuple[Cost, Move, BendState]]:
        for k in reversed(range(self.strip.n)):
            if not state.made >> k & 1 or self.strokes.alone(k) is not None:
                continue
            before = state.made & ~(1 << k)
            face = bool(self.positive >> k & 1)
            over = int(face != state.face_up)
            for finish in (False, True):
                if (
                    self.strokes.clamped(k, finish, before) is not None
                    or self.strokes.swinging(k, not finish, before) is not None
                ):
                    continue
                rest = self._rest(k, finish, before)
                for pushed_in in self._ways(k, finish):
                    after = self.end_after(Move(k, finish, pushed_in))
                    # a roll changes face and end together; anything else that changes the end is a swap
                    swaps = int((after != state.finish_in) != bool(over)) + int(after != finish)
                    yield (over, rest[0], swaps, *rest[1:]), Move(k, finish, pushed_in), BendState(before, face, finish)

    def _ways(self, k: int, finish: bool) -> tuple[bool, ...]:
        """How a bend of two strokes may be closed; a plain bend has one way (False)."""
        if not self.strokes.twice[k]:
            return (False,)
        if not self.strip.end_hems[k]:
            return (True, False) if self.strip.hems[k] else (False,)  # what stays open is pressed at the nose's front
        clamped_itself = finish != self.strip.hem_at_start[k]
        return (False,) if clamped_itself else (True, False)

    def end_after(self, move: Move) -> bool:
        """Whether the finish end is in when the move is done."""
        if not self.strokes.twice[move.bend] or move.pushed_in:
            return move.finish_in
        return not self.under(move)

    def under(self, move: Move) -> bool:
        """Which side lies underneath when the bend is closed: the part beside a hem, else what was clamped."""
        return self.strip.hem_at_start[move.bend] if self.strip.end_hems[move.bend] else move.finish_in

    def _rest(self, k: int, finish: bool, made: int) -> tuple[int, ...]:
        """Every place of the cost but turn-overs and swaps."""
        hem = self.strip.end_hems[k]
        held = self.strip.width - self.strip.marks[k] if finish else self.strip.marks[k]
        swung = self.strip.width - held
        from_end, shim, from_bend = self._behind(k, finish, made)
        off, to_bend = self._in_front(k, finish, made)
        small = held < SMALL_HOLD and held < swung - 1 / 16
        return (
            int(small) + int(small and swung > WIDE_BODY),
            from_end,
            off,
            shim,
            int(not hem and from_bend and to_bend),
            int(hem and made & self.plain != 0),
            int(held < self.strip.width / 2),
        )

    def _behind(self, k: int, finish: bool, made: int) -> tuple[int, int, bool]:
        """What the clamped side costs, and whether a bend ends its flat; kept, for it recurs in many states."""
        key = (k, finish, self.strip.side_mask(k, finish, made))
        if key not in self._clamped:
            self._clamped[key] = (
                int(not self.strokes.front_loading(*key)),
                int(self.strokes.shimmed(*key)),
                self.strip.path(*key).end[0] == "bend",
            )
        return self._clamped[key]

    def _in_front(self, k: int, finish: bool, made: int) -> tuple[int, bool]:
        """The same of the swinging side."""
        key = (k, finish, self.strip.side_mask(k, not finish, made))
        if key not in self._swung:
            off = int(self.strokes.bar_off(*key))
            self._swung[key] = off, self.strip.path(k, not finish, key[2]).end[0] == "bend"
        return self._swung[key]

    def allowed(self, state: BendState, action: Move) -> bool:
        before = state.made & ~(1 << action.bend)
        if self.strokes.together(action.bend, action.finish_in, before) is not None:
            return False
        k = action.bend
        return not self.strokes.twice[k] or (
            self.strokes.closing(k, self.under(action), action.pushed_in, before) is None
        )

    def order(self, found: OrderFound[BendState, Move]) -> tuple[BendStroke, ...]:
        """The strokes of a search's path, first stroke first."""
        return tuple(
            BendStroke(after.made, move, after.face_up, self.end_after(move)) for _, move, after in reversed(found.path)
        )


def bend_order(
    strip: BendStrip,
    brake: BrakeShape,
    springback: float | Sequence[float],
    *,
    most_states: int | None = None,
    strokes: Strokes | None = None,
) -> tuple[SectionProblem, OrderFound[BendState, Move]]:
    """Least-cost bend order.

    Proven least, or proven impossible, up to 12 bends; beyond that the work is limited and the best order found
    is returned, not proven. `strokes` answers for a strip that is not alike all along.
    """
    problem = SectionProblem(strip, brake, springback, strokes)
    limit = most_states if most_states is not None else None if strip.n <= PROVEN_UP_TO else MOST_STATES
    found = search(problem, most_states=limit)
    if found.cost is None and not found.proven and most_states is None:
        found = search(problem, most_states=limit, settle=True)
    return problem, found
