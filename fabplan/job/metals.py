"""Metal profiles: one metal a TOML file in ``stock_profiles/``, each number with its source.

A profile is found in the installed package, or in the repository's top folder when fabplan runs from its source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from difflib import get_close_matches
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

import fabplan
from fabplan.errors import BadValueError, JobError, JobErrors, quoted
from fabplan.job.files import LONGEST_LIST, Source, named_path, read_source, too_long
from fabplan.job.values import Allowance, Note, PieceLength, Pounds, Size, StockLength, word
from fabplan.job.wording import key_text, reword
from fabplan.units import MM2_PER_SQ_IN, POUNDS_TO_KG, Nm, exact_number, inches, plain

Finish = Literal["bare", "coated", "pre-patinated"]
MetalFamily = Literal["copper", "zinc", "steel", "stainless", "aluminum"]

HOUR_WEIGHS: dict[MetalFamily, float] = {
    "copper": 6.0,
    "zinc": 20.0,
    "steel": 50.0,
    "stainless": 17.0,
    "aluminum": 17.0,
}
"""Pounds an hour of work counts as, of a profile that does not say: usual prices, from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalProfile:
    """One sheet metal at one thickness.

    Attributes
    ----------
    name : str
        File stem, e.g. ``copper-16oz``.
    title : str
        Printed name.
    family : str
        ``copper``, ``zinc``, ``steel``, ``stainless``, ``aluminum``; decides dissimilar-metal cautions.
    temper : str
        As the mill names it, e.g. ``H00``.
    thickness : float
        Nominal thickness, inches.
    thickness_minimum : float or None
        Least allowed thickness, inches.
    weight : float
        Pounds per square foot.
    density : float
        Pounds per cubic inch.
    expansion : float
        Per degree F.
    expansion_range : tuple of float
        Least and greatest published.
    bend_factor : float
        K: distance of the neutral axis from the inside face, in thicknesses.
    least_inside_radius : float
        Inches.
    yield_ksi, modulus_ksi : float
        Yield strength range and modulus, for springback.
    finish : {"bare", "coated", "pre-patinated"}
        Finish of its face as bought.
    mark_rolling : bool
        Whether the rolling direction is marked on every blank, for whoever folds it.
    least_hem_gap : float
        Least opening of a hem, inches; 0 where it folds flat.
    hour_weighs : float
        Pounds of this metal an hour of work counts as, where money does not say.
    coil_widths, sheets : tuple
        Sizes sold, nanometres.
    cautions : tuple of str
        What to mind with this metal, for the pages.
    sources : dict
        Key -> source text, or "from memory".
    """

    name: str
    title: str
    family: str
    temper: str
    thickness: float
    thickness_minimum: float | None
    weight: float
    density: float
    expansion: float
    expansion_range: tuple[float, float]
    bend_factor: float
    least_inside_radius: float
    yield_ksi: tuple[float, float]
    modulus_ksi: float
    coil_widths: tuple[Nm, ...]
    sheets: tuple[tuple[Nm, Nm], ...]
    sources: dict[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    hour_weighs: float = 6.0
    finish: Finish = "bare"
    mark_rolling: bool = False
    least_hem_gap: float = 0.0


_NUMBER = r"(\d+(?:\.\d+)?(?:e-?\d{1,2})?|\.\d+)"
_KG_PER_LB = float(POUNDS_TO_KG)
_MM_PER_IN = 25.4
_SQ_FT_PER_M2 = 1e6 / float(MM2_PER_SQ_IN) / 144
_KSI_PER_MPA = 1000 * _KG_PER_LB * 9.80665 / float(MM2_PER_SQ_IN)  # MPa in one ksi


def _measure(what: str, example: str, least: float, most: float, **units: float) -> BeforeValidator:
    """Validator of a number with one of `units`, each given as its size in the unit kept inside."""

    def check(value: Any) -> float:
        rule, write = f"must be {what}", f'"{example}"'
        if not isinstance(value, str) or len(value) > 60:
            raise BadValueError(rule, value=quoted(value), write=write)
        match = re.fullmatch(rf"{_NUMBER}\s*(.+)", plain(value).replace("²", "2").replace("³", "3"), re.I | re.A)
        name = re.sub(r"\s*per\s*|\s*/\s*", "/", match[2].strip().lower()) if match else ""
        if match is None or name not in units:
            raise BadValueError(rule, value=quoted(value), write=write)
        number = float(Fraction(match[1])) * units[name]
        if not least <= number <= most:
            raise BadValueError(f"{rule} of a sheet metal", value=quoted(value), write=write)
        return number

    return BeforeValidator(check)


_WEIGHT = _measure(
    "a weight per area", "1.00 lb per sq ft", 0.05, 50.0,
    **{"lb/sq ft": 1.0, "lb/ft2": 1.0, "oz/sq ft": 1 / 16, "oz/ft2": 1 / 16, "kg/m2": 1 / _KG_PER_LB / _SQ_FT_PER_M2},
)  # fmt: skip
_DENSITY = _measure(
    "a density", "0.322 lb per cu in", 0.03, 0.9,
    **{"lb/cu in": 1.0, "lb/in3": 1.0, "kg/dm3": _MM_PER_IN**3 / 1e6 / _KG_PER_LB,
       "g/cm3": _MM_PER_IN**3 / 1e6 / _KG_PER_LB},
)  # fmt: skip
_EXPANSION = _measure(
    "an expansion", "9.8e-6 per F", 1e-6, 5e-5, **{"/f": 1.0, "/deg f": 1.0, "/k": 1 / 1.8, "/c": 1 / 1.8}
)
_STRESS = _measure("a stress", "20 ksi", 0.5, 60_000.0, **{"ksi": 1.0, "psi": 0.001, "mpa": 1 / _KSI_PER_MPA,
                                                           "gpa": 1000 / _KSI_PER_MPA})  # fmt: skip


def _factor(value: Any) -> float:
    rule, write = "must be 0.2 to 0.5 of the thickness", "for example 0.407"
    number = float(exact_number(value, rule, write))
    if not 0.2 <= number <= 0.5:
        raise BadValueError(rule, value=quoted(value), write=write)
    return number


class _Profile(BaseModel):
    """A profile file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    title: Note
    family: Annotated[MetalFamily, BeforeValidator(word)]
    temper: Note = ""
    thickness: PieceLength
    least_thickness: PieceLength | None = None
    weight: Annotated[float, _WEIGHT]
    density: Annotated[float, _DENSITY]
    expansion: Annotated[float, _EXPANSION]
    expansion_range: tuple[Annotated[float, _EXPANSION], Annotated[float, _EXPANSION]] | None = None
    bend_factor: Annotated[float, BeforeValidator(_factor)]
    least_inside_radius: Allowance = Nm(0)
    yield_strength: tuple[Annotated[float, _STRESS], Annotated[float, _STRESS]]
    modulus: Annotated[float, _STRESS]
    hour_weighs: Pounds | None = None
    coil_widths: tuple[StockLength, ...] = ()
    sheets: tuple[Size, ...] = ()
    cautions: tuple[Note, ...] = ()
    finish: Annotated[Finish, BeforeValidator(word)] = "bare"
    mark_rolling: Annotated[bool, Field(strict=True)] = False
    least_hem_gap: Allowance = Nm(0)
    source: dict[str, str] = Field(default_factory=dict)


def profile_folder() -> Path:
    """Folder of the shipped profiles: in the installed package, else beside it in the source tree."""
    package = Path(fabplan.__file__).resolve().parent
    inside = package / "stock_profiles"
    return inside if inside.is_dir() else package.parent / "stock_profiles"


def metal_names() -> tuple[str, ...]:
    """Names of the shipped profiles, sorted."""
    return tuple(sorted(path.stem for path in profile_folder().glob("*.toml")))


def list_metals() -> tuple[MetalProfile, ...]:
    """Every shipped profile, by name."""
    return tuple(load_metal(name) for name in metal_names())


def load_metal(name: str, *, base: Path | None = None) -> MetalProfile:
    """Read a shipped profile by name, or a profile file by path.

    Parameters
    ----------
    name : str
        ``copper-16oz`` (hyphen, underscore and capitals do not matter), or a relative path that ends in ``.toml``.
    base : Path, optional
        Folder a path is relative to; the present folder when left out.

    Raises
    ------
    JobError
        No such profile, or a fault in its file.
    """
    if re.search(r"[/\\]|\.toml$", name, re.I):
        path = named_path(name.replace("\\", "/"), base or Path(), '"metals/my-copper.toml"')
        return _from_source(read_source(path, name, "metal profile"), path.stem)
    return _shipped(str(word(name)), name)


def _shipped(name: str, typed: str) -> MetalProfile:
    names = metal_names()
    if name not in names:
        near = get_close_matches(name, names, n=3, cutoff=0.5)
        raise JobError(
            "no metal profile of this name",
            value=quoted(typed),
            write=" or ".join(quoted(n) for n in near)
            if near
            else f"one of {', '.join(names)}, or a path to a .toml file",
        )
    return _read_shipped(name)


@cache
def _read_shipped(name: str) -> MetalProfile:
    return _from_source(read_source(profile_folder() / f"{name}.toml", f"{name}.toml", "metal profile"), name)


_WEIGHT_OFF = 0.1  # a coating weighs too: terne-coated stainless is 6 % over


def _weight_fits(read: _Profile, source: Source) -> None:
    """Refuse a weight that is not that of the thickness: one of the two is in another unit, or of another metal."""
    expected = inches(read.thickness) * 144 * read.density
    if abs(read.weight / expected - 1) > _WEIGHT_OFF:
        raise JobError(
            "must be that of the thickness and density, within a tenth", file=source.shown, key="weight",
            value=quoted(source.data["weight"]), write=f'"{expected:.3g} lb per sq ft", or mend thickness or density',
            line=source.line(("weight",)),
        )  # fmt: skip


def _from_source(source: Source, name: str) -> MetalProfile:
    """The profile a file says, its weight held against thickness and density."""
    if "thickness" not in source.data or "density" not in source.data:
        raise JobError(
            "this is not a metal profile: it has no thickness and density", file=source.shown,
            write="a copy of a shipped profile, changed",
        )  # fmt: skip
    long = too_long(source.data)
    if long is not None:
        rule = f"a list may have {LONGEST_LIST:,} entries at most"
        raise JobError(
            rule, file=source.shown, key=key_text("", long[0]), value=f"{long[1]:,}", line=source.line(long[0])
        )
    try:
        read = _Profile.model_validate(source.data, context={"units": "in"})
    except ValidationError as faults:
        raise JobErrors(
            [
                JobError(r.rule, file=source.shown, key=key_text("", r.path), value=r.value, write=r.write,
                         line=source.line(r.path))
                for r in reword(faults, _Profile)
            ]
        ) from None  # fmt: skip
    if read.least_thickness is not None and read.least_thickness > read.thickness:
        raise JobError(
            "must be no more than thickness", file=source.shown, key="least_thickness",
            value=quoted(source.data["least_thickness"]), write="the least thickness the standard allows",
            line=source.line(("least_thickness",)),
        )  # fmt: skip
    _weight_fits(read, source)
    return MetalProfile(
        name=name,
        title=read.title,
        family=read.family,
        temper=read.temper,
        thickness=inches(read.thickness),
        thickness_minimum=None if read.least_thickness is None else inches(read.least_thickness),
        weight=read.weight,
        density=read.density,
        expansion=read.expansion,
        expansion_range=read.expansion_range or (read.expansion, read.expansion),
        bend_factor=read.bend_factor,
        least_inside_radius=inches(read.least_inside_radius),
        yield_ksi=read.yield_strength,
        modulus_ksi=read.modulus,
        hour_weighs=read.hour_weighs or HOUR_WEIGHS[read.family],
        coil_widths=read.coil_widths,
        sheets=read.sheets,
        sources=dict(read.source),
        cautions=read.cautions,
        finish=read.finish,
        mark_rolling=read.mark_rolling,
        least_hem_gap=inches(read.least_hem_gap),
    )
