"""Random valid jobs over all kinds of piece, forms of stock and limits: small, so that many can be planned."""

from __future__ import annotations

import random

PARTS = ("starter", "rake-left", "rake-right", "ridge-half")
METALS = ("copper-16oz", "copper-20oz", "zinc-0.7mm")


def sixteenths(rng: random.Random, low: int, high: int) -> str:
    """A length in inches."""
    n = rng.randint(low * 16, high * 16)
    whole, part = divmod(n, 16)
    return f"{whole} in" if not part else f"{whole}-{part}/16 in" if whole else f"{part}/16 in"


def metres(rng: random.Random, low: int, high: int) -> str:
    """About the same in millimetres."""
    return f"{rng.randint(low * 51, high * 51) / 2:g} mm"


def job_text(seed: int) -> str:
    """One job, the same for the same seed."""
    rng = random.Random(seed)
    mm = rng.random() < 0.3
    long = metres if mm else sixteenths
    info = ['name = "attack"', f'number = "K{seed}"', f'units = "{"mm" if mm else "in"}"']
    if rng.random() < 0.5:
        info.append(f'keep_at_least = ["{long(rng, 3, 6)}", "{long(rng, 8, 14)}"]')
    out = ["[job]", *info, "[metal]", f'use = "{METALS[0]}"']
    stock = _stock(rng, long)
    for mark in ["A", "b-2", "Dreieck", "scrap", "P 5"][: rng.choice([1, 2, 2, 3])]:
        out += _piece(rng, mark, long, stock)
    out += [line for table in stock for line in table["text"]]
    out += ["[shear]", *_shear(rng, long), "[nest]", "search_effort = 0"]
    if rng.random() < 0.2:
        out.append('fewer_setups = "4 %"')
    if rng.random() < 0.2:
        out.append(f"open_stacks = {rng.randint(2, 5)}")
    if rng.random() < 0.3:
        out.append("pair = false")
    if rng.random() < 0.15:
        out.append('offcut_credit = "40 %"')
    if rng.random() < 0.5:
        out += ["[labour]", "rate = 0"]
    return "\n".join(out) + "\n"


def _stock(rng: random.Random, long: object) -> list[dict[str, object]]:
    assert callable(long)
    lines: list[dict[str, object]] = []
    priced = rng.random() < 0.4
    for n in range(rng.randint(1, 3)):
        form = rng.choice(["coil", "sheet", "sheet", "offcut"] if n else ["coil", "sheet"])
        across = rng.random() < 0.3
        text = ["[[stock]]", f'name = "{form} {n}"', f'form = "{form}"']
        text.append(f'width = "{long(rng, 18, 36) if form != "offcut" else long(rng, 9, 20)}"')
        if form != "coil":
            text.append(f'length = "{long(rng, 24, 60) if form == "sheet" else long(rng, 9, 30)}"')
        elif rng.random() < 0.4:
            text.append(f'longest_cut_off = "{long(rng, 30, 60)}"')
        if rng.random() < 0.25:
            text.append(f'trim_each_edge = "{rng.choice(["1/8 in", "1/4 in"])}"')
        if across:
            text.append('grain = "across"')
        if rng.random() < 0.15:
            text.append('on_hand = "40 ft"' if form == "coil" else f"on_hand = {rng.randint(1, 4)}")
        if priced and form != "offcut":
            unit = rng.choice(["lb", "kg"] if form == "coil" else ["lb", "sheet"])
            text.append(f'price = "{rng.randint(300, 1900) / 100:.2f} per {unit}"')
        lines.append({"text": text, "across": across})
    return lines


def _piece(rng: random.Random, mark: str, long: object, stock: list[dict[str, object]]) -> list[str]:
    assert callable(long)
    kind = rng.choice(["rectangle"] * 4 + ["diamond", "diamond", "flat-seam", "section", "outline", "disc"])
    count = rng.randint(1, 9)
    head = ["[[piece]]", f'mark = "{mark}"', f'kind = "{kind}"', f"count = {count}"]
    if kind == "rectangle":
        head += [f'width = "{long(rng, 2, 9)}"', f'length = "{long(rng, 3, 17)}"']
        lock = rng.random()
        if lock < 0.25:
            head.append("may_turn = false")
        elif lock < 0.5:
            head.append(f'grain = "{rng.choice(["along", "across"])}"')
        return head
    if kind == "diamond":
        head += [f'side = "{long(rng, 6, 10)}"', 'hem = "3/4 in"', f"top_angle = {rng.choice([70, 80, 90, 90, 104])}"]
        if rng.random() < 0.5:
            part = ["[[piece]]", f'mark = "{mark}h"', f'kind = "{rng.choice(PARTS)}"', f'for = "{mark}"']
            head += [*part, f"count = {rng.randint(1, 4)}"]
        return head
    if kind == "flat-seam":
        return [*head, f'width = "{long(rng, 8, 14)}"', f'length = "{long(rng, 9, 16)}"', 'hem = "3/4 in"']
    if kind == "disc":
        return [*head, f'diameter = "{long(rng, 4, 9)}"']
    if kind == "section":
        return [*head, f'length = "{long(rng, 12, 17)}"', 'legs = ["1-1/2 in", "3 in"]', "bends = [90]"]
    w, h, cut = rng.randint(4, 9), rng.randint(4, 12), rng.randint(1, 3)
    ring = [(0, 0), (w, 0), (w - cut, h), (cut if rng.random() < 0.5 and w > 2 * cut else 0, h)]
    points = ", ".join(f'["{x} in", "{y} in"]' for x, y in ring)
    return [*head, f"points = [{points}]"]


def _shear(rng: random.Random, long: object) -> list[str]:
    assert callable(long)
    out = []
    if rng.random() < 0.4:
        out.append(f'longest_cut = "{rng.choice(["52 in", "37 in", "120 in"])}"')
    if rng.random() < 0.4:
        out.append(f'back_gauge_reach = "{rng.choice(["24 in", "36 in", "60 in"])}"')
    if rng.random() < 0.3:
        out.append('coil_cut_off = "gauge"')
    if rng.random() < 0.4:
        out.append(f'least_held = "{rng.choice(["1/2 in", "2 in"])}"')
    if rng.random() < 0.25:
        out.append(f'kerf = "{rng.choice(["1/16 in", "1/8 in"])}"')
    if rng.random() < 0.4:
        out.append(f"angle_stop = {rng.choice(['[60, 120]', '[45, 135]', '[80, 100]'])}")
    if rng.random() < 0.3:
        out.append('cutting = "stacked-strips"')
    return out
