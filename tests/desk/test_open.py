"""`fabplan open` as it is run: begun, answered, ended with Ctrl-C, nothing left behind."""

from __future__ import annotations

import http.client
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fabplan import cli
from fabplan.desk.serve import HOME


def opened(folder: Path, *more: str) -> tuple[subprocess.Popen[str], str]:
    run = subprocess.Popen(
        [sys.executable, "-m", "fabplan", "open", "--no-browser", *more],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    assert run.stdout is not None
    said = ""
    while "http://" not in said:
        line = run.stdout.readline()
        assert line, run.stderr and run.stderr.read()
        said += line
    return run, said


@pytest.mark.slow
def test_it_begins_a_file_and_ends_with_ctrl_c(tmp_path: Path) -> None:
    run, said = opened(tmp_path, "turret.toml")
    assert "New job file: turret.toml" in said
    assert 'name = "Turret"' in (tmp_path / "turret.toml").read_text(encoding="utf-8")
    address = re.search(r"http://(127\.0\.0\.1:\d+)(/\?key=\S+)", said)
    assert address
    line = http.client.HTTPConnection(address[1], timeout=30)
    line.request("GET", address[2])
    answer = line.getresponse()
    assert answer.status == 303
    cookie = answer.headers["Set-Cookie"].split(";")[0]
    answer.read()
    line.request("GET", "/", headers={"Cookie": cookie})
    page = line.getresponse().read().decode()
    assert "Turret" in page and "the job has no pieces" in page
    line.close()
    os.killpg(run.pid, signal.SIGINT)  # as a terminal does: every process of the run hears it
    out, err = run.communicate(timeout=30)
    assert run.returncode == 0
    assert "Ended." in out
    assert "Traceback" not in err
    time.sleep(0.5)
    with pytest.raises(ProcessLookupError):
        os.killpg(run.pid, 0)


def test_what_cannot_be_opened_is_told_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe")
    for name in ("folder.toml", "bytes.toml", "none/job.toml"):
        with pytest.raises(SystemExit) as left:
            cli.main(["open", "--no-browser", name])
        assert left.value.code == 2, name
        assert name in capsys.readouterr().err


def test_a_port_that_is_taken_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import socket

    monkeypatch.chdir(tmp_path)
    with socket.socket() as taken:
        taken.bind((HOME, 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(SystemExit) as left:
            cli.main(["open", "--no-browser", "--port", str(port), "job.toml"])
    assert left.value.code == 1
    assert f"Port {port} is taken" in capsys.readouterr().err
