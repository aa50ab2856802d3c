"""The search for one metal: rivals, then the engine, with slanted blanks in strips or alone, whichever is cheaper.

The engine packs rectangles. A blank that is not one reaches it as strips of several head to tail, or alone in its own
rectangle; which edge it stands on and how many make a strip is settled by nesting the likely choices quickly, one blank
at a time, before the long search.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from fabplan.nesting import bridge, layouts, panels, rivals
from fabplan.nesting.bound import area_bound, relaxed_pieces
from fabplan.nesting.cuts import NotCuttableError
from fabplan.nesting.engine import solve as engine
from fabplan.nesting.engine.problem import Options, Solution
from fabplan.nesting.model import Layout
from fabplan.nesting.pieces import Option, can_cut, matched, rectangle, strip_options
from fabplan.nesting.problem import Blank, Group
from fabplan.nesting.program import shear_program
from fabplan.nesting.rivals import Piece, Tried

Progress = Callable[[Fraction | None, Fraction, float | None], None]
RIVAL_WORK = 30_000  # rectangles placed by the rectangle packer at effort 1
QUICK = Fraction(1, 100)  # a quick nest stops this near its bound
FINE = 2  # slanted blanks are bounded on a grid this much finer
TURNS = 6  # choices of strip tried at effort 1, beside the likeliest
SMALL = 150  # pieces: below this a choice is rated by a quick plan
PLANNED = 600  # blanks: below this a whole job is weighed by a quick plan
FEW = 3  # blanks of at most this many pieces are matched two by two


@dataclass(slots=True)
class Run:
    """What the caller allows: effort, seed, a deadline, callbacks."""

    effort: float
    seed: int
    margin: Fraction
    fewer_setups: Fraction
    offcut_credit: Fraction
    pair: bool
    deadline: float | None = None
    progress: Progress | None = None
    should_stop: Callable[[], bool] | None = None

    def stopped(self) -> bool:
        """Whether time is up or the caller wants to stop."""
        late = self.deadline is not None and time.monotonic() >= self.deadline
        return late or (self.should_stop is not None and self.should_stop())

    def seconds_left(self) -> float | None:
        """Seconds to the deadline, None when there is none."""
        return None if self.deadline is None else max(0.0, self.deadline - time.monotonic())


@dataclass(slots=True)
class Found:
    """The best plan of one metal so far; `alone` is the best with every slanted blank in its own rectangle."""

    group: Group
    layouts: tuple[Layout, ...] = ()
    total: Fraction | None = None
    worth: Fraction | None = None  # total less the credit for offcuts kept: what the search makes small
    bound: Fraction = Fraction(0)
    short: tuple[tuple[str, int], ...] = ()
    rivals: tuple[Tried, ...] = ()
    alone: Fraction | None = None
    slanted: bool = False
    cheapest: tuple[Fraction, int, int] | None = None  # total, layouts and settings before trading metal for set-ups
    stopped_early: bool = False

    def offer(self, made: Sequence[Layout], run: Run) -> bool:
        """Take a plan if it is complete and cheaper than the best."""
        if missing(self.group, made) or not layouts.within_stock(self.group, made):
            return False
        total = layouts.cost(self.group, made)
        worth = total - kept_credit(self.group, made, run)
        if self.worth is not None and (worth, total) >= (self.worth, self.total):
            return False
        self.layouts, self.total, self.worth, self.short = tuple(made), total, worth, ()
        return True


def nest_group(group: Group, run: Run) -> Found:
    """The best plan for the blanks of one metal."""
    found = Found(group=group, bound=area_bound(group))
    pieces = _search(found, run)
    if run.fewer_setups and found.total is not None and not run.stopped():
        _fewer(found, pieces, run)
    if found.total is None:
        if not found.short:
            found.short = tuple((b.mark, b.count) for b in group.blanks)
        found.total = layouts.cost(group, found.layouts)
    found.bound = min(found.bound, found.total)
    found.layouts = panels.joined(group, found.layouts)
    return found


def quick_cost(group: Group, run: Run) -> Fraction | None:
    """Rough cost of a metal's blanks, each supplied the likeliest way; None when the stock does not make them all."""
    plain = [rectangle(b) for b in group.blanks if b.outline is None]
    slanted = [strip_options(b, group, pair=run.pair)[0] for b in group.blanks if b.outline is not None]
    found = Found(group=group, slanted=bool(slanted))
    pieces = [*plain, *(p for o in slanted for p in o.pieces)]
    if sum(b.count for b in group.blanks) <= PLANNED:
        return _solve(found, pieces, run, _quick(run), quick=True)[0]
    return _rate(found, pieces, run)


