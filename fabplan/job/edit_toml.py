"""Change one key, or one table, of a TOML text that people keep by hand; every other line stays as it is.

Only the lines of the statement that changes are read and written again (by tomlkit, which keeps their comments and
spelling). What comes out is read once more and must say what the old text said, but for that one place.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, Item

from fabplan.errors import JobError
from fabplan.job.lines import Path, Stretch, stretches
from fabplan.job.parsed import parsed

BY_HAND = "it by hand, in the text of the file"


def fragment(value: Any) -> str:
    """A value as TOML: text, numbers, true or false, lists, inline tables.

    >>> fragment("14-1/2 in"), fragment('14 1/2"'), fragment(["3/4 in", Decimal("2.50")])
    ('"14-1/2 in"', '\\'14 1/2"\\'', '["3/4 in", 2.50]')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        literal = '"' in value and "'" not in value and value.isprintable()
        return tomlkit.string(value, literal=literal).as_string()
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(fragment(item) for item in value) + "]"
    if isinstance(value, Mapping):
        return (
            "{" + ", ".join(f"{tomlkit.key(key).as_string()} = {fragment(item)}" for key, item in value.items()) + "}"
        )
    return str(value)


def read_values(text: str) -> dict[str, Any]:
    """Everything a TOML text says; numbers as typed.

    Raises
    ------
    tomllib.TOMLDecodeError
    """
    return parsed(text)


def at(data: Any, path: Path) -> Any:
    """The value at a path; None when there is none."""
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def set_value(text: str, path: Path, value: Any) -> str:
    """The text with one key set, or taken out (`value` None).

    Parameters
    ----------
    text : str
        Valid TOML with ``\\n`` line ends.
    path : tuple
        Keys and places in lists: ``("piece", 3, "start_hem", "width")``. What it leads through is made where it is
        missing: a table of the file at its end, anything deeper as an inline table or list. A list may grow by one.
    value : str, bool, int, Decimal, list, mapping or None

    Raises
    ------
    JobError
        The place is no place for a key, or the text cannot be changed without changing more.
    """
    wanted = _with(read_values(text), path, value, _own(path))
    found = stretches(text)
    lines = text.split("\n")
    own = _statement(found, path)
    if own is not None:
        heading = _heading_of(found, own)
        inside = path[len(heading.path) if heading else 0 :]
        rows = lines[own.first - 1 : own.last]
        lines[own.first - 1 : own.last] = _restated("\n".join(rows), inside, value, path)
    elif value is not None:
        _add_statement(lines, found, path, value)
    return _proved("\n".join(lines), wanted, path)


def add_entry(text: str, table: str, values: Mapping[str, Any], *, after: int | None = None) -> str:
    """The text with one more ``[[table]]``, after entry `after` or the last one, else at the end.

    Raises
    ------
    JobError
    """
    data = read_values(text)
    there = data.get(table, [])
    place = len(there) if after is None else after + 1
    wanted = copy.deepcopy(data)
    wanted.setdefault(table, []).insert(place, dict(values))
    found = stretches(text)
    lines = text.split("\n")
    rows = [f"[[{table}]]", *(f"{key} = {fragment(value)}" for key, value in values.items())]
    if there and not any(s.heading and s.path == (table, place - 1) for s in found):
        return set_value(text, (table, place), dict(values))  # a list of inline tables
    if there:
        last = _last_line(found, lines, (table, place - 1))
        lines[last:last] = ["", *rows]
    else:
        _append(lines, rows)
    return _proved("\n".join(lines), wanted, (table, place))


def drop_entry(text: str, table: str, index: int) -> str:
    """The text without one ``[[table]]`` and its keys; comments above its heading stay.

    Raises
    ------
    JobError
    """
    wanted = read_values(text)
    if not isinstance(wanted.get(table), list) or not 0 <= index < len(wanted[table]):
        raise JobError("is not there", key=f"{table} {index + 1}")
    del wanted[table][index]
    if not wanted[table]:
        del wanted[table]
    found = stretches(text)
    lines = text.split("\n")
    heading = next((s for s in found if s.heading and s.path == (table, index)), None)
    if heading is None:
        return _proved(_rid(text, (table, index)), wanted, (table, index))
    last = _last_line(found, lines, heading.path)
    del lines[heading.first - 1 : last]
    at_ = heading.first - 1
    if 0 < at_ < len(lines) and not lines[at_].strip() and not lines[at_ - 1].strip():
        del lines[at_]
    return _proved("\n".join(lines), wanted, (table, index))


def table_text(text: str, path: Path) -> str | None:
    """The lines of a table, from its heading to its last key and the comments right below; None without a heading."""
    found = stretches(text)
    heading = next((s for s in found if s.heading and s.path == path), None)
    if heading is None:
        return None
    lines = text.split("\n")
    return "\n".join(lines[heading.first - 1 : _last_line(found, lines, path)])


def put_table_text(text: str, path: Path, new: str) -> str:
    """The text with the lines of a table replaced by `new`, which may hold that table alone.

    Raises
    ------
    JobError
    tomllib.TOMLDecodeError
        `new` is not TOML.
    """
    found = stretches(text)
    heading = next((s for s in found if s.heading and s.path == path), None)
    new = new.strip("\n")
    lines = text.split("\n")
    if heading is None:
        _append(lines, new.split("\n"))
    else:
        lines[heading.first - 1 : _last_line(found, lines, path)] = new.split("\n")
    after = "\n".join(lines)
    old_data, new_data = read_values(text), read_values(after)
    hole = object()
    if at(new_data, path) is None or _holed(old_data, path, hole) != _holed(new_data, path, hole):
        label = f"[[{path[0]}]]" if len(path) > 1 else f"[{path[0]}]"
        raise JobError("this box holds one table", key=label, write=f"{label} and its keys, nothing else")
    return after


# -- within -----------------------------------------------------------------------------------------------------------


def _own(path: Path) -> int:
    """How many parts of a path name a table of the file, or an entry of one."""
    return 2 if len(path) > 1 and isinstance(path[1], int) else 1


def _with(data: dict[str, Any], path: Path, value: Any, own: int) -> dict[str, Any]:
    """The data as they are to be; `own` parts of the path name a table of the file, which stays when it is emptied."""
    data = copy.deepcopy(data)
    node: Any = data
    above: list[tuple[Any, Any]] = []
    try:
        for part, next_part in pairwise(path):
            if isinstance(part, int):
                if part == len(node):
                    node.append([] if isinstance(next_part, int) else {})
            elif part not in node:
                node[part] = [] if isinstance(next_part, int) else {}
            above.append((node, part))
            node = node[part]
        key = path[-1]
        if value is None:
            if isinstance(node, dict):
                node.pop(key, None)
            else:
                del node[key]
            _prune(above[own:])
        elif isinstance(key, int) and key == len(node):
            node.append(_plain(value))
        else:
            node[key] = _plain(value)
    except (TypeError, IndexError, AttributeError):
        raise JobError("has no such place", key=_said(path), write=BY_HAND) from None
    return data


def _prune(above: list[tuple[Any, Any]]) -> None:
    """An inline table or list that was emptied goes too; an entry of a list stays."""
    for node, part in reversed(above):
        if node[part] in ({}, []) and isinstance(part, str):
            del node[part]
        else:
            return


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, (list, tuple)) else value


