"""Why a section cannot be bent on this brake, and changes that were planned again and work."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from fabplan.bending.brake.bend_order import SectionProblem, bend_order
from fabplan.bending.brake.section import Strip
from fabplan.bending.brake.strokes import Hit, Strokes
from fabplan.bending.brake.tool import BrakeShape
from fabplan.bending.words import end_name, join
from fabplan.blanks.model import FlatPattern, Fold, SectionShape
from fabplan.job.model import Job
from fabplan.units import NM_PER_INCH, Show, inches

MOST_WORK = 3_000  # states over all trials: well under two seconds
TRIAL_STATES = 300
MOST_SETS = 500  # sets of bends looked at for the reasons
TRIAL_COST = 25  # what setting up a trial takes, in states
STEPS = (1 / 8, 1 / 4, 3 / 8, 1 / 2, 3 / 4, 1.0, 1.5, 2.0)
ANGLE_STEP = 5


def explain_section(pattern: FlatPattern, problem: SectionProblem, job: Job, show: Show) -> tuple[list[str], list[str]]:
    """Reasons (which bend, what it strikes, by how much) and re-planned suggestions.

    Returns
    -------
    reasons, suggestions : lists of str
    """
    strokes = Strokes(problem.strip, problem.strokes.brake, problem.strokes.springback, measure=True)
    blamed, reasons = _reasons(strokes, show)
    return reasons, Trials(pattern, problem, job, show).suggestions(blamed)


# reasons -----------------------------------------------------------------------------------------------------------


def _reasons(strokes: Strokes, show: Show) -> tuple[list[int], list[str]]:
    strip = strokes.strip
    never = [k for k in range(strip.n) if all(_stops(strokes, k, finish, 0) for finish in (False, True))]
    if never:
        return never, [_told(strokes, k, 0, show) for k in never]
    sets = _furthest(strokes)
    blamed: list[int] = []
    reasons: list[str] = []
    for made in sets:
        for k in range(strip.n):
            if not made >> k & 1 and k not in blamed:
                blamed.append(k)
                reasons.append(_told(strokes, k, made, show))
    return blamed, reasons[:5]


def _furthest(strokes: Strokes) -> list[int]:
    """The largest sets of bends that can be made from the flat strip, as far as a fixed amount of work shows."""
    n = strokes.strip.n
    seen, stack, best = {0}, [0], [0]
    while stack and len(seen) < MOST_SETS:
        made = stack.pop()
        if made.bit_count() >= best[0].bit_count():
            best = [b for b in best if b.bit_count() == made.bit_count()] + [made]
        for k in reversed(range(n)):
            after = made | 1 << k
            if after not in seen and any(_stops(strokes, k, finish, made) is None for finish in (False, True)):
                seen.add(after)
                stack.append(after)
    return sorted(set(best))


def _stops(strokes: Strokes, k: int, finish_in: bool, made: int) -> Hit | None:
    hit = strokes.first_problem(k, finish_in, made)
    if hit is not None or not strokes.strip.hems[k]:
        return hit
    hits = [strokes.closing(k, pushed, made) for pushed in (True, False)]
    return None if None in hits else hits[0]


def _told(strokes: Strokes, k: int, made: int, show: Show) -> str:
    strip = strokes.strip
    what = "Hem" if strip.hems[k] else "Bend"
    head = f"{what} {k + 1} (turned {show.degrees(abs(strip.bends[k]))})"
    others = [str(j + 1) for j in range(strip.n) if made >> j & 1]
    if others:
        head += f", with {'bend' if len(others) == 1 else 'bends'} {join(others)} made"
    ways: list[tuple[str, str]] = []
    for finish in (False, True):
        hit = _stops(strokes, k, finish, made)
        if hit is not None:
            ways.append((f"with the {end_name(finish)} in", _hit_words(strokes, k, hit, show)))
        elif made:
            ways.append((f"with the {end_name(finish)} in", "this order cannot be reached"))
    if len(ways) == 2 and ways[0][1] == ways[1][1]:
        return f"{head}: {ways[0][1]}."
    return f"{head}: " + "; ".join(f"{where} {why}" for where, why in ways) + "."


def _hit_words(strokes: Strokes, k: int, hit: Hit, show: Show) -> str:
    brake = strokes.brake
    amount = show.fine(hit.amount) if hit.amount < 1 / 32 else show.length(hit.amount)
    at = "" if hit.bend is None else " at the raw edge" if hit.bend < 0 else f" at bend {hit.bend + 1}"
    if hit.what == "angle":
        return f"the leaf swings only {show.degrees(hit.contact or 0.0)}"
    if hit.what == "deep hem":
        return f"the hem is {amount} deeper than the brake flattens ({show.length(brake.deepest_hem)})"
    if hit.what == "clamp":
        return f"the flat under the nose ends{at}, {amount} short of the {show.length(brake.least_clamp)} it needs"
    if hit.what == "flange":
        return f"the flange on the leaf ends{at}, {amount} short of the {show.length(brake.least_flange)} it needs"
    if hit.what == "throat":
        return f"the strip reaches {amount} past the throat ({show.length(brake.throat)})"
    if hit.what == "open hem":
        return f"the nose would crush {amount} of the open hem{at}"
    if hit.what == "short leg":
        return f"the leg beside the hem is {amount} shorter than the hem"
    if hit.what == "jaw":
        return f"the pre-bent hem stands {amount} higher than the jaw opens ({show.length(brake.jaw)})"
    if hit.what == "metal":
        return f"the strip strikes itself{at} after {show.degrees(hit.contact or 0.0)} of {show.degrees(hit.wanted)}"
    tool = {"bed": "the bed", "nose": "the nose bar", "apron": "the apron bar"}[hit.what]
    if hit.contact is not None:
        return (
            f"the swinging leg strikes {tool}{at} after {show.degrees(hit.contact)} of {show.degrees(hit.wanted)} "
            f"and would go {amount} into it"
        )
    return f"the strip lies {amount} inside {tool}{at} before the leaf moves"


# suggestions -------------------------------------------------------------------------------------------------------


class Trials:
    """Single changes, each planned again within a fixed amount of work."""

    def __init__(self, pattern: FlatPattern, problem: SectionProblem, job: Job, show: Show) -> None:
        assert pattern.section is not None
        self.pattern, self.shape, self.job, self.show = pattern, pattern.section, job, show
        self.brake: BrakeShape = problem.strokes.brake
        self.springback = problem.strokes.springback
        self.strip = problem.strip
        self.work = 0

    def suggestions(self, blamed: Sequence[int]) -> list[str]:
        """At most one of each kind, in the order a shop would try them."""
        near = list(dict.fromkeys([*blamed, *(k + d for k in blamed for d in (-1, 1)), *range(self.strip.n)]))
        near = [k for k in near if 0 <= k < self.strip.n]
        out: list[str] = []
        for kind in (self._by_hand, self._smaller_angle, self._other_leg, self._two_strips):
            self.limit = self.work + MOST_WORK // 4
            found = next(kind(near), None)
            if found is not None:
                out.append(found)
        return out or ["No single change that was tried is enough; split it into more strips, or form it by hand."]

    def works(self, legs: Sequence[float], bends: Sequence[float], keep: Sequence[int]) -> bool:
        """Whether the changed section (its bends taken from those numbered `keep`) can be bent."""
        if self.work >= self.limit:
            return False
        self.work += TRIAL_COST
        changed = rebuilt(self.pattern, legs, bends, keep)
        if changed is None:
            return False
        _, found = bend_order(Strip(changed), self.brake, self.springback, most_states=TRIAL_STATES)
        self.work += found.states
        return found.cost is not None

    def _without(self, k: int) -> tuple[list[float], list[float], list[int]]:
        legs, bends = list(self.shape.legs), list(self.shape.bends)
        legs[k : k + 2] = [legs[k] + legs[k + 1]]
        return legs, bends[:k] + bends[k + 1 :], [j for j in range(self.strip.n) if j != k]

    def _by_hand(self, near: Sequence[int]) -> Iterator[str]:
        for k in near:
            reach = min(self.strip.marks[k], self.strip.width - self.strip.marks[k]) + self.strip.outer(k)
            turned = abs(self.shape.bends[k])
            tool = next(
                (
                    t
                    for t in self.job.hem_tools
                    if t.largest_angle >= turned
                    and inches(t.least_fold) <= reach <= inches(t.greatest_fold)
                    and (t.in_bites or inches(t.longest_fold) >= self.strip.length)
                    and t.slot_depth == 0
                ),
                None,
            )
            if tool is not None and self.strip.n == 1:
                yield f"Turn {self._name(k)} by hand with the {tool.name}; nothing is left for the brake."
            elif tool is not None and self.works(*self._without(k)):
                yield (
                    f"Leave {self._name(k)} flat on the brake and turn it {self.show.degrees(turned)} last, "
                    f"with the {tool.name}; the others can then be bent."
                )

    def _smaller_angle(self, near: Sequence[int]) -> Iterator[str]:
        for k in near:
            if self.strip.hems[k]:
                continue
            full, sign = abs(self.shape.bends[k]), math.copysign(1.0, self.shape.bends[k])
            # in steps of 5 degrees; less than two fifths on the brake would leave all the work to the hands
            low, high = math.ceil(0.4 * full / ANGLE_STEP), math.ceil(full / ANGLE_STEP) - 1
            if high < low or not self._at_angle(k, sign * low * ANGLE_STEP):
                continue
            while low < high:
                middle = (low + high + 1) // 2
                if self._at_angle(k, sign * middle * ANGLE_STEP):
                    low = middle
                else:
                    high = middle - 1
            yield (
                f"Stop {self._name(k)} at {self.show.degrees(low * ANGLE_STEP)} instead of {self.show.degrees(full)} "
                f"and turn the last {self.show.degrees(full - low * ANGLE_STEP)} by hand at the end."
            )

    def _at_angle(self, k: int, angle: float) -> bool:
        bends = [*self.shape.bends[:k], angle, *self.shape.bends[k + 1 :]]
        return self.works(self.shape.legs, bends, range(self.strip.n))

    def _other_leg(self, near: Sequence[int]) -> Iterator[str]:
        legs = list(dict.fromkeys(j for k in near for j in (k, k + 1)))
        for step in STEPS:
            for j in legs:
                for sign in (1, -1):
                    length = self.shape.legs[j] + sign * step
                    if length <= 1 / 8:
                        continue
                    if self.works(
                        [*self.shape.legs[:j], length, *self.shape.legs[j + 1 :]],
                        self.shape.bends,
                        range(self.strip.n),
                    ):
                        old, new = self.show.length(self.shape.legs[j]), self.show.length(length)
                        yield f"Make {self._leg(j)} {new} instead of {old}."

    def _two_strips(self, near: Sequence[int]) -> Iterator[str]:
        inner = [j for j in range(1, len(self.shape.legs) - 1) if not self._is_hem_leg(j)]
        for j in sorted(inner, key=lambda i: min(abs(i - k) + abs(i - k - 1) for k in near[:1])):
            half = self.shape.legs[j] / 2 + 1 / 2
            left = ([*self.shape.legs[:j], half], self.shape.bends[:j], range(j))
            right = ([half, *self.shape.legs[j + 1 :]], self.shape.bends[j:], range(j, self.strip.n))
            if self.works(*left) and self.works(*right):
                yield f"Make it in two strips lapped and seamed on {self._leg(j)}; each of them can be bent."

    def _is_hem_leg(self, j: int) -> bool:
        pairs = zip(self.strip.hems, self.strip.hem_at_start, strict=True)
        return any(hem and (j == 0 if at_start else j == self.strip.n) for hem, at_start in pairs)

    def _name(self, k: int) -> str:
        return f"{'hem' if self.strip.hems[k] else 'bend'} {k + 1}"

    def _leg(self, j: int) -> str:
        if self._is_hem_leg(j):
            return "the start hem" if j == 0 else "the end hem"
        return f"leg {j + (0 if self.strip.hems[0] and self.strip.hem_at_start[0] else 1)}"


def rebuilt(
    pattern: FlatPattern, legs: Sequence[float], bends: Sequence[float], keep: Sequence[int]
) -> FlatPattern | None:
    """The pattern with other legs and angles, its bends those numbered `keep`; None when a leg gets too short."""
    shape = pattern.section
    assert shape is not None
    source = sorted(pattern.folds, key=lambda f: f.edge)
    folds: list[Fold] = []
    for number, (k, bend) in enumerate(zip(keep, bends, strict=True), 1):
        old = source[k]
        share = abs(bend) / old.turned
        setback = (old.radius + shape.thickness) * math.tan(math.radians(min(abs(bend), 90.0)) / 2)
        allowance = old.bend_allowance * share
        folds.append(
            replace(
                old,
                edge=number,
                turned=abs(bend),
                setback=setback,
                bend_allowance=allowance,
                deduction=2 * setback - allowance,
                hem=abs(bend) >= 180,
            )
        )
    at = 0.0
    marks: list[float] = []
    for i, leg in enumerate(legs):
        flat = leg - (folds[i - 1].setback if i else 0.0) - (folds[i].setback if i < len(folds) else 0.0)
        if flat <= 1e-9:
            return None
        at += flat
        if i < len(folds):
            marks.append(at + folds[i].bend_allowance / 2)
            at += folds[i].bend_allowance
    section = SectionShape(
        legs=tuple(legs),
        bends=tuple(bends),
        radii=tuple(f.radius for f in folds),
        gaps=tuple(shape.gaps[k] for k in keep),
        marks=tuple(marks),
        developed=at,
        thickness=shape.thickness,
    )
    return replace(
        pattern,
        section=section,
        folds=tuple(folds),
        rounding=0.0,
        width_units=max(1, round(at * NM_PER_INCH / pattern.grid)),
    )
