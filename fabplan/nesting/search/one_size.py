"""The pencil plan: one size per strip, as people draw it by hand, cut like any other plan."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fabplan.nesting.cuts.layouts import LayoutDraft, amount, cost, finish, merged, pulled
from fabplan.nesting.cuts.order import NotCuttableError
from fabplan.nesting.problem import Group, StockLine
from fabplan.nesting.remarks import Outcome
from fabplan.nesting.search.rivals import Piece, Tried


def pencil_plan(group: Group, pieces: Sequence[Piece]) -> Tried:
    """The plan people draw by hand: every strip holds one size, every panel or sheet the strips of one size."""
    left = {s.name: s.on_hand for s in group.stock}
    drafts: list[LayoutDraft] = []
    for piece in sorted(pieces, key=lambda p: (-p.width * p.length, p.key)):
        need = piece.count
        while need:
            made = _best_block(group, piece, need, left)
            if made is None:
                outcome = Outcome(what="no_strip", mark=piece.key)
                return Tried(way="one_size", layouts=None, total=None, outcome=outcome)
            for draft in made:
                line = group.line(draft.stock)
                have = left[line.name]
                if have is not None:
                    left[line.name] = have - amount(line, [draft], group.limits.kerf)
                need -= draft.repeat * len(draft.cells)
            drafts += made
    try:
        layouts = tuple(finish(d, group) for d in pulled(merged(drafts), group))
    except NotCuttableError:
        return Tried(way="one_size", layouts=None, total=None, outcome=Outcome(what="not_cuttable"))
    return Tried(way="one_size", layouts=layouts, total=cost(group, layouts), outcome=Outcome(what="one_size"))


def _best_block(group: Group, piece: Piece, need: int, left: dict[str, int | None]) -> list[LayoutDraft] | None:
    """Panels or sheets of one size that make `need` pieces (or what the stock allows) at least cost a piece."""
    kerf = group.limits.kerf
    best: tuple[Fraction, int, list[LayoutDraft]] | None = None
    for line in group.stock:
        have = left[line.name]
        for turned in piece.ways(line):
            w, h = (piece.length, piece.width) if turned else (piece.width, piece.length)
            across = (line.usable_width + kerf) // (w + kerf)
            along = (line.usable_length + kerf) // (h + kerf)
            if across < 1 or along < 1:
                continue
            for abreast in range(across, 0, -1):
                if abreast < across and best is not None:
                    break  # fewer than fit only where what is left over could not be trimmed
                for rows in _rows(along, -(-need // abreast), line.form == "coil"):
                    drafts = _grid_drafts(group, line, piece, turned, (abreast, rows), need, have)
                    if not drafts:
                        continue
                    made = sum(d.repeat * len(d.cells) for d in drafts)
                    value = (cost(group, drafts) / made, -made, drafts)
                    if (best is None or value[:2] < best[:2]) and _cuttable(group, drafts):
                        best = value
    return None if best is None else best[2]


def _rows(most: int, enough: int, coil: bool) -> list[int]:
    """Row counts worth trying: as many as fit, then fewer (a short shear cannot rip a long panel)."""
    top = min(most, enough) if coil else most
    return sorted({top, *(max(1, top * n // 6) for n in range(1, 6)), 1}, reverse=True) if coil else [top]


def _grid_drafts(
    group: Group,
    line: StockLine,
    piece: Piece,
    turned: bool,
    size: tuple[int, int],
    need: int,
    have: int | None,
) -> list[LayoutDraft]:
    across, rows = size
    kerf = group.limits.kerf
    w, h = (piece.length, piece.width) if turned else (piece.width, piece.length)

    def draft(count: int, repeat: int) -> LayoutDraft:
        deep = -(-count // across)
        end = 0 if line.form == "coil" else line.trim
        cells = [
            piece.make(line.trim + (n % across) * (w + kerf), end + (n // across) * (h + kerf), turned)
            for n in range(count)
        ]
        length = deep * (h + kerf) - kerf if line.form == "coil" else line.length
        return LayoutDraft(stock=line.name, length=length, cells=tuple(cells), repeat=repeat)

    full, rest = divmod(need, across * rows)
    if have is not None:
        each = rows * (h + kerf) if line.form == "coil" else 1
        most = have // each
        if most < full or (most == full and rest):
            full, rest = min(full, most), 0
    drafts = [draft(across * rows, full)] if full else []
    return drafts + ([draft(rest, 1)] if rest else [])


def _cuttable(group: Group, drafts: Sequence[LayoutDraft]) -> bool:
    try:
        for d in drafts:
            finish(d, group)
    except NotCuttableError:
        return False
    return True
