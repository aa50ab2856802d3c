"""The error tree. Everything a user can cause derives from `FabplanError`.

FabplanError
├── JobError      a bad job, shop, metal or rack file, or bad arguments    exit 2
│   ├── BadValueError one value that cannot be read, before its file and key are known
│   └── JobErrors several of them, found in one reading
├── PlanError     no plan can be made from a valid job                    exit 1
│   └── NoRoomError, BendError, StockError ... defined by the rooms
└── ProofError    a result failed its own checker: nothing is printed     exit 1

`fabplan.cli` catches the base class once. Anything else is a bug and keeps its traceback.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import Any

_HIDDEN = {"Cc", "Cf", "Cs", "Zl", "Zp"}  # controls, direction marks, lone surrogates, line breaks
_LONGEST_ECHO = 60


def is_hidden(char: str) -> bool:
    """Whether a character would steer a terminal or hide text instead of showing."""
    return unicodedata.category(char) in _HIDDEN


def visible(text: str) -> str:
    """Text that is safe to show on a terminal or page: hidden characters are spelled ``\\x1b``."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_spelled(char) if is_hidden(char) else char for char in text)


def _spelled(char: str) -> str:
    code = ord(char)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def quoted(value: object) -> str:
    """A typed value as a message shows it: text in quotes, cut after 60 characters, nothing hidden."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = value if len(value) <= _LONGEST_ECHO else value[:_LONGEST_ECHO] + "..."
        return f'"{visible(text)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    try:
        text = str(value)
    except ValueError:  # an integer too long to write out
        return "a very long number"
    return visible(text if len(text) <= _LONGEST_ECHO else text[:_LONGEST_ECHO] + "...")


class FabplanError(Exception):
    """Base of every error meant for the person at the bench."""

    exit_code = 1

    def __reduce__(self) -> tuple[Any, ...]:
        """An error met in another process comes back whole."""
        return _again, (type(self), self.args, self.__dict__)


def _again(kind: type[FabplanError], args: tuple[Any, ...], state: dict[str, Any]) -> FabplanError:
    error = kind.__new__(kind, *args)
    error.args = args
    error.__dict__.update(state)
    return error


class JobError(FabplanError):
    """A value in a file that cannot be used.

    Parameters
    ----------
    rule : str
        What must hold, in shop words.
    file : str, optional
        File as the user named it.
    key : str, optional
        Where in the file, e.g. ``piece "A" > hem``.
    value : str, optional
        The value as written.
    write : str, optional
        What to write instead.
    line : int, optional
        Line number in the file, from 1.
    """

    exit_code = 2

    def __init__(
        self,
        rule: str,
        *,
        file: str = "",
        key: str = "",
        value: str | None = None,
        write: str = "",
        line: int | None = None,
    ) -> None:
        self.rule, self.file, self.key = rule, file, key
        self.value, self.write, self.line = value, write, line
        super().__init__(self._text())

    def _text(self) -> str:
        where = self.file + (f", line {self.line}" if self.line is not None else "")
        where = visible(where)
        head = ": ".join(part for part in (where, visible(self.key)) if part)
        got = f" (found {self.value})" if self.value is not None else ""
        tail = f" Write {self.write}." if self.write else ""
        text = visible(f"{self.rule}{got}.{tail}")
        return f"{head}: {text}" if head else text

    def at(self, *, file: str = "", key: str = "", line: int | None = None) -> JobError:
        """The same fault, placed in a file."""
        return JobError(self.rule, file=file, key=key, value=self.value, write=self.write, line=line)


class BadValueError(JobError, ValueError):
    """One value that cannot be read. Also a `ValueError`, so that model validation collects it."""


class JobErrors(JobError):  # noqa: N818 - a plural
    """All faults of one reading together."""

    def __init__(self, errors: Sequence[JobError]) -> None:
        self.errors = tuple(errors)
        first = self.errors[0]
        self.rule, self.file, self.key = first.rule, first.file, first.key
        self.value, self.write, self.line = first.value, first.write, first.line
        FabplanError.__init__(self, "\n".join(str(e) for e in self.errors))


class PlanError(FabplanError):
    """No plan exists for a valid job (exit 1)."""

    def __init__(self, what: str, *, help_: str = "") -> None:
        self.what, self.help = what, help_
        super().__init__(what + (f" {help_}" if help_ else ""))


class ProofError(FabplanError):
    """A result failed its independent check; nothing may be printed from it."""

    def __init__(self, stage: str, faults: Sequence[str]) -> None:
        self.stage, self.faults = stage, tuple(faults)
        super().__init__(f"The {stage} did not pass its check, so nothing was written: " + "; ".join(self.faults[:5]))
