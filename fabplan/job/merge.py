"""Job file and shop file as one: the same tables, the job's own keys first, and where each key came from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

from fabplan.errors import BadValueError, JobError, quoted
from fabplan.job.files import Source
from fabplan.job.lines import Path
from fabplan.job.readers import label
from fabplan.job.wording import MOST_FAULTS, key_text, nearest

TABLES: Final = ("job", "metal", "shear", "nest", "brake", "roof", "spread", "handling", "labour", "done")
ARRAYS: Final = {
    "piece": "mark",
    "stock": "name",
    "hem_tool": "name",
    "slope": "name",
    "laid": "slope",
}  # table -> key that names it
MOST_ENTRIES: Final = {"piece": 500, "stock": 200, "hem_tool": 50, "slope": 200, "laid": 400}
_TOP = ("shop", *TABLES, *ARRAYS)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableEntry:
    """One table, or one entry of an array of tables, with the places it was read from (the job file first)."""

    table: str
    index: int | None = None
    data: dict[str, Any]
    places: tuple[tuple[Source, Path], ...]

    def found(self, path: Path) -> str | None:
        """The value as typed, for a message; None when the key is not there."""
        node: Any = self.data
        try:
            for part in path:
                node = node[part]
        except (KeyError, IndexError, TypeError):
            return None
        return quoted(node)

    @property
    def label(self) -> str:
        """As messages call it: ``job``, ``piece "A"``, ``stock 3``."""
        if self.index is None:
            return self.table
        name = self.data.get(ARRAYS[self.table])
        if isinstance(name, (str, int)) and not isinstance(name, bool) and str(name).strip():
            return f"{self.table} {quoted(str(name).strip())}"
        return f"{self.table} {self.index + 1}"

    def source(self, path: Path = ()) -> tuple[Source, Path]:
        """File and full key path of a key of this entry."""
        for source, prefix in self.places:
            node: Any = source.data
            for part in prefix:
                node = node.get(part) if isinstance(node, dict) else node[part]
            if path and isinstance(node, dict) and path[0] in node:
                return source, (*prefix, *path)
        source, prefix = self.places[0]
        return source, (*prefix, *path)

    def fault(self, path: Path, rule: str, *, value: str | None = None, write: str = "") -> JobError:
        """A fault of one key of this entry, placed in its file."""
        source, full = self.source(path)
        key = key_text(self.label, path)
        return JobError(rule, file=source.shown, key=key, value=value, write=write, line=source.line(full))


@dataclass(slots=True, kw_only=True)
class Merged:
    """Everything the files say."""

    job: Source
    shop: Source | None
    tables: dict[str, TableEntry] = field(default_factory=dict)
    arrays: dict[str, list[TableEntry]] = field(default_factory=dict)
    faults: list[JobError] = field(default_factory=list)


def merge(job: Source, shop: Source | None) -> Merged:
    """Put the job file over the shop file.

    Of a table, the job's keys win one by one. Of an array of tables, the job's entries come first; an entry of the shop
    file with the same name fills in the keys the job's leaves out, the others follow.
    """
    merged = Merged(job=job, shop=shop)
    sources = [job] if shop is None else [job, shop]
    for source in sources:
        _top_keys(merged, source)
    for table in TABLES:
        merged.tables[table] = _table(merged, table, sources)
    for table, name in ARRAYS.items():
        merged.arrays[table] = _array(merged, table, name, sources)
    return merged


def _top_keys(merged: Merged, source: Source) -> None:
    if source is not merged.job and not any(key in _TOP for key in source.data):
        merged.faults.append(
            JobError("this is not a shop file: it has none of a shop file's tables", file=source.shown,
                     write="the name of a shop file")
        )  # fmt: skip
        return
    for key, value in source.data.items():
        if len(merged.faults) >= MOST_FAULTS:
            break
        line = source.line((key,))
        if key == "shop" and source is not merged.job:
            rule = "a shop file cannot name another shop file"
            merged.faults.append(JobError(rule, file=source.shown, key="shop", line=line, write="it in the job file"))
        elif key not in _TOP:
            near = nearest(key, _TOP)
            what = "table" if isinstance(value, (dict, list)) else "key"
            write = f"{_heading(near)}" if near else f"one of {', '.join(_heading(t) for t in _TOP)}"
            if what == "key" and near is None:
                write = "it under a table such as [job], or take it out"
            merged.faults.append(JobError(f"unknown {what} {quoted(key)}", file=source.shown, line=line, write=write))


def _heading(table: str) -> str:
    return f"[[{table}]]" if table in ARRAYS else f"[{table}]" if table in TABLES else table


def _table(merged: Merged, table: str, sources: list[Source]) -> TableEntry:
    data: dict[str, Any] = {}
    places: list[tuple[Source, Path]] = []
    for source in sources:
        found = source.data.get(table)
        if isinstance(found, dict):
            places.append((source, (table,)))
            data = {**found, **data}
        elif found is not None:
            several = isinstance(found, list) and all(isinstance(item, dict) for item in found)
            rule = "is written once, with single brackets" if several else "must be a table"
            line = source.line((table, 0)) if several else source.line((table,))
            merged.faults.append(JobError(rule, file=source.shown, key=table, line=line, write=f"[{table}]"))
    return TableEntry(table=table, data=data, places=tuple(places) or ((sources[0], (table,)),))


def _array(merged: Merged, table: str, name: str, sources: list[Source]) -> list[TableEntry]:
    entries: list[TableEntry] = []
    for source in sources:
        found = source.data.get(table)
        if found is None:
            continue
        if not isinstance(found, list) or not all(isinstance(item, dict) for item in found):
            merged.faults.append(
                JobError(
                    "is written with double brackets, once for each", file=source.shown, key=table,
                    line=source.line((table,)), write=f"[[{table}]]",
                )
            )  # fmt: skip
            continue
        if len(found) > MOST_ENTRIES[table]:
            merged.faults.append(
                JobError(
                    f"a file may hold {MOST_ENTRIES[table]} [[{table}]] at most", file=source.shown, key=table,
                    value=f"{len(found):,}", line=source.line((table, MOST_ENTRIES[table])), write="fewer, or two jobs",
                )
            )  # fmt: skip
            continue
        own = len(entries)
        for at, data in enumerate(found):
            place = (source, (table, at))
            same = next(
                (e for e in entries[:own] if _same(e.data.get(name), data.get(name)) and len(e.places) == 1), None
            )
            if same is not None:
                entries[entries.index(same)] = TableEntry(
                    table=table, index=same.index, data={**data, **same.data}, places=(*same.places, place)
                )
            else:
                entries.append(TableEntry(table=table, index=len(entries), data=dict(data), places=(place,)))
    return entries


def _same(a: Any, b: Any) -> bool:
    try:
        return label(a).casefold() == label(b).casefold()
    except BadValueError:
        return False
