"""Random roofs of every shape: each is planned and passes its checker, or is refused in words."""

from __future__ import annotations

import math
import random
from collections import Counter
from functools import cache
from typing import Any

import pytest
import roof_jobs as rj

from fabplan.blanks.develop import develop
from fabplan.errors import FabplanError
from fabplan.job.slopes import Roof
from fabplan.plan.make import metals_of
from fabplan.roof.check.parts import check_part_blanks
from fabplan.roof.check.whole import check_roof
from fabplan.roof.parts.part_sizes import part_patterns, with_part_sizes
from fabplan.roof.plan import plan_roof

SHAPES = (
    "rectangle",
    "triangle",
    "trapezoid",
    "four-sided",
    "polygon",
    "gable",
    "ell",
    "regular-spire",
    "irregular-spire",
)


def inch(value: float) -> str:
    return f"{round(value * 32) / 32} in"


def _sizes(rng: random.Random, shape: str, b: float, h: float) -> dict[str, Any]:
    if shape == "rectangle":
        return {"bottom": inch(b), "height": inch(h)}
    if shape == "triangle":
        x = rng.uniform(0.1, 0.9) * b
        keys: dict[str, Any] = {"bottom": inch(b)}
        if rng.random() < 0.3:
            return {**keys, "height": inch(h), "apex_from_left": inch(x)}
        keys |= {"left": inch(math.hypot(x, h)), "right": inch(math.hypot(b - x, h))}
        if rng.random() < 0.5:
            keys |= {"height": inch(h + rng.uniform(-0.3, 0.3)), "apex_from_left": inch(x + rng.uniform(-0.3, 0.3))}
        return keys
    if shape == "trapezoid":
        top, x = rng.uniform(0.2, 1.4) * b, rng.uniform(0, 0.4 * b)
        keys = {"bottom": inch(b), "top": inch(top)}
        if top > b:
            keys["edges"] = {"left": "hip", "right": "hip"}
        if rng.random() < 0.4:
            return {**keys, "height": inch(h), **({"top_from_left": inch(x)} if rng.random() < 0.5 else {})}
        keys |= {"left": inch(math.hypot(x, h)), "right": inch(math.hypot(b - x - top, h))}
        if rng.random() < 0.5:
            keys |= {"height": inch(h), "top_from_left": inch(x)}
        return keys
    if shape == "four-sided":
        p = [
            (0.0, 0.0),
            (b, rng.uniform(-2, 2)),
            (b * rng.uniform(0.6, 1.1), h + rng.uniform(-4, 4)),
            (b * rng.uniform(-0.1, 0.3), h + rng.uniform(-4, 4)),
        ]
        d = [
            inch(math.dist(p[i], p[j]) + rng.gauss(0, 0.03))
            for i, j in ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3))
        ]
        keys = dict(zip(("bottom", "right", "top", "left"), d[:4], strict=True))
        one = rng.choice(["up_right", "up_left", "both"])
        keys |= {"diagonal_up_right": d[4]} if one != "up_left" else {}
        return keys | ({"diagonal_up_left": d[5]} if one != "up_right" else {})
    if shape == "polygon":
        corners = [(0, 0), (b, 0), (b, h), (b / 2, h * 1.3), (b * 0.45, h * 0.8), (0, h * 0.9)]
        points = [[inch(x), inch(y)] for x, y in corners]
        return {"points": points if rng.random() < 0.6 else points[:1] + points[:0:-1]}
    if shape == "ell":
        sides = [h, h * 0.6] if rng.random() < 0.5 else [h * 0.6, h]
        return {"bottom": inch(b), "top": inch(b * 0.4), "left": inch(sides[0]), "right": inch(sides[1])}
    if shape == "gable":
        keys = {"bottom": inch(b)}
        keys |= {k: inch(h * 0.4) for k in ("left", "right") if rng.random() < 0.7}
        if rng.random() < 0.5:
            return {**keys, "height": inch(h + 20)}
        return {**keys, "left_slant": inch(b * 0.7), "right_slant": inch(b * 0.75)}
    if shape == "regular-spire":
        n, a = rng.choice([3, 4, 5, 6, 8, 12]), rng.uniform(20, 60)
        keys = {"sides": n, rng.choice(["side", "across_flats", "across_corners"]): inch(a)}
        keys |= {rng.choice(["height", "slant", "hip"]): inch(rng.uniform(1.4, 2.5) * a * n / 5)}
        if rng.random() < 0.4:
            keys |= {rng.choice(["top_side", "top_across_flats", "top_across_corners"]): inch(a / 6)}
        return keys
    n, a = rng.choice([3, 4, 5]), rng.uniform(40, 70)
    around = [a + rng.uniform(-3, 3) for _ in range(n)]
    keys = {"eaves": [inch(v) for v in around], "hips": [inch(2 * a + rng.uniform(-3, 3)) for _ in range(n)]}
    return keys | ({"height": inch(1.8 * a)} if rng.random() < 0.2 else {}) | {"go_on": True}


