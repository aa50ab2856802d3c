"""Jobs with turned ends for the tests: random strips dammed and returned (common practice, no source)."""

from __future__ import annotations

import random
from pathlib import Path

HEAD = """
[job]
name = "Pump house"
number = "17"
[metal]
use = "{metal}"
[shear]
longest_cut = "130 in"
"""
METALS = ("copper-16oz", "copper-20oz", "zinc-0.7mm", "aluminum-0.032in", "galvanized-0.0217in")


def job_text(pieces: str, metal: str = "copper-16oz") -> str:
    """A job of these pieces."""
    return HEAD.format(metal=metal) + pieces + '[[stock]]\nname = "coil"\nform = "coil"\nwidth = "24 in"\n'


def piece(legs: str, bends: str, more: str, mark: str = "S", length: str = "36 in") -> str:
    """A section's table, its legs and bends as they are typed."""
    return (
        f'[[piece]]\nmark = "{mark}"\nkind = "section"\ncount = 3\nlength = "{length}"\n'
        f"legs = [{', '.join(f'{chr(34)}{x} in{chr(34)}' for x in legs.split())}]\n"
        f"bends = [{', '.join(bends.split())}]\n{more}\n"
    )


def random_piece(rng: random.Random, mark: str) -> str:
    """One strip with turned ends: one to four legs, bends of any angle, hems, both sides, tabs or none."""
    n = rng.randint(1, 4)
    legs = [rng.choice((1, 1.5, 2, 3, 4, 5.5)) for _ in range(n)]
    bends = [rng.choice((-1, 1, 1)) * rng.choice((45, 60, 75, 90, 90, 90, 100, 120)) for _ in range(n - 1)]
    turned = rng.choice((90, 90, 90, 60, 110))
    leg = rng.randint(1, n)
    tabs = rng.choice((None, None, 0, 0.5, 0.75, 1))
    spec = f'leg = {leg}, at = "{rng.choice(("A", "B", "both"))}", toward = "{rng.choice(("face", "back"))}"'
    spec += f", turned = {turned}" + (f', tabs = "{tabs} in"' if tabs is not None else "")
    size = rng.choice((0.75, 1, 1.5, 2, 3))
    if n > 2 and rng.random() < 0.3:
        side, far = rng.choice(("face", "back")), rng.choice((45, 60, 90))
        two = ", ".join(
            f'{{leg = {k}, length = "{size} in", toward = "{side}", turned = {far}, at = "A"}}' for k in (1, 3)
        )
        more = f"returns = [{two}]\n"
    elif rng.random() < 0.7:
        more = f'end_dams = [{{{spec}, height = "{size} in"}}]\n'
    else:
        more = f'returns = [{{{spec}, length = "{size} in"}}]\n'
    for key in ("start_hem", "end_hem"):
        if rng.random() < 0.3:
            wide, side = rng.choice((0.375, 0.5)), rng.choice(("face", "back"))
            more += f'{key} = {{width = "{wide} in", toward = "{side}", gap = "{rng.choice((0, 0.0625))} in"}}\n'
    if rng.random() < 0.15:
        more += f'inside_radius = "{rng.choice((1, 2))}/16 in"\n'
    return piece(" ".join(map(str, legs)), " ".join(map(str, bends)), more, mark)


def written(text: str, folder: Path) -> Path:
    """The job on file."""
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path
