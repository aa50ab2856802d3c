"""Job files made wrong at random: every one loads, or is refused with a message; nothing else ever comes out.

The grammar starts from good files and changes what people and programs get wrong: a value's type, range, unit or
spelling, a key's name, doubled or dropped lines, broken quotes, odd characters, numbers without end.
"""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest
from bad_jobs import GOOD
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fabplan.errors import FabplanError, JobError, JobErrors, is_hidden
from fabplan.job.load import load_job
from fabplan.job.starter import starter_text
from fabplan.job.summary import said_rows

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
SLOPES = """
[[slope]]
name = "north"
shape = "trapezoid"
piece = "A"
bottom = "10 ft"
top = "4 ft"
left = "9 ft"
right = "9 ft 1 in"
openings = [{points = [["1 ft", "1 ft"], ["2 ft", "1 ft"], ["2 ft", "2 ft"]]}]
[roof]
cap_leg = "3 in"
[spread]
fold = "1/64 in"
[handling]
carry_limit = "40 lb"
[[brake.measured_allowance]]
metal = "copper-16oz"
turned = 180
deduction = "0.02 in"
"""
WHOLE = re.sub(r"^##? (?=[a-z_]+ = |\[)", "", starter_text(), flags=re.M).replace('shop = "shop.toml"', "")
SEEDS = (GOOD, GOOD.replace("count = 40\n", "").replace("count = 6\n", "") + SLOPES, WHOLE)
VALUES = (
    "0", "-1", "1", "2.5", "1e9", "1e-9", "1e400", "-1e400", "9" * 400, "nan", "inf", "-inf", "true", "false", '""',
    '" "',
    '"1"', '"-1 in"', '"1/0 in"', '"14-1/2 in"', '"1 ft 2 in"', '"12 furlongs"', '"1e9 in"', '"99999999999 m"', '"5 %"',
    '"500 %"', '"-5 %"', '"10 pieces"', '"6 x 12 in"', '"0 x 0 in"', '"9.40 per lb"', '"9.40 per sheet"', '"310 lb"',
    '"face"', '"back"', '"any"', '"A"', '"D"', '"zz"', '"copper-16oz"', '"../../etc/passwd"', '"x.toml"', '"/dev/zero"',
    "[]", "[1]", "[[]]", "[[1, 2], [3, 4], [5, 6]]", '["1 in", "2 in"]', "[1, [2, [3]]]", "{}", "{a = 1}",
    '{width = "1 in", toward = "back"}', '{width = "1 in", toward = "face", turned = 90, gap = "1 in"}',
    '[{edge = 1, width = "1 in", toward = "back"}]', "2026-05-01", "07:32:00", '"\\u001b[31m"', '"\\u202eabc"',
    '"\\u0000"',
    '"' + "x" * 300 + '"', '"😀"', '"½"', '"“1 in”"', "0x10", "1_000", "'lit'", '"""two\nlines"""',
)  # fmt: skip


def mutated(seed: int) -> str:
    """One job file, made wrong in one to three ways."""
    chance = random.Random(seed)
    rows = chance.choice(SEEDS).split("\n")
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(rows))
        row = rows[at]
        way = chance.randrange(-6, 10)
        if way <= 4 and " = " in row:
            others = [other.split(" = ", 1)[1] for other in rows if " = " in other]
            rows[at] = row.split(" = ")[0] + " = " + chance.choice(VALUES if way < -2 else others)
        elif way == 5:
            rows.insert(chance.randrange(len(rows)), row)
        elif way == 6:
            del rows[at]
            rows = rows or [""]
        elif way == 7 and row:
            spot = chance.randrange(len(row))
            rows[at] = row[:spot] + chance.choice('x "]=[{}\\#.,\t\u00a0“’½\x07é') + row[spot + chance.randint(0, 1) :]
        elif way == 8:
            other = chance.randrange(len(rows))
            rows[at], rows[other] = rows[other], rows[at]
        else:
            rows.insert(
                at, chance.choice(["[job]", "[[piece]]", "[[stock]]", "[x]", "[[shear]]", "a.b.c = 1", "kerf = 1"])
            )
    return "\n".join(rows)


