"""The forms hold every key a file can say, with the words of the reference; what is typed is what the file says."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from desk_asker import PORCH, Asker
from hypothesis import given
from hypothesis import strategies as st

from fabplan.desk.fields import every, fields_of, value_of
from fabplan.desk.view import CONTENTS, TITLES
from fabplan.job.edit_toml import at, read_values
from fabplan.job.kinds import KINDS
from fabplan.job.load import TABLE_MODELS
from fabplan.job.merge import ARRAYS, TABLES
from fabplan.job.slopes import SHAPE_KEYS
from fabplan.job.wording import keys_of

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "job-file.md").read_text(encoding="utf-8")
ROWS = set(re.findall(r"^\| `(\w+)` \|(.*)\|(.*)\|([^|]*)\|$", PAGE, re.M))
MODELS = [*TABLE_MODELS.items(), *((f"piece:{kind}", model) for kind, model in KINDS.items())]


@pytest.mark.parametrize("model", [m for _, m in MODELS], ids=[n for n, _ in MODELS])
def test_every_key_has_a_field_with_the_words_of_the_reference(model: Any) -> None:
    fields = fields_of(("x",), model, {})
    assert {f.words.key for f in fields} == set(keys_of(model))
    for f in every(fields):
        if f.words.key == "kind":
            continue
        row = (f.words.key, f" {f.words.value} ", f" {f.words.default} ", f" {f.words.meaning} ")
        assert row in ROWS, f.name
        assert f.words.meaning


def test_every_table_a_file_may_have_is_on_the_page(porch: Asker) -> None:
    assert {name for _, group in CONTENTS for name, _ in group} == {*TABLES, *ARRAYS, "plan", "text"}
    for table in (*TABLES, *ARRAYS):
        assert f'aria-current="page">{TITLES[table]}' in porch.get(f"/?at={table}").text


def test_a_slope_is_asked_for_the_sizes_of_its_shape_first() -> None:
    for shape, (ways, extra) in SHAPE_KEYS.items():
        fields = {f.words.key: f for f in fields_of(("slope", 0), TABLE_MODELS["slope"], {"shape": shape})}
        sizes = {key for way in ways for key in way}
        assert all(fields[key].up for key in sizes), shape
        assert set(extra) <= set(fields)
        assert ("eaves" in fields) == (shape == "irregular-spire")


EXAMPLES: list[tuple[str, str, str, Any]] = [
    ("piece.0", "side", "9-1/2 in", "9-1/2 in"),
    ("piece.0", "side", '14 1/2"', '14 1/2"'),
    ("piece.0", "side", "250", 250),
    ("piece.0", "top_angle", "75.50", Decimal("75.50")),
    ("piece.0", "count", "30", 30),
    ("piece.0", "count", "007", "007"),
    ("piece.0", "note", "12", "12"),
    ("piece.0", "mark", "1", "1"),
    ("piece.0", "grain", "along", "along"),
    ("piece.0", "spare", "5 %", "5 %"),
    ("piece.1", "legs", "3/4 in, 2 in,3 in", ["3/4 in", "2 in", "3 in"]),
    ("piece.1", "bends", "90, -45", [90, -45]),
    ("piece.1", "inside_radius", "1/16 in", "1/16 in"),
    ("piece.1", "inside_radius", "1/16 in, 0", ["1/16 in", 0]),
    ("piece.1", "finish_by_hand", "1, 30", [1, 30]),
    ("piece.1", "finish_by_hand", "1, 30\n2, 15", [[1, 30], [2, 15]]),
    ("piece.1", "start_hem.width", "1/2 in", "1/2 in"),
    ("piece.1", "end_hem.toward", "face", "face"),
    ("stock.0", "buy", "true", True),
    ("stock.0", "on_hand", "250 ft", "250 ft"),
    ("stock.0", "price", "9.40 per lb", "9.40 per lb"),
    ("shear", "angle_stop", "20, 160", [20, 160]),
    ("shear", "longest_cut", "1 ft 2-1/2 in", "1 ft 2-1/2 in"),
    ("nest", "search_effort", "0.5", Decimal("0.5")),
    ("nest", "pair", "false", False),
    ("brake", "nose_setback", "2 t", "2 t"),
    ("labour", "stroke", "1 min 30 s", "1 min 30 s"),
    ("labour", "rate", "60", 60),
    ("handling", "carry_limit", "40 lb", "40 lb"),
    ("roof", "centre", "joint", "joint"),
    ("roof", "apex_cap", "false", False),
    ("job", "keep_at_least", "6 x 12 in", "6 x 12 in"),
    ("job", "units", "mm", "mm"),
    ("metal", "use", "zinc-0.7mm", "zinc-0.7mm"),
]


@pytest.mark.parametrize(("where", "key", "typed", "said"), EXAMPLES, ids=[f"{w}.{k}={t!r}" for w, k, t, _ in EXAMPLES])
def test_what_is_typed_is_what_the_file_says(porch: Asker, where: str, key: str, typed: str, said: Any) -> None:
    assert porch.set(where, key, typed)["ok"]
    path = [int(p) if p.isdigit() else p for p in (*where.split("."), *key.split("."))]
    assert at(read_values(porch.text), tuple(path)) == said
    field = next(f for f in every(porch.desk_fields(where)) if f.name == f"{where}.{key}")
    assert value_of(field, field.text) == said  # and shown again it means the same
    assert porch.set(where, key, "")["ok"]
    assert at(read_values(porch.text), tuple(path)) is None


SLOPES = (
    PORCH
    + """
