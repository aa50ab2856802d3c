"""Proves a section: legs and bends as asked, developed width, marks, and the strip on the grid."""

from __future__ import annotations

import math

from fabplan.blanks.check.bend import EXACT, NEAR, Wanted, check_fold
from fabplan.blanks.check.ends import EndStrip, blank_length, check_ends
from fabplan.blanks.check.shape import PieceFolds
from fabplan.blanks.model import FlatPattern, SectionShape
from fabplan.job.kinds.section import EndHem
from fabplan.job.model import SectionPiece
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm


def check_section(p: FlatPattern, shop: PieceFolds) -> list[str]:
    """Faults of a section's strip."""
    piece = shop.piece
    assert isinstance(piece, SectionPiece)
    if p.section is None or (p.far is None) != (not piece.taper_to):
        return ["a section without its shape, or with one too many"]
    ends = [_end(p, p.section, shop, piece, piece.legs)]
    if p.far is not None:
        ends.append(_end(p, p.far, shop, piece, piece.taper_to))
    faults = [fault for found, *_ in ends for fault in found]
    if any(not marks and found for found, _, marks in ends):
        return faults
    (_, run, marks), (_, far_run, far_marks) = ends[0], ends[-1]
    faults += _strip(p, shop, piece, (run, far_run), (marks, far_marks))
    if p.ends and not faults:
        legs, bends = _asked(shop, piece, piece.legs)
        first = 0 if piece.start_hem is None else 2 if piece.start_hem.double else 1
        wide = p.width_units * shop.step
        faults += check_ends(p, shop, piece, EndStrip(legs=legs, bends=bends, marks=marks, first=first, width=wide))
    return faults


def _end(
    p: FlatPattern, shape: SectionShape, shop: PieceFolds, piece: SectionPiece, asked: tuple[Nm, ...]
) -> tuple[list[str], float, list[float]]:
    """Faults of the section at one end of the strip, its developed width and marks."""
    legs, bends = _asked(shop, piece, asked)
    faults = []
    if len(shape.legs) != len(legs) or len(shape.bends) != len(bends) or len(p.folds) != len(bends):
        return [f"{len(shape.legs)} legs and {len(shape.bends)} bends, not {len(legs)} and {len(bends)}"], 0.0, []
    faults += _close("leg", shape.legs, legs)
    faults += _close("bend", shape.bends, [w.turned if w.toward == "face" else -w.turned for w in bends])
    faults += _close("radius", shape.radii, [w.radius for w in bends])
    gaps = [w.gap if w.turned == 180 else None for w in bends]
    if len(shape.gaps) != len(gaps) or any(
        (g is None) != (w is None) or (g is not None and w is not None and abs(g - w) > EXACT)
        for g, w in zip(shape.gaps, gaps, strict=True)
    ):
        faults.append("the hem gaps are not those asked for")
    # walk along the strip: straight, arc, straight, ...
    run, marks = 0.0, []
    for k, leg in enumerate(legs):
        back = (bends[k - 1].setback if k else 0.0) + (bends[k].setback if k < len(bends) else 0.0)
        if leg - back <= 0:
            faults.append(f"leg {k + 1} is shorter than its bends take")
        run += leg - back
        if k < len(bends):
            arc = 2 * bends[k].setback - bends[k].deduction
            marks.append(run + arc / 2)
            run += arc
    faults += _close("bend mark", shape.marks, marks)
    if abs(shape.developed - run) > EXACT:
        faults.append(f"developed width is {shape.developed:.6f}, not {run:.6f}")
    if any(b <= a for a, b in zip((0.0, *shape.marks), (*shape.marks, shape.developed), strict=True)):
        faults.append("bend marks do not go up along the strip")
    if abs(shape.thickness - shop.metal.thickness) > EXACT:
        faults.append("the section's thickness is not the metal's")
    for f, want in zip(p.folds, bends, strict=True):
        faults += check_fold(f, want, section=True) if shape is p.section else []
    return faults, run, marks


def _asked(shop: PieceFolds, piece: SectionPiece, asked: tuple[Nm, ...]) -> tuple[list[float], list[Wanted]]:
    inch = [leg / NM_PER_INCH for leg in asked]
    radii = piece.inside_radius
    bends = []
    for k, turned in enumerate(piece.bends):
        radius = (radii[k] if isinstance(radii, tuple) else radii) / NM_PER_INCH
        toward = "face" if turned > 0 else "back"
        bends.append(shop.fold(inch[k + 1], toward, abs(turned), radius=radius, gap=2 * radius))
    if piece.start_hem is not None:
        wide, folds = _hem(shop, piece.start_hem)
        inch, bends = [*wide[::-1], *inch], [*folds[::-1], *bends]
    if piece.end_hem is not None:
        wide, folds = _hem(shop, piece.end_hem)
        inch, bends = [*inch, *wide], [*bends, *folds]
    return inch, bends


