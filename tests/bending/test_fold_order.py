"""Fold order of flat pieces: known costs, agreement with trying every order, mirrored pieces."""

from __future__ import annotations

import math
import random

import pytest
from bend_pieces import (
    BAR,
    LEAF,
    MALLET,
    SEAMER,
    diamond,
    mirrored,
    piece,
    random_piece,
    turned_inside_out,
)
from bend_sections import job_of, metals

from fabplan.bending.flat.fold_order import FINISHED, FLAT, PREBENT, FlatProblem, FoldStroke, fold_order
from fabplan.bending.flat.impossible import explain_flat
from fabplan.bending.tools import Tool
from fabplan.blanks.model import Fold

SQUARE = [(0.0, 0.0), (18.0, 0.0), (18.0, 24.0), (0.0, 24.0)]


def every_order(folds: tuple[Fold, ...], tools: tuple[Tool, ...], thickness: float) -> tuple[int, ...] | None:
    """Least cost over all orders, tools and start faces, by plain recursion; only the geometry is shared."""
    problem = FlatProblem(folds, tools, thickness)
    best: list[tuple[int, ...] | None] = [None]

    def bearing(i: int) -> float:
        (x0, y0), (x1, y1) = folds[i].line
        cx = sum(p[0] for p in folds[i].flap) / len(folds[i].flap)
        cy = sum(p[1] for p in folds[i].flap) / len(folds[i].flap)
        nx, ny = y1 - y0, x0 - x1
        if (cx - x0) * nx + (cy - y0) * ny < 0:
            nx, ny = -nx, -ny
        return math.degrees(math.atan2(ny, nx))

    def go(stages: tuple[int, ...], up: str, at: int, tool: int, cost: tuple[int, int, int, int]) -> None:
        if all(s == FINISHED for s in stages):
            if best[0] is None or cost < best[0]:
                best[0] = cost
            return
        if best[0] is not None and cost >= best[0]:
            return
        for i, stage in enumerate(stages):
            if stage == FINISHED:
                continue
            over = folds[i].toward != up
            degrees = 0.0
            if at >= 0:
                degrees = abs((bearing(i) - bearing(at) + 180) % 360 - 180)
                if over:
                    degrees = min(degrees, 180 - degrees)
            turns = degrees > 0.5
            for k, t in enumerate(tools):
                for reached in (PREBENT, FINISHED):
                    if (k, reached) not in problem._options[i][stage]:
                        continue
                    from fabplan.bending.flat.fold_order import FoldState

                    before = FoldState(stages, over != (up == "face"), at, tool)
                    if not problem.allowed(before, FoldStroke(i, k, reached, over, turns)):
                        continue
                    after = tuple(reached if j == i else s for j, s in enumerate(stages))
                    step = (int(over), int(turns), int(tool >= 0 and k != tool), round(degrees) if turns else 0)
                    total = tuple(a + b for a, b in zip(cost, step, strict=True))
                    go(after, folds[i].toward, i, k, total)  # type: ignore[arg-type]
                    _ = t

    for up in ("face", "back"):
        go((FLAT,) * len(folds), up, -1, -1, (0, 0, 0, 0))
    return best[0]


@pytest.mark.parametrize(
    ("tools", "gap", "top", "cost"),
    [
        ((SEAMER,), 1 / 16, 90.0, (1, 2, 0, 180)),
        ((SEAMER,), 1 / 16, 60.0, (1, 2, 0, 240)),
        ((SEAMER,), 1 / 16, 120.0, (1, 2, 0, 120)),
        ((LEAF,), 0.0, 90.0, (1, 2, 0, 180)),
        ((LEAF,), 1 / 16, 90.0, None),
    ],
)
def test_diamond(tools: tuple[Tool, ...], gap: float, top: float, cost: tuple[int, ...] | None) -> None:
    pattern = diamond(gap=gap, top=top)
    _, found = fold_order(pattern.folds, tools, pattern.thickness)
    assert found.cost == cost
    assert found.proven


def test_open_hems_on_a_leaf_brake_say_which_is_crushed_where_and_what_helps() -> None:
    pattern = diamond()
    problem, found = fold_order(pattern.folds, (LEAF,), pattern.thickness)
    reasons, mends = explain_flat(problem, found, pattern, job_of(), metals())
    assert any("crush the open hem of edge 1 at the corner between edges 4 and 1" in r for r in reasons)
    assert any("hand seamer" in m.says for m in mends)


def test_box_on_a_straight_leaf_brake_is_impossible() -> None:
    box = piece(SQUARE, dict.fromkeys((1, 2, 3, 4), ("face", 90.0, 2.0, 0.0)))
    _, found = fold_order(box.folds, (LEAF,), box.thickness)
    assert found.cost is None
    assert found.proven


def test_two_walls_side_by_side_are_possible() -> None:
    tray = piece(SQUARE, {1: ("face", 90.0, 2.0, 0.0), 2: ("face", 90.0, 2.0, 0.0)})
    _, found = fold_order(tray.folds, (LEAF,), tray.thickness)
    assert found.cost == (0, 1, 0, 90)


