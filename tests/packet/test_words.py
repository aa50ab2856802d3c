"""Text on paper: fractions, breaks, characters the font lacks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import FabplanError, JobError
from fabplan.packet.setting import fonts as words
from fabplan.packet.setting.fonts import check_text, pieces, runs
from fabplan.speech.format import listed, paper, spans


@pytest.mark.parametrize(
    ("typed", "cut"),
    [
        ("14 1⁄2 in", [("14", "1", "2"), " in"]),
        ("3⁄4", [("", "3", "4")]),
        ("cut at 13⁄32 and 2 1⁄16", ["cut at ", ("", "13", "32"), " and ", ("2", "1", "16")]),
        ("24 × 36", ["24 × 36"]),
        ("Mark 3 1/2", ["Mark 3 1/2"]),
        ("see 29 CFR 1926.501(b)(1).", ["see 29 CFR ", ("1926.501(b)(1)",), "."]),
        ("", []),
    ],
)
def test_fractions_are_found(typed: str, cut: list[object]) -> None:
    assert runs(typed) == cut


@pytest.mark.parametrize(
    ("said", "printed"),
    [
        ("14-1/32 in", "14 1⁄32 in"),
        ("24 x 42-3/32 in", "24 × 42 3⁄32 in"),
        ("close on a 1/16 in shim", "close on a 1⁄16 in shim"),
        ("-1/2 in", "-1⁄2 in"),
        ("3 of 4", "3 of 4"),
        ("50/50 solder", "50/50 solder"),
        ("lot 12-3/4x", "lot 12-3/4x"),
        ("356.5 mm", "356.5 mm"),
    ],
)
def test_sizes_become_true_fractions(said: str, printed: str) -> None:
    assert paper(said) == printed


@given(st.text(alphabet=st.characters(blacklist_categories=("Cs",)), max_size=80))
def test_runs_lose_nothing(text: str) -> None:
    back = "".join(
        run if isinstance(run, str) else run[0] if len(run) == 1 else (run[0] and f"{run[0]}_") + f"{run[1]}⁄{run[2]}"
        for run in runs(text)
    )
    assert len(back) == len(text)
    assert [c for c in back if c.isalpha()] == [c for c in text if c.isalpha()]


def test_a_long_word_can_break_everywhere() -> None:
    cut = pieces("W" * 200 + " of words")
    assert "".join(cut) == "W" * 200 + " of words"
    assert max(map(len, cut)) <= 17
    assert pieces("an ordinary sentence of words") == ["an ordinary sentence of words"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("屋根", "U+5C4B"),
        ("roof \x07", "U+0007"),
        ("a\u202eb", "U+202E RIGHT-TO-LEFT OVERRIDE"),
        ("a\ud800", "U+D800"),
    ],
)
def test_a_character_without_a_shape_is_named(text: str, says: str) -> None:
    with pytest.raises(JobError) as caught:
        check_text(text, file="job.toml", key="job > name")
    message = str(caught.value)
    assert says in message
    assert message.startswith("job.toml: job > name: ")
    assert "no shape" in message
    assert all(ord(c) >= 32 for c in message)


@pytest.mark.parametrize("text", ["$5 and $6 #let <b> & \\ *x* `y` @z", "½ ⅝ × ° “quoted”", "גג", "سقف", "Żółć", "😀"])
def test_what_the_font_has_is_printed(text: str) -> None:
    check_text(text)


def test_missing_font_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(words, "find_spec", lambda name: None)
    with pytest.raises(FabplanError, match=r"DejaVu Sans .* was not found because matplotlib is not installed"):
        words.font_folder()


def test_numbers_and_lists_read_as_people_write_them() -> None:
    assert spans([1, 4, 5, 6, 9, 10]) == "1, 4–6, 9, 10"
    assert listed(["A"]) == "A"
    assert listed(["A", "B", "C"]) == "A, B and C"
