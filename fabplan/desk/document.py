"""The job file on the desk: what it says, every change written at once and whole, none over somebody else's."""

from __future__ import annotations

import difflib
import hashlib
import os
import threading
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import Any

from fabplan.errors import FabplanError, JobError, PlanError, quoted
from fabplan.job.edit_toml import read_values
from fabplan.job.files import LARGEST, read_source
from fabplan.job.write_toml import replace_file

_BOM = b"\xef\xbb\xbf"
MOST_STEPS = 200  # back
MOST_ROWS = 60  # of what another program changed
BLANK = """\
# A fabplan job. Lengths as you write them: "14-1/2 in", "1 ft 2-1/2 in", "368.3 mm".

[job]
name = {name}
number = "1"

[metal]
use = "copper-16oz"
"""


class StaleError(FabplanError):
    """A change was asked of a text that is not the one in hand any more."""


def write_blank(path: Path) -> None:
    """Begin a job file that is not there yet.

    Raises
    ------
    JobError
        It is there, or cannot be written.
    """
    from fabplan.job.edit_toml import fragment

    name = path.stem.replace("-", " ").replace("_", " ").strip().capitalize() or "First job"
    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(BLANK.format(name=fragment(name)))
    except (OSError, ValueError, UnicodeError) as fault:
        why = os.strerror(fault.errno) if isinstance(fault, OSError) and fault.errno else "not a file name"
        raise JobError(f"cannot be written: {why.lower()}", file=os.fspath(path)) from None


class Document:
    """A job file in hand.

    Parameters
    ----------
    path : Path
        An ordinary, readable file.
    shown : str
        The file as the user named it, for messages.

    Raises
    ------
    JobError
        It cannot be read; its faults as TOML are no hindrance.
    """

    def __init__(self, path: Path, shown: str) -> None:
        self.shown = shown
        self.path = path.resolve()  # a link stays a link
        self.folder = Path(shown).parent  # what the file names is found from where it was named
        self.lock = threading.RLock()
        self._bytes = b""
        self._before: list[str] = []
        self.read_again()

    def read_again(self) -> None:
        """Take what the file says now; steps back are gone."""
        with self.lock:
            with suppress(JobError):
                read_source(self.path, self.shown, "job file", go_on=True)
            self._bytes = self._on_disk()
            try:
                text = self._bytes.removeprefix(_BOM).decode("utf-8")
            except UnicodeDecodeError:
                raise JobError("a job file must be UTF-8 text", file=self.shown) from None
            self._windows = text.count("\r\n") * 2 > text.count("\n")
            self.text = text.replace("\r\n", "\n")
            self._before.clear()

    def _on_disk(self) -> bytes:
        try:
            with self.path.open("rb") as stream:
                data = stream.read(LARGEST + 1)
        except OSError as fault:
            why = os.strerror(fault.errno) if fault.errno else "it cannot be read"
            raise JobError(f"this job file cannot be read: {why.lower()}", file=self.shown) from None
        if len(data) > LARGEST:
            raise JobError(f"a job file may be {LARGEST:,} bytes at most", file=self.shown)
        return data

    @property
    def version(self) -> str:
        """A short word for the text in hand."""
        return hashlib.sha256(self.text.encode("utf-8", "surrogatepass")).hexdigest()[:16]

    @property
    def steps(self) -> int:
        """How many changes can be taken back."""
        return len(self._before)

    def data(self) -> dict[str, Any] | None:
        """What the text says; None while it is not TOML."""
        try:
            return read_values(self.text)
        except (tomllib.TOMLDecodeError, RecursionError, ValueError):
            return None

    def changed_outside(self) -> tuple[str, ...]:
        """Lines another program took out (``-``) and put in (``+``) since the file was read; none when it did not."""
        with self.lock:
            try:
                data = self._on_disk()
            except JobError as fault:
                return (f"- {fault.rule}",)
            if data == self._bytes:
                return ()
            theirs = data.removeprefix(_BOM).decode("utf-8", "replace").replace("\r\n", "\n").split("\n")
            rows = difflib.unified_diff(self.text.split("\n"), theirs, lineterm="", n=0)
            told = [row for row in rows if row[:1] in "+-" and row[:3] not in ("+++", "---")]
            more = len(told) - MOST_ROWS
            if more > 0:
                told = [*told[:MOST_ROWS], f"... and {more} more lines"]
            return tuple(told or ["+ (only line ends)"])

    def check_version(self, version: str) -> None:
        """Refuse a change made to another text than the one in hand.

        Raises
        ------
        StaleError
        """
        if version != self.version:
            raise StaleError(
                "The page showed an older text of this job. It is loaded again: type the change once more."
            )

    def write(self, text: str, *, back: bool = False) -> None:
        """Write the file, whole or not at all.

        Raises
        ------
        PlanError
            Another program changed the file, or it cannot be written: it was left as it is.
        JobError
            The text leads out of the job's folder, or is too long.
        """
        with self.lock:
            if text == self.text:
                return
            self.refuse_outside(text)
            plain = text.replace("\n", "\r\n") if self._windows else text
            try:
                encoded = plain.encode("utf-8")
            except UnicodeEncodeError:
                raise JobError("holds a character that is no text", file=self.shown) from None
            data = (_BOM if self._bytes.startswith(_BOM) else b"") + encoded
            if len(data) > LARGEST:
                raise JobError(f"a job file may be {LARGEST:,} bytes at most", file=self.shown)
            if self.changed_outside():
                raise PlanError(
                    f"{self.shown}: another program changed this file meanwhile.", help_="Nothing was written."
                )
            replace_file(self.path, self._bytes, data, self.shown)
            if not back:
                self._before = [*self._before[1 - MOST_STEPS :], self.text]
            self._bytes, self.text = data, text

    def step_back(self) -> None:
        """Take the last change back.

        Raises
        ------
        PlanError
        """
        with self.lock:
            if self._before:
                self.write(self._before[-1], back=True)
                self._before.pop()

    def refuse_outside(self, text: str) -> None:
        """Refuse a change that names a file outside the job's folder; what the file names already may stay.

        Raises
        ------
        JobError
        """
        old = named_files(self.text)
        for key, name in named_files(text) - old:
            plain = name.replace("\\", "/")
            elsewhere = plain.startswith("~") or plain[1:2] == ":"
            if elsewhere or not (self.folder / plain).resolve().is_relative_to(self.folder.resolve()):
                raise JobError(
                    "the desk opens files in the job's folder only", key=key, value=quoted(name),
                    write="a file beside the job file, or this line by hand with an editor",
                )  # fmt: skip


def named_files(text: str) -> set[tuple[str, str]]:
    """Keys that name a file, and the file: the shop file, metal profiles by path."""
    try:
        data = read_values(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return set()
    tables = [data.get("metal"), data.get("brake")]
    for name in ("piece", "stock"):
        tables += data[name] if isinstance(data.get(name), list) else []
    brake = data.get("brake")
    if isinstance(brake, dict) and isinstance(brake.get("measured_allowance"), list):
        tables += brake["measured_allowance"]
    found = {("shop", data["shop"])} if isinstance(data.get("shop"), str) else set()
    for table in tables:
        if isinstance(table, dict):
            found |= {(k, v) for k in ("use", "metal") if isinstance(v := table.get(k), str) and _a_path(v)}
    return found


def _a_path(name: str) -> bool:
    return "/" in name or "\\" in name or name.lower().endswith(".toml")
