"""Metals named in a job: each profile read once, its name brought to one form."""

from __future__ import annotations

import os
import posixpath
import re
from typing import Any, TypeVar

from pydantic import BaseModel

from fabplan.errors import JobError, JobErrors, quoted
from fabplan.job.lines import Path
from fabplan.job.merge import Merged, TableEntry
from fabplan.job.metals import MetalProfile, load_metal
from fabplan.job.model import Brake

_T = TypeVar("_T", bound=BaseModel)


class MetalNames:
    """Metal profiles named in the files, each read once, with names brought to one form."""

    def __init__(self, merged: Merged) -> None:
        self.folder = merged.job.folder
        self.profiles: dict[str, MetalProfile] = {}
        self.faults: list[JobError] = []

    def use(self, entry: TableEntry, table: _T | None, key: str) -> Any:
        """The table with its metal's name in one form: ``Copper_16oz`` -> ``copper-16oz``; paths from the job file."""
        typed = getattr(table, key, None)
        if table is None or typed is None:
            return table
        name = self._read(entry, typed, (key,))
        return table if name is None else table.model_copy(update={key: name})

    def allowances(self, entry: TableEntry, brake: Brake | None) -> Brake | None:
        if brake is None or not brake.measured_allowance:
            return brake
        renamed = []
        for at, measured in enumerate(brake.measured_allowance):
            name = self._read(entry, measured.metal, ("measured_allowance", at, "metal"))
            renamed.append(measured.model_copy(update={"metal": name or measured.metal}))
        return brake.model_copy(update={"measured_allowance": tuple(renamed)})

    def _read(self, entry: TableEntry, typed: str, path: Path) -> str | None:
        name = typed
        if re.search(r"[/\\]|\.toml$", typed, re.I):
            source, _ = entry.source(path)
            if source.folder != self.folder and not os.path.isabs(typed):
                name = os.path.relpath(source.folder / typed, self.folder)
            name = name.replace("\\", "/")
            name = name if os.path.isabs(name) else posixpath.normpath(name)
        try:
            profile = load_metal(name, base=self.folder)
        except JobErrors as several:
            self.faults += several.errors
            return None
        except JobError as fault:
            if fault.key or fault.line is not None:
                self.faults.append(fault)
            else:
                self.faults.append(entry.fault(path, fault.rule, value=quoted(typed), write=fault.write))
            return None
        name = name if name.lower().endswith(".toml") else profile.name
        self.profiles[name] = profile
        return name
