"""Printed names of the piece kinds and stock forms."""

from __future__ import annotations

from fabplan.blanks.model import FlatPattern, Fold
from fabplan.job.kinds import KINDS

PARTS = {
    "starter": "starter",
    "ridge-half": "ridge half",
    "rake-left": "left rake half",
    "rake-right": "right rake half",
    "part": "part blank",
}


def kind_name(pattern: FlatPattern) -> str:
    """Printed name of a pattern's kind."""
    return PARTS[pattern.kind] if pattern.kind in PARTS else KINDS[pattern.kind].PRINTED


def fold_name(pattern: FlatPattern, fold: Fold) -> str:
    """``open hem``, ``closed hem``, ``fold``, ``bend``; ``fold flat back`` between the legs of a section."""
    if not fold.hem:
        return "bend" if not fold.flap else "fold"
    if pattern.section is not None and not pattern.section.hem_at(fold.edge - 1):
        return "fold flat back"
    return "open hem" if fold.gap > 0 else "closed hem"


def edge_word(pattern: FlatPattern) -> str:
    """What fold numbers count: edges of a flat piece, bends of a section."""
    return "bend" if pattern.section is not None else "edge"
