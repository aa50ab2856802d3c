"""Change a few keys of a TOML file that people keep by hand: their comments, order and layout stay as they are.

The file is replaced in one step: a kill at any moment leaves the old file or the new one, never half of either. A file
that somebody saved meanwhile is left alone.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import tomllib
from collections.abc import Mapping
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AbstractTable, Item

from fabplan.errors import JobError, PlanError
from fabplan.job.files import read_source

Value = str | int | float | bool
_BOM = b"\xef\xbb\xbf"


def set_keys(
    path: Path,
    table: str,
    values: Mapping[str, Value],
    *,
    comments: Mapping[str, str] | None = None,
    shown: str | None = None,
) -> None:
    """Set keys of one table of a TOML file; the table is added at the end when it is not there.

    Parameters
    ----------
    path : Path
        A readable TOML file.
    table : str
        Name of a top-level table.
    values : mapping of key to value
        A key that is there keeps its place; a new one comes last in its table.
    comments : mapping of key to str, optional
        Comment after a key, in place of the one there; a key without keeps what it has.
    shown : str, optional
        The file as the user named it, for messages.

    Raises
    ------
    JobError
        The file cannot be read, is not TOML, or the name stands for something other than a table.
    PlanError
        The file cannot be written, or was changed meanwhile.
    """
    said = shown if shown is not None else os.fspath(path)
    read_source(path, said, "shop file")  # says in shop words what is wrong with it
    path = path.resolve()  # a link stays a link
    before = path.read_bytes()
    text = before.removeprefix(_BOM).decode("utf-8")
    windows = text.count("\r\n") * 2 > text.count("\n")
    plain = text.replace("\r\n", "\n")
    after = _changed(plain, table, values, comments or {}, said)
    if windows:
        after = after.replace("\n", "\r\n")
    data = (_BOM if before.startswith(_BOM) else b"") + after.encode("utf-8")
    replace_file(path, before, data, said)


def _changed(text: str, table: str, values: Mapping[str, Value], comments: Mapping[str, str], shown: str) -> str:
    try:
        doc = tomlkit.parse(text)
    except TOMLKitError as fault:
        raise JobError(f"this file cannot be changed by the program ({fault})", file=shown) from None
    if table not in doc:
        if text and not text.endswith("\n"):
            doc.add(tomlkit.nl())
        if text.strip():
            doc.add(tomlkit.nl())
        doc.add(table, tomlkit.table())
    found = doc[table]
    if not isinstance(found, AbstractTable):
        raise JobError("must be a table", file=shown, key=table, write=f"[{table}]")
    for key, value in values.items():
        item: Item = tomlkit.item(value)
        comment = comments.get(key)
        old = found.get(key)
        if isinstance(old, Item):
            item.trivia.comment_ws, item.trivia.comment = old.trivia.comment_ws, old.trivia.comment
            item.trivia.trail = old.trivia.trail
        if comment is not None and not isinstance(found, tomlkit.items.InlineTable):
            item.comment(comment)
        last = None if old is not None else _last_key(found)
        if last is None:
            found[key] = item
        else:  # above the comments that belong to what follows the table
            found.value._insert_after(last, key, item)
    after = tomlkit.dumps(doc)
    _nothing_else(text, after, table, values, shown)
    return after


def _last_key(table: AbstractTable) -> tomlkit.items.Key | None:
    """The last plain key of an ordinary table, None where new keys are simply appended."""
    if not isinstance(table, tomlkit.items.Table):
        return None
    own = [key for key, item in table.value.body if key is not None and not isinstance(item, AbstractTable)]
    return own[-1] if own and not any(key.is_dotted() for key in own) else None


def _nothing_else(before: str, after: str, table: str, values: Mapping[str, Value], shown: str) -> None:
    """The new text must say all the old one said, but for the keys that were set."""
    expected = tomllib.loads(before)
    expected[table] = {**expected.get(table, {}), **values}
    if tomllib.loads(after) != expected:
        raise JobError(
            "this file cannot be changed by the program without changing more than it should", file=shown, key=table,
            write="the keys by hand",
        )  # fmt: skip


def replace_file(path: Path, before: bytes, data: bytes, shown: str) -> None:
    """Put `data` in place of a file that still holds `before`, in one step.

    Raises
    ------
    PlanError
        The file holds something else by now, or cannot be written; it was left as it is.
    """
    spare: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
        spare = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        shutil.copymode(path, spare)
        if path.read_bytes() != before:
            raise PlanError(f"{shown}: somebody changed this file meanwhile.", help_="Nothing was written. Try again.")
        os.replace(spare, path)
        spare = None
        _settle(path.parent)
    except OSError as fault:
        reason = os.strerror(fault.errno).lower() if fault.errno else "it cannot be written"
        raise PlanError(f"{shown}: {reason}.", help_="Nothing was changed.") from None
    finally:
        if spare is not None:
            with contextlib.suppress(OSError):
                spare.unlink()


def _settle(folder: Path) -> None:
    """Make a new name in a folder last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
