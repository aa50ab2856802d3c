"""The order in which the shear's settings are taken, so that few are needed: trees of cuts brought to their least.

Cuts that follow one another at one setting are one; layouts that go on alike are one; a cut to a mark needs no setting
and stands in nobody's way. A setting that nothing still locked needs is always taken at once: in every order it is
needed once more, and once is enough.
Where each setting that is ready will be needed again, a few orders are followed side by side, those first that can
still end with the fewest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import numpy.typing as npt

Setting = tuple[int | None, float]
BESIDE = 8  # orders followed side by side
BRANCHES = 8  # settings tried where none is free
WORK = 4_000  # orders looked at before only the best is followed


class CutNode(Protocol):
    """What is read of a cut: its setting and the places of the cuts on the pieces it frees."""

    setting: Setting
    after: list[int]


@dataclass
class Trees:
    """Trees of cuts, every different one once; `least[i, s]`: how often one chain of tree i comes to setting s."""

    settings: list[Setting] = field(default_factory=list)
    own: list[int] = field(default_factory=list)
    kids: list[frozenset[int]] = field(default_factory=list)
    below: list[int] = field(default_factory=list)
    chains: list[dict[int, int]] = field(default_factory=list)
    _number: dict[Setting, int] = field(default_factory=dict)
    _known: dict[tuple[int, frozenset[int]], int] = field(default_factory=dict)
    _least: npt.NDArray[np.int64] | None = None

    def add(self, nodes: Sequence[CutNode], roots: Iterable[int]) -> frozenset[int]:
        """The trees that stand ready where these cuts do; parents come before what follows them in `nodes`."""
        shown: list[frozenset[int]] = [frozenset()] * len(nodes)
        for k in range(len(nodes) - 1, -1, -1):
            node = nodes[k]
            after = frozenset().union(*(shown[a] for a in node.after))
            shown[k] = after if node.setting[0] is None else frozenset((self._tree(node.setting, after),))
        return frozenset().union(*(shown[k] for k in roots))

    def _tree(self, setting: Setting, after: frozenset[int]) -> int:
        s = self._number.setdefault(setting, len(self.settings))
        if s == len(self.settings):
            self.settings.append(setting)
        kids: set[int] = set()
        for i in after:
            if self.own[i] == s:
                kids |= self.kids[i]
            else:
                kids.add(i)
        key = (s, frozenset(kids))
        at = self._known.get(key)
        if at is None:
            at = self._known[key] = len(self.own)
            chain: dict[int, int] = {}
            for i in kids:
                for t, n in self.chains[i].items():
                    chain[t] = max(chain.get(t, 0), n)
            below = 0
            for t in chain:
                below |= 1 << t
            chain[s] = chain.get(s, 0) + 1
            self.own.append(s)
            self.kids.append(key[1])
            self.below.append(below)
            self.chains.append(chain)
            self._least = None
        return at

    @property
    def least(self) -> npt.NDArray[np.int64]:
        """See the class."""
        if self._least is None:
            self._least = np.zeros((len(self.own), len(self.settings)), dtype=np.int64)
            for i, chain in enumerate(self.chains):
                self._least[i, list(chain)] = list(chain.values())
        return self._least


@dataclass(frozen=True, slots=True)
class _State:
    """What is still to cut, settings taken, the choices made where none was free, and the fewest it can end with."""

    ready: frozenset[int]
    taken: int
    choices: tuple[Setting, ...]
    least: int


def fewest(trees: Trees, ready: frozenset[int], beside: int = BESIDE) -> tuple[int, list[tuple[Setting, ...]]]:
    """Settings needed, and the orders found that need no more: the choices in turn where no setting was free."""
    first, free = _freed(trees, ready)
    beam = [_State(first, free, (), free + _least(trees, first))]
    ended: list[_State] = []
    work = 0
    while beam:
        ended += [s for s in beam if not s.ready]
        best = min((s.taken for s in ended), default=None)
        beam = [s for s in beam if s.ready and (best is None or s.least <= best)]
        new: dict[frozenset[int] | tuple[Setting, ...], _State] = {}
        for state in beam:
            for s in _branches(trees, state.ready):
                work += 1
                after, more = _freed(trees, _cut(trees, state.ready, 1 << s))
                taken = state.taken + 1 + more
                made = _State(after, taken, (*state.choices, trees.settings[s]), taken + _least(trees, after))
                key = after or made.choices
                old = new.get(key)
                if old is None or _rank(made) < _rank(old):
                    new[key] = made
        beam = sorted(new.values(), key=_rank)[: beside if work < WORK else 1]
    ended.sort(key=_rank)
    return ended[0].taken, [s.choices for s in ended if s.taken == ended[0].taken]


def _rank(state: _State) -> tuple[int, int, tuple[Setting, ...]]:
    return state.least, -state.taken, state.choices


def _least(trees: Trees, ready: frozenset[int]) -> int:
    return int(trees.least[list(ready)].max(axis=0).sum()) if ready else 0


def _cut(trees: Trees, ready: frozenset[int], which: int) -> frozenset[int]:
    """Everything ready cut at the settings of a mask."""
    out: set[int] = set()
    for i in ready:
        if which >> trees.own[i] & 1:
            out |= trees.kids[i]
        else:
            out.add(i)
    return frozenset(out)


def _freed(trees: Trees, ready: frozenset[int]) -> tuple[frozenset[int], int]:
    """What is left when every setting nothing locked needs has been taken, and how many those are."""
    taken = 0
    while ready:
        own = locked = 0
        for i in ready:
            own |= 1 << trees.own[i]
            locked |= trees.below[i]
        free = own & ~locked
        if not free:
            break
        taken += free.bit_count()
        ready = _cut(trees, ready, free)
    return ready, taken


def _branches(trees: Trees, ready: frozenset[int]) -> list[int]:
    """Settings to try where none is free: those that least of what is ready still locks."""
    own = {trees.own[i] for i in ready}
    locks = {s: sum(trees.below[i] >> s & 1 for i in ready) for s in own}
    done = {s: sum(trees.own[i] == s for i in ready) for s in own}
    return sorted(own, key=lambda s: (locks[s], -done[s], trees.settings[s][0] or 0, trees.settings[s][1]))[:BRANCHES]
