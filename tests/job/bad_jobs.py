# ruff: noqa: E501 - each message stands whole, as a person reads it
"""Bad jobs, each with the exact message a person must see.

A case changes one thing in a good job: `old` -> `new` text (or `new` added at the end when `old` is empty).
`{file}` in a message is the job file as named on the command line.
"""

from __future__ import annotations

from dataclasses import dataclass

GOOD = """\
[job]
name = "Porch"
number = "7"

[metal]
use = "copper-16oz"

[[piece]]
mark = "A"
kind = "diamond"
count = 40
side = "10 in"
hem = "3/4 in"

[[piece]]
mark = "S"
kind = "starter"
for = "A"
count = 6
hooks = "D"

[[piece]]
mark = "D"
kind = "section"
count = 4
length = "48 in"
legs = ["3/4 in", "2-1/2 in", "3 in"]
bends = [90, -45]
end_hem = {width = "1/2 in", toward = "back"}

[[piece]]
mark = "F"
kind = "flat-seam"
count = 5
width = "18 in"
length = "24 in"
hem = "3/4 in"

[[piece]]
mark = "O"
kind = "outline"
count = 2
points = [["0 in", "0 in"], ["6 in", "0 in"], ["6 in", "4 in"], ["0 in", "4 in"]]
folds = [{edge = 1, width = "1/2 in", toward = "face"}]

[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"

[[stock]]
name = "sheet"
form = "sheet"
width = "36 in"
length = "96 in"
on_hand = 12

[shear]
longest_cut = "52 in"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BadJob:
    """One change to `GOOD`, and the messages that follow, in order."""

    id: str
    old: str = ""
    new: str
    says: tuple[str, ...]
    whole: bool = False  # `new` is the whole file

    @property
    def text(self) -> str:
        if self.whole:
            return self.new
        if not self.old:
            return GOOD + self.new
        assert self.old in GOOD, self.id
        return GOOD.replace(self.old, self.new, 1)


def _bad(id_: str, old: str, new: str, *says: str) -> BadJob:
    return BadJob(id=id_, old=old, new=new, says=says)


SIDE = 'side = "10 in"'
PRICE = 'price = "9.40 per lb"'
END_HEM = 'end_hem = {width = "1/2 in", toward = "back"}'
NEXT = '\n\n[[piece]]\nmark = "S"'
HEM = 'hem = "3/4 in"' + NEXT

BAD_JOBS: tuple[BadJob, ...] = (
    _bad(
        "spare-of-a-piece",
        SIDE,
        'side = "10 in"\nspare = "a few"',
        '{file}, line 13: piece "A" > spare: must be a share or a number of pieces (found "a few"). Write "5 %" or "10 pieces".',
    ),
    _bad(
        "time-without-unit",
        "",
        "[labour]\nstroke = 10\n",
        '{file}, line 62: labour > stroke: must be a time (found 10). Write "40 s", "1.5 min" or "0.1 h".',
    ),
    _bad(
        "time-in-days",
        "",
        '[labour]\nscribe = "2 days"\n',
        '{file}, line 62: labour > scribe: unknown unit of time "days" (found "2 days"). Write "40 s", "1.5 min" or "0.1 h".',
    ),
    _bad(
        "time-backwards",
        "",
        '[labour]\nscribe = "30 s 1 min"\n',
        '{file}, line 62: labour > scribe: must be a time (found "30 s 1 min"). Write "40 s", "1.5 min" or "0.1 h".',
    ),
    _bad(
        "time-too-long",
        "",
        '[labour]\nlayout = "30 h"\n',
        '{file}, line 62: labour > layout: may be 10 h at most (found "30 h"). Write a shorter time.',
    ),
    _bad(
        "time-negative",
        "",
        '[labour]\npull = "-40 s"\n',
        '{file}, line 62: labour > pull: must be a time (found "-40 s"). Write "40 s", "1.5 min" or "0.1 h".',
    ),
    _bad(
        "rate-in-hours",
        "",
        '[labour]\nrate = "two men"\n',
        '{file}, line 62: labour > rate: must be money an hour, or metal an hour (found "two men"). Write 75 (money an hour) or "6 lb" (metal an hour).',
    ),
    _bad(
        "rate-negative",
        "",
        "[labour]\nrate = -5\n",
        '{file}, line 62: labour > rate: must be 0 to 1,000,000 (found -5). Write 75 (money an hour) or "6 lb" (metal an hour).',
    ),
    _bad(
        "labour-misspelt",
        "",
        '[labour]\nset_guage = "45 s"\n',
        '{file}, line 62: labour > set_guage: unknown key "set_guage". Write "set_gauge".',
    ),
    _bad(
        "labour-assumed",
        "",
        '[labour]\nassumed = ["stroke"]\n',
        '{file}, line 62: labour > assumed: unknown key "assumed". Write nothing: fabplan works it out.',
    ),
    _bad(
        "rate-in-the-wrong-table",
        "[shear]",
        "[shear]\nscribe = 4",
        '{file}, line 60: shear > scribe: unknown key "scribe". Write it under [labour].',
    ),
    _bad(
        "least-gauge-beyond-reach",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\nleast_gauge = "48 in"',
        '{file}, line 61: shear > least_gauge: must be less than the back gauge\'s reach, 48 in (found "48 in"). Write the smallest setting you trust, for example "1/2 in".',
    ),
    _bad(
        "width-tolerance-too-wide",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\nwidth_tolerance = "2 in"',
        '{file}, line 61: shear > width_tolerance: must be 1 in at most (found "2 in"). Write how much the mill may be off, for example "1/16 in".',
    ),
    _bad(
        "least-pull-too-long",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\nleast_pull = "6 ft"',
        '{file}, line 61: shear > least_pull: must be 48 in at most (found "6 ft"). Write the shortest pull you make, for example "12 in".',
    ),
    _bad(
        "wrong-unit",
        SIDE,
        'side = "10 furlongs"',
        '{file}, line 12: piece "A" > side: unknown unit "furlongs" (found "10 furlongs"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "misspelt-unit",
        SIDE,
        'side = "10 inn"',
        '{file}, line 12: piece "A" > side: unknown unit "inn" (found "10 inn"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "comma-decimal",
        SIDE,
        'side = "10,5 in"',
        '{file}, line 12: piece "A" > side: decimals take a point, not a comma (found "10,5 in"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "not-a-length",
        SIDE,
        'side = "wide"',
        '{file}, line 12: piece "A" > side: must be a length (found "wide"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "negative-size",
        SIDE,
        'side = "-10 in"',
        '{file}, line 12: piece "A" > side: must be more than 0 (found "-10 in"). Write a length above 0.',
    ),
    _bad(
        "zero-size",
        SIDE,
        "side = 0",
        '{file}, line 12: piece "A" > side: must be more than 0 (found 0). Write a length above 0.',
    ),
    _bad(
        "too-large",
        SIDE,
        'side = "40 ft"',
        '{file}, line 12: piece "A" > side: may be 10 m (32 ft) at most (found "40 ft"). Write a shorter length.',
    ),
    _bad(
        "longer-than-any-stock",
        SIDE,
        'side = "99999999 m"',
        '{file}, line 12: piece "A" > side: a length may be 10 km at most (found "99999999 m"). Write a shorter length.',
    ),
    _bad(
        "nan-size",
        SIDE,
        "side = nan",
        '{file}, line 12: piece "A" > side: must be a finite number (found nan). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "infinite-size",
        SIDE,
        "side = inf",
        '{file}, line 12: piece "A" > side: must be a finite number (found infinity). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "huge-number",
        SIDE,
        "side = 1e400",
        '{file}, line 12: piece "A" > side: the number is out of range (found 1E+400). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "true-as-size",
        SIDE,
        "side = true",
        '{file}, line 12: piece "A" > side: must be a length (found true). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "list-as-size",
        SIDE,
        "side = [1]",
        '{file}, line 12: piece "A" > side: must be a length (found a list of 1). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "fraction-over-zero",
        SIDE,
        'side = "10-1/0 in"',
        '{file}, line 12: piece "A" > side: a fraction cannot be over 0 (found "10-1/0 in"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "top-heavy-fraction",
        SIDE,
        'side = "10-5/4 in"',
        '{file}, line 12: piece "A" > side: the fraction of a mixed number must be less than 1 (found "10-5/4 in"). Write for example 14-1/2 in.',
    ),
    _bad(
        "feet-with-14-inches",
        SIDE,
        'side = "1 ft 14 in"',
        '{file}, line 12: piece "A" > side: inches after feet must be less than 12 (found "1 ft 14 in"). Write the whole length in inches.',
    ),
    _bad(
        "no-side",
        'side = "10 in"\n',
        "",
        '{file}, line 8: piece "A": "side" is missing. Write side = "12 in" (finished), or blank = "14-1/32 in".',
    ),
    _bad(
        "side-and-blank",
        SIDE,
        'side = "10 in"\nblank = "11.5 in"',
        '{file}, line 13: piece "A" > blank: side and blank say the same thing (found side 10 in, blank 11-1/2 in). Write one of the two.',
    ),
    _bad("no-hem", HEM, '\n[[piece]]\nmark = "S"', '{file}, line 8: piece "A": "hem" is missing. Write hem = "1 in".'),
    _bad(
        "only-upper-hem",
        HEM,
        'upper_hem = "3/4 in"' + NEXT,
        '{file}, line 8: piece "A": "lower_hem" is missing. Write lower_hem = "1 in".',
    ),
    _bad(
        "hem-wider-than-side",
        HEM,
        'hem = "5 in"' + NEXT,
        '{file}, line 13: piece "A" > hem: a hem must be narrower than half the side, 10 in (found "5 in"). Write a narrower hem or a longer side.',
    ),
    _bad(
        "gap-below-metal",
        HEM,
        'hem = "3/4 in"\nhem_gap = "0.01 in"' + NEXT,
        '{file}, line 14: piece "A" > hem_gap: a hem that must hook needs a gap of at least the metal\'s thickness, 0.0216 in (found "0.01 in"). Write hem_gap = "1/32 in" or more.',
    ),
    _bad(
        "closed-lower-hems",
        HEM,
        'hem = "3/4 in"\nlower_gap = 0' + NEXT,
        '{file}, line 14: piece "A" > lower_gap: a hem that must hook needs a gap of at least the metal\'s thickness, 0.0216 in (found 0). Write lower_gap = "1/32 in" or more.',
    ),
    _bad(
        "angle-out-of-range",
        SIDE,
        'side = "10 in"\ntop_angle = 30',
        '{file}, line 13: piece "A" > top_angle: must be 60 to 120 degrees (found 30). Write a number from 60 to 120.',
    ),
    _bad(
        "angle-in-words",
        SIDE,
        'side = "10 in"\ntop_angle = "square"',
        '{file}, line 13: piece "A" > top_angle: must be an angle (found "square"). Write degrees as a number, for example 90.',
    ),
    _bad(
        "unknown-key", SIDE, 'sidee = "10 in"', '{file}, line 12: piece "A" > sidee: unknown key "sidee". Write "side".'
    ),
    _bad(
        "unknown-key-far-off",
        SIDE,
        'side = "10 in"\ncolour = "green"',
        '{file}, line 13: piece "A" > colour: unknown key "colour". Write one of mark, count, spare, metal, grain, finish, allowance, note, kind, side, blank, top_angle, hem, upper_hem, lower_hem, hem_gap, upper_gap, lower_gap, snip_past, slack, joint.',
    ),
    _bad(
        "key-of-another-table",
        SIDE,
        'side = "10 in"\nlongest_cut = "52 in"',
        '{file}, line 13: piece "A" > longest_cut: unknown key "longest_cut". Write it under [shear].',
    ),
    _bad(
        "key-of-another-kind",
        SIDE,
        'side = "10 in"\nlegs = ["1 in"]',
        '{file}, line 13: piece "A" > legs: unknown key "legs". Write one of mark, count, spare, metal, grain, finish, allowance, note, kind, side, blank, top_angle, hem, upper_hem, lower_hem, hem_gap, upper_gap, lower_gap, snip_past, slack, joint.',
    ),
    _bad(
        "zero-count",
        "count = 40",
        "count = 0",
        '{file}, line 11: piece "A" > count: must be 1 to 1,000,000 (found 0). Write a whole number from 1 to 1000000.',
    ),
    _bad(
        "negative-count",
        "count = 40",
        "count = -3",
        '{file}, line 11: piece "A" > count: must be 1 to 1,000,000 (found -3). Write a whole number from 1 to 1000000.',
    ),
    _bad(
        "count-too-large",
        "count = 40",
        "count = 2000000",
        '{file}, line 11: piece "A" > count: must be 1 to 1,000,000 (found 2000000). Write a whole number from 1 to 1000000.',
    ),
    _bad(
        "count-with-fraction",
        "count = 40",
        "count = 40.5",
        '{file}, line 11: piece "A" > count: must be a whole number (found 40.5). Write a whole number without quotes.',
    ),
    _bad(
        "count-as-text",
        "count = 40",
        'count = "40"',
        '{file}, line 11: piece "A" > count: must be a whole number (found "40"). Write a whole number without quotes.',
    ),
    _bad(
        "count-endless",
        "count = 40",
        "count = 1e300",
        '{file}, line 11: piece "A" > count: the number is out of range (found 1E+300). Write a whole number without quotes.',
    ),
    _bad(
        "pieces-together-too-many",
        'count = 40\nside = "10 in"',
        'count = 999990\nside = "10 in"',
        "{file}: a job may have 1,000,000 pieces at most (found 1,000,007). Write two jobs.",
    ),
    _bad(
        "no-count",
        "count = 40\nside",
        "side",
        '{file}, line 8: piece "A": "count" is missing. Write count = 24, or a [[slope]] that counts it.',
    ),
    _bad("no-mark", 'mark = "A"\n', "", '{file}, line 8: piece 1: "mark" is missing. Write mark = "A".'),
    _bad(
        "empty-mark",
        'mark = "A"',
        'mark = "  "',
        '{file}, line 9: piece 1 > mark: must not be empty (found "  "). Write a short name.',
    ),
    _bad(
        "mark-too-long",
        'mark = "A"',
        'mark = "' + "A" * 61 + '"',
        '{file}, line 9: piece "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA..." > mark: may be 60 characters at most (found "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA..."). Write a shorter name.',
    ),
    _bad(
        "mark-with-control-character",
        'mark = "A"',
        'mark = "A\\u001b[31m"',
        '{file}, line 9: piece "A\\x1b[31m" > mark: must be one line without hidden characters (found "A\\x1b[31m"). Write plain text.',
    ),
    _bad(
        "duplicate-mark",
        'mark = "D"',
        'mark = "A"',
        '{file}, line 20: piece "S" > hooks: names a piece that is not in the job (found "D"). Write the mark of a section.',
        '{file}, line 23: piece "A" > mark: the piece on line 9 has the same mark (found "A"). Write another mark.',
    ),
    _bad(
        "mark-same-but-capitals",
        'mark = "F"',
        'mark = "a"',
        '{file}, line 32: piece "a" > mark: the piece on line 9 has the same mark but for capitals (found "a"). Write another mark.',
    ),
    _bad("no-kind", 'kind = "diamond"\n', "", '{file}, line 8: piece "A": "kind" is missing. Write kind = "diamond".'),
    _bad(
        "unknown-kind",
        'kind = "diamond"',
        'kind = "dimond"',
        '{file}, line 10: piece "A" > kind: must be diamond, starter, ridge-half, rake-left, rake-right, flat-seam, rectangle, disc, outline, section, apex-cap, opening-set, rake-cover or ridge-end (found "dimond"). Write "diamond".',
    ),
    _bad(
        "kind-not-text",
        'kind = "diamond"',
        "kind = 4",
        '{file}, line 10: piece "A" > kind: must be diamond, starter, ridge-half, rake-left, rake-right, flat-seam, rectangle, disc, outline, section, apex-cap, opening-set, rake-cover or ridge-end (found 4). Write for example "diamond".',
    ),
    _bad("starter-of-nothing", 'for = "A"\n', "", '{file}, line 15: piece "S": "for" is missing. Write for = "A".'),
    _bad(
        "starter-of-missing",
        'for = "A"',
        'for = "B"',
        '{file}, line 18: piece "S" > for: names a piece that is not in the job (found "B"). Write "A".',
    ),
    _bad(
        "starter-of-a-section",
        'for = "A"',
        'for = "D"',
        '{file}, line 18: piece "S" > for: must name a diamond (found "D", a section). Write the mark of a diamond.',
    ),
    _bad(
        "hooks-missing",
        'hooks = "D"',
        'hooks = "Drip"',
        '{file}, line 20: piece "S" > hooks: names a piece that is not in the job (found "Drip"). Write "D".',
    ),
    _bad(
        "hooks-a-diamond",
        'hooks = "D"',
        'hooks = "A"',
        '{file}, line 20: piece "S" > hooks: must name a section (found "A", a diamond). Write the mark of a section.',
    ),
    _bad(
        "hooks-without-fold",
        'hooks = "D"',
        'hooks = "D"\ncut_fold = "none"',
        '{file}, line 20: piece "S" > hooks: a piece without a fold on its cut edge hooks nothing (found "D"). Write a cut_fold, or take out "hooks".',
    ),
    _bad(
        "cut-fold-word",
        'hooks = "D"',
        'cut_fold = "no"',
        '{file}, line 20: piece "S" > cut_fold: must be a fold or "none" (found "no"). Write "none", or {width = "1 in", toward = "back"}.',
    ),
    _bad(
        "cut-fold-closed",
        'hooks = "D"',
        'cut_fold = {width = "1 in", toward = "back", gap = 0}',
        '{file}, line 20: piece "S" > cut_fold > gap: a hem that must hook needs a gap of at least the metal\'s thickness, 0.0216 in (found 0). Write gap = "1/32 in" or more.',
    ),
    _bad(
        "cut-fold-side",
        'hooks = "D"',
        'cut_fold = {width = "1 in", toward = "front"}',
        '{file}, line 20: piece "S" > cut_fold > toward: must be face or back (found "front"). Write "face" or "back".',
    ),
    _bad(
        "cut-fold-key",
        'hooks = "D"',
        'cut_fold = {width = "1 in", toward = "back", turn = 90}',
        '{file}, line 20: piece "S" > cut_fold > turn: unknown key "turn". Write "turned".',
    ),
    _bad(
        "cut-fold-no-width",
        'hooks = "D"',
        'cut_fold = {toward = "back"}',
        '{file}, line 20: piece "S" > cut_fold: "width" is missing. Write width = "1/2 in".',
    ),
    _bad(
        "cut-fold-turned",
        'hooks = "D"',
        'cut_fold = {width = "1 in", toward = "back", turned = 270}',
        '{file}, line 20: piece "S" > cut_fold > turned: must be 1 to 180 degrees (found 270). Write a number from 1 to 180.',
    ),
    _bad(
        "bends-too-few",
        "bends = [90, -45]",
        "bends = [90]",
        '{file}, line 28: piece "D" > bends: there is one bend between each two legs (found 3 legs, 1 bend). Write 2 bends.',
    ),
    _bad(
        "bend-of-zero",
        "bends = [90, -45]",
        "bends = [90, 0]",
        '{file}, line 28: piece "D" > bends > 2: a bend of 0 degrees is none (found 0). Write the degrees turned, or one longer leg.',
    ),
    _bad(
        "bend-is-a-hem",
        "bends = [90, -45]",
        "bends = [180, -45]",
        '{file}, line 28: piece "D" > bends > 1: a fold of 180 degrees that lays an end leg on a longer one is a hem (found 180). Write one leg less, and start_hem = {width = "3/4 in", toward = "face"}.',
    ),
    _bad(
        "taper-legs-missing",
        "bends = [90, -45]",
        'bends = [90, -45]\ntaper_to = ["1/2 in", "2 in"]',
        '{file}, line 29: piece "D" > taper_to: a tapered strip has as many legs at its other end (found 2). Write 3 sizes, those that stay as they are included.',
    ),
    _bad(
        "taper-that-does-not",
        "bends = [90, -45]",
        'bends = [90, -45]\ntaper_to = ["3/4 in", "2-1/2 in", "3 in"]',
        '{file}, line 29: piece "D" > taper_to: the legs at the other end are the same: it does not taper (found 3/4 in, 2-1/2 in and 3 in). Write the sizes there, or leave it out.',
    ),
    _bad(
        "taper-with-a-fold",
        "bends = [90, -45]",
        'bends = [90, 180]\ntaper_to = ["3/4 in", "2 in", "3 in"]',
        '{file}, line 29: piece "D" > taper_to: a tapered strip has no fold of 180 degrees between legs and no double hem (found bend 2). Write single hems, or two pieces.',
    ),
    _bad(
        "taper-hem-too-wide",
        "bends = [90, -45]",
        'bends = [90, -45]\ntaper_to = ["3/4 in", "2 in", "3/8 in"]',
        '{file}, line 30: piece "D" > end_hem > width: a hem must be no wider than its leg at the other end, 3/8 in (found "1/2 in"). Write a narrower hem or a longer leg.',
    ),
    _bad(
        "dam-on-no-leg",
        "bends = [90, -45]",
        'bends = [90, -45]\nend_dams = [{leg = 4, height = "1 in"}]',
        '{file}, line 29: piece "D" > end_dams > 1 > leg: the strip has 3 legs (found 4). Write a number from 1 to 3.',
    ),
    _bad(
        "dam-too-low",
        "bends = [90, -45]",
        'bends = [90, -45]\nend_dams = [{leg = 2, height = "1/4 in", toward = "face"}]',
        '{file}, line 29: piece "D" > end_dams > 1 > height: what is turned is at least 3/8 in, or no tool holds it (found "1/4 in"). Write 3/8 in or more.',
    ),
    _bad(
        "dam-of-unknown-joint",
        "bends = [90, -45]",
        'bends = [90, -45]\nend_dams = [{leg = 2, height = "1 in", toward = "face", joined = "glued"}]',
        '{file}, line 29: piece "D" > end_dams > 1 > joined: must be soldered, sealed, riveted or open (found "glued"). Write "soldered", "sealed", "riveted" or "open".',
    ),
    _bad(
        "return-at-no-end",
        "bends = [90, -45]",
        'bends = [90, -45]\nreturns = [{leg = 2, length = "1 in", at = "C"}]',
        '{file}, line 29: piece "D" > returns > 1 > at: must be A, B or both (found "C"). Write "A", "B" or "both".',
    ),
    _bad(
        "return-turned-too-far",
        "bends = [90, -45]",
        'bends = [90, -45]\nreturns = [{leg = 2, length = "1 in", turned = 170}]',
        '{file}, line 29: piece "D" > returns > 1 > turned: must be 30 to 135 degrees (found 170). Write a number from 30 to 135.',
    ),
    _bad(
        "ends-side-by-side",
        "bends = [90, -45]",
        'bends = [90, -45]\nend_dams = [{leg = 2, height = "1 in"}]\nreturns = [{leg = 3, length = "1 in"}]',
        '{file}, line 30: piece "D" > returns > 1 > leg: two legs side by side cannot both be turned at one end: their metal is the same (found legs 2 and 3). Write one of them, with tabs of the other round its corner.',
    ),
    _bad(
        "end-turned-twice",
        "bends = [90, -45]",
        'bends = [90, -45]\nend_dams = [{leg = 2, height = "1 in"}, {leg = 2, height = "2 in", at = "A"}]',
        '{file}, line 29: piece "D" > end_dams > 2 > leg: the end of a leg is turned once (found 2). Write another leg or end.',
    ),
    _bad(
        "dam-on-a-taper",
        "bends = [90, -45]",
        'bends = [90, -45]\ntaper_to = ["3/4 in", "2 in", "3 in"]\nend_dams = [{leg = 2, height = "1 in"}]',
        '{file}, line 30: piece "D" > end_dams: a tapered strip has no turned ends (found taper_to and end_dams). Write a strip that does not taper, or an end piece of its own.',
    ),
    _bad(
        "dam-on-a-flat-strip",
        'legs = ["3/4 in", "2-1/2 in", "3 in"]\nbends = [90, -45]\nend_hem = {width = "1/2 in", toward = "back"}',
        'legs = ["3 in"]\nend_dams = [{leg = 1, height = "1 in", toward = "face"}]',
        '{file}, line 28: piece "D" > end_dams: a strip with turned ends has a bend or a hem (found one flat leg). Write kind = "outline", with folds on its edges.',
    ),
    _bad(
        "double-hem-half-turned",
        'end_hem = {width = "1/2 in"',
        'end_hem = {double = true, turned = 90, width = "1/2 in"',
        '{file}, line 29: piece "D" > end_hem > double: only a hem of 180 degrees is folded twice (found turned = 90). Write turned = 180, or leave double out.',
    ),
    _bad(
        "double-hem-open",
        'end_hem = {width = "1/2 in"',
        'end_hem = {double = true, gap = "1/16 in", width = "1/2 in"',
        '{file}, line 29: piece "D" > end_hem > gap: a double hem is closed flat (found "1/16 in"). Write gap = 0.',
    ),
    _bad(
        "double-hem-narrow",
        'end_hem = {width = "1/2 in"',
        'end_hem = {double = true, width = "1/8 in"',
        '{file}, line 29: piece "D" > end_hem > width: a double hem is wider than 1/8 in (found "1/8 in"). Write a wider hem, or leave double out.',
    ),
    _bad(
        "double-is-yes-or-no",
        'end_hem = {width = "1/2 in"',
        'end_hem = {double = "yes", width = "1/2 in"',
        '{file}, line 29: piece "D" > end_hem > double: must be true or false (found "yes"). Write true or false, without quotes.',
    ),
    _bad(
        "bend-too-far",
        "bends = [90, -45]",
        "bends = [90, -200]",
        '{file}, line 28: piece "D" > bends > 2: must be -180 to 180 degrees (found -200). Write a number from -180 to 180.',
    ),
    _bad(
        "bend-in-words",
        "bends = [90, -45]",
        'bends = [90, "up"]',
        '{file}, line 28: piece "D" > bends > 2: must be an angle (found "up"). Write degrees as a number, for example 90.',
    ),
    _bad(
        "leg-not-a-list",
        'legs = ["3/4 in", "2-1/2 in", "3 in"]',
        'legs = "3 in"',
        '{file}, line 27: piece "D" > legs: must be a list (found "3 in"). Write square brackets, for example ["3/4 in", "2-1/2 in"].',
    ),
    _bad(
        "leg-with-a-fault",
        'legs = ["3/4 in", "2-1/2 in", "3 in"]',
        'legs = ["3/4 in", "2-1/2 inn", "3 in"]',
        '{file}, line 27: piece "D" > legs > 2: unknown unit "inn" (found "2-1/2 inn"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "no-legs",
        'legs = ["3/4 in", "2-1/2 in", "3 in"]',
        "legs = []",
        '{file}, line 27: piece "D" > legs: must not be empty (found a list of 0). Write a value.',
    ),
    _bad(
        "legs-too-many",
        'legs = ["3/4 in", "2-1/2 in", "3 in"]',
        "legs = [" + ", ".join(["1"] * 31) + "]",
        '{file}, line 27: piece "D" > legs: may have 30 entries at most (found a list of 31). Write fewer entries.',
    ),
    _bad(
        "radii-do-not-match",
        "bends = [90, -45]",
        'bends = [90, -45]\ninside_radius = ["1/16 in"]',
        '{file}, line 29: piece "D" > inside_radius: a list of radii has one for each bend (found 1 for 2 bends). Write one radius, or one for each bend.',
    ),
    _bad(
        "hem-wider-than-leg",
        'end_hem = {width = "1/2 in"',
        'start_hem = {width = "1 in", toward = "back"}\nend_hem = {width = "1/2 in"',
        '{file}, line 29: piece "D" > start_hem > width: a hem must be no wider than its leg, 3/4 in (found "1 in"). Write a narrower hem or a longer leg.',
    ),
    _bad(
        "hem-not-a-table",
        END_HEM,
        'end_hem = "1/2 in"',
        '{file}, line 29: piece "D" > end_hem: must be a table (found "1/2 in"). Write {key = value, ...}, for example {width = "1/2 in", toward = "back"}.',
    ),
    _bad(
        "section-too-long",
        'length = "48 in"',
        'length = "400 ft"',
        '{file}, line 26: piece "D" > length: may be 100 m (328 ft) at most (found "400 ft"). Write a shorter length.',
    ),
    _bad(
        "by-hand-no-pair",
        "bends = [90, -45]",
        "bends = [90, -45]\nfinish_by_hand = 3",
        '{file}, line 29: piece "D" > finish_by_hand: must be a pair or a list of pairs (found 3). Write [bend number, degrees], for example [4, 45].',
    ),
    _bad(
        "by-hand-no-such-bend",
        "bends = [90, -45]",
        "bends = [90, -45]\nfinish_by_hand = [9, 45]",
        '{file}, line 29: piece "D" > finish_by_hand: must name a bend of the piece (there is 1, 2, 3) (found 9). Write [bend, degrees]; bends are counted from the start edge, hems too.',
    ),
    _bad(
        "by-hand-too-far",
        "bends = [90, -45]",
        "bends = [90, -45]\nfinish_by_hand = [[1, 20], [2, 60]]",
        '{file}, line 29: piece "D" > finish_by_hand: bend 2 turns 45 degrees (found 60). Write [2, 45].',
    ),
    _bad(
        "by-hand-more-than-half-round",
        "bends = [90, -45]",
        "bends = [90, -45]\nfinish_by_hand = [1, 200]",
        '{file}, line 29: piece "D" > finish_by_hand: must name a bend from 1 and 0 to 180 degrees (found a list of 2). Write [bend number, degrees], for example [4, 45].',
    ),
    _bad(
        "by-hand-twice",
        "bends = [90, -45]",
        "bends = [90, -45]\nfinish_by_hand = [[1, 20], [1, 30]]",
        '{file}, line 29: piece "D" > finish_by_hand: names a bend twice (found 1). Write every bend once.',
    ),
    _bad(
        "pan-hem-too-wide",
        'length = "24 in"\nhem = "3/4 in"',
        'length = "24 in"\nhem = "9 in"',
        '{file}, line 37: piece "F" > hem: a hem must be narrower than half the pan, 18 in (found "9 in"). Write a narrower hem or a larger pan.',
    ),
    _bad(
        "pan-edge-number",
        'length = "24 in"\nhem = "3/4 in"',
        'length = "24 in"\nhem = "3/4 in"\nface_edges = [1, 5]',
        '{file}, line 38: piece "F" > face_edges > 2: must be 1 to 4 (found 5). Write a whole number from 1 to 4.',
    ),
    _bad(
        "pan-edge-twice",
        'length = "24 in"\nhem = "3/4 in"',
        'length = "24 in"\nhem = "3/4 in"\nface_edges = [1, 1]',
        '{file}, line 38: piece "F" > face_edges: names an edge twice (found [1, 1]). Write each edge once.',
    ),
    _bad(
        "outline-clockwise",
        '["6 in", "0 in"], ["6 in", "4 in"], ["0 in", "4 in"]]',
        '["0 in", "4 in"], ["6 in", "4 in"], ["6 in", "0 in"]]',
        '{file}, line 43: piece "O" > points: the corners must run counter-clockwise seen from the face. Write them in reverse order.',
    ),
    _bad(
        "outline-crosses-itself",
        '["6 in", "0 in"], ["6 in", "4 in"], ["0 in", "4 in"]]',
        '["6 in", "4 in"], ["6 in", "0 in"], ["0 in", "4 in"]]',
        '{file}, line 43: piece "O" > points: the outline crosses itself. Write the corners in order round the piece.',
    ),
    _bad(
        "outline-corner-twice",
        '["6 in", "0 in"], ["6 in", "4 in"], ["0 in", "4 in"]]',
        '["6 in", "0 in"], ["6 in", "0 in"], ["0 in", "4 in"]]',
        '{file}, line 43: piece "O" > points > 2: the next corner is at the same place. Write each corner once.',
    ),
    _bad(
        "outline-two-corners",
        '[["0 in", "0 in"], ["6 in", "0 in"], ["6 in", "4 in"], ["0 in", "4 in"]]',
        '[["0 in", "0 in"], ["6 in", "0 in"]]',
        '{file}, line 43: piece "O" > points: needs at least 3 entries (found a list of 2). Write more entries.',
    ),
    _bad(
        "outline-half-a-corner",
        '[["0 in", "0 in"], ["6 in", "0 in"],',
        '[["0 in", "0 in"], ["6 in"],',
        '{file}, line 43: piece "O" > points > 2: must be a pair (found a list of 1). Write ["0 in", "0 in"].',
    ),
    _bad(
        "outline-too-many-corners",
        '[["0 in", "0 in"], ["6 in", "0 in"], ["6 in", "4 in"], ["0 in", "4 in"]]',
        "[" + ", ".join(f"[{i}, {i * i}]" for i in range(61)) + "]",
        '{file}, line 43: piece "O" > points: may have 60 entries at most (found a list of 61). Write fewer entries.',
    ),
    _bad(
        "outline-fold-edge",
        "edge = 1",
        "edge = 5",
        '{file}, line 44: piece "O" > folds > 1 > edge: the outline has 4 edges (found 5). Write a number from 1 to 4.',
    ),
    _bad(
        "outline-fold-twice",
        'toward = "face"}]',
        'toward = "face"}, {edge = 1, width = "1 in", toward = "back"}]',
        '{file}, line 44: piece "O" > folds > 2 > edge: an edge is folded once (found 1). Write another edge.',
    ),
    _bad(
        "missing-profile",
        'use = "copper-16oz"',
        'use = "copper-17oz"',
        '{file}, line 6: metal > use: no metal profile of this name (found "copper-17oz"). Write "copper-16oz" or "copper-12oz" or "copper-24oz".',
    ),
    _bad(
        "missing-profile-file",
        'use = "copper-16oz"',
        'use = "metals/mine.toml"',
        '{file}, line 6: metal > use: no such metal profile (found "metals/mine.toml"). Write the name of a file that exists.',
    ),
    _bad(
        "profile-path-absolute",
        'use = "copper-16oz"',
        'use = "/metals/mine.toml"',
        '{file}, line 6: metal > use: must be a path relative to the file that names it (found "/metals/mine.toml"). Write for example "metals/my-copper.toml".',
    ),
    _bad(
        "no-metal", 'use = "copper-16oz"\n', "", '{file}, line 5: metal: "use" is missing. Write use = "copper-16oz".'
    ),
    _bad(
        "metal-not-in-stock",
        SIDE,
        'side = "10 in"\nmetal = "zinc-0.7mm"',
        '{file}, line 13: piece "A" > metal: no [[stock]] is of this metal, needed for "A" and "S" (found "zinc-0.7mm"). Write a [[stock]] with metal = "zinc-0.7mm".',
    ),
    _bad(
        "finish-word",
        SIDE,
        'side = "10 in"\nfinish = "painted"',
        '{file}, line 13: piece "A" > finish: must be bare, coated or pre-patinated (found "painted"). Write "pre-patinated".',
    ),
    _bad(
        "finish-number",
        'use = "copper-16oz"',
        'use = "copper-16oz"\nfinish = 3',
        '{file}, line 7: metal > finish: must be bare, coated or pre-patinated (found 3). Write "bare", "coated" or "pre-patinated".',
    ),
    _bad(
        "finish-of-a-part",
        'kind = "starter"',
        'kind = "starter"\nfinish = "coated"',
        '{file}, line 18: piece "S" > finish: is a part of A, which is bare: both lie in one roof (found "coated"). Write "bare", or no finish here.',
    ),
    _bad(
        "finish-two-ways",
        'hem = "3/4 in"\n\n[[piece]]\nmark = "S"\nkind = "starter"',
        'hem = "3/4 in"\nfinish = "coated"\ngrain = "along"\n\n[[piece]]\nmark = "S"\ngrain = "across"\nkind = "starter"',
        '{file}, line 19: piece "S" > grain: contradicts finish = "coated": its pieces all lie one way to the rolling direction, and A lies along (found "across"). Write "along".',
    ),
    BadJob(
        id="finish-turned-over",
        new=GOOD.replace("count = 40\n", 'finish = "coated"\n').replace("count = 6\n", "")
        + '[[slope]]\nname = "n"\nshape = "rectangle"\npiece = "A"\nbottom = "8 ft"\nheight = "4 ft"\n[roof]\ngood_side = false\n',
        says=(
            '{file}, line 67: roof > good_side: contradicts finish = "coated" of A: its face is the good side (found false). Write good_side = true, or a bare metal.',
        ),
        whole=True,
    ),
    _bad(
        "stock-twice",
        'name = "sheet"',
        'name = "coil 24"',
        '{file}, line 53: stock "coil 24" > name: the stock line on line 47 has the same name (found "coil 24"). Write another name.',
    ),
    _bad(
        "unknown-form",
        'form = "coil"',
        'form = "roll"',
        '{file}, line 48: stock "coil 24" > form: must be coil, sheet or offcut (found "roll"). Write "coil", "sheet" or "offcut".',
    ),
    _bad(
        "coil-with-length",
        'form = "coil"',
        'form = "coil"\nlength = "96 in"',
        '{file}, line 49: stock "coil 24" > length: a coil has no length here (found "96 in"). Write on_hand = "250 ft" for what is left of it.',
    ),
    _bad(
        "sheet-without-length",
        'length = "96 in"\n',
        "",
        '{file}, line 52: stock "sheet": "length" is missing: a sheet needs width and length. Write length = "96 in".',
    ),
    _bad(
        "sheet-cut-off",
        'length = "96 in"',
        'length = "96 in"\nlongest_cut_off = "10 ft"',
        '{file}, line 57: stock "sheet" > longest_cut_off: only a coil has a longest cut-off, not a sheet (found "10 ft"). Write it under a coil, or take it out.',
    ),
    _bad(
        "sheet-on-hand-by-length",
        "on_hand = 12",
        'on_hand = "250 ft"',
        '{file}, line 57: stock "sheet" > on_hand: a sheet is on hand by count (found "250 ft"). Write a count such as 12.',
    ),
    _bad(
        "coil-on-hand-by-count",
        PRICE,
        'price = "9.40 per lb"\non_hand = 3',
        '{file}, line 51: stock "coil 24" > on_hand: a coil is on hand by length or weight (found 3). Write "250 ft" or "310 lb".',
    ),
    _bad(
        "on-hand-in-words",
        "on_hand = 12",
        'on_hand = "plenty"',
        '{file}, line 57: stock "sheet" > on_hand: must say how much is on hand (found "plenty"). Write "250 ft" or "310 lb" for a coil, a count such as 12 for sheets.',
    ),
    _bad(
        "coil-price-per-sheet",
        PRICE,
        'price = "9.40 per sheet"',
        '{file}, line 50: stock "coil 24" > price: a coil is sold per lb, kg, foot or meter (found "9.40 per sheet"). Write "9.40 per lb".',
    ),
    _bad(
        "price-without-unit",
        PRICE,
        "price = 9.40",
        '{file}, line 50: stock "coil 24" > price: must be a price per sold unit (found 9.40). Write "9.40 per lb" (or per kg, foot, meter, sheet, piece).',
    ),
    _bad(
        "price-unit",
        PRICE,
        'price = "9.40 per bushel"',
        '{file}, line 50: stock "coil 24" > price: unknown sold unit "bushel" (found "9.40 per bushel"). Write "9.40 per lb" (or per kg, foot, meter, sheet, piece).',
    ),
    _bad(
        "price-negative",
        PRICE,
        'price = "-9.40 per lb"',
        '{file}, line 50: stock "coil 24" > price: must be a price per sold unit (found "-9.40 per lb"). Write "9.40 per lb" (or per kg, foot, meter, sheet, piece).',
    ),
    _bad(
        "trim-leaves-nothing",
        'form = "coil"',
        'form = "coil"\ntrim_each_edge = "12 in"',
        '{file}, line 49: stock "coil 24" > trim_each_edge: trimming leaves nothing of a width of 24 in (found "12 in"). Write a smaller trim.',
    ),
    _bad(
        "longest-cut-not-plausible",
        'longest_cut = "52 in"',
        'longest_cut = "52 m"',
        '{file}, line 60: shear > longest_cut: may be 10 m (32 ft) at most (found "52 m"). Write a shorter length.',
    ),
    _bad(
        "least-held-over-reach",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\nleast_held = "50 in"',
        '{file}, line 61: shear > least_held: must be less than the back gauge\'s reach, 48 in (found "50 in"). Write the narrowest strip that may be left, for example "1 in".',
    ),
    _bad(
        "angle-stop-turned-round",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\nangle_stop = [150, 30]',
        "{file}, line 61: shear > angle_stop: the least angle comes first (found [150, 30]). Write [30, 150].",
    ),
    _bad(
        "cutting",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\ncutting = "strip"',
        '{file}, line 61: shear > cutting: must be strips or stacked-strips (found "strip"). Write "strips".',
    ),
    _bad("no-name", 'name = "Porch"\n', "", '{file}, line 1: job: "name" is missing. Write name = "Porch roof".'),
    _bad(
        "number-names-a-folder",
        'number = "7"',
        'number = "../7"',
        '{file}, line 3: job > number: names the packet folder, so it may not hold / \\ : * ? " < > | or begin with a dot (found "../7"). Write letters, digits and dashes.',
    ),
    _bad(
        "units",
        'number = "7"',
        'number = "7"\nunits = "cm"',
        '{file}, line 4: job > units: must be in or mm (found "cm"). Write "in" or "mm".',
    ),
    _bad(
        "round-to-too-fine",
        'number = "7"',
        'number = "7"\nround_to = "0.05 mm"',
        '{file}, line 4: job > round_to: must be 0.1 mm to 1 in (found "0.05 mm"). Write for example "1/32 in" or "0.5 mm".',
    ),
    _bad(
        "round-to-too-coarse",
        'number = "7"',
        'number = "7"\nround_to = "3 in"',
        '{file}, line 4: job > round_to: must be 0.1 mm to 1 in (found "3 in"). Write for example "1/32 in" or "0.5 mm".',
    ),
    _bad(
        "spare-without-percent",
        'number = "7"',
        'number = "7"\nspare = 5',
        '{file}, line 4: job > spare: must be a share or a number of pieces (found 5). Write "5 %" or "10 pieces".',
    ),
    _bad(
        "spare-above-all",
        'number = "7"',
        'number = "7"\nspare = "500 %"',
        '{file}, line 4: job > spare: must be 100 % at most (found "500 %"). Write "5 %".',
    ),
    _bad(
        "batch-of-none",
        'number = "7"',
        'number = "7"\nbatch = 0',
        "{file}, line 4: job > batch: must be 1 to 10,000 (found 0). Write a whole number from 1 to 10000.",
    ),
    _bad(
        "scrap-price-by-length",
        'number = "7"',
        'number = "7"\nscrap_price = "3.10 per foot"',
        '{file}, line 4: job > scrap_price: scrap is sold by weight (found "3.10 per foot"). '
        'Write "3.10 per lb" or per kg.',
    ),
    _bad(
        "buy-without-on-hand",
        PRICE,
        PRICE + "\nbuy = true",
        '{file}, line 51: stock "coil 24" > buy: metal without on_hand is bought anyway (found true). '
        "Write it beside on_hand of a coil or sheet.",
    ),
    _bad(
        "keep-at-least",
        'number = "7"',
        'number = "7"\nkeep_at_least = "6 in"',
        '{file}, line 4: job > keep_at_least: must be a width and a length (found "6 in"). Write "6 x 12 in".',
    ),
    _bad(
        "paper",
        'number = "7"',
        'number = "7"\npaper = "legal"',
        '{file}, line 4: job > paper: must be letter or a4 (found "legal"). Write "letter" or "a4".',
    ),
    _bad(
        "name-over-two-lines",
        'name = "Porch"',
        'name = """Porch\nback"""',
        '{file}, line 2: job > name: must be one line without hidden characters (found "Porch\\x0aback"). Write plain text.',
    ),
    _bad("unknown-table", "", '[[stok]]\nname = "x"\n', '{file}, line 61: unknown table "stok". Write [[stock]].'),
    _bad(
        "unknown-top-key",
        "[job]\n",
        'units = "in"\n[job]\n',
        '{file}, line 1: unknown key "units". Write it under a table such as [job], or take it out.',
    ),
    BadJob(
        id="piece-in-single-brackets",
        whole=True,
        new='[job]\nname = "x"\nnumber = "1"\n[metal]\nuse = "copper-16oz"\n[piece]\nmark = "A"\n',
        says=("{file}, line 6: piece: is written with double brackets, once for each. Write [[piece]].",),
    ),
    _bad(
        "shear-in-double-brackets",
        "[shear]",
        "[[shear]]",
        "{file}, line 59: shear: is written once, with single brackets. Write [shear].",
    ),
    _bad(
        "nest-good-enough",
        "",
        "[nest]\ngood_enough = 0.1\n",
        '{file}, line 62: nest > good_enough: must be a share in percent (found 0.1). Write "5 %".',
    ),
    _bad(
        "nest-search-effort",
        "",
        "[nest]\nsearch_effort = 1000\n",
        "{file}, line 62: nest > search_effort: must be 0 to 100 (found 1000). Write a number from 0 to 100.",
    ),
    _bad(
        "nest-try-again",
        "",
        "[nest]\ntry_again = -1\n",
        "{file}, line 62: nest > try_again: must be 0 to 4,294,967,295 (found -1). Write a whole number from 0 to 4294967295.",
    ),
    _bad(
        "old-name-and-new",
        "",
        "[nest]\neffort = 0\nsearch_effort = 1\n",
        '{file}, line 62: nest > effort: "effort" is the old name of "search_effort", and both are there. Write search_effort alone.',
    ),
    _bad(
        "old-name-with-a-bad-value",
        "",
        "[nest]\neffort = 1000\n",
        "{file}, line 62: nest > search_effort: must be 0 to 100 (found 1000). Write a number from 0 to 100.",
    ),
    _bad(
        "nest-pair",
        "",
        '[nest]\npair = "yes"\n',
        '{file}, line 62: nest > pair: must be true or false (found "yes"). Write true or false, without quotes.',
    ),
    _bad(
        "brake-angle",
        "",
        "[brake]\nlargest_angle = 200\n",
        "{file}, line 62: brake > largest_angle: must be 1 to 180 degrees (found 200). Write a number from 1 to 180.",
    ),
    _bad(
        "brake-bed-depth",
        "",
        '[brake]\nbed_depth = "0 in"\n',
        '{file}, line 62: brake > bed_depth: must be more than 0 (found "0 in"). Write a length above 0.',
    ),
    _bad(
        "brake-beam-depth",
        "",
        '[brake]\nbeam_depth = "-5 in"\n',
        '{file}, line 62: brake > beam_depth: must be more than 0 (found "-5 in"). Write a length above 0.',
    ),
    _bad(
        "brake-bar-off",
        "",
        '[brake]\napron_bar_off = "thin"\n',
        '{file}, line 62: brake > apron_bar_off: must be a length (found "thin"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
    ),
    _bad(
        "section-hems-overlap",
        'legs = ["3/4 in", "2-1/2 in", "3 in"]\nbends = [90, -45]',
        'legs = ["3/4 in"]\nbends = []\nstart_hem = {width = "1/2 in", toward = "back"}',
        '{file}, line 30: piece "D" > end_hem > width: two hems to one side of a leg overlap: they need 1 in (found a leg of 3/4 in). Write narrower hems, or one of them to the other side.',
    ),
    _bad(
        "brake-setback",
        "",
        '[brake]\nnose_setback = "2 in"\n',
        '{file}, line 62: brake > nose_setback: must be a number of thicknesses (found "2 in"). Write "2 t" (times the metal\'s thickness).',
    ),
    _bad(
        "brake-assumed",
        "",
        '[brake]\nassumed = ["jaw"]\n',
        '{file}, line 62: brake > assumed: unknown key "assumed". Write nothing: fabplan works it out.',
    ),
    _bad(
        "hem-tool-folds",
        "",
        '[[hem_tool]]\nname = "tongs"\nlargest_angle = 180\nleast_fold = "2 in"\ngreatest_fold = "1 in"\nlongest_fold = "3 in"\npress_strip = "1/2 in"\n',
        '{file}, line 64: hem_tool "tongs" > least_fold: must be no more than greatest_fold, 1 in (found "2 in"). Write a narrower least fold.',
    ),
    _bad(
        "lift-limit",
        "",
        '[handling]\nlift_limit = "heavy"\n',
        '{file}, line 62: handling > lift_limit: must be a weight (found "heavy"). Write "310 lb" or "140 kg".',
    ),
    _bad(
        "measured-metal",
        "",
        '[[brake.measured_allowance]]\nmetal = "gold"\nturned = 90\ndeduction = "0.03 in"\n',
        '{file}, line 62: brake > measured_allowance > 1 > metal: no metal profile of this name (found "gold"). Write one of aluminum-0.032in, aluminum-0.040in, copper-0.6mm, copper-0.7mm, copper-12oz, copper-16oz, copper-20oz, copper-24oz, galvanized-0.0217in, galvanized-0.0276in, stainless-0.018in, terne-coated-stainless-0.015in, zinc-0.7mm, zinc-0.8mm, or a path to a .toml file.',
    ),
    _bad(
        "slope-of-missing-piece",
        "",
        '[[slope]]\nname = "north"\nshape = "rectangle"\npiece = "Q"\nbottom = "10 ft"\nheight = "6 ft"\n',
        '{file}, line 64: slope "north" > piece: names a piece that is not in the job (found "Q"). Write "A".',
    ),
    _bad(
        "count-and-slope",
        "",
        '[[slope]]\nname = "north"\nshape = "rectangle"\npiece = "A"\nbottom = "10 ft"\nheight = "6 ft"\n',
        '{file}, line 11: piece "A" > count: slope "north" on line 64 of {file} counts these pieces too (found count = 40). Write the count or the slope, not both.',
        '{file}, line 19: piece "S" > count: slope "north" on line 64 of {file} counts these pieces too (found count = 6). Write the count or the slope, not both.',
    ),
    _bad(
        "slope-width",
        "",
        '[[slope]]\nname = "north"\nshape = "rectangle"\npiece = "A"\nwidth = "10 ft"\nheight = "6 ft"\n',
        '{file}, line 65: slope "north" > width: unknown key "width". Write "bottom".',
    ),
    _bad(
        "quantity",
        "count = 40",
        "quantity = 40",
        '{file}, line 11: piece "A" > quantity: unknown key "quantity". Write "count".',
    ),
    _bad(
        "slope-shape",
        "",
        '[[slope]]\nname = "north"\nshape = "circle"\npiece = "A"\n',
        '{file}, line 63: slope "north" > shape: must be rectangle, triangle, trapezoid, four-sided, polygon, gable, ell, regular-spire or irregular-spire (found "circle"). Write for example "rectangle".',
    ),
    _bad(
        "roof-cut-pieces",
        "",
        '[roof]\ncut_pieces = "in the air"\n',
        '{file}, line 62: roof > cut_pieces: must be on the roof, at the bench or cheaper (found "in the air"). Write "on the roof".',
    ),
    _bad(
        "roof-off-falls-at-the-bench",
        "",
        '[roof]\ncut_pieces = "at the bench"\nuse_off_falls = true\n',
        '{file}, line 61: roof: use_off_falls = true and cut_pieces = "at the bench" exclude each other: off-falls fall where pieces are cut on the roof.',
    ),
    _bad(
        "apex-cap-half-sized",
        "",
        '[[piece]]\nmark = "P"\nkind = "apex-cap"\ncount = 1\nsides = 6\n',
        '{file}, line 65: piece "P" > sides: needs side and slant too (found 6). Write all three, or none to take them from the spire.',
    ),
    _bad(
        "apex-cap-too-flat",
        "",
        '[[piece]]\nmark = "P"\nkind = "apex-cap"\ncount = 1\nsides = 8\nside = "20 in"\nslant = "24 in"\n',
        '{file}, line 67: piece "P" > slant: the facets open flat to 362°: more than 330° leaves no room for the seam (found "24 in"). Write a longer slant.',
    ),
    _bad(
        "apex-cap-seams",
        "",
        '[[piece]]\nmark = "P"\nkind = "apex-cap"\ncount = 1\nsides = 8\nside = "6 in"\nslant = "24 in"\nseams = 3\n',
        '{file}, line 68: piece "P" > seams: must divide the facets, 8, evenly (found 3). Write 1 or 2 or 4 or 8.',
    ),
    _bad(
        "apex-cap-lap",
        "",
        '[[piece]]\nmark = "P"\nkind = "apex-cap"\ncount = 1\nsides = 8\nside = "6 in"\nslant = "24 in"\nlap = "3 in"\n',
        '{file}, line 68: piece "P" > lap: must be less than half of side, 6 in (found 3 in). Write a narrower lap.',
    ),
    _bad(
        "opening-half-sized",
        "",
        '[[piece]]\nmark = "W"\nkind = "opening-set"\ncount = 1\nupstand = "4 in"\nflange = "5 in"\nwidth = "24 in"\n',
        '{file}, line 67: piece "W" > width: needs height too (found "24 in"). Write both, or none to take them from the slopes.',
    ),
    _bad(
        "opening-hem",
        "",
        '[[piece]]\nmark = "W"\nkind = "opening-set"\ncount = 1\nupstand = "4 in"\nflange = "5 in"\nwidth = "24 in"\nheight = "30 in"\nhem = "6 in"\n',
        '{file}, line 69: piece "W" > hem: must be no wider than flange, 5 in (found 6 in). Write a narrower hem.',
    ),
    _bad(
        "opening-uncounted",
        "",
        '[[piece]]\nmark = "W"\nkind = "opening-set"\nupstand = "4 in"\nflange = "5 in"\n',
        '{file}, line 61: piece "W": "count" is missing. Write count = 24, or a [[slope]] that counts it.',
    ),
    _bad(
        "roof-apex-piece",
        "",
        '[roof]\napex_piece = "O"\n',
        '{file}, line 62: roof > apex_piece: must name an apex-cap (found "O", an outline). Write the mark of an apex-cap.',
    ),
    _bad(
        "roof-opening-piece",
        "",
        '[roof]\nopening_piece = "D"\n',
        '{file}, line 62: roof > opening_piece: must name an opening-set (found "D", a section). Write the mark of an opening-set.',
    ),
    _bad(
        "rake-cover-hem",
        "",
        '[[piece]]\nmark = "RK"\nkind = "rake-cover"\ncount = 2\non_roof = "4 in"\ndown = "3 in"\nhem = "5 in"\n',
        '{file}, line 67: piece "RK" > hem: must be no wider than on_roof, 4 in (found 5 in). Write a narrower hem.',
    ),
    _bad(
        "rake-cover-kick",
        "",
        '[[piece]]\nmark = "RK"\nkind = "rake-cover"\ncount = 2\non_roof = "4 in"\ndown = "3 in"\nkick = "3 in"\n',
        '{file}, line 67: piece "RK" > kick: must be less than down, 3 in (found 3 in). Write a narrower kick.',
    ),
    _bad(
        "ridge-end-half-sized",
        "",
        '[[piece]]\nmark = "RE"\nkind = "ridge-end"\ncount = 2\nleg = "4 in"\n',
        '{file}, line 65: piece "RE" > leg: needs pitches too (found "4 in"). Write both, or none to take them from the roof.',
    ),
    _bad(
        "ridge-end-flange",
        "",
        '[[piece]]\nmark = "RE"\nkind = "ridge-end"\ncount = 2\nleg = "4 in"\npitches = [45, 40]\nflange = "2-1/2 in"\n',
        '{file}, line 67: piece "RE" > flange: must be no more than half of leg, 4 in (found 2-1/2 in). Write a narrower flange.',
    ),
    _bad(
        "ridge-end-hem",
        "",
        '[[piece]]\nmark = "RE"\nkind = "ridge-end"\ncount = 2\nleg = "4 in"\npitches = [45, 40]\nhem = "4 in"\n',
        '{file}, line 67: piece "RE" > hem: must be less than the plate is high, 3.5712 in (found 4 in). Write a narrower hem, or a deeper drop.',
    ),
    _bad(
        "ridge-end-pitch",
        "",
        '[[piece]]\nmark = "RE"\nkind = "ridge-end"\ncount = 2\nleg = "4 in"\npitches = [45, 95]\n',
        '{file}, line 66: piece "RE" > pitches > 2: must be 1 to 85 degrees (found 95). Write a number from 1 to 85.',
    ),
    _bad(
        "roof-ridge-end-piece",
        "",
        '[roof]\nridge_end_piece = "D"\n',
        '{file}, line 62: roof > ridge_end_piece: must name a ridge-end (found "D", a section). Write the mark of a ridge-end.',
    ),
    _bad(
        "roof-rake-piece",
        "",
        '[roof]\nrake_piece = "O"\n',
        '{file}, line 62: roof > rake_piece: must name a section (found "O", an outline). Write the mark of a section.',
    ),
    _bad(
        "crease-of-neighbours",
        'folds = [{edge = 1, width = "1/2 in", toward = "face"}]',
        'creases = [{from = 1, to = 2, turned = 30, toward = "face"}]',
        '{file}, line 44: piece "O" > creases > 1: runs between two corners of the outline that are not neighbours (found 1 to 2, of 4 corners). Write two other corners.',
    ),
    _bad(
        "roof-cleat-piece",
        "",
        '[roof]\ncleat_piece = "Q"\n',
        '{file}, line 62: roof > cleat_piece: names a piece that is not in the job (found "Q"). Write "A", "S", "D", "F" or "O".',
    ),
    _bad(
        "cleats-of-no-roof",
        "count = 5",
        'count = "cleats"',
        '{file}, line 34: piece "F" > count: there is no [[slope]] to count cleats on (found "cleats"). Write a number.',
    ),
    _bad(
        "bend-from-no-roof",
        "bends = [90, -45]",
        'bends = [90, "roof"]',
        '{file}, line 28: piece "D" > bends: is taken from the roof only by the section that a [[slope]]\'s hips, ridges or eaves are covered with (found "roof"). Write bends = [-60], or hip_piece, ridge_piece or eave_piece under [roof] with this mark.',
    ),
    _bad(
        "roof-alike-on-the-roof",
        "",
        '[roof]\nalike_within = "1/2 in"\n',
        '{file}, line 61: roof: alike_within holds only with cut_pieces = "at the bench" or "cheaper".',
    ),
    _bad(
        "roof-use-off-falls",
        "",
        '[roof]\nuse_off_falls = "some"\n',
        '{file}, line 62: roof > use_off_falls: must be true or false (found "some"). Write true or false, without quotes.',
    ),
    _bad(
        "roof-off-fall-margin",
        "",
        '[roof]\noff_fall_margin = "-1 in"\n',
        '{file}, line 62: roof > off_fall_margin: must not be negative (found "-1 in"). Write a length of 0 or more.',
    ),
    _bad(
        "roof-under-cap",
        "",
        '[roof]\nunder_cap = "hide"\n',
        '{file}, line 62: roof > under_cap: must be lay or leave out (found "hide"). Write "lay" or "leave out".',
    ),
    _bad(
        "roof-least-underlap",
        "",
        '[roof]\nleast_underlap = "3 in"\n',
        "{file}, line 61: roof: least_underlap can be no more than underlap.",
    ),
    _bad(
        "roof-lengths",
        "",
        '[roof]\nlengths = "short"\n',
        '{file}, line 62: roof > lengths: must be from the edges or as typed (found "short"). Write "from the edges" or "as typed".',
    ),
    _bad(
        "roof-edge-piece",
        "",
        '[roof]\nhip_piece = "A"\n',
        '{file}, line 62: roof > hip_piece: must name a section (found "A", a diamond). Write the mark of a section.',
    ),
    _bad(
        "shop-not-text",
        "[job]\n",
        "shop = 3\n[job]\n",
        '{file}, line 1: shop: must be the name of a shop file (found 3). Write shop = "shop.toml" above the first table.',
    ),
    _bad(
        "shop-missing",
        "[job]\n",
        'shop = "none.toml"\n[job]\n',
        '{file}, line 1: shop: no such shop file (found "none.toml"). Write the name of a file that exists.',
    ),
    _bad(
        "shop-not-toml",
        "[job]\n",
        'shop = "/etc/passwd"\n[job]\n',
        '{file}, line 1: shop: must be a path relative to the file that names it (found "/etc/passwd"). Write for example "shop.toml" or "../shop.toml".',
    ),
    _bad(
        "shop-other-ending",
        "[job]\n",
        'shop = "shop.txt"\n[job]\n',
        '{file}, line 1: shop: must be a .toml file (found "shop.txt"). Write for example "shop.toml" or "../shop.toml".',
    ),
    _bad(
        "not-toml-bare-words",
        SIDE,
        "side = 10 in",
        '{file}, line 12: a value with a unit or words must stand in quotes. Write for example "14-1/2 in".',
    ),
    _bad(
        "not-toml-curly-quotes",
        SIDE,
        "side = “10 in”",
        '{file}, line 12: a value stands in curly quotes. Write straight quotes: "...".',
    ),
    _bad(
        "not-toml-inch-mark",
        SIDE,
        'side = "10""',
        '{file}, line 12: the quotes around a value do not match. Write "14-1/2 in", or \'14-1/2"\' in single quotes.',
    ),
    _bad("not-toml-no-value", SIDE, "side =", "{file}, line 12: a key has no value. Write a value after the =."),
    _bad(
        "not-toml-colon",
        SIDE,
        'side: "10 in"',
        "{file}, line 12: a key and its value are parted by =. Write key = value.",
    ),
    _bad(
        "not-toml-capital-true",
        SIDE,
        "may_turn = True",
        '{file}, line 12: piece "A" > may_turn: unknown key "may_turn". Write one of mark, count, spare, metal, grain, '
        "finish, allowance, note, kind, side, blank, top_angle, hem, upper_hem, lower_hem, hem_gap, upper_gap, lower_gap, "
        "snip_past, slack, joint.",
        "{file}, line 12: this is neither text nor true or false. Write true or false in small letters.",
    ),
    _bad(
        "not-toml-open-heading",
        "[shear]",
        "[shear",
        "{file}, line 59: a table heading is not closed. Write [job] or [[piece]].",
    ),
    BadJob(
        id="not-toml-prose",
        whole=True,
        new="Dear shop,\nplease cut 40 diamonds.\n",
        says=("{file}, line 1: this is not valid TOML. Write each value as key = value, text in straight quotes.",),
    ),
    _bad(
        "same-key-twice",
        SIDE,
        'side = "10 in"\nside = "11 in"',
        "{file}, line 13: the same key or table is written twice. Write it once.",
    ),
    _bad(
        "same-table-twice",
        "",
        '[metal]\nuse = "zinc-0.7mm"\n',
        "{file}, line 61: the same key or table is written twice. Write it once.",
    ),
    _bad(
        "deep-list",
        SIDE,
        "side = " + "[" * 200 + "]" * 200,
        "{file}, line 12: keys may have 12 parts and lists 24 levels at most. Write plain keys and lists.",
    ),
    _bad(
        "digits-without-end",
        SIDE,
        "side = " + "9" * 5000,
        "{file}, line 12: this job file holds a number or list that is too long. Write ordinary numbers and lists.",
    ),
    _bad(
        "angle-stop-without-square",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\nangle_stop = [95, 150]',
        "{file}, line 61: shear > angle_stop: must hold 90 degrees: every plan has square cuts (found [95, 150]). Write [30, 150].",
    ),
    _bad(
        "kerf-too-wide",
        'longest_cut = "52 in"',
        'longest_cut = "52 in"\nkerf = "1 in"',
        '{file}, line 61: shear > kerf: must be 1/2 in at most: the width a saw turns to dust (found "1 in"). Write 0 for a shear, or the saw\'s width, for example "1/8 in".',
    ),
    _bad(
        "kerf-near-a-blank",
        'longest_cut = "52 in"\n',
        'longest_cut = "52 in"\nkerf = "1/4 in"\n\n[[piece]]\nmark = "R"\nkind = "rectangle"\ncount = 3\nwidth = "1/2 in"\nlength = "9 in"\n',
        '{file}, line 67: piece "R" > width: must be more than twice the kerf, 1/4 in (found 1/2 in). Write a wider blank, or the saw\'s own kerf.',
    ),
    _bad(
        "grain-against-may-turn",
        "",
        '\n[[piece]]\nmark = "R"\nkind = "rectangle"\ncount = 3\nwidth = "5 in"\nlength = "9 in"\nmay_turn = false\ngrain = "across"\n',
        '{file}, line 69: piece "R" > grain: contradicts may_turn = false: so it lies along the stock, and "coil 24" is rolled along its length (found "across"). Write the grain alone, without may_turn, or may_turn alone.',
    ),
    _bad(
        "offcut-below-a-graduation",
        "",
        '\n[[stock]]\nname = "drop"\nform = "offcut"\nwidth = "20 in"\nlength = "0.01 in"\n',
        '{file}, line 66: stock "drop" > length: must be at least one graduation, 1/32 in (found "0.01 in"). Write the size of the metal that is there.',
    ),
    _bad(
        "trim-leaves-no-length",
        "",
        '\n[[stock]]\nname = "drop"\nform = "offcut"\nwidth = "20 in"\nlength = "2 in"\ntrim_each_edge = "1 in"\n',
        '{file}, line 67: stock "drop" > trim_each_edge: trimming leaves nothing of a length of 2 in (found "1 in"). Write a smaller trim.',
    ),
    _bad(
        "marks-wide-letters",
        'mark = "O"',
        'mark = "Ｄ"',
        '{file}, line 40: piece "Ｄ" > mark: the piece on line 23 has the same mark in other spelling (found "Ｄ"). Write another mark.',
    ),
    _bad(
        "marks-spaced",
        'mark = "O"',
        'mark = "d "',
        '{file}, line 40: piece "d" > mark: the piece on line 23 has the same mark but for capitals (found "d"). Write another mark.',
    ),
    _bad(
        "stock-names-alike",
        "",
        '\n[[stock]]\nname = "Coil24"\nform = "coil"\nwidth = "20 in"\n',
        '{file}, line 63: stock "Coil24" > name: the stock line on line 47 has the same name in other spelling (found "Coil24"). Write another name.',
    ),
    _bad(
        "done-of-no-piece",
        "",
        "[done]\npieces = {Z = 4}\n",
        "{file}, line 62: done > pieces > Z: is the mark of no piece. Write A, S, D, F or O.",
    ),
    _bad(
        "done-not-a-count",
        "",
        "[done]\npieces = {A = 1.5}\n",
        "{file}, line 62: done > pieces: must be a whole number (found 1.5). Write a whole number without quotes.",
    ),
    _bad(
        "unfolded-not-there",
        "",
        "[done]\npieces = {A = 4}\nunfolded = {A = 5}\n",
        "{file}, line 63: done > unfolded > A: must be among the 4 of it in pieces (found 5). Write fewer.",
    ),
    _bad(
        "done-part-blanks",
        "",
        '[done]\npart_blanks = "yes"\n',
        '{file}, line 62: done > part_blanks: must be true or false (found "yes"). Write true or false, without quotes.',
    ),
    _bad(
        "done-layouts-and-sheets",
        "",
        "[done]\nlayouts = -1\nsheets = -1\noffcuts = -1\n",
        "{file}, line 62: done > layouts: must be 0 to 100,000 (found -1). Write a whole number from 0 to 100000.",
        "{file}, line 63: done > sheets: must be 0 to 100,000 (found -1). Write a whole number from 0 to 100000.",
        "{file}, line 64: done > offcuts: must be 0 to 100,000 (found -1). Write a whole number from 0 to 100000.",
    ),
    _bad(
        "laid-incomplete",
        "",
        '[[laid]]\nslope = "north"\ncourses = 2\ncentre = "better"\nbase = "0 in"\ncourse = "0 in"\n',
        '{file}, line 61: laid "north": "from_left" is missing. Write from_left = "1/2 in".',
        '{file}, line 64: laid "north" > centre: must be point or joint (found "better"). Write "point" or "joint".',
        '{file}, line 66: laid "north" > course: must be more than 0 (found "0 in"). Write a length above 0.',
    ),
    _bad(
        "laid-twice",
        "",
        '[[laid]]\nslope = "north"\ncourses = 2\ncentre = "point"\nfrom_left = "9 in"\nbase = "0 in"\ncourse = "7 in"\n'
        '[[laid]]\nslope = "North"\ncourses = 2\ncentre = "point"\nfrom_left = "9 in"\nbase = "0 in"\ncourse = "7 in"\n',
        '{file}, line 69: laid "North" > slope: the laid on line 62 has the same slope but for capitals (found "North"). Write another slope.',
    ),
    _bad(
        "supply-of-the-wrong-form",
        PRICE,
        'price = "9.40 per lb"\nsheets_per_pack = 5',
        '{file}, line 51: stock "coil 24" > sheets_per_pack: is for a sheet, not a coil (found 5). Write it under a sheet, or take it out.',
    ),
    _bad(
        "supply-of-what-is-not-bought",
        "on_hand = 12",
        'on_hand = 12\nsheets_per_pack = 5\nlead_time = "2 weeks"',
        '{file}, line 58: stock "sheet" > sheets_per_pack: is of metal that is bought, and none of this is (found 5). Write buy = true beside on_hand, or take it out.',
        '{file}, line 59: stock "sheet" > lead_time: is of metal that is bought, and none of this is (found "2 weeks"). Write buy = true beside on_hand, or take it out.',
    ),
    _bad(
        "supply-terms",
        PRICE,
        'price = "9.40 per lb"\ncoil_min = "0 ft"\ncoil_step = "some"\nlead_time = 14',
        '{file}, line 51: stock "coil 24" > coil_min: must be more than 0 (found "0 ft"). Write a length above 0.',
        '{file}, line 52: stock "coil 24" > coil_step: must be a length (found "some"). Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".',
        '{file}, line 53: stock "coil 24" > lead_time: must be a number of days or weeks (found 14). Write "10 days" or "2 weeks".',
    ),
    _bad(
        "supply-lead-too-long",
        PRICE,
        'price = "9.40 per lb"\nlead_time = "200 weeks"',
        '{file}, line 51: stock "coil 24" > lead_time: may be two years at most (found "200 weeks"). Write "10 days" or "2 weeks".',
    ),
    _bad(
        "supply-prefer-too-much",
        "",
        '[nest]\nprefer_on_hand = "95 %"\n',
        '{file}, line 62: nest > prefer_on_hand: must be 90 % at most (found "95 %"). Write for example "10 %".',
    ),
    BadJob(
        id="empty-file",
        whole=True,
        new="",
        says=(
            '{file}: job: "name" is missing. Write name = "Porch roof".',
            '{file}: job: "number" is missing. Write number = "1042".',
            '{file}: metal: "use" is missing. Write use = "copper-16oz".',
            "{file}: the job has no pieces. Write at least one [[piece]].",
        ),
    ),
)
