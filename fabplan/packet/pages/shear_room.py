"""How a layout's picture, table and small pictures stand on one sheet: the way that leaves the picture largest."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from fabplan.nesting.model import Layout
from fabplan.packet.model import Block, Paper, Picture, Shots, Split, Table, flat
from fabplan.packet.pages.cut_shots import CutPicture, shots
from fabplan.packet.pages.pictures import cut_drawing, layout_drawing
from fabplan.packet.setting.page_estimate import (
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
LARGER, MOST_SMALLER = (1.8, 1.4, 1.2), 1.25  # of small pictures; of the large one for their sake
LEAST_COLUMN = 30.0  # mm of a column of small pictures, more for larger ones
SIDES = (36.0, 66.0, 74.0, 108.0, 128.0)  # mm of a column of small pictures at the right
GAP = 8.0  # points between blocks, as packet.typ sets layouts
GUTTER = 5.0  # mm between columns
ROOMY_HEIGHT, ROOMY_WIDTH = 66.0, 160.0  # mm of a picture with its small pictures on the next sheet
NEXT_HEAD = 4.0  # mm kept free on a second sheet
AROUND = (42.0, 26.0)  # mm that sizes and callouts usually take beside and over the metal
SHARES = (1.0, 0.9, 0.8, 0.7, 0.6)  # of the room; callouts may make a picture higher than asked for
MOST_OVER = 1.7  # times the room: beyond, less of it does not help
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
    drawn: dict[tuple[int, float, float], Drawing]
    larger: float = 1.0  # how many times as large its small pictures are as where there is no room

    @property
    def tick(self) -> bool:
        """Whether cuts are ticked one by one."""
        return self.layout.repeat == 1

    def draw(self, width: float, height: float) -> Drawing:
        """The layout's picture in so much room, mm."""
        return layout_drawing(self.plan, self.layout, self.number, width, height)

    def shots(self, width: float) -> Shots:
        """Its small pictures in so many mm."""
        return shots(self.pictures, width, draw=self._cut, tick=self.tick, larger=self.larger)

    def _cut(self, made: MadeCut, width: float) -> Drawing:
        key = (made.cut.step, width, self.larger)
        if key not in self.drawn:
            self.drawn[key] = cut_drawing(self.plan, self.layout, self.number, made, width, self.larger)
        return self.drawn[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """One way to share out a sheet: the picture's room in mm, and what the picture stands among once it is drawn."""

    width: float
    height: float
    landscape: bool
    among: Callable[[Picture], list[Block]]

    def scale(self, layout: Layout) -> float:
        """About how large a graduation is drawn."""
        short, long = sorted((layout.width, layout.length))
        return min((self.width - AROUND[0]) / long, (self.height - AROUND[1]) / short)


def arranged(told: Told, paper: Paper, *, banner: bool) -> tuple[list[Block], bool]:
    """Blocks of a layout's page, and whether the page lies on its side; on one sheet wherever that can be.

    Small pictures are as large as leaves the large one nearly all of its size.
    """
    plain = _arranged(told, paper, banner=banner)
    if plain is None:
        return _two_sheets(told, paper, banner=banner), True
    for larger in LARGER if told.pictures else ():
        found = _arranged(replace(told, larger=larger), paper, banner=banner)
        if found is not None and _scale(found[0]) <= _scale(plain[0]) * MOST_SMALLER:
            return found
    return plain


def _scale(blocks: Sequence[Block]) -> float:
    """Inches in an inch of the large picture."""
    return next(b.drawing.scale for b in flat(blocks) if isinstance(b, Picture))


def _arranged(told: Told, paper: Paper, *, banner: bool) -> tuple[list[Block], bool] | None:
    """The sheet with small pictures of one size; None when it does not hold them."""
    crowded = len(told.layout.cuts) > CROWDED
    ways: list[_Way] = []
    for landscape in (True, False):
        wide, high = body(paper, landscape=landscape, banner=banner)
        ways += _ways(told, wide, high, landscape=landscape)
    for least in (CROWDED_HEIGHT, LEAST_HEIGHT) if crowded else (LEAST_HEIGHT,):
        found = _drawn(told, ways, least, MOST_HEIGHT)
        if found is not None:
            return found
    return None


def _drawn(told: Told, ways: Sequence[_Way], least: float, most: float) -> tuple[list[Block], bool] | None:
    """The way that leaves the picture largest, of those it fits in; heights in mm."""
    fair = [w for w in ways if w.width >= LEAST_WIDTH and w.height >= least]
    for way in sorted(fair, key=lambda w: -w.scale(told.layout)):
        for share in SHARES:
            drawing = told.draw(way.width - 1.0, min(most, way.height * share))
            if drawing.height <= way.height:
                return way.among(_picture(drawing)), way.landscape
            if drawing.height > MOST_OVER * way.height:
                break
    return None


def paired(one: Told, two: Told, paper: Paper, *, banner: bool) -> tuple[list[Block], list[Block]] | None:
    """Blocks of two layouts that stand on one upright sheet, one over the other; None when there is no room."""
    wide, high = body(paper, landscape=False, banner=banner)
    if max(len(told.layout.cuts) for told in (one, two)) > 2 * CROWDED:
        return None
    needs = [_need(told, wide) for told in (one, two)]
    spare = high - PAGE_GAP - sum(needs)
    if spare < 0:
        return None
    found = []
    for told, need in zip((one, two), needs, strict=True):
        ways = list(_ways(told, wide, need + spare / 2, landscape=False))
        drawn = _drawn(told, ways, LEAST_HEIGHT, HALF_HEIGHT)
        if drawn is None:
            return None
        found.append(drawn[0])
    return found[0], found[1]


def _need(told: Told, width: float) -> float:
    """Least height in mm a layout takes of a sheet that another shares."""
    enough = 1000.0
    ways = _ways(told, width, enough, landscape=False)
    return LEAST_HEIGHT + enough - max((w.height for w in ways if w.width >= LEAST_WIDTH), default=0.0)


def _fixed(told: Told, width: float) -> float:
    """Height in mm of what is neither picture, table nor small pictures, the gaps round the picture included."""
    words = stack_height((*told.head, *told.tail), points(width))
    return mm(TITLE + words + 2 * GAP)


def _ways(told: Told, wide: float, high: float, *, landscape: bool) -> Iterator[_Way]:
    """All ways in so many mm: the table under the picture or beside it, the small pictures under them or beside."""
    head, table, tail = told.head, told.table, told.tail
    rest = high - _fixed(told, wide)
    tall = mm(GAP + table_height(table, points(wide)))
    widths = _table_widths(table, points(wide))

    def way(width: float, height: float, among: Callable[[Picture], list[Block]]) -> _Way:
        return _Way(width=width, height=height, landscape=landscape, among=among)

    grid = told.shots(wide) if told.pictures else None
    below: tuple[Block, ...] = (grid,) if grid else ()
    under = mm(GAP) + shots_height(grid) if grid else 0.0
    yield way(wide, rest - tall - under, lambda p: [*head, p, table, *below, *tail])
    for column in widths:
        left = wide - GUTTER - mm(column)
        if mm(table_height(table, column)) <= rest - under:

            def beside(p: Picture, left: float = left) -> list[Block]:
                return [*head, Split(left=(p,), right=(table,), left_mm=left), *below, *tail]

            yield way(left, rest - under, beside)
    if not told.pictures:
        return
    for column in widths:  # the small pictures at the right of the table
        if wide - GUTTER - mm(column) < LEAST_COLUMN * told.larger:
            continue
        grid = told.shots(wide - GUTTER - mm(column))
        lower = max(mm(table_height(table, column)), shots_height(grid))

        def over(p: Picture, left: float = mm(column), grid: Shots = grid) -> list[Block]:
            return [*head, p, Split(left=(table,), right=(grid,), left_mm=left), *tail]

        yield way(wide, rest - lower - mm(GAP), over)
    for right in SIDES:  # the small pictures at the right of picture and table
        left = wide - GUTTER - right
        if left < LEAST_WIDTH:
            break
        if right < LEAST_COLUMN * told.larger:
            continue
        grid = told.shots(right)
        if shots_height(grid) > rest + mm(GAP):
            continue

        def before(p: Picture, left: float = left, grid: Shots = grid) -> list[Block]:
            return [*head, Split(left=(p, table), right=(grid,), left_mm=left), *tail]

        yield way(left, rest - mm(GAP + table_height(table, points(left))), before)


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


def _two_sheets(told: Told, paper: Paper, *, banner: bool) -> list[Block]:
    """Picture and table, then the small pictures; where the picture is crowded it has a sheet, the rest the next."""
    wide, high = body(paper, landscape=True, banner=banner)
    plain = replace(told, pictures=())
    grid = [told.shots(wide)] if told.pictures else []
    room = high - _fixed(told, wide)
    tall = mm(GAP + table_height(told.table, points(wide)))
    if not grid or tall + shots_height(grid[0]) > high - NEXT_HEAD:
        for way in sorted(_ways(plain, wide, high, landscape=True), key=lambda w: -w.scale(told.layout)):
            if way.width >= ROOMY_WIDTH and way.height >= ROOMY_HEIGHT:
                drawing = told.draw(way.width - 1.0, min(MOST_HEIGHT, way.height))
                if drawing.height <= way.height:
                    return [*way.among(_picture(drawing)), *grid]
    drawing = told.draw(wide - 1.0, min(ALONE_HEIGHT, room - 2.0))
    return [*told.head, _picture(drawing), replace(told.table, fresh=True), *grid, *told.tail]
