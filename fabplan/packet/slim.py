"""Drawings made smaller for the screen version: shared looks become classes, lines are written from point to point.

What comes out is for HTML, not a file of its own.
"""

from __future__ import annotations

import re

_TAG = re.compile(r"<(?:path|circle|text|tspan)\b[^>]*>")
_LOOK = re.compile(r'(?: (?:fill|stroke|stroke-width|stroke-dasharray|font-size|font-weight|text-anchor)="[^"]*")+')
_ONE = re.compile(r'([\w-]+)="([^"]*)"')
_PATH = re.compile(r' d="([^"]*)"')
_CLASS_LAST = re.compile(r'( d="[^"]*") class="(\w+)"/>')
_STEP = re.compile(r"([MLZ])(?:(-?[\d.]+) (-?[\d.]+))?")
_PLACE = re.compile(r' (x|y|cx|cy|r|dy)="(-?\d+\.\d+)"')
_TURN = re.compile(r' transform="rotate\((-?[\d.]+) (-?[\d.]+) (-?[\d.]+)\)"')
# HTML lets a value of plain characters stand without quotes.
_PLAIN = re.compile(r' ([\w-]+)="([\w.-]+)"')
_SAME = re.compile(r'<path class=(\w+) d="[^"]*"/>(?:<path class=\1 d="[^"]*"/>)+')
_D = re.compile(r' d="([^"]*)"')
# Numerator and denominator of a fraction: one look, written once.
_HALVES = re.compile(r"<tspan class=(\w+) dy=(\S+)>([^<]*)</tspan><tspan class=\1 dy=([^>\s]+)>([^<]*)</tspan>")
# The narrow space before a fraction goes into the numerator's own run.
_GAP = re.compile(r"<tspan class=\w+> </tspan>(<tspan [^>]*>)")


class Looks:
    """Names the looks of drawings in the order they are met, and writes them as one style."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}
        self._lines: set[str] = set()

    def slim(self, svg: str, places: int = 2) -> str:
        """`svg` with every look a class and every coordinate of a line to `places` decimals; words are left alone."""

        def small(tag: re.Match[str]) -> str:
            found = _LOOK.sub(self._look, tag.group())
            if found.startswith("<path"):
                found = _PATH.sub(lambda d: f' d="{_relative(d.group(1), places)}"', found)
                return _CLASS_LAST.sub(r" class=\2\1/>", found)
            found = _TURN.sub(lambda turn: _turn(turn, places), found)
            found = _PLACE.sub(lambda a: f' {a.group(1)}="{_short(float(a.group(2)), _places(a, places))}"', found)
            return found if found.endswith("/>") else _PLAIN.sub(r" \1=\2", found)

        found = _SAME.sub(self._joined, _TAG.sub(small, svg).replace(">\n<", "><"))
        found = _GAP.sub(r"\1 ", found)
        return _HALVES.sub(r"<tspan class=\1 dy=\2>\3<tspan dy=\4>\5</tspan></tspan>", found)

    def _joined(self, match: re.Match[str]) -> str:
        """Lines of one look in a row as one; filled shapes stay apart, since they may lie over one another."""
        name = match.group(1)
        if name not in self._lines:
            return match.group()
        lines = "".join(_D.findall(match.group()))
        return f'<path class={name} d="{lines}"/>'

    def _look(self, match: re.Match[str]) -> str:
        look = match.group()
        name = self._names.setdefault(look, f"k{len(self._names)}")
        if ' fill="none"' in look:
            self._lines.add(name)
        return f' class="{name}"'

    def style(self) -> str:
        """The style rules of all looks met so far."""
        rules = []
        for look, name in self._names.items():
            said = ";".join(f"{key}:{_unit(key, value)}" for key, value in _ONE.findall(look))
            rules.append(f".{name}{{{said}}}")
        return "\n".join(rules)


def _places(attribute: re.Match[str], places: int) -> int:
    """Decimals of a place on the drawing; a lift within a line of words keeps two."""
    return 2 if attribute.group(1) == "dy" else places


def _turn(match: re.Match[str], places: int) -> str:
    angle, x, y = (_short(float(value), places) for value in match.groups())
    return f' transform="rotate({angle} {x} {y})"'


def _relative(path: str, places: int) -> str:
    """A path of M, L and Z with moves from point to point; rounding errors do not add up."""
    out: list[str] = []
    at = start = (0.0, 0.0)
    before = ""
    for match in _STEP.finditer(path):
        command = match.group(1)
        if command == "Z":
            out.append("z")
            at, before = start, "z"
            continue
        to = (round(float(match.group(2)), places), round(float(match.group(3)), places))
        if command == "M" and before in ("", "z"):
            out.append("M" + _pair(to[0], to[1], places))
        else:
            before = _move(out, before, to[0] - at[0], to[1] - at[1], "m" if command == "M" else "l", places)
        if command == "M":
            start, before = to, "m"
        at = to
    return "".join(out)


def _move(out: list[str], before: str, x: float, y: float, letter: str, places: int) -> str:
    """Write one move; returns the command it was written with."""
    across, down = _short(x, places), _short(y, places)
    if letter == "l" and "0" in (across, down):
        letter = "v" if across == "0" else "h"
        out.append(letter + (down if across == "0" else across))
        return letter
    pair = _pair(x, y, places)
    out.append(pair if before == letter == "l" and pair.startswith("-") else f"{letter}{pair}")
    return letter


def _pair(x: float, y: float, places: int) -> str:
    first, second = _short(x, places), _short(y, places)
    return f"{first}{second}" if second.startswith("-") else f"{first} {second}"


def _short(value: float, places: int) -> str:
    """A number without needless zeros: ``.38``, ``-5``."""
    text = f"{value:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    text = re.sub(r"^(-?)0\.", r"\1.", text)
    return "0" if text in ("", "-", "-0") else text


def _unit(key: str, value: str) -> str:
    return f"{value}px" if key == "font-size" else value
