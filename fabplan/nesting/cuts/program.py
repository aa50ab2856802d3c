"""The order of cuts over the whole job with few back-gauge settings.

Every layout is a tree of cuts: a cut can be made once the cut that freed its piece has been made. Finding the fewest
settings is a shortest common supersequence of all the chains in those trees (NP-hard): `sequence` follows several
orders side by side. With a limit on piles greedy rules are tried and the best kept: cut everything that waits at this
setting, then take the setting the fewest locked cuts still need.
`least_settings` is a proven lower bound: a setting is needed at least as often as one chain comes back to it.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from fabplan.labour import FREE_STACKS, NO_LABOUR, Labour
from fabplan.nesting.cuts.sequence import BESIDE, Trees, fewest
from fabplan.nesting.minutes import seconds_of, settings_work
from fabplan.nesting.model import Cut, Layout, ProgramStep, ShearProgram

Setting = tuple[int | None, float]
MOST_LIMITS = 4  # limits on piles that are tried


@dataclass(slots=True)
class _Node:
    """One cut of one layout; `after`: cuts on the pieces it frees, `peak`: stacks its piece needs at least."""

    layout: int
    cut: Cut
    setting: Setting
    parent: int | None
    after: list[int]
    peak: int = 1


def shear_program(
    layouts: Sequence[Layout], open_stacks: int | None = None, labour: Labour = NO_LABOUR
) -> ShearProgram | None:
    """Order the cuts of all layouts, each made for every repeat at once.

    Parameters
    ----------
    layouts : sequence of Layout
    open_stacks : int, optional
        Most stacks of half-cut pieces that may lie open at once; a layout that needs more by itself gets them.
    labour : Labour, optional
        The shop's times: piles beyond the few that are in nobody's way are held against the settings they save.

    Returns
    -------
    ShearProgram or None
        None when nothing is cut.
    """
    nodes = _forest(layouts)
    if not nodes:
        return None
    best = _best_for(nodes, open_stacks, labour)
    alone = 0
    of_layout: dict[int, list[int]] = {}
    for k, node in enumerate(nodes):
        of_layout.setdefault(node.layout, []).append(k)
    for own in of_layout.values():
        alone += _settings(_run(nodes, own, open_stacks, _fewest_locked)[0]) if own else 0
    steps = tuple(
        _step(place, setting, [nodes[k] for k in done], layouts)
        for place, (setting, done) in enumerate(best[0], start=1)
    )
    return ShearProgram(
        steps=steps,
        settings=_settings(best[0]),
        settings_layout_by_layout=alone,
        most_open_stacks=best[1],
        least_settings=_least(nodes),
    )


def _best_for(nodes: Sequence[_Node], open_stacks: int | None, labour: Labour) -> tuple[Steps, int]:
    """The program that takes the least time found."""
    best = _best(nodes, open_stacks)
    if open_stacks is not None or not labour.stack:
        return best
    limits = range(FREE_STACKS, min(best[1], FREE_STACKS + MOST_LIMITS))
    tries = [_run(nodes, range(len(nodes)), most, rule) for most in limits for rule in _RULES]
    return min((best, *tries), key=lambda made: _seconds(made, labour))


def _seconds(made: tuple[Steps, int], labour: Labour) -> Fraction:
    return seconds_of(settings_work((setting for setting, _ in made[0]), made[1], labour))


def settings_of(
    layouts: Sequence[Layout], open_stacks: int | None = None, labour: Labour = NO_LABOUR
) -> tuple[list[Setting], int]:
    """Settings of the shear program in turn, cuts to a mark among them, and the most piles that lie open.

    Without `labour` quickly: piles are not held against the settings they save.
    """
    nodes = _forest(layouts)
    if not nodes:
        return [], 0
    steps, piles = _best_for(nodes, open_stacks, labour)
    return [setting for setting, _ in steps], piles


def trees_of(layout: Layout, trees: Trees) -> frozenset[int]:
    """The layout's cuts among trees that may be shared with other layouts."""
    nodes = _forest([layout])
    return trees.add(nodes, (k for k, n in enumerate(nodes) if n.parent is None))


def _forest(layouts: Sequence[Layout]) -> list[_Node]:
    nodes: list[_Node] = []
    for number, layout in enumerate(layouts, start=1):
        _add_tree(nodes, number, layout)
    return nodes


Steps = list[tuple[Setting, list[int]]]


