"""Forms from the models: every key a table may say, with its words from the reference and its value from the file."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from fabplan.errors import JobError, quoted
from fabplan.job.edit_toml import fragment, read_values
from fabplan.job.kinds import KINDS
from fabplan.job.lines import Path
from fabplan.job.load import TABLE_MODELS
from fabplan.job.reference import KeyWords, key_words
from fabplan.job.reference_text import TABLE_NOTES
from fabplan.job.renames import KEYS
from fabplan.job.slopes import SHAPE_KEYS
from fabplan.job.values import HandBends, says, word
from fabplan.job.wording import keys_of

Way = Literal["text", "choice", "truth", "list", "pairs", "map", "group", "groups", "written"]
"""How a key is filled in: a line of text, one of a few words, yes or no, values with commas, pairs a line each, names
and values a line each, keys of its own, several of those, or as TOML."""

_TEXT = "text"
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_SIZES = {key for ways, extra in SHAPE_KEYS.values() for key in (*extra, *(k for way in ways for k in way))}
_HAND, _OR_LIST = "[bend, degrees]", "or a list of them"
_EITHER = re.compile(r"`side` or `blank`|`hem` or both")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One key to fill in.

    `text` is its value as it is edited, "" when the file does not say it; `shop` the value the shop file gives. `up`
    puts it among the first, where what is needed or said already stands. `inner` are the keys of a group, or groups.
    """

    path: Path
    words: KeyWords
    way: Way
    text: str = ""
    given: bool = False
    shop: str = ""
    choices: tuple[str, ...] = ()
    verbatim: bool = False
    up: bool = False
    inner: tuple[Field, ...] = ()

    @property
    def name(self) -> str:
        """The place as one word, for the page."""
        return ".".join(map(str, self.path))


@dataclass(frozen=True, slots=True, kw_only=True)
class _FieldShape:
    way: Way
    model: type[BaseModel] | None = None
    choices: tuple[str, ...] = ()
    verbatim: bool = False
    numbers: int = 0  # values in a list or pair, 0 for any


def model_of(table: str, data: Mapping[str, Any]) -> type[BaseModel] | None:
    """The model of a table of the file; of a piece, by its kind: None while that is not known."""
    if table != "piece":
        return TABLE_MODELS.get(table)
    kind = data.get("kind")
    return KINDS.get(word(kind)) if isinstance(kind, str) else None


def note_of(table: str, model: type[BaseModel] | None) -> str:
    """What the reference says of a table, and of the kind of piece."""
    if table == "piece" and model is not None:
        said = (model.__doc__ or "").strip()
        return f"{said} {getattr(model, 'REFERENCE', '')}".strip()
    return TABLE_NOTES.get(table, "").split("\n\n")[0]


def fields_of(
    path: Path, model: type[BaseModel], data: Mapping[str, Any], shop: Mapping[str, Any] | None = None
) -> tuple[Field, ...]:
    """Every key a table takes, and those it says though it does not take them."""
    found = [_field(path, model, words, data, shop or {}) for words in key_words(model)]
    shape = data.get("shape")
    if model is TABLE_MODELS["slope"] and isinstance(shape, str) and word(shape) in SHAPE_KEYS:
        ways, extra = SHAPE_KEYS[word(shape)]
        own = {key for way in ways for key in way}
        kept = own | set(extra)
        found = [f for f in found if f.words.key not in _SIZES or f.words.key in kept or f.given]
        found = [replace(f, up=f.up or f.words.key in own) for f in found]
    if "kind" in keys_of(model):  # what it is comes first
        found.sort(key=lambda f: f.words.key not in ("kind", "mark"))
    known = set(keys_of(model))
    return (*found, *(_unknown(path, key, value) for key, value in data.items() if key not in known))


def _unknown(path: Path, key: str, value: Any) -> Field:
    new = KEYS.get(str(path[0]), {}).get(key)
    meaning = f"The old name of `{new}`: write it there, and empty this." if new else "No key of this table."
    words = KeyWords(key=key, value="as TOML", default="", meaning=meaning, needed=False)
    return Field(path=(*path, key), words=words, way="written", text=fragment(value), given=True, up=True)


