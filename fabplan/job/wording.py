"""Faults of model validation, said in shop words: the key, the rule, the value found, what to write."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from fabplan.errors import BadValueError, quoted
from fabplan.job.lines import Path

# What a missing or wrong key may look like; the rest are lengths.
EXAMPLES = {
    "JobInfo.name": '"Porch roof"', "Slope.name": '"north"', "HemTool.name": '"hand seamer"', "Stock.width": '"24 in"',
    "FlatSeamPiece.width": '"18 in"', "RectanglePiece.width": '"2 in"', "SectionPiece.length": '"48 in"',
    "name": '"coil 24"', "number": '"1042"', "mark": '"A"', "kind": '"diamond"', "for": '"A"', "form": '"coil"',
    "use": '"copper-16oz"', "toward": '"back"', "legs": '["3/4 in", "2-1/2 in"]', "shape": '"rectangle"',
    "piece": '"A"', "points": '[["0 in", "0 in"], ["6 in", "0 in"], ["6 in", "6 in"]]', "edge": "1",
    "largest_angle": "180", "metal": '"copper-16oz"', "turned": "180", "from": "1", "to": "3", "title": '"Copper"',
    "family": '"copper"', "weight": '"1.00 lb per sq ft"', "density": '"0.322 lb per cu in"',
    "expansion": '"9.8e-6 per F"', "bend_factor": "0.407", "yield_strength": '["20 ksi", "28 ksi"]',
    "modulus": '"17000 ksi"', "thickness": '"0.0216 in"', "length": '"24 in"', "hem": '"3/4 in"',
    "least_fold": '"1/4 in"',
    "greatest_fold": '"1-1/2 in"', "longest_fold": '"3-1/2 in"', "deduction": '"0.03 in"',
}  # fmt: skip

MOST_FAULTS = 60  # said of one file, or of one table


@dataclass(frozen=True, slots=True, kw_only=True)
class Reworded:
    """One fault. `path` is the place inside the validated table."""

    path: Path
    rule: str
    value: str | None = None
    write: str = ""


# Words for what a key of another name holds.
OTHER_WORDS = {
    "width": ("bottom",), "quantity": ("count",), "qty": ("count",), "number": ("count",), "material": ("use", "metal"),
    "angle": ("top_angle", "turned"), "size": ("side",), "cost": ("price",), "stock": ("on_hand",), "title": ("name",),
}  # fmt: skip


def nearest(key: str, valid: Iterable[str]) -> str | None:
    """The valid key a mistyped one most likely means."""
    plain = {name.lower(): name for name in valid}
    for meant in OTHER_WORDS.get(key.lower(), ()):
        if meant in plain:
            return plain[meant]
    near = get_close_matches(re.sub(r"[\s-]+", "_", key.lower()), plain, n=1, cutoff=0.6)
    return plain[near[0]] if near else None


HIDDEN = ("assumed", "roof_bend")  # fields of the models that are no keys of a file


def keys_of(model: type[BaseModel]) -> tuple[str, ...]:
    """Keys a table takes, as written in a file."""
    return tuple(info.alias or name for name, info in model.model_fields.items() if name not in HIDDEN)


def key_text(label: str, path: Path) -> str:
    """A key as messages call it: ``piece "A" > legs > 2``; list entries count from 1."""
    parts = [str(part + 1) if isinstance(part, int) else part[:60] + "..." * (len(part) > 60) for part in path]
    return " > ".join([label, *parts] if label else parts)


def listed(words: Iterable[str], last: str = "or") -> str:
    """``a, b or c``."""
    *first, end = words
    return f"{', '.join(first)} {last} {end}" if first else end


def choice(choices: Sequence[str]) -> str:
    """Advice for a choice: all of a few, or the first."""
    return listed([quoted(name) for name in choices]) if len(choices) <= 4 else f"for example {quoted(choices[0])}"


def unknown_key(key: str, valid: Iterable[str]) -> tuple[str, str]:
    """Rule and advice for a key a table does not take."""
    valid = tuple(valid)
    near = nearest(key, valid)
    return f"unknown key {quoted(key)}", quoted(near) if near else f"one of {', '.join(valid)}"


def reword(faults: ValidationError, model: type[BaseModel]) -> Iterator[Reworded]:
    """Each fault of a validation in shop words, one for a place."""
    placed = [(_path(fault["loc"]), dict(fault)) for fault in faults.errors(include_url=False)]
    around = {path[:end] for path, _ in placed for end in range(1, len(path))}
    seen: set[Path] = set()
    for path, fault in placed:
        if path in seen or path in around:
            continue  # said already, or it follows from a fault inside
        seen.add(path)
        yield _one(fault, path, model)
        if len(seen) == MOST_FAULTS:
            return


def _path(loc: tuple[int | str, ...]) -> Path:
    """Place without the names pydantic adds for the branches of a union."""
    return tuple(
        part for part in loc if isinstance(part, int) or not re.match(r"[A-Z]|literal\[|tuple\[|function", part)
    )


def _model_at(model: type[BaseModel], path: Path) -> type[BaseModel]:
    """Model of the table at a path inside another."""
    for part in path:
        if isinstance(part, int):
            continue
        for name, info in model.model_fields.items():
            if part in (name, info.alias):
                inner = _inner(info.annotation)
                if inner is not None:
                    model = inner
                break
    return model


def _inner(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in get_args(annotation):
        found = _inner(part)
        if found is not None:
            return found
    return None


def _one(fault: dict[str, Any], path: Path, model: type[BaseModel]) -> Reworded:
    kind, context, found = fault["type"], fault.get("ctx", {}), fault["input"]
    key = next((part for part in reversed(path) if isinstance(part, str)), "")
    example = EXAMPLES.get(f"{model.__name__}.{key}") or EXAMPLES.get(key, '"1/2 in"')
    if kind == "missing":
        if path and isinstance(path[-1], int):
            return Reworded(path=path[:-1], rule="must be a pair", value=quoted(found), write='["0 in", "0 in"]')
        return Reworded(path=path[:-1], rule=f"{quoted(key)} is missing", write=f"{key} = {example}")
    if kind == "extra_forbidden":
        rule, write = unknown_key(key, keys_of(_model_at(model, path[:-1])))
        return Reworded(path=path, rule=rule, write=write)
    if kind in ("value_error", "assertion_error"):
        error = context.get("error")
        if isinstance(error, BadValueError):
            return Reworded(path=path, rule=error.rule, value=error.value, write=error.write)
        return Reworded(path=path, rule=str(error))
    if key == "cut_fold" and not isinstance(found, dict):
        write = '"none", or {width = "1 in", toward = "back"}'
        return Reworded(path=path, rule='must be a fold or "none"', value=quoted(found), write=write)
    rule, write = _rule(kind, context, example)
    if kind == "literal_error":
        choices = re.findall(r"'([^']*)'", context["expected"])
        near = get_close_matches(str(found).lower(), choices, n=1, cutoff=0.6)
        rule = f"must be {listed(choices)}"
        write = quoted(near[0]) if near else choice(choices)
    return Reworded(path=path, rule=rule or str(fault["msg"]), value=quoted(found), write=write)


_BOUNDS = {
    "greater_than": ("must be more than", "gt"),
    "greater_than_equal": ("must be at least", "ge"),
    "less_than": ("must be less than", "lt"),
    "less_than_equal": ("must be at most", "le"),
}


def _rule(kind: str, context: dict[str, Any], example: str) -> tuple[str, str]:
    """Rule and advice for a kind of fault; ("", "") when there is none of its own."""
    if kind in _BOUNDS:
        words, name = _BOUNDS[kind]
        return f"{words} {context[name]}", "a value in that range"
    if kind in ("too_short", "string_too_short"):
        least = context["min_length"]
        return ("must not be empty", "a value") if least == 1 else (f"needs at least {least} entries", "more entries")
    if kind in ("too_long", "string_too_long"):
        return f"may have {context['max_length']} entries at most", "fewer entries"
    if kind.startswith("bool"):
        return "must be true or false", "true or false, without quotes"
    if kind.startswith("string"):
        return "must be text", "text in quotes"
    if kind in ("tuple_type", "list_type", "set_type"):
        return "must be a list", f"square brackets, for example {example if example[0] == '[' else f'[{example}]'}"
    if kind in ("model_type", "dict_type", "model_attributes_type", "dataclass_type"):
        return "must be a table", '{key = value, ...}, for example {width = "1/2 in", toward = "back"}'
    if kind.startswith("int"):
        return "must be a whole number", "a whole number without quotes"
    if kind.startswith(("float", "decimal", "finite")):
        return "must be a number", "a number without quotes"
    return "", ""
