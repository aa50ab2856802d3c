"""A laid-out flat piece written down as a `FlatPattern`."""

from __future__ import annotations

from typing import Any

from fabplan import plane
from fabplan.blanks.flat.lay import FlatPiece
from fabplan.blanks.flat.notch import ON_LINE, notches
from fabplan.blanks.model import Finished, FlatPattern, Fold, Notch, Point, Polygon
from fabplan.blanks.piece_rules import PieceRules, moved


def flat_pattern(
    bench: PieceRules,
    laid: FlatPiece,
    *,
    finished: Finished,
    width_units: int | None = None,
    length_units: int | None = None,
    snip_past: float = 0.0,
    **rest: Any,
) -> FlatPattern:
    """The pattern of a laid-out piece, moved so that its blank's bounding box starts at (0, 0).

    Parameters
    ----------
    bench : PieceRules
        The piece, its metal and the shop's grid.
    laid : FlatPiece
        Its blank as laid out, anywhere.
    finished : Finished
        Its outline is replaced by the laid-out one.
    width_units, length_units : int, optional
        Sheared size where it is on the grid by construction; else the bounding box, rounded up.
    snip_past : float
        How far a straight snip goes beyond the crossing of the fold lines, inches.
    **rest
        Further fields of `FlatPattern`.
    """
    left, bottom = min(x for x, _ in laid.blank), min(y for _, y in laid.blank)
    by = (-left, -bottom)

    def place(points: Polygon) -> Polygon:
        return bench.tidy(moved(points, by))

    outline = place(laid.blank)
    snipped = place(laid.snipped)
    panel = tuple(e.start for e in laid.edges)
    metal = bench.metal
    return FlatPattern(
        mark=bench.piece.mark,
        kind=bench.piece.kind,
        metal=bench.name,
        width_units=bench.units(max(x for x, _ in outline), "up") if width_units is None else width_units,
        length_units=bench.units(max(y for _, y in outline), "up") if length_units is None else length_units,
        grid=bench.grid,
        outline=outline,
        snipped=snipped,
        folds=tuple(_fold(laid, edge, place) for edge in sorted(laid.flaps)),
        notches=tuple(_placed(n, place) for n in notches(laid, bench.show, snip_past=snip_past)),
        weight=plane.area(snipped) / 144 * metal.weight,
        thickness=metal.thickness,
        finished=Finished(
            side=finished.side,
            width=finished.width,
            length=finished.length,
            exposed_side=finished.exposed_side,
            covers_area=finished.covers_area,
            outline=place(panel),
        ),
        **rest,
    )


def _fold(laid: FlatPiece, number: int, place: Any) -> Fold:
    edge = laid.edges[number - 1]
    fold = edge.fold
    assert fold is not None
    bend = fold.bend
    flap = laid.flaps[number]
    base = sorted(s for s, u in map(edge.local, flap) if abs(u - edge.fold_line) < ON_LINE)
    line = place((edge.at(base[0], edge.fold_line), edge.at(base[-1], edge.fold_line)))
    return Fold(
        edge=number,
        line=(line[0], line[1]),
        toward=fold.toward,
        turned=bend.turned,
        width=fold.width,
        gap=bend.gap,
        radius=bend.radius,
        bend_allowance=bend.bend_allowance,
        setback=bend.setback,
        deduction=bend.deduction,
        allowance=fold.allowance,
        slot_depth=bend.slot_depth(fold.width),
        flap=place(_from_base(flap, edge.at(base[0], edge.fold_line))),
        hem=bend.hem,
    )


def _from_base(flap: Polygon, start: Point) -> Polygon:
    first = min(range(len(flap)), key=lambda i: (flap[i][0] - start[0]) ** 2 + (flap[i][1] - start[1]) ** 2)
    return flap[first:] + flap[:first]


def _placed(n: Notch, place: Any) -> Notch:
    return Notch(corner=n.corner, kind=n.kind, removed=place(n.removed), legs=n.legs, depth=n.depth, says=n.says)