def _field(
    path: Path, model: type[BaseModel], words: KeyWords, data: Mapping[str, Any], shop: Mapping[str, Any]
) -> Field:
    name, info = next((n, i) for n, i in model.model_fields.items() if (i.alias or n) == words.key)
    shape = _shape(info.annotation, list(info.metadata))
    if words.value.startswith(_HAND):
        shape = _FieldShape(way="pairs", numbers=2)
    value = data.get(words.key)
    given = words.key in data
    here = (*path, words.key)
    if name == "kind":
        shape = _FieldShape(way="choice", choices=tuple(KINDS))
        words = KeyWords(key="kind", value="", default="**needed**", meaning="What it is.", needed=True)
    field = Field(
        path=here, words=words, way=shape.way, given=given, choices=shape.choices, verbatim=shape.verbatim,
        up=given or words.needed or bool(_EITHER.search(words.default)) or words.key in _OFTEN,
        shop=_text_of(shape, shop[words.key]) or fragment(shop[words.key]) if words.key in shop else "",
    )  # fmt: skip
    if shape.way == "group" and shape.model is not None and (not given or isinstance(value, Mapping)):
        return replace(field, inner=fields_of(here, shape.model, value or {}))
    if shape.way == "groups" and shape.model is not None and (not given or _tables(value)):
        whole = Field(path=here, words=words, way="group")
        groups = (
            replace(whole, path=(*here, n), inner=fields_of((*here, n), shape.model, item), given=True)
            for n, item in enumerate(value or ())
        )
        return replace(field, inner=tuple(groups))
    if not given:
        return replace(field, way="written") if shape.way in ("group", "groups") and shape.model is None else field
    text = _text_of(shape, value)
    if text is None:
        return replace(field, way="written", text=fragment(value))
    return replace(field, text=text)


_OFTEN = {"count", "for", "length", "price", "on_hand", "spare", "units", "hem_gap", "bends", "start_hem", "end_hem",
          "folds", "note", "top_angle", "pitch", "edges", "currency", "keep_at_least", "hooks"}  # fmt: skip


def _tables(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(item, Mapping) for item in value)


def _shape(annotation: Any, metadata: list[Any]) -> _FieldShape:
    """How a value of a type is filled in."""
    said = next(filter(None, (says(getattr(m, "func", None)) for m in metadata)), "")
    if said.endswith(_OR_LIST):
        return _FieldShape(way="list", numbers=-1)
    if said:
        return _FieldShape(way="text", verbatim=said == _TEXT)
    if hasattr(annotation, "__metadata__"):
        if annotation == HandBends:
            return _FieldShape(way="pairs", numbers=2)
        return _shape(get_args(annotation)[0], [*annotation.__metadata__, *metadata])
    origin, args = get_origin(annotation), get_args(annotation)
    if origin in (Union, UnionType):
        rest = [arg for arg in args if arg is not NoneType]
        models = [arg for arg in rest if isinstance(arg, type) and issubclass(arg, BaseModel)]
        if len(rest) == 1:
            return _shape(rest[0], metadata)
        if models:  # a table, or a word in its place
            words = tuple(str(w) for arg in rest if get_origin(arg) is Literal for w in get_args(arg))
            return _FieldShape(way="group", model=models[0], choices=words)
        return _FieldShape(way="text")
    if origin is Literal:
        return _FieldShape(way="choice", choices=tuple(map(str, args)))
    if annotation is bool:
        return _FieldShape(way="truth")
    if annotation is str:
        return _FieldShape(way="text", verbatim=True)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return _FieldShape(way="group", model=annotation)
    if origin is tuple:
        inner = [arg for arg in args if arg is not Ellipsis]
        of = _shape(inner[0], [])
        if of.model is not None:
            return _FieldShape(way="groups", model=of.model)
        if of.way == "list" and of.numbers == 2:
            return _FieldShape(way="pairs", numbers=2)
        return _FieldShape(way="list", numbers=0 if Ellipsis in args else len(inner), verbatim=of.verbatim)
    if origin is dict:
        return _FieldShape(way="map", verbatim=_shape(args[1], []).way == "choice")
    return _FieldShape(way="text")


