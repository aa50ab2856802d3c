"""Edges of a nested sheet that go to the back gauge: a black point on each, and words along the sides of the stock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fabplan.plotter.board import geometry
from fabplan.plotter.board.callouts import Margins
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import extent, width
from fabplan.plotter.board.view import PaperView
from fabplan.plotter.model import Point, Text
from fabplan.plotter.sheet.replay import MadeCut, is_rectangle
from fabplan.speech.format import spans

EDGE_WORDS = "to the gauge"  # of several cuts one after another: this edge, then each new one
EDGE_SIZE = 9.0
NEAR = 0.05  # mm on paper


def _series(made: Sequence[MadeCut]) -> dict[int, list[MadeCut]]:
    groups: dict[int, list[MadeCut]] = {}
    for m in made:
        groups.setdefault(m.series, []).append(m)
    return groups


def _side_of(view: PaperView, a: Point, b: Point) -> str:
    for side, axis, level in (
        ("left", 0, view.left),
        ("right", 0, view.right),
        ("top", 1, view.top),
        ("bottom", 1, view.bottom),
    ):
        if abs(a[axis] - level) < NEAR and abs(b[axis] - level) < NEAR:
            return side
    return ""


@dataclass(slots=True)
class StartEdges:
    """Edges that go to the back gauge first, by side of the stock, with the cuts made from each, run by run."""

    steps: dict[str, list[list[int]]]

    def words(self, side: str) -> tuple[str, str]:
        runs = self.steps[side]
        return f"{EDGE_WORDS}:", "; ".join(spans(sorted(set(run))) for run in runs)


def edge_points(draft: Draft, view: PaperView, made: Sequence[MadeCut]) -> StartEdges:
    """Draw a black point on every edge that goes to the back gauge first; returns those on the stock's border."""
    found = StartEdges({})
    for group in _series(made).values():
        if not (group[0].edge and group[0].normal) or not is_rectangle(group[0].outline):
            continue  # on slanted metal the cut's own picture shows the gauge
        a, b = view.point(group[0].edge[0]), view.point(group[0].edge[1])
        px, py = view.direction(group[0].normal)
        x, y = geometry.between(a, b, 0.5)
        side = _side_of(view, a, b)
        reach, half = (2.0, 1.5) if side else (1.4, 1.1)
        point = (
            (x + px * reach, y + py * reach),
            (x - py * half, y + px * half),
            (x + py * half, y - px * half),
        )
        draft.polygon(point, None, "black")
        draft.take(point)
        if side:
            found.steps.setdefault(side, []).append([m.cut.step for m in group])
    return found


def edge_rows(draft: Draft, view: PaperView, edges: StartEdges, needed: Margins) -> Margins:
    """Words along the upper and lower edge."""
    reach = {"top": needed.top, "bottom": needed.bottom}
    for side in sorted(set(edges.steps) & set(reach)):
        up = 1 if side == "top" else -1
        level = view.top if side == "top" else view.bottom
        lines = list(edges.words(side))
        if width(" ".join(lines), EDGE_SIZE) < view.width - 3:
            lines = [" ".join(lines)]
        half = max(width(line, EDGE_SIZE) for line in lines) / 2
        low, high = (
            (half + 1, view.right + needed.right - half - 1) if side == "top" else (view.left + half, view.right - half)
        )
        if side == "bottom":  # kept for the extension lines of the overall length
            for x in (view.left, view.right):
                draft.take(geometry.strip_box((x, level), (x, level - 40.0), 0.3))
        spots = [
            (min(max(view.left + view.width * k / 20, low), max(high, low)), level + up * out)
            for out in (4.0, 8.5, 13.0, 17.5, 22.0, 26.5, 31.0, 35.5, 40.0)
            for k in (10, 8, 12, 6, 14, 4, 16, 2, 18, 0, 20)
        ]
        for x, y in spots:
            first = y + (4.2 * (len(lines) - 1) if up > 0 else 0.0)
            texts = [Text(at=(x, first - 4.2 * i), text=line, size=EDGE_SIZE) for i, line in enumerate(lines)]
            if all(draft.free(extent(t, 0.6)) for t in texts):
                for text in texts:
                    draft.text(text)
                reach[side] = max(reach[side], max(abs(t.at[1] - level) for t in texts) + 3.0)
                break
    return replace(needed, top=reach["top"], bottom=reach["bottom"]).rounded()


def edge_columns(draft: Draft, view: PaperView, edges: StartEdges, needed: Margins) -> Margins:
    """Words along the two ends, outside everything drawn there."""
    out = {"left": needed.left, "right": needed.right}
    low, high = view.bottom - needed.bottom + 1, view.top + needed.top - 1
    for side in sorted(set(edges.steps) & set(out)):
        lines = list(edges.words(side))
        if width(" ".join(lines), EDGE_SIZE) <= high - low:
            lines = [" ".join(lines)]
        sign = -1 if side == "left" else 1
        edge = view.left if side == "left" else view.right
        ordered = lines[::-1] if side == "left" else lines  # read from the right of the page: first line at the left
        half = max(width(line, EDGE_SIZE) for line in lines) / 2
        middle = (view.bottom + view.top) / 2
        centre = min(max(middle, low + half), high - half) if high - low > 2 * half else (low + high) / 2
        steps = max(0, int((high - low - 2 * half) / 4.0))
        levels = dict.fromkeys(
            (centre, middle, view.bottom + half, view.top - half, *(low + half + 4.0 * k for k in range(steps + 1)))
        )
        texts: list[Text] = []
        for further, y in ((k * 1.0, y) for k in range(60) for y in levels):
            base = edge + sign * (out[side] + 2.0 + further)
            texts = [
                Text(at=(base + sign * 4.2 * i, y), text=line, size=EDGE_SIZE, turned=90.0)
                for i, line in enumerate(ordered)
            ]
            if all(draft.free(extent(t, 0.5)) for t in texts):
                out[side] += further
                break
        for text in texts:
            draft.text(text)
        out[side] += 4.2 * len(lines) + 0.5
    return replace(needed, left=out["left"], right=out["right"]).rounded()