def random_slope(rng: random.Random, shape: str) -> dict[str, Any]:
    b, h = rng.uniform(30, 90), rng.uniform(30, 90)
    keys = {"shape": shape, "count": rng.choice([1, 1, 2]), **_sizes(rng, shape, b, h)}
    spire = shape.endswith("spire")
    if rng.random() < 0.5 and shape != "triangle":
        hole: dict[str, Any] = {"from_left": inch(12 if spire else b * 0.35), "up": inch(h * rng.choice([0, 0.2]))}
        hole |= {"width": inch(rng.uniform(2, 14)), "height": inch(rng.uniform(4, 24))}
        hole |= {"slope": rng.choice([1, 2, 3])} if spire else {}
        hole |= rng.choice([{}, {"stop_short": "1/2 in"}, {"run_past": "3/4 in"}])
        keys["openings"] = [hole]
    if rng.random() < 0.3 and not spire:
        keys |= {"eave_drop": inch(rng.uniform(0, 3)), "low_end": rng.choice(["left", "right"])}
    if shape in ("rectangle", "triangle", "trapezoid"):
        if rng.random() < 0.3:
            keys["edges"] = {**keys.get("edges", {}), "left": rng.choice(["valley", "wall", "rake", "hip"])}
        keys |= rng.choice([{}, {"run_past": {"right": "3/4 in"}}, {"stop_short": {"2": "1 in"}}])
    return keys


def random_rules(rng: random.Random) -> Roof:
    keys: dict[str, Any] = {
        "centre": rng.choice(["better", "point", "joint"]),
        "centre_at": rng.choice(["0 %", "50 %", "100 %"]),
        "eave": rng.choice(["auto", "follow", "level"]),
        "level_from": rng.choice(["low", "middle", "high"]),
        "even_courses": rng.random() < 0.5,
        "apex_cap": rng.random() < 0.7,
        "pair": rng.random() < 0.8,
        "good_side": rng.random() < 0.5,
        "kit_pieces": rng.choice([10, 40, 200]),
        "cap_leg": rng.choice(["2 in", "4 in"]),
        "hips": rng.choice(["capped"] * 8 + ["wrapped"]),
        "under_cap": rng.choice(["lay", "leave out"]),
        "least_underlap": rng.choice(["1 in", "1/4 in"]),
        "cleats_per_piece": rng.choice([0, 2]),
    }
    return rj.roof(**keys)


@cache
def _patterns() -> Any:
    return rj.patterns()


def try_roofs(seeds: range) -> Counter[str]:
    """How many roofs were planned and proven, and how many refused, by shape."""
    out: Counter[str] = Counter()
    for seed in seeds:
        rng = random.Random(seed)
        shape = SHAPES[seed % len(SHAPES)]
        job = rj.job_with(rj.slope(**random_slope(rng, shape)), rules=random_rules(rng))
        try:
            plan = plan_roof(job, _patterns())
        except FabplanError as refused:
            assert str(refused)
            out["refused"] += 1
            continue
        assert check_roof(plan, job, _patterns()) == [], f"seed {seed}"
        out[shape] += 1
        sized = with_part_sizes(plan, job, _patterns())
        if not sized.part_sizes:
            continue
        out["with part blanks"] += 1
        assert check_roof(sized, job, _patterns()) == [], f"seed {seed}, part blanks"
        metals = metals_of(job)
        patterns = develop(job, metals, counts=dict(sized.counts))
        both = (*patterns, *part_patterns(sized, job, patterns, metals))
        assert check_part_blanks(both, sized, job, metals) == [], f"seed {seed}, part blanks"
    return out


def test_random_roofs_pass_their_check() -> None:
    done = try_roofs(range(12))
    assert set(done) >= set(SHAPES)
    assert done["refused"] <= 4
    assert done["with part blanks"] >= 1


@pytest.mark.slow
def test_many_random_roofs_pass_their_check() -> None:
    done = try_roofs(range(1000, 1800))
    assert done["refused"] <= 200
