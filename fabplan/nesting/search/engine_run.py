"""One run of the engine on one metal's blanks, and what it gives: a plan in layouts with their cuts, and a bound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from fabplan.nesting.cuts import layouts
from fabplan.nesting.cuts.order import NotCuttableError
from fabplan.nesting.engine import solve as engine
from fabplan.nesting.engine.problem import Options, Solution
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group
from fabplan.nesting.search import rivals, to_engine
from fabplan.nesting.search.bound import relaxed_pieces
from fabplan.nesting.search.found import BestOfMetal, Run, kept_credit, missing
from fabplan.nesting.search.one_size import pencil_plan
from fabplan.nesting.search.pieces import rectangle, strip_options
from fabplan.nesting.search.rivals import Piece, Tried
from fabplan.nesting.search.rows import rows_bound

QUICK = Fraction(1, 100)  # a quick nest stops this near its bound
FINE = 2  # slanted blanks are bounded on a grid this much finer
FEW = 3  # blanks of at most this many pieces are matched two by two


def options_of(run: Run) -> Options:
    """Options of the search itself."""
    return Options(
        effort=run.effort,
        seed=run.seed,
        seconds=run.seconds_left(),
        margin=run.margin,
        progress=run.progress,
        should_stop=run.stopped,
    )


def quick_options(run: Run, *, bound_only: bool = False) -> Options:
    """Options of a short nest: it ends with the first plan found after the bound, or with the bound itself."""
    told: list[Fraction | None] = []

    def progress(cost: Fraction | None, bound: Fraction, gap: float | None) -> None:
        if bound > 0:
            told.append(cost)

    def stop() -> bool:
        return (not bound_only and bool(told) and told[-1] != told[0]) or run.stopped()

    return Options(
        effort=0,
        seed=run.seed,
        seconds=run.seconds_left(),
        margin=max(run.margin, QUICK),
        progress=progress,
        should_stop=stop,
        bound_only=bound_only,
    )


def solved(
    found: BestOfMetal, pieces: Sequence[Piece], run: Run, options: Options, *, quick: bool = False
) -> tuple[Fraction | None, Fraction | None]:
    """Run the engine and offer its plan; return the plan's worth and the bound, None for a plan not complete."""
    group = found.group
    if not to_engine.usable_stock(group):
        return None, None
    options = replace(options, credit=to_engine.credit(group, run.offcut_credit))
    answer = engine.solve(to_engine.engine_problem(group, pieces), options)
    found.stopped_early |= run.stopped() if quick else answer.stopped_early
    made = cut_out(answer, group, pieces)
    if not found.slanted:
        found.bound = max(found.bound, answer.bound)
    if missing(group, made) and not answer.short:
        made = _patched(group, made)
    if missing(group, made):
        made = _on_hand(group, made)
        if found.total is None and (not found.layouts or _count(made) > _count(found.layouts)):
            found.layouts, found.short = made, missing(group, made)
        return None, None
    found.offer(made, run)
    return layouts.cost(group, made) - kept_credit(group, made, run), answer.bound


def cut_out(answer: Solution, group: Group, pieces: Sequence[Piece]) -> tuple[Layout, ...]:
    """Layouts of the engine's plan with their cuts; any that no order of cuts makes is left out."""
    made: list[Layout] = []
    for draft in layouts.pulled(to_engine.drafts(answer.patterns, group, pieces), group):
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
    extra = pencil_plan(rest, pieces).layouts
    return made if extra is None else (*made, *extra)


def _on_hand(group: Group, made: tuple[Layout, ...]) -> tuple[Layout, ...]:
    """What of a short plan the stock holds: pulls made longer for the hands may pass it; the emptiest are left out."""
    out = list(made)
    kerf = group.limits.kerf
    for line in group.stock:
        while line.on_hand is not None and layouts.amount(line, out, kerf) > line.on_hand:
            own = [k for k, y in enumerate(out) if y.stock == line.name]
            least = min(own, key=lambda k: len(out[k].blanks) / (out[k].length + kerf))
            if out[least].repeat > 1:
                out[least] = replace(out[least], repeat=out[least].repeat - 1)
            else:
                del out[least]
    return tuple(out)


def _count(made: Sequence[Layout]) -> int:
    return sum(y.repeat * len(y.blanks) for y in made)


def bound_of(group: Group, pieces: Sequence[Piece], run: Run) -> Fraction | None:
    """The engine's bound for these pieces; None when the stock does not take them all."""
    if not to_engine.usable_stock(group):
        return None
    options = replace(quick_options(run, bound_only=True), credit=to_engine.credit(group, run.offcut_credit))
    answer = engine.solve(to_engine.engine_problem(group, pieces), options)
    return None if answer.short or not answer.bound else answer.bound


def relaxed_bound(group: Group, run: Run) -> tuple[Fraction, bool]:
    """A bound for slanted blanks nested in rows of their own kind, zero for none, and whether it was cut short.

    The few that may mix in a row are left out of it.
    """
    few = [b.mark for b in group.blanks if b.outline is not None and b.count <= FEW]
    few = few if len(few) > 1 and run.pair else []
    whole = rows_bound(group, few)
    if whole:
        return whole, run.stopped()
    pieces = relaxed_pieces(group, FINE, few)
    if not pieces or not to_engine.usable_stock(group):
        return Fraction(0), False
    problem = to_engine.engine_problem(group, pieces, scale=FINE, sized=True)
    loose = replace(problem.limits, back_gauge=None, least_held=0)
    answer = engine.solve(replace(problem, limits=loose), quick_options(run, bound_only=True))
    return (Fraction(0) if answer.short else answer.bound), run.stopped()


def tried(group: Group, pieces: Sequence[Piece], work: int, run: Run) -> tuple[tuple[Tried, ...], bool]:
    """The packer and the pencil plan, and whether they were cut short."""
    tries = (
        rivals.best_rectpack(group, pieces, work=work, stopped=run.stopped),
        pencil_plan(group, pieces),
    )
    return tries, run.stopped()
