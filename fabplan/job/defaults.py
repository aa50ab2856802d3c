"""What the shop gets when a key is left out and the default is a length, or depends on the units.

The brake, the hand tools and the times of the work are common practice without a source; a page that relies on them
names them.
"""

from __future__ import annotations

from typing import Any, Final

from fabplan.labour import TIME_KEYS, Labour, span
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, Show

# key -> (inch job, millimetre job)
JOB: Final[dict[str, tuple[str, str]]] = {"round_to": ("1/32 in", "0.5 mm")}
SHEAR: Final[dict[str, tuple[str, str]]] = {
    "longest_cut": ("52 in", "1300 mm"),
    "back_gauge_reach": ("48 in", "1200 mm"),
    "least_held": ("2 in", "50 mm"),
    "least_gauge": ("1/2 in", "12 mm"),
    "width_tolerance": ("1/16 in", "1.5 mm"),
    "least_pull": ("12 in", "300 mm"),
}
LABOUR: Final[dict[str, str]] = {key: span(getattr(Labour(), key)) for key in TIME_KEYS}
NEST: Final[dict[str, str]] = {
    "good_enough": "0.05 %",
    "fewer_setups": "0 %",
    "prefer_on_hand": "0 %",
    "offcut_credit": "0 %",
}
BRAKE: Final[dict[str, Any]] = {
    "longest_bend": "120 in",
    "largest_angle": 135,
    "nose_angle": 45,
    "nose_land": "1/4 in",
    "nose_setback": "2 t",
    "apron_bar": "1 in",
    "apron_bar_off": "1/4 in",
    "apron_hang": "4 in",
    "bed_depth": "3 in",
    "beam_depth": "5 in",
    "jaw": "2 in",
    "throat": "24 in",
    "least_flange": "3/8 in",
    "least_clamp": "1/2 in",
    "deepest_flattened_hem": "1 in",
    "springback": 2,
}
# limits of a millimetre shop, rounded to what reaches no further; the body of the brake keeps its sizes
BRAKE_METRIC: Final[dict[str, str]] = {
    "longest_bend": "3000 mm",
    "throat": "600 mm",
    "jaw": "50 mm",
    "least_flange": "10 mm",
    "least_clamp": "13 mm",
    "deepest_flattened_hem": "25 mm",
}
ROOF_METRIC: Final[dict[str, str]] = {
    "edge_length": "3000 mm",
    "edge_nail_spacing": "75 mm",
    "cap_cleat_spacing": "300 mm",
}
RAKE_COVER_METRIC: Final[dict[str, str]] = {"length": "3000 mm"}
# the raw edge of a double hem lies so much short of its second fold: common practice, no source
DOUBLE_SHORT: Final[dict[str, Nm]] = {"in": Nm(NM_PER_INCH // 16), "mm": Nm(3 * NM_PER_MM // 2)}
# turned ends of strips, common practice, no source: least that a tool holds, tab at a dam's corner, room beside a dam
LEAST_END: Final[dict[str, Nm]] = {"in": Nm(3 * NM_PER_INCH // 8), "mm": Nm(10 * NM_PER_MM)}
END_TAB: Final[dict[str, Nm]] = {"in": Nm(NM_PER_INCH // 2), "mm": Nm(12 * NM_PER_MM)}
END_CLEAR: Final[dict[str, Nm]] = {"in": Nm(NM_PER_INCH // 32), "mm": Nm(NM_PER_MM)}
SPREAD: Final[dict[str, str]] = {"shear": "1/64 in", "fold": "1/64 in", "play": "1/32 in", "tape": "1/16 in"}
HEM_TOOLS: Final[tuple[dict[str, Any], ...]] = (
    {
        "name": "hand seamer",
        "largest_angle": 180,
        "least_fold": "1/4 in",
        "greatest_fold": "1-1/2 in",
        "slot_depth": "0 in",
        "longest_fold": "3-1/2 in",
        "in_bites": True,
        "press_strip": "1/2 in",
        "closes_hems": True,
    },
    {
        "name": "folding bar",
        "largest_angle": 150,
        "least_fold": "1/2 in",
        "greatest_fold": "1-1/4 in",
        "slot_depth": "1 in",
        "longest_fold": "24 in",
        "in_bites": False,
        "press_strip": "1/2 in",
        "closes_hems": False,
    },
    {
        "name": "mallet",
        "largest_angle": 90,
        "least_fold": "1/4 in",
        "greatest_fold": "6 in",
        "slot_depth": "0 in",
        "longest_fold": "3 in",
        "in_bites": True,
        "press_strip": "1/2 in",
        "closes_hems": True,
    },
)

BAR_FOLDER: Final[dict[str, Any]] = {  # shown in the starter, used only where a file lists it
    "name": "bar folder",
    "largest_angle": 180,
    "least_fold": "1/8 in",
    "greatest_fold": "1 in",
    "slot_depth": "0 in",
    "longest_fold": "30 in",
    "in_bites": False,
    "press_strip": "0 in",
    "closes_hems": True,
}


def hem_gap(units: str) -> Nm:
    """Opening inside a hem that must hook: 1/16 in, or 1.5 mm."""
    return Nm(3 * NM_PER_MM // 2) if units == "mm" else Nm(NM_PER_INCH // 16)


def longest_cut_off(units: str) -> Nm:
    """Longest length cut off a coil: 120 in, or 3000 mm."""
    return Nm(3000 * NM_PER_MM) if units == "mm" else Nm(120 * NM_PER_INCH)


def show_inches(length: int) -> str:
    """A default length in inches, for the reference page."""
    return Show("in", NM_PER_INCH // 64).exact(length)
