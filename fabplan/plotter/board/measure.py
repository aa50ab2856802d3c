"""How much paper a text takes, from the metrics of DejaVu Sans, and which characters the font lacks.

The font files are those that matplotlib carries; the packet sets its pages in the same font.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from math import cos, radians, sin
from pathlib import Path
from typing import Any

from fabplan.plotter.model import Point, Text
from fabplan.speech.format import FRACTION_SLASH

MM_PER_POINT = 25.4 / 72
CAP = 0.729  # height of the capitals of DejaVu Sans, in em
DESCENT = 0.236
SMALL = 0.82  # size of a fraction's digits: 6.5 pt and up where figures are 8
RAISE = 0.24  # lift of the numerator, in em of the full size
GAP = 0.4  # size of the space between a whole number and its fraction
_BELOW = frozenset("gjpqy,;()[]{}|$Q@/")  # letters that reach under the line
_QUARTERS = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0), -90.0: (0.0, -1.0)}
_FRACTION = re.compile(rf"( ?)(\d+){FRACTION_SLASH}(\d+)")


def font_files() -> tuple[Path, ...]:
    """DejaVu Sans, regular and bold, as carried by matplotlib."""
    import matplotlib

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return folder / "DejaVuSans.ttf", folder / "DejaVuSans-Bold.ttf"


@cache
def _font(bold: bool) -> Any:
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(font_files()[bold]))
    font.set_size(1000, 72)
    return font


@cache
def _advance(letter: str, bold: bool) -> float:
    """Advance of one character in em (unhinted)."""
    return float(_font(bold).load_char(ord(letter)).linearHoriAdvance) / 65_536_000


def missing(text: str) -> str:
    """Characters of `text` that DejaVu Sans (regular or bold) has no glyph for, each once, in order.

    A missing glyph would print as an empty box without a warning, so callers refuse such text.
    """
    return "".join(dict.fromkeys(c for c in text if _lacks(c)))


@cache
def _lacks(letter: str) -> bool:
    plain, bold = _font(False), _font(True)
    return ord(letter) < 32 or not (plain.get_char_index(ord(letter)) and bold.get_char_index(ord(letter)))


def runs(text: str) -> list[tuple[str, float, float]]:
    """Split `text` into (string, size factor, lift in em): whole text and fractions.

    >>> runs("15 1\\u20442 in")
    [('15', 1.0, 0.0), (' ', 0.4, 0.0), ('1', 0.82, 0.24), ('⁄2', 0.82, 0.0), (' in', 1.0, 0.0)]
    """
    out: list[tuple[str, float, float]] = []
    at = 0
    for found in _FRACTION.finditer(text):
        if found.start() > at:
            out.append((text[at : found.start()], 1.0, 0.0))
        if found[1]:
            after_digit = found.start() > 0 and text[found.start() - 1].isdigit()
            out.append((" ", GAP if after_digit else 1.0, 0.0))
        out += [(found[2], SMALL, RAISE), (FRACTION_SLASH + found[3], SMALL, 0.0)]
        at = found.end()
    if at < len(text):
        out.append((text[at:], 1.0, 0.0))
    return out


def width(text: str, size: float, bold: bool = False) -> float:
    """Width in mm of one line of text set at `size` points."""
    return ems(text, bold) * size * MM_PER_POINT


@lru_cache(maxsize=16_384)
def ems(text: str, bold: bool = False) -> float:
    """Width of one line of text in em: drawings ask for the same few words thousands of times."""
    return sum(factor * sum(_advance(c, bold) for c in string) for string, factor, _ in runs(text))


def cap_height(size: float) -> float:
    """Height of the capitals in mm at `size` points."""
    return CAP * size * MM_PER_POINT


def extent(text: Text, pad: float = 0.0) -> tuple[Point, ...]:
    """Four corners (mm) of the box a text takes, turned as the text is; `pad` mm added all round."""
    wide, half = width(text.text, text.size, text.bold), cap_height(text.size) / 2
    left = {"left": 0.0, "centre": -wide / 2, "right": -wide}[text.anchor]
    below = half + (DESCENT * text.size * MM_PER_POINT if not _BELOW.isdisjoint(text.text) else 0.0)
    c, s = _QUARTERS.get(text.turned) or (cos(radians(text.turned)), sin(radians(text.turned)))
    corners = (
        (left - pad, -below - pad),
        (left + wide + pad, -below - pad),
        (left + wide + pad, half + pad),
        (left - pad, half + pad),
    )
    x, y = text.at
    return tuple((x + c * u - s * v, y + s * u + c * v) for u, v in corners)


def on_paper(text: Text, wide: float, high: float, edge: float = 0.3) -> bool:
    """Whether a text keeps `edge` mm off the edges of a drawing of this size."""
    return all(edge <= x <= wide - edge and edge <= y <= high - edge for x, y in extent(text))


def fit(text: str, room: float, largest: float, least: float, bold: bool = False) -> float | None:
    """Largest type size (points, whole halves) between `least` and `largest` whose text fits `room` mm, or None."""
    size = largest
    while size >= least - 1e-9:
        if width(text, size, bold) <= room:
            return size
        size -= 0.5
    return None


def shorten(text: str, room: float, size: float, bold: bool = False) -> str:
    """`text`, cut with an ellipsis when it is wider than `room` mm."""
    if width(text, size, bold) <= room + 1e-9:  # the room is often this very width
        return text
    kept = text
    while kept and width(kept + "…", size, bold) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…"
