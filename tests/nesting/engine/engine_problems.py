"""Problems for the engine's tests, and a checker of its trees written without the solver."""

from __future__ import annotations

import json
from collections import Counter
from fractions import Fraction
from math import lcm
from pathlib import Path

from fabplan.nesting.engine.problem import Item, Limits, Node, Pattern, Problem, Solution, StockSize

DATA = Path(__file__).parents[1] / "data"


def open_instance(name: str, **limits: object) -> Problem:
    """An instance of the open sets (see data/README.md)."""
    data = json.loads((DATA / "open" / f"{name}.json").read_text())
    items = tuple(
        Item(key=i, width=p["w"], length=p["h"], count=p["demand"], may_turn=p["rotate"])
        for i, p in enumerate(data["items"])
    )
    stock = tuple(
        StockSize(key=i, form="sheet", width=s["w"], length=s["h"], cost=Fraction(1), available=s["available"])
        for i, s in enumerate(data["stock"])
    )
    return Problem(items=items, stock=stock, limits=Limits(**limits))  # type: ignore[arg-type]


def shop_instance(name: str, **limits: object) -> Problem:
    """A workload of data/shop."""
    data = json.loads(next((DATA / "shop").glob(f"{name}*.json")).read_text())
    den = lcm(*(Fraction(str(p[side])).denominator for p in data["pieces"] for side in "wh"))

    def steps(value: object) -> int:
        return int(Fraction(str(value)) * den)

    items = tuple(
        Item(key=i, width=steps(p["w"]), length=steps(p["h"]), count=p["n"], may_turn=p["rot"])
        for i, p in enumerate(data["pieces"])
    )
    stock = tuple(
        StockSize(
            key=i,
            form="coil" if s["kind"] == "coil" else "sheet",
            width=steps(s["w"]),
            length=steps(s["l"]),
            cost=Fraction(str(s["cost"])) / (den if s["kind"] == "coil" else 1),
            available=s["count"],
        )
        for i, s in enumerate(data["stock"])
    )
    longest = steps(data["shear"]) if data.get("shear") else None
    chosen = Limits(**{"longest_cut": longest, **limits})  # type: ignore[arg-type]
    return Problem(items=items, stock=stock, limits=chosen)


def prove(problem: Problem, answer: Solution) -> None:
    """Counts, amounts, cost, grain, and every division of every tree within the shear's limits."""
    made, used, cost = Counter[object](), Counter[object](), Fraction(0)
    stock = {s.key: s for s in problem.stock}
    for p in answer.patterns:
        s = stock[p.stock]
        assert (p.root.x, p.root.y, p.root.width, p.root.length) == (0, 0, s.width, p.length)
        if s.form == "coil":
            assert p.length <= s.length and s.width <= (problem.limits.longest_cut or s.width)
            amount = (p.length + problem.limits.kerf) * p.repeat
        else:
            assert p.length == s.length
            amount = p.repeat
        used[s.key] += amount
        cost += s.cost * amount
        _divide(problem, p, p.root, made)
    short = dict(answer.short)
    for item in problem.items:
        assert made[item.key] >= item.count - short.get(item.key, 0)
    assert all(s.available is None or used[s.key] <= s.available for s in problem.stock)
    assert cost == answer.cost
    assert answer.bound <= answer.cost


def _divide(problem: Problem, pattern: Pattern, node: Node, made: Counter[object]) -> None:
    limits = problem.limits
    if node.piece is not None:
        item = next(i for i in problem.items if i.key == node.piece)
        sides = (item.length, item.width) if node.turned else (item.width, item.length)
        assert (node.width, node.length) == sides
        if not item.may_turn:
            across = next(s for s in problem.stock if s.key == pattern.stock).grain_across
            assert node.turned == (across and not item.keeps_frame)
        made[node.piece] += pattern.repeat
        return
    along_x = node.axis == "x"
    low, high = (node.x, node.x + node.width) if along_x else (node.y, node.y + node.length)
    at, sizes, cuts = low, [], 0
    for n, part in enumerate(node.parts):
        a, b = (part.x, part.x + part.width) if along_x else (part.y, part.y + part.length)
        cross = (part.y, part.length, node.y, node.length) if along_x else (part.x, part.width, node.x, node.width)
        assert cross[:2] == cross[2:]
        assert a >= at + (limits.kerf if n else 0) and b <= high
        cuts += a > at or n > 0
        sizes.append(b - a)
        at = b
        _divide(problem, pattern, part, made)
    rest = high - at
    if cuts or rest:
        span = node.length if along_x else node.width
        assert span <= (limits.longest_cut or span)
        assert sum(s > (limits.back_gauge or s) for s in sizes) <= 1
        assert max([*sizes, rest - limits.kerf]) >= limits.least_held
