"""Typed damage to a saved plan: what a slip of the hand, an older file, a bad copy or a fault in the program can do."""

from __future__ import annotations

import copy
import random
import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

Data = dict[str, Any]
Path = tuple[str | int, ...]

# Words that stand for one thing or another; each is changed to another of its kind.
WORDS = (
    ("face", "back"),
    ("fold", "pre-bend", "close"),
    ("start end", "finish end"),
    ("front", "end"),
    ("edge", "hem", "bend"),
    ("coil", "sheet", "offcut"),
    ("area", "money"),
    ("short", "proven", "within_margin", "not_proven"),
    ("flat", "section"),
    ("any", "along", "across"),
    ("copper-16oz", "zinc-0.7mm", "copper-20oz"),
    ("A", "S", "D", "K"),
    ("Z", "ZS"),
    ("coil 24", "coil 670", "sheet"),
    ("leaf brake", "hand seamer"),
    ("in", "mm"),
    ("sheet", "panel", "bundle", "kit"),
)
OTHER_TYPES: tuple[Any, ...] = ("12", None, [], {}, True, -1, 1.5, [[1]], {"a": 1}, "")


def leaves(value: Any, at: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every value of a plan with its place, containers included."""
    yield at, value
    if isinstance(value, dict):
        for k, v in value.items():
            yield from leaves(v, (*at, k))
    elif isinstance(value, list):
        for k, v in enumerate(value):
            yield from leaves(v, (*at, k))


def key(at: Path) -> str:
    """The place without its numbers: ``nesting.layouts[].cuts[].held``."""
    return re.sub(r"\.\[\]", "[]", ".".join("[]" if isinstance(k, int) else k for k in at))


def look(data: Any, at: Path) -> Any:
    for k in at:
        data = data[k]
    return data


def put(data: Data, at: Path, value: Any) -> Data:
    """A copy with one value changed."""
    out = copy.deepcopy(data)
    look(out, at[:-1])[at[-1]] = value
    return out


Kind = Callable[[Data, Path, Any, random.Random], Data | None]
KINDS: dict[str, Kind] = {}


def kind(f: Kind) -> Kind:
    KINDS[f.__name__] = f
    return f


@kind
def a_little(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    """A number off by a little more than it is rounded to."""
    if not isinstance(value, float):
        return None
    return put(data, at, round(value + rng.choice([-1, 1]) * rng.choice([0.0004, 0.004, 0.04]), 6))


@kind
def a_graduation(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if not isinstance(value, float):
        return None
    step = 0.5 if data["units"] == "mm" else 1 / 32
    return put(data, at, value + rng.choice([-1, 1]) * step)


@kind
def a_unit(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if not isinstance(value, float) or value == 0:
        return None
    return put(data, at, round(value * rng.choice([25.4, 1 / 25.4, 12, 1 / 12, 10, 0.1]), 6))


@kind
def one_more_or_less(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if isinstance(value, bool) or not isinstance(value, int):
        return None
    return put(data, at, value + rng.choice([-1, 1]))


@kind
def other_sign(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value == 0:
        return None
    return put(data, at, -value)


@kind
def yes_for_no(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    return put(data, at, not value) if isinstance(value, bool) else None


@kind
def other_word(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if not isinstance(value, str):
        return None
    others = [w for group in WORDS if value in group for w in group if w != value]
    return put(data, at, rng.choice(others)) if others else None


@kind
def figure_in_words(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    """A figure inside a sentence or an exact fraction."""
    places = [m.start() for m in re.finditer(r"\d", value)] if isinstance(value, str) else []
    if not places:
        return None
    n = rng.choice(places)
    return put(data, at, value[:n] + str((int(value[n]) + rng.randint(1, 8)) % 10) + value[n + 1 :])


@kind
def words_cut(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if not isinstance(value, str) or len(value) < 2:
        return None
    n = rng.randrange(len(value))
    return put(data, at, value[:n] + value[n + 1 :])


@kind
def nothing(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    return None if value is None or not at else put(data, at, None)


@kind
def other_type(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    choices = [v for v in OTHER_TYPES if type(v) is not type(value)]
    return put(data, at, rng.choice(choices)) if at else None


@kind
def left_out(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    """A piece, cut, layout, course, kit, buying line or key missing."""
    if not at:
        return None
    out = copy.deepcopy(data)
    del look(out, at[:-1])[at[-1]]
    return out


@kind
def twice(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if not at or not isinstance(at[-1], int):
        return None
    out = copy.deepcopy(data)
    look(out, at[:-1]).insert(at[-1], copy.deepcopy(value))
    return out


@kind
def two_swapped(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    """Two neighbours of a list change places."""
    if not isinstance(value, list):
        return None
    pairs = [k for k in range(len(value) - 1) if value[k] != value[k + 1]]
    if not pairs:
        return None
    k = rng.choice(pairs)
    return put(data, at, [*value[:k], value[k + 1], value[k], *value[k + 2 :]])


@kind
def two_swapped_and_numbered(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    """Two neighbouring steps change places and take each other's number."""
    if not isinstance(value, list) or len(value) < 2 or not all(isinstance(v, dict) and "step" in v for v in value):
        return None
    k = rng.randrange(len(value) - 1)
    a, b = dict(value[k + 1]), dict(value[k])
    a["step"], b["step"] = value[k]["step"], value[k + 1]["step"]
    return put(data, at, [*value[:k], a, b, *value[k + 2 :]])


@kind
def values_swapped(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    """Two numbers of one thing change places: width and length, x and y, stop and check."""
    if not isinstance(value, dict):
        return None
    names = [k for k, v in value.items() if isinstance(v, (int, float)) and not isinstance(v, bool)]
    pairs = [(a, b) for a in names for b in names if a < b and value[a] != value[b]]
    if not pairs:
        return None
    a, b = rng.choice(pairs)
    return put(data, at, {**value, a: value[b], b: value[a]}) if at else None


@kind
def strange_key(data: Data, at: Path, value: Any, rng: random.Random) -> Data | None:
    if not isinstance(value, dict):
        return None
    return put(data, at, {**value, "extra": 1}) if at else {**data, "extra": 1}


# Damage to several values at once, so that they agree with each other.


def totals(data: Data, total: Fraction, bound: Fraction) -> Data:
    """The plan with another total and bound, said everywhere alike."""
    out = copy.deepcopy(data)
    nest = out["nesting"]
    nest["total"], nest["bound"] = round(float(total), 6), round(float(bound), 6)
    nest["total_exact"], nest["bound_exact"] = str(total), str(bound)
    nest["above_bound"] = round(float(total / bound - 1), 6) if bound else None
    nest["status"] = "proven" if total == bound else "within_margin" if total <= bound * Fraction(101, 100) else "x"
    if nest["status"] == "x":
        nest["status"] = "not_proven"
    return out


def together(data: Data, rng: random.Random) -> Iterator[tuple[str, Data]]:
    """Wrong plans whose figures agree with each other."""
    total, bound = Fraction(data["nesting"]["total_exact"]), Fraction(data["nesting"]["bound_exact"])
    if bound != total:
        yield "the bound raised to the total", totals(data, total, total)
        yield "the bound raised half way", totals(data, total, (total + bound) / 2)
    yield "the total lowered", totals(data, bound * Fraction(999, 1000), bound * Fraction(999, 1000))
    layouts = data["nesting"]["layouts"]
    for n, layout in enumerate(layouts):
        marks = {b["mark"] for b in layout["blanks"]}
        for move in ("x", "y"):
            out = copy.deepcopy(data)
            for b in out["nesting"]["layouts"][n]["blanks"]:
                b[move] += 1.0
                if b["outline"]:
                    b["outline"] = [[p[0] + (move == "x"), p[1] + (move == "y")] for p in b["outline"]]
            yield f"every blank moved along {move}", out
        out = copy.deepcopy(data)
        out["nesting"]["layouts"][n]["repeat"] += 1
        for step in out["nesting"]["shear_program"]["steps"]:
            for c in step["cuts"]:
                c["times"] += c["layout"] == n + 1
        yield "a pattern made once more", out
        if len(marks) > 1:
            a, b = sorted(marks)[:2]
            out = copy.deepcopy(data)
            for blank in out["nesting"]["layouts"][n]["blanks"]:
                blank["mark"] = {a: b, b: a}.get(blank["mark"], blank["mark"])
            yield "two marks exchanged in a pattern", out
    out = copy.deepcopy(data)
    mark = out["blanks"][0]["mark"]
    out["blanks"][0]["count"] -= 1
    for layout in out["nesting"]["layouts"]:
        k = next((k for k, b in enumerate(layout["blanks"]) if b["mark"] == mark and layout["repeat"] == 1), None)
        if k is not None:
            del layout["blanks"][k]
            break
    yield "a piece fewer in the list and on the stock", out
    for n, schedule in enumerate(data["bending"]):
        out = copy.deepcopy(data)
        for step in out["bending"][n]["steps"]:
            step["side_up"] = step["toward"] = "back" if step["side_up"] == "face" else "face"
        yield "a piece folded the wrong way round", out
        out = copy.deepcopy(data)
        for step in out["bending"][n]["steps"]:
            step["set_deg"] += 1.0
        yield "every setting a degree further", out
        if len(schedule["steps"]) > 1:
            out = copy.deepcopy(data)
            steps = out["bending"][n]["steps"][::-1]
            for k, step in enumerate(steps, start=1):
                step["step"] = k
            out["bending"][n]["steps"] = steps
            yield "the strokes in the other order", out


def every(data: Data, rng: random.Random) -> list[tuple[str, str, Data | tuple[Kind, Path, Any]]]:
    """(kind, key, what makes it) of all damage to single places."""
    return [(name, key(at), (f, at, value)) for at, value in leaves(data) for name, f in KINDS.items()]
