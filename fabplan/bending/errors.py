"""No order exists: which fold, why, and what would help."""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.errors import PlanError


class BendError(PlanError):
    """A piece that cannot be folded with the tools at hand.

    Parameters
    ----------
    mark : str
    reasons : sequence of str
        One plain sentence per fold that is in the way.
    suggestions : sequence of str
        Changes that were planned again and work.
    proven : bool
        False when the search was cut short, so that an order might exist.
    """

    def __init__(self, mark: str, reasons: Sequence[str], suggestions: Sequence[str], *, proven: bool = True) -> None:
        self.mark, self.reasons, self.suggestions, self.proven = mark, tuple(reasons), tuple(suggestions), proven
        head = "cannot be folded with the tools at hand" if proven else "no order was found in the work allowed"
        what = f'piece "{mark}": {head}. ' + " ".join(self.reasons)
        helps = " What would help: " + " ".join(self.suggestions) if self.suggestions else ""
        super().__init__(what.strip(), help_=helps.strip())


class BendErrors(BendError):  # noqa: N818
    """Several pieces that cannot be folded, told together."""

    def __init__(self, errors: Sequence[BendError]) -> None:
        self.errors = tuple(errors)
        self.mark = ", ".join(e.mark for e in errors)
        self.reasons = tuple(r for e in errors for r in e.reasons)
        self.suggestions = tuple(s for e in errors for s in e.suggestions)
        self.proven = all(e.proven for e in errors)
        PlanError.__init__(self, "\n".join(str(e) for e in errors))
