"""Turned ends of sections, in the apprentice's words."""

from __future__ import annotations

import math

from fabplan.bending.model import Step
from fabplan.bending.tools import is_mallet
from fabplan.blanks.model import EndTurn, FlatPattern, Fold
from fabplan.units import Show

WIDE_RADIUS = 1.0  # thicknesses: above it the metal at a corner needs a hole, not a snip
HOLE = 1 / 8  # inches, least hole where bends with a radius cross (FAA-H-8083-31, ch. 4, relief holes)
PAST = 1 / 32  # inches snipped past the inside tangents (the same source: 1/32 to 1/16)
JOINTS = {
    "soldered": "solder",
    "sealed": "bed in sealant",
    "riveted": "rivet",
    "open": "leave open",
}


def end_and_fold(pattern: FlatPattern, step: Step) -> tuple[EndTurn, Fold]:
    """The turned end of a bench stroke, and its fold."""
    return next((e, f) for e in pattern.ends for f in (e.fold, *e.tabs) if f.edge == step.edge)


def tab_leg(end: EndTurn, tab: Fold) -> int:
    """The leg a tab is of, hems not counted."""
    return end.leg - 1 if tab.flap[1][0] < end.fold.flap[0][0] else end.leg + 1


def fold_title(pattern: FlatPattern, number: int) -> str:
    """``end dam of leg 2 at end A``, ``tab of leg 3 at end A``."""
    end, fold = next((e, f) for e in pattern.ends for f in (e.fold, *e.tabs) if f.edge == number)
    if fold is end.fold:
        return f"{end.what} of leg {end.leg} at end {end.at}"
    return f"tab of leg {tab_leg(end, fold)} at end {end.at}"


def end_sentences(pattern: FlatPattern, step: Step, show: Show) -> list[str]:
    """What to do at the bench for one stroke, a sentence each."""
    end, fold = end_and_fold(pattern, step)
    own = fold is end.fold
    what = f"the end of leg {end.leg}" if own else f"the tab of leg {tab_leg(end, fold)}"
    goal = f"turned {show.degrees(fold.turned)} (inside {show.degrees(180 - fold.turned)})"
    where = "" if own else f" round the corner, flat on the outside of the {end.what}"
    if is_mallet(step.tool):
        block = f", cut to go in between the legs, {show.length(end.between)} apart" if own and end.between else ""
        out = [f"Lay a block along the line, inside{block}; dress {what} up against it{where}, {goal}."]
        if not own:
            out = [f"Dress {what}{where} with the {step.tool}, {goal}."]
    elif step.hold.way == "slot":
        out = [f"{what.capitalize()} in the slot of the {step.tool}, its edge on the line; turn it up{where}, {goal}."]
    else:
        bites = f", in {step.hold.bites} bites of up to {show.length(step.hold.bite)}" if step.hold.bites else ""
        out = [f"{step.tool.capitalize()} {show.length(step.stop)} onto {what}{bites}; fold up{where}, {goal}."]
    if own and end.tabs:
        out.append("The tabs beside it stay straight.")
    last = end.tabs[-1] if end.tabs else end.fold
    return [*out, joint_words(end, show)] if fold is last and end.joined != "open" else out


def joint_words(end: EndTurn, show: Show) -> str:
    """How the corners of a turned end are closed."""
    seam = f"{show.length(end.seam)} in all"
    rivets = f"{end.rivets} {'rivet' if end.rivets == 1 else 'rivets'} through each tab"
    if end.joined == "soldered":
        first = f"{rivets}, then solder" if end.tabs else "Solder"
        words = f"{first} its corners full length, from the foot up, {seam}"
    elif end.joined == "sealed":
        first = f"bed each tab in sealant, {rivets}, then seal" if end.tabs else "Seal"
        words = f"{first} its corners inside, {seam}"
    else:
        words = rivets if end.tabs else "rivet its corners to a corner piece"
    return f"{words[0].upper()}{words[1:]}."


def end_notes(pattern: FlatPattern, show: Show) -> list[str]:
    """What is said once of a piece with turned ends, before its first stroke."""
    out = []
    dams = any(e.what == "end dam" for e in pattern.ends)
    tabs = ", then fold their tabs" if any(e.tabs for e in pattern.ends) else ""
    out.append(f"Snip the ends before any bend. Bend on the brake first, then turn the ends at the bench{tabs}.")
    past = f"Snip inside corners {show.length(PAST)} past the crossing of the lines, no more"
    out.append(past + ("; fill a dam with water before it goes up." if dams else "."))
    radii = {f.radius for f in pattern.folds if not f.hem and f.radius > WIDE_RADIUS * pattern.thickness}
    if radii:
        hole = max(HOLE, *radii)
        out.append(
            f"Bends with a radius: drill {show.length(_up(hole, show))} at each crossing of a bend with the line of an "
            "end before snipping."
        )
    return out


def _up(length: float, show: Show) -> float:
    step = show.grid / 25_400_000
    return math.ceil(length / step - 1e-9) * step
