# ruff: noqa: E501 - a table row is one line
"""Words of the job file reference that are not in the models."""

from __future__ import annotations

from typing import Final

OPENING: Final = """\
# The job file

One TOML file says what to make, of what, from which stock and with which tools. `fabplan new my-job.toml` writes
one to start from; `fabplan check my-job.toml` says back what it understood, and names every fault with its line.
This page is made from the program's own models (`python -m fabplan.job.reference`).

A whole job, as short as it gets:

```toml
[job]
name = "Porch roof"
number = "1042"

[metal]
use = "copper-16oz"

[[piece]]
mark = "A"
kind = "diamond"
count = 40
side = "10 in"
hem = "3/4 in"

[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
```

Longer ones are in `docs/examples/`.

## How values are written

| value | ways to write it |
|---|---|
| length | `"14-1/2 in"`, `"14 1/2 in"`, `"14½ in"`, `'14 1/2"'`, `"14.5 in"`, `"1 ft 2-1/2 in"`, `"1' 2-1/2"`, `"368.3 mm"`, `"36.83 cm"`, `"0.3683 m"`; a bare number is in the job's `units` |
| share | `"5 %"` |
| pieces | `"10 pieces"` |
| weight | `"310 lb"`, `"140 kg"` |
| size | `"6 x 12 in"`: width, then length |
| price | `"9.40 per lb"`, or per kg, foot, meter, sheet, piece |
| time | `"40 s"`, `"1.5 min"`, `"0.1 h"`, `"1 min 30 s"` |
| degrees | `90`, or `"90°"` |

Curly quotes, primes, en dashes and hard spaces inside a value are understood. Hyphen, underscore and capitals do
not matter in a choice such as a `kind`. Lengths are kept exactly; computed blanks are rounded once, to `round_to`.

A key that fabplan does not know is a fault that names the nearest one. All faults are reported in one reading.

## `shop = "shop.toml"`

Above the first table: a second file with the same tables, for what several jobs share (stock, prices, tools). The
path is relative to the job file, may lead through a parent folder, and must end in `.toml`.
The job's keys win one by one. A `[[stock]]`, `[[hem_tool]]`, `[[piece]]` or `[[slope]]` of the shop file whose name
the job uses too fills in the keys the job leaves out; the others are added after the job's.
"""

TABLE_NOTES: Final = {
    "job": "Name, units and rules of the job.",
    "metal": "The metal of every piece and stock line that names none of its own. `fabplan metals` lists the profiles.",
    "piece": "One for each mark: what to make, and how many. Every kind takes these keys, then its own below.\n\n"
    "Edges count from 1, counter-clockwise seen from the face; a diamond's are 1 upper left, 2 lower left, 3 lower right, "
    "4 upper right.",
    "stock": "One for each coil, sheet size or offcut to cut from.",
    "shear": "What the shop's shear can cut.",
    "nest": "How the cut plan is searched. `search_effort` and `try_again` fix the work, so the same job gives the same plan every time.",
    "brake": "The leaf brake in section. The defaults are common practice without a source: measure your own. The bend pages "
    "name every key that was assumed.",
    "hem_tool": "A hand tool that folds hems. When none is named, fabplan takes a hand seamer, a folding bar with a 1 in slot "
    "and a mallet (common practice, no source).",
    "slope": "A roof slope by its measured sides, true sizes on the slope, seen from outside. A piece laid on a slope takes no "
    "`count`.",
    "roof": "How every slope is laid out, capped, underlaid, fastened and packed in kits.",
    "spread": "How much hand work varies: one standard deviation each, but `play` is the greatest.",
    "done": "What is cut or made already, where a rest is planned. `fabplan rest` writes it from the job's record; see "
    "`docs/after-the-first-cut.md`.",
    "laid": "One for each slope that is laid in part: its centre line, base line and courses stay where they were snapped. "
    "`fabplan rest` writes it.",
    "handling": "Weights people lift.",
    "labour": "How long the work takes in your shop. The defaults are from memory (common practice, no source); the plan says "
    "which it took. The cut plan is the least of metal and these minutes together.",
}

