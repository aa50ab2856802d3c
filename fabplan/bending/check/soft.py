"""Is every face with a finish kept off bare steel? The surfaces a stroke touches, worked out again."""

from __future__ import annotations

from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks.model import FlatPattern


def soft_faults(schedule: BendSchedule, pattern: FlatPattern) -> list[str]:
    """Faults of what is covered at each stroke; a bare piece needs nothing."""
    faults = []
    for step in schedule.steps:
        want = _covered(step) if pattern.finish in ("coated", "pre-patinated") else set()
        if set(step.soft) != want or len(step.soft) != len(want):
            faults.append(f"step {step.step} covers {sorted(step.soft)}, not {sorted(want)}")
    return faults


def _covered(step: Step) -> set[str]:
    """ "jaw" where the face is touched from above or gripped, "bed" where it is touched from below."""
    above: set[str] = {step.side_up}
    below: set[str] = {"back" if step.side_up == "face" else "face"}
    if step.action == "close" and step.turned_deg >= 180:
        outside = "back" if step.toward == "face" else "face"
        above, below = {outside}, below | {outside}
        if step.side_up == "face":
            below = {outside}
    elif step.hold.way in {"jaws", "slot", "by hand"}:
        above = {"face", "back"}
    elif step.action == "close":
        above = {"face"}
    return {name for name, sides in (("jaw", above), ("bed", below)) if "face" in sides}
