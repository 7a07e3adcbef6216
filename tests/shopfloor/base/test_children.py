"""Programs that are kept running: started again, given up, stopped with all that they started."""

import os
import signal
import sys
import time
from pathlib import Path

import pytest

from shopfloor.base import children as module
from shopfloor.base.children import Child, Children

ENDLESS = "import time\nopen('up', 'a').write('x')\ntime.sleep(60)\n"
DEAF = (
    "import signal, time\nsignal.signal(signal.SIGTERM, signal.SIG_IGN)\nopen('up', 'a').write('x')\ntime.sleep(60)\n"
)
FAILS = "import sys\nopen('up', 'a').write('x')\nsys.exit(3)\n"
HAS_OWN = (
    "import os, subprocess, sys, time\n"
    "own = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(60)'])\n"
    "open('own', 'w').write(str(own.pid))\n"
    "time.sleep(60)\n"
)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Where the programs of these tests live and leave their marks."""
    for name, text in (("endless", ENDLESS), ("deaf", DEAF), ("fails", FAILS), ("has_own", HAS_OWN)):
        (tmp_path / f"{name}.py").write_text(text)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setattr(module, "FIRST_PAUSE_S", 0.01)
    return tmp_path


@pytest.fixture
def signals_as_before():
    names = ("SIGINT", "SIGTERM", "SIGHUP")
    before = [signal.getsignal(getattr(signal, name)) for name in names]
    yield
    for name, handler in zip(names, before, strict=True):
        signal.signal(getattr(signal, name), handler)


def wait_for(condition):
    deadline = time.monotonic() + 20
    while not condition():
        assert time.monotonic() < deadline, "it did not happen within 20 s"
        time.sleep(0.02)


def is_running(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def marks(folder):
    file = folder / "up"
    return len(file.read_text()) if file.exists() else 0


def test_a_child_that_dies_is_started_again_and_people_are_told(folder):
    said = []
    child = Child("The worker", "endless", [], grace_s=5)
    children = Children([child], said.append)
    children.start()
    wait_for(lambda: marks(folder) == 1)
    os.kill(child.process.pid, signal.SIGKILL)

    def is_back():
        children.stop_asked = marks(folder) == 2
        return children.stop_asked or not children._look_at(child)

    wait_for(is_back)
    children.stop()
    assert marks(folder) == 2
    assert said == ["The worker ended by itself (SIGKILL). Starting it again in 0.01 s (1 of 5)."]


def test_a_child_that_dies_too_often_ends_the_whole(folder):
    said = []
    children = Children([Child("The worker", "fails", [], grace_s=5)], said.append)
    children.start()
    assert children.look_after() is False
    children.stop()
    assert marks(folder) == module.MOST_RESTARTS + 1
    assert "exit code 3" in said[-1]
    assert "Everything stops" in said[-1]


def test_pauses_before_a_new_start_grow(folder):
    said = []
    children = Children([Child("The worker", "fails", [], grace_s=5)], said.append)
    children.start()
    children.look_after()
    children.stop()
    assert [line.split(" in ")[1].split(" s ")[0] for line in said[:-1]] == ["0.01", "0.02", "0.04", "0.08", "0.16"]


def test_a_child_that_ran_long_enough_has_all_its_starts_again(folder, monkeypatch):
    monkeypatch.setattr(module, "STEADY_AFTER_S", 0.0)
    child = Child("The worker", "endless", [], grace_s=5, restarts=4)
    children = Children([child], lambda sentence: None)
    children.start()
    wait_for(lambda: marks(folder) == 1)
    assert children._look_at(child)
    children.stop()
    assert child.restarts == 0


def test_a_signal_asks_for_the_stop_and_all_children_end(folder, signals_as_before):
    all_of_them = [Child("One", "endless", [], grace_s=10), Child("Two", "endless", [], grace_s=10)]
    children = Children(all_of_them, lambda sentence: None)
    children.stop_on_signals()
    children.start()
    pids = [child.process.pid for child in all_of_them]
    wait_for(lambda: marks(folder) == 2)
    os.kill(os.getpid(), signal.SIGTERM)
    assert children.look_after() is True
    children.stop()
    assert not any(is_running(pid) for pid in pids)


def test_a_child_that_does_not_listen_is_killed(folder):
    child = Child("The worker", "deaf", [], grace_s=0.2)
    children = Children([child], lambda sentence: None)
    children.start()
    pid = child.process.pid
    wait_for(lambda: marks(folder) == 1)
    children.stop()
    assert not is_running(pid)


def test_what_a_child_started_ends_with_it(folder):
    children = Children([Child("The worker", "has_own", [], grace_s=5)], lambda sentence: None)
    children.start()
    wait_for(lambda: (folder / "own").exists() and (folder / "own").read_text())
    own = int((folder / "own").read_text())
    assert is_running(own)
    children.stop()
    wait_for(lambda: not is_running(own))


def test_waiting_for_a_child_ends_when_it_is_up_or_has_ended(folder):
    up, down = Child("Web", "endless", [], grace_s=5), Child("Web", "fails", [], grace_s=5)
    children = Children([up, down], lambda sentence: None)
    children.start()
    assert children.wait_for(lambda: marks(folder) > 0, up, 20) is True
    assert children.wait_for(lambda: False, down, 20) is False
    assert children.wait_for(lambda: False, up, 0.0) is False
    children.stop()


def test_each_child_is_in_a_group_of_its_own_so_that_ctrl_c_reaches_the_parent_alone(folder):
    child = Child("The worker", "endless", [], grace_s=5)
    children = Children([child], lambda sentence: None)
    children.start()
    group = os.getpgid(child.process.pid)
    children.stop()
    assert group != os.getpgid(0)


def test_a_child_finds_the_project_from_any_folder(folder):
    code = "import shopfloor.base.roles, sys\nopen('up', 'a').write('x')\n"
    (folder / "imports.py").write_text(code)
    children = Children([Child("Web", "imports", [], grace_s=5)], lambda sentence: None)
    children.start()
    wait_for(lambda: marks(folder) == 1)
    children.stop()
    assert str(folder) not in sys.path
