"""Turned ends on a section's sheet: where their lines lie, and the corners to mark and snip."""

from __future__ import annotations

from fabplan.blanks.model import FlatPattern, Fold
from fabplan.packet.model import Block, Column, Table
from fabplan.speech.ends import JOINTS, fold_title
from fabplan.speech.format import Say
from fabplan.units import NM_PER_INCH, from_inches, to_grid

MOST_CORNERS = 9  # side by side
CORNERS = "Corners at {}, in turn from the start edge, sizes in {}"


def end_blocks(p: FlatPattern, say: Say) -> list[Block]:
    """Lines of the turned ends, then the corners of what is left of each end."""
    if not p.ends:
        return []
    along = p.length_units * p.grid / NM_PER_INCH
    rows = []
    for end in p.ends:
        for fold in (end.fold, *end.tabs):
            joined = JOINTS[end.joined] if fold is end.fold else ""
            sizes = (_at(fold.width, p, say), _line(p, fold, end.at, along, say))
            turn = f"{say.degrees(fold.turned)} to the {fold.toward}"
            rows.append((str(fold.edge), fold_title(p, fold.edge), *sizes, turn, joined))
    table = Table(
        name=f"Turned ends, sizes in {say.units}",
        columns=(
            Column(title="Fold", align="centre", strong=True, size=12),
            Column(title="What", size=9, share=1),
            Column(title="Wide", align="right", size=12, strong=True),
            Column(title="Line from its end", align="right", size=14, strong=True),
            Column(title="Turn", size=9),
            Column(title="Corners", size=9),
        ),
        rows=tuple(rows),
        close=True,
    )
    corners = [(at, _corners(p, at, along, say)) for at in ("A", "B") if any(e.at == at for e in p.ends)]
    if len(corners) == 2 and corners[0][1] == corners[1][1]:
        corners = [("A and B", corners[0][1])]
    return [
        table,
        *(t for at, pairs in corners for t in _tables(f"{'ends' if len(at) > 1 else 'end'} {at}", pairs, say)),
    ]


def _at(size: float, p: FlatPattern, say: Say) -> str:
    return say.bare(to_grid(from_inches(size), p.grid) * p.grid)


def _line(p: FlatPattern, fold: Fold, at: str, along: float, say: Say) -> str:
    """From the sheared end to the fold line; of a tab along a leg that is mitred, at both its ends."""
    sizes = [_at(y if at == "A" else along - y, p, say) for _, y in sorted(fold.line)]
    return sizes[0] if sizes[0] == sizes[1] else f"{sizes[0]} to {sizes[1]}"


def _corners(p: FlatPattern, at: str, along: float, say: Say) -> list[tuple[str, str]]:
    """Corners of one end, from the start edge to the finish edge: across, and from the sheared end."""
    own = [q for q in p.snipped if (q[1] < along / 2) == (at == "A")]
    own = own if at == "A" else own[::-1]
    return [(_at(x, p, say), _at(y if at == "A" else along - y, p, say)) for x, y in own]


def _tables(name: str, pairs: list[tuple[str, str]], say: Say) -> list[Block]:
    """The corners side by side, in as many rows of the page as they need."""
    title = CORNERS.format(name, say.units)
    out: list[Block] = []
    share = -(-len(pairs) // -(-len(pairs) // MOST_CORNERS))
    for first in range(0, len(pairs), share):
        part = pairs[first : first + share]
        columns = (
            Column(title=f"{name[0].upper()}{name[1:]}", size=9, strong=True),
            *(Column(title=str(first + n), align="centre", size=12, share=1) for n in range(1, len(part) + 1)),
        )
        rows = (("From start", *(a for a, _ in part)), ("From end", *(b for _, b in part)))
        more = f", {first + 1} to {first + len(part)}" if len(part) < len(pairs) else ""
        out.append(Table(name=title + more, columns=columns, rows=rows, close=True))
    return out
