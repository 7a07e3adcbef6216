"""A program that must not outlive the one that started it."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from shopfloor.base import with_parent

SCRIPT = Path(with_parent.__file__)

PARENT = """
import os, subprocess, sys, time
child = subprocess.Popen([sys.executable, "-P", {script!r}, str(os.getpid()), "endless"], stdin=subprocess.PIPE)
print(child.pid, flush=True)
time.sleep(60)
"""


@pytest.fixture
def modules(tmp_path):
    """A folder with modules to run, and the environment that finds them."""
    (tmp_path / "endless.py").write_text("import time\nprint('up', flush=True)\ntime.sleep(60)\n")
    (tmp_path / "says.py").write_text("import sys\nprint(__name__, sys.argv[1:])\nsys.exit(7)\n")
    return {**os.environ, "PYTHONPATH": str(tmp_path)}


def start(environment, module, *args, parent=None):
    command = [sys.executable, "-P", str(SCRIPT), str(parent or os.getpid()), module, *args]
    return subprocess.Popen(command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def is_running(pid):
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def ends_within(pid, seconds):
    deadline = time.monotonic() + seconds
    while is_running(pid):
        if time.monotonic() > deadline:
            return False
        time.sleep(0.02)
    return True


def test_the_module_runs_as_a_program_with_its_own_arguments_and_exit_code(modules):
    with start(modules, "says", "--port", "8000") as process:
        # Its standard input stays open meanwhile: the end of that is the end of the parent.
        assert process.stdout.read() == "__main__ ['--port', '8000']\n"
        assert process.wait(10) == 7


def test_it_ends_when_its_parent_is_killed(modules):
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT.format(script=str(SCRIPT))], env=modules, stdout=subprocess.PIPE, text=True
    )
    child = int(parent.stdout.readline())
    assert parent.stdout.readline() == "up\n"
    parent.kill()
    parent.communicate()
    assert ends_within(child, 10)


def test_it_ends_when_the_pipe_from_its_parent_closes(modules):
    with start(modules, "endless") as process:
        assert process.stdout.readline() == "up\n"
        process.stdin.close()
        assert process.wait(10) == 1


def test_it_does_not_begin_where_the_parent_is_gone_already(modules):
    with start(modules, "endless", parent=os.getppid()) as process:
        assert process.stdout.read() == ""
        assert process.wait(10) == 1


def test_asked_to_end_it_ends_with_nothing_wrong(modules):
    with start(modules, "endless") as process:
        assert process.stdout.readline() == "up\n"
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0
