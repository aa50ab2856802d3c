"""How values of each simple type stand in a plan file: written, read back, and described for the JSON schema."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from fabplan.units import MM2_PER_SQ_IN, NM_PER_INCH, NM_PER_MM, POUNDS_TO_KG

Data = dict[str, Any]
_OFF_GRID = 2e-3  # graduations: six decimals of an inch are 3.2e-5 of a 1/32
_EXACT = re.compile(r"-?\d{1,200}(/\d{1,200})?", re.ASCII)
_MOST = 1e15


class UnfitError(Exception):
    """Data that is not what a type takes; `where` is the place, outermost key last."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.where: list[str | int] = []

    @property
    def place(self) -> str:
        """The place as people write it: ``nesting.layouts[3].cuts[0].from``."""
        keys = [f"[{k}]" if isinstance(k, int) else f".{k}" for k in reversed(self.where)]
        return "".join(keys).removeprefix(".")


class Scale:
    """The numbers of one job: its units, its graduation in nanometres, and what a cut plan's costs are."""

    def __init__(self, units: str, grid: int, objective: str = "money") -> None:
        mm = units == "mm"
        self.units = units
        self.grid = grid
        self.objective = objective
        self.nm = NM_PER_MM if mm else NM_PER_INCH
        self.cost = Fraction(grid, self.nm) ** 2 if objective == "area" else Fraction(1)
        self.off_grid = max(_OFF_GRID, 0.51e-6 * self.nm / grid)
        self.times = {  # what stands inside, times this, stands on file
            "length": 25.4 if mm else 1.0,
            "area": float(MM2_PER_SQ_IN) if mm else 1.0,
            "weight": float(POUNDS_TO_KG) if mm else 1.0,
            "degrees": 1.0,
            "share": 1.0,
            "number": 1.0,
            "seconds": 1.0,
            "square graduations": (grid / self.nm) ** 2,
        }


def tidy(value: float) -> float:
    """At most 6 decimals, no minus zero."""
    return round(float(value), 6) + 0.0


def number_of(data: Any) -> float:
    """A finite number of a file."""
    if type(data) not in (int, float) or not -_MOST < data < _MOST:
        raise UnfitError(f"{short(data)} is not a number")
    return float(data)


def short(data: Any) -> str:
    """What a file says, short enough for a fault."""
    text = repr(data)
    return text if len(text) <= 40 else text[:37] + "..."


class Form:
    """How values of one type are written and read."""

    def write(self, value: Any, scale: Scale) -> Any:
        """The value as JSON data."""
        raise NotImplementedError

    def read(self, data: Any, scale: Scale) -> Any:
        """The value back.

        Raises
        ------
        UnfitError
        """
        raise NotImplementedError

    def schema(self, defs: Data) -> Data:
        """JSON schema of the data; shared parts go to `defs`."""
        raise NotImplementedError


@dataclass(frozen=True)
class Bare(Form):
    """A word, a whole number or a yes or no, as it is."""

    type: type
    said: str

    def write(self, value: Any, scale: Scale) -> Any:
        return value

    def read(self, data: Any, scale: Scale) -> Any:
        if type(data) is not self.type:  # True is no 1 on a page
            raise UnfitError(f"{short(data)} is not {self.said}")
        return data

    def schema(self, defs: Data) -> Data:
        return {"type": {str: "string", int: "integer", bool: "boolean"}[self.type]}


@dataclass(frozen=True)
class Word(Form):
    """One of a few words."""

    words: tuple[Any, ...]

    def write(self, value: Any, scale: Scale) -> Any:
        return value

    def read(self, data: Any, scale: Scale) -> Any:
        if type(data) not in (str, int) or data not in self.words:
            raise UnfitError(f"{short(data)} is not {' or '.join(map(repr, self.words))}")
        return data

    def schema(self, defs: Data) -> Data:
        return {"enum": list(self.words)}


@dataclass(frozen=True)
class Measure(Form):
    """A number in the unit it measures."""

    unit: str

    def write(self, value: Any, scale: Scale) -> Any:
        return round(float(value) * scale.times[self.unit], 6) + 0.0

    def read(self, data: Any, scale: Scale) -> Any:
        return number_of(data) / scale.times[self.unit]

    def schema(self, defs: Data) -> Data:
        said = {
            "length": "in or mm",
            "area": "in² or mm²",
            "weight": "lb or kg",
            "degrees": "degrees",
            "share": "share of 1",
            "seconds": "s",
            "square graduations": "in² or mm²",
        }
        return {"type": "number"} | ({"description": said[self.unit]} if self.unit in said else {})


@dataclass(frozen=True)
class WholeForm(Form):
    """A whole number of something small (`size`), written as a length or area; what is not whole is unfit."""

    unit: str

    def _size(self, scale: Scale) -> float:
        if self.unit == "square graduations":
            return scale.times[self.unit]
        return (scale.grid if self.unit == "graduations" else 1) / scale.nm

    def write(self, value: Any, scale: Scale) -> Any:
        # A nanometre is less than the sixth decimal of an inch.
        return round(value * self._size(scale), 9 if self.unit == "nanometres" else 6) + 0.0

    def read(self, data: Any, scale: Scale) -> Any:
        exact = number_of(data) / self._size(scale)
        whole = round(exact)
        if abs(exact - whole) > (scale.off_grid if self.unit == "graduations" else 0.1):
            raise UnfitError(f"{short(data)} is not on the shop's graduation")
        return whole

    def schema(self, defs: Data) -> Data:
        return {"type": "number", "description": "in² or mm²" if self.unit == "square graduations" else "in or mm"}


