"""The set-up sheet: strokes of all pieces of a job grouped by tool and setting, in an order that every piece allows.

Every stroke is made over a whole batch, so a setting can serve several pieces one after another. At each turn the
setting is taken that brings most strokes further; each piece's own order of strokes is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fabplan.bending.model import BendSchedule, Step
from fabplan.quantities import Degrees, Inches

Setting = tuple[str, str, int, int]  # tool, action, stop in 1/1000 in, angle in 1/100 degree


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """One setting of one tool, and the strokes made with it: (mark, step) in order.

    `stop` is None where nothing is gauged: a hem closed, a stroke by hand.
    """

    tool: str
    stop: Inches | None
    set_deg: Degrees
    strokes: tuple[tuple[str, int], ...]


def setting_of(step: Step, graduation: float) -> Setting:
    """What must be set for a stroke; stops alike on the shop's rule are one setting."""
    gauged = step.action not in {"close", "by hand"}
    stop = round(step.stop / graduation) if gauged else -1
    return step.tool, "fold" if gauged else step.action, stop, round(step.set_deg * 10)


def set_up_sheet(schedules: Sequence[BendSchedule], graduation: float) -> tuple[SetUp, ...]:
    """Set-ups of a job, first to last.

    Parameters
    ----------
    schedules : sequence of BendSchedule
    graduation : float
        The shop's smallest graduation, inches.
    """
    left = [list(s.steps) for s in schedules]
    out: list[SetUp] = []
    while any(left):
        ready = list(dict.fromkeys(setting_of(steps[0], graduation) for steps in left if steps))
        best = max(ready, key=lambda setting: sum(_run(steps, setting, graduation) for steps in left))
        strokes: list[tuple[str, int]] = []
        first: Step | None = None
        for schedule, steps in zip(schedules, left, strict=True):
            for _ in range(_run(steps, best, graduation)):
                step = steps.pop(0)
                first = first or step
                strokes.append((schedule.mark, step.step))
        assert first is not None
        stop = first.stop if best[1] == "fold" else None
        out.append(SetUp(tool=first.tool, stop=stop, set_deg=first.set_deg, strokes=tuple(strokes)))
    return tuple(out)


def _run(steps: Sequence[Step], setting: Setting, graduation: float) -> int:
    """Strokes in a row from the front that this setting serves."""
    for n, step in enumerate(steps):
        if setting_of(step, graduation) != setting:
            return n
    return len(steps)
