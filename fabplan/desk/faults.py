"""Faults of `check`, each at the field it belongs to, in the same words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fabplan.errors import FabplanError, JobError, JobErrors
from fabplan.job.lines import Path, Stretch, stretches
from fabplan.job.merge import ARRAYS, TABLES

_MISSING = re.compile(r'"(\w+)" is missing')

_LABEL = re.compile(r'(\w+)(?: (?:"(.*?)"|(\d+)))?(?: > (.*))?', re.S)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedFault:
    """A fault at its place: the nearest path in the file, () when it concerns the whole file.

    `says` are its words where its place is plain, `whole` as `check` prints them.
    """

    path: Path
    says: str
    whole: str


def each(fault: FabplanError) -> tuple[FabplanError, ...]:
    """The faults of one reading, one by one."""
    return fault.errors if isinstance(fault, JobErrors) else (fault,)


def placed(faults: Iterable[FabplanError], text: str, shown: str) -> tuple[PlacedFault, ...]:
    """Every fault at its place in the text of the job file."""
    found = stretches(text)
    marks = _names(text)
    return tuple(_placed(fault, found, marks, shown) for fault in faults)


def _placed(
    fault: FabplanError, found: Sequence[Stretch], marks: dict[tuple[str, str], int], shown: str
) -> PlacedFault:
    if not isinstance(fault, JobError):
        return PlacedFault(path=_named(str(fault), marks), says=str(fault), whole=str(fault))
    says = str(fault.at())
    if fault.file and fault.file != shown:  # of the shop file or a metal profile: told with its place
        return PlacedFault(path=_by_key(fault, marks) or (), says=str(fault), whole=str(fault))
    path = _by_line(fault, found) or _by_key(fault, marks) or (("piece",) if "no pieces" in fault.rule else ())
    return PlacedFault(path=path, says=says if path else str(fault), whole=str(fault))


def _by_key(fault: JobError, marks: dict[tuple[str, str], int]) -> Path:
    """The place a fault's key names: ``piece "A" > legs > 2``."""
    match = _LABEL.fullmatch(fault.key)
    if match is None or match[1] not in (*TABLES, *ARRAYS, "shop"):
        return ()
    table, name, number, rest = match.groups()
    path: Path = (table,)
    if table in ARRAYS:
        at = marks.get((table, (name or "").casefold())) if name is not None else int(number or 1) - 1
        if at is None:
            return ()
        path = (table, at)
    return (*path, *_parts(rest), *_about(fault))


def _parts(rest: str | None) -> Path:
    return tuple(int(p) - 1 if p.isdigit() else p for p in rest.split(" > ")) if rest else ()


def _about(fault: JobError) -> Path:
    """A key that is missing, or that is not one."""
    match = _MISSING.match(fault.rule)
    return (match[1],) if match else ()


def _by_line(fault: JobError, found: Sequence[Stretch]) -> Path:
    """The place a fault's line and key name together; () when they do not tell."""
    if fault.line is None or not fault.key:
        return ()
    match = _LABEL.fullmatch(fault.key)
    if match is None or match[1] not in ARRAYS:
        return ()
    heads = [s for s in found if s.heading and s.path[:1] == (match[1],) and s.first <= fault.line]
    if not heads or len(heads[-1].path) < 2:
        return ()
    return (*heads[-1].path[:2], *_parts(match[4]), *_about(fault))


def _names(text: str) -> dict[tuple[str, str], int]:
    """Number of each named entry, from 0, by its table and name."""
    from fabplan.job.edit_toml import read_values

    try:
        data = read_values(text)
    except ValueError:
        return {}
    marks: dict[tuple[str, str], int] = {}
    for table, key in ARRAYS.items():
        entries = data.get(table)
        for n, entry in enumerate(entries if isinstance(entries, list) else ()):
            if isinstance(entry, dict) and isinstance(entry.get(key), (str, int)):
                marks.setdefault((table, str(entry[key]).strip().casefold()), n)
    return marks


def _named(says: str, marks: dict[tuple[str, str], int]) -> Path:
    """The entry a plan's refusal speaks of: ``Slope north: ...`` or ``piece "A" ...``."""
    for word, table in (("slope", "slope"), ("piece", "piece")):
        match = re.match(rf'{word} "?([^":]+?)"?[:,]', says, re.I)
        if match and (at := marks.get((table, match[1].casefold()))) is not None:
            return (table, at)
    return ()
