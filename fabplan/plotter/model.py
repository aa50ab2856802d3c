"""Marks on paper: drawings are first decided as plain marks, then painted.

Paper units are millimetres, origin lower left, y up. Tests read the marks. Text is never parsed as markup.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Pen = Literal[
    "outline",
    "cut",
    "edge",
    "dimension",
    "fold",
    "fold-active",
    "fold-later",
    "hidden",
    "centre",
    "snap",
    "hem",
    "keep",
    "former",
    "metal",
    "rule",
]
Fill = Literal["none", "white", "hatch", "hatch-other", "black"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A polyline."""

    points: tuple[Point, ...]
    pen: Pen
    arrow: Literal["", "end", "both"] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A closed polygon; `pen` None draws the fill only."""

    points: tuple[Point, ...]
    pen: Pen | None
    fill: Fill = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle, white inside unless said."""

    centre: Point
    radius: float
    pen: Pen
    fill: Fill = "white"


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text.

    `at` is the point at `anchor`, halfway up the capitals. `turned` is degrees counter-clockwise about `at`.
    Digits on both sides of U+2044 are set as a fraction; nothing else in the text has a meaning.
    """

    at: Point
    text: str
    size: float  # points
    bold: bool = False
    anchor: Literal["left", "centre", "right"] = "centre"
    turned: float = 0.0
    white_on_black: bool = False
    boxed: bool = False  # white background


Mark = Line | Shape | Circle | Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A finished drawing: `name` (used for the file), `title` for screen readers, size in mm, marks back to front."""

    name: str
    title: str
    width: float
    height: float
    marks: tuple[Mark, ...]
    scale: float = 1.0  # drawing inches per paper inch
