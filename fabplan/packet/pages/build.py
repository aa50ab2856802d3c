"""All pages of a plan, in the order they are used."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import fabplan
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.packet.model import STATIONS, Packet, Page, Paper, Station
from fabplan.packet.pages.bend import unbent_pages
from fabplan.packet.pages.cover import banner, caution_page, cover
from fabplan.packet.pages.cut_shapes import cut_shape_pages, shape_tiles
from fabplan.packet.pages.lists import buying_list, cut_list
from fabplan.packet.pages.piece import piece_pages
from fabplan.packet.pages.reading import reading_page
from fabplan.packet.pages.roof import roof_pages
from fabplan.packet.pages.setups import setup_page
from fabplan.packet.pages.shear import shear_pages
from fabplan.packet.pages.template import template_pages, tile_pages
from fabplan.packet.setting.fit import fitted
from fabplan.plan.model import Plan
from fabplan.speech.format import Say

FOR_ALL = ("cautions", "reading")
STATION: dict[str, Station] = {
    "shear": "shear", "setup": "bench", "roof": "roof",
}  # fmt: skip


def build_packet(plan: Plan, *, paper: str = "letter", stations: Iterable[Station] = STATIONS) -> Packet:
    """Decide every page of a plan's packet, station by station.

    Parameters
    ----------
    plan : Plan
        Checked results.
    paper : {"letter", "a4"}
    stations : iterable of Station
        The sheets wanted; the cautions and the key stand before any of them.
    """
    return build_packets(plan, (stations,), paper=paper)[0]


def build_packets(plan: Plan, several: Iterable[Iterable[Station]], *, paper: str = "letter") -> tuple[Packet, ...]:
    """Packets of some stations each, their pages made once; the rest as for `build_packet`."""
    say = Say.of(plan.job)
    size: Paper = "a4" if paper == "a4" else "letter"
    pages: list[Page | None] = [
        buying_list(plan, say),
        cut_list(plan, say),
        caution_page(plan),
        reading_page(plan),
        *shear_pages(plan, say, size),
        *piece_pages(plan, say, size),
        setup_page(plan, say),
        *unbent_pages(plan),
        *roof_pages(plan, say, size),
        *cut_shape_pages(plan, say),
    ]
    found = [replace(page, station=STATION.get(page.kind, page.station)) for page in pages if page is not None]
    return tuple(_of_stations(plan, say, size, found, set(stations)) for stations in several)


def _of_stations(plan: Plan, say: Say, size: Paper, found: list[Page], wanted: set[Station]) -> Packet:
    kept = [page for page in found if page.station in wanted or page.kind in FOR_ALL]
    kept.sort(key=_place)
    if "office" in wanted:
        kept.insert(0, cover(plan, say, kept))
    return replace(_packet(plan.job, tuple(kept), size, banner(plan)), after=plan.job.done.sheets)


def _place(page: Page) -> float:
    """Stacks in the order of the work; what hangs on the wall after the office's."""
    return 0.5 if page.kind in FOR_ALL else STATIONS.index(page.station)


def template_file(plan: Plan, *, paper: str = "letter") -> Packet | None:
    """The full-scale templates, a file of their own; None when a ruler lays out every piece."""
    pages = (*template_pages(plan), *shape_tiles(plan))
    return _packet(plan.job, pages, "a4" if paper == "a4" else "letter", "") if pages else None


def template_packet(job: Job, pattern: FlatPattern, *, paper: str = "letter") -> Packet:
    """The full-scale template of one piece alone."""
    return _packet(job, tuple(tile_pages(job, pattern)), "a4" if paper == "a4" else "letter", "")


def _packet(job: Job, pages: tuple[Page, ...], paper: Paper, banner: str) -> Packet:
    info = job.info
    return Packet(
        number=info.number,
        name=info.name,
        revision=info.revision,
        date=info.date,
        paper=paper,
        pages=tuple(fitted(page, paper, banner=bool(banner)) for page in pages),
        banner=banner,
        units=info.units,
        fabplan=fabplan.__version__,
    )
