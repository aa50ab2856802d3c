"""Small jobs for nesting tests, built straight from the models (all sizes in inches unless said)."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, JobInfo, MetalUse, NestOptions, RectanglePiece, Shear, Stock
from fabplan.job.values import OnHand, Price
from fabplan.units import NM_PER_INCH, Nm

GRID = NM_PER_INCH // 32


def nm(value: float | str | None) -> Nm | None:
    """Nanometres of a size in inches (a fraction such as "1/32" is exact)."""
    return None if value is None else Nm(int(Fraction(value) * NM_PER_INCH))


def metal(name: str = "copper-16oz", weight: float = 1.0) -> MetalProfile:
    """A metal profile with only what nesting reads."""
    return MetalProfile(
        name=name,
        title=name,
        family="copper",
        temper="",
        thickness=0.0216,
        thickness_minimum=None,
        weight=weight,
        density=0.323,
        expansion=9.8e-6,
        expansion_range=(9.8e-6, 9.8e-6),
        bend_factor=0.35,
        least_inside_radius=0.0,
        yield_ksi=(28.0, 35.0),
        modulus_ksi=17000.0,
        coil_widths=(),
        sheets=(),
    )


METALS = {"copper-16oz": metal(), "zinc-0.7mm": metal("zinc-0.7mm", 1.04)}


def polygon(
    mark: str, points: Sequence[tuple[float, float]], count: int, *, grain: str = "any", material: str = "copper-16oz"
) -> FlatPattern:
    """A blank with this sheared outline (inches, lower left at 0, 0)."""
    ring = tuple((float(x), float(y)) for x, y in points)
    w, h = max(x for x, _ in ring), max(y for _, y in ring)
    return FlatPattern(
        mark=mark,
        kind="outline",
        metal=material,
        count=count,
        spare=0,
        width_units=-int(-w * NM_PER_INCH / GRID // 1),
        length_units=-int(-h * NM_PER_INCH / GRID // 1),
        grid=GRID,
        outline=ring,
        snipped=ring,
        folds=(),
        grain=grain,  # type: ignore[arg-type]
    )


def rect(
    mark: str,
    width: float,
    length: float,
    count: int,
    *,
    grain: str = "any",
    material: str = "copper-16oz",
    grid: int = GRID,
) -> FlatPattern:
    """A rectangular blank, size in graduations of `grid`."""
    w, h = width * grid / NM_PER_INCH, length * grid / NM_PER_INCH
    ring = ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))
    return FlatPattern(
        mark=mark,
        kind="rectangle",
        metal=material,
        count=count,
        spare=0,
        width_units=int(width),
        length_units=int(length),
        grid=grid,
        outline=ring,
        snipped=ring,
        folds=(),
        grain=grain,  # type: ignore[arg-type]
    )


def stock(name: str, form: str, width: float, length: float | None = None, **more: Any) -> Stock:
    """A stock line; `price` as ("9.40", "lb"), `on_hand` as inches, a count or ("lb", weight)."""
    values: dict[str, Any] = {
        "name": name,
        "form": form,
        "width": nm(width),
        "length": nm(length),
        "longest_cut_off": nm(more.pop("longest_cut_off", None)),
        "trim_each_edge": nm(more.pop("trim", 0)),
        "on_hand": None,
        "price": None,
        "metal": more.pop("material", None),
        "grain": more.pop("grain", "along"),
    }
    have = more.pop("on_hand", None)
    if isinstance(have, tuple):
        values["on_hand"] = OnHand(pounds=have[1])
    elif have is not None:
        values["on_hand"] = OnHand(length=nm(have)) if form == "coil" else OnHand(count=have)
    price = more.pop("price", None)
    if price is not None:
        values["price"] = Price(amount=Decimal(price[0]), per=price[1])
    assert not more
    return Stock.model_construct(**values)


def make_job(stocks: Sequence[Stock], **more: Any) -> Job:
    """A job with these stock lines; keyword arguments reach the shear, nest options and job info."""
    shear = Shear.model_construct(
        longest_cut=nm(more.pop("longest_cut", 120)),
        back_gauge_reach=nm(more.pop("reach", 48)),
        coil_cut_off=more.pop("coil_cut_off", "scribed"),
        least_held=nm(more.pop("least_held", 1)),
        angle_stop=more.pop("angle_stop", (30.0, 150.0)),
        cutting=more.pop("cutting", "strips"),
        kerf=nm(more.pop("kerf", 0)),
        least_gauge=nm(more.pop("least_gauge", 0)),
        width_tolerance=nm(more.pop("width_tolerance", 0)),
        least_pull=nm(more.pop("least_pull", 0)),
    )
    nest = NestOptions.model_construct(
        search_effort=more.pop("effort", 0.05),
        try_again=more.pop("seed", 0),
        good_enough=more.pop("good_enough", Fraction(1, 1000)),
        fewer_setups=more.pop("fewer_setups", Fraction(0)),
        open_stacks=more.pop("open_stacks", None),
        offcut_credit=more.pop("offcut_credit", Fraction(0)),
        pair=more.pop("pair", True),
    )
    keep = more.pop("keep", None)
    info = JobInfo.model_construct(
        name="test",
        number="T1",
        units=more.pop("units", "in"),
        round_to=Nm(more.pop("grid", GRID)),
        keep_at_least=None if keep is None else (nm(keep[0]), nm(keep[1])),
        currency=more.pop("currency", ""),
    )
    fixed = more.pop("may_not_turn", ())
    pieces = tuple(
        RectanglePiece.model_construct(mark=m, kind="rectangle", may_turn=False, width=Nm(1), length=Nm(1))
        for m in fixed
    )
    assert not more
    return Job.model_construct(
        file="job.toml",
        info=info,
        metal=MetalUse.model_construct(use="copper-16oz"),
        pieces=pieces,
        stock=tuple(stocks),
        shear=shear,
        nest=nest,
    )
