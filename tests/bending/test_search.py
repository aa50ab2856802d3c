"""The search engine on random graphs, against relaxing every move until nothing changes."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from fabplan.bending.search import Cost, add, search

PLACES = 3
NODES = 12


class Graph:
    """States are numbers, the goal is the last one; some moves turn out impossible only when looked at."""

    def __init__(self, seed: int, *, with_estimate: bool) -> None:
        rng = random.Random(seed)
        self.edges: dict[int, list[tuple[Cost, int, int]]] = {n: [] for n in range(NODES)}
        self.bad: set[int] = set()
        for action in range(NODES * 3):
            a, b = rng.randrange(NODES), rng.randrange(NODES)
            self.edges[a].append((tuple(rng.randrange(3) for _ in range(PLACES)), action, b))
            if rng.random() < 0.3:
                self.bad.add(action)
        self.first = [n for n in range(NODES - 1) if rng.random() < 0.2] or [0]
        self.looked: list[int] = []
        self.low: dict[int, Cost] = dict.fromkeys(range(NODES), (0,) * PLACES)
        if with_estimate:
            self.low = {n: self._first_place(n) for n in range(NODES)}

    def _first_place(self, node: int) -> Cost:
        """Exact least of the first place alone over all moves, bad ones too: never too high, never falls too fast."""
        far = dict.fromkeys(range(NODES), 10**6) | {NODES - 1: 0}
        for _ in range(NODES):
            for a, moves in self.edges.items():
                for cost, _action, b in moves:
                    far[a] = min(far[a], cost[0] + far[b])
        return (far[node], 0, 0)

    def starts(self) -> Iterator[tuple[Cost, int]]:
        for n in self.first:
            yield (n % 2, 0, 1), n

    def done(self, state: int) -> bool:
        return state == NODES - 1

    def moves(self, state: int) -> Iterator[tuple[Cost, int, int]]:
        yield from self.edges[state]

    def allowed(self, state: int, action: int) -> bool:
        self.looked.append(action)
        return action not in self.bad

    def estimate(self, state: int) -> Cost:
        return self.low[state]

    def progress(self, state: int) -> int:
        return state

    def least(self) -> Cost | None:
        best: dict[int, Cost] = {}
        for cost, n in self.starts():
            best[n] = min(best.get(n, cost), cost)
        for _ in range(NODES * NODES):
            for a, moves in self.edges.items():
                for cost, action, b in moves:
                    if a in best and action not in self.bad:
                        best[b] = min(best.get(b, add(best[a], cost)), add(best[a], cost))
        return best.get(NODES - 1)


@pytest.mark.parametrize("seed", range(60))
def test_least_cost_or_proof_that_there_is_none(seed: int) -> None:
    graph = Graph(seed, with_estimate=seed % 2 == 1)
    found = search(graph)
    assert found.proven
    assert found.cost == graph.least()
    if found.cost is not None:
        total = next(c for c, n in graph.starts() if n == (found.path[0][0] if found.path else NODES - 1))
        for before, action, after in found.path:
            step = next(c for c, act, b in graph.edges[before] if act == action and b == after)
            assert action not in graph.bad
            total = add(total, step)
        assert total == found.cost
    assert len(found.reached) == found.states <= NODES


@pytest.mark.parametrize("seed", range(60))
def test_settling_finds_an_order_wherever_there_is_one(seed: int) -> None:
    graph = Graph(seed, with_estimate=False)
    found = search(graph, settle=True)
    least = graph.least()
    assert (found.cost is None) == (least is None)
    assert found.proven == (least is None)
    if found.cost is not None and least is not None:
        assert found.cost >= least


def test_work_cut_short_proves_nothing() -> None:
    graph = Graph(1, with_estimate=False)
    assert search(graph, most_states=1).proven is False


def test_a_move_is_looked_at_only_when_it_leaves_the_queue() -> None:
    graph = Graph(3, with_estimate=False)
    found = search(graph)
    assert len(graph.looked) <= sum(len(graph.edges[n]) for n in found.reached)
