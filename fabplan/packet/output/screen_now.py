"""What now, station by station: the first sheet with an open box, and the contents by station.

Without the script each station leads to its first sheet; with it (screen.js) to the first that is not ticked, and a
station's sheets can be shown alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby

from fabplan.packet.model import Page

STATION_WORDS = {"office": "Office", "shear": "Shear", "bench": "Bench", "brake": "Brake", "roof": "Roof"}
WORK = ("shear", "piece", "roof")  # kinds of sheet that are done one after another; lists are not
_AT_WORK = ("shear", "bench", "brake", "roof")


def now_section(pages: Sequence[Page], words: Callable[[str], str]) -> Iterator[str]:
    """The first screen: a card for each station with work, its next sheet and how many are left."""
    yield '<section id="now" aria-labelledby="now-title"><h2 id="now-title">What now</h2>'
    yield '<div class="stations">'
    for station in _AT_WORK:
        first = next((p for p in pages if p.station == station and p.kind in WORK), None)
        if first is None:
            continue
        yield (
            f'<article class="station" data-station="{station}"><h3>{STATION_WORDS[station]}</h3>'
            f'<a class="next" href="#{first.key}"><span class="what">{words(first.title)}</span></a>'
            f'<p class="left" role="status"></p></article>'
        )
    yield "</div>"
    there = [s for s in STATION_WORDS if any(p.station == s for p in pages)]
    yield '<div class="only" role="group" aria-label="Sheets shown" hidden>'
    yield '<button type="button" data-only="" aria-pressed="true">All sheets</button>'
    for station in there:
        yield f'<button type="button" data-only="{station}" aria-pressed="false">{STATION_WORDS[station]}</button>'
    yield "</div></section>"


def contents(pages: Sequence[Page], words: Callable[[str], str]) -> Iterator[str]:
    """Links to every sheet, station by station."""
    yield '<nav id="contents" aria-label="Contents"><details><summary>All sheets</summary>'
    for station, group in groupby(pages, key=lambda p: p.station):
        yield f'<div data-station="{station}"><h3>{STATION_WORDS[station]}</h3><ol>'
        yield from (f'<li><a href="#{page.key}">{words(page.title)}</a></li>' for page in group)
        yield "</ol></div>"
    yield "</details></nav>"
