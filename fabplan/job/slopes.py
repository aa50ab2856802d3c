"""``[[slope]]`` and ``[roof]``: roof slopes as people tape them, and how they are laid.

Every size is a true size on the slope, never a plan size, looked at from outside: `bottom` is the eave, `left` and
`right` are as seen facing the slope. Which keys a shape needs is in `SHAPE_KEYS`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from fabplan.job.values import Angle, Length, Lengths, Share, SignedLength
from fabplan.labour import Labour
from fabplan.units import NM_PER_INCH, Nm

EdgeKind = Literal["eave", "ridge", "hip", "rake", "valley", "wall"]
ShapeName = Literal[
    "rectangle", "triangle", "trapezoid", "four-sided", "polygon", "gable", "ell", "regular-spire", "irregular-spire"
]
Centre = Literal["point", "joint", "better"]


def _in(sixteenths: int) -> Nm:
    return Nm(NM_PER_INCH * sixteenths // 16)


def copy_of(name: str) -> tuple[str, int] | None:
    """Which of several slopes alike a name on the pages means; None for a name of all of them.

    >>> copy_of("dormer no. 2"), copy_of("dormer")
    (('dormer', 2), None)
    """
    found = re.fullmatch(r"(.+) no\. ([1-9][0-9]{0,3})", name)
    return None if found is None else (found[1], int(found[2]))


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


class Opening(_Model):
    """A hole in a slope (chimney, louvre, skylight), measured along the eave from its left corner and up the slope.

    Either `points`, or a rectangle by `from_left`, `up`, `width`, `height`.
    """

    name: str = ""
    slope: int = Field(default=1, ge=1)  # which face of a spire, counted to the right from 1
    points: tuple[tuple[Length, Length], ...] | None = Field(default=None, min_length=3, max_length=60)
    from_left: Length | None = None
    up: Length | None = None
    width: Length | None = None
    height: Length | None = None
    run_past: Length = Nm(0)  # metal carried past the opening's edge, into it
    stop_short: Length = Nm(0)  # or stopped short of it

    @model_validator(mode="after")
    def _one_way(self) -> Opening:
        box = {"from_left": self.from_left, "up": self.up, "width": self.width, "height": self.height}
        given = [k for k, v in box.items() if v is not None]
        if self.points is not None:
            if given:
                raise ValueError(
                    f"an opening takes points, or {', '.join(box)}; not both (found points and {given[0]})"
                )
        elif len(given) < len(box):
            missing = [k for k in box if k not in given]
            raise ValueError(f"an opening needs {' and '.join(missing)} (or points)")
        elif not (self.width and self.height and self.width > 0 and self.height > 0):
            raise ValueError("an opening's width and height must be more than 0")
        return self


class BaseDiagonal(_Model):
    """A tape across the base of an irregular spire, corner to corner (corner 1 is the left end of eave 1)."""

    from_: int = Field(alias="from", ge=1)
    to: int = Field(ge=1)
    length: Length = Field(gt=0)


# shape -> (ways to give it: each a tuple of keys that fix the shape, extra keys allowed)
SHAPE_KEYS: dict[str, tuple[tuple[tuple[str, ...], ...], tuple[str, ...]]] = {
    "rectangle": ((("bottom", "height"),), ()),
    "triangle": ((("bottom", "left", "right"), ("bottom", "height")), ("height", "apex_from_left")),
    "trapezoid": ((("bottom", "top", "left", "right"), ("bottom", "top", "height")), ("height", "top_from_left")),
    "four-sided": (
        (
            ("bottom", "right", "top", "left", "diagonal_up_right"),
            ("bottom", "right", "top", "left", "diagonal_up_left"),
        ),
        ("diagonal_up_right", "diagonal_up_left"),
    ),
    "polygon": ((("points",),), ()),
    "gable": ((("bottom", "left_slant", "right_slant"), ("bottom", "height")), ("left", "right", "apex_from_left")),
    "ell": ((("bottom", "top", "left", "right"),), ()),
    "regular-spire": (
        tuple(
            ("sides", base, rise)
            for base in ("side", "across_flats", "across_corners")
            for rise in ("height", "slant", "hip")
        ),
        ("top_side", "top_across_flats", "top_across_corners"),
    ),
    "irregular-spire": ((("eaves", "hips"), ("eaves", "slant")), ("base_diagonals", "height")),
}
_MEASURES = (
    "bottom", "top", "left", "right", "height", "diagonal_up_right", "diagonal_up_left", "apex_from_left",
    "top_from_left", "left_slant", "right_slant", "points", "sides", "side", "across_flats", "across_corners",
    "top_side", "top_across_flats", "top_across_corners", "slant", "hip", "eaves", "hips", "base_diagonals",
)  # fmt: skip
_ALONE = (
    ("side", "across_flats", "across_corners"),
    ("top_side", "top_across_flats", "top_across_corners"),
)


class Slope(_Model):
    """One measured slope, several alike (`count`), or all slopes of a spire."""

    name: str = Field(min_length=1)
    shape: ShapeName
    piece: str  # mark of the diamond laid on it
    count: int = Field(default=1, ge=1, le=1000)  # this many alike
    pitch: Angle | None = Field(default=None, gt=0, le=90)  # degrees from level; spires work it out

    bottom: Length | None = Field(default=None, gt=0)
    top: Length | None = Field(default=None, gt=0)
    left: Length | None = Field(default=None, gt=0)
    right: Length | None = Field(default=None, gt=0)
    height: Length | None = Field(default=None, gt=0)  # up the slope; spires: plumb
    diagonal_up_right: Length | None = Field(default=None, gt=0)  # bottom left to top right
    diagonal_up_left: Length | None = Field(default=None, gt=0)  # bottom right to top left
    apex_from_left: SignedLength | None = None  # along the bottom, to under the apex; half the bottom when left out
    top_from_left: SignedLength | None = None  # along the bottom, to under the top's left end
    left_slant: Length | None = Field(default=None, gt=0)  # gable: from the wall's left top to the peak
    right_slant: Length | None = Field(default=None, gt=0)
    points: tuple[tuple[SignedLength, SignedLength], ...] | None = Field(default=None, min_length=3, max_length=60)

    sides: int | None = Field(default=None, ge=3, le=64)
    side: Length | None = Field(default=None, gt=0)
    across_flats: Length | None = Field(default=None, gt=0)
    across_corners: Length | None = Field(default=None, gt=0)
    top_side: Length | None = Field(default=None, gt=0)  # left out = it comes to a point
    top_across_flats: Length | None = Field(default=None, gt=0)
    top_across_corners: Length | None = Field(default=None, gt=0)
    slant: Lengths | None = None  # up the middle of a slope; of an irregular spire one for each eave, or one for all
    hip: Length | None = Field(default=None, gt=0)  # along a hip

    eaves: tuple[Length, ...] | None = Field(default=None, min_length=3, max_length=24)
    hips: tuple[Length, ...] | None = Field(default=None, min_length=3, max_length=24)  # hip 1 at the left of eave 1
    base_diagonals: tuple[BaseDiagonal, ...] = ()

    edges: dict[str, EdgeKind] = Field(default_factory=dict)  # bottom, right, top, left, or a number from 1 (bottom)
    run_past: dict[str, Length] = Field(default_factory=dict)  # metal carried past that edge
    stop_short: dict[str, Length] = Field(default_factory=dict)  # or stopped short of it
    eave_drop: Length = Nm(0)  # how far one end of the eave lies below level, measured up the slope
    low_end: Literal["left", "right"] = "right"
    centre: Centre | None = None  # this slope's own rule; None = [roof] centre
    go_on: bool = False  # lay it out though the tapes disagree by more than 2 in
    openings: tuple[Opening, ...] = ()

    @model_validator(mode="after")
    def _keys_fit_shape(self) -> Slope:
        """The sizes given must be one of the ways to fix the shape, and no others."""
        given = {k for k in _MEASURES if getattr(self, k) not in (None, ())}
        ways, extra = SHAPE_KEYS[self.shape]
        a_shape = f"{'an' if self.shape[0] in 'aeio' else 'a'} {self.shape}"
        allowed = set(extra).union(*ways)
        wrong = sorted(given - allowed, key=_MEASURES.index)
        if wrong:
            ok = ", ".join(k for k in _MEASURES if k in allowed)
            raise ValueError(f"{wrong[0]} is not a size of {a_shape}; it takes {ok}")
        if not any(set(way) <= given for way in ways):
            if self.shape == "four-sided" and {"bottom", "right", "top", "left"} <= given:
                raise ValueError(
                    "four sides alone fix no shape: a four-sided slope needs diagonal_up_right or diagonal_up_left too"
                )
            best = min(ways, key=lambda way: len(set(way) - given))
            missing = " and ".join(k for k in best if k not in given)
            also = (
                " (or " + ", or ".join(" + ".join(way) for way in ways if way is not best) + ")"
                if len(ways) in (2, 3)
                else ""
            )
            raise ValueError(f"{a_shape} also needs {missing}{also}")
        if self.shape == "trapezoid" and (self.top or 0) > (self.bottom or 0):
            unsaid = [side for side, number in (("left", "4"), ("right", "2")) if not {side, number} & set(self.edges)]
            if unsaid:
                raise ValueError(
                    "a trapezoid wider at the top than at the bottom is a dormer's cheek or lies between valleys: say "
                    f"what its sides are (found no edges for {' and '.join(unsaid)}), for example "
                    'edges = {left = "valley", right = "rake"}'
                )
        if self.shape == "ell" and (self.left == self.right or (self.top or 0) >= (self.bottom or 0)):
            raise ValueError("an ell is higher on one side than on the other, and its top is shorter than its bottom")
        for group in _ALONE:
            two = [k for k in group if k in given]
            if len(two) > 1:
                raise ValueError(f"{two[0]} and {two[1]} say the same thing; give one")
        if self.shape == "gable" and self.height is not None:
            for wall in ("left", "right"):
                if (getattr(self, wall) or 0) >= self.height:
                    raise ValueError(f"{wall}, a gable's wall, must be lower than height, its peak")
        if self.shape == "regular-spire" and len(given & {"height", "slant", "hip"}) > 1:
            raise ValueError("give one of height, slant, hip")
        if self.shape == "irregular-spire" and self.eaves and self.hips and len(self.eaves) != len(self.hips):
            raise ValueError(f"as many hips as eaves are needed (found {len(self.eaves)} eaves, {len(self.hips)} hips)")
        if self.eaves and any(v <= 0 for v in self.eaves + (self.hips or ())):
            raise ValueError("every eave and hip must be more than 0")
        if self.slant is not None and any(v <= 0 for v in self.slants):
            raise ValueError("every slant must be more than 0")
        if self.shape == "regular-spire" and isinstance(self.slant, tuple):
            raise ValueError("the slopes of a regular spire are alike: give one slant, or make it an irregular-spire")
        if self.eaves and self.slant is not None and len(self.slants) != len(self.eaves):
            found = f"{len(self.eaves)} eaves, {len(self.slants)} slants"
            raise ValueError(f"one slant for all slopes, or as many as eaves, are needed (found {found})")
        if self.eaves and not self.hips and len(self.eaves) % 2 == 0 and not self.base_diagonals:
            raise ValueError(
                f"slants alone leave a base of {len(self.eaves)} sides free to rack: give a tape across it too, for "
                'example base_diagonals = [{from = 1, to = 3, length = "84 in"}], or hips'
            )
        both = sorted(set(self.run_past) & set(self.stop_short))
        if both:
            raise ValueError(f"run_past and stop_short both name the {both[0]} edge; give one")
        return self

    @property
    def slants(self) -> tuple[Length, ...]:
        """Up the middle of each slope of an irregular spire; the one of a regular spire; none where hips are taped."""
        if self.slant is None:
            return ()
        if isinstance(self.slant, tuple):
            return self.slant
        return (self.slant,) * len(self.eaves or (0,))


class Roof(_Model):
    """``[roof]``: how every slope is laid, capped, underlaid, fastened and packed."""

    centre: Centre = "better"  # what stands on the centre line of a slope: a point, a joint, or the better of both
    centre_at: Share = Field(
        default=Fraction(1, 2), ge=0, le=1
    )  # height at which the centre line is taken: 0 eave, 1 top
    eave: Literal["auto", "follow", "level"] = "auto"  # auto: follow a drop below 1/2 in, else level
    level_from: Literal["low", "middle", "high"] = "high"
    even_courses: bool = False  # close courses up so that the last one ends at a level ridge
    least_hook: Length = _in(6)  # least hooked depth of a lock

    hips: Literal["capped", "wrapped"] = "capped"
    cap_leg: Length = _in(48)  # hip or ridge line to the cap's lower edge
    underlap: Length = _in(32)  # shingles run this far under a cap
    least_underlap: Length = _in(16)  # ... and never less where something under the cap is left out
    under_cap: Literal["lay", "leave out"] = "lay"  # a piece wholly under a cap
    wrap: Length = _in(12)  # metal carried round a wrapped hip
    wrap_mismatch: Length = _in(4)  # wrapped hips are refused above this
    valley_short: Length = _in(32)  # shingles stop this far from a valley's centre line
    apex_cap: bool = True
    apex_width: Length | None = None  # slope width where the apex cap begins; None = one spacing or 6 in
    whole_within: Length = _in(1)  # a missing strip thinner than this is no cut
    sliver: Length = _in(4)  # a part thinner than this is left out under a cap, and laid anywhere else
    cut_edge_fold: Length = _in(8)  # metal a cut piece keeps past a hip, valley, wall or opening
    rake_fold: Length = _in(16)  # ... past a rake or ridge
    cut_pieces: Literal["on the roof", "at the bench", "cheaper"] = (
        "on the roof"  # where a cut piece is cut to its line
    )
    use_off_falls: bool = False  # on the roof: an off-fall that holds another cut piece of its course is used
    off_fall_margin: Length = _in(16)  # metal past every scribed edge of a piece got from an off-fall
    alike_within: Length | None = (
        None  # at the bench: shapes this nearly alike under a cap are one; None = 1/2 in, 12 mm
    )
    pair: bool = True  # at the bench: two part pieces from one diamond blank
    good_side: bool = True  # at the bench: the metal may not be turned over
    mark_to: Length | None = None  # course lines are rounded to this; None = 1/16 in or 1 mm

    eave_piece: str | None = None  # marks of the sections counted by length
    hip_piece: str | None = None
    ridge_piece: str | None = None
    rake_piece: str | None = None
    valley_piece: str | None = None
    wall_piece: str | None = None
    apex_piece: str | None = None  # mark of the apex cap sized by the spire
    opening_piece: str | None = None  # mark of the opening set made for every opening
    ridge_end_piece: str | None = None  # mark of the ridge end made for every end of a ridge between two rakes
    cleat_piece: str | None = (
        None  # mark of the piece counted as the roof's cleats; `count = "cleats"` there says the same
    )
    lengths: Literal["from the edges", "as typed"] = "from the edges"  # of the sections named above
    edge_length: Length = _in(16 * 120)  # used where no mark is named
    edge_lap: Length = _in(48)
    cap_end_lap: Length = _in(48)  # extra length at the bottom and the top of every hip cap

    roll_width: Length = _in(16 * 36)
    roll_length: Length = Nm(NM_PER_INCH * 8004 // 10)  # 66.7 ft
    roll_side_lap: Length = _in(56)
    roll_hip_lap: Length = _in(96)  # past each hip
    roll_end_lap: Length = _in(96)

    nails_per_piece: int = Field(default=1, ge=0, le=50)
    cleats_per_piece: int = Field(default=0, ge=0, le=50)
    nails_per_cleat: int = Field(default=2, ge=0, le=20)
    edge_nail_spacing: Length = _in(48)
    cap_cleat_spacing: Length = _in(16 * 12)
    fastener_source: str = ""

    kit_pieces: int | None = Field(default=None, ge=1)  # None = [handling] carry_count, or 120
    confidence: Share = Field(default=Fraction(99, 100), gt=0, lt=1)  # for lines and hems

    @model_validator(mode="after")
    def _ranges(self) -> Roof:
        if self.underlap > self.cap_leg:
            raise ValueError("underlap can be no more than cap_leg, or the shingle would pass the hip line")
        if self.least_underlap > self.underlap:
            raise ValueError("least_underlap can be no more than underlap")
        for name in ("roll_width", "roll_length", "edge_length", "edge_nail_spacing", "cap_cleat_spacing", "sliver"):
            if getattr(self, name) <= 0:
                raise ValueError(f"{name} must be more than 0")
        if self.roll_side_lap >= self.roll_width:
            raise ValueError("roll_side_lap must be less than roll_width")
        if self.roll_end_lap >= self.roll_length:
            raise ValueError("roll_end_lap must be less than roll_length")
        if self.edge_lap >= self.edge_length:
            raise ValueError("edge_lap must be less than edge_length")
        if self.mark_to is not None and self.mark_to <= 0:
            raise ValueError("mark_to must be more than 0")
        if self.cut_pieces == "at the bench" and self.use_off_falls:
            raise ValueError(
                'use_off_falls = true and cut_pieces = "at the bench" exclude each other: '
                "off-falls fall where pieces are cut on the roof"
            )
        if self.cut_pieces == "on the roof" and self.alike_within is not None:
            raise ValueError('alike_within holds only with cut_pieces = "at the bench" or "cheaper"')
        return self


def least_metal(roof: Roof, labour: Labour) -> Roof:
    """The rules, where work costs nothing and nobody says where pieces are cut: the metal decides that too."""
    if not labour.free or "cut_pieces" in roof.model_fields_set or roof.use_off_falls:
        return roof
    return roof.model_copy(update={"cut_pieces": "cheaper"})
