"""How a layout's picture, table and small pictures stand on one sheet: the way that leaves the picture largest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fabplan.nesting.model import Layout
from fabplan.packet.model import Block, Paper, Picture, Shots, Split, Table
from fabplan.packet.pages.cut_shots import CutPicture, shots
from fabplan.packet.pages.pictures import cut_drawing, layout_drawing
from fabplan.packet.setting.page_estimate import (
    BLOCK_GAP,
    TITLE,
    body,
    mm,
    natural_width,
    points,
    shots_height,
    stack_height,
    table_height,
)
from fabplan.plan.model import Plan
from fabplan.plotter.model import Drawing
from fabplan.plotter.sheet.replay import MadeCut

LEAST_HEIGHT, LEAST_WIDTH = 48.0, 118.0  # mm of the picture
MOST_HEIGHT, ALONE_HEIGHT, HALF_HEIGHT = 112.0, 135.0, 70.0
CROWDED, CROWDED_HEIGHT = 24, 56.0  # cuts from which a picture needs more
NARROW, WIDE = 38.0, 46.0  # mm of a small picture's column
GUTTER = 5.0  # mm between columns
ROOMY_HEIGHT, ROOMY_WIDTH = 66.0, 160.0  # mm of a picture with its small pictures on the next sheet
NEXT_HEAD = 4.0  # mm kept free on a second sheet
AROUND = (42.0, 26.0)  # mm that sizes and callouts usually take beside and over the metal
SHARES = (1.0, 0.93, 0.86, 0.78)  # of the room; callouts may make a picture higher than asked for
PAGE_GAP = 8.0  # mm between two layouts on a sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What stands on a layout's sheet beside its picture: words over it, its table, cuts with pictures, words under."""

    plan: Plan
    layout: Layout
    number: int
    head: tuple[Block, ...]
    table: Table
    pictures: tuple[CutPicture, ...]
    tail: tuple[Block, ...]
    drawn: dict[tuple[int, float], Drawing]

    @property
    def tick(self) -> bool:
        """Whether cuts are ticked one by one."""
        return self.layout.repeat == 1

    def draw(self, width: float, height: float) -> Drawing:
        """The layout's picture in so much room, mm."""
        return layout_drawing(self.plan, self.layout, self.number, width, height)

    def shots(self, columns: int, width: float) -> Shots:
        """Its small pictures in so many columns."""
        return shots(self.pictures, columns, width, draw=self._cut, tick=self.tick)

    def _cut(self, made: MadeCut, width: float) -> Drawing:
        key = (made.cut.step, width)
        if key not in self.drawn:
            self.drawn[key] = cut_drawing(self.plan, self.layout, self.number, made, width)
        return self.drawn[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """One way to share out a sheet: the picture's room, and the blocks with a hole for it."""

    width: float
    height: float
    landscape: bool
    side: float = 0.0  # mm of the picture's column when the table stands at its right
    shots: Shots | None = None
    beside: float = 0.0  # mm of the table's column when the small pictures stand at its right

    def scale(self, layout: Layout) -> float:
        """About how large a graduation is drawn."""
        short, long = sorted((layout.width, layout.length))
        return min((self.width - AROUND[0]) / long, (self.height - AROUND[1]) / short)


def arranged(told: Told, paper: Paper, *, banner: bool) -> tuple[list[Block], bool]:
    """Blocks of a layout's page, and whether the page lies on its side; on one sheet wherever that can be."""
    crowded = len(told.layout.cuts) > CROWDED
    least = CROWDED_HEIGHT if crowded else LEAST_HEIGHT
    ways = [w for w in _ways(told, paper, banner=banner) if w.width >= LEAST_WIDTH and w.height >= least]
    for way in sorted(ways, key=lambda w: -w.scale(told.layout)):
        for share in SHARES:
            drawing = told.draw(way.width - 1.0, min(MOST_HEIGHT, way.height * share))
            if drawing.height <= way.height:
                return _set(told, way, drawing), way.landscape
            if drawing.height > 1.25 * way.height:
                break
    return _two_sheets(told, paper, banner=banner), True


def halved(told: Told, paper: Paper, *, banner: bool) -> list[Block] | None:
    """Blocks that take half of an upright page at most; None when they do not fit there."""
    if told.pictures or len(told.layout.cuts) > 2 * CROWDED:
        return None
    wide, high = body(paper, landscape=False, banner=banner)
    room = (
        (high - PAGE_GAP) / 2 - _fixed(told, wide, title=True) - mm(BLOCK_GAP + table_height(told.table, points(wide)))
    )
    if room < LEAST_HEIGHT:
        return None
    for share in SHARES:
        drawing = told.draw(wide - 1.0, min(HALF_HEIGHT, room * share))
        if drawing.height <= room:
            return [*told.head, _picture(drawing), told.table, *told.tail]
    return None


def _fixed(told: Told, width: float, *, title: bool) -> float:
    """Height in mm of what is neither picture, table nor small pictures, the gaps round the picture included."""
    words = stack_height((*told.head, *told.tail), points(width))
    return mm((TITLE if title else 0.0) + words + 2 * BLOCK_GAP)


def _ways(told: Told, paper: Paper, *, banner: bool) -> Iterator[_Way]:
    for landscape in (True, False):
        wide, high = body(paper, landscape=landscape, banner=banner)
        rest = high - _fixed(told, wide, title=True)
        tall = mm(BLOCK_GAP + table_height(told.table, points(wide)))
        grids: list[Shots | None] = [None]
        if told.pictures:
            grids = [told.shots(min(len(told.pictures), int(wide // NARROW)), wide)]
        for grid in grids:
            under = mm(BLOCK_GAP) + shots_height(grid, wide) if grid else 0.0
            yield _Way(width=wide, height=rest - tall - under, landscape=landscape, shots=grid)
            # the table at the right of the picture
            for column in _table_widths(told.table, points(wide)):
                left = wide - GUTTER - mm(column)
                if mm(table_height(told.table, column)) <= rest - under:
                    yield _Way(width=left, height=rest - under, landscape=landscape, side=left, shots=grid)
        # the small pictures at the right of the table
        for column in _table_widths(told.table, points(wide)) if told.pictures else ():
            right = wide - GUTTER - mm(column)
            for n in {max(1, int(right // NARROW)), max(1, int(right // WIDE))}:
                beside = told.shots(n, right)
                lower = max(mm(table_height(told.table, column)), shots_height(beside, right))
                yield _Way(
                    width=wide,
                    height=rest - lower - mm(BLOCK_GAP),
                    landscape=landscape,
                    shots=beside,
                    beside=mm(column),
                )


def _table_widths(table: Table, room: float) -> list[float]:
    """Widths in points a table may be given in a column: with nothing broken, and narrower."""
    natural, least = 0.0, 0.0
    for x, column in enumerate(table.columns):
        wide = natural_width(column, [row[x] for row in table.rows])
        natural += wide
        least += min(wide, 58.0) if column.share else wide
    return sorted({min(w, 0.55 * room) for w in (natural, (natural + least) / 2, least) if least <= 0.55 * room})


def _picture(drawing: Drawing) -> Picture:
    return Picture(drawing=drawing, alt=".")


def _set(told: Told, way: _Way, drawing: Drawing) -> list[Block]:
    picture = _picture(drawing)
    grid = [way.shots] if way.shots else []
    if way.side:
        return [*told.head, Split(left=(picture,), right=(told.table,), left_mm=way.side), *grid, *told.tail]
    if way.beside:
        return [*told.head, picture, Split(left=(told.table,), right=tuple(grid), left_mm=way.beside), *told.tail]
    return [*told.head, picture, told.table, *grid, *told.tail]


def _two_sheets(told: Told, paper: Paper, *, banner: bool) -> list[Block]:
    """Picture and table, then the small pictures; where the picture is crowded it has a sheet, the rest the next."""
    wide, high = body(paper, landscape=True, banner=banner)
    plain = replace(told, pictures=())
    grid = [told.shots(min(len(told.pictures), int(wide // WIDE)), wide)] if told.pictures else []
    room = high - _fixed(told, wide, title=True)
    tall = mm(BLOCK_GAP + table_height(told.table, points(wide)))
    if not grid or tall + shots_height(grid[0], wide) > high - NEXT_HEAD:
        for way in sorted(_ways(plain, paper, banner=banner), key=lambda w: -w.scale(told.layout)):
            if way.landscape and way.width >= ROOMY_WIDTH and way.height >= ROOMY_HEIGHT:
                drawing = told.draw(way.width - 1.0, min(MOST_HEIGHT, way.height))
                if drawing.height <= way.height:
                    return [*_set(plain, way, drawing), *grid]
    drawing = told.draw(wide - 1.0, min(ALONE_HEIGHT, room - 2.0))
    return [*told.head, _picture(drawing), replace(told.table, fresh=True), *grid, *told.tail]
