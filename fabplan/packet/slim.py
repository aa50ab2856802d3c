"""Drawings made smaller for the screen version: shared looks become classes, coordinates keep 0.01 mm."""

from __future__ import annotations

import re

_TAG = re.compile(r"<(?:path|circle|text|tspan)\b[^>]*>")
_LOOK = re.compile(r'(?: (?:fill|stroke|stroke-width|stroke-dasharray|font-size|font-weight|text-anchor)="[^"]*")+')
_ONE = re.compile(r'([\w-]+)="([^"]*)"')
_LONG = re.compile(r"(\d+\.\d{2})\d+")


class Looks:
    """Names the looks of drawings in the order they are met, and writes them as one style."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}

    def slim(self, svg: str) -> str:
        """`svg` with every look of its lines and words replaced by a class. Words themselves are left alone."""
        return _TAG.sub(lambda tag: self._tag(tag.group()), svg)

    def _tag(self, tag: str) -> str:
        return _LOOK.sub(self._look, _LONG.sub(_rounded, tag) if tag.startswith("<path") else tag)

    def _look(self, match: re.Match[str]) -> str:
        look = match.group()
        if len(look) < 14:
            return look
        name = self._names.setdefault(look, f"k{len(self._names)}")
        return f' class="{name}"'

    def style(self) -> str:
        """The style rules of all looks met so far."""
        rules = []
        for look, name in self._names.items():
            said = ";".join(f"{key}:{_unit(key, value)}" for key, value in _ONE.findall(look))
            rules.append(f".{name}{{{said}}}")
        return "\n".join(rules)


def _rounded(match: re.Match[str]) -> str:
    return f"{float(match.group()):.2f}"


def _unit(key: str, value: str) -> str:
    return f"{value}px" if key == "font-size" else value
