"""What a second of work weighs against metal: the one rate at which minutes and stock are added."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from fabplan.labour import Labour


def second_cost(labour: Labour, profile_pounds: float, per_pound: Iterable[Fraction], *, money: bool) -> Fraction:
    """Cost of one second, in what stock is counted in (money, or square graduations).

    Parameters
    ----------
    labour : Labour
    profile_pounds : float
        Pounds of this metal an hour counts as by its profile.
    per_pound : iterable of Fraction
        Cost of a pound of each stock line of this metal; those that cost nothing are left out.
    money : bool
        Whether stock is counted in money. Without prices a money rate cannot be set against metal, so an hour counts
        as metal.
    """
    if labour.free:
        return Fraction(0)
    if money and labour.rate is not None:
        return _exact(labour.rate) / 3600
    pounds = profile_pounds if labour.rate_pounds is None else labour.rate_pounds
    return _exact(pounds) * min((cost for cost in per_pound if cost), default=Fraction(0)) / 3600


def _exact(value: float) -> Fraction:
    return Fraction(str(value))
