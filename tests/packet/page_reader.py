"""Reads a printed PDF back: words, their places, and whether any stand on one another."""

from __future__ import annotations

import io
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from typing import Any

import pdfplumber


@dataclass(frozen=True)
class Glyph:
    """One character and the middle of its box (points, from the top left of the page)."""

    text: str
    x0: float
    y0: float
    x1: float
    y1: float
    size: float
    slanted: bool


@dataclass(frozen=True)
class Sheet:
    """One page."""

    width: float
    height: float
    glyphs: tuple[Glyph, ...]


@cache
def sheets(pdf: bytes) -> tuple[Sheet, ...]:
    """All pages of a PDF with their characters."""
    out = []
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            glyphs = tuple(
                Glyph(c["text"], c["x0"], c["top"], c["x1"], c["bottom"], _size(c), _slanted(c["matrix"]))
                for c in page.chars
                if c["text"].strip()
            )
            out.append(Sheet(float(page.width), float(page.height), glyphs))
    return tuple(out)


def _size(char: dict[str, Any]) -> float:
    """Points of a character; of one that stands upright on its side, from its width."""
    a, b = char["matrix"][:2]
    return float(char["x1"] - char["x0"] if abs(a) < 1e-6 < abs(b) else char["size"])


def _slanted(matrix: tuple[float, ...]) -> bool:
    a, b = matrix[:2]
    return abs(a) > 1e-6 and abs(b) > 1e-6


def off_page(sheet: Sheet, margin: float = 14.0) -> list[str]:
    """Characters nearer to the paper's edge than most printers reach (about 5 mm)."""
    return [
        g.text
        for g in sheet.glyphs
        if g.x0 < margin or g.y0 < margin or g.x1 > sheet.width - margin or g.y1 > sheet.height - margin
    ]


def clashes(sheet: Sheet) -> list[tuple[str, str, float, float]]:
    """Pairs of characters whose middles stand on one another."""
    cell = 12.0
    grid: dict[tuple[int, int], list[tuple[float, float, float, float, str]]] = defaultdict(list)
    found = []
    for g in sheet.glyphs:
        w, h = (g.x1 - g.x0) * 0.2, (g.y1 - g.y0) * 0.3
        if g.slanted:  # the upright box round a slanted character is mostly empty
            w, h = (g.x1 - g.x0) * 0.4, (g.y1 - g.y0) * 0.4
        box = (g.x0 + w, g.y0 + h, g.x1 - w, g.y1 - h)
        near = {
            (i, j)
            for i in range(int(box[0] // cell), int(box[2] // cell) + 1)
            for j in range(int(box[1] // cell), int(box[3] // cell) + 1)
        }
        for key in near:
            for other in grid[key]:
                if "⁄" in (g.text, other[4]):
                    continue  # the bar of a fraction leans over its figures
                if box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3]:
                    found.append((other[4], g.text, round(g.x0), round(g.y0)))
        for key in near:
            grid[key].append((*box, g.text))
    return found


@cache
def text(pdf: bytes) -> tuple[str, ...]:
    """The text of each page in reading order, blanks run together."""
    from pdfminer.high_level import extract_pages
    from pdfminer.layout import LAParams, LTTextContainer

    out = []
    for page in extract_pages(io.BytesIO(pdf), laparams=LAParams()):
        parts = [item.get_text() for item in page if isinstance(item, LTTextContainer)]
        out.append(" ".join(" ".join(parts).split()))
    return tuple(out)
