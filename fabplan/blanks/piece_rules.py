"""What every piece is developed with: the job's rules, one metal, and the way sizes go onto the shop's graduation."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from fabplan.blanks.flat.bend import Bend, make_bend
from fabplan.blanks.flat.corner import OutlineFold
from fabplan.blanks.model import Point, Polygon, Side
from fabplan.errors import JobError
from fabplan.job import defaults
from fabplan.job.metals import MetalProfile
from fabplan.job.model import HemSpec, Job, Piece
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, Show, inches, to_grid

# shop defaults: common practice, no source
DEFAULT_SLACK = Nm(NM_PER_INCH // 32)
DEFAULT_JOINT = Nm(NM_PER_INCH // 16)
DEFAULT_CUT_FOLD = Nm(NM_PER_INCH)
DEFAULT_LAP = {"in": Nm(3 * NM_PER_INCH), "mm": Nm(75 * NM_PER_MM)}
SNAP = 2e-9  # inches


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRules:
    """One piece, its metal and the job's rules."""

    job: Job
    piece: Piece
    name: str
    metal: MetalProfile

    @property
    def show(self) -> Show:
        """Prints sizes as the job does."""
        return Show(self.job.info.units, self.grid)

    @property
    def grid(self) -> int:
        """Nanometres in one graduation."""
        return self.job.info.round_to

    @property
    def default_gap(self) -> float:
        """Opening of a hem that names none, inches."""
        return inches(defaults.hem_gap(self.job.info.units))

    def bend(self, turned: float, *, radius: float = 0.0, gap: float | None = None) -> Bend:
        """A bend in this piece's metal by this piece's allowance rule."""
        measured = [m for m in self.job.brake.measured_allowance if m.metal in (self.name, self.metal.name)]
        return make_bend(turned, self.metal, radius=radius, gap=gap, how=self.piece.allowance, measured=measured)

    def fold(self, width: float, toward: Side, turned: float = 180.0, gap: float | None = None) -> OutlineFold:
        """A fold on an edge; a hem without a gap of its own takes the shop's."""
        hem = turned >= 180
        opening = (self.default_gap if gap is None else gap) if hem else None
        return OutlineFold(width=width, toward=toward, bend=self.bend(turned, gap=opening))

    def fold_of(self, spec: HemSpec) -> OutlineFold:
        """A fold as the job file gives it."""
        gap = None if spec.gap is None else inches(spec.gap)
        return self.fold(inches(spec.width), spec.toward, spec.turned, gap)

    def units(self, length: float | Fraction, how: str = "nearest") -> int:
        """Graduations in a computed length (inches) or a typed one (whole nanometres)."""
        nm = Fraction(length) if isinstance(length, int) else Fraction(length) * NM_PER_INCH
        if how == "up" and not isinstance(length, int):
            nm -= Fraction(1, 2)  # half a nanometre of floating point is not a reason for another graduation
        return to_grid(nm, self.grid, how)

    def inches(self, units: int) -> float:
        """Inches in a number of graduations."""
        return units * self.grid / NM_PER_INCH

    def fault(self, key: str, rule: str, *, value: str | None = None, write: str = "") -> JobError:
        """A fault of this piece in the job file."""
        where = f'piece "{self.piece.mark}"' + (f" > {key}" if key else "")
        return JobError(rule, file=self.job.file, key=where, value=value, write=write)

    def tidy(self, points: Polygon) -> Polygon:
        """Points with coordinates on the grid made exactly so."""
        return tuple((self._on_grid(x), self._on_grid(y)) for x, y in points)

    def _on_grid(self, x: float) -> float:
        near = round(x * NM_PER_INCH / self.grid) * self.grid / NM_PER_INCH
        return near + 0.0 if abs(x - near) < SNAP else x


def counted(job: Job, piece: Piece, counts: Mapping[str, int] | None) -> tuple[int, int]:
    """(pieces to make, spare among them); the job's own count goes before one from the roof."""
    need = piece.count if piece.count is not None else (counts or {}).get(piece.mark, 0)
    if need <= 0:
        return 0, 0
    return with_spare(job, need, piece)


def with_spare(job: Job, need: int, piece: Piece | None = None) -> tuple[int, int]:
    """(pieces to make, spare among them) of so many needed; the piece's own rule goes before the job's."""
    rule = job.info.spare if piece is None or piece.spare is None else piece.spare
    spare = rule.pieces + math.ceil(rule.share * need)
    return need + spare, spare


def moved(points: Polygon, by: Point) -> Polygon:
    """Points moved by a vector."""
    return tuple((x + by[0], y + by[1]) for x, y in points)
