"""Read a job file (and the shop file it names) into a `Job`, or report every fault in one go.

Each table is validated on its own, so that one wrong key hides nothing else. What concerns several tables at once
(marks that name each other, hems against sides, prices against forms) is in `fabplan.job.consistency`.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from fabplan.errors import JobError, JobErrors, quoted
from fabplan.job import defaults
from fabplan.job.consistency import Read, check_job
from fabplan.job.files import LONGEST_LIST, Source, named_path, read_source, source_of, too_long
from fabplan.job.kinds import KINDS
from fabplan.job.kinds.rake_cover import RakeCoverPiece
from fabplan.job.kinds.section import SectionPiece
from fabplan.job.merge import Merged, TableEntry, merge
from fabplan.job.model import (
    Brake,
    Done,
    Handling,
    HemTool,
    Job,
    JobInfo,
    LabourTimes,
    Laid,
    MetalUse,
    NestOptions,
    PieceBase,
    Shear,
    Spread,
    Stock,
)
from fabplan.job.renames import with_new_names
from fabplan.job.slopes import Roof, Slope, least_metal
from fabplan.job.values import word
from fabplan.job.wording import MOST_FAULTS, choice, keys_of, listed, nearest, reword
from fabplan.labour import TIME_KEYS, Labour, default_rate

_M = TypeVar("_M", bound=BaseModel)
_T = TypeVar("_T")
POLYGONS = {"pyramid": 4, "pentagon": 5, "hexagon": 6, "octagon": 8, "decagon": 10, "dodecagon": 12}
TABLE_MODELS: dict[str, type[BaseModel]] = {
    "job": JobInfo, "metal": MetalUse, "shear": Shear, "nest": NestOptions, "brake": Brake, "roof": Roof,
    "spread": Spread, "handling": Handling, "labour": LabourTimes, "stock": Stock, "hem_tool": HemTool, "slope": Slope,
    "done": Done, "laid": Laid,
}  # fmt: skip


def load_job(path: str | os.PathLike[str]) -> Job:
    """Read and validate a job file with its shop file.

    Parameters
    ----------
    path : path
        The job file, as the user named it.

    Raises
    ------
    JobErrors
        Every fault found, each with file, line, key, rule, value and what to write instead.
    """
    shown = os.fspath(path)
    return _job_of(read_source(Path(path), shown, "job file", go_on=True))


def load_job_text(text: str, path: str | os.PathLike[str]) -> Job:
    """The job a text would be if it stood in the file `path`, which need not be there; as `load_job`.

    Raises
    ------
    JobErrors
    """
    return _job_of(source_of(text, Path(path).parent, os.fspath(path), "job file", go_on=True))


def _job_of(source: Source) -> Job:
    shop = shop_of(source)
    return _Reading(merge(with_new_names(source), shop and with_new_names(shop))).job()


def shop_of(job: Source) -> Source | None:
    """The shop file a job file names, or None when it names none.

    Raises
    ------
    JobError
        It cannot be read.
    """
    name = job.data.get("shop")
    if name is None:
        return None
    line = job.line(("shop",))
    if not isinstance(name, str):
        raise JobError(
            "must be the name of a shop file", file=job.shown, key="shop", line=line, value=quoted(name),
            write='shop = "shop.toml" above the first table',
        )  # fmt: skip
    try:
        path = named_path(name, job.folder, '"shop.toml" or "../shop.toml"')
    except JobError as fault:
        raise JobError(
            fault.rule, file=job.shown, key="shop", line=line, value=quoted(name), write=fault.write
        ) from None
    try:
        return read_source(path, os.path.join(os.path.dirname(job.shown), name), "shop file")
    except JobError as fault:
        if fault.line is not None:
            raise
        raise JobError(
            fault.rule, file=job.shown, key="shop", line=line, value=quoted(name), write=fault.write
        ) from None


def _there(pairs: Iterable[tuple[TableEntry, _T | None]]) -> list[tuple[TableEntry, _T]]:
    return [(entry, read) for entry, read in pairs if read is not None]


class _Reading:
    """One reading: the merged files, the faults found so far."""

    def __init__(self, merged: Merged) -> None:
        self.merged = merged
        self.faults = merged.faults
        self.syntax = [fault for source in (merged.job, merged.shop) if source for fault in source.faults]
        self.dropped = any(source.dropped for source in (merged.job, merged.shop) if source)
        self.assumed: list[str] = []
        self.cleat_marks: list[tuple[TableEntry, str]] = []
        typed = word(merged.tables["job"].data.get("units", "in"))
        self.units = typed if typed in ("in", "mm") else "in"

    def job(self) -> Job:
        """The whole job, read table by table; faults are gathered and raised together."""
        metric = self.units == "mm"
        info = self.table("job", JobInfo, {key: pair[metric] for key, pair in defaults.JOB.items()})
        metal = self.table("metal", MetalUse)
        shear = self.table("shear", Shear, {key: pair[metric] for key, pair in defaults.SHEAR.items()})
        nest = self.table("nest", NestOptions, defaults.NEST, tell=False)
        brake = self.brake()
        roof = self.table("roof", Roof, defaults.ROOF_METRIC if metric else None, tell=False)
        spread = self.table("spread", Spread, defaults.SPREAD, tell=False)
        handling = self.table("handling", Handling)
        labour = self.labour(info)
        pieces = [(entry, self.piece(entry)) for entry in self.merged.arrays["piece"]]
        roof = self.cleats(roof)
        stock = [(entry, self.model(entry, Stock)) for entry in self.merged.arrays["stock"]]
        slopes = [(entry, self.model(self.slope_words(entry), Slope)) for entry in self.merged.arrays["slope"]]
        tools = self.hem_tools()
        done = self.table("done", Done)
        laid = [(entry, self.model(entry, Laid)) for entry in self.merged.arrays["laid"]]
        if "piece" not in self.merged.job.data and not pieces:
            self.faults.append(
                JobError("the job has no pieces", file=self.merged.job.shown, write="at least one [[piece]]")
            )
        if self.dropped:  # what seems to be missing may stand in a line that could not be read
            self.faults = [fault for fault in self.faults if fault.value is not None]
            self.leave_on_faults()
        checked = check_job(
            Read(
                merged=self.merged, units=self.units, info=info, metal=metal, brake=brake, shear=shear, roof=roof,
                pieces=_there(pieces), stock=_there(stock), slopes=_there(slopes), tools=_there(tools),
                done=done,
                nest=nest,
            )
        )  # fmt: skip
        self.faults.extend(checked.faults)
        self.leave_on_faults()
        assert info and shear and nest and brake and roof and spread and handling and labour and done and checked.metal
        return Job(
            file=self.merged.job.shown,
            shop=None if self.merged.shop is None else self.merged.shop.shown,
            info=info,
            metal=checked.metal,
            pieces=checked.pieces,
            stock=checked.stock,
            shear=shear,
            nest=nest,
            brake=checked.brake or brake,
            hem_tools=tuple(tool for _, tool in tools if tool is not None),
            slopes=tuple(slope for _, slope in slopes if slope is not None),
            roof=least_metal(roof, labour),
            spread=spread,
            handling=handling,
            labour=labour,
            done=done,
            laid=tuple(line for _, line in laid if line is not None),
            assumed=tuple(self.assumed),
            renamed=tuple(old for source in (self.merged.job, self.merged.shop) if source for old in source.renamed),
        )

    def leave_on_faults(self) -> None:
        self.faults += self.syntax
        if not self.faults:
            return
        main = self.merged.job.shown
        ordered = sorted(self.faults, key=lambda f: (f.file != main, f.file, f.line or 0))
        unique = list({str(fault): fault for fault in ordered}.values())
        if len(unique) == 1:
            raise unique[0]
        if len(unique) > MOST_FAULTS:
            rest = len(unique) - MOST_FAULTS
            unique = [*unique[:MOST_FAULTS], JobError(f"and {rest} more faults", file=main)]
        raise JobErrors(unique)

    def table(
        self, name: str, model: type[_M], fill: Mapping[str, Any] | None = None, *, tell: bool = True
    ) -> _M | None:
        entry = self.merged.tables[name]
        if fill:
            left_out = [key for key in fill if key not in entry.data]
            if tell:
                self.assumed += [f"{name} > {key}" for key in left_out]
            entry = self.filled(entry, {key: fill[key] for key in left_out})
        return self.model(entry, model)

    def brake(self) -> Brake | None:
        entry = self.merged.tables["brake"]
        sizes = defaults.BRAKE | (defaults.BRAKE_METRIC if self.units == "mm" else {})
        left_out = {key: value for key, value in sizes.items() if key not in entry.data}
        read = self.model(self.filled(entry, left_out), Brake)
        return None if read is None else read.model_copy(update={"assumed": tuple(left_out)})

    def labour(self, info: JobInfo | None) -> Labour | None:
        entry = self.merged.tables["labour"]
        left_out = {key: value for key, value in defaults.LABOUR.items() if key not in entry.data}
        read = self.model(self.filled(entry, left_out), LabourTimes)
        if read is None:
            return None
        money, pounds = (None, None) if read.rate is None else (read.rate.money, read.rate.pounds)
        if read.rate is None and info is not None:
            money = default_rate(info.currency)
        times = {key: getattr(read, key) for key in TIME_KEYS}
        assumed = (*(["rate"] if read.rate is None else []), *(key for key in TIME_KEYS if key in left_out))
        return Labour(rate=money, rate_pounds=pounds, assumed=assumed, **times)

    def hem_tools(self) -> list[tuple[TableEntry, HemTool | None]]:
        entries = self.merged.arrays["hem_tool"]
        if not entries:
            self.assumed.append("hem_tool")
            place = (self.merged.job, ("hem_tool",))
            entries = [
                TableEntry(table="hem_tool", index=at, data=dict(tool), places=(place,))
                for at, tool in enumerate(defaults.HEM_TOOLS)
            ]
        return [(entry, self.model(entry, HemTool)) for entry in entries]

    def piece(self, entry: TableEntry) -> PieceBase | None:
        entry = self.with_words(entry, "kind")
        kind = entry.data.get("kind")
        model = KINDS.get(kind) if isinstance(kind, str) else None
        if model is None:
            choices = tuple(KINDS)
            if "kind" not in entry.data:
                self.faults.append(entry.fault((), '"kind" is missing', write='kind = "diamond"'))
            else:
                near = nearest(kind, choices) if isinstance(kind, str) else None
                write = quoted(near) if near else choice(choices)
                rule = f"must be {listed(choices)}"
                self.faults.append(entry.fault(("kind",), rule, value=quoted(kind), write=write))
            return None
        if model is RakeCoverPiece and self.units == "mm":
            entry = self.filled(entry, {k: v for k, v in defaults.RAKE_COVER_METRIC.items() if k not in entry.data})
        entry = self.from_roof(entry) if model is SectionPiece else entry
        counted = entry.data.get("count")
        entry = self.cleat_count(entry) if isinstance(counted, str) and word(counted) == "cleats" else entry
        return self.model(entry, model)

    def from_roof(self, entry: TableEntry) -> TableEntry:
        """A section's entry with 0 in place of the bend that the roof gives, and that bend's number."""
        if "roof_bend" in entry.data:  # a field of the model, not a key of the file
            entry = TableEntry(
                table=entry.table, index=entry.index, data=self.not_typed(entry, "roof_bend"), places=entry.places
            )
        bends, legs = entry.data.get("bends"), entry.data.get("legs")
        if not bends and isinstance(legs, list) and len(legs) == 2:
            return self.filled(entry, {"bends": [0], "roof_bend": 1})
        if not isinstance(bends, list):
            return entry
        at = [n for n, bend in enumerate(bends) if isinstance(bend, str) and word(bend) == "roof"]
        if len(at) > 1:
            self.faults.append(
                entry.fault(("bends", at[1]), "one bend of a section is taken from the roof", value='"roof"',
                            write="its degrees")
            )  # fmt: skip
        if not at:
            return entry
        return self.filled(entry, {"bends": [0 if n in at else b for n, b in enumerate(bends)], "roof_bend": at[0] + 1})

    def cleat_count(self, entry: TableEntry) -> TableEntry:
        """The entry of a piece counted as the roof's cleats, without its count."""
        if "slope" not in self.merged.arrays or not self.merged.arrays["slope"]:
            self.faults.append(
                entry.fault(("count",), "there is no [[slope]] to count cleats on", value='"cleats"', write="a number")
            )
            return self.filled(entry, {"count": 1})
        self.cleat_marks.append((entry, str(entry.data.get("mark", "")).strip()))
        data = {key: value for key, value in entry.data.items() if key != "count"}
        return TableEntry(table=entry.table, index=entry.index, data=data, places=entry.places)

    def not_typed(self, entry: TableEntry, field: str) -> dict[str, Any]:
        """The entry's data without a field that no file may hold, which is a fault."""
        self.faults.append(entry.fault((field,), f'unknown key "{field}"', write="nothing: fabplan works it out"))
        return {key: value for key, value in entry.data.items() if key != field}

    def cleats(self, roof: Roof | None) -> Roof | None:
        """The roof's rules with the piece that is counted as its cleats."""
        for entry, mark in self.cleat_marks:
            named = None if roof is None else roof.cleat_piece
            if named not in (None, mark):
                self.faults.append(
                    entry.fault(
                        ("count",), f"the cleats are counted as piece {quoted(named)} already", value='"cleats"',
                        write="a number",
                    )
                )  # fmt: skip
            elif roof is not None:
                roof = roof.model_copy(update={"cleat_piece": mark})
        return roof

    def slope_words(self, entry: TableEntry) -> TableEntry:
        """The entry with its shape in plain form and its piece's mark without stray spaces."""
        mark = entry.data.get("piece")
        entry = self.filled(entry, {"piece": mark.strip()}) if isinstance(mark, str) else entry
        entry = self.with_words(entry, "shape")
        sides = POLYGONS.get(str(entry.data.get("shape")))
        if sides is None:
            return entry
        self.faults.append(
            entry.fault(("shape",), f"is the plan of a spire with {sides} slopes", value=quoted(entry.data["shape"]),
                        write=f'shape = "regular-spire" and sides = {sides}')
        )  # fmt: skip
        return self.filled(entry, {"shape": "regular-spire", "sides": entry.data.get("sides", sides)})

    def with_words(self, entry: TableEntry, key: str) -> TableEntry:
        """The entry with a choice in its plain form: hyphen, underscore and capitals do not matter."""
        if key not in entry.data:
            return entry
        return self.filled(entry, {key: word(entry.data[key])})

    def filled(self, entry: TableEntry, more: Mapping[str, Any]) -> TableEntry:
        return TableEntry(table=entry.table, index=entry.index, data={**entry.data, **more}, places=entry.places)

    def model(self, entry: TableEntry, model: type[_M]) -> _M | None:
        """Validate one table; its faults are noted, and None is handed back."""
        data = entry.data
        if "assumed" in data:  # a field of the model, not a key of the file
            data = self.not_typed(entry, "assumed")
        long = too_long(data)
        if long is not None:
            path, size = long
            rule = f"a list or table may have {LONGEST_LIST:,} entries at most"
            self.faults.append(entry.fault(path, rule, value=f"{size:,}", write="fewer entries"))
            return None
        try:
            return model.model_validate(data, context={"units": self.units})
        except ValidationError as problem:
            for said in reword(problem, model):
                write = said.write
                if said.rule.startswith("unknown key") and len(said.path) == 1:
                    write = self.elsewhere(str(said.path[0]), entry) or write
                self.faults.append(entry.fault(said.path, said.rule, value=said.value, write=write))
        return None

    def elsewhere(self, key: str, entry: TableEntry) -> str:
        """Advice for a key that belongs to another table."""
        for table, model in TABLE_MODELS.items():
            if table != entry.table and key in keys_of(model):
                own = KINDS.get(str(entry.data.get("kind"))) or TABLE_MODELS.get(entry.table)
                if own is not None and nearest(key, keys_of(own)):
                    return ""
                return f"it under [{table}]"
        return ""