def _search(found: Found, run: Run) -> list[Piece]:
    """The cheapest plan; returns the rectangles it was made of."""
    group = found.group
    plain = [rectangle(b) for b in group.blanks if b.outline is None]
    slanted = {b.mark: strip_options(b, group, pair=run.pair) for b in group.blanks if b.outline is not None}
    alone = [p for options in slanted.values() for p in options[-1].pieces]
    found.slanted = bool(slanted)
    work = max(0, round(RIVAL_WORK * run.effort))
    _rivals(found, [*plain, *alone], work, run)
    if not slanted:
        _solve(found, plain, run, _options(run))
        return plain
    _relaxed_bound(found, run)
    _, apart = _solve(found, [*plain, *alone], run, _quick(run), quick=True)
    found.alone = found.total
    if not run.pair:
        _solve(found, [*plain, *alone], run, _options(run))
        return [*plain, *alone]
    best = _settle(found, _choose(found, plain, slanted, apart, run), run)
    _rivals(found, best, work // 4, run)
    _solve(found, best, run, _options(run))
    return best


def _fewer(found: Found, pieces: Sequence[Piece], run: Run) -> None:
    """Trade metal for set-ups: within the share allowed, the plan with the fewest back-gauge settings."""
    group = found.group
    assert found.total is not None
    found.cheapest = (found.total, len(found.layouts), _settings(group, found.layouts))
    options = replace(_options(run), fewer_setups=run.fewer_setups, progress=None)
    answer = engine.solve(bridge.engine_problem(group, pieces), options)
    plans = [_cut_out(answer, group, pieces), *(t.layouts for t in found.rivals if t.layouts is not None)]
    most = found.total * (1 + run.fewer_setups)
    best = (found.cheapest[2], found.total)
    for made in plans:
        total = layouts.cost(group, made)
        if total > most or missing(group, made) or not layouts.within_stock(group, made):
            continue
        rank = (_settings(group, made), total)
        if rank < best:
            best = rank
            found.layouts, found.total = tuple(made), total


def _settings(group: Group, made: Sequence[Layout]) -> int:
    program = shear_program(made, group.limits.kerf)
    return 0 if program is None else program.settings


def _choose(
    found: Found, plain: list[Piece], slanted: dict[str, list[Option]], alone: Fraction | None, run: Run
) -> list[tuple[Fraction, list[Piece]]]:
    """Rate ways to supply the slanted blanks by quick nests, those with most metal first; each with its rate.

    The first is the likeliest, whatever its rate. `alone` is the engine's bound with every blank in its own
    rectangle, None when the stock does not take them so.
    """
    group = found.group
    turns = round(TURNS * run.effort)
    picked = {mark: options[0] for mark, options in slanted.items()}
    metal = {b.mark: b.area * b.count for b in group.blanks}
    rated: list[tuple[Fraction, list[Piece]]] = []

    def pieces() -> list[Piece]:
        return [*plain, *(p for o in picked.values() for p in o.pieces)]

    def best(pieces: list[Piece]) -> bool:
        rate = _rate(found, pieces, run)
        if rate is None:
            return False
        first = all(rate < r for r, _ in rated)
        rated.append((rate, pieces))
        return first

    apart = [*plain, *(p for options in slanted.values() for p in options[-1].pieces)]
    best(pieces())
    rate = found.worth if sum(p.count for p in apart) <= SMALL else alone
    if rate is not None:
        rated.append((rate, apart))
    for mark in sorted(slanted, key=lambda m: (-metal[m], m)):
        for option in slanted[mark]:
            if option is picked[mark]:
                continue
            if turns <= 0 or run.stopped():
                break
            turns -= 1
            before = picked[mark]
            picked[mark] = option
            if not best(pieces()):
                picked[mark] = before
    few = [b for b in group.blanks if b.mark in slanted and b.count <= FEW]
    if len(few) > 1 and not run.stopped():
        rest = [p for mark, o in picked.items() if mark not in {b.mark for b in few} for p in o.pieces]
        best([*plain, *rest, *matched(few, group)])
    return rated or [(Fraction(0), apart)]


def _settle(found: Found, rated: list[tuple[Fraction, list[Piece]]], run: Run) -> list[Piece]:
    """The choice worth a long search: the one rated best, or the likeliest when a quick plan of it is cheaper.

    A rate is a bound on a large job, and the lower bound does not always give the better plan.
    """
    first = min(range(len(rated)), key=lambda i: (rated[i][0], i))
    if first == 0:
        return rated[0][1]
    planned = []
    for turn, i in enumerate((first, 0)):
        worth, _ = _solve(found, rated[i][1], run, _quick(run), quick=True)
        planned.append((worth is None, worth or Fraction(0), turn, i))
    return rated[min(planned)[-1]][1]


def _rate(found: Found, pieces: Sequence[Piece], run: Run) -> Fraction | None:
    """How good a choice of pieces is: a quick plan of a small job, the engine's bound of a large one."""
    if sum(p.count for p in pieces) <= SMALL:
        return _solve(found, pieces, run, _quick(run), quick=True)[0]
    if not bridge.usable_stock(found.group, pieces):
        return None
    options = replace(_quick(run, bound_only=True), credit=bridge.credit(found.group, run.offcut_credit))
    answer = engine.solve(bridge.engine_problem(found.group, pieces), options)
    return None if answer.short or not answer.bound else answer.bound


def _rivals(found: Found, pieces: Sequence[Piece], work: int, run: Run) -> None:
    """Try the packer and the pencil plan; each rival keeps its cheapest outcome."""
    tries = (
        rivals.best_rectpack(found.group, pieces, work=work, stopped=run.stopped),
        rivals.pencil_plan(found.group, pieces),
    )
    for t in tries:
        if t.layouts is not None:
            found.offer(t.layouts, run)
    if not found.rivals:
        found.rivals = tries
        return
    found.rivals = tuple(
        new if old.total is None or (new.total is not None and new.total < old.total) else old
        for old, new in zip(found.rivals, tries, strict=True)
    )


def _options(run: Run) -> Options:
    return Options(
        effort=run.effort,
        seed=run.seed,
        seconds=run.seconds_left(),
        margin=run.margin,
        progress=run.progress,
        should_stop=run.stopped,
    )


def _quick(run: Run, *, bound_only: bool = False) -> Options:
    """Options of a short nest: it ends with the first plan found after the bound, or with the bound itself."""
    left = run.seconds_left()
    told: list[Fraction | None] = []

    def progress(cost: Fraction | None, bound: Fraction, gap: float | None) -> None:
        if bound > 0:
            told.append(cost)

    def stop() -> bool:
        return (not bound_only and bool(told) and told[-1] != told[0]) or run.stopped()

    return Options(
        effort=0,
        seed=run.seed,
        seconds=None if left is None else left / 4,
        margin=max(run.margin, QUICK),
        progress=progress,
        should_stop=stop,
        bound_only=bound_only,
    )


def _solve(
    found: Found, pieces: Sequence[Piece], run: Run, options: Options, *, quick: bool = False
) -> tuple[Fraction | None, Fraction | None]:
    """Run the engine and offer its plan; return the plan's worth and the bound, None for a plan not complete."""
    group = found.group
    if not bridge.usable_stock(group, pieces):
        return None, None
    options = replace(options, credit=bridge.credit(group, run.offcut_credit))
    answer = engine.solve(bridge.engine_problem(group, pieces), options)
    found.stopped_early |= run.stopped() if quick else answer.stopped_early
    made = _cut_out(answer, group, pieces)
    if not found.slanted:
        found.bound = max(found.bound, answer.bound)
    if missing(group, made) and not answer.short:
        made = _patched(group, made)
    if missing(group, made):
        if found.total is None and (not found.layouts or _count(made) > _count(found.layouts)):
            found.layouts, found.short = made, missing(group, made)
        return None, None
    found.offer(made, run)
    return layouts.cost(group, made) - kept_credit(group, made, run), answer.bound


def _cut_out(answer: Solution, group: Group, pieces: Sequence[Piece]) -> tuple[Layout, ...]:
    """Layouts of the engine's plan with their cuts; any that no order of cuts makes is left out."""
    made: list[Layout] = []
    for draft in bridge.drafts(answer.patterns, group, pieces):
        try:
            made.append(layouts.finish(draft, group))
        except NotCuttableError:
            continue
    return tuple(made)


def _patched(group: Group, made: tuple[Layout, ...]) -> tuple[Layout, ...]:
    """Make up what uncuttable layouts would have made, one size a strip, from the stock left."""
    short = dict(missing(group, made))
    blanks = tuple(replace(b, count=short[b.mark]) for b in group.blanks if b.mark in short)
    kerf = group.limits.kerf
    left = tuple(
        s if s.on_hand is None else replace(s, on_hand=max(0, s.on_hand - layouts.amount(s, made, kerf)))
        for s in group.stock
    )
    rest = replace(group, blanks=blanks, stock=left)
    pieces = [
        p
        for b in blanks
        for p in ([rectangle(b)] if b.outline is None else strip_options(b, rest, pair=False)[-1].pieces)
    ]
    extra = rivals.pencil_plan(rest, pieces).layouts
    return made if extra is None else (*made, *extra)


def _relaxed_bound(found: Found, run: Run) -> None:
    """A bound for slanted blanks nested in rows of their own kind; the few that may mix in a row are left out of it."""
    group = found.group
    few = [b.mark for b in group.blanks if b.outline is not None and b.count <= FEW]
    pieces = relaxed_pieces(group, FINE, few if len(few) > 1 and run.pair else ())
    if not pieces or not bridge.usable_stock(group, pieces):
        return
    problem = bridge.engine_problem(group, pieces, scale=FINE, sized=True)
    loose = replace(problem.limits, back_gauge=None, least_held=0)
    answer = engine.solve(replace(problem, limits=loose), _quick(run, bound_only=True))
    if not answer.short:
        found.bound = max(found.bound, answer.bound)


def missing(group: Group, made: Sequence[Layout]) -> tuple[tuple[str, int], ...]:
    """Blanks the layouts do not make, with how many."""
    have = Counter[str]()
    for layout in made:
        for b in layout.blanks:
            have[b.mark] += layout.repeat
    return tuple((b.mark, b.count - have[b.mark]) for b in group.blanks if have[b.mark] < b.count)


def _count(made: Sequence[Layout]) -> int:
    return sum(y.repeat * len(y.blanks) for y in made)


def kept_credit(group: Group, made: Sequence[Layout], run: Run) -> Fraction:
    """Credit for the offcuts worth keeping."""
    rate = bridge.credit(group, run.offcut_credit)
    if rate is None:
        return Fraction(0)
    return rate.per_area * sum(y.repeat * o.width * o.length for y in made for o in y.offcuts if o.keep)


def fits_somewhere(blank: Blank, group: Group, run: Run) -> tuple[bool, bool]:
    """Whether one of a blank fits inside some stock, and whether this shear can also cut it out."""
    only = replace(group, blanks=(replace(blank, count=1),))
    one = only.blanks[0]
    options = [rectangle(one)] if one.outline is None else strip_options(one, only, pair=False)[-1].pieces
    found = [can_cut(piece, group) for piece in options]
    return any(f for f, _ in found), any(c for _, c in found)
