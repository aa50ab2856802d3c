"""Strips and caps along edges: drip edge, hip and ridge caps, rake and valley strips, by length with laps."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fabplan.errors import JobError
from fabplan.job.model import Job, SectionPiece
from fabplan.roof.model import EdgeRun, Hip, SlopeEdge, SlopeLayout
from fabplan.roof.words import size
from fabplan.units import inches

SHARED_WITHIN = 1.0  # inches: two edges this nearly equal can be the two sides of one hip, ridge or valley


def pieces_for(length: float, stock: float, lap: float) -> int:
    """Strips of one stock length for a run: the first covers its whole length, each other one less a lap."""
    if length <= stock + 1e-9:
        return 1
    return 1 + math.ceil((length - stock) / (stock - lap) - 1e-9)


def edge_runs(layouts: Sequence[SlopeLayout], hips: Sequence[Hip], job: Job) -> tuple[EdgeRun, ...]:
    """Every run of the roof.

    A hip, ridge or valley lies between two slopes: outside spires, two such edges of equal length count as one run.
    Hip caps are shortened by the apex cap and lengthened by a lap at each end.

    Raises
    ------
    JobError
        A mark that is no section, or one no longer than its lap.
    """
    shapes = {s.name: s.shape for s in job.slopes}
    spires = {name for name, shape in shapes.items() if shape.endswith("spire")}
    runs: list[EdgeRun] = []
    shared: list[tuple[str, str, float]] = []
    for layout in layouts:
        slope = layout.slope
        for e in slope.edges:
            if e.kind in ("hip", "ridge", "valley") and slope.entry not in spires:
                length = e.length - (_capped(e, layout) if e.kind == "hip" else 0.0)
                shared += [(e.kind, slope.name, length)] * slope.times
            elif e.kind != "hip":
                runs.append(_run(e.kind, f"{slope.name}, {e.name}", slope.times, e.length, job))
        for hole in slope.holes:
            cut = [e for e in hole.edges if e.kind != "open"]
            runs += [_run(e.kind, f"{slope.name}, {e.name}", slope.times, e.length, job) for e in cut]
    runs += _shared_runs(shared, job)
    by_name = {layout.slope.name: layout for layout in layouts}
    for name in dict.fromkeys(h.name for h in hips):
        alike = [h for h in hips if h.name == name]
        hip = alike[0]
        beside = by_name[hip.slope_right]
        edge = next((e for e in beside.slope.edges if e.kind == "hip"), None)
        under = 0.0 if edge is None else _capped(edge, beside) / edge.length * hip.length
        if job.roof.hips == "capped":
            runs.append(_run("hip", hip.name, len(alike), hip.length - under, job))
    return tuple(runs)


def _capped(edge: SlopeEdge, layout: SlopeLayout) -> float:
    """Length of a hip that the apex cap covers."""
    if layout.cap_line is None:
        return 0.0
    low, high = sorted((edge.start[1], edge.end[1]))
    if high <= layout.cap_line:
        return 0.0
    return edge.length * (high - layout.cap_line) / (high - low)


def _shared_runs(edges: Sequence[tuple[str, str, float]], job: Job) -> list[EdgeRun]:
    runs = []
    for kind in dict.fromkeys(k for k, _, _ in edges):
        if kind == "hip" and job.roof.hips == "wrapped":
            continue
        rest = sorted((e for e in edges if e[0] == kind), key=lambda e: e[2])
        while rest:
            _, where, length = rest.pop()
            if rest and length - rest[-1][2] <= SHARED_WITHIN:
                other = rest.pop()[1]
                where = f"{where} with itself" if other == where else f"{where} with {other}"
            runs.append(_run(kind, where, 1, length, job))
    out: list[EdgeRun] = []
    for run in runs:
        if out and (out[-1].kind, out[-1].where, out[-1].length) == (run.kind, run.where, run.length):
            last = out.pop()
            out.append(_run(run.kind, run.where, last.times + 1, run.length - run.extra, job))
        else:
            out.append(run)
    return out


def _run(kind: str, where: str, times: int, length: float, job: Job) -> EdgeRun:
    """Edge metal of one run: how many lengths, how long, with which laps."""
    roof = job.roof
    mark = {
        "eave": roof.eave_piece,
        "hip": roof.hip_piece,
        "ridge": roof.ridge_piece,
        "rake": roof.rake_piece,
        "valley": roof.valley_piece,
        "wall": roof.wall_piece,
    }.get(kind)
    stock, lap = inches(roof.edge_length), inches(roof.edge_lap)
    if mark is not None:
        piece = next((p for p in job.pieces if p.mark == mark), None)
        if not isinstance(piece, SectionPiece):
            raise JobError(
                "names the section that runs along this edge, and there is no section with this mark",
                file=job.file,
                key=f"roof > {kind}_piece",
                value=f'"{mark}"',
                write="the mark of a piece of kind section",
            )
        stock = inches(piece.length)
        lap = lap if piece.lap is None else inches(piece.lap)
        if lap >= stock:
            raise JobError(
                f"is {size(stock, job.info.units)} long, no longer than the lap of {size(lap, job.info.units)}",
                file=job.file,
                key=f'piece "{mark}"',
                write="a longer length or a smaller lap",
            )
    extra = 2 * inches(roof.cap_end_lap) if kind == "hip" else 0.0
    return EdgeRun(
        kind=kind,
        where=where,
        mark=mark or "",
        times=times,
        length=length + extra,
        extra=extra,
        stock=stock,
        lap=lap,
        pieces=pieces_for(length + extra, stock, lap),
    )
