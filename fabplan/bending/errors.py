"""No order exists: which fold, why, and what would help."""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.bending.model import Mend, Unbent
from fabplan.errors import PlanError


class BendError(PlanError):
    """A piece that cannot be folded with the tools at hand.

    Parameters
    ----------
    mark : str
    reasons : sequence of str
        One plain sentence per fold that is in the way.
    mends : sequence of Mend
        Changes that were planned again and work.
    proven : bool
        False when the search was cut short, so that an order might exist.
    """

    def __init__(self, mark: str, reasons: Sequence[str], mends: Sequence[Mend], *, proven: bool = True) -> None:
        self.mark, self.reasons, self.mends, self.proven = mark, tuple(reasons), tuple(mends), proven
        head = "cannot be folded with the tools at hand" if proven else "no order was found in the work allowed"
        what = f'piece "{mark}": {head}. ' + " ".join(self.reasons)
        helps = " What would help: " + " ".join(m.says for m in self.mends) if self.mends else ""
        super().__init__(what.strip(), help_=helps.strip())

    @property
    def unbent(self) -> Unbent:
        """The same as a result."""
        return Unbent(mark=self.mark, reasons=self.reasons, mends=self.mends, proven=self.proven)
