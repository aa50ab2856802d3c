"""What each flat piece must look like, worked out again from the job alone (complex numbers: x + iy, inches)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import assert_never

from fabplan.blanks.check.bend import Wanted, wanted
from fabplan.job.kinds.apex_cap import ApexCapPiece
from fabplan.job.kinds.disc import DiscPiece
from fabplan.job.kinds.opening_set import OpeningSetPiece
from fabplan.job.kinds.rake_cover import RakeCoverPiece
from fabplan.job.kinds.ridge_end import RidgeEndPiece
from fabplan.job.metals import MetalProfile
from fabplan.job.model import (
    CutPiece,
    DiamondPiece,
    FlatSeamPiece,
    HemSpec,
    Job,
    OutlinePiece,
    Piece,
    RectanglePiece,
    SectionPiece,
)
from fabplan.units import NM_PER_INCH, NM_PER_MM

Line = tuple[complex, complex]  # a point of it, and the unit normal out of what is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Finished corners in a frame of their own, folds by edge, cuts, and the sizes that go on the grid.

    `span` holds (exact width, exact length) of the blank where it is put on the grid, None where the box is rounded up.
    """

    corners: list[complex]
    folds: Mapping[int, Wanted]
    units: tuple[int | None, int | None]
    rounding: float
    sheared: list[Line] = field(default_factory=list)
    snips: Mapping[int, Line] = field(default_factory=dict)
    finished: tuple[float, float, float, float, float] = (0.0,) * 5  # side, width, length, exposed side, area covered
    lattice: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True)
class PieceFolds:
    """Job, piece and metal; makes the folds a piece asks for."""

    job: Job
    piece: Piece
    metals: Mapping[str, MetalProfile]

    @property
    def name(self) -> str:
        return self.piece.metal or self.job.metal.use

    @property
    def metal(self) -> MetalProfile:
        return self.metals[self.name]

    @property
    def step(self) -> float:
        return self.job.info.round_to / NM_PER_INCH

    def fold(
        self, width: float, toward: str, turned: float = 180.0, gap: float | None = None, radius: float = 0.0
    ) -> Wanted:
        strips = [m for m in self.job.brake.measured_allowance if m.metal in (self.name, self.metal.name)]
        shop_gap = 1 / 16 if self.job.info.units == "in" else 1.5 * NM_PER_MM / NM_PER_INCH
        return wanted(
            self.metal,
            self.piece.allowance == "plain",
            strips,
            width=width,
            toward=toward,
            turned=turned,
            radius=radius,
            gap=(shop_gap if gap is None else gap) if turned == 180 else 0.0,
        )

    def spec(self, spec: HemSpec) -> Wanted:
        return self.fold(_in(spec.width), spec.toward, spec.turned, None if spec.gap is None else _in(spec.gap))

    def nearest(self, length: float) -> int:
        return math.floor(length / self.step + 0.5 + 1e-12)

    def upward(self, length: float) -> int:
        return math.ceil(length / self.step - 1e-9)


def _in(nm: int) -> float:
    return nm / NM_PER_INCH


def _pick(values: Iterable[int | None], default: int) -> int:
    return next((v for v in values if v is not None), default)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diamond:
    """A diamond worked out again: side `made` by the sheared blank, blank `strip` in graduations, lattice numbers."""

    upper: Wanted
    lower: Wanted
    half: float
    side: float
    made: float
    rounding: float
    strip: int
    sheared: float
    lattice: Mapping[str, float]

    @property
    def snip(self) -> float:
        return self.lattice["side_snip"]

    @property
    def reach(self) -> float:
        """Half the spacing as made, less half a joint."""
        shown = self.made - self.lattice["lap"] / math.sin(2 * self.half)
        return shown * math.sin(self.half) - self.lattice["joint"] / 2


