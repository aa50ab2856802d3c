"""Why a section cannot be bent on this brake: which bend, what it strikes, by how much."""

from __future__ import annotations

from collections.abc import Iterator

from fabplan.bending.brake.bend_order import SectionProblem
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.strokes import Hit, Strokes
from fabplan.bending.words import end_name, join
from fabplan.units import Show

MOST_SETS = 500  # sets of bends looked at for the reasons


def reasons(problem: SectionProblem, show: Show) -> tuple[list[int], list[str]]:
    """Bends to blame (from 0), and a sentence for each of the first."""
    return _reasons(problem.strokes.measuring(), show)


# reasons -----------------------------------------------------------------------------------------------------------


def _reasons(strokes: Strokes, show: Show) -> tuple[list[int], list[str]]:
    strip = strokes.strip
    never = [k for k in _bends(strip) if all(_stops(strokes, k, finish, 0) for finish in (False, True))]
    if never:
        return never, [_told(strokes, k, 0, show) for k in never]
    sets = _furthest(strokes)
    blamed: list[int] = []
    reasons: list[str] = []
    for made in sets:
        for k in _bends(strip):
            if not made >> k & 1 and k not in blamed:
                blamed.append(k)
                reasons.append(_told(strokes, k, made, show))
    return blamed, reasons[:5]


def _bends(strip: BendStrip) -> Iterator[int]:
    """Those the brake makes."""
    return (k for k in range(strip.n) if not strip.skipped >> k & 1)


def _furthest(strokes: Strokes) -> list[int]:
    """The largest sets of bends that can be made from the flat strip, as far as a fixed amount of work shows."""
    bends = list(_bends(strokes.strip))
    seen, stack, best = {0}, [0], [0]
    while stack and len(seen) < MOST_SETS:
        made = stack.pop()
        if made.bit_count() >= best[0].bit_count():
            best = [b for b in best if b.bit_count() == made.bit_count()] + [made]
        for k in reversed(bends):
            after = made | 1 << k
            if after not in seen and any(_stops(strokes, k, finish, made) is None for finish in (False, True)):
                seen.add(after)
                stack.append(after)
    return sorted(set(best))


def _stops(strokes: Strokes, k: int, finish_in: bool, made: int) -> Hit | None:
    hit = strokes.first_problem(k, finish_in, made)
    if hit is not None or not strokes.twice[k]:
        return hit
    under = strokes.strip.hem_at_start[k] if strokes.strip.end_hems[k] else finish_in
    ways = (True, False) if strokes.strip.hems[k] else (False,)
    hits = [strokes.closing(k, under, pushed, made) for pushed in ways]
    return None if None in hits else hits[0]


def _told(strokes: Strokes, k: int, made: int, show: Show) -> str:
    strip = strokes.strip
    what = "Hem" if strip.end_hems[k] else "Fold" if strip.hems[k] else "Bend"
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
        what = "the hem" if strokes.strip.end_hems[k] else "what is folded over"
        return f"{what} is {amount} deeper than the brake flattens ({show.length(brake.deepest_hem)})"
    if hit.what == "clamp":
        return f"the flat under the nose ends{at}, {amount} short of the {show.length(brake.least_clamp)} it needs"
    if hit.what == "flange":
        return f"the flange on the leaf ends{at}, {amount} short of the {show.length(brake.least_flange)} it needs"
    if hit.what == "throat":
        return f"the strip reaches {amount} past the throat ({show.length(brake.throat)})"
    if hit.what == "short leg":
        return f"the leg beside the hem is {amount} shorter than the hem"
    if hit.what == "layer":
        return f"the metal folded{at} lies {amount} over the bend's line: it must be bent before the fold is closed"
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