def _statement(found: Sequence[Stretch], path: Path) -> Stretch | None:
    """The statement that says a key, or a value around it."""
    own = [s for s in found if not s.heading and s.path == path[: len(s.path)]]
    return max(own, key=lambda s: len(s.path), default=None)


def _heading_of(found: Sequence[Stretch], own: Stretch) -> Stretch | None:
    return next((s for s in reversed(found) if s.heading and s.first < own.first), None)


def _last_line(found: Sequence[Stretch], lines: Sequence[str], path: Path) -> int:
    """Last line of a table with what is below it: its keys, tables inside it, and comments right below the last."""
    own = [k for k, s in enumerate(found) if s.path[: len(path)] == path]
    last = max(found[k].last for k in own)
    nexts = [s.first for s in found if s.first > last]
    end = min(nexts, default=len(lines) + 1) - 1
    while last < end and lines[last].lstrip().startswith("#"):
        last += 1
    return last


def _restated(rows: str, inside: Path, value: Any, path: Path) -> list[str]:
    """The lines of a statement with a value in it set or taken out; none when nothing of it is left."""
    try:
        doc = tomlkit.parse(rows + "\n")
        before = read_values(rows)
        own = max(0, _own(path) - (len(path) - len(inside)))
        after = _with(before, inside, value, own)
        if not _left(after):
            return []
        _put(doc, inside, value, before, after)
        return tomlkit.dumps(doc).removesuffix("\n").split("\n")
    except (TOMLKitError, tomllib.TOMLDecodeError, KeyError, IndexError, TypeError, AttributeError):
        raise JobError("cannot be changed by itself", key=_said(path), write=BY_HAND) from None


def _left(data: Any) -> bool:
    """Whether anything but emptied dotted keys is left of a statement."""
    return any(_left(item) if isinstance(item, dict) and len(data) == 1 else True for item in data.values())