def diamond(shop: PieceFolds, piece: DiamondPiece) -> Diamond:
    """Sizes of a diamond from its job lines."""
    wide_up, wide_low = _pick((piece.upper_hem, piece.hem), 0), _pick((piece.lower_hem, piece.hem), 0)
    gaps = [
        next((g for g in (own, piece.hem_gap) if g is not None), None) for own in (piece.upper_gap, piece.lower_gap)
    ]
    upper = shop.fold(_in(wide_up), "face", gap=None if gaps[0] is None else _in(gaps[0]))
    lower = shop.fold(_in(wide_low), "back", gap=None if gaps[1] is None else _in(gaps[1]))
    alpha = piece.top_angle * math.pi / 180
    sin = math.sin(alpha)
    hems = (upper.allowance + lower.allowance) / sin
    if piece.side is not None:
        side = _in(piece.side)
        blank = side + hems
        strip = shop.nearest(blank * sin)
    else:
        blank = _in(piece.blank or 0)
        side = blank - hems
        strip = shop.upward(blank) if piece.top_angle == 90 else shop.nearest(blank * sin)
    t = shop.metal.thickness
    slack, joint = _in(_pick((piece.slack,), NM_PER_INCH // 32)), _in(_pick((piece.joint,), NM_PER_INCH // 16))
    lap = max(upper.width, lower.width) + t + slack
    shown = side - lap / sin
    half = alpha / 2
    lattice = {
        "side": side,
        "top_angle": piece.top_angle,
        "upper_hem": upper.width,
        "lower_hem": lower.width,
        "upper_allowance": upper.allowance,
        "lower_allowance": lower.allowance,
        "lap": lap,
        "hooked": min(upper.width, lower.width) - t - slack,
        "exposed": shown,
        "spacing": 2 * shown * math.sin(half),
        "course": shown * math.cos(half),
        "cell": shown * shown * sin,
        "joint": joint,
        "slack": slack,
        "side_snip": lap / (2 * math.cos(half)) + joint / 2,
        "thickness": t,
    }
    sheared = strip * shop.step / sin
    return Diamond(
        upper=upper,
        lower=lower,
        half=half,
        side=side,
        made=side + sheared - blank,
        rounding=sheared - blank,
        strip=strip,
        sheared=sheared,
        lattice=lattice,
    )


def expected(shop: PieceFolds) -> Expected:
    """What the shop's piece must look like (not a section)."""
    piece = shop.piece
    match piece:
        case DiamondPiece():
            return _diamond(shop, diamond(shop, piece))
        case CutPiece():
            return _part(shop, piece)
        case FlatSeamPiece():
            face = (1, 2) if piece.face_edges is None else piece.face_edges
            gap = None if piece.hem_gap is None else _in(piece.hem_gap)
            folds = {e: shop.fold(_in(piece.hem), "face" if e in face else "back", gap=gap) for e in (1, 2, 3, 4)}
            lap = _in(piece.hem) + shop.metal.thickness + 1 / 32
            shown = (_in(piece.width) - lap) * (_in(piece.length) - lap)
            w, h = _in(piece.width), _in(piece.length)
            return _box(shop, [w + h * 1j, h * 1j, 0, w], folds, shown)
        case RectanglePiece():
            w, h = _in(piece.width), _in(piece.length)
            return _box(shop, [w + h * 1j, h * 1j, 0, w], {}, w * h)
        case OutlinePiece():
            return _outline(shop, piece)
        case SectionPiece() | DiscPiece():
            raise TypeError(f"{piece.kind} has a check of its own")
        case ApexCapPiece() | OpeningSetPiece() | RakeCoverPiece() | RidgeEndPiece():
            raise ValueError(f"{piece.mark} is made up of other pieces")
        case _:
            assert_never(piece)


def _diamond(shop: PieceFolds, d: Diamond) -> Expected:
    turn = complex(math.sin(2 * d.half), math.cos(2 * d.half))
    left = 0j
    bottom = left - 1j * d.made
    right = bottom + d.made * turn
    top = right + 1j * d.made
    across = (right - left) / abs(right - left)
    square = d.lattice["top_angle"] == 90
    return Expected(
        corners=[top, left, bottom, right],
        folds={1: d.upper, 2: d.lower, 3: d.lower, 4: d.upper},
        units=(d.strip, d.strip if square else shop.nearest(d.sheared)),
        rounding=d.rounding,
        snips={2: (left + d.snip * across, -across), 4: (right - d.snip * across, across)},
        finished=(d.side, 0.0, 0.0, d.lattice["exposed"], d.lattice["cell"]),
        lattice=d.lattice,
    )


def _part(shop: PieceFolds, piece: CutPiece) -> Expected:
    """What a part of a diamond must be: the diamond's own folds, less the half that is cut away."""
    whole = next(p for p in shop.job.pieces if isinstance(p, DiamondPiece) and p.mark == piece.for_)
    d = diamond(PieceFolds(shop.job, whole, shop.metals), whole)
    upper = shop.fold(d.upper.width, "face", gap=d.upper.gap)
    lower = shop.fold(d.lower.width, "back", gap=d.lower.gap)
    if piece.cut_fold == "none":
        cut = None
    elif piece.cut_fold is not None:
        cut = shop.spec(piece.cut_fold)
    elif piece.kind == "starter":
        cut = shop.fold(d.lower.width, "back", gap=d.lower.gap)
    else:
        cut = shop.fold(1.0, "face", 90.0)
    taken = cut.allowance if cut else 0.0
    sin, cos = math.sin(d.half), math.cos(d.half)
    top, side, level = d.made * cos, d.made * sin, d.lattice["lap"] / (2 * sin)
    covers = (d.side, d.lattice["exposed"], d.lattice["cell"] / 2)
    if piece.kind in ("starter", "ridge-half"):
        up = 1 if piece.kind == "starter" else -1
        hem = upper if up > 0 else lower
        exact = top + hem.allowance / sin + up * level + taken
        units = shop.nearest(exact)
        # distance from the whole tip's finished corner to the cut's finished line
        depth = units * shop.step - hem.allowance / sin - taken
        wide = shop.nearest(2 * d.reach)
        if up < 0:
            room = 2 * depth * sin / cos
            wide = math.floor(min(2 * d.reach, room) / shop.step + 1e-9)
            wide -= wide * shop.step > room - 2e-6
        x = wide * shop.step / 2
        fall = x * cos / sin
        corners = [0j, complex(-x, -fall), complex(-x, -depth), complex(x, -depth), complex(x, -fall)]
        folds = {1: hem, 5: hem} | ({3: cut} if cut else {})
        if up < 0:  # the same house upside down: 1 left side, 2 and 3 lower edges, 4 right side, 5 cut
            turned = [-c for c in corners]
            corners = [turned[i] for i in (3, 4, 0, 1, 2)]
            folds = {2: hem, 3: hem} | ({5: cut} if cut else {})
        return Expected(
            corners=corners,
            folds=folds,
            units=(wide, units),
            rounding=units * shop.step - exact,
            finished=(covers[0], 2 * x, depth, covers[1], covers[2]),
            lattice=d.lattice,
        )
    tip = side + (upper.allowance + lower.allowance) / (2 * cos)
    units = shop.nearest(tip + taken)
    x = tip + taken - units * shop.step
    y = (side - x) * cos / sin
    right = [complex(x, y), complex(x, -y), complex(side, 0)]
    limits = [
        (complex(0, top + upper.allowance / sin), complex(-cos, sin)),
        (complex(0, -top - lower.allowance / sin), complex(-cos, -sin)),
    ]
    snip = (complex(side - d.snip, 0), complex(1, 0))
    folds = {2: lower, 3: upper} | ({1: cut} if cut else {})
    corner = 3
    if piece.kind == "rake-right":  # seen facing the roof: the left half
        right = [-c.conjugate() for c in (right[0], right[2], right[1])]
        limits = [(-p.conjugate(), -n.conjugate()) for p, n in limits]
        snip = (-snip[0].conjugate(), -snip[1].conjugate())
        folds = {1: upper, 2: lower} | ({3: cut} if cut else {})
        corner = 2
    return Expected(
        corners=right,
        folds=folds,
        units=(units, None),
        rounding=units * shop.step - tip - taken,
        sheared=limits,
        snips={corner: snip},
        finished=(covers[0], side - d.snip - x, 2 * y, covers[1], covers[2]),
        lattice=d.lattice,
    )


def _box(shop: PieceFolds, corners: list[complex], folds: Mapping[int, Wanted], covers: float) -> Expected:
    """Upright rectangle whose blank is put on the grid: folded sizes to the nearest step, unfolded ones up."""
    taken, folded = [0.0, 0.0], [False, False]
    for edge, fold in folds.items():
        run = corners[edge % 4] - corners[edge - 1]
        way = 0 if abs(run.real) < abs(run.imag) else 1  # an edge along y adds to the width
        taken[way] += fold.allowance
        folded[way] = True
    low = complex(min(c.real for c in corners), min(c.imag for c in corners))
    high = complex(max(c.real for c in corners), max(c.imag for c in corners))
    size = (high.real - low.real, high.imag - low.imag)
    exact = (size[0] + taken[0], size[1] + taken[1])
    units = tuple(shop.nearest(e) if f else shop.upward(e) for e, f in zip(exact, folded, strict=True))
    more = [u * shop.step - e for u, e in zip(units, exact, strict=True)]
    moved = [complex(c.real + more[0] * (c.real > low.real), c.imag + more[1] * (c.imag > low.imag)) for c in corners]
    return Expected(
        corners=moved,
        folds=folds,
        units=(units[0], units[1]),
        rounding=more[0] if abs(more[0]) >= abs(more[1]) else more[1],
        finished=(0.0, size[0], size[1], 0.0, covers),
    )


def _outline(shop: PieceFolds, piece: OutlinePiece) -> Expected:
    corners = [complex(_in(x), _in(y)) for x, y in piece.points]
    folds = {f.edge: shop.spec(f) for f in piece.folds}
    n = len(corners)
    runs = [corners[(i + 1) % n] - corners[i] for i in range(n)]
    area = sum((corners[i].conjugate() * corners[(i + 1) % n]).imag for i in range(n)) / 2
    if n == 4 and all(r.real == 0 or r.imag == 0 for r in runs):
        return _box(shop, corners, folds, area)
    xs, ys = [c.real for c in corners], [c.imag for c in corners]
    size = (max(xs) - min(xs), max(ys) - min(ys))
    return Expected(
        corners=corners,
        folds=folds,
        units=(None, None),
        rounding=0.0,
        finished=(0.0, size[0], size[1], 0.0, area),
    )
