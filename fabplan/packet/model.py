"""What is printed: pages of plain blocks, decided once and set twice (PDF by `typeset`, HTML by `html`).

All strings are plain text, never markup. A fraction is written with U+2044 between its digits (``14 1⁄2``) and is
set as a fraction wherever it stands. Sizes are points, drawings millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from fabplan.plotter.model import Drawing

Align = Literal["left", "centre", "right"]
Paper = Literal["letter", "a4"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading inside a page (the page title is the heading above it)."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Para:
    """A paragraph; `strong` is bold, `size` points; `keep` keeps it on the sheet of the block after it."""

    text: str
    size: float = 11.0
    strong: bool = False
    keep: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Pairs of a name and what it is, set as two columns."""

    rows: tuple[tuple[str, str], ...]
    strong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Words that must be seen: cautions, or SHORT. `loud` sets the title white on black."""

    title: str
    items: tuple[str, ...]
    loud: bool = False
    size: float = 11.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A table column.

    `share` is its part of the free width, 0 for as wide as its words; `tick` prints a box to tick in every empty cell;
    the cells of a `page` column hold page keys and print the page's number.
    """

    title: str
    align: Align = "left"
    size: float = 11.0
    strong: bool = False
    share: float = 0.0
    tick: bool = False
    page: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; the header row is printed again on every page it runs over.

    `total` marks the last row as a sum; a `whole` table is not split over pages; a `fresh` one starts a new page; the
    rows of a `close` one stand closer together; `large` rows hold sizes to mark, set large.
    """

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    total: bool = False
    whole: bool = False
    fresh: bool = False
    close: bool = False
    large: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a row that does not fit the columns."""
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.name!r}: a row of {len(row)} cells for {len(self.columns)} columns")


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing with the words that stand for it when it cannot be seen.

    `width` is the greatest width on paper in mm (0 = as drawn, shrunk only to fit the page); `least_px` the least width
    on a screen, where it scrolls sideways instead of shrinking further.
    """

    drawing: Drawing
    alt: str
    width: float = 0.0
    least_px: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A small picture under its title, what is set (large), and a few words on the title's line; `tick` adds a box."""

    title: str
    sets: str
    says: str
    picture: Picture
    tick: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Shots:
    """Small pictures side by side, row after row; no row is split over pages.

    `rows` are the widths in mm of those side by side, a tuple a row; in order they are those of `shots`.
    """

    name: str
    shots: tuple[Shot, ...]
    rows: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        """Refuse a picture without a place."""
        if sum(map(len, self.rows)) != len(self.shots):
            raise ValueError(f"{self.name!r}: {len(self.shots)} pictures for the places in {self.rows}")

    def in_rows(self) -> Iterator[tuple[tuple[float, Shot], ...]]:
        """Every row: pictures with their widths in mm."""
        at = 0
        for row in self.rows:
            yield tuple(zip(row, self.shots[at : at + len(row)], strict=True))
            at += len(row)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A picture with words at its right."""

    picture: Picture
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticks:
    """Boxes to tick in a band, each with its label."""

    name: str
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TallyBoxes:
    """A box for every one made, `count` of them, after a name."""

    name: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One numbered band: pictures, words, a check size in a box, boxes to tick.

    The first picture stands beside the others, which stand one under another. `first` is what to do before the stroke
    (turn over, change tools). `side` is the side that lies up; `reversed_` prints it white on black.
    """

    number: str
    first: str
    title: str
    side: str
    reversed_: bool
    pictures: tuple[Picture, ...]
    says: tuple[str, ...]
    settings: tuple[tuple[str, str], ...]
    check_size: str
    check_says: str
    ticks: Ticks


@dataclass(frozen=True, slots=True, kw_only=True)
class Cards:
    """Strokes as cards, one to three side by side, row after row; no card is split over pages.

    Of three, the pictures of a card stand one under another; of one, its words stand beside them.
    """

    bands: tuple[Band, ...]
    columns: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Blocks in two columns; the left one is `left_mm` wide."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]
    left_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """A drawing as large as the page, at full scale, alone on it."""

    picture: Picture


Block = Heading | Para | Facts | Notice | Table | Picture | Shots | Beside | TallyBoxes | Band | Cards | Split | Tile


Station = Literal["office", "shear", "bench", "brake", "roof"]
STATIONS: tuple[Station, ...] = ("office", "shear", "bench", "brake", "roof")


def flat(blocks: Iterable[Block]) -> Iterator[Block]:
    """Blocks with those inside columns and cards, in reading order."""
    for block in blocks:
        yield block
        if isinstance(block, Split):
            yield from flat((*block.left, *block.right))
        elif isinstance(block, Cards):
            yield from block.bands


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A titled part of the packet that starts a new page.

    `key` is unique and stable; `kind` groups pages for the contents list; `on_screen` False keeps it out of the HTML.
    `station` is where the sheet is used. `caution` stands at the foot of every sheet the page runs over. A page that
    `joins` stands under the one before it, of the same station, on the same sheet where there is room.
    """

    key: str
    kind: Literal[
        "cover", "cautions", "reading", "cut-list", "buy", "piece", "shear", "setup", "unbent", "roof",
        "shape", "template",
    ]  # fmt: skip
    title: str
    blocks: tuple[Block, ...]
    station: Station = "office"
    landscape: bool = False
    on_screen: bool = True
    joins: bool = False
    caution: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """All pages of one job. `banner` (SHORT, stopped early) is printed at the head of every page; sheets are numbered
    on from `after`."""

    number: str
    name: str
    revision: str
    date: str
    paper: Literal["letter", "a4"]
    pages: tuple[Page, ...]
    banner: str = ""
    units: Literal["in", "mm"] = "in"
    fabplan: str = ""
    after: int = 0

    def __post_init__(self) -> None:
        """Refuse two pages of one key: links and remembered boxes would be mixed up."""
        keys = [page.key for page in self.pages]
        if len(set(keys)) != len(keys):
            raise ValueError("two pages share a key")
