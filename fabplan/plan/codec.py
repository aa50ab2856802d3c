"""Results to JSON and back, from the annotations of their own types.

A frozen dataclass is a table with a key a field; tuples are lists; literals, optionals, dataclasses within dataclasses
and unions told apart by a ``kind`` literal are what one expects. What a number measures stands in its annotation
(`fabplan.quantities`): on file it is in the job's units, rounded to six decimals, and a money or area fraction has its
exact value beside it under ``..._exact``. A new field of a result needs nothing here.

Each form writes, reads, and describes itself for the JSON schema.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache, cached_property
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from fabplan.plan.forms import (
    Bare,
    ByName,
    Cents,
    Data,
    ExactForm,
    Form,
    Many,
    Maybe,
    Measure,
    PlaceForm,
    RowForm,
    Scale,
    UnfitError,
    WholeForm,
    Word,
    number_of,
    short,
    table,
    tidy,
)
from fabplan.quantities import Fields, Key, Unit, Written, stated

T = TypeVar("T")


@dataclass(frozen=True)
class FieldForm:
    """One field of a table: its name in the type, its key on file, its form; `exact` a cost with its number beside it.

    `kept` is False for a property that is only stated.
    """

    name: str
    key: str
    form: Form
    kept: bool

    @property
    def exact(self) -> bool:
        """Whether the value is a fraction."""
        return isinstance(self.form, ExactForm) or (
            isinstance(self.form, Maybe) and isinstance(self.form.form, ExactForm)
        )


class Record(Form):
    """A dataclass: a table of its fields, and of the properties it states."""

    def __init__(self, of: type) -> None:
        self.of = of

    @cached_property
    def columns(self) -> tuple[FieldForm, ...]:
        """Fields, then stated properties, in the order of the type."""
        hints = get_type_hints(self.of, include_extras=True)
        kept = []
        for f in fields(self.of):
            if Written("not kept") in _marks(hints[f.name]):
                if f.default is MISSING and f.default_factory is MISSING:
                    raise TypeError(f"{self.of.__name__}.{f.name} is not kept and has no default")
            else:
                kept.append((f.name, hints[f.name], True))
        for name, member in vars(self.of).items():
            if isinstance(member, stated):
                kept.append((name, get_type_hints(member.fget, include_extras=True)["return"], False))
        keys = [next((m.name for m in _marks(hint) if isinstance(m, Key)), name) for name, hint, _ in kept]
        if len(set(keys)) < len(keys):
            raise TypeError(f"{self.of.__name__} has two fields of one key")
        columns = []
        for key, (name, hint, is_kept) in zip(keys, kept, strict=True):
            try:
                columns.append(FieldForm(name, key, form_of(hint), is_kept))
            except TypeError as fault:
                raise TypeError(f"{self.of.__name__}.{name}: {fault}") from None
        return tuple(columns)

    @cached_property
    def keys(self) -> frozenset[str]:
        """Every key of the table."""
        return frozenset(c.key for c in self.columns) | {f"{c.key}_exact" for c in self.columns if c.exact}

    def write(self, value: Any, scale: Scale) -> Data:
        out = {}
        for c in self.columns:
            found = getattr(value, c.name)
            if c.exact:
                out[c.key] = None if found is None else tidy(float(found * scale.cost))
                out[f"{c.key}_exact"] = c.form.write(found, scale)
            else:
                out[c.key] = c.form.write(found, scale)
        return out

    def read(self, data: Any, scale: Scale) -> Any:
        if not isinstance(data, dict):
            raise UnfitError(f"{short(data)} is not a table")
        if data.keys() != self.keys:
            self._odd_keys(data)
        found = {}
        key = ""
        try:
            for c in self.columns:
                if c.kept:
                    key = f"{c.key}_exact" if c.exact else c.key
                    found[c.name] = c.form.read(data[key], scale)
                    if c.exact:
                        _beside(data[c.key], found[c.name], scale)
        except UnfitError as fault:
            fault.where.append(key)
            raise
        try:
            return self.of(**found)
        except (ValueError, TypeError) as fault:
            raise UnfitError(str(fault)) from None

    def _odd_keys(self, data: Data) -> None:
        odd = next((k for k in sorted(self.keys) if k not in data), None)
        fault = UnfitError("is missing" if odd is not None else "does not belong")
        fault.where.append(odd if odd is not None else next(k for k in data if k not in self.keys))
        raise fault

    def schema(self, defs: Data) -> Data:
        name = self.of.__name__
        if name not in defs:
            defs[name] = {}  # a type may hold itself
            properties: Data = {}
            for c in self.columns:
                if c.exact:
                    number = {"type": ["number", "null"] if isinstance(c.form, Maybe) else "number"}
                    properties[c.key] = number | {"description": "money, or in² or mm²"}
                    properties[f"{c.key}_exact"] = c.form.schema(defs)
                else:
                    properties[c.key] = c.form.schema(defs)
            said = (self.of.__doc__ or "").split("\n\n")[0]
            defs[name] = {"description": " ".join(said.split()), **table(properties)}
        return {"$ref": f"#/$defs/{name}"}


def _beside(data: Any, exact: Fraction | None, scale: Scale) -> None:
    """Whether a rounded number is its exact value."""
    if exact is None:
        near = data is None
    else:
        shown = float(exact * scale.cost)
        near = abs(number_of(data) - shown) <= 1e-6 * max(1.0, abs(shown))
    if not near:
        raise UnfitError(f"{short(data)} beside it is not its exact value")


class OneOf(Form):
    """One of several dataclasses, told apart by their ``kind``."""

    def __init__(self, types: tuple[Any, ...]) -> None:
        self.forms: dict[str, Form] = {}
        for each in types:
            hints = get_type_hints(each, include_extras=True) if is_dataclass(each) else {}
            if get_origin(hints.get("kind")) is not Literal:
                raise TypeError(f"{each!r} in a union has no kind that tells it from the others")
            self.forms |= dict.fromkeys(get_args(hints["kind"]), form_of(each))
        if len(self.forms) != sum(len(get_args(get_type_hints(t)["kind"])) for t in types):
            raise TypeError("two types of a union share a kind")

    def write(self, value: Any, scale: Scale) -> Any:
        return self.forms[value.kind].write(value, scale)

    def read(self, data: Any, scale: Scale) -> Any:
        kind = data.get("kind") if isinstance(data, dict) else None
        if not isinstance(kind, str) or kind not in self.forms:
            raise UnfitError(f"{short(kind)} is not {' or '.join(map(repr, self.forms))}")
        return self.forms[kind].read(data, scale)

    def schema(self, defs: Data) -> Data:
        return {"anyOf": [f.schema(defs) for f in dict.fromkeys(self.forms.values())]}


def _marks(hint: Any) -> tuple[Any, ...]:
    """What stands beside a type, also beside the type of an optional."""
    return tuple(hint.__metadata__) if get_origin(hint) is Annotated else ()


@cache
def form_of(hint: Any) -> Form:
    """The form of a type.

    Raises
    ------
    TypeError
        A type the file has no form for; a number without a unit is one.
    """
    marks = _marks(hint)
    base = hint.__origin__ if marks else hint
    unit = next((m.name for m in marks if isinstance(m, Unit)), None)
    if unit is not None and base in _NUMBERS:
        return _NUMBERS[base](unit)
    if base in _BARE:
        return Bare(base, _BARE[base])
    if isinstance(base, type) and is_dataclass(base):
        return Record(base)
    origin, args = get_origin(base), get_args(base)
    if origin is Literal:
        return Word(args)
    if origin in (Union, UnionType):
        return _union(tuple(a for a in args if a is not NoneType), NoneType in args)
    if origin is tuple:
        return _tuple(args, marks)
    if origin in (dict, Mapping) and args[0] is str:
        return ByName(form_of(args[1]), pairs=False)
    raise TypeError(f"a plan file has no form for {base}: give a number its unit (fabplan.quantities)")


_BARE: dict[Any, str] = {str: "text", int: "a whole number", bool: "true or false"}
_NUMBERS: dict[Any, Callable[[str], Form]] = {
    float: lambda unit: PlaceForm() if unit == "graduations" else Measure(unit),
    int: WholeForm,
    Fraction: lambda unit: ExactForm(),
    Decimal: lambda unit: Cents(),
}


def _union(types: tuple[Any, ...], none: bool) -> Form:
    form = form_of(types[0]) if len(types) == 1 else OneOf(types)
    return Maybe(form) if none else form


def _tuple(args: tuple[Any, ...], marks: tuple[Any, ...]) -> Form:
    if len(args) == 2 and args[1] is Ellipsis:
        if Written("by name") in marks:
            return ByName(form_of(get_args(args[0])[1]), pairs=True)
        return Many(form_of(args[0]))
    names = next((m.names for m in marks if isinstance(m, Fields)), ())
    return RowForm(tuple(form_of(a) for a in args), names)


def written(value: Any, scale: Scale) -> Any:
    """A result, or a sequence of results, as JSON data."""
    if isinstance(value, (tuple, list)):
        return [written(v, scale) for v in value]
    of: Any = type(value)
    return None if value is None else form_of(of).write(value, scale)


def read_as(of: type[T], data: Any, scale: Scale) -> T:
    """A result back from JSON data.

    Raises
    ------
    UnfitError
        With the place and what is wrong there.
    """
    hint: Any = of
    found: T = form_of(hint).read(data, scale)
    return found
