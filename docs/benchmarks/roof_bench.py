"""Measure the roof: layout, areas, counts, and what part blanks save.

    python docs/benchmarks/roof_bench.py [--nest | --ways JOB.toml ...]

Prints tables in the form of docs/benchmarks.md. The roofs are invented; the counts they are held against were worked
out by two programs written apart from this one. `--nest` also nests each roof with and without part blanks. `--ways`
plans whole jobs with their cut pieces cut on the roof, so with off-falls, and at the bench, at 75 an hour, and prints
metal, hours of all stations and the total.
"""

from __future__ import annotations

import argparse
import math
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from statistics import median

from fabplan import plane
from fabplan.blanks.develop import develop
from fabplan.blanks.model import Lattice
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.make import make_nest, make_pieces, make_plan, metals_of
from fabplan.roof.lay.layout import centre_line, lay
from fabplan.roof.lay.placing import place
from fabplan.roof.measure.shapes import polygon_side, regular_spire
from fabplan.roof.measure.tape import measure_slopes
from fabplan.roof.model import LaidPiece, Measured, Point, Sliver, SlopeEdge
from fabplan.roof.parts import part_sizes
from fabplan.roof.parts.alike import NumberedShapes
from fabplan.roof.parts.pairing import mirrored, pair_parts, placements
from fabplan.roof.plan import plan_roof

RATE = 75.0
EXAMPLE = Path(__file__).parents[1] / "examples" / "lakeside-pavilion" / "job.toml"
OUTLINES: dict[str, tuple[int, tuple[Point, ...], tuple[int, ...]]] = {
    # slopes, corners of one, whole, cut, starters among them, slivers, pairs
    "square spire 16 ft, slant 30 ft": (4, regular_spire(4, 192, slant=360).face, (1392, 488, 56, 8, 196)),
    "octagon spire 10 ft, 24 ft": (
        8, regular_spire(8, polygon_side(8, across_flats=120), height=288).face, (376, 688, 16, 16, 320),
    ),
    "octagon spire 5 ft 10 in a side, 45 ft": (8, regular_spire(8, 70, height=540).face, (1200, 1296, 32, 40, 592)),
    "square frustum 40 and 26 in, 10 ft": (
        4, regular_spire(4, 40, top_side=26, slant=120).face, (108, 164, 8, 16, 68),
    ),
    "hexagon frustum 9 and 4 ft, 11 ft": (
        6, regular_spire(6, 108, top_side=48, height=132).face, (612, 354, 48, 0, 156),
    ),
    "rectangle 24 x 14 ft": (1, ((0, 0), (288, 0), (288, 168), (0, 168)), (516, 117, 22, 0, 48)),
    "octagon cupola 4 ft, 40 in": (
        8, regular_spire(8, polygon_side(8, across_flats=48), height=40).face, (8, 104, 0, 0, 48),
    ),
}  # fmt: skip
JOBS = {
    "square spire 16 ft, slant 30 ft": 'sides = 4\nside = "16 ft"\nslant = "30 ft"',
    "octagon spire 10 ft, 24 ft": 'sides = 8\nacross_flats = "10 ft"\nheight = "24 ft"',
    "square frustum 40 and 26 in, 10 ft": 'sides = 4\nside = "40 in"\ntop_side = "26 in"\nslant = "10 ft"',
    "hexagon frustum 9 and 4 ft, 11 ft": 'sides = 6\nside = "9 ft"\ntop_side = "4 ft"\nheight = "11 ft"',
    "rectangle 24 x 14 ft": 'bottom = "24 ft"\nheight = "14 ft"',
    "octagon cupola 4 ft, 40 in": 'sides = 8\nacross_flats = "4 ft"\nheight = "40 in"',
}
JOB = """
[job]
name = "Roof"
number = "B-3"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
hem_gap = "1/16 in"
{starter}
[[slope]]
name = "roof"
shape = "{shape}"
piece = "A"
{size}
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"
[roof]
cap_leg = "4 in"
underlap = "2 in"
[nest]
search_effort = 0.1
"""
STARTER = '[[piece]]\nmark = "AS"\nkind = "starter"\nfor = "A"'


