"""Where each key of a TOML file stands: key path -> line number.

The TOML reader gives values without places. This scanner walks the text once, in linear time, and notes the line
of every key, table and list entry. It judges nothing: at anything it does not understand it stops, and the TOML
reader, which comes next, says what is wrong. It does refuse keys of many parts and deep nesting, which would make
that reader crawl.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache

Path = tuple[str | int, ...]

MOST_PARTS = 12
DEEPEST = 24

_BLANK = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BASIC = re.compile(r'"((?:[^"\\\n]|\\.)*)"')
_LITERAL = re.compile(r"'([^'\n]*)'")
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*"{3,5}')
_LONG_LITERAL = re.compile(r"'''(?:[^']|'{1,2}(?!'))*'{3,5}")
_PLAIN_VALUE = re.compile(r"[^\s,\]\}#\[\{\"'][^,\]\}#\n]*")


class TooDeepError(Exception):
    """A key of too many parts, or lists and tables nested too deep."""

    def __init__(self, line: int) -> None:
        self.line = line
        super().__init__(line)


class _LostError(Exception):
    """Not understood; the TOML reader will say."""


def key_lines(text: str) -> dict[Path, int]:
    """Line (from 1) of every key, table and list entry in a TOML text.

    Parameters
    ----------
    text : str
        TOML with ``\\n`` line ends.

    Returns
    -------
    dict
        ``("piece", 0, "side") -> 12``; tables of an array are counted from 0.

    Raises
    ------
    TooDeepError
        Above `MOST_PARTS` parts in a key or `DEEPEST` levels of nesting.
    """
    scan = _scanned(text)
    if scan.too_deep is not None:
        raise TooDeepError(scan.too_deep)
    return dict(scan.found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Lines of a text, from 1: a table from its heading to its last key, or one key with its value.

    `heading` tells a table from a key.
    """

    path: Path
    first: int
    last: int
    heading: bool


def stretches(text: str) -> tuple[Stretch, ...]:
    """Every table heading and every key of a TOML text that stands on lines of its own, in order.

    A heading is one line; the keys below it come after it. Keys inside inline tables and lists are not told.
    """
    return tuple(_scanned(text).stretches)


@lru_cache(maxsize=8)  # who edits a file asks many times about the same few texts
def _scanned(text: str) -> _Scan:
    scan = _Scan(text)
    try:
        with suppress(_LostError):
            scan.document()
    except TooDeepError as deep:
        scan.too_deep = deep.line
    return scan


class _Scan:
    def __init__(self, text: str) -> None:
        self.too_deep: int | None = None
        self.text = text
        self.at = 0
        self.starts = [0, *(m.end() for m in re.finditer("\n", text))]
        self.found: dict[Path, int] = {}
        self.arrays: dict[Path, int] = {}
        self.stretches: list[Stretch] = []

    def line(self, at: int) -> int:
        return bisect_right(self.starts, at)

    def note(self, path: Path, at: int) -> None:
        self.found.setdefault(path, self.line(at))

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        match = pattern.match(self.text, self.at)
        if match:
            self.at = match.end()
        return match

    def next_is(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def document(self) -> None:
        table: Path = ()
        self.take(_GAP)
        while self.at < len(self.text):
            start = self.at
            if self.next_is("[["):
                parts = self.key()
                self.expect("]]")
                table = (*self.inside(parts[:-1]), parts[-1])
                index = self.arrays.get(table, -1) + 1
                self.arrays[table] = index
                table = (*table, index)
                self.note(table, start)
                self.stretch(table, start, heading=True)
            elif self.next_is("["):
                parts = self.key()
                self.expect("]")
                table = self.inside(parts)
                self.note(table, start)
                self.stretch(table, start, heading=True)
            else:
                path = self.assignment(table, 0)
                self.stretch(path, start)
            self.take(_GAP)

    def stretch(self, path: Path, start: int, *, heading: bool = False) -> None:
        first, last = self.line(start), self.line(self.at - 1)
        self.stretches.append(Stretch(path=path, first=first, last=last, heading=heading))

    def expect(self, mark: str) -> None:
        self.take(_BLANK)
        if not self.next_is(mark):
            raise _LostError

    def inside(self, parts: tuple[str, ...]) -> Path:
        """Path of a table header: a part that names an array of tables means its last entry."""
        path: Path = ()
        for part in parts:
            path = (*path, part)
            if path in self.arrays:
                path = (*path, self.arrays[path])
        return path

    def key(self) -> tuple[str, ...]:
        parts: list[str] = []
        while True:
            self.take(_BLANK)
            if match := self.take(_BARE_KEY):
                parts.append(match[0])
            elif match := self.take(_BASIC) or self.take(_LITERAL):
                parts.append(match[1])
            else:
                raise _LostError
            if len(parts) > MOST_PARTS:
                raise TooDeepError(self.line(self.at))
            self.take(_BLANK)
            if not self.next_is("."):
                return tuple(parts)

    def assignment(self, table: Path, depth: int) -> Path:
        start = self.at
        path = table
        for part in self.key():
            path = (*path, part)
            self.note(path, start)
        if not self.next_is("="):
            raise _LostError
        self.take(_BLANK)
        self.value(path, depth)
        return path

    def value(self, path: Path, depth: int) -> None:
        if depth > DEEPEST:
            raise TooDeepError(self.line(self.at))
        if self.next_is("["):
            self.entries(path, depth)
        elif self.next_is("{"):
            self.take(_GAP)
            while not self.next_is("}"):
                self.assignment(path, depth + 1)
                self.take(_GAP)
                if not self.next_is(","):
                    self.expect("}")
                    return
                self.take(_GAP)
        elif self.text.startswith(('"""', "'''"), self.at):
            if not (self.take(_LONG_BASIC) or self.take(_LONG_LITERAL)):
                raise _LostError
        elif not (self.take(_BASIC) or self.take(_LITERAL) or self.take(_PLAIN_VALUE)):
            raise _LostError

    def entries(self, path: Path, depth: int) -> None:
        index = 0
        self.take(_GAP)
        while not self.next_is("]"):
            self.note((*path, index), self.at)
            self.value((*path, index), depth + 1)
            index += 1
            self.take(_GAP)
            if not self.next_is(","):
                self.expect("]")
                return
            self.take(_GAP)
