"""Every kind of piece: sizes, rounding, counts, notches, notes."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from blank_jobs import copper, job, metals, piece

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.job.values import Spare

STEP = 32


def one(units: str = "in", spare: Spare | None = None, counts: Any = None, **keys: Any) -> FlatPattern:
    made = job(piece(units, **keys), units=units, spare=spare)
    (pattern,) = develop(made, metals(), counts)
    assert check_patterns([pattern], made, metals(), counts) == []
    return pattern


def two(part: dict[str, Any], **whole: Any) -> FlatPattern:
    made = job(piece(kind="diamond", **whole), piece(mark="P", **{"for": "A"}, **part))
    patterns = develop(made, metals())
    assert check_patterns(patterns, made, metals()) == []
    return patterns[1]


# Frames


def test_a_square_diamond_has_edge_1_on_top_and_its_top_tip_upper_right() -> None:
    p = one(kind="diamond", side="12 in", upper_hem="1 in", lower_hem="3/4 in")
    s = p.width_units / STEP
    assert p.outline == ((s, s), (0.0, s), (0.0, 0.0), (s, 0.0))
    assert p.rectangular
    assert [(f.edge, f.toward, f.width) for f in p.folds] == [
        (1, "face", 1.0), (2, "back", 0.75), (3, "back", 0.75), (4, "face", 1.0)
    ]  # fmt: skip
    assert all(f.line[0][1] == f.line[1][1] > s / 2 for f in p.folds if f.edge == 1)
    assert all(f.line[0][0] == f.line[1][0] < s / 2 for f in p.folds if f.edge == 2)


@pytest.mark.parametrize("angle", [60, 75, 105, 120])
def test_a_rhombic_diamond_is_rounded_by_its_strip_height(angle: float) -> None:
    p = one(kind="diamond", side="10 in", hem="3/4 in", top_angle=angle)
    height = p.width_units / STEP
    (x1, y1), (x2, y2), (x3, y3), (x4, y4) = p.outline
    assert (x2, x3) == (0.0, 0.0)
    assert (x1, x4) == (height, height)  # edges 2 and 4 run along y
    side = height / math.sin(math.radians(angle))
    assert [y2 - y3, y1 - y4, math.dist((x1, y1), (x2, y2))] == pytest.approx([side] * 3)
    assert p.side_along == pytest.approx(side)
    assert p.finished.side == 10.0
    assert not p.rectangular
    inside = math.degrees(math.atan2(x1 - x2, y1 - y2))  # between edge 1 and straight up, at point 1's opposite
    assert min(inside, 180 - inside) == pytest.approx(min(angle, 180 - angle))


def test_no_side_and_finished_side_from_a_typed_blank() -> None:
    p = one(kind="diamond", blank="11.46 in", hem="3/4 in")
    assert p.width_units == math.ceil(11.46 * STEP)  # off the grid: up
    assert p.rounding == pytest.approx(p.width_units / STEP - 11.46)
    q = one(kind="diamond", side=f"{p.finished.side:.9f} in", hem="3/4 in")
    assert q.lattice is not None
    assert q.width_units / STEP == pytest.approx(11.46, abs=1 / 64)


# Rounding


def test_computed_sizes_go_to_the_nearest_graduation_and_typed_ones_up() -> None:
    p = one(kind="flat-seam", width="16-1/2 in", length="22-1/2 in", hem="3/4 in")
    exact = 16.5 + 2 * p.folds[0].allowance
    assert p.width_units == round(exact * STEP)
    assert p.rounding == pytest.approx(p.width_units / STEP - exact)
    plain = one(kind="rectangle", width="2.01 in", length="4 in")
    assert (plain.width_units, plain.length_units) == (65, 128)
    assert plain.rounding == pytest.approx(65 / 32 - 2.01)
    strip = one(kind="section", legs=["1 in", "1 in"], bends=[90], length="10.001 in")
    assert strip.length_units == 321
    assert strip.width_units == round((2 - strip.folds[0].deduction) * STEP)


def test_a_typed_box_rounds_each_way_as_a_pan_does() -> None:
    points = [["0 in", "0 in"], ["5.01 in", "0 in"], ["5.01 in", "3 in"], ["0 in", "3 in"]]
    p = one(kind="outline", points=points, folds=[{"edge": 1, "width": "1/2 in", "toward": "back", "turned": 90}])
    assert p.width_units == math.ceil(5.01 * STEP)
    assert p.length_units == round((3 + p.folds[0].allowance) * STEP)
    assert p.rectangular


def test_parts_have_a_size_on_the_grid() -> None:
    for kind in ("starter", "ridge-half", "rake-left", "rake-right"):
        p = two({"kind": kind}, side="10 in", hem="3/4 in")
        wide = max(x for x, _ in p.outline) * STEP
        high = max(y for _, y in p.outline) * STEP
        assert wide == pytest.approx(p.width_units, abs=1e-6)
        assert 0 <= p.length_units - high + 1e-6 < 1 + 1e-6
        if kind in ("starter", "ridge-half"):
            assert high == pytest.approx(p.length_units, abs=1e-6)


# Counts


@pytest.mark.parametrize(
    ("spare", "count", "total", "extra"),
    [
        (Spare(), 24, 24, 0),
        (Spare(share=Fraction(1, 20)), 640, 672, 32),
        (Spare(share=Fraction(1, 20)), 24, 26, 2),  # a share is rounded up
        (Spare(share=Fraction(1, 20)), 1, 2, 1),
        (Spare(pieces=10), 24, 34, 10),
    ],
)
def test_counts_and_spare(spare: Spare, count: int, total: int, extra: int) -> None:
    p = one(kind="rectangle", width="2 in", length="4 in", count=count, spare=spare)
    assert (p.count, p.spare) == (total, extra)


def test_counts_from_the_roof() -> None:
    keys: dict[str, Any] = {"kind": "diamond", "side": "10 in", "hem": "3/4 in", "spare": Spare(pieces=3)}
    assert (one(**keys, count=None).count, one(**keys, count=None).spare) == (0, 0)
    assert one(**keys, count=None, counts={"A": 40}).count == 43
    assert one(**keys, count=None, counts={"B": 40}).count == 0
    assert one(**keys, count=12, counts={"A": 40}).count == 15  # the job's own count goes first


# Notches


def kinds(p: FlatPattern) -> dict[int, str]:
    return {n.corner: n.kind for n in p.notches}


@pytest.mark.parametrize(("angle", "tips"), [(60, "point"), (75, "point"), (90, "45-degree"), (105, "V"), (120, "V")])
def test_notches_of_a_diamond(angle: float, tips: str) -> None:
    p = one(kind="diamond", side="10 in", hem="3/4 in", top_angle=angle)
    assert kinds(p) == {1: tips, 2: "side snip", 3: tips, 4: "side snip"}
    for n in p.notches:
        assert n.legs[0] == pytest.approx(n.legs[1], abs=1e-6)
    lat = p.lattice
    assert lat is not None
    half = math.radians(angle) / 2
    taken = lat.upper_allowance + lat.lower_allowance + lat.lap
    depth = taken / (2 * math.cos(half)) + lat.joint / 2
    assert p.notches[1].depth == pytest.approx(depth, abs=1e-6)
    assert p.notches[1].legs[0] == pytest.approx(depth / math.sin(half), abs=1e-6)


def test_notches_of_a_pan_are_square_where_folds_go_opposite_ways() -> None:
    p = one(kind="flat-seam", width="16-1/2 in", length="22-1/2 in", hem="3/4 in")
    assert kinds(p) == {1: "square", 2: "45-degree", 3: "square", 4: "45-degree"}


def corner(phi: float, **second: Any) -> FlatPattern:
    """A triangle or quadrilateral with corner 2 of this angle and hems on edges 1 and 2."""
    a = math.radians(180 - phi)
    up = (20 + 15 * math.cos(a), 15 * math.sin(a))
    points = [["0 in", "0 in"], ["20 in", "0 in"], [f"{up[0]:.9f} in", f"{up[1]:.9f} in"]]
    if phi > 100:
        points.append(["0 in", "20 in"])
    hem = {"width": "1/2 in", "toward": "face", "gap": "1/16 in"}
    folds = [{**hem, "edge": 1}, {**hem, "edge": 2, **second}]
    return one(kind="outline", points=points, folds=folds)


def removed_angle(p: FlatPattern) -> float:
    """Angle of what falls off at corner 2, seen from the crossing of the fold lines."""
    n = next((n for n in p.notches if n.corner == 2), None)
    assert n is not None
    if not n.removed:
        return 0.0
    ring = clip.shape(n.removed)
    start = p.folds[0].line[1]
    disc = clip.shape([(start[0] + 1e-3 * math.cos(k), start[1] + 1e-3 * math.sin(k)) for k in _circle(720)])
    return 360 * clip.overlap(disc, ring) / disc.area


def _circle(n: int) -> list[float]:
    return [2 * math.pi * k / n for k in range(n)]


@pytest.mark.parametrize("phi", [50, 60, 75, 90, 105, 120, 140])
def test_hems_to_the_same_side_lose_360_less_two_angles(phi: float) -> None:
    assert removed_angle(corner(phi)) == pytest.approx(360 - 2 * phi, abs=1.0)


@pytest.mark.parametrize("phi", [60, 75, 90, 105, 120, 140])
def test_hems_to_opposite_sides_lose_360_less_three_angles(phi: float) -> None:
    p = corner(phi, toward="back")
    # within the few hundredths by which a hem's round stands past its fold line
    assert removed_angle(p) == pytest.approx(max(0.0, 360 - 3 * phi), abs=4.0)
    if phi > 121:
        assert next(n for n in p.notches if n.corner == 2).kind == "slit"


def test_walls_meet_at_a_square_corner_over_a_square_notch() -> None:
    folds = [{"edge": e, "width": "1 in", "toward": "face", "turned": 90} for e in (1, 2, 3, 4)]
    points = [["0 in", "0 in"], ["8 in", "0 in"], ["8 in", "6 in"], ["0 in", "6 in"]]
    p = one(kind="outline", points=points, folds=folds)
    assert kinds(p) == {1: "square", 2: "square", 3: "square", 4: "square"}


def test_a_drawn_in_corner_is_a_slit_and_a_straight_one_needs_nothing() -> None:
    corners = [(0, 0), (4, 0), (8, 0), (8, 3), (4, 3), (4, 7), (0, 7)]
    points = [[f"{x} in", f"{y} in"] for x, y in corners]
    hem = {"width": "1/2 in", "toward": "face", "gap": "1/16 in"}
    p = one(kind="outline", points=points, folds=[{**hem, "edge": e} for e in (1, 2, 4, 5)])
    assert kinds(p)[5] == "slit"
    assert kinds(p)[2] == "slit"  # two flaps side by side on a straight run
    step = one(kind="outline", points=points, folds=[{**hem, "edge": 1}])
    assert 2 not in kinds(step)


def test_a_snip_past_the_crossing_only_where_no_joint_opens() -> None:
    whole = one(kind="diamond", side="10 in", hem="3/4 in", snip_past="1/4 in")
    assert not any("past it" in n.says for n in whole.notches)
    assert any(n.startswith("snip_past is left out") for n in whole.notes)
    fold = {"width": "3/4 in", "toward": "back", "turned": 90}
    keys: dict[str, Any] = {"side": "10 in", "hem": "3/4 in", "snip_past": "1/4 in", "top_angle": 110}
    part = two({"kind": "rake-left", "cut_fold": fold}, **keys)
    past = [(n.corner, n.kind) for n in part.notches if "1/4 in past it" in n.says]
    assert past == [(1, "V")]  # face hem against back fold; corner 2 has two back folds, corner 3 the side snip


# Parts


def test_parts_have_their_default_folds() -> None:
    keys: dict[str, Any] = {"side": "10 in", "upper_hem": "3/4 in", "lower_hem": "7/8 in"}
    base = next(f for f in two({"kind": "starter"}, **keys).folds if f.edge == 3)
    assert (base.toward, base.turned, base.width, base.gap) == ("back", 180, 0.875, 0.0625)
    for kind, edge in (("ridge-half", 5), ("rake-left", 1), ("rake-right", 3)):
        cut = next(f for f in two({"kind": kind}, **keys).folds if f.edge == edge)
        assert (cut.toward, cut.turned, cut.width) == ("face", 90, 1.0)
        bare = two({"kind": kind, "cut_fold": "none"}, **keys)
        assert edge not in [f.edge for f in bare.folds]


def test_a_starter_is_higher_than_the_common_rule() -> None:
    p = two({"kind": "starter"}, side="10 in", hem="3/4 in")
    lat = p.lattice
    assert lat is not None
    half_blank = (10 + lat.upper_allowance + lat.lower_allowance) * math.cos(math.pi / 4)
    assert half_blank < p.length_units / STEP < half_blank + 2 * 0.75
    assert "common rule" in p.notes[0]


def test_a_part_in_its_own_metal_keeps_the_lattice_of_its_diamond() -> None:
    made = job(
        piece(kind="diamond", side="10 in", hem="3/4 in"),
        piece(kind="rake-left", mark="P", metal="heavier", **{"for": "A"}),
    )
    both = {**metals(), "heavier": copper(thickness=0.027, weight=1.25)}
    whole, part = develop(made, both)
    assert part.lattice == whole.lattice
    assert part.folds[1].setback > whole.folds[1].setback
    assert part.thickness == 0.027
    assert check_patterns((whole, part), made, both) == []


# Sections


def test_a_section_with_hems() -> None:
    hem = {"width": "1/2 in", "toward": "back", "gap": "0 in"}
    p = one(kind="section", length="48 in", legs=["3/4 in", "2-1/2 in", "3 in"], bends=[90, -45], start_hem=hem,
            end_hem={**hem, "toward": "face"})  # fmt: skip
    s = p.section
    assert s is not None
    assert s.legs == (0.5, 0.75, 2.5, 3.0, 0.5)
    assert s.bends == (-180, 90, -45, 180)
    assert s.gaps == (0.0, None, None, 0.0)
    assert [f.toward for f in p.folds] == ["back", "face", "back", "face"]
    assert [f.line[0][0] for f in p.folds] == pytest.approx(s.marks)
    assert p.rounding == pytest.approx(p.width_units / STEP - s.developed)


def test_a_section_longer_than_the_brake_is_made_in_lapped_strips() -> None:
    # 240 in from 120 in strips lapped 3 in: 3 of them, not 2
    made = job(
        piece(kind="section", length="240 in", legs=["2 in", "2 in"], bends=[90], count=5), spare=Spare(pieces=1)
    )
    (p,) = develop(made, metals())
    assert check_patterns([p], made, metals()) == []
    assert p.parts == 3
    assert (p.count, p.spare) == (18, 3)
    assert p.length_units / STEP == 82.0
    assert any("3 strips of 82 in, lapped 3 in" in n for n in p.notes)
    (flat,) = develop(job(piece(kind="section", length="240 in", legs=["2 in"]), longest_cut="240 in"), metals())
    assert flat.parts == 1  # no bend, no brake
    short = job(piece(kind="section", length="100 in", legs=["2 in", "2 in"], bends=[90]), longest_cut="52 in")
    (p,) = develop(short, metals())
    assert p.parts == 2
    assert any(n.startswith("Longer than the shear: each piece is 2 strips of 51-1/2 in") for n in p.notes)


def test_weight_is_of_the_snipped_piece() -> None:
    p = one(kind="diamond", side="10 in", hem="3/4 in")
    assert p.weight == pytest.approx(plane.area(p.snipped) / 144)
    assert p.weight < (p.width_units / STEP) ** 2 / 144


def test_grain_and_turning_are_handed_on() -> None:
    assert one(kind="diamond", side="10 in", hem="3/4 in", grain="along").grain == "along"
    assert one(kind="section", legs=["2 in", "2 in"], bends=[90], length="10 in", grain="across").grain == "across"


def test_metric_defaults_and_words() -> None:
    p = one("mm", kind="diamond", side="250 mm", hem="20 mm")
    assert p.folds[0].gap == pytest.approx(1.5 / 25.4)
    assert p.grid == 500_000
    assert any(" mm fold to fold" in n for n in p.notes)
    assert not any(" in fold to fold" in n for n in p.notes)


# Discs


@pytest.mark.parametrize(("typed", "square"), [("5 in", 5.0), ("4-63/64 in", 5.0), ("100 mm", 126 / 32)])
def test_a_disc_is_a_square_snipped_to_a_circle_in_its_middle(typed: str, square: float) -> None:
    p = one(kind="disc", diameter=typed)
    across = 100 / 25.4 if "mm" in typed else 5.0 if typed == "5 in" else 4 + 63 / 64
    assert (p.width_units / STEP, p.length_units / STEP) == (square, square)
    assert [math.dist(q, (square / 2, square / 2)) for q in p.snipped] == pytest.approx([across / 2] * len(p.snipped))
    assert plane.area(p.snipped) == pytest.approx(math.pi * across**2 / 4, rel=3e-4)
    assert p.weight == pytest.approx(math.pi * across**2 / 4 / 144, rel=3e-4)  # a pound a square foot
    assert not p.folds
    assert not p.notches
