"""All pages of a plan, in the order they are used."""

from __future__ import annotations

import fabplan
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.packet.model import Packet, Page, Paper
from fabplan.packet.pages.bend import bend_pages, unbent_pages
from fabplan.packet.pages.blank import blank_pages
from fabplan.packet.pages.cover import banner, caution_page, cover
from fabplan.packet.pages.cut_shapes import cut_shape_pages
from fabplan.packet.pages.lists import buying_list, cut_list
from fabplan.packet.pages.program import program_page
from fabplan.packet.pages.roof import roof_pages
from fabplan.packet.pages.setups import setup_page
from fabplan.packet.pages.shear import shear_pages
from fabplan.packet.pages.template import template_pages, tile_pages
from fabplan.packet.setting.fit import fitted
from fabplan.plan.model import Plan
from fabplan.speech.format import Say


def build_packet(plan: Plan, *, paper: str = "letter") -> Packet:
    """Decide every page of a plan's packet.

    Parameters
    ----------
    plan : Plan
        Checked results.
    paper : {"letter", "a4"}
    """
    say = Say.of(plan.job)
    size: Paper = "a4" if paper == "a4" else "letter"
    pages: list[Page | None] = [
        caution_page(plan),
        buying_list(plan, say),
        cut_list(plan, say),
        *blank_pages(plan, say, size),
        *shear_pages(plan, say, size),
        program_page(plan, say),
        setup_page(plan, say),
        *bend_pages(plan, say),
        *unbent_pages(plan),
        *roof_pages(plan),
        *cut_shape_pages(plan, say),
        *template_pages(plan),
    ]
    found = tuple(page for page in pages if page is not None)
    return _packet(plan.job, (cover(plan, say, found), *found), size, banner(plan))


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
