"""Drawings as HTML for the page: painted once, by whoever has them, and handed on as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fabplan.plotter.model import Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A drawing with its title and the words that stand for it."""

    title: str
    drawing: Drawing
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Drawings as they stand in the page: (title, HTML) of each, every string of the job escaped, and their style."""

    drawn: tuple[tuple[str, str], ...] = ()
    style: str = ""


def figures(pictures: Sequence[Shown], lead: str) -> Figures:
    """Paint drawings; `lead` begins the names of their style, one for each place on the page."""
    if not pictures:
        return Figures()
    from fabplan.packet.model import Picture
    from fabplan.packet.output.html import figure
    from fabplan.packet.setting.small_svg import Looks

    looks = Looks(lead)
    drawn = tuple((p.title, figure(Picture(drawing=p.drawing, alt=p.alt), looks)) for p in pictures)
    return Figures(drawn=drawn, style=looks.style())
