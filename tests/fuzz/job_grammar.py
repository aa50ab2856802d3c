"""Wrong job files grown from valid ones: every kind of damage a person, a script or a bad copy can do."""

from __future__ import annotations

import random

SEED = """
[job]
name = "Well house"
number = "W-3"
units = "in"
spare = "5 %"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 6
side = "9-1/4 in"
top_angle = 90
hem = "3/4 in"
hem_gap = "1/16 in"
[[piece]]
mark = "S"
kind = "starter"
for = "A"
count = 2
[[piece]]
mark = "D"
kind = "section"
count = 2
length = "48 in"
legs = ["3/4 in", "2-1/2 in", "3 in"]
bends = [90, -45]
start_hem = {width = "1/2 in", toward = "back", gap = "0 in"}
[[piece]]
mark = "K"
kind = "rectangle"
count = 8
width = "2 in"
length = "4 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"
[[stock]]
name = "sheet"
form = "sheet"
width = "36 in"
length = "96 in"
on_hand = 3
price = "90 per sheet"
[shear]
longest_cut = "52 in"
back_gauge_reach = "48 in"
least_held = "1 in"
[brake]
largest_angle = 135
"""

VALUES = (
    "0",
    "-1",
    "1e308",
    "nan",
    "inf",
    "-inf",
    "true",
    '""',
    '"0 in"',
    '"-3 in"',
    '"1/0 in"',
    '"3 furlongs"',
    '"9-1/4 in"',
    '"1e99 in"',
    '"½ in"',
    '"9’ 3”"',
    '"\\u202e9 in"',
    '"\\u0000"',
    '"\\u001b[31m"',
    '"🜁 in"',
    "[]",
    "{}",
    "[[[[[[1]]]]]]",
    "{width = 3}",
    "99999999999999999999999999",
    "0.0000000001",
    "2026-11-25",
    '"' + "x" * 5000 + '"',
    '"../../etc/passwd"',
    '"100 %"',
    '"-5 %"',
    '"10000000 pieces"',
    "[1, 2, 3]",
    '["1 in", "2 in"]',
    "1_000_000",
    '"0.0001 mm"',
    '"500 mm"',
)


def broken(rng: random.Random) -> bytes:
    """One damaged job file."""
    lines = SEED.strip().splitlines()
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        at = rng.randrange(len(lines))
        line = lines[at]
        act = rng.randrange(9)
        if act <= 3 and "=" in line:
            lines[at] = f"{line.split('=')[0]}= {rng.choice(VALUES)}"
        elif act == 4:
            lines.insert(at, line)
        elif act == 5:
            del lines[at]
        elif act == 6:
            lines[at] = line.replace("=", " = = ", 1) if rng.random() < 0.3 else line[: rng.randrange(len(line) + 1)]
        elif act == 7 and "=" in line:
            lines[at] = line.replace(line.split("=")[0].strip(), rng.choice(("sise", "Hem", "étage", "__class__")), 1)
        else:
            other = rng.choice(lines)
            lines.insert(at, other)
        if not lines:
            lines = ["x = 1"]
    text = "\n".join(lines).encode("utf-8", "surrogatepass")
    if rng.random() < 0.03:
        cut = rng.randrange(len(text))
        text = text[:cut] + bytes(rng.randrange(256) for _ in range(4)) + text[cut:]
    if rng.random() < 0.01:
        text = b"a = " + b"[" * 50_000 + text
    return text
