"""How far the folds of a piece are before a step: which edges are finished, pre-bent or still flat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fabplan.bending.model import BendSchedule, Step


@dataclass(frozen=True, slots=True)
class Progress:
    """Degrees every touched edge is turned before the step (180 for a finished hem), and the edge worked on."""

    turned: Mapping[int, float]
    active: int
    step: Step

    @property
    def before(self) -> float:
        """Degrees the active edge is turned already."""
        return self.turned.get(self.active, 0.0)


def progress(schedule: BendSchedule, step: Step) -> Progress:
    """State of the piece just before `step`."""
    turned: dict[int, float] = {}
    for earlier in schedule.steps:
        if earlier.step >= step.step:
            break
        turned[earlier.edge] = earlier.turned_deg
    return Progress(turned=turned, active=step.edge, step=step)