def _hem(shop: PieceFolds, spec: EndHem) -> tuple[list[float], list[Wanted]]:
    """A hem from its leg outward; a double one shuts round a layer, whose edge stops short of its fold."""
    if not spec.double:
        hem = shop.spec(spec)
        return [hem.width], [hem]
    wide = spec.width / NM_PER_INCH
    inner = wide - (1 / 16 if shop.job.info.units == "in" else 1.5 * NM_PER_MM / NM_PER_INCH)
    around = shop.fold(wide, spec.toward, 180.0, gap=shop.metal.thickness)
    return [wide, inner], [around, shop.fold(inner, spec.toward, 180.0, gap=0.0)]


def _close(what: str, got: tuple[float, ...], want: list[float]) -> list[str]:
    if len(got) != len(want):
        return [f"{len(got)} {what} sizes, not {len(want)}"]
    return [
        f"{what} {k} is {g:.6f}, not {w:.6f}"
        for k, (g, w) in enumerate(zip(got, want, strict=True), 1)
        if abs(g - w) > EXACT
    ]


def _strip(
    p: FlatPattern,
    shop: PieceFolds,
    piece: SectionPiece,
    developed: tuple[float, float],
    both: tuple[list[float], list[float]],
) -> list[str]:
    """The flat strip: sheared size, outline, bend lines from end to end."""
    faults = []
    marks, far_marks = both
    length, most = piece.length / NM_PER_INCH, shop.job.shear.longest_cut / NM_PER_INCH
    if marks:
        most = min(most, shop.job.brake.longest_bend / NM_PER_INCH)
    lap_nm = piece.lap if piece.lap is not None else 3 * NM_PER_INCH if shop.job.info.units == "in" else 75 * NM_PER_MM
    lap, parts = lap_nm / NM_PER_INCH, 1
    if length > most:
        parts = 1 + math.ceil((length - most) / (most - lap) - 1e-9)
    if p.parts != parts or (parts > 1 and p.far is not None):
        faults.append(f"made in {p.parts} strips, not {parts}")
    each = (length + (parts - 1) * lap) / parts
    wide, far_wide = (shop.nearest(d) if marks else shop.upward(d) for d in developed)
    turned = bool(piece.end_dams or piece.returns)
    if bool(p.ends) != turned:
        faults.append("the ends turned are not those asked for")
        return faults
    if turned:
        more, long, between = blank_length(p, piece, shop)
        faults += more
    else:
        long, between = shop.upward(each), (0.0, p.length_units * shop.step)
    if (p.width_units, p.length_units) != (max(wide, far_wide), long):
        faults.append(f"sheared {p.width_units} x {p.length_units} steps, not {wide} x {long}")
    w, far, h = wide * shop.step, far_wide * shop.step, p.length_units * shop.step
    box = ((far, h), (0.0, h), (0.0, 0.0), (w, 0.0))
    for name, points in (("sheared", p.outline), ("snipped", p.snipped)):
        if turned and name == "snipped":
            continue
        if len(points) != 4 or any(math.dist(a, b) > NEAR for a, b in zip(points, box, strict=False)):
            faults.append(f"the {name} outline is not the strip")
    if abs(p.rounding - (w - developed[0])) > EXACT:
        faults.append("the rounding is not sheared less developed width")
    for f, mark, far_mark in zip(p.folds, marks, far_marks, strict=False):
        ends = ((mark, between[0]), (far_mark, between[1]))
        if any(math.dist(a, b) > NEAR for a, b in zip(f.line, ends, strict=True)):
            faults.append(f"the line of bend {f.edge} is not at its mark")
        if f.flap:
            faults.append(f"bend {f.edge} has a flap")
    if [f.edge for f in p.folds] != list(range(1, len(marks) + 1)):
        faults.append("bends are not numbered from the start edge")
    if p.notches and not turned:
        faults.append("a section has no notches")
    if abs(p.finished.length - length) > EXACT:
        faults.append("the finished length is not the one asked for")
    return faults
