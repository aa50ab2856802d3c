"""Line numbers of keys: checked against the standard library's TOML reader, key by key."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import JobError
from fabplan.job.files import read_source
from fabplan.job.lines import TooDeepError, key_lines

TEXT = '''\
shop = "x"  # [not.a.table]
[job]
name = "a # b"

[[piece]]
mark = "A"
legs = ["1 in", # one
  "2 in",
 ]
start_hem = {width = "1 in", toward = "back"}
[[piece]]
mark = """
[job] = not this
x""\\" """
"quoted key" = 'z'
a.b = 3
[[brake.measured_allowance]]
metal = 1
[[brake.measured_allowance]]
metal = 07:32:00
points = [[1, 2],
 [3, 4]]
'''


def test_lines_of_keys() -> None:
    lines = key_lines(TEXT)
    assert lines[("shop",)] == 1
    assert lines[("job",)] == 2
    assert lines[("job", "name")] == 3
    assert lines[("piece", 0)] == 5
    assert lines[("piece", 0, "legs", 1)] == 8
    assert lines[("piece", 0, "start_hem", "toward")] == 10
    assert lines[("piece", 1)] == 11
    assert lines[("piece", 1, "mark")] == 12
    assert lines[("piece", 1, "quoted key")] == 15
    assert lines[("piece", 1, "a", "b")] == 16
    assert lines[("brake", "measured_allowance", 1, "metal")] == 20
    assert lines[("brake", "measured_allowance", 1, "points", 1)] == 22


def paths(node: Any, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    found: set[tuple[str | int, ...]] = {path} if path else set()
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in items:
        found |= paths(value, (*path, key))
    return found


def test_every_key_the_toml_reader_finds_has_a_line() -> None:
    missing = {p for p in paths(tomllib.loads(TEXT)) if p not in key_lines(TEXT)}
    assert missing <= {("piece",), ("brake",), ("brake", "measured_allowance")}  # arrays of tables: their entries have


WORDS = st.text(alphabet="abc_-", min_size=1, max_size=4)
SCALARS = st.sampled_from(
    ['"x"', "'y # z'", "1", "-2.5e3", "true", '"""\nlong\n"""', "'''\n]\n'''", "2026-05-01", '"\\"["', "nan"]
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: "[ " + ",\n # note ]\n".join(items) + " ]"),
        st.dictionaries(WORDS, inner, max_size=3).map(
            lambda items: "{" + ", ".join(f"{k} = {v}" for k, v in items.items()) + "}"
        ),
    ),
    max_leaves=6,
)
TABLES = st.tuples(
    st.sampled_from(["[{}]", "[[{}]]", "[ {} ]"]), st.lists(WORDS, min_size=1, max_size=3, unique=True),
    st.dictionaries(WORDS, VALUES, max_size=3),
).map(lambda t: t[0].format(".".join(t[1])) + "\n" + "".join(f"{k} = {v}\n" for k, v in t[2].items()))  # fmt: skip


@given(st.lists(TABLES, max_size=4).map("\n".join))
def test_agrees_with_the_toml_reader_on_any_file(text: str) -> None:
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = key_lines(text)
    rows = text.split("\n")
    for path in paths(data):
        if path in lines and isinstance(path[-1], str):
            assert path[-1] in rows[lines[path] - 1]
        elif path not in lines:
            assert any(other[: len(path)] == path for other in lines)  # a parent only named inside a heading


@given(st.text(max_size=80))
def test_any_text_at_all(text: str) -> None:
    key_lines(text)


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, ".".join("a" * 5000) + " = 1", "a = " + "{b = " * 200])
def test_deep_nesting_is_refused(text: str) -> None:
    with pytest.raises(TooDeepError):
        key_lines(text)


@pytest.mark.parametrize(
    "text",
    ['"' * 900_000, "a='''" + "'a" * 400_000, 'a="' + "\\" * 900_000, "[[" * 400_000, "#" * 900_000, " " * 900_000],
)
def test_large_nonsense_is_answered_without_hanging(tmp_path: Any, text: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    try:
        read_source(path, "job.toml", "job file")
    except JobError as fault:
        assert fault.file == "job.toml"
