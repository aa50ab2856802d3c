"""One key or one table of a text changes, and nothing else of it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import JobError
from fabplan.job.edit_toml import (
    add_entry,
    at,
    drop_entry,
    fragment,
    put_table_text,
    read_values,
    set_value,
    table_text,
)
from fabplan.job.starter import starter_text

TEXT = """\
# The wall at the quay.   Odd   spacing stays.
shop = "shop.toml"   # ours

[job]
  name = 'Quay wall'
number = "7"

# ---- pieces ----

[[piece]]   # the first
mark = "A"
kind = "diamond"
side = "10 in"      # measured twice
hem = '3/4 in'
# count = 25        # when the slopes do not say

[[piece]]
mark = "D"
kind = "section"
legs = [
  "3/4 in",  # kick
  "3 in",    # face
]
bends = [ 90 ]
end_hem = { width = "1/2 in", toward = "back" }   # closed by hand

# ---- what there is ----
[[stock]]
name = "coil"
width = 24.50

[nest]
"""
EDITS: list[tuple[Callable[[str], str], str, str]] = [
    (lambda t: set_value(t, ("piece", 0, "side"), "9-1/2 in"), 'side = "10 in"  ', 'side = "9-1/2 in"  '),
    (lambda t: set_value(t, ("piece", 0, "hem"), "1 in"), "hem = '3/4 in'", 'hem = "1 in"'),
    (lambda t: set_value(t, ("piece", 0, "hem"), None), "hem = '3/4 in'\n", ""),
    (lambda t: set_value(t, ("piece", 0, "count"), 30), "# count = 25        #", "count = 30          #"),
    (lambda t: set_value(t, ("job", "name"), "Q"), "  name = 'Quay wall'", '  name = "Q"'),
    (lambda t: set_value(t, ("piece", 1, "legs"), ["3/4 in", "4 in"]), '"3 in",    # face', '"4 in",    # face'),
    (lambda t: set_value(t, ("piece", 1, "bends"), [45]), "[ 90 ]", "[ 45 ]"),
    (
        lambda t: set_value(t, ("piece", 1, "end_hem", "width"), "5/8 in"),
        '{ width = "1/2 in", toward',
        '{ width = "5/8 in", toward',
    ),
    (lambda t: set_value(t, ("piece", 1, "note"), 'a 1" lip'), "by hand\n", "by hand\nnote = 'a 1\" lip'\n"),
    (lambda t: set_value(t, ("stock", 0, "width"), Decimal("20.0")), "24.50", "20.0"),
    (lambda t: set_value(t, ("nest", "effort"), Decimal("0.50")), "[nest]\n", "[nest]\neffort = 0.50\n"),
    (lambda t: set_value(t, ("roof", "hips"), "capped"), "[nest]\n", '[nest]\n\n[roof]\nhips = "capped"\n'),
    (lambda t: set_value(t, ("shop",), None), 'shop = "shop.toml"   # ours\n', ""),
    (lambda t: set_value(t, ("shop",), "a.toml"), '"shop.toml"', '"a.toml"'),
    (
        lambda t: set_value(t, ("piece", 0, "start_hem", "width"), "1 in"),
        "# count",
        '# count',
    ),
    (
        lambda t: add_entry(t, "stock", {"name": "sheet", "form": "sheet"}),
        "24.50\n",
        '24.50\n\n[[stock]]\nname = "sheet"\nform = "sheet"\n',
    ),
    (lambda t: drop_entry(t, "stock", 0), '[[stock]]\nname = "coil"\nwidth = 24.50\n\n', "\n"),
    (
        lambda t: put_table_text(t, ("job",), '[job]\nname = "New"  # here\n'),
        "[job]\n  name = 'Quay wall'\nnumber = \"7\"\n",
        '[job]\nname = "New"  # here\n',
    ),
]  # fmt: skip


@pytest.mark.parametrize("number", range(len(EDITS)))
def test_only_that_place_changes(number: int) -> None:
    edit, old, new = EDITS[number]
    assert old in TEXT
    expected = TEXT.replace(old, new, 1)
    if number == 14:
        expected = TEXT.replace("hem = '3/4 in'\n", "hem = '3/4 in'\nstart_hem = {width = \"1 in\"}\n")
    assert edit(TEXT) == expected


def test_an_emptied_group_goes_and_an_emptied_table_stays() -> None:
    text = set_value(set_value(TEXT, ("piece", 1, "end_hem", "width"), None), ("piece", 1, "end_hem", "toward"), None)
    assert "end_hem" not in text
    text = set_value(set_value(TEXT, ("job", "name"), None), ("job", "number"), None)
    assert "[job]" in text
    assert read_values(text)["job"] == {}


def test_a_piece_between_others_goes_with_its_comments_and_no_more() -> None:
    text = drop_entry(TEXT, "piece", 0)
    assert "measured twice" not in text and "when the slopes" not in text
    for kept in ("# ---- pieces ----", "# ---- what there is ----", "# kick", "[[stock]]"):
        assert kept in text
    assert [p["mark"] for p in read_values(text)["piece"]] == ["D"]


def test_a_default_shown_as_a_comment_is_taken_into_use() -> None:
    text = set_value(starter_text(), ("job", "batch"), 30)
    assert "\nbatch = 30 " in text and "# batch = 25" not in text
    assert "Pieces in one tick-box batch." in text


def test_lists_of_tables_in_any_form() -> None:
    inline = 'a = 1\nslope = [{name = "x"}, {name = "y"}]  # both\n'
    assert read_values(add_entry(inline, "slope", {"name": "z"}))["slope"][2] == {"name": "z"}
    assert drop_entry(inline, "slope", 0) == 'a = 1\nslope = [{name = "y"}]  # both\n'
    under = '[brake]\njaw = "2 in"\n[[brake.measured_allowance]]\nturned = 90\n'
    path = ("brake", "measured_allowance", 0, "turned")
    assert set_value(under, path, 45) == under.replace("90", "45")
    dotted = '[[piece]]\nmark = "A"\nend_hem.width = "1 in"\nend_hem.toward = "back"\n'
    assert set_value(dotted, ("piece", 0, "end_hem", "width"), "2 in") == dotted.replace("1 in", "2 in")


@pytest.mark.parametrize("path", [("job", "name", "x"), ("piece", 9, "side"), ("piece", "side"), ("nest", 3)])
def test_what_is_no_place_is_refused(path: Any) -> None:
    with pytest.raises(JobError):
        set_value(TEXT, path, "1 in")


@pytest.mark.parametrize(
    "new", ['[job]\nname = "x"\n[shear]\nkerf = 1', "kerf = 1", '[[piece]]\nmark = "Z"\n[[piece]]\nmark = "Y"', ""]
)
def test_a_table_s_box_holds_that_table_alone(new: str) -> None:
    with pytest.raises(JobError):
        put_table_text(TEXT, ("job",), new)


def test_the_lines_of_a_table_are_its_own() -> None:
    assert table_text(TEXT, ("piece", 0)) == "\n".join(TEXT.split("\n")[9:15])
    assert table_text(TEXT, ("labour",)) is None
    for path in (("job",), ("piece", 1), ("stock", 0), ("nest",)):
        assert put_table_text(TEXT, path, table_text(TEXT, path) or "") == TEXT


PLACES = [("piece", 0, "side"), ("piece", 0, "new"), ("piece", 1, "legs"), ("piece", 1, "end_hem", "width"),
          ("piece", 1, "end_hem", "gap"), ("stock", 0, "width"), ("nest", "effort"), ("labour", "stroke"), ("shop",),
          ("piece", 1, "folds", 0, "edge"), ("job", "name")]  # fmt: skip
PLAIN = st.one_of(
    st.text(st.characters(exclude_categories=("Cs",)), max_size=20),
    st.integers(-(10**9), 10**9),
    st.booleans(),
    st.decimals(-1000, 1000, places=3),
)


@given(st.lists(st.tuples(st.sampled_from(PLACES), st.none() | PLAIN | st.lists(PLAIN, max_size=3)), max_size=5))
def test_any_edits_say_what_was_asked_and_leave_other_lines(edits: list[tuple[Any, Any]]) -> None:
    text = TEXT
    for path, value in edits:
        before = tomllib.loads(text, parse_float=Decimal)
        try:
            after_text = set_value(text, path, value)
        except JobError:  # through a value that is no table by now
            continue
        after = tomllib.loads(after_text, parse_float=Decimal)
        assert at(after, path) == value
        for table in before:
            if table != path[0]:
                assert after[table] == before[table]
        comments = [line for line in text.split("\n") if line.startswith("# ----")]
        assert [line for line in after_text.split("\n") if line.startswith("# ----")] == comments
        text = after_text


@given(PLAIN | st.lists(PLAIN, max_size=3) | st.dictionaries(st.text(min_size=1, max_size=5), PLAIN, max_size=3))
def test_a_fragment_is_read_back(value: Any) -> None:
    assert tomllib.loads(f"x = {fragment(value)}", parse_float=Decimal)["x"] == value