ENDS_NOTE: Final = (
    "`length` of the piece stays its finished length, outside over its dams and returns; the blank is longer by what "
    "is turned. Legs that stand to the side a dam is turned to close its corners: their ends are left on as tabs and "
    "folded round it. All other metal beyond the end is notched off; a hem is cut back from the fold. The long bends "
    "are made first, on the brake; ends and tabs after them at the bench, with hand tools."
)
DEFAULT_WORDS: Final = {
    "HemSpec.gap": "1/16 in, or 1.5 mm",
    "PieceBase.count": "from the slopes",
    "PieceBase.metal": "the job's",
    "PieceBase.finish": "that of `[metal]`; of a part, its diamond's",
    "MetalUse.finish": "the metal profile's; bare",
    "LabourTimes.rate": "60 where `currency` is USD, $, EUR, €, GBP, £, CAD, AUD or CHF; else what the metal profile says an hour weighs",
    "Stock.metal": "the job's",
    "Stock.length": "**needed** but for a coil",
    "Stock.longest_cut_off": "120 in, or 3000 mm",
    "Stock.on_hand": "as much as needed; one offcut",
    "Stock.trim_each_edge": "0 in",
    "Shear.kerf": "0 in",
    "HemTool.slot_depth": "0 in",
    "MeasuredAllowance.gap": "0 in",
    "JobInfo.spare": "0 %",
    "Roof.apex_width": "one spacing or 6 in, the larger",
    "Roof.mark_to": "1/16 in, or 1 mm",
    "Roof.edge_length": "120 in, or 3000 mm",
    "Roof.edge_nail_spacing": "3 in, or 75 mm",
    "Roof.cap_cleat_spacing": "12 in, or 300 mm",
    "Roof.kit_pieces": "`carry_count`, or 120",
    "Slope.centre": "`centre` of `[roof]`",
    "Slope.pitch": "spires work it out",
    "Slope.apex_from_left": "half the bottom",
    "Slope.eave_drop": "0 in",
    "Slope.top_side": "it comes to a point",
    "Opening.run_past": "0 in",
    "Opening.stop_short": "0 in",
}

