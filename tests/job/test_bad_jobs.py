"""Every bad job is refused with its exact message: file, line, key, rule, value, what to write."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from bad_jobs import BAD_JOBS, GOOD, BadJob

from fabplan.errors import JobError, JobErrors
from fabplan.job.load import load_job


def faults(path: str | Path) -> list[str]:
    with pytest.raises(JobError) as caught:
        load_job(path)
    assert caught.value.exit_code == 2
    each = caught.value.errors if isinstance(caught.value, JobErrors) else (caught.value,)
    return [str(fault) for fault in each]


def test_the_job_they_start_from_is_good(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert [piece.mark for piece in load_job(path).pieces] == ["A", "S", "D", "F", "O"]


@pytest.mark.parametrize("case", BAD_JOBS, ids=lambda case: case.id)
def test_message(case: BadJob, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("job.toml").write_text(case.text, encoding="utf-8")
    assert faults("job.toml") == [said.replace("{file}", "job.toml") for said in case.says]


def test_there_are_many_and_all_differ() -> None:
    assert len(BAD_JOBS) >= 100
    assert len({case.id for case in BAD_JOBS}) == len({case.text for case in BAD_JOBS}) == len(BAD_JOBS)


def test_all_faults_of_a_file_in_one_reading(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    text = GOOD.replace('side = "10 in"', 'sidee = "10 in"').replace('number = "7"', "number = 7.5")
    text = text.replace("bends = [90, -45]", "bends = [90]").replace('form = "sheet"', 'form = "plate"')
    Path("job.toml").write_text(text.replace('use = "copper-16oz"', 'use = "brass"'), encoding="utf-8")
    assert [said.split(": ")[:2] for said in faults("job.toml")] == [
        ["job.toml, line 3", "job > number"],
        ["job.toml, line 6", "metal > use"],
        ["job.toml, line 12", 'piece "A" > sidee'],
        ["job.toml, line 28", 'piece "D" > bends'],
        ["job.toml, line 54", 'stock "sheet" > form'],
    ]


def test_no_more_than_sixty_are_listed(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(GOOD + '\n[[stock]]\nname = "x"\n' * 100, encoding="utf-8")
    said = faults(path)
    assert len(said) == 61
    assert said[-1].endswith("more faults.")


class TestFilesThatAreNoJob:
    def test_missing(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        assert faults("none.toml") == ["none.toml: no such job file. Write the name of a file that exists."]

    def test_a_folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        Path("jobs").mkdir()
        assert faults("jobs") == ["jobs: is a folder, not a job file. Write the name of the file inside it."]

    def test_not_utf8(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        Path("job.toml").write_bytes(GOOD.replace("Porch", "Gaubé").encode("latin-1"))
        assert faults("job.toml") == [
            "job.toml, line 2: a job file must be UTF-8 text. Write the file again, saved as UTF-8."
        ]

    def test_too_large(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        with Path("job.toml").open("wb") as stream:
            stream.truncate(100_000_000)
        assert faults("job.toml") == ["job.toml: a job file may be 1,000,000 bytes at most (found 100,000,000 bytes)."]

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
    def test_a_pipe_is_not_waited_for(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        os.mkfifo("job.toml")
        assert faults("job.toml") == ["job.toml: is not an ordinary file, so it cannot be a job file."]

    @pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything")
    def test_no_permission(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        Path("job.toml").write_text(GOOD, encoding="utf-8")
        Path("job.toml").chmod(0)
        assert faults("job.toml") == ["job.toml: this job file may not be read: permission denied."]

    def test_a_name_too_long(self) -> None:
        (said,) = faults("x" * 5000)
        assert "this job file cannot be read" in said

    def test_a_name_with_a_control_character_is_spelled_out(self) -> None:
        (said,) = faults("\x1b[2J.toml")
        assert said.startswith("\\x1b[2J.toml: ")


class TestShopFile:
    def write(self, folder: Path, shop: str, name: str = "shop.toml") -> Path:
        (folder / "shop.toml").write_text(shop, encoding="utf-8")
        (folder / "job.toml").write_text(f'shop = "{name}"\n' + GOOD, encoding="utf-8")
        return folder / "job.toml"

    def test_fault_names_the_shop_file_and_its_line(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.write(tmp_path, '[shear]\nlongest_cut = "1 in"\nback_gauge_reach = "4 foots"\n')
        monkeypatch.chdir(tmp_path)
        assert faults("job.toml") == [
            'shop.toml, line 3: shear > back_gauge_reach: unknown unit "foots" (found "4 foots"). '
            'Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".'
        ]

    def test_cannot_name_another_shop_file(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.write(tmp_path, 'shop = "shop.toml"\n[shear]\n')
        monkeypatch.chdir(tmp_path)
        assert faults("job.toml") == [
            "shop.toml, line 1: shop: a shop file cannot name another shop file. Write it in the job file."
        ]

    @pytest.mark.parametrize(
        "secret", ["token = 'hunter2'\n[registry]\nname = 'hunter2'\n", "hunter2 = hunter2\n", "hunter2\n"]
    )
    def test_never_quotes_a_foreign_file(self, tmp_path: Path, secret: str) -> None:
        (said,) = faults(self.write(tmp_path, secret))
        assert "hunter2" not in said
        assert "registry" not in said

    def test_a_link_to_a_foreign_file_tells_nothing(self, tmp_path: Path) -> None:
        (tmp_path / "secret.txt").write_text("root:hunter2:0:0\n", encoding="utf-8")
        path = self.write(tmp_path, "", "link.toml")
        try:
            (tmp_path / "link.toml").symlink_to(tmp_path / "secret.txt")
        except OSError:
            pytest.skip("the system makes no links")
        assert "hunter2" not in "".join(faults(path))


def test_command_line_leaves_with_2_and_no_traceback(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(GOOD.replace('side = "10 in"', 'side = "wide"'), encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-c", "from fabplan.cli import main; main()", "check", str(path)],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert ran.returncode == 2
    assert "must be a length" in ran.stderr
    assert "Traceback" not in ran.stderr + ran.stdout
