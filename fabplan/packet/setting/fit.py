"""Tables set closer where that spares a sheet which would hold next to nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from fabplan.packet.model import Block, Heading, Page, Paper, Para, Shots, Table
from fabplan.packet.setting.page_estimate import TITLE, body, points, stack_height

NEARLY_EMPTY = 0.35  # of a sheet
LARGE = 12.0  # points by which a full sheet is reckoned too high, at least


def fitted(page: Page, paper: Paper, *, banner: bool) -> Page:
    """The page, its tables set closer when they then take a sheet less and the last one held little."""
    wide, high = (
        points(side) for side in body(paper, landscape=page.landscape, banner=banner, caution=bool(page.caution))
    )
    blocks: list[Block] = []
    for n, part in enumerate(_parts(page.blocks)):
        if any(not isinstance(b, (Heading, Para, Table)) for b in part):
            blocks += part
            continue
        closer = [replace(b, close=True) if isinstance(b, Table) else b for b in part]
        usual, less = (stack_height(p, wide) - LARGE + (TITLE if n == 0 else 0.0) for p in (part, closer))
        spared = math.ceil(less / high) < math.ceil(usual / high)
        blocks += closer if spared and usual % high < NEARLY_EMPTY * high else part
    return replace(page, blocks=tuple(blocks))


def _parts(blocks: Sequence[Block]) -> Iterator[list[Block]]:
    """Blocks in runs: a table that starts a sheet, and the heading of small pictures, begin a new one."""
    part: list[Block] = []
    shots = any(isinstance(block, Shots) for block in blocks)
    last = max((n for n, block in enumerate(blocks) if isinstance(block, Heading)), default=-1) if shots else -1
    for n, block in enumerate(blocks):
        if part and (n == last or (isinstance(block, Table) and block.fresh)):
            yield part
            part = []
        part.append(block)
    yield part