def refused_or_read(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")
    try:
        job = load_job(path)
    except FabplanError as fault:
        assert isinstance(fault, JobError)
        assert fault.exit_code == 2
        for one in fault.errors if isinstance(fault, JobErrors) else (fault,):
            said = str(one)
            assert one.file
            assert re.search(r"[.)\"]$", said), said
            assert not any(is_hidden(char) for char in said)
            assert len(said) < 2000
            assert "pydantic" not in said
            assert "validation" not in said
    else:
        assert all(isinstance(cell, str) for row in said_rows(job) for cell in row)


@pytest.mark.parametrize("seed", range(250))
def test_seeded(seed: int, tmp_path: Path) -> None:
    refused_or_read(tmp_path / "job.toml", mutated(seed))


@pytest.mark.slow
@pytest.mark.parametrize("start", range(1000, 21_000, 1000))
def test_many_seeds(start: int, tmp_path: Path) -> None:
    for seed in range(start, start + 1000):
        refused_or_read(tmp_path / "job.toml", mutated(seed))


@given(st.integers(0, 10**9))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_random(tmp_path: Path, seed: int) -> None:
    refused_or_read(tmp_path / "job.toml", mutated(seed))


@given(st.binary(max_size=200))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(data)
    with pytest.raises(JobError):
        load_job(path)


@pytest.mark.parametrize("seed", range(100))
def test_shop_files(seed: int, tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(mutated(seed).replace("shop =", "chop ="), encoding="utf-8")
    job = '[job]\nname = "x"\nnumber = "1"\n' if seed % 2 else ""
    refused_or_read(tmp_path / "job.toml", 'shop = "shop.toml"\n' + job)


BIG = {
    "keys": GOOD.replace("[metal]", "\n".join(f"k{i} = 1" for i in range(30_000)) + "\n[metal]"),
    "top keys": "\n".join(f"k{i} = 1" for i in range(30_000)) + "\n" + GOOD,
    "tables": GOOD + "\n".join(f"[k{i}]" for i in range(30_000)),
    "pieces": GOOD + "[[piece]]\n" * 50_000,
    "stock": GOOD + '[[stock]]\nname = "x"\n' * 190,
    "corners": GOOD.replace("points = [", "points = [" + "[1, 2]," * 50_000),
    "legs": GOOD.replace("legs = [", "legs = [" + '"x",' * 100_000),
    "strips": GOOD + "[[brake.measured_allowance]]\n" * 20_000,
    "edges": GOOD + "[[slope]]\nedges = {" + ", ".join(f'k{i} = "x"' for i in range(30_000)) + "}\n",
    "long text": GOOD.replace('"Porch"', '"' + "x" * 900_000 + '"'),
    "long number": GOOD.replace('"10 in"', "0x" + "f" * 900_000),
    "long fraction": GOOD.replace('"10 in"', "1." + "1" * 900_000),
}


@pytest.mark.parametrize("name", BIG)
def test_large_files_are_answered(name: str, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(BIG[name], encoding="utf-8")
    with pytest.raises(JobError) as caught:
        load_job(path)
    assert len(str(caught.value)) < 60_000


def test_the_grammar_makes_both_good_and_bad_files(tmp_path: Path) -> None:
    good = 0
    for seed in range(60):
        (tmp_path / "job.toml").write_text(mutated(seed), encoding="utf-8")
        try:
            load_job(tmp_path / "job.toml")
            good += 1
        except JobError:
            pass
    assert 3 < good < 57


def test_the_whole_starter_is_a_job(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(WHOLE, encoding="utf-8")
    assert load_job(tmp_path / "job.toml").info.currency == "USD"
