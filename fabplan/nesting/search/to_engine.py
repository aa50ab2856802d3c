"""Between the job's groups and the engine's integer problems."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from fabplan.nesting.cuts.layouts import LayoutDraft, merged
from fabplan.nesting.cuts.order import Axis
from fabplan.nesting.engine.problem import Item, Limits, Node, OffcutCredit, Pattern, Problem, StockSize, leaves
from fabplan.nesting.problem import Group, StockLine
from fabplan.nesting.search.rivals import Piece


def engine_problem(group: Group, pieces: Sequence[Piece], *, scale: int = 1, sized: bool = False) -> Problem:
    """The engine's problem for these pieces; pieces and stock are keyed by their place in the lists.

    Lengths are in 1/`scale` graduations; with `sized` the pieces already are.

    A piece that may lie one way only is handed over as it lies on the first stock; `keeps_frame` says whether it lies
    the same on stock rolled the other way.
    """
    lines = usable_stock(group)
    by = 1 if sized else scale
    items = [_item(n, p, lines, by) for n, p in enumerate(pieces)]
    limits = group.limits
    return Problem(
        items=tuple(items),
        stock=tuple(_engine_stock(s, group.stock.index(s), scale) for s in lines),
        limits=Limits(
            longest_cut=limits.longest_cut * scale,
            back_gauge=limits.reach * scale,
            coil_cut_off_to_mark=limits.cut_off_to_mark,
            least_held=limits.least_held * scale,
            stages=limits.stages,
            kerf=limits.kerf * scale,
        ),
    )


def _item(key: int, piece: Piece, lines: Sequence[StockLine], by: int) -> Item:
    by_grain = {s.grain_across: piece.ways(s) for s in lines}
    ahead = by_grain.get(False)
    locked = all(len(w) == 1 for w in by_grain.values())
    follows = locked and (ahead is None or by_grain.get(True, ahead) != ahead)
    turned = locked and (by_grain[True] == (False,) if ahead is None else ahead == (True,))
    w, h = (piece.length, piece.width) if turned else (piece.width, piece.length)
    return Item(
        key=key, width=w * by, length=h * by, count=piece.count, may_turn=not locked, keeps_frame=locked and not follows
    )


def _engine_stock(line: StockLine, key: int, scale: int) -> StockSize:
    return StockSize(
        key=key,
        form="coil" if line.form == "coil" else "sheet",
        width=line.width * scale,
        length=line.length * scale,
        cost=line.cost / (scale if line.form == "coil" else 1),
        available=line.on_hand if line.on_hand is None or line.form != "coil" else line.on_hand * scale,
        trim=line.trim * scale,
        grain_across=line.grain_across,
    )


def usable_stock(group: Group) -> list[StockLine]:
    """Stock the engine can be offered: some of it on hand, wide enough to trim, narrow enough to cut off."""
    return [
        s
        for s in group.stock
        if (s.on_hand is None or s.on_hand > 0)
        and s.usable_width > 0
        and s.usable_length > 0
        and (s.form != "coil" or s.width <= group.limits.longest_cut)
    ]


def drafts(patterns: Sequence[Pattern], group: Group, pieces: Sequence[Piece]) -> list[LayoutDraft]:
    """The engine's patterns as drafts of the job's own cells; pieces made beyond the count are left uncut."""
    out: list[LayoutDraft] = []
    sheets = [(p, leaves(p.root)) for p in patterns]
    over = Counter({n: -p.count for n, p in enumerate(pieces)})
    for pattern, cells in sheets:
        for leaf in cells:
            assert isinstance(leaf.piece, int)
            over[leaf.piece] += pattern.repeat
    for pattern, cells in sorted(sheets, key=lambda s: s[0].repeat):
        repeat = pattern.repeat
        while repeat and any(over[_key(leaf)] > 0 for leaf in cells):
            rest: list[Node] = []
            for leaf in cells:
                if over[_key(leaf)] > 0:
                    over[_key(leaf)] -= 1
                else:
                    rest.append(leaf)
            repeat -= 1
            if rest:
                out.append(_draft(pattern, rest, group, pieces, 1))
        if repeat:
            out.append(_draft(pattern, cells, group, pieces, repeat))
    return merged(out)


def _key(leaf: Node) -> int:
    assert isinstance(leaf.piece, int)
    return leaf.piece


def _draft(pattern: Pattern, parts: Sequence[Node], group: Group, pieces: Sequence[Piece], repeat: int) -> LayoutDraft:
    assert isinstance(pattern.stock, int)
    line = group.stock[pattern.stock]
    cells = []
    for leaf in parts:
        piece = pieces[_key(leaf)]
        turned = (leaf.width, leaf.length) != (piece.width, piece.length)
        if piece.width == piece.length:
            turned = piece.ways(line)[0]
        cells.append(piece.make(leaf.x, leaf.y, turned))
    length = max(c.y + c.length for c in cells) if line.form == "coil" else line.length
    return LayoutDraft(stock=line.name, length=length, cells=tuple(cells), repeat=repeat, first=_first(pattern.root))


def _first(root: Node) -> Axis | None:
    node = root
    while node.axis is not None and len(node.parts) == 1:
        node = node.parts[0]
    return node.axis


def credit(group: Group, share: Fraction) -> OffcutCredit | None:
    """What a kept offcut is worth to the engine: a share of the cheapest bought metal's price."""
    rates = [s.cost_per_area for s in group.stock if s.form != "offcut" and s.usable_width > 0]
    if not share or group.keep is None or not rates:
        return None
    return OffcutCredit(short_side=group.keep[0], long_side=group.keep[1], per_area=share * min(rates))
