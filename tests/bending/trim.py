"""Random trim as roofing shops bend it: families, legs, hems, metals and three brakes (common practice, no source)."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

METALS = ("copper-16oz", "copper-20oz", "zinc-0.7mm", "aluminum-0.032in", "galvanized-0.0217in")
BRAKES = {
    "usual": "",
    "small": '[brake]\nlongest_bend = "48 in"\nthroat = "8 in"\nlargest_angle = 120\n',
    "far": "[brake]\nlargest_angle = 180\nnose_angle = 30\n",
}


@dataclass(frozen=True)
class Trim:
    """One piece of trim: inches, degrees; hems as (width, side, gap)."""

    family: str
    legs: tuple[float, ...]
    bends: tuple[float, ...]
    start_hem: tuple[float, str, float] | None = None
    end_hem: tuple[float, str, float] | None = None

    def text(self, mark: str, metal: str) -> str:
        """Its table in a job file."""
        legs = ", ".join(f'"{x:g} in"' for x in self.legs)
        bends = ", ".join(f"{b:g}" for b in self.bends)
        out = f'[[piece]]\nmark = "{mark}"\nkind = "section"\ncount = 1\nlength = "46 in"\nmetal = "{metal}"\n'
        out += f"legs = [{legs}]\nbends = [{bends}]\n"
        for key, hem in (("start_hem", self.start_hem), ("end_hem", self.end_hem)):
            if hem is not None:
                out += f'{key} = {{width = "{hem[0]:g} in", toward = "{hem[1]}", gap = "{hem[2]:g} in"}}\n'
        return out


def eighths(rng: random.Random, low: float, high: float) -> float:
    """A size to the eighth of an inch."""
    return rng.randint(round(low * 8), round(high * 8)) / 8


def hem(
    rng: random.Random, side: str, often: float = 0.7, low: float = 0.375, high: float = 0.5
) -> tuple[float, str, float] | None:
    """A hem, more often closed than open, or none."""
    if rng.random() > often:
        return None
    return eighths(rng, low, high), side, rng.choice((0.0, 0.0, 1 / 16))


def trim(rng: random.Random, brake: str = "usual") -> Trim:
    """One random piece; a shop draws no sharper bends than its leaf swings."""
    family = rng.choice(list(FAMILIES))
    made = FAMILIES[family](rng)
    if brake == "small" and family == "gravel stop":
        return replace(made, bends=(30.0, -120.0, 30.0))
    return made


def _drip_edge(rng: random.Random) -> Trim:
    kick = rng.choice((30.0, 45.0))
    legs = (eighths(rng, 2, 4), eighths(rng, 1, 2.5), eighths(rng, 0.5, 0.75))
    return Trim("drip edge", legs, (-90.0, kick), None, hem(rng, "back"))


def _gutter(rng: random.Random) -> Trim:
    legs = (eighths(rng, 4, 6), eighths(rng, 4, 6), eighths(rng, 3, 5), eighths(rng, 0.75, 1.25))
    return Trim("gutter", legs, (90.0, 90.0, rng.choice((90.0, -90.0))), None, hem(rng, "face"))


def _box_gutter(rng: random.Random) -> Trim:
    deep = eighths(rng, 3, 5)
    legs = (eighths(rng, 1.5, 4), deep, eighths(rng, 4, 8), deep, eighths(rng, 1, 2))
    return Trim("box gutter", legs, (-90.0, 90.0, 90.0, -90.0), None, hem(rng, "back", 0.5))


def _gravel_stop(rng: random.Random) -> Trim:
    legs = (eighths(rng, 3.5, 5), eighths(rng, 0.75, 1.25), eighths(rng, 3, 6), eighths(rng, 0.5, 0.75))
    return Trim("gravel stop", legs, (45.0, -135.0, 45.0), None, hem(rng, "face"))


def _hat(rng: random.Random) -> Trim:
    foot, side = eighths(rng, 1, 2), eighths(rng, 0.875, 2)
    return Trim("hat", (foot, side, eighths(rng, 1.5, 4), side, foot), (90.0, -90.0, -90.0, 90.0))


def _pan(rng: random.Random) -> Trim:
    low, high = eighths(rng, 1, 1.75), eighths(rng, 1, 1.75)
    if rng.random() < 0.5:
        return Trim("pan", (low, eighths(rng, 10, 20), high), (90.0, 90.0))
    return Trim("pan", (0.375, low, eighths(rng, 10, 20), high), (90.0, 90.0, 90.0))


def _ogee(rng: random.Random) -> Trim:
    legs = (eighths(rng, 4, 5), eighths(rng, 3, 4), eighths(rng, 1.25, 2), eighths(rng, 1.25, 2), eighths(rng, 0.75, 1))
    return Trim("ogee", legs, (90.0, 60.0, -45.0, 75.0), None, hem(rng, "face", 0.5))


def _coping(rng: random.Random) -> Trim:
    top, outer = eighths(rng, 6, 16), eighths(rng, 2.5, 5)
    inner = eighths(rng, 2, outer)
    if rng.random() < 0.3:
        return Trim("coping", (outer, top, inner), (90.0, 90.0), hem(rng, "face"), hem(rng, "face"))
    kick = eighths(rng, 0.5, 0.75)
    ends = hem(rng, "face", 0.8)
    return Trim("coping", (kick, outer, top, inner, kick), (-45.0, 90.0, 90.0, -45.0), ends, ends)


def _cleat(rng: random.Random) -> Trim:
    if rng.random() < 0.5:
        return Trim("cleat", (eighths(rng, 1.5, 3), eighths(rng, 0.75, 1.5)), (-90.0,))
    legs = (eighths(rng, 1.5, 3), eighths(rng, 1, 2.5), eighths(rng, 0.5, 0.75))
    return Trim("cleat", legs, (-90.0, 45.0))


def _counterflashing(rng: random.Random) -> Trim:
    legs = (eighths(rng, 0.75, 1.5), eighths(rng, 3, 6), eighths(rng, 0.5, 0.75))
    return Trim("counterflashing", legs, (90.0, rng.choice((-20.0, -30.0))), None, hem(rng, "back"))


def _valley(rng: random.Random) -> Trim:
    side = eighths(rng, 6, 10)
    ends = hem(rng, "face", 0.8, 0.5, 0.75)
    if rng.random() < 0.5:
        return Trim("valley", (side, side), (rng.choice((20.0, 30.0, 45.0, 60.0)),), ends, ends)
    rib = eighths(rng, 0.75, 1.25)
    return Trim("valley", (side, rib, rib, side), (45.0, -90.0, 45.0), ends, ends)


def _zed(rng: random.Random) -> Trim:
    legs = (eighths(rng, 1.5, 4), eighths(rng, 0.75, 2.5), eighths(rng, 1.5, 4))
    return Trim("Z", legs, (90.0, -90.0), None, hem(rng, "back", 0.3))


def _hip_cap(rng: random.Random) -> Trim:
    side, ends = eighths(rng, 3, 6), hem(rng, "back", 0.8, 0.5, 0.5)
    return Trim("hip cap", (side, side), (-rng.choice((30.0, 45.0, 60.0, 80.0)),), ends, ends)


FAMILIES: dict[str, Callable[[random.Random], Trim]] = {
    "drip edge": _drip_edge,
    "gutter": _gutter,
    "box gutter": _box_gutter,
    "gravel stop": _gravel_stop,
    "hat": _hat,
    "pan": _pan,
    "ogee": _ogee,
    "coping": _coping,
    "cleat": _cleat,
    "counterflashing": _counterflashing,
    "valley": _valley,
    "Z": _zed,
    "hip cap": _hip_cap,
}


def job_text(seeds: range, brake: str) -> str:
    """A job of one piece a seed on that brake."""
    out = ['[job]\nname = "trim"\nnumber = "1"\n[metal]\nuse = "copper-16oz"\n', BRAKES[brake]]
    for seed in seeds:
        rng = random.Random(seed)
        out.append(trim(rng, brake).text(f"{seed}", rng.choice(METALS)))
    return "".join(out)
