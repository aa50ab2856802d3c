"""Changes to a section that make it bendable: each is developed, rounded and planned as it would be typed.

A mend is offered only when the changed piece, exactly as its keys are printed, has a bend order on this brake.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from fabplan.bending.brake.bend_order import SectionProblem, bend_order
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.springback import overbends
from fabplan.bending.brake.taper import tapered_strokes
from fabplan.bending.ends import ends_are_turned
from fabplan.bending.model import Mend
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.job.kinds.section import EndHem
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, SectionPiece
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, Show, from_inches, inches

MOST_WORK = 2_400  # states over all trials: about two seconds
TRIAL_STATES = 300
TRIAL_COST = 25  # what setting up a trial takes, in states
STEPS = {
    "in": [Nm(k * NM_PER_INCH // 8) for k in (1, 2, 3, 4, 6, 8, 12, 16)],
    "mm": [Nm(k * NM_PER_MM) for k in (3, 6, 10, 12, 20, 25, 40, 50)],
}
SEAM = {"in": Nm(NM_PER_INCH), "mm": Nm(25 * NM_PER_MM)}  # lap of two strips seamed on a leg
ANGLE_STEP = 5
NONE = Mend(says="No single change that was tried is enough: make it in more strips, or form it by hand.")


def piece_of(job: Job, pattern: FlatPattern) -> SectionPiece:
    """The job's piece of this pattern, or one with the same legs, bends and hems."""
    shape = pattern.section
    assert shape is not None
    found = next((p for p in job.pieces if p.mark == pattern.mark and isinstance(p, SectionPiece)), None)
    if found is not None:
        return found
    last = len(shape.bends) - 1
    start = bool(shape.bends) and shape.hem_at(0) == "start"
    end = bool(shape.bends) and shape.hem_at(last) == "end"

    def hem(there: bool, k: int, leg: int) -> EndHem | None:
        if not there:
            return None
        return EndHem.model_construct(
            width=from_inches(shape.legs[leg]),
            toward="face" if shape.bends[k] > 0 else "back",
            turned=180.0,
            gap=from_inches(shape.gaps[k] or 0.0),
            double=False,
        )

    inner = slice(int(start), len(shape.bends) - int(end))
    return SectionPiece.model_construct(
        kind="section",
        mark=pattern.mark,
        count=max(1, pattern.count),
        metal=pattern.metal,
        length=Nm(pattern.length_units * pattern.grid),
        legs=tuple(from_inches(x) for x in shape.legs[int(start) : len(shape.legs) - int(end)]),
        bends=tuple(shape.bends[inner]),
        inside_radius=tuple(from_inches(r) for r in shape.radii[inner]),
        start_hem=hem(start, 0, 0),
        end_hem=hem(end, last, last + 1),
        taper_to=(),
        end_dams=(),
        returns=(),
        finish_by_hand=(),
    )


def by_hand(job: Job, mark: str) -> dict[int, float]:
    """What the job leaves to the hands at a piece: degrees by bend number."""
    piece = next((p for p in job.pieces if p.mark == mark), None)
    return dict(getattr(piece, "finish_by_hand", ()))


