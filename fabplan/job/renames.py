"""Keys and words of earlier versions: read for this one version, told, and taken as their new names."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from fabplan.errors import JobError, quoted
from fabplan.job.files import Renamed, Source
from fabplan.job.values import word

KEYS: Final[dict[str, dict[str, str]]] = {  # table -> old key -> new key
    "nest": {"effort": "search_effort", "seed": "try_again", "margin": "good_enough"},
    "shear": {"pattern": "cutting"},
}
WORDS: Final[dict[tuple[str, str], dict[str, str]]] = {  # table and key -> old word -> new word
    ("shear", "coil_cut_off"): {"mark": "scribed"},
}


def with_new_names(source: Source) -> Source:
    """The file with old keys under their new names, each noted in `Source.renamed`; both typed at once is a fault."""
    data = dict(source.data)
    lines = dict(source.lines)
    told: list[Renamed] = []
    faults: list[JobError] = []
    for table, names in KEYS.items():
        found = data.get(table)
        if not isinstance(found, dict):
            continue
        entry: dict[str, Any] = {}
        for key, value in found.items():
            new, line = names.get(key), source.line((table, key))
            if new is None:
                entry[key] = value
            elif new in found:
                faults.append(
                    JobError(
                        f'"{key}" is the old name of "{new}", and both are there', file=source.shown, line=line,
                        key=f"{table} > {key}", write=f"{new} alone",
                    )
                )  # fmt: skip
            else:
                entry[new] = value
                told.append(Renamed(file=source.shown, line=line, table=table, key=key, write=new))
                for path in [p for p in lines if p[:2] == (table, key)]:
                    lines[(table, new, *path[2:])] = lines[path]
        data[table] = entry
    for (table, key), words in WORDS.items():
        found = data.get(table)
        if isinstance(found, dict) and isinstance(found.get(key), str) and word(found[key]) in words:
            new = words[word(found[key])]
            told.append(
                Renamed(
                    file=source.shown, line=source.line((table, key)), table=table, key=key,
                    write=f"{key} = {quoted(new)}",
                )
            )  # fmt: skip
            data[table] = {**found, key: new}
    return replace(source, data=data, lines=lines, faults=(*source.faults, *faults), renamed=tuple(told))
