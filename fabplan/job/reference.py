"""The job file reference, ``docs/job-file.md``, made from the models: ``python -m fabplan.job.reference``."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache
from types import NoneType
from typing import Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel

from fabplan.job import defaults
from fabplan.job.kinds import KINDS
from fabplan.job.kinds.ends import EndDam, EndReturn
from fabplan.job.kinds.section import EndHem
from fabplan.job.load import TABLE_MODELS
from fabplan.job.model import EdgeFold, HemSpec, MeasuredAllowance, PieceBase
from fabplan.job.reference_text import DEFAULT_WORDS, ENDS_NOTE, OPENING, SLOPE_WORDS, TABLE_NOTES
from fabplan.job.slopes import SHAPE_KEYS, BaseDiagonal, Opening
from fabplan.job.values import Spare, says
from fabplan.job.wording import HIDDEN, keys_of

_FILLED: Final[dict[str, dict[str, Any]]] = {
    "JobInfo": {key: f"{inch}, or {metric}" for key, (inch, metric) in defaults.JOB.items()},
    "Shear": {
        key: inch if inch == metric else f"{inch}, or {metric}" for key, (inch, metric) in defaults.SHEAR.items()
    },
    "NestOptions": dict(defaults.NEST),
    "Brake": {
        key: f"{size}, or {defaults.BRAKE_METRIC[key]}" if key in defaults.BRAKE_METRIC else size
        for key, size in defaults.BRAKE.items()
    },
    "Spread": dict(defaults.SPREAD),
    "LabourTimes": dict(defaults.LABOUR),
}
_ORDER: Final = (
    "job",
    "metal",
    "stock",
    "shear",
    "nest",
    "brake",
    "hem_tool",
    "slope",
    "roof",
    "spread",
    "handling",
    "labour",
    "done",
    "laid",
)
_MANY: Final = ("stock", "hem_tool", "slope", "laid")
NEEDED: Final = "**needed**"  # in place of a default


def reference_text() -> str:
    """The whole page."""
    parts = [OPENING]
    for table in _ORDER:
        heading = f"[[{table}]]" if table in _MANY else f"[{table}]"
        parts.append(f"## `{heading}`\n\n{TABLE_NOTES[table]}\n\n{_keys(TABLE_MODELS[table])}")
        if table == "metal":
            parts.append(_pieces())
        if table == "brake":
            parts.append("### `[[brake.measured_allowance]]`\n\n" + _keys(MeasuredAllowance))
        if table == "slope":
            parts.append("### Sizes a shape takes\n\n" + _shapes())
            parts.append("### `openings = [{...}]`\n\n" + _keys(Opening))
            parts.append("### `base_diagonals = [{...}]`\n\n" + _keys(BaseDiagonal))
    return "\n\n".join(part.strip() for part in parts) + "\n"


def _pieces() -> str:
    parts = ["## `[[piece]]`\n\n" + TABLE_NOTES["piece"], _keys(PieceBase)]
    done: set[type[PieceBase]] = set()
    for model in KINDS.values():
        if model in done:
            continue
        done.add(model)
        kinds = ", ".join(f"`{kind}`" for kind, its in KINDS.items() if its is model)
        own = tuple(key for key in keys_of(model) if key not in (*keys_of(PieceBase), "kind"))
        doc = (model.__doc__ or "").strip()
        note = model.REFERENCE
        parts.append(f"### {kinds}\n\n{doc}{' ' + note if note else ''}\n\n{_keys(model, only=own)}")
    parts.append("### A fold: `{width = ..., toward = ...}`\n\n" + _keys(HemSpec))
    parts.append("In `start_hem` and `end_hem` of a section also:\n\n" + _keys(EndHem, only=("double",)))
    parts.append(
        "### Turned ends of a section: `end_dams = [{leg = 2, height = ...}]`, `returns = [{leg = 1, ...}]`\n\n"
        + ENDS_NOTE
        + "\n\n"
        + _keys(EndDam)
        + "\n\nA return has, in place of the height:\n\n"
        + _keys(EndReturn, only=("length",))
    )
    parts.append("In `folds` of an outline also:\n\n" + _keys(EdgeFold, only=("edge",)))
    return "\n\n".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyWords:
    """What is said of one key: the values it takes, its default, its meaning; `needed` when it has no default.

    Keys and values stand in backquotes, as in the page.
    """

    key: str
    value: str
    default: str
    meaning: str
    needed: bool


@cache  # a model does not change
def key_words(model: type[BaseModel]) -> tuple[KeyWords, ...]:
    """What is said of every key a table takes, in the model's order."""
    found = []
    for name, info in model.model_fields.items():
        key = info.alias or name
        if key in HIDDEN:
            continue
        meaning = info.description or SLOPE_WORDS.get(f"{model.__name__}.{key}", "")
        default = _default(model, key, info.is_required(), info.get_default(call_default_factory=True))
        value = _value(info.annotation, info.metadata)
        found.append(KeyWords(key=key, value=value, default=default, meaning=meaning, needed=default == NEEDED))
    return tuple(found)


