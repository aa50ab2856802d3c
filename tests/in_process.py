"""Commands of the program run in the process of the test."""

from __future__ import annotations

import json
from typing import Any

import pytest

from fabplan import cli


class Said:
    """A finished command: its exit status and what it printed."""

    def __init__(self, capsys: pytest.CaptureFixture[str], *args: object) -> None:
        self.status = 0
        try:
            cli.main([str(a) for a in args])
        except SystemExit as leaving:
            self.status = leaving.code if isinstance(leaving.code, int) else 0 if leaving.code is None else 1
        self.out, self.err = capsys.readouterr()

    @property
    def data(self) -> Any:
        """What was printed, which must be JSON and nothing else."""
        return json.loads(self.out)
