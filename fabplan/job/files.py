"""Read one TOML file safely: an ordinary file, of sensible size, UTF-8, with a fault the shop can act on.

A file that a job names (shop file, metal profile) may turn out to be something else, so no message quotes its text.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from fabplan.errors import JobError, JobErrors
from fabplan.job.lines import DEEPEST, MOST_PARTS, TooDeepError, key_lines
from fabplan.job.lines import Path as KeyPath
from fabplan.job.parsed import parsed

LARGEST = 1_000_000  # bytes
LONGEST_LIST = 1_000
MOST_SYNTAX = 20  # lines that are not TOML, before the rest is left unread
_AT = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Renamed:
    """An old key or word that a file still has.

    Attributes
    ----------
    file : str
        The file as the user named it.
    line : int or None
        Where it stands.
    table, key : str
        The table, and the key as typed.
    write : str
        What to write now: ``search_effort``, or ``coil_cut_off = "scribed"``.
    """

    file: str
    line: int | None
    table: str
    key: str
    write: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One file read: its values and where each key stands.

    `faults` are lines that are not TOML, in a file read as far as it goes; `dropped` tells that some of them could not
    even be guessed at, so that a key that seems to be missing may stand in one of them. `renamed`: old names.
    """

    shown: str
    folder: Path
    data: dict[str, Any]
    lines: dict[KeyPath, int]
    faults: tuple[JobError, ...] = ()
    dropped: bool = False
    renamed: tuple[Renamed, ...] = ()

    def line(self, path: KeyPath) -> int | None:
        """Line of a key, or of the nearest table around it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
            if (*path[:end], 0) in self.lines:  # [[key]]: its first table
                return self.lines[(*path[:end], 0)]
        return None


def read_source(path: Path, shown: str, what: str, *, go_on: bool = False) -> Source:
    """Read a TOML file.

    Parameters
    ----------
    path : Path
    shown : str
        The file as the user named it, for messages.
    what : str
        ``job file``, ``shop file`` or ``metal profile``.
    go_on : bool
        After a line that is not TOML read the others, and hand its fault back in `Source.faults`.

    Raises
    ------
    JobError
    """
    return source_of(_decoded(_bytes(path, shown, what), shown, what), path.parent, shown, what, go_on=go_on)


def source_of(text: str, folder: Path, shown: str, what: str, *, go_on: bool = False) -> Source:
    """The text of a TOML file in `folder` as a source, whether or not it was saved; the rest as for `read_source`.

    Raises
    ------
    JobError
    """
    text = text.replace("\r\n", "\n")
    try:
        lines = key_lines(text)
    except TooDeepError as deep:
        raise JobError(
            f"keys may have {MOST_PARTS} parts and lists {DEEPEST} levels at most",
            file=shown,
            line=deep.line,
            write="plain keys and lists",
        ) from None
    faults: list[JobError] = []
    dropped = False
    try:
        while True:
            try:
                data = parsed(text, _decimal)
                break
            except tomllib.TOMLDecodeError as fault:
                faults.append(_not_toml(fault, text, shown))
                mended = _mended(text, faults) if go_on else None
                if mended is None:
                    raise faults[0] if len(faults) == 1 else JobErrors(faults) from None
                text, guessed = mended
                dropped |= not guessed
        if faults and not data:  # prose, or another kind of file
            raise faults[0]
        lines = key_lines(text) if faults else lines
    except (ValueError, RecursionError):
        raise JobError(
            f"this {what} holds a number or list that is too long",
            file=shown,
            line=next((text.count("\n", 0, m.start()) + 1 for m in re.finditer(r"\d{4000}", text)), None),
            write="ordinary numbers and lists",
        ) from None
    return Source(shown=shown, folder=folder, data=data, lines=lines, faults=tuple(faults), dropped=dropped)


def _mended(text: str, faults: list[JobError]) -> tuple[str, bool] | None:
    """The text with the faulty line in quotes where that makes it one key and value, else without it; None to stop."""
    at = (faults[-1].line or 0) - 1
    rows = text.split("\n")
    if len(faults) > MOST_SYNTAX or not 0 <= at < len(rows) or at in {(f.line or 0) - 1 for f in faults[:-1]}:
        return None
    bare = re.match(r"(\s*[\w-]+\s*=\s*)[“”‘’„]?([^\s\"'\[{#][^\"'#]*?)[“”‘’„]?\s*(#.*)?$", rows[at])
    if bare is not None:
        truth = {"yes": "true", "true": "true", "no": "false", "false": "false"}.get(bare[2].strip().lower())
        quoted_row = f"{bare[1]}{truth}" if truth else f'{bare[1]}"{bare[2]}"'
        try:
            tomllib.loads(quoted_row)
        except tomllib.TOMLDecodeError:
            bare = None
        else:
            rows[at] = quoted_row
    if bare is None:
        rows[at] = ""
    return "\n".join(rows), bare is not None


def named_path(name: str, folder: Path, example: str) -> Path:
    """Path of a file that a job names: relative, ``.toml``.

    Raises
    ------
    JobError
        Without a file or key: the caller adds them.
    """
    path = Path(name)
    rule = ""
    if "\x00" in name or len(name) > 1000:
        rule = "is not a file name"
    elif path.is_absolute() or re.match(r"[A-Za-z]:|\\\\|~", name):
        rule = "must be a path relative to the file that names it"
    elif path.suffix.lower() != ".toml":
        rule = "must be a .toml file"
    if rule:
        raise JobError(rule, write=f"for example {example}")
    return folder / path


def too_long(node: Any, path: KeyPath = ()) -> tuple[KeyPath, int] | None:
    """First list or table too long to look through, and its length."""
    if not isinstance(node, (dict, list)):
        return None
    if len(node) > LONGEST_LIST:
        return path, len(node)
    items = node.items() if isinstance(node, dict) else enumerate(node)
    return next((found for key, value in items if (found := too_long(value, (*path, key))) is not None), None)


def _bytes(path: Path, shown: str, what: str) -> bytes:
    try:
        kind = path.stat()
        if stat.S_ISDIR(kind.st_mode):
            raise JobError(f"is a folder, not a {what}", file=shown, write="the name of the file inside it")
        if not stat.S_ISREG(kind.st_mode):
            raise JobError(f"is not an ordinary file, so it cannot be a {what}", file=shown)
        if kind.st_size > LARGEST:
            raise JobError(f"a {what} may be {LARGEST:,} bytes at most", file=shown, value=f"{kind.st_size:,} bytes")
        with path.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except FileNotFoundError:
        raise JobError(f"no such {what}", file=shown, write="the name of a file that exists") from None
    except PermissionError:
        raise JobError(f"this {what} may not be read: permission denied", file=shown) from None
    except (OSError, ValueError) as fault:
        reason = os.strerror(fault.errno) if isinstance(fault, OSError) and fault.errno else "not a file name"
        raise JobError(f"this {what} cannot be read: {reason.lower()}", file=shown) from None
    if len(data) > LARGEST:
        raise JobError(f"a {what} may be {LARGEST:,} bytes at most", file=shown, value="more")
    return data


def _decoded(data: bytes, shown: str, what: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise JobError(
            f"a {what} must be UTF-8 text", file=shown, line=line, write="the file again, saved as UTF-8"
        ) from None


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:  # an exponent beyond anything
        return Decimal("Infinity")


def _not_toml(fault: tomllib.TOMLDecodeError, text: str, shown: str) -> JobError:
    said = str(fault)
    match = _AT.search(said)
    rows = text.split("\n")
    line = int(match[1]) if match and match[1] else len(rows)
    row = rows[line - 1] if 0 < line <= len(rows) else ""
    rule, write = "this is not valid TOML", "each value as key = value, text in straight quotes"
    if "overwrite" in said or "already" in said.lower() or "twice" in said:
        rule, write = "the same key or table is written twice", "it once"
        line = _line_of_repeat(rows, line)
    elif "Cannot mutate" in said or "Cannot declare" in said or "immutable" in said:
        rule, write = "the same table is written twice", "[[...]] for several, [...] for one"
    elif any(char < " " and char != "\t" for char in row):
        rule, write = "a hidden control character stands in this line", "the line again"
    elif re.search(r"=\s*[“”‘’„]", row):
        rule, write = "a value stands in curly quotes", 'straight quotes: "..."'
    elif re.match(r"\s*[\w-]+\s*=\s*[^\s\"'\[{#]", row):
        rule, write = "a value with a unit or words must stand in quotes", 'for example "14-1/2 in"'
        if re.match(r"\s*[\w-]+\s*=\s*(True|False|TRUE|FALSE|yes|no)\s*(#.*)?$", row):
            rule, write = "this is neither text nor true or false", "true or false in small letters"
    elif re.match(r"\s*[\w-]+\s*=\s*(#.*)?$", row):
        rule, write = "a key has no value", "a value after the ="
    elif re.match(r"\s*[\w-]+\s*=\s*\"[^\"]*\"\S", row) or re.match(r"\s*[\w-]+\s*=\s*\"[^\"]*$", row):
        rule, write = (
            "the quotes around a value do not match",
            '"14-1/2 in", or \'14-1/2"\' in single quotes',
        )
    elif re.match(r"\s*[\w-]+\s*:", row):
        rule, write = "a key and its value are parted by =", "key = value"
    elif re.match(r"\s*\[", row) and "=" not in row:
        rule, write = "a table heading is not closed", "[job] or [[piece]]"
    return JobError(rule, file=shown, line=line, write=write)


def _line_of_repeat(rows: list[str], line: int) -> int:
    """The reader may point just past a repeated key: step back over blank lines."""
    while line > 1 and not rows[min(line, len(rows)) - 1].strip():
        line -= 1
    return line