def _keys(model: type[BaseModel], *, only: tuple[str, ...] | None = None) -> str:
    rows = ["| key | value | default | meaning |", "|---|---|---|---|"]
    for said in key_words(model):
        if only is None or said.key in only:
            cells = (f"`{said.key}`", said.value, said.default, said.meaning)
            rows.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(rows)


def _value(annotation: Any, metadata: list[Any]) -> str:
    """What may be written, in words."""
    for item in metadata:
        said = says(getattr(item, "func", None))
        if said:
            return said
    if hasattr(annotation, "__metadata__"):
        return _value(get_args(annotation)[0], list(annotation.__metadata__))
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return ", ".join(f'`"{choice}"`' for choice in args)
    if annotation is bool:
        return "`true` or `false`"
    if annotation is str:
        return "text"
    if annotation is int:
        return "whole number"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "`{...}`"
    if origin is tuple:
        inner = [arg for arg in args if arg is not Ellipsis]
        if len(inner) == 2 and Ellipsis not in args:
            return f"[a, b], each {_value(inner[0], [])}"
        return f"list of {_value(inner[0], [])}"
    if origin is dict and get_args(args[1])[:1] == (int,):
        return "`{mark = count}`"
    if origin is dict:
        return f"`{{edge = ...}}`, each {_value(args[1], [])}"
    return " or ".join(_value(arg, []) for arg in args if arg is not NoneType)


def _default(model: type[BaseModel], key: str, required: bool, default: Any) -> str:
    own: dict[str, str] = getattr(model, "DEFAULTS", {})
    named = (DEFAULT_WORDS.get(f"{kind.__name__}.{key}") for kind in model.__mro__)
    words = next(filter(None, named), None) or own.get(key)
    if words is not None:
        return words
    filled = _FILLED.get(model.__name__, {}).get(key)
    if filled is not None:
        return str(filled)
    if required:
        return NEEDED
    if default is None or default in ("", (), {}):
        return "none"
    if isinstance(default, bool):
        return f"`{str(default).lower()}`"
    if isinstance(default, Spare):
        return "0 %"
    if isinstance(default, tuple):
        return "[" + ", ".join(f"{item:g}" for item in default) + "]"
    return _number(default, key) if not isinstance(default, str) else f'`"{default}"`'


def _number(default: Any, key: str) -> str:
    if isinstance(default, int) and abs(default) >= 10_000:
        return defaults.show_inches(default)
    if key in ("centre_at", "confidence"):
        return f"{float(default) * 100:g} %"
    return f"{float(default):g}"


def _shapes() -> str:
    rows = ["| shape | needs | may take |", "|---|---|---|"]
    for shape, (ways, extra) in SHAPE_KEYS.items():
        needs = " or ".join(" + ".join(f"`{key}`" for key in way) for way in ways)
        rows.append(f'| `"{shape}"` | {needs} | {", ".join(f"`{key}`" for key in extra)} |')
    return "\n".join(rows)


if __name__ == "__main__":
    sys.stdout.write(reference_text())
