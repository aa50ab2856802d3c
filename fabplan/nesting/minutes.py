"""The time cutting takes, counted from the cuts of a plan: what is done, how often, how long.

Every cut is one stroke, one to marks is scribed besides (a coil's cut-off is not: the mark is part of the pull). A
pull, a sheet or an offcut is fetched for every repeat, a layout is read once. Settings are those of the shear program,
shared over the job: the back gauge where its size changes, the angle stop where a slanted cut is at another angle than
the one before (square cuts need no stop). The slanted sides of a blank that leaves as its box are scribed and snipped.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from fabplan import plane
from fabplan.labour import FREE_STACKS, LIGHT_POUNDS, Labour, Spent
from fabplan.nesting.model import Cut, Layout, Placed, ShearProgram
from fabplan.nesting.problem import NEAR

FETCH = {"coil": "pull", "sheet": "sheet", "offcut": "offcut"}


def layout_work(layout: Layout, labour: Labour, pounds: float) -> tuple[Spent, ...]:
    """Time of one layout, all its repeats, without settings.

    Parameters
    ----------
    layout : Layout
    labour : Labour
    pounds : float
        Weight of a square graduation of its metal.
    """
    snipped = sum(_slanted_sides(b) for b in layout.blanks if b.boxed)
    scribed = sum(c.back_gauge is None for c in _after_cut_off(layout)) + snipped
    once = _stroke_seconds(layout, labour, pounds)
    return _some(
        Spent(what="stroke", times=layout.repeat * len(layout.cuts), seconds=_tidy(layout.repeat * _tidy(once))),
        _spent("scribe", layout.repeat * scribed, labour),
        _spent("snip", layout.repeat * snipped, labour),
        _spent(FETCH[layout.form], layout.repeat, labour),
        _spent("layout", 1, labour),
    )


def program_work(program: ShearProgram | None, labour: Labour) -> tuple[Spent, ...]:
    """Time of the settings of a shear program, and of the piles that lie about beyond a few."""
    if program is None:
        return ()
    return settings_work([(step.back_gauge, step.angle) for step in program.steps], program.most_open_stacks, labour)


def settings_work(settings: Iterable[tuple[int | None, float]], piles: int, labour: Labour) -> tuple[Spent, ...]:
    """Time of settings taken in turn (back gauge and angle, no gauge for a cut to a mark), and of the piles."""
    gauges = stops = 0
    gauge: int | None = None
    angle = 90.0
    for back_gauge, turned in settings:
        if back_gauge is None:
            continue
        gauges += back_gauge != gauge
        gauge = back_gauge
        if turned not in (90.0, angle):
            stops, angle = stops + 1, turned
    return _some(
        _spent("set_gauge", gauges, labour),
        _spent("set_stop", stops, labour),
        _spent("stack", max(0, piles - FREE_STACKS), labour),
    )


def together(work: Iterable[Spent]) -> tuple[Spent, ...]:
    """The same kinds of work added up, first seen first."""
    found: dict[str, Spent] = {}
    for w in work:
        old = found.get(w.what)
        found[w.what] = w if old is None else Spent(
            what=w.what, times=old.times + w.times, seconds=_tidy(old.seconds + w.seconds)
        )  # fmt: skip
    return tuple(found.values())


def seconds_of(work: Iterable[Spent]) -> Fraction:
    """Seconds together, exactly as they are written."""
    return sum((Fraction(round(w.seconds * 100), 100) for w in work), Fraction(0))


def labour_cost(layouts: Sequence[Layout], settings: Sequence[Spent], second: Mapping[str, Fraction]) -> Fraction:
    """What the time of the layouts and of the settings shared by them costs.

    Parameters
    ----------
    layouts : sequence of Layout
        With their `spent`.
    settings : sequence of Spent
    second : mapping of metal to Fraction
        Cost of one second; a setting that metals share counts at the dearest.
    """
    own = sum((seconds_of(y.spent) * second[y.metal] for y in layouts), Fraction(0))
    return own + seconds_of(settings) * max((second[y.metal] for y in layouts), default=Fraction(0))


def _slanted_sides(blank: Placed) -> int:
    """Sides of a blank's sheared outline that its box does not give."""
    ring = plane.hull(blank.outline or (), NEAR)
    return sum(
        abs(p[0] - q[0]) > NEAR and abs(p[1] - q[1]) > NEAR for p, q in zip(ring, (*ring[1:], *ring[:1]), strict=True)
    )


def _after_cut_off(layout: Layout) -> Sequence[Cut]:
    return layout.cuts[1:] if layout.form == "coil" else layout.cuts


def _stroke_seconds(layout: Layout, labour: Labour, pounds: float) -> float:
    """Seconds of the strokes of one repeat: a heavy piece takes longer than a light one."""
    if layout.width * layout.length * pounds <= LIGHT_POUNDS:
        return labour.stroke * len(layout.cuts)
    # The rest of the coil lies on its reel.
    return sum(
        labour.stroke if cut.on is None else labour.one_stroke(plane.area(cut.on.outline) * pounds)
        for cut in layout.cuts
    )


def _spent(what: str, times: int, labour: Labour) -> Spent:
    return Spent(what=what, times=times, seconds=_tidy(times * float(getattr(labour, what))))


def _some(*work: Spent) -> tuple[Spent, ...]:
    return tuple(w for w in work if w.times)


def _tidy(seconds: float) -> float:
    return round(seconds, 2)