def _put(doc: Any, inside: Path, value: Any, before: dict[str, Any], after: dict[str, Any]) -> None:
    if value is None:
        while len(inside) > 1 and at(after, inside[:-1]) is None:
            inside = inside[:-1]  # emptied around it
        node = _walk(doc, inside[:-1])
        del node[inside[-1]]
        return
    node = doc
    for k, part in enumerate(inside[:-1]):
        if isinstance(part, int):
            if part == len(node):
                node.append(tomlkit.inline_table())
        elif part not in node:
            node[part] = tomlkit.array() if isinstance(inside[k + 1], int) else tomlkit.inline_table()
        node = node[part]
    key = inside[-1]
    there = (isinstance(key, int) and key < len(node)) or (isinstance(key, str) and key in node)
    old = node[key] if there else None
    if isinstance(old, Array) and isinstance(value, (list, tuple)) and len(old) == len(value):
        said = at(before, inside)
        for k, item in enumerate(value):
            if said[k] != _plain(item):
                old[k] = _item(item)
    elif isinstance(key, int) and not there:
        node.append(_item(value))
    else:
        node[key] = _item(value)


def _walk(node: Any, path: Path) -> Any:
    for part in path:
        node = node[part]
    return node


def _item(value: Any) -> Item:
    return tomlkit.value(fragment(value))


def _add_statement(lines: list[str], found: Sequence[Stretch], path: Path, value: Any) -> None:
    """Write a key that no line says yet: in place of its line as a comment, else after its table's last key."""
    heads = [s for s in found if s.heading and s.path == path[: len(s.path)] and len(s.path) < len(path)]
    head = max(heads, key=lambda s: len(s.path), default=None)
    if head is None and len(path) > 1:
        if isinstance(path[1], int):
            raise JobError("is not there", key=_said(path[:2]))
        _append(lines, [f"[{path[0]}]", _stated(path[1:], value)])
        return
    inside = path[len(head.path) :] if head else path
    row = _stated(inside, value)
    if head is None:  # above every table, below the words the file begins with
        first = min((s.first for s in found if s.heading), default=len(lines) + 1) - 1
        own = [s.last for s in found if s.last <= first]
        at_ = max(own) if own else next((k for k, line in enumerate(lines[:first]) if not line.startswith("#")), first)
        lines[at_:at_] = [row] if own or not lines[at_:] or not lines[at_].strip() else [row, ""]
        return
    keys = [s for s in found if not s.heading and s.first > head.first and _heading_of(found, s) == head]
    last = max((s.last for s in keys), default=head.last)
    if len(inside) == 1:
        shown = re.compile(rf"#\s?{re.escape(str(inside[0]))}\s*=[^#]*")
        for k in range(head.last, _last_line(found, lines, head.path)):
            if match := shown.match(lines[k]):
                note = lines[k][match.end() :]
                gap = "" if len(row) < match.end() else "  "
                lines[k] = f"{row:<{match.end()}}{gap}{note}" if note else row
                return
    lines[last:last] = [row]


def _stated(inside: Path, value: Any) -> str:
    for part in reversed(inside[1:]):
        value = [value] if isinstance(part, int) else {part: value}
    return f"{tomlkit.key(str(inside[0])).as_string()} = {fragment(value)}"


def _append(lines: list[str], rows: Sequence[str]) -> None:
    """Put rows at the end of a text, after a blank line."""
    while lines and not lines[-1].strip():
        lines.pop()
    lines += ([""] if lines else []) + [*rows, ""]


def _rid(text: str, path: Path) -> str:
    """Take an entry out of a list of inline tables."""
    found = stretches(text)
    own = _statement(found, path)
    if own is None:
        raise JobError("cannot be taken out by itself", key=_said(path), write=BY_HAND)
    lines = text.split("\n")
    heading = _heading_of(found, own)
    inside = path[len(heading.path) if heading else 0 :]
    doc = tomlkit.parse("\n".join(lines[own.first - 1 : own.last]) + "\n")
    node = _walk(doc, inside[:-1])
    del node[inside[-1]]
    rows = [] if not node else tomlkit.dumps(doc).removesuffix("\n").split("\n")
    lines[own.first - 1 : own.last] = rows
    return "\n".join(lines)


def _holed(data: dict[str, Any], path: Path, hole: object) -> dict[str, Any]:
    data = copy.copy(data)
    if len(path) == 1:
        data[str(path[0])] = hole
    else:
        entries = list(data.get(str(path[0]), []))
        index = path[1]
        assert isinstance(index, int)
        if index < len(entries):
            entries[index] = hole
        else:
            entries.append(hole)
        data[str(path[0])] = entries
    return data


def _proved(text: str, wanted: dict[str, Any], path: Path) -> str:
    try:
        if read_values(text) == wanted:
            return text
    except tomllib.TOMLDecodeError:
        pass
    raise JobError("cannot be changed without changing more than it should", key=_said(path), write=BY_HAND)


def _said(path: Path) -> str:
    return " > ".join(str(part + 1) if isinstance(part, int) else part for part in path)
