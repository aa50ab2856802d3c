"""What a person would notice of a roof before cutting: its sizes said back, and what can hardly be meant."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from fabplan.blanks.model import FlatPattern
from fabplan.job.model import DiamondPiece, Job
from fabplan.roof.model import RoofPlan, SlopeLayout
from fabplan.units import inches

LARGEST_DIAMOND = 36.0  # inches; these limits are common practice, no source
WIDEST_STOCK = 96.0  # inches
LARGEST_SLOPE = 5_000.0  # square feet
TIMES = 10.0
Rows = list[tuple[str, str]]


def size_doubts(job: Job) -> list[str]:
    """Sizes that can hardly be meant, as far as the job alone tells."""
    most, widest = ("3 ft", "8 ft") if job.info.units == "in" else ("900 mm", "2.4 m")
    out = []
    for p in job.pieces:
        size = (p.side or p.blank) if isinstance(p, DiamondPiece) else None
        if size is not None and inches(size) > LARGEST_DIAMOND:
            out.append(f"diamond {p.mark} is {_large(inches(size), job)} on a side: more than {most}.")
    out += [
        f"stock {s.name} is {_large(inches(s.width), job)} wide: more than {widest}."
        for s in job.stock
        if inches(s.width) > WIDEST_STOCK
    ]
    if out and "units" not in job.info.model_fields_set:
        out.append('units is not given under [job], so bare numbers are inches: did you mean units = "mm"?')
    return out


def roof_doubts(roof: RoofPlan, job: Job) -> list[str]:
    """Sizes of the measured roof that can hardly be meant."""
    out = []
    for s in roof.slopes:
        feet = s.slope.area / 144
        if feet > LARGEST_SLOPE:
            out.append(f"{s.slope.name} measures {job.show.area(s.slope.area)}: more than 5,000 sq ft (465 m²).")
    eaves = [(s.slope.name, _eave(s)) for s in roof.slopes]
    for (one, a), (other, b) in pairwise([*eaves, *eaves[:1]]) if len(eaves) > 1 else ():
        small, large = sorted((a, b))
        if small > 0 and large >= TIMES * small:
            long, short = (one, other) if a > b else (other, one)
            said = f"the eave of {long} is {large / small:.0f} times that of {short} beside it."
            out += [said] if said not in out else []
    used = dict(roof.counts)
    out += [f"no slope takes piece {p.mark}." for p in job.pieces if p.count is None and used.get(p.mark) == 0]
    return out


def roof_rows(roof: RoofPlan, job: Job, patterns: Sequence[FlatPattern]) -> Rows:
    """Back dimensions, areas, hips, counts and weights of a measured roof."""
    show = job.show
    rows: Rows = []
    for s in roof.slopes:
        alike = f"{s.slope.times} alike, each " if s.slope.times > 1 else ""
        pitch = f", pitch {s.slope.pitch:.1f}°" if s.slope.pitch is not None else ""
        whole = sum(c.whole for c in s.courses)
        rows.append(
            (
                f"measured {s.slope.name}",
                f"{alike}eave {show.length(_eave(s))}, {show.length(_up(s))} up the slope, {show.area(s.slope.area)}"
                f"{pitch}; {whole:,} whole and {len(s.pieces) - whole:,} cut pieces in {len(s.courses)} courses",
            )
        )
    rows += _hips(roof, job)
    area = math.fsum(s.slope.area * s.slope.times for s in roof.slopes)
    made = [p for p in patterns if p.count]
    pounds = math.fsum(p.count * p.weight for p in made)
    rows.append(("roof", f"{show.area(area)}, metal of all pieces {show.weight(pounds)}"))
    if made:
        large = max(made, key=lambda p: p.width_units * p.length_units)
        strip = max(made, key=lambda p: max(p.width_units, p.length_units))
        grid = int(job.info.round_to)
        size = show.exact(max(strip.width_units, strip.length_units) * grid)
        rows.append(
            (
                "largest",
                f"blank {large.mark}, {show.exact(large.width_units * grid)} x "
                f"{show.exact(large.length_units * grid)}; "
                f"longest {strip.mark}, {size}",
            )
        )
    return rows


def _hips(roof: RoofPlan, job: Job) -> Iterator[tuple[str, str]]:
    if not roof.hips:
        return
    long = [h.length for h in roof.hips]
    turn = [h.bend for h in roof.hips]
    spread = abs(max(long) - min(long)) > 1 / 64
    length = job.show.length(min(long)) + (f" to {job.show.length(max(long))}" if spread else "")
    turned = f"{min(turn):.1f}°" + (f" to {max(turn):.1f}°" if max(turn) - min(turn) > 0.05 else "")
    yield "hips", f"{len(roof.hips)} of {length}, the slopes turn {turned} there"


def _eave(layout: SlopeLayout) -> float:
    return math.fsum(e.length for e in layout.slope.edges if e.kind == "eave")


def _up(layout: SlopeLayout) -> float:
    ys = [y for _, y in layout.slope.outline]
    return max(ys) - min(ys)


def _large(length: float, job: Job) -> str:
    """A large size in the job's units, and in feet or metres as people see it."""
    if job.info.units == "mm":
        return f"{job.show.length(length)} = {length * 0.0254:.2f} m"
    feet, rest = divmod(length, 12)
    return f"{job.show.length(length)} = {feet:.0f} ft {rest:.0f} in"