def test_same_way_edges_are_a_shift() -> None:
    corners = [(0.0, 0.0), (8.0, 0.0), (8.0, 2.0), (12.0, 2.0), (12.0, 10.0), (0.0, 10.0)]
    p = piece(corners, {1: ("face", 180.0, 0.5, 1 / 16), 3: ("face", 180.0, 0.5, 1 / 16)})
    _, found = fold_order(p.folds, (SEAMER,), p.thickness)
    assert found.cost == (0, 0, 0, 0)


def test_start_face_given_costs_a_turn_over() -> None:
    p = piece(SQUARE, {1: ("back", 180.0, 0.5, 1 / 16)})
    assert fold_order(p.folds, (SEAMER,), p.thickness)[1].cost == (0, 0, 0, 0)
    assert fold_order(p.folds, (SEAMER,), p.thickness, face_up=True)[1].cost == (1, 0, 0, 0)


def test_bar_then_mallet() -> None:
    p = piece(SQUARE, {1: ("face", 180.0, 0.75, 1 / 16)})
    problem, found = fold_order(p.folds, (BAR, MALLET), p.thickness)
    assert [(problem.tools[a.tool].name, a.stage) for _, a, _ in found.path] == [
        ("folding bar", PREBENT),
        ("mallet", FINISHED),
    ]


def test_no_tool_says_why() -> None:
    p = piece(SQUARE, {1: ("face", 90.0, 2.5, 0.0)})
    problem, found = fold_order(p.folds, (SEAMER, BAR), p.thickness)
    reasons, _ = explain_flat(problem, found, p, job_of(), metals())
    assert len(reasons) == 1
    assert "Edge 1 (fold 2-1/2 in wide, 18 in long, turned 90°)" in reasons[0]
    assert "the hand seamer takes at most 1-1/2 in" in reasons[0]


def test_eight_folds_four_tools() -> None:
    corners = [(10 * math.cos(math.radians(45 * i)), 10 * math.sin(math.radians(45 * i))) for i in range(8)]
    p = piece(corners, {i + 1: (("face", "back")[i % 2], 180.0, 0.5, 1 / 16) for i in range(8)})
    _, found = fold_order(p.folds, (SEAMER, LEAF, BAR, MALLET), p.thickness)
    assert found.proven
    # sides alternate, so every next edge of one side is a quarter turn away: 3 + 1 + 3 rotations at least
    assert found.cost is not None
    assert found.cost[:2] == (1, 7)


def test_many_folds_are_settled_without_claiming_proof() -> None:
    corners = [(20 * math.cos(math.tau * i / 24), 20 * math.sin(math.tau * i / 24)) for i in range(24)]
    p = piece(corners, {i + 1: (("face", "back")[i % 2], 180.0, 0.5, 1 / 16) for i in range(24)})
    _, found = fold_order(p.folds, (SEAMER, LEAF), p.thickness, most_states=40)
    assert found.cost is not None
    assert found.cost[0] >= 1
    assert not found.proven


def agree(seed: int) -> None:
    rng = random.Random(seed)
    p = random_piece(rng, 4)
    tools = tuple(rng.sample([SEAMER, LEAF, BAR, MALLET], rng.randint(1, 3)))
    _, found = fold_order(p.folds, tools, p.thickness)
    assert found.cost == every_order(p.folds, tools, p.thickness)
    for changed in (mirrored(p), turned_inside_out(p)):
        _, other = fold_order(changed.folds, tools, p.thickness)
        assert (other.cost is None) == (found.cost is None)
        if found.cost is not None and other.cost is not None:
            assert other.cost[:3] == found.cost[:3]
            assert abs(other.cost[3] - found.cost[3]) <= 4  # each rotation is a whole number of degrees
    if found.cost is not None:
        both = {f.toward for f in p.folds}
        assert found.cost[0] >= len(both) - 1


@pytest.mark.parametrize("seed", range(40))
def test_agrees_with_every_order(seed: int) -> None:
    agree(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1000, 1320))
def test_agrees_with_every_order_at_length(seed: int) -> None:
    agree(seed)


def test_a_piece_deeper_than_the_throat_does_not_go_into_the_brake() -> None:
    p = piece([(0.0, 0.0), (18.0, 0.0), (18.0, 30.0), (0.0, 30.0)], {1: ("face", 90.0, 2.0, 0.0)})
    shallow = Tool(**{f: getattr(LEAF, f) for f in LEAF.__dataclass_fields__} | {"throat": 24.0})
    assert fold_order(p.folds, (shallow,), p.thickness)[1].cost is not None
    problem, found = fold_order(p.folds, (shallow,), p.thickness, outline=p.snipped)
    assert found.cost is None
    reasons, _ = explain_flat(problem, found, p, job_of(), metals())
    assert "the leaf brake takes 24 in behind the fold" in reasons[0]
