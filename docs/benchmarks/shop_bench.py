"""Measure the manager's commands: stock against stock, size sweep, a large rack.

    python docs/benchmarks/shop_bench.py

Prints one line a measurement. The mixed job is invented: six square shingle blanks with their starters and halves,
two strips and small cleats, 3104 pieces of 21 kinds.
"""

from __future__ import annotations

import random
import tempfile
import time
from pathlib import Path

from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.make import make_nest, make_pieces, metals_of, with_rack
from fabplan.shop.compare import compare
from fabplan.shop.offer import offer
from fabplan.shop.rack import add
from fabplan.shop.sizes import sweep
from fabplan.units import NM_PER_INCH, Nm

SIDES = ((15.5, 420), (13.25, 300), (11.75, 260), (9.5, 380), (18.25, 150), (7.75, 240))
STARTERS = (8.75, 7.625, 6.875, 5.75, 10.125, 4.875)
HALVES = (8.5, 7.375, 6.625, 5.5, 9.875, 4.625)
STRIPS = ((4.25, 120, 44), (7, 120, 26), (2, 4, 900))


def mixed_job() -> str:
    """The mixed job on three coils, with all the widths 16 oz copper strip is sold in to choose from."""
    out = ['[job]\nname = "Mixed roof"\nnumber = "B-1"\n[metal]\nuse = "copper-16oz"\n']

    def piece(mark: str, w: float, h: float, n: int) -> None:
        out.append(f'[[piece]]\nmark = "{mark}"\nkind = "rectangle"\n')
        out.append(f'width = "{w} in"\nlength = "{h} in"\ncount = {n}\n')

    for i, (side, n) in enumerate(SIDES):
        piece(f"D{i}", side, side, n)
        piece(f"S{i}", side, STARTERS[i], 28)
        piece(f"H{i}", HALVES[i], side, 36)
    for i, (w, h, n) in enumerate(STRIPS):
        piece(f"T{i}", w, h, n)
    for width in (20, 24, 30, 36):
        out.append(f'[[stock]]\nname = "coil {width}"\nform = "coil"\nwidth = "{width} in"\nprice = "9.40 per lb"\n')
    for w, h in ((36, 96), (36, 120), (30, 120)):
        out.append(f'[[stock]]\nname = "sheet {w} x {h}"\nform = "sheet"\nwidth = "{w} in"\nlength = "{h} in"\n')
        out.append(f'price = "{w * h / 144 * 9.6:.2f} per sheet"\n')
    out.append('[shear]\nlongest_cut = "121 in"\nback_gauge_reach = "121 in"\nleast_held = "1/2 in"\n')
    return "".join(out)


ROOF = """
[job]
name = "Lantern tower"
number = "B-2"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
[[slope]]
name = "tower"
shape = "regular-spire"
sides = 4
side = "16 ft"
slant = "30 ft"
piece = "A"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
[[stock]]
name = "coil 20"
form = "coil"
width = "20 in"
"""


def load(text: str, folder: Path) -> Job:
    """A job from text."""
    path = folder / "job.toml"
    path.write_text(text)
    return load_job(path)


def main() -> None:
    """Run the three measurements."""
    with tempfile.TemporaryDirectory() as temp:
        folder = Path(temp)
        job = load(mixed_job(), folder)
        pieces = make_pieces(job)
        start = time.perf_counter()
        results = compare(job, pieces, effort=0.3, seconds=None)  # type: ignore[arg-type]
        print(f"compare: {len(results)} choices in {time.perf_counter() - start:.1f} s")
        for c in results:
            cost = "-" if c.money is None else f"{float(c.money):.2f}"
            above = "-" if c.plan is None or c.plan.above_bound is None else f"{c.plan.above_bound:.3%}"
            print(f"  {c.name}: {cost}, {above} above the proven least")

        roof = load(ROOF, folder)
        start = time.perf_counter()
        low, high = Nm(8 * NM_PER_INCH), Nm(12 * NM_PER_INCH)
        found = sweep(roof, metals_of(roof), least=low, most=high, step=Nm(NM_PER_INCH // 16))
        print(f"size sweep: {len(found.rows)} sizes in {time.perf_counter() - start:.1f} s")

        start = time.perf_counter()
        make_nest(job, pieces, effort=0.3, seconds=None)
        alone = time.perf_counter() - start
        rack = folder / "rack.db"
        rng = random.Random(1)
        for _ in range(500):
            w, h = rng.randint(3, 36) * NM_PER_INCH, rng.randint(6, 96) * NM_PER_INCH
            add(rack, metal="copper-16oz", thickness=0.0216, width=w, length=h, count=10)
        start = time.perf_counter()
        with_offcuts = with_rack(job, pieces, lambda p: offer(rack, job, p.patterns, p.metals))
        made = make_nest(with_offcuts, pieces, effort=0.3, seconds=None)
        both = time.perf_counter() - start
        used = sum(1 for u in made.stock if u.form == "offcut") if made else 0
        ratio = both / alone
        print(f"rack of 5000: {both:.1f} s against {alone:.1f} s without, ratio {ratio:.2f}, {used} offcut lines used")


if __name__ == "__main__":
    main()
