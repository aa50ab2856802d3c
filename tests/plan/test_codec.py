"""Any result type is written and read back from its annotations alone; what is not of its type is said by its place."""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_jobs import JOBS, saved_data

from fabplan.plan.codec import form_of, read_as, written
from fabplan.plan.file import PlanFile, plan_schema, plan_text
from fabplan.plan.forms import Scale, UnfitError
from fabplan.quantities import (
    BY_NAME,
    NOT_KEPT,
    Cost,
    Degrees,
    Fields,
    FineSteps,
    Inches,
    Key,
    Money,
    Nanometres,
    Pounds,
    SquareInches,
    Steps,
    stated,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hook:
    """A hook."""

    kind: Literal["hook", "pin"]
    reach: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A plate, which may carry plates."""

    kind: Literal["plate"] = "plate"
    held: Steps
    on: tuple[Plate | Hook, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Everything:
    """Every form a field can take."""

    word: str
    number: int
    yes: bool
    length: Inches
    area: SquareInches
    weight: Annotated[Pounds, Key("heavy")]
    turned: Annotated[Degrees | None, Key("turned_deg")]
    fine: Nanometres
    cost: Cost
    other: Cost | None
    price: Money | None
    part: Plate | Hook | None
    pairs: Annotated[tuple[tuple[str, int], ...], BY_NAME]
    row: Annotated[tuple[int, Inches], Fields(("count", "length"))]
    points: tuple[tuple[FineSteps, FineSteps], ...]
    drawn: Annotated[tuple[float, ...], NOT_KEPT] = ()

    @stated
    def doubled(self) -> Annotated[Inches, Key("twice")]:
        """Twice the length."""
        return 2 * self.length


INCH, METRIC = Scale("in", 793_750, "area"), Scale("mm", 500_000)
lengths = st.integers(-(10**9), 10**9).map(lambda n: n / 10**6)
things = st.builds(
    Everything,
    word=st.text(),
    number=st.integers(),
    yes=st.booleans(),
    length=lengths,
    area=lengths,
    weight=lengths,
    turned=st.none() | st.just(45.5),
    fine=st.integers(-(10**9), 10**9),
    cost=st.fractions(-(10**9), 10**9),
    other=st.none() | st.fractions(-(10**9), 10**9),
    price=st.none() | st.integers(0, 10**9).map(lambda n: Decimal(n) / 100),
    part=st.none()
    | st.builds(Hook, kind=st.sampled_from(["hook", "pin"]), reach=lengths)
    | st.builds(Plate, held=st.integers(0, 10**6), on=st.lists(st.builds(Plate, held=st.integers(0, 99))).map(tuple)),
    pairs=st.dictionaries(st.text(), st.integers()).map(lambda d: tuple(d.items())),
    row=st.tuples(st.integers(), lengths),
    points=st.lists(st.tuples(lengths, lengths)).map(tuple),
)


def close(a: Any, b: Any) -> bool:
    if isinstance(a, tuple):
        return len(a) == len(b) and all(map(close, a, b))
    return abs(a - b) <= 2e-6 if isinstance(a, float) else bool(a == b)


@given(things, st.sampled_from([INCH, METRIC]))
def test_everything_comes_back(thing: Everything, scale: Scale) -> None:
    data = json.loads(json.dumps(written(thing, scale), allow_nan=False))
    back = read_as(Everything, data, scale)
    for name in Everything.__slots__:
        if name not in ("part", "drawn"):
            assert close(getattr(back, name), getattr(thing, name)), name
    assert type(back.part) is type(thing.part)
    assert written(back.part, scale) == written(thing.part, scale)
    defs: dict[str, Any] = {}
    root = form_of(Everything).schema(defs)
    jsonschema.validate(data, {**root, "$defs": defs})


EXAMPLE = Everything(
    word="a",
    number=1,
    yes=True,
    length=1.0,
    area=2.0,
    weight=3.0,
    turned=None,
    fine=5,
    cost=Fraction(1, 3),
    other=None,
    price=Decimal("0.50"),
    part=Plate(held=3, on=(Hook(kind="pin", reach=1.0),)),
    pairs=(("A", 1),),
    row=(4, 2.5),
    points=((0.0, 0.5),),
)


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
)


@given(anything)
def test_the_text_of_a_plan_is_its_data(data: Any) -> None:
    assert json.loads(plan_text(data)) == data


def test_points_stand_on_one_line_and_every_key_on_its_own() -> None:
    text = plan_text({"a": [[1.0, 2.0], [3.0, 4.0]], "b": [{"c": 1}, {"c": []}], "d": {}})
    assert text.splitlines() == [
        "{",
        ' "a": [[1.0, 2.0], [3.0, 4.0]],',
        ' "b": [',
        "  {",
        '   "c": 1',
        "  },",
        "  {",
        '   "c": []',
        "  }",
        " ],",
        ' "d": {}',
        "}",
    ]


def test_numbers_are_in_the_units_of_the_job() -> None:
    data = written(EXAMPLE, METRIC)
    assert (data["length"], data["area"], data["fine"]) == (25.4, 1290.32, 5e-6)
    assert data["heavy"] == pytest.approx(3 * 0.45359237, abs=1e-6)  # NIST SP 811: the avoirdupois pound
    assert data["cost"] == 0.333333 and data["cost_exact"] == "1/3"
    assert data["other"] is data["other_exact"] is None
    assert data["part"] == {"kind": "plate", "held": 1.5, "on": [{"kind": "pin", "reach": 25.4}]}
    assert (data["pairs"], data["row"], data["twice"]) == ({"A": 1}, {"count": 4, "length": 63.5}, 50.8)
    assert "drawn" not in data


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("number", True, "number: True is not a whole number"),
        ("number", 1.0, "number: 1.0 is not a whole number"),
        ("yes", 1, "yes: 1 is not true or false"),
        ("length", "1", "length: '1' is not a number"),
        ("length", True, "length: True is not a number"),
        ("length", 10**400, "is not a number"),
        ("cost_exact", "1e9999999", "cost_exact: '1e9999999' is not an exact fraction"),
        ("cost_exact", "1/0", "is not an exact fraction"),
        ("cost_exact", "1/00", "is not an exact fraction"),
        ("cost", 0.34, "beside it is not its exact value"),
        ("other", 1.0, "beside it is not its exact value"),
        ("part", {"kind": "nail"}, "part: 'nail' is not 'plate' or 'hook' or 'pin'"),
        ("part", {"kind": "plate", "held": 1.5, "on": [{"kind": "pin"}]}, "part.on[0].reach: is missing"),
        ("part", {"kind": "plate", "held": 1.26, "on": []}, "part.held: 1.26 is not on the shop's graduation"),
        ("part", {"kind": "plate", "held": 1.5, "on": [], "x": 1}, "part.x: does not belong"),
        ("part", [], "part: None is not 'plate'"),
        ("pairs", {"A": "B"}, "pairs.A: 'B' is not a whole number"),
        ("pairs", [], "pairs: [] is not a table"),
        ("row", [1, 2], "row: [1, 2] is not a table of count, length"),
        ("points", [[1.0]], "points[0]: [1.0] is not a list of 2"),
        ("points", {}, "points: {} is not a list"),
        ("fine", 0.5e-6, "fine: 5e-07 is not on the shop's graduation"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(key: str, value: Any, words: str) -> None:
    data = written(EXAMPLE, METRIC) | {key: value}
    with pytest.raises(UnfitError) as fault:
        read_as(Everything, data, METRIC)
    assert words in f"{fault.value.place}: {fault.value}"


def test_a_number_without_a_unit_is_refused_when_the_type_is_first_used() -> None:
    @dataclass(frozen=True, kw_only=True)
    class Bare:
        size: float

    with pytest.raises(TypeError, match="unit"):
        form_of(Bare).schema({})


def test_what_is_not_kept_needs_a_default() -> None:
    @dataclass(frozen=True, kw_only=True)
    class Lost:
        size: Annotated[Inches, NOT_KEPT]

    with pytest.raises(TypeError, match="no default"):
        form_of(Lost).schema({})


@pytest.mark.parametrize("name", sorted(JOBS))
def test_a_plan_keeps_the_published_schema(name: str) -> None:
    data = saved_data(name)
    schema = plan_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    form = jsonschema.Draft202012Validator(schema)
    form.validate(data)
    assert list(data) == [f.key for f in form_of(PlanFile).columns]  # type: ignore[attr-defined]
    for spoil in ({"schema": 3}, {"notes": [1]}, {"extra": 1}, {"units": "ft"}):
        assert not form.is_valid(data | spoil)
