"""Full-scale templates, one tile a page, printed at 100 %."""

from __future__ import annotations

from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.packet.model import Page, Picture, Tile
from fabplan.packet.pages.pictures import template_tiles
from fabplan.plan.model import Plan
from fabplan.speech.format import Say

MOST_TILES = 16


def template_pages(plan: Plan) -> list[Page]:
    """Templates of the pieces a ruler alone does not lay out: those with snips, or with slanted edges.

    A piece of more than `MOST_TILES` tiles is left to the ``template`` command.
    """
    pages: list[Page] = []
    for number, pattern in enumerate(plan.patterns, 1):
        if pattern.count and pattern.section is None and (pattern.notches or not pattern.rectangular):
            tiles = tile_pages(plan.job, pattern, number)
            pages += tiles if len(tiles) <= MOST_TILES else []
    return pages


def tile_pages(job: Job, pattern: FlatPattern, number: int = 1) -> list[Page]:
    """Every tile of one piece's template as a page."""
    info = job.info
    says = f"{info.number} rev {info.revision}" if info.revision else info.number
    pages = []
    for n, drawing in enumerate(template_tiles(pattern, Say.of(job).show, says, number), 1):
        along, up = ("150 mm", "100 mm") if info.units == "mm" else ("6 in", "4 in")
        alt = f"{drawing.title}. Print at 100 %: the bar must measure {along}, the upright one {up}."
        pages.append(
            Page(
                key=f"template-{number}-{n}",
                kind="template",
                title=drawing.title,
                blocks=(Tile(picture=Picture(drawing=drawing, alt=alt)),),
                on_screen=False,
            )
        )
    return pages