[[slope]]
name = "turret"
shape = "irregular-spire"
piece = "A"
eaves = ["96-1/4 in", "97-5/8 in", "96-5/8 in"]
hips = ["145 in", "144 in", "146 in"]
base_diagonals = [{from = 1, to = 3, length = "97 in"}]

[[slope]]
name = "wall"
shape = "polygon"
piece = "A"
points = [[0, 0], ["60 in", 0], ["60 in", "40 in"]]
edges = {bottom = "eave", 2 = "rake"}
"""
)


def test_tables_in_tables_pairs_and_names_are_filled_in_too(tmp_path: Path) -> None:
    asker = Asker(tmp_path / "job.toml", SLOPES).enter()
    assert asker.set("slope.1", "points", "0, 0\n60 in, 0\n60 in, 41 in\n0, 41 in")["ok"]
    assert asker.set("slope.1", "edges", "bottom = eave\n2 = hip")["ok"]
    assert asker.set("slope.0", "base_diagonals.0.length", "98 in")["ok"]
    assert asker.post("group", at="slope.0", name="slope.0.openings.0", begin=1)["ok"]
    assert asker.set("slope.0", "openings.0.name", "louvre")["ok"]
    data = read_values(asker.text)["slope"]
    assert data[1]["points"] == [[0, 0], ["60 in", 0], ["60 in", "41 in"], [0, "41 in"]]
    assert data[1]["edges"] == {"bottom": "eave", "2": "hip"}
    assert data[0]["base_diagonals"][0]["length"] == "98 in"
    assert data[0]["openings"] == [{"name": "louvre"}]
    answer = asker.post("group", at="slope.0", name="slope.0.openings.0")
    assert answer["ok"], answer
    assert "openings" not in read_values(asker.text)["slope"][0]
    assert not asker.set("slope.1", "edges", "bottom eave")["ok"]


def test_a_value_of_another_form_is_shown_as_it_stands(tmp_path: Path) -> None:
    odd = PORCH.replace("count = 12", "count = [1, 2]\nwhat = {a = 1}").replace("[90, -45]", '[[90], "x"]')
    asker = Asker(tmp_path / "job.toml", odd).enter()
    fields = {f.words.key: f for f in asker.desk_fields("piece.0")}
    assert (fields["count"].way, fields["count"].text) == ("written", "[1, 2]")
    assert (fields["what"].way, fields["what"].text) == ("written", "{a = 1}")
    answer = asker.set("piece.0", "what", "")
    assert answer["ok"] and "what" not in asker.text
    assert not asker.set("piece.0", "count", "[1, ")["ok"]
    assert asker.set("piece.0", "count", "12")["ok"]
    assert asker.text == odd.replace("[1, 2]\nwhat = {a = 1}", "12")


def test_what_the_shop_file_says_is_told(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('[shear]\nlongest_cut = "49 in"\n[[stock]]\nname = "sheet"\nform = "sheet"\n'
                                        'width = "36 in"\nlength = "96 in"\n', encoding="utf-8")  # fmt: skip
    asker = Asker(tmp_path / "job.toml", PORCH.replace("[job]", 'shop = "shop.toml"\n[job]')).enter()
    assert "The shop file says 49 in." in asker.get("/?at=shear").text
    assert "(in the shop file)" in asker.get("/?at=stock").text


PLAIN = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=30)


@given(PLAIN)
def test_any_line_of_text_is_read_back(text: str) -> None:
    for table, key in (("job", "name"), ("job", "round_to"), ("stock", "price")):
        model = TABLE_MODELS[table]
        field = next(f for f in fields_of((table,), model, {}) if f.words.key == key)
        value = value_of(field, text)
        again = next(f for f in fields_of((table,), model, {} if value is None else {key: value}) if f.words.key == key)
        assert value_of(again, again.text) == value
        assert value is None or str(value) == text.strip()
