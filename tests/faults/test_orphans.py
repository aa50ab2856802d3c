"""A run that is killed takes the processes it made with it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from real_runs import environment

# Says it is ready when a process of its own has done some work and waits for more.
WAITS = """
import os, time
from fabplan.workers import processes
if __name__ == "__main__":
    with processes(1) as workers:
        print(workers.start(os.getpid).result(), flush=True)
        time.sleep(600)
"""


@pytest.mark.skipif(os.name == "nt", reason="the pipes of a killed process are not watched this way there")
def test_a_killed_run_leaves_no_process(tmp_path: object) -> None:
    script = os.path.join(str(tmp_path), "waits.py")
    with open(script, "w", encoding="utf-8") as out:
        out.write(WAITS)
    run = subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, text=True, env=environment())
    assert run.stdout is not None
    worker = int(run.stdout.readline())
    run.kill()
    try:
        run.communicate(timeout=60)  # ends when nobody holds the pipe any more
    finally:
        left = os.path.exists(f"/proc/{worker}") if os.path.isdir("/proc") else False
        if left:
            os.kill(worker, 9)
