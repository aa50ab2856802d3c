"""The job file reference agrees with the models, and its example works; the glossary keeps its words apart."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fabplan.job.kinds.ends import EndDam, EndReturn
from fabplan.job.load import KINDS, TABLE_MODELS, load_job
from fabplan.job.merge import ARRAYS, TABLES
from fabplan.job.model import EdgeFold, HemSpec, MeasuredAllowance
from fabplan.job.reference import reference_text
from fabplan.job.reference_text import DEFAULT_WORDS, SLOPE_WORDS
from fabplan.job.slopes import BaseDiagonal, Opening
from fabplan.job.wording import keys_of

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "job-file.md").read_text(encoding="utf-8")
MODELS = {
    *TABLE_MODELS.values(),
    *KINDS.values(),
    HemSpec,
    EdgeFold,
    EndDam,
    EndReturn,
    MeasuredAllowance,
    Opening,
    BaseDiagonal,
}


def test_page_is_what_the_models_say() -> None:
    assert reference_text() == PAGE, "run: python -m fabplan.job.reference > docs/job-file.md"


@pytest.mark.parametrize("model", sorted(MODELS, key=lambda model: model.__name__), ids=lambda model: model.__name__)
def test_every_key_has_a_row_with_a_meaning(model: type) -> None:
    rows = dict(re.findall(r"^\| `(\w+)` \|(.*)$", PAGE, re.M))
    for key in keys_of(model):
        if key != "kind":
            assert key in rows, f"{model.__name__}.{key}"
            every = re.findall(rf"^\| `{key}` \|.*\| (.*) \|$", PAGE, re.M)
            assert all(every), f"{model.__name__}.{key} has no meaning in docs/job-file.md"


def test_every_table_and_kind_has_a_heading() -> None:
    for table in TABLES:
        assert f"## `[{table}]`" in PAGE
    for table in ARRAYS:
        assert f"## `[[{table}]]`" in PAGE
    for kind in KINDS:
        assert re.search(rf"^### .*`{kind}`", PAGE, re.M)


def test_words_name_keys_that_exist() -> None:
    models = {model.__name__: model for model in MODELS} | {"PieceBase": next(iter(KINDS.values()))}
    for name in (*DEFAULT_WORDS, *SLOPE_WORDS):
        model, key = name.split(".")
        assert key in keys_of(models[model]), name


def test_the_example_loads(tmp_path: Path) -> None:
    (example,) = re.findall(r"```toml\n(.*?)```", PAGE, re.S)
    (tmp_path / "job.toml").write_text(example, encoding="utf-8")
    assert load_job(tmp_path / "job.toml").info.name == "Porch roof"


def test_glossary() -> None:
    text = (DOCS / "glossary.md").read_text(encoding="utf-8")
    terms = re.findall(r"^\| ([^|]+) \|", text.split("## Kept apart")[0], re.M)
    terms = [term for term in terms if term != "word" and not term.startswith("---")]
    assert len(terms) > 90
    assert len(set(terms)) == len(terms)
    for word in ("folder", "guillotine", "verge", "clip", "welt"):
        assert re.search(rf"\| [^|]*\b{word}\b[^|]* \|$", text, re.M), f"no UK word {word}"
    for clash in ("gauge", "face", "profile", "pitch", "clip", "square", "angle"):
        assert f"\n| {clash} |" in text.split("## Kept apart")[1]