class Mends:
    """Single changes, each planned again within a fixed amount of work."""

    def __init__(
        self,
        pattern: FlatPattern,
        problem: SectionProblem,
        job: Job,
        metals: Mapping[str, MetalProfile],
        show: Show,
    ) -> None:
        assert pattern.section is not None
        self.pattern, self.shape, self.job, self.metals, self.show = pattern, pattern.section, job, metals, show
        self.brake = problem.strokes.brake
        self.strip = problem.strip
        self.piece = piece_of(job, pattern)
        hem = self.piece.start_hem
        self.first = 0 if hem is None else 2 if hem.double else 1  # bends before the first between legs
        self.work = self.limit = 0

    def offered(self, blamed: Sequence[int]) -> tuple[Mend, ...]:
        """At most one of each kind, in the order a shop would try them."""
        n = self.strip.n
        near = list(dict.fromkeys([*blamed, *(k + d for k in blamed for d in (-1, 1)), *range(n)]))
        near = [k for k in near if 0 <= k < n and not self.strip.skipped >> k & 1]
        out: list[Mend] = []
        for kind in (self._whole_by_hand, self._part_by_hand, self._other_leg, self._two_strips):
            self.limit = self.work + MOST_WORK // 4
            found = next(kind(near), None)
            if found is not None:
                out.append(found)
        return tuple(out) or (NONE,)

    def works(self, **changes: Any) -> bool:
        """Whether the piece with these keys changed can be bent, rounding included."""
        if self.work >= self.limit:
            return False
        self.work += TRIAL_COST
        piece = self.piece.model_copy(update=changes)
        for hem, leg in ((piece.start_hem, piece.legs[0]), (piece.end_hem, piece.legs[-1])):
            if hem is not None and hem.turned == 180 and hem.width > leg:
                return False
        try:
            (made,) = develop(self.job.model_copy(update={"pieces": (piece,)}), self.metals)
        except JobError:
            return False
        hands = dict(piece.finish_by_hand)
        strip = BendStrip(made, hands)
        if strip.length > self.brake.longest_bend + 1e-9:
            return False
        over = overbends(strip, self.metals[made.metal], self.job.brake.springback)
        strokes = tapered_strokes(made, hands, self.brake, over)
        _, found = bend_order(strip, self.brake, over, most_states=TRIAL_STATES, strokes=strokes)
        self.work += found.states
        return found.cost is not None and ends_are_turned(made, self.job)

    # -- the changes ----------------------------------------------------------------------------------------------
    def _hands(self, k: int, degrees: float) -> tuple[tuple[int, float], ...]:
        kept = dict(self.piece.finish_by_hand)
        kept[k + 1] = kept.get(k + 1, 0.0) + degrees
        return tuple(sorted(kept.items()))

    def _whole_by_hand(self, near: Sequence[int]) -> Iterator[Mend]:
        for k in near:
            turned = abs(self.strip.bends[k])
            tool = self._tool(k, turned)
            hands = self._hands(k, turned)
            if tool and self.works(finish_by_hand=hands):
                rest = "the others can then be bent" if self.strip.n > 1 else "nothing is left for the brake"
                yield Mend(
                    says=f"Leave {self._name(k)} flat on the brake and turn it {self.show.degrees(turned)} last, "
                    f"with the {tool}; {rest}.",
                    write=_hands_line(hands),
                )

    def _tool(self, k: int, turned: float) -> str:
        """A hand tool that reaches bend k from the nearer edge."""
        reach = min(self.strip.marks[k], self.strip.width - self.strip.marks[k]) + self.strip.outer(k)
        for t in self.job.hem_tools:
            long_enough = t.in_bites or inches(t.longest_fold) >= self.strip.length
            if (
                t.largest_angle >= turned
                and inches(t.least_fold) <= reach <= inches(t.greatest_fold)
                and long_enough
                and t.slot_depth == 0
            ):
                return t.name
        return ""

    def _part_by_hand(self, near: Sequence[int]) -> Iterator[Mend]:
        for k in near:
            full = abs(self.strip.bends[k])
            # in steps of 5 degrees; less than two fifths on the brake would leave all the work to the hands
            most = min(full, self.brake.reach + ANGLE_STEP)  # beyond, the brake would have to close it
            low, high = math.ceil(0.4 * full / ANGLE_STEP), math.ceil(most / ANGLE_STEP) - 1
            if high < low or not self._stopped(k, full - low * ANGLE_STEP):
                continue
            while low < high:
                middle = (low + high + 1) // 2
                if self._stopped(k, full - middle * ANGLE_STEP):
                    low = middle
                else:
                    high = middle - 1
            rest = full - low * ANGLE_STEP
            hands = self._hands(k, rest)
            yield Mend(
                says=f"Stop {self._name(k)} at {self.show.degrees(low * ANGLE_STEP)} instead of "
                f"{self.show.degrees(full)} and turn the last {self.show.degrees(rest)} by hand at the end.",
                write=_hands_line(hands),
            )

    def _stopped(self, k: int, rest: float) -> bool:
        return self.works(finish_by_hand=self._hands(k, rest))

    def _other_leg(self, near: Sequence[int]) -> Iterator[Mend]:
        legs = self.piece.legs
        wanted = list(dict.fromkeys(j - self.first for k in near for j in (k, k + 1)))
        for step in STEPS[self.job.info.units]:
            for j in wanted:
                for sign in (1, -1):
                    if not 0 <= j < len(legs):
                        yield from self._other_hem("start_hem" if j < 0 else "end_hem", sign * step)
                        continue
                    if legs[j] + sign * step <= STEPS[self.job.info.units][0]:
                        continue
                    changed = (*legs[:j], Nm(legs[j] + sign * step), *legs[j + 1 :])
                    if self.works(legs=changed):
                        new, old = self.show.exact(changed[j]), self.show.exact(legs[j])
                        yield Mend(says=f"Make leg {j + 1} {new} instead of {old}.", write=self._legs_line(changed))

    def _other_hem(self, key: str, step: int) -> Iterator[Mend]:
        hem: EndHem | None = getattr(self.piece, key)
        if hem is None or hem.width + step <= STEPS[self.job.info.units][0]:
            return
        wider = hem.model_copy(update={"width": Nm(hem.width + step)})
        if self.works(**{key: wider}):
            new, old = self.show.exact(wider.width), self.show.exact(hem.width)
            words = key.replace("_", " ")
            yield Mend(says=f"Make the {words} {new} instead of {old}.", write=f'{key}.width = "{new}"')

    def _two_strips(self, near: Sequence[int]) -> Iterator[Mend]:
        """Two strips lapped and seamed on a leg between bends: each takes a share of it and half the lap."""
        legs, bends, lap = self.piece.legs, self.piece.bends, SEAM[self.job.info.units]
        radius = self.piece.inside_radius
        radii = radius if isinstance(radius, tuple) else (radius,) * len(bends)
        if self.piece.finish_by_hand or self.piece.taper_to or self.piece.end_dams or self.piece.returns:
            return
        for j in sorted(range(1, len(legs) - 1), key=lambda i: min(abs(i + self.first - k) for k in near[:1])):
            share = Nm(-(-(legs[j] + lap) // (2 * self.pattern.grid)) * self.pattern.grid)
            if share > legs[j]:
                continue  # a leg shorter than the lap leaves no room for a seam
            low: dict[str, Any] = {"legs": (*legs[:j], share), "bends": bends[:j], "inside_radius": radii[:j]}
            high: dict[str, Any] = {"legs": (share, *legs[j + 1 :]), "bends": bends[j:], "inside_radius": radii[j:]}
            if self.works(**low, end_hem=None) and self.works(**high, start_hem=None):
                yield Mend(
                    says=f"Make it in two strips lapped {self.show.exact(lap)} and seamed on leg {j + 1}; each of them "
                    "can be bent, a hem at its own edge.",
                    write=f"two pieces: {self._legs_line(low['legs'])}, bends = {_numbers(low['bends'])}; and "
                    f"{self._legs_line(high['legs'])}, bends = {_numbers(high['bends'])}",
                )

    # -- names ----------------------------------------------------------------------------------------------------
    def _name(self, k: int) -> str:
        what = "hem" if self.strip.end_hems[k] else "fold" if self.strip.hems[k] else "bend"
        return f"{what} {k + 1}"

    def _legs_line(self, legs: Sequence[Nm]) -> str:
        return "legs = [" + ", ".join(f'"{self.show.exact(leg)}"' for leg in legs) + "]"


def _numbers(values: Sequence[float]) -> str:
    return "[" + ", ".join(f"{v:g}" for v in values) + "]"


def _hands_line(hands: Sequence[tuple[int, float]]) -> str:
    pairs = [f"[{k}, {degrees:g}]" for k, degrees in hands]
    return "finish_by_hand = " + (pairs[0] if len(pairs) == 1 else f"[{', '.join(pairs)}]")