_LONG_EDGE: Final = "Mark of the section counted by length along every"
SLOPE_WORDS: Final = {
    "Slope.name": "Name of the slope; no two alike.",
    "Slope.shape": "Its shape; the sizes each takes are below.",
    "Slope.piece": "Mark of the diamond laid on it.",
    "Slope.count": "This many slopes alike.",
    "Slope.pitch": "Degrees from level.",
    "Slope.bottom": "Along the eave.",
    "Slope.top": "Along the top; of an ell, along the top of its higher side.",
    "Slope.left": "Left side, facing the slope.",
    "Slope.right": "Right side, facing the slope.",
    "Slope.height": "Up the slope, square to the eave; of a spire: plumb.",
    "Slope.diagonal_up_right": "Bottom left corner to top right corner.",
    "Slope.diagonal_up_left": "Bottom right corner to top left corner.",
    "Slope.apex_from_left": "Along the bottom, from the left corner to under the apex.",
    "Slope.top_from_left": "Along the bottom, from the left corner to under the top's left end.",
    "Slope.left_slant": "Of a gable: top of the left wall to the peak.",
    "Slope.right_slant": "Of a gable: top of the right wall to the peak.",
    "Slope.points": "Of a polygon: corners as [along the eave, up the slope], counter-clockwise.",
    "Slope.sides": "Of a regular spire: how many.",
    "Slope.side": "Of a regular spire: one side at the eave.",
    "Slope.across_flats": "Or across the flats.",
    "Slope.across_corners": "Or across the corners.",
    "Slope.top_side": "Of a spire cut off at the top: one side there.",
    "Slope.top_across_flats": "Or across the flats there.",
    "Slope.top_across_corners": "Or across the corners there.",
    "Slope.slant": "Up the middle of a slope, from the middle of its eave to the apex; of an irregular spire a list, one for each eave in order, or one for all.",
    "Slope.hip": "Along a hip.",
    "Slope.eaves": "Of an irregular spire: its eaves in order, to the right.",
    "Slope.hips": "Its hips; hip 1 is at the left of eave 1.",
    "Slope.base_diagonals": "Tapes across its base.",
    "Slope.edges": "What an edge is (eave, ridge, hip, rake, valley, wall), by bottom, right, top, left or its number from 1.",
    "Slope.run_past": "Metal carried past that edge.",
    "Slope.stop_short": "Or stopped short of it.",
    "Slope.eave_drop": "How far one end of the eave lies below level, up the slope.",
    "Slope.low_end": "Which end is low.",
    "Slope.centre": "This slope's own rule for its centre line.",
    "Slope.go_on": "Lay it out though the tapes disagree by more than 2 in.",
    "Slope.openings": "Chimneys, louvres, skylights.",
    "Opening.name": "Name of the opening.",
    "Opening.slope": "Slope of a spire, counted to the right from 1.",
    "Opening.points": "Corners as [along the eave, up the slope], or:",
    "Opening.from_left": "From the left corner along the eave.",
    "Opening.up": "From the eave up the slope.",
    "Opening.width": "Along the eave.",
    "Opening.height": "Up the slope.",
    "Opening.run_past": "Metal carried past the opening's edge, into it.",
    "Opening.stop_short": "Or stopped short of it.",
    "BaseDiagonal.from": "Corner it starts at; 1 is the left end of eave 1.",
    "BaseDiagonal.to": "Corner it ends at.",
    "BaseDiagonal.length": "Its reading.",
    "Roof.centre": "What stands on a slope's centre line: a point, a joint, or the better of both.",
    "Roof.centre_at": "Height at which the centre line is taken: 0 % the eave, 100 % the top.",
    "Roof.eave": "Follow a leaning eave or lay level; auto follows a drop below 1/2 in.",
    "Roof.level_from": "Where a level lattice meets a leaning eave.",
    "Roof.even_courses": "Close the courses up so that the last ends at a level ridge.",
    "Roof.least_hook": "Least hooked depth of a lock.",
    "Roof.hips": "Capped, or wrapped round.",
    "Roof.cap_leg": "Hip or ridge line to the cap's lower edge.",
    "Roof.underlap": "How far the shingles run under a cap.",
    "Roof.least_underlap": "How far they run under it at least, where a sliver or a piece wholly under the cap is left out.",
    "Roof.under_cap": "A piece wholly under a cap: laid, or left out where its neighbours still reach `least_underlap`, no lock opens and no fastening is lost.",
    "Roof.wrap": "Metal carried round a wrapped hip.",
    "Roof.wrap_mismatch": "Wrapped hips are refused above this.",
    "Roof.valley_short": "Shingles stop this far from a valley's centre line.",
    "Roof.apex_cap": "Whether a cap covers the apex.",
    "Roof.apex_width": "Width of a slope where the apex cap begins.",
    "Roof.whole_within": "A missing strip thinner than this is no cut.",
    "Roof.sliver": "A part thinner than this is left out where a cap covers it; anywhere else it is laid.",
    "Roof.cut_edge_fold": "Metal a cut piece keeps past a hip, valley, wall or opening.",
    "Roof.rake_fold": "Metal it keeps past a rake or ridge.",
    "Roof.cut_pieces": 'Where a piece at a hip, rake or opening is cut: it goes up whole and is scribed and snipped in place, or it is cut at the bench by templates; `"cheaper"`: whichever takes less of metal and the shop\'s hours, which is also the default with `rate = 0`.',
    "Roof.use_off_falls": "On the roof: use what falls off one cut piece, folded and unturned, for another of the same course and kit where it holds it.",
    "Roof.off_fall_margin": "Metal such a piece keeps past every scribed edge.",
    "Roof.alike_within": "At the bench: cut shapes this nearly alike under a cap are made one, sized up.",
    "Roof.pair": "At the bench: cut two part pieces from one blank where they fit.",
    "Roof.good_side": "At the bench: the metal may not be turned over.",
    "Roof.mark_to": "Course lines are rounded to this.",
    "Roof.eave_piece": f"{_LONG_EDGE} eave.",
    "Roof.hip_piece": f"{_LONG_EDGE} hip.",
    "Roof.ridge_piece": f"{_LONG_EDGE} ridge.",
    "Roof.rake_piece": f"{_LONG_EDGE} rake; or of a rake cover.",
    "Roof.valley_piece": f"{_LONG_EDGE} valley.",
    "Roof.wall_piece": f"{_LONG_EDGE} wall.",
    "Roof.apex_piece": "Mark of the apex cap that is sized by the spire, one for its point.",
    "Roof.opening_piece": "Mark of the opening set that is made for every opening of the slopes, by its size.",
    "Roof.ridge_end_piece": "Mark of the ridge end that is made for every end of a ridge between two rakes.",
    "Roof.cleat_piece": 'Mark of the piece made as often as the roof has cleats; `count = "cleats"` on it says the same.',
    "Roof.lengths": "How long those pieces are made: a length that divides the measured edges with laps, their typed `length` at most and within brake, shear and sheet; or as typed.",
    "Roof.edge_length": "Length of an edge piece where no mark is named.",
    "Roof.edge_lap": "Lap of edge pieces.",
    "Roof.cap_end_lap": "Extra length at the bottom and the top of every hip cap.",
    "Roof.roll_width": "Width of the underlayment.",
    "Roof.roll_length": "Length of a roll.",
    "Roof.roll_side_lap": "Lap of two rows.",
    "Roof.roll_hip_lap": "Length past each hip.",
    "Roof.roll_end_lap": "Lap where a roll ends.",
    "Roof.nails_per_piece": "Nails for each shingle.",
    "Roof.cleats_per_piece": "Cleats for each shingle.",
    "Roof.nails_per_cleat": "Nails for each cleat.",
    "Roof.edge_nail_spacing": "Nail spacing along edge pieces.",
    "Roof.cap_cleat_spacing": "Cleat spacing along caps.",
    "Roof.fastener_source": "Where these counts come from; printed.",
    "Roof.kit_pieces": "Most pieces in one kit.",
    "Roof.confidence": "Confidence of lines and hems in the hand-work figures.",
}