def _best(nodes: Sequence[_Node], open_stacks: int | None) -> tuple[Steps, int]:
    """The program with the fewest settings found."""
    if open_stacks is None:
        trees = Trees()
        ready = trees.add(nodes, (k for k, n in enumerate(nodes) if n.parent is None))
        return min((_follow(nodes, way) for way in fewest(trees, ready, BESIDE)[1]), key=lambda made: made[1])
    tries = [_run(nodes, range(len(nodes)), open_stacks, rule) for rule in _RULES]
    return min(tries, key=lambda t: _settings(t[0]))


def _follow(nodes: Sequence[_Node], choices: Sequence[Setting]) -> tuple[Steps, int]:
    """The program that takes what is free, and one of the choices in turn where nothing is; the most stacks open.

    Of what is free, first what leaves the fewest piles. Cuts to marks wait until they are in the way.
    """
    ready: dict[Setting, list[int]] = {}
    new = _new_settings(nodes)
    locked = Counter(n.setting for n, own in zip(nodes, new, strict=True) if own)
    opened: set[int] = set()
    steps: Steps = []
    peak = 0
    turn = iter(choices)

    def offer(k: int) -> None:
        ready.setdefault(nodes[k].setting, []).append(k)
        locked[nodes[k].setting] -= new[k]

    for k, node in enumerate(nodes):
        if node.parent is None:
            offer(k)

    def marks() -> Setting | None:
        return min((s for s in ready if s[0] is None), key=lambda s: s[1], default=None)

    def take(setting: Setting) -> None:
        nonlocal peak
        done: list[int] = []
        queue = deque(ready.pop(setting))
        while queue:
            k = queue.popleft()
            done.append(k)
            opened.discard(k)
            for a in nodes[k].after:
                opened.add(a)
                if nodes[a].setting == setting:
                    queue.append(a)
                else:
                    offer(a)
        steps.append((setting, done))
        peak = max(peak, len(opened))

    def visit(setting: Setting) -> None:
        take(setting)
        while (mark := marks()) is not None and _behind(nodes, ready[mark], setting):
            take(mark)
            if setting in ready:
                take(setting)

    def left(setting: Setting) -> int:
        return sum(len(nodes[k].after) - (k in opened) for k in ready[setting])

    while ready:
        free = [s for s in ready if not locked[s] and s[0] is not None]
        mark = marks()
        if free:
            visit(min(free, key=lambda s: (left(s), s)))
        elif mark is not None:
            take(mark)
        else:
            visit(next(turn))
    return steps, peak


def _new_settings(nodes: Sequence[_Node]) -> list[bool]:
    """Of every cut, whether it needs another setting than the cuts it follows; a cut to a mark needs none."""
    before: list[Setting | None] = []
    out = []
    for node in nodes:  # parents come first
        last = None if node.parent is None else before[node.parent]
        out.append(needs_setting(node.setting) and node.setting != last)
        before.append(node.setting if needs_setting(node.setting) else last)
    return out


def _behind(nodes: Sequence[_Node], marks: Sequence[int], setting: Setting) -> bool:
    """Whether a cut at this setting waits for nothing but these cuts to marks."""
    queue = list(marks)
    while queue:
        for a in nodes[queue.pop()].after:
            if nodes[a].setting == setting:
                return True
            if nodes[a].setting[0] is None:
                queue.append(a)
    return False


def needs_setting(setting: Setting) -> bool:
    """Whether anything is set: a cut to marks needs neither back gauge nor angle stop."""
    return setting[0] is not None


def _add_tree(nodes: list[_Node], number: int, layout: Layout) -> None:
    """The layout's cuts as a tree, each under the one that frees its metal."""
    base = len(nodes)
    for cut in layout.cuts:
        parent = None if cut.after is None else base + cut.after - 1
        if parent is not None:
            nodes[parent].after.append(len(nodes))
        nodes.append(_Node(number, cut, (cut.back_gauge, cut.angle), parent, []))
    for node in reversed(nodes[base:]):
        peaks = sorted((nodes[a].peak for a in node.after), reverse=True)
        node.peak = max([1] + [p + k for k, p in enumerate(peaks)])


Rule = Callable[[Setting, int, int], tuple[float, ...]]


def _fewest_locked(setting: Setting, ready: int, locked: int) -> tuple[float, ...]:
    return (locked, -ready)


def _share_locked(setting: Setting, ready: int, locked: int) -> tuple[float, ...]:
    return (locked / (ready + locked), -ready)


def _most_ready(setting: Setting, ready: int, locked: int) -> tuple[float, ...]:
    return (locked > 0, -ready)


_RULES: tuple[Rule, ...] = (_fewest_locked, _share_locked, _most_ready)


