"""The set-up sheet: strokes of all pieces of a job grouped by tool and setting, in an order that every piece allows.

Every stroke is made over a whole batch, so a setting can serve several pieces one after another; each piece's own order
of strokes is kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fabplan.bending.model import BendSchedule, Round, SetUp, Step

WIDTH = 400  # ways kept at a time: small jobs come out with the fewest settings there are
Setting = tuple[str, str, int, int, int]  # tool, action, stops in graduations, angle in tenths of a degree


def set_up_rounds(
    schedules: Sequence[BendSchedule], batches: Mapping[str, int], graduation: float
) -> tuple[Round, ...]:
    """Set-ups of the whole job: in the first rounds all pieces take part, in the last only those of most batches.

    Parameters
    ----------
    schedules : sequence of BendSchedule
    batches : mapping
        Batches of each mark.
    graduation : float
        The shop's smallest graduation, inches.
    """
    done, out = 0, []
    for upto in sorted({batches[s.mark] for s in schedules if batches[s.mark]}):
        part = [s for s in schedules if batches[s.mark] >= upto]
        out.append(Round(times=upto - done, setups=set_up_sheet(part, graduation)))
        done = upto
    return tuple(out)


def setting_of(step: Step, graduation: float) -> Setting:
    """What must be set for a stroke; stops alike on the shop's rule are one setting."""
    gauged = step.action not in {"close", "by hand"}
    stop = round(step.stop / graduation) if gauged else -1
    far = round(step.far.stop / graduation) if gauged and step.far is not None else stop
    return step.tool, "fold" if gauged else step.action, stop, far, round(step.set_deg * 10)


def set_up_sheet(schedules: Sequence[BendSchedule], graduation: float) -> tuple[SetUp, ...]:
    """Set-ups of a job, first to last.

    Parameters
    ----------
    schedules : sequence of BendSchedule
    graduation : float
        The shop's smallest graduation, inches.
    """
    rows = [[setting_of(step, graduation) for step in s.steps] for s in schedules]
    at = [0] * len(schedules)
    out: list[SetUp] = []
    for setting in _order(rows):
        strokes: list[tuple[str, int]] = []
        first: Step | None = None
        for i, schedule in enumerate(schedules):
            run = _run(rows[i], at[i], setting)
            made = schedule.steps[at[i] : at[i] + run]
            at[i] += run
            first = first or next(iter(made), None)
            strokes += [(schedule.mark, step.step) for step in made]
        assert first is not None
        stop = first.stop if setting[1] == "fold" else None
        far = first.far.stop if setting[2] != setting[3] and first.far is not None else None
        out.append(SetUp(tool=first.tool, stop=stop, far_stop=far, set_deg=first.set_deg, strokes=tuple(strokes)))
    return tuple(out)


def _order(rows: Sequence[Sequence[Setting]]) -> tuple[Setting, ...]:
    """Few settings that bring every row to its end: all ways a setting further, the furthest `WIDTH` of them kept.

    To make every stroke that a setting serves is never worse than to leave some, so each way takes them all. Of as
    few settings the way that changes tools least is kept: the work walks less from bench to brake.
    """
    ends = tuple(len(row) for row in rows)
    ways: dict[tuple[int, ...], tuple[int, tuple[Setting, ...]]] = {(0,) * len(rows): (0, ())}
    while ends not in ways:
        further: dict[tuple[int, ...], tuple[int, tuple[Setting, ...]]] = {}
        for at, (walks, path) in ways.items():
            for setting in dict.fromkeys(row[k] for row, k in zip(rows, at, strict=True) if k < len(row)):
                reached = tuple(k + _run(row, k, setting) for row, k in zip(rows, at, strict=True))
                there = walks + int(bool(path) and path[-1][0] != setting[0])
                if reached not in further or there < further[reached][0]:
                    further[reached] = there, (*path, setting)
        ways = dict(sorted(further.items(), key=lambda way: (-sum(way[0]), way[1][0]))[:WIDTH])
    return ways[ends][1]


def _run(row: Sequence[Setting], at: int, setting: Setting) -> int:
    """Strokes in a row from there that this setting serves."""
    n = at
    while n < len(row) and row[n] == setting:
        n += 1
    return n - at
