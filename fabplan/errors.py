"""The error tree. Everything a user can cause derives from `FabplanError`.

FabplanError
├── JobError      a bad job, shop, metal or rack file, or bad arguments    exit 2
│   └── JobErrors several of them, found in one reading
├── PlanError     no plan can be made from a valid job                    exit 1
│   └── NoRoomError, BendError, StockError ... defined by the rooms
└── ProofError    a result failed its own checker: nothing is printed     exit 1

`fabplan.cli` catches the base class once. Anything else is a bug and keeps its traceback.
"""

from __future__ import annotations

from collections.abc import Sequence


class FabplanError(Exception):
    """Base of every error meant for the person at the bench."""

    exit_code = 1


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
        head = ": ".join(part for part in (where, self.key) if part)
        got = f" (found {self.value})" if self.value is not None else ""
        tail = f" Write {self.write}." if self.write else ""
        return f"{head}: {self.rule}{got}.{tail}" if head else f"{self.rule}{got}.{tail}"


class JobErrors(JobError):
    """All faults of one reading together."""

    def __init__(self, errors: Sequence[JobError]) -> None:
        self.errors = tuple(errors)
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
