"""What a TOML text says, read once: who edits a file asks many times about the same few texts."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache
from typing import Any

KEPT = 8  # texts


def parsed(text: str, parse_float: Callable[[str], Any] = Decimal) -> dict[str, Any]:
    """Everything a TOML text says, for the caller to change; numbers as `parse_float` makes them.

    Raises
    ------
    tomllib.TOMLDecodeError
    """
    own: dict[str, Any] = _copied(_parsed(text, parse_float))
    return own


@lru_cache(maxsize=KEPT)
def _parsed(text: str, parse_float: Callable[[str], Any]) -> dict[str, Any]:
    return tomllib.loads(text, parse_float=parse_float)


def _copied(value: Any) -> Any:
    """Tables and lists anew; what stands in them never changes."""
    if isinstance(value, dict):
        return {key: _copied(item) for key, item in value.items()}
    return [_copied(item) for item in value] if isinstance(value, list) else value
