"""What folds metal at the bench, in inches: the shop's hand tools and its leaf brake seen as a tool."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.blanks.model import Fold
from fabplan.job.model import Brake, Job
from fabplan.labour import Labour
from fabplan.units import inches

LEAF_BRAKE = "leaf brake"
BY_HAND = "by hand"
SLOT_PLAY = 1 / 16  # a fixed slot may be this much deeper than the flap: its edge is set to the scribed line
SLOT_SHORT = 1 / 64
UNDERSIDE = 45.0  # degrees; the underside never rises more than this less 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """One tool. `press_strip` is pressed on both faces, inside the fold line.

    A full-length tool reaches `longest_fold` along the fold and stands over whatever lies beyond a shorter fold.
    A tool that works in bites takes `longest_fold` at a time and may leave short stretches to follow.
    For a leaf brake `slope` is the rise of the nose's underside behind the land, `jaw` how high it gets; the metal
    behind the fold line is at least `least_behind` and at most `throat` deep; what lies further back than `bed_depth`
    may hang, further than `beam_depth` may stand.
    """

    name: str
    largest_angle: float
    least_fold: float
    greatest_fold: float
    slot_depth: float
    longest_fold: float
    in_bites: bool
    press_strip: float
    closes_hems: bool
    deepest_closed: float = 1e9
    is_brake: bool = False
    slope: float = 0.0
    jaw: float = 0.0
    throat: float = 1e9
    least_behind: float = 0.0
    bed_depth: float = 1e9
    beam_depth: float = 1e9


def is_mallet(tool: str) -> bool:
    """Whether a hand tool strikes along a fold: its time goes by length."""
    return any(word in tool.lower() for word in ("mallet", "hammer"))


def underside_slope(nose_angle: float) -> float:
    """Rise of the nose bar's underside behind the land, degrees: a little flatter than the front face.

    A nose bar is a plate leaning back on the clamping leaf, so its two faces are nearly parallel. Common practice, no
    source: brakes differ, and the shop file gives the front face only.
    """
    return min(UNDERSIDE, nose_angle) - 5.0 if nose_angle > 10 else nose_angle / 2


def reach_of(brake: Brake) -> float:
    """How far a flange of any width can be turned: as the leaf swings, until it lies along the nose's front face."""
    return min(brake.largest_angle, 180.0 - brake.nose_angle)


def brake_as_tool(brake: Brake, thickness: float) -> Tool:
    """The leaf brake as a tool for flat pieces. It closes a pre-bent hem under its nose, an open one on a shim."""
    return Tool(
        name=LEAF_BRAKE,
        largest_angle=reach_of(brake),
        least_fold=inches(brake.least_flange),
        greatest_fold=1e9,
        slot_depth=0.0,
        longest_fold=inches(brake.longest_bend),
        in_bites=False,
        press_strip=inches(brake.nose_land) + brake.nose_setback * thickness,
        closes_hems=True,
        deepest_closed=inches(brake.deepest_flattened_hem),
        is_brake=True,
        slope=underside_slope(brake.nose_angle),
        jaw=inches(brake.jaw),
        throat=inches(brake.throat),
        least_behind=inches(brake.least_clamp),
        bed_depth=inches(brake.bed_depth),
        beam_depth=inches(brake.beam_depth),
    )


def bench(job: Job, thickness: float) -> tuple[Tool, ...]:
    """Every tool of the job, the hand tools first, in the order of the file."""
    hand = tuple(
        Tool(
            name=tool.name,
            largest_angle=tool.largest_angle,
            least_fold=inches(tool.least_fold),
            greatest_fold=inches(tool.greatest_fold),
            slot_depth=inches(tool.slot_depth),
            longest_fold=inches(tool.longest_fold),
            in_bites=tool.in_bites,
            press_strip=inches(tool.press_strip),
            closes_hems=tool.closes_hems,
        )
        for tool in job.hem_tools
    )
    return (*hand, brake_as_tool(job.brake, thickness))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """What a stroke takes in this shop: its times, and how many pieces go through a stroke with one setting."""

    labour: Labour
    pieces: int

    def stroke(self, tool: Tool, length: float) -> int:
        """Tenths of a second for one stroke on all the pieces."""
        if tool.is_brake:
            seconds = self.labour.one_bend(length)
        elif is_mallet(tool.name):
            seconds = self.labour.mallet * length / 12
        elif tool.in_bites:
            seconds = self.labour.bite * max(1, math.ceil(length / tool.longest_fold - 1e-9))
        else:
            seconds = self.labour.bar_fold
        return round(10 * seconds * self.pieces)

    @property
    def setting(self) -> int:
        """Tenths of a second to set a tool to another depth or angle, once for all the pieces."""
        return round(10 * self.labour.set_bench)


def why_not(tool: Tool, fold: Fold, length: float, stage: int, behind: float | None = None) -> str:
    """Why a tool cannot take a fold from flat (stage 0) or close it once pre-bent (stage 1); "" when it can.

    `length` is that of the fold line, `behind` how deep the piece lies behind it (None: not asked), inches.
    """
    eps = 1e-6
    if behind is not None and behind > tool.throat + eps:
        return "throat"
    if behind is not None and behind < tool.least_behind - eps:
        return "shallow"
    if fold.width < tool.least_fold - eps:
        return "narrow"
    if fold.width > tool.greatest_fold + eps:
        return "wide"
    if length > tool.longest_fold + eps and not tool.in_bites:
        return "long"
    if stage == 1:
        if not tool.closes_hems:
            return "cannot close"
        return "deep" if fold.width > tool.deepest_closed + eps else ""
    if tool.slot_depth > 0 and not -SLOT_SHORT <= tool.slot_depth - fold.slot_depth <= SLOT_PLAY + eps:
        return "slot"
    if fold.turned <= tool.largest_angle + eps:
        return ""
    if fold.turned >= 180 - eps and tool.largest_angle >= 90 - eps:
        return ""  # as far as it goes, then closed
    return "angle"
