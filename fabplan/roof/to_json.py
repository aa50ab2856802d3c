"""The roof as data for `plan.json`: the job's units, at most 6 decimals."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fabplan.roof.extras.variation_model import Variation
from fabplan.roof.model import CourseCount, Kit, Point, RoofPlan, SlopeEdge, SlopeLayout
from fabplan.roof.tables import count_tables
from fabplan.units import area_number, number, weight_number

__all__ = ["count_tables", "roof_json"]

Data = dict[str, Any]


def _tidy(value: float) -> float:
    return round(value, 6) + 0.0


def _points(points: Iterable[Point], units: str) -> list[list[float]]:
    return [[number(float(x), units), number(float(y), units)] for x, y in points]


def roof_json(plan: RoofPlan, units: str) -> Data:
    """Slopes, courses, kits and everything else counted on the roof.

    `courses` has one row a slope and course; multiply by the slope's `times`. Heights are from the base line.
    """
    return {
        "counts": dict(plan.counts),
        "pieces": dict(plan.pieces),
        "slopes": [_slope(s, units) for s in plan.slopes],
        "courses": [_course(s, c, units) for s in plan.slopes for c in s.courses],
        "kits": [_kit(k, units) for k in plan.kits],
        "kit_limit": {
            "pieces": plan.kit_limit[0],
            "weight": None if plan.kit_limit[1] is None else weight_number(plan.kit_limit[1], units),
        },
        "cut_shapes": [
            {
                "number": s.number,
                "mark": s.mark,
                "width": number(s.width, units),
                "height": number(s.height, units),
                "share": _tidy(s.share),
                "count": s.same,
                "mirrored": s.mirrored,
                "outline": _points(s.metal, units),
            }
            for s in plan.shapes
        ],
        "pairs": [
            {
                "mark": p.mark,
                "first": p.first,
                "first_mirrored": p.first_mirrored,
                "second": p.second,
                "second_mirrored": p.second_mirrored,
                "turned_deg": p.turned,
                "turned_over": p.flipped,
                "times": p.times,
            }
            for p in plan.pairs
        ],
        "unpaired": [
            {"mark": p.mark, "cut_shape": p.shape, "mirrored": p.mirrored, "count": p.times} for p in plan.leftover
        ],
        "part_blanks": [
            {
                "mark": s.mark,
                "of": s.diamond,
                "count": s.times,
                "share": _tidy(s.share),
                "outline": _points(s.outline, units),
                "cut_shapes": [
                    {
                        "cut_shape": p.shape,
                        "mirrored": p.mirrored,
                        "turned_deg": p.turned,
                        "turned_over": p.flipped,
                        "count": p.times,
                    }
                    for p in s.parts
                ],
            }
            for s in plan.part_sizes
        ],
        "whole_blanks_spared": dict(plan.spared),
        "hips": [
            {
                "name": h.name,
                "length": number(h.length, units),
                "bend_deg": _tidy(h.bend),
                "plan_corner_deg": _tidy(h.plan_corner),
                "slopes": [h.slope_left, h.slope_right],
            }
            for h in plan.hips
        ],
        "edges": [
            {
                "kind": r.kind,
                "where": r.where,
                "mark": r.mark or None,
                "times": r.times,
                "length": number(r.length, units),
                "stock_length": number(r.stock, units),
                "lap": number(r.lap, units),
                "pieces": r.pieces,
            }
            for r in plan.edge_runs
        ],
        "underlayment": [
            {
                "slope": u.slope,
                "times": u.times,
                "rows": u.rows,
                "runs": [number(x, units) for x in u.runs],
                "total": number(u.total, units),
                "rolls": _tidy(u.rolls),
                "rolls_by_area": _tidy(u.rolls_by_area),
            }
            for u in plan.underlayment
        ],
        "fasteners": [{"what": f.what, "count": f.count, "says": f.says} for f in plan.fasteners],
        "variation": [_variation(v, units) for v in plan.variation],
        "notes": list(plan.notes),
    }


def _edge(e: SlopeEdge, units: str) -> Data:
    return {
        "name": e.name,
        "kind": e.kind,
        "from": [number(e.start[0], units), number(e.start[1], units)],
        "to": [number(e.end[0], units), number(e.end[1], units)],
        "length": number(e.length, units),
        "reach": number(e.reach, units),
    }


def _slope(s: SlopeLayout, units: str) -> Data:
    slope = s.slope
    return {
        "name": slope.name,
        "entry": slope.entry,
        "mark": slope.piece,
        "times": slope.times,
        "area": area_number(slope.area, units),
        "covered_area": area_number(s.net_area, units),
        "pitch_deg": None if slope.pitch is None else _tidy(slope.pitch),
        "edges": [_edge(e, units) for e in slope.edges],
        "openings": [
            {"name": h.name, "edges": [_edge(e, units) for e in h.edges if e.kind != "open"]} for h in slope.holes
        ],
        "lean": None
        if slope.lean is None
        else {
            "amount": number(slope.lean.amount, units),
            "sigma": number(slope.lean.sigma, units),
            "known": slope.lean.known,
        },
        "misfit": None
        if slope.misfit is None
        else {
            "disagreement": number(slope.misfit.disagreement, units),
            "says": slope.misfit.says,
            "readings": [
                {
                    "name": r.name,
                    "read": number(r.read, units),
                    "correction": number(r.correction, units),
                    "alone": None if r.alone is None else number(r.alone, units),
                }
                for r in slope.misfit.readings
            ],
        },
        "turned_deg": _tidy(s.turned),
        "centre_line": {"x": number(s.centre_x, units), "stands_on": s.alignment},
        "base": number(s.base, units),
        "spacing": number(s.spacing, units),
        "course": number(s.course, units),
        "full_course": number(s.full_course, units),
        "cap_line": None if s.cap_line is None else number(s.cap_line - s.base, units),
        "ideal": _tidy(s.ideal),
        "whole": sum(c.whole for c in s.courses),
        "trimmed": sum(c.trimmed for c in s.courses),
        "cut": sum(c.total - c.whole for c in s.courses),
        "slivers": len(s.slivers),
        "first_marks": [number(m * s.mark_step, units) for _, m in s.first_marks],
        "notes": list(dict.fromkeys((*slope.notes, *s.notes))),
    }


def _course(s: SlopeLayout, c: CourseCount, units: str) -> Data:
    line = next((x for x in s.lines if x.course == c.course), None)
    return {
        "slope": s.slope.name,
        "course": c.course,
        "line": None if line is None else number(line.mark * s.mark_step, units),
        "visible_line": None if line is None else number(line.top_mark * s.mark_step, units),
        "whole": c.whole,
        "trimmed": c.trimmed,
        "starter": c.starter,
        "ridge_half": c.ridge_half,
        "cut_left": c.cut_left,
        "cut_right": c.cut_right,
        "cut_both": c.cut_both,
        "notched": c.notched,
        "total": c.total,
        "shares": [_tidy(p.share) for p in s.pieces if p.course == c.course and p.kind != "whole"],
    }


def _kit(k: Kit, units: str) -> Data:
    return {
        "label": k.label,
        "slopes": list(k.slopes),
        "courses": [k.first_course, k.last_course],
        "part": list(k.part),
        "pieces": k.pieces,
        "weight": weight_number(k.pounds, units),
        "over_limit": k.over,
        "items": [{"mark": i.mark, "kind": i.kind, "cut_shape": i.shape or None, "count": i.count} for i in k.items],
    }


def _variation(v: Variation, units: str) -> Data:
    return {
        "mark": v.mark,
        "locks": v.locks,
        "confidence": _tidy(v.confidence),
        "hem": number(v.hem, units),
        "mean_course": number(v.mean_course, units),
        "layout_course": number(v.layout_course, units),
        "fold_stop_error": {
            "stop_off": number(1 / 64, units),
            "courses": v.drifts[-1].courses,
            "height": number(v.stop_error, units),
        },
        "drift": [
            {
                "courses": d.courses,
                "height_mean": number(d.height_mean, units),
                "height_sigma": number(d.height_sigma, units),
                "sideways_sigma": number(d.sideways_sigma, units),
            }
            for d in v.drifts
        ],
        "line_every": [
            {
                "courses": i.courses,
                "course_at_most": number(i.course_at_most, units),
                "hem_per_lock": number(i.hem_per_lock, units),
                "hem_whole_roof": number(i.hem_whole_roof, units),
                "allowed_per_lock": i.allowed_per_lock,
                "allowed_whole_roof": i.allowed_whole_roof,
            }
            for i in v.intervals
        ],
        "largest_per_lock": v.largest_per_lock,
        "largest_whole_roof": v.largest_whole_roof,
        "says": v.says,
    }