@dataclass(frozen=True)
class PlaceForm(Form):
    """A place on a layout between graduations: nine decimals, as a short cut fixes the far edge of a long piece."""

    def write(self, value: Any, scale: Scale) -> Any:
        return round(value * scale.grid / scale.nm, 9) + 0.0

    def read(self, data: Any, scale: Scale) -> Any:
        return number_of(data) * scale.nm / scale.grid

    def schema(self, defs: Data) -> Data:
        return {"type": "number", "description": "in or mm"}


@dataclass(frozen=True)
class ExactForm(Form):
    """The exact half of a cost: a fraction as text. The rounded number beside it is written by the table."""

    def write(self, value: Any, scale: Scale) -> Any:
        return str(value * scale.cost)

    def read(self, data: Any, scale: Scale) -> Any:
        if not isinstance(data, str) or not _EXACT.fullmatch(data) or data.endswith("/0"):
            raise UnfitError(f"{short(data)} is not an exact fraction")
        try:
            return Fraction(data) / scale.cost
        except ZeroDivisionError:
            raise UnfitError(f"{short(data)} is not an exact fraction") from None

    def schema(self, defs: Data) -> Data:
        return {"type": "string", "pattern": "^-?[0-9]+(/[0-9]+)?$", "description": "money, or in² or mm², exact"}


@dataclass(frozen=True)
class Cents(Form):
    """An amount of money."""

    def write(self, value: Any, scale: Scale) -> Any:
        return float(value)

    def read(self, data: Any, scale: Scale) -> Any:
        return Decimal(str(number_of(data)))

    def schema(self, defs: Data) -> Data:
        return {"type": "number", "description": "money"}


@dataclass(frozen=True)
class Maybe(Form):
    """A value or none."""

    form: Form

    def write(self, value: Any, scale: Scale) -> Any:
        return None if value is None else self.form.write(value, scale)

    def read(self, data: Any, scale: Scale) -> Any:
        return None if data is None else self.form.read(data, scale)

    def schema(self, defs: Data) -> Data:
        return {"anyOf": [self.form.schema(defs), {"type": "null"}]}


@dataclass(frozen=True)
class Many(Form):
    """A list of any length."""

    form: Form

    def write(self, value: Any, scale: Scale) -> Any:
        write = self.form.write
        return [write(v, scale) for v in value]

    def read(self, data: Any, scale: Scale) -> Any:
        if not isinstance(data, list):
            raise UnfitError(f"{short(data)} is not a list")
        return tuple(each(self.form, enumerate(data), scale))

    def schema(self, defs: Data) -> Data:
        return {"type": "array", "items": self.form.schema(defs)}


def each(form: Form, items: Any, scale: Scale) -> list[Any]:
    """Read (key, data) pairs; a fault says at which key."""
    out: list[Any] = []
    read = form.read
    for at, item in items:
        try:
            out.append(read(item, scale))
        except UnfitError as fault:
            fault.where.append(at)
            raise
    return out


@dataclass(frozen=True)
class ByName(Form):
    """Pairs of a name and a value, or a mapping, as one table."""

    form: Form
    pairs: bool

    def write(self, value: Any, scale: Scale) -> Any:
        return {k: self.form.write(v, scale) for k, v in (value if self.pairs else value.items())}

    def read(self, data: Any, scale: Scale) -> Any:
        if not isinstance(data, dict):
            raise UnfitError(f"{short(data)} is not a table")
        found = zip(data, each(self.form, data.items(), scale), strict=True)
        return tuple(found) if self.pairs else dict(found)

    def schema(self, defs: Data) -> Data:
        return {"type": "object", "additionalProperties": self.form.schema(defs)}


@dataclass(frozen=True)
class RowForm(Form):
    """A tuple of a fixed length: a list, or a table when its places have names."""

    forms: tuple[Form, ...]
    names: tuple[str, ...] = ()

    def write(self, value: Any, scale: Scale) -> Any:
        out = [f.write(v, scale) for f, v in zip(self.forms, value, strict=True)]
        return dict(zip(self.names, out, strict=True)) if self.names else out

    def read(self, data: Any, scale: Scale) -> Any:
        keys: Any = self.names or range(len(self.forms))
        if self.names:
            if not isinstance(data, dict) or set(data) != set(self.names):
                raise UnfitError(f"{short(data)} is not a table of {', '.join(self.names)}")
        elif not isinstance(data, list) or len(data) != len(self.forms):
            raise UnfitError(f"{short(data)} is not a list of {len(self.forms)}")
        return tuple(each(f, [(k, data[k])], scale)[0] for k, f in zip(keys, self.forms, strict=True))

    def schema(self, defs: Data) -> Data:
        parts = [f.schema(defs) for f in self.forms]
        if self.names:
            return table(dict(zip(self.names, parts, strict=True)))
        return {"type": "array", "prefixItems": parts, "items": False, "minItems": len(parts)}


def table(properties: Data) -> Data:
    """JSON schema of a table with exactly these keys."""
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}