def job_of(size: str, *, starter: bool) -> Job:
    """One of the roofs as a job on 24 in coil."""
    shape = "regular-spire" if "sides" in size else "rectangle"
    text = JOB.format(size=size, shape=shape, starter=STARTER if starter else "")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_text(text, encoding="utf-8")
        return load_job(path)


def closed_hems() -> Lattice:
    """The lattice the counts were worked out for: side 10 in, 3/4 in hems closed flat, 16 oz copper, top angle 90."""
    hem, thickness, play = 0.75, 0.0216, 1 / 32
    allowance = hem - 2 * thickness + math.pi * 0.35 * thickness
    lap = hem + thickness + play
    exposed = 10 - lap
    across = exposed * math.sqrt(2)
    return Lattice(
        side=10.0,
        top_angle=90.0,
        upper_hem=hem,
        lower_hem=hem,
        upper_allowance=allowance,
        lower_allowance=allowance,
        lap=lap,
        hooked=2 * hem - lap,
        exposed=exposed,
        spacing=across,
        course=across / 2,
        cell=exposed**2,
        joint=1 / 16,
        slack=play,
        side_snip=lap / math.sqrt(2) + 1 / 32,
        thickness=thickness,
    )


def slope_of(points: tuple[Point, ...]) -> Measured:
    """One slope straight from its corners: no cap, 1/2 in of metal past every edge."""
    edges = tuple(
        SlopeEdge(name=str(i), kind="hip" if i else "eave", start=p, end=points[(i + 1) % len(points)], fold=0.5)
        for i, p in enumerate(points)
    )
    return Measured(name="roof", entry="roof", piece="A", times=1, edges=edges)


def off(pieces: Sequence[LaidPiece], slivers: Sequence[Sliver], area: float) -> float:
    """Clipped areas of all pieces and slivers against the area to cover, relative."""
    inner = math.fsum(abs(plane.area(r)) for p in pieces for r in p.inner)
    clipped = math.fsum(abs(plane.area(p.visible)) for p in pieces) - inner
    return abs(clipped + math.fsum(s.area for s in slivers) - area) / area


def table_roofs(job: Job, lattice: Lattice) -> None:
    """The seven roofs: time a slope, areas, and how many pieces a slope the counts are off."""
    print("| roof | ms a slope | area off by | whole, cut, starters, slivers off | pairs | pairs of the table |")
    print("|---|---|---|---|---|---|")
    for name, (times, points, want) in OUTLINES.items():
        slope = slope_of(points)
        spent = []
        for _ in range(9):
            start = time.process_time()
            layout = lay(slope, lattice, job.roof, alignment="point", centre_x=centre_line(slope, 0.5), base=0.0)
            spent.append(time.process_time() - start)
        whole = sum(p.kind == "whole" for p in layout.pieces)
        got = (
            whole * times,
            (len(layout.pieces) - whole) * times,
            sum(p.lost == "B" for p in layout.pieces) * times,
            len(layout.slivers) * times,
        )
        sorter = NumberedShapes()
        seen = Counter(sorter.number(p.metal) for p in layout.pieces if p.kind != "whole")
        rings = [sorter.metal(i) for i in range(len(sorter.shapes))]
        parts = [(i, flag, mirrored(rings[i]) if flag else rings[i], n * times) for (i, flag), n in seen.items()]
        found, _ = pair_parts("A", parts, placements(90.0, flips=False, quarter_turns=True))
        area = off(layout.pieces, layout.slivers, layout.region.area)
        wrong = ", ".join(str(g - w) for g, w in zip(got, want, strict=False))
        print(
            f"| {name} | {1000 * median(spent):.1f} (most {1000 * max(spent):.1f}) | {area:.1e} | {wrong} "
            f"| {sum(p.times for p in found)} | {want[4]} |"
        )