# -- value to text ----------------------------------------------------------------------------------------------------


def _text_of(shape: _FieldShape, value: Any) -> str | None:
    """A value as it is edited; None when it is not of a form this way of filling in can say."""
    plain = isinstance(value, (str, int, Decimal)) and not isinstance(value, bool)
    match shape.way:
        case "text" | "choice":
            fits = plain and (isinstance(value, str) or not (shape.verbatim or shape.way == "choice"))
            return str(value) if fits and "\n" not in str(value) else None
        case "truth":
            return ("true" if value else "false") if isinstance(value, bool) else None
        case "group":
            return value if isinstance(value, str) and value in shape.choices else None
        case "list":
            if shape.numbers == -1 and plain:
                return str(value)
            return _row(value)
        case "pairs":
            pairs = [value] if isinstance(value, list) and not any(isinstance(v, list) for v in value) else value
            if not isinstance(pairs, list) or not all(isinstance(p, list) and len(p) == 2 for p in pairs):
                return None
            rows = [_row(pair) for pair in pairs]
            return None if None in rows else "\n".join(filter(None, rows))
        case "map":
            if not isinstance(value, Mapping) or not all(_row([item]) for item in value.values()):
                return None
            if any("=" in key or "\n" in key or key != key.strip() for key in value):
                return None
            return "\n".join(f"{key} = {item}" for key, item in value.items())
    return None


def _row(value: Any) -> str | None:
    """Values of a list, with commas; None when one holds a comma or is no plain value."""
    if not isinstance(value, list):
        return None
    parts = [str(v) for v in value if isinstance(v, (str, int, Decimal)) and not isinstance(v, bool)]
    return ", ".join(parts) if len(parts) == len(value) and not any("," in p or "\n" in p for p in parts) else None


# -- text to value ----------------------------------------------------------------------------------------------------


def value_of(field: Field, text: str) -> Any:
    """What the file is to say for a text typed into a field; None to say nothing.

    Raises
    ------
    JobError
        A text of several lines, or not the TOML it must be.
    """
    text = text.replace("\r\n", "\n").strip() if field.way != "text" or not field.verbatim else text
    if not text.strip():
        return None
    match field.way:
        case "truth":
            return text == "true" if text in ("true", "false") else text
        case "choice":
            return text
        case "list":
            items = [_one(part, field.verbatim) for part in text.replace("\n", ",").split(",") if part.strip()]
            return items[0] if len(items) == 1 and field.words.value.endswith(_OR_LIST) else items
        case "pairs":
            rows = [[_one(p, False) for p in row.split(",")] for row in text.split("\n") if row.strip()]
            return rows[0] if len(rows) == 1 and field.words.value.startswith(_HAND) else rows
        case "map":
            return dict(_pair(row, field) for row in text.split("\n") if row.strip())
        case "written":
            return _written(field.words.key, text)
    if "\n" in text:
        raise JobError("must be one line", value=quoted(text))
    return _one(text, field.verbatim)


def _one(text: str, verbatim: bool) -> Any:
    """A plain number as a number, else the text as typed."""
    text = text.strip()
    if not verbatim and _NUMBER.fullmatch(text) and not re.match(r"[+-]?0\d", text):
        return Decimal(text) if "." in text else int(text)
    return text


def _pair(row: str, field: Field) -> tuple[str, Any]:
    key, sign, value = row.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise JobError("must be a name, =, and a value", value=quoted(row.strip()), write="bottom = eave")
    return key.strip(), _one(value, field.verbatim)


def _written(key: str, text: str) -> Any:
    try:
        return read_values(f"x = {text}")["x"]
    except (ValueError, KeyError):
        raise JobError("this is not valid TOML", key=key, write='text in quotes, [lists], {key = "value"}') from None


def every(fields: tuple[Field, ...]) -> Iterator[Field]:
    """Fields and those inside them."""
    for field in fields:
        yield field
        yield from every(field.inner)