def _run(
    nodes: Sequence[_Node], use: Sequence[int] | range, most: int | None, rule: Rule
) -> tuple[list[tuple[Setting, list[int]]], int]:
    """Greedy program: (setting, cuts) in order, and the most stacks open after a step."""
    ready: dict[Setting, list[int]] = {}
    locked = Counter(nodes[k].setting for k in use)
    opened: set[int] = set()  # ready cuts whose piece lies on a stack
    steps: list[tuple[Setting, list[int]]] = []
    peak = 0

    def offer(k: int) -> None:
        ready.setdefault(nodes[k].setting, []).append(k)
        locked[nodes[k].setting] -= 1

    for k in use:
        if nodes[k].parent is None:
            offer(k)
    while ready:
        allowed = {s: ks for s, ks in ready.items() if most is None or _fits(nodes, opened, ks, most)}
        forced = not allowed
        choices = allowed or {nodes[k].setting: [k] for k in _deepest(nodes, ready, opened)}
        setting = min(choices, key=lambda s: (*rule(s, len(ready[s]), locked[s]), s[0] is None, s[0] or 0, s[1]))
        done: list[int] = []
        waiting: list[int] = []
        queue = deque(choices[setting] if forced else ready[setting])
        taken = set(queue)
        rest = [k for k in ready[setting] if k not in taken]
        while queue:
            k = queue.popleft()
            if most is not None and not forced and not _fits(nodes, opened, [k], most):
                waiting.append(k)
                continue
            forced = False
            done.append(k)
            opened.discard(k)
            for a in nodes[k].after:
                opened.add(a)
                if nodes[a].setting == setting:
                    locked[setting] -= 1
                    queue.append(a)
                else:
                    offer(a)
            if most is not None and waiting:
                queue.extend(waiting)
                waiting = []
                if not any(_fits(nodes, opened, [q], most) for q in queue):
                    waiting, queue = list(queue), deque()
        ready[setting] = [*rest, *waiting]
        if not ready[setting]:
            del ready[setting]
        steps.append((setting, done))
        peak = max(peak, len(opened))
    return steps, peak


def _fits(nodes: Sequence[_Node], opened: set[int], cuts: Sequence[int], most: int) -> bool:
    """Whether one of these cuts leaves the floor so that every open stack can still be finished in turn."""
    for k in cuts:
        after = [nodes[a].peak for a in nodes[k].after]
        peaks = sorted([nodes[o].peak for o in opened if o != k] + after)
        if all(p + (len(peaks) - 1 - i) <= most for i, p in enumerate(peaks)):
            return True
    return False


def _deepest(nodes: Sequence[_Node], ready: dict[Setting, list[int]], opened: set[int]) -> list[int]:
    """When the limit cannot be held: go on with the open stack that needs the fewest more."""
    every = [k for ks in ready.values() for k in ks]
    some = [k for k in every if k in opened] or every
    return [min(some, key=lambda k: (nodes[k].peak, k))]


def _settings(steps: Steps) -> int:
    return settings_taken(setting for setting, _ in steps)


def settings_taken(settings: Iterable[Setting]) -> int:
    """Times something is set; a mark cut in between leaves the back gauge where it was."""
    count, last = 0, None
    for setting in settings:
        if needs_setting(setting) and setting != last:
            count += 1
            last = setting
    return count


def _least(nodes: Sequence[_Node]) -> int:
    """Lower bound on settings: each setting as often as the chain that comes back to it most."""
    most = Counter[Setting]()
    seen: list[Counter[Setting]] = []
    last: list[Setting | None] = []
    for node in nodes:  # parents come first
        counts = Counter[Setting]() if node.parent is None else Counter(seen[node.parent])
        before = None if node.parent is None else last[node.parent]
        if needs_setting(node.setting):
            if node.setting != before:
                counts[node.setting] += 1
            before = node.setting
        seen.append(counts)
        last.append(before)
        for s, n in counts.items():
            most[s] = max(most[s], n)
    return sum(most.values())


def _step(place: int, setting: Setting, done: Sequence[_Node], layouts: Sequence[Layout]) -> ProgramStep:
    by_layout: dict[int, list[int]] = {}
    for n in done:
        by_layout.setdefault(n.layout, []).append(n.cut.step)
    items = tuple((k, tuple(sorted(v)), layouts[k - 1].repeat) for k, v in sorted(by_layout.items()))
    return ProgramStep(
        step=place,
        back_gauge=setting[0],
        angle=setting[1],
        items=items,
    )