def example() -> None:
    """The example's turret: time a slope as placed, areas, and the whole of the roof."""
    job = load_job(EXAMPLE)
    metals = metals_of(job)
    patterns = develop(job, metals)
    lattice = next(p.lattice for p in patterns if p.mark == "A")
    assert lattice is not None
    slopes, _ = measure_slopes(job, {"A": lattice.lower_allowance})
    for slope in slopes:
        spent = []
        for _ in range(9):
            start = time.process_time()
            layout = place(slope, job.slopes[0], lattice, job, "point")
            spent.append(time.process_time() - start)
        took = f"{1000 * median(spent):.1f} ms (most {1000 * max(spent):.1f})"
        print(f"{slope.name}: {took}, area off by {off(layout.pieces, layout.slivers, layout.net_area):.1e}")
    start = time.process_time()
    plan = plan_roof(job, patterns)
    took = f"{time.process_time() - start:.2f} s, {len(plan.shapes)} shapes"
    print(f"whole roof, both alignments tried, pairs and kits: {took}")
    start = time.process_time()
    part_sizes.with_part_sizes(plan, job, patterns)
    print(f"part blanks looked for: {time.process_time() - start:.2f} s")


def nests() -> None:
    """Cost with whole blanks only, and as planned."""
    print("| roof | marks | cut pieces | whole blanks | part blanks, sizes | cost, whole only | as planned | saved |")
    print("|---|---|---|---|---|---|---|---|")
    offered = part_sizes.with_part_sizes
    for name, size in JOBS.items():
        for starter in (True, False):
            job = job_of(size, starter=starter)
            part_sizes.with_part_sizes = lambda plan, _job, _patterns: plan
            before = make_nest(job, make_pieces(job))
            part_sizes.with_part_sizes = offered
            pieces = make_pieces(job)
            roof = pieces.roof
            assert roof is not None and before is not None
            after = make_nest(job, pieces) if roof.part_sizes else before
            assert after is not None
            parts = sum(s.times for s in roof.part_sizes)
            saved = 1 - float(after.total / before.total)
            print(
                f"| {name} | {'A, AS' if starter else 'A'} | {sum(s.same + s.mirrored for s in roof.shapes)} "
                f"| {dict(roof.counts)['A']} | {f'{parts}, {len(roof.part_sizes)}' if parts else 'none'} "
                f"| {float(before.total):.2f} | {float(after.total):.2f} | {100 * saved:.1f} % |"
            )


def ways(jobs: Sequence[Path]) -> None:
    """Metal, hours by station and total of whole jobs, cut pieces cut each way."""
    print("| job | cut pieces | blanks of diamonds | metal | shear h | bench h | brake h | roof h | hours | total |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for path in jobs:
        read = load_job(path)
        for how, rules in (
            ("on the roof", {"cut_pieces": "on the roof", "use_off_falls": False}),
            ("with off-falls", {"cut_pieces": "on the roof", "use_off_falls": True}),
            ("at the bench", {"cut_pieces": "at the bench", "use_off_falls": False}),
        ):
            changed = {"roof": read.roof.model_copy(update=rules), "labour": replace(read.labour, rate=RATE)}
            plan = make_plan(read.model_copy(update=changed))
            assert plan.cut_plan is not None and plan.roof is not None
            hours = {h.station: h.seconds / 3600 for h in plan.hours}
            metal, all_hours = float(plan.cut_plan.metal_total), sum(hours.values())
            stations = " | ".join(f"{hours.get(s, 0.0):.1f}" for s in ("shear", "bench", "brake", "roof"))
            print(
                f"| {path.stem} | {how} | {plan.roof.ways[0].blanks} | {metal:,.0f} | {stations} | {all_hours:.1f} "
                f"| {metal + RATE * all_hours:,.0f} |"
            )


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nest", action="store_true", help="nest with and without part blanks too")
    parser.add_argument("--ways", nargs="+", type=Path, metavar="JOB", help="whole jobs, cut pieces cut each way")
    args = parser.parse_args()
    if args.ways:
        ways(args.ways)
        return
    table_roofs(job_of(JOBS["rectangle 24 x 14 ft"], starter=False), closed_hems())
    example()
    if args.nest:
        nests()


if __name__ == "__main__":
    main()
