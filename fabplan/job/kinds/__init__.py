"""The piece kinds, a file each: keys, rules, what is said back, printed name.

A new kind is entered here twice (`PIECE_MODELS`, `Piece`); mypy then shows every place that must know it.
"""

from __future__ import annotations

from typing import Annotated, get_args

from pydantic import Field

from fabplan.job.kinds.apex_cap import ApexCapPiece
from fabplan.job.kinds.base import PieceBase
from fabplan.job.kinds.diamond import DiamondPiece
from fabplan.job.kinds.disc import DiscPiece
from fabplan.job.kinds.flat_seam import FlatSeamPiece
from fabplan.job.kinds.opening_set import OpeningSetPiece
from fabplan.job.kinds.outline import OutlinePiece
from fabplan.job.kinds.part import CutPiece
from fabplan.job.kinds.rake_cover import RakeCoverPiece
from fabplan.job.kinds.rectangle import RectanglePiece
from fabplan.job.kinds.ridge_end import RidgeEndPiece
from fabplan.job.kinds.section import SectionPiece

PIECE_MODELS: tuple[type[PieceBase], ...] = (
    DiamondPiece,
    CutPiece,
    FlatSeamPiece,
    RectanglePiece,
    DiscPiece,
    OutlinePiece,
    SectionPiece,
    ApexCapPiece,
    OpeningSetPiece,
    RakeCoverPiece,
    RidgeEndPiece,
)
Piece = Annotated[
    DiamondPiece
    | CutPiece
    | FlatSeamPiece
    | RectanglePiece
    | DiscPiece
    | OutlinePiece
    | SectionPiece
    | ApexCapPiece
    | OpeningSetPiece
    | RakeCoverPiece
    | RidgeEndPiece,
    Field(discriminator="kind"),
]
KINDS: dict[str, type[PieceBase]] = {
    kind: model for model in PIECE_MODELS for kind in get_args(model.model_fields["kind"].annotation)
}
