"""The whole server as one command: it comes up, stays up, and leaves nothing behind however it ends.

Each test starts the real command with a data folder of its own and looks at the processes that it started.
"""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from shopfloor.base.management.commands import up as module
from shopfloor.base.management.commands.up import Command, free_port, lan_address
from tests.factories.accounts import person

ROOT = Path(__file__).resolve().parents[5]
PATIENCE_S = 240


class Up:
    """A running `manage.py up`, with what it said so far."""

    def __init__(self, data, *args, **environment):
        kept = {
            k: v for k, v in os.environ.items() if k not in ("BROKER_URL", "DATABASE_URL", "DJANGO_SETTINGS_MODULE")
        }
        self.process = subprocess.Popen(
            [sys.executable, str(ROOT / "manage.py"), "up", *args],
            env={**kept, "SHOP_NO_BOOTSTRAP": "1", "SHOP_DATA": str(data), **environment},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        self.data = data
        self.said = ""
        self.started = set()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        for line in self.process.stdout:
            self.said += line

    def wait_for(self, pattern):
        """The match of the pattern in what was said."""
        return self.until(lambda: re.search(pattern, self.said), pattern)

    def until(self, condition, what="it"):
        deadline = time.monotonic() + PATIENCE_S
        while not (found := condition()):
            self.started |= descendants(self.process.pid)
            assert time.monotonic() < deadline, f"{what} did not come. It said:\n{self.said}"
            time.sleep(0.05)
        return found

    def wait_until_open(self):
        self.wait_for("Ctrl-C stops everything")
        # The command asks the web server alone; the worker takes its time.
        self.wait_for(r"celery@\S+ ready")

    @property
    def address(self):
        return re.search(r"http://localhost:\d+/", self.said).group()

    def child(self, module):
        """The process number of the child that runs the module."""
        self.started |= descendants(self.process.pid)
        return next(pid for pid in self.started if is_running(pid) and module in command_of(pid))

    def end(self):
        """The exit code; fails where any process that it started is still there."""
        code = self.process.wait(PATIENCE_S)
        self.until(lambda: not any(is_running(pid) for pid in self.started), "the end of all children")
        self._reader.join(PATIENCE_S)
        self.process.stdout.close()
        return code

    def stop(self, signal_number=signal.SIGTERM):
        self.started |= descendants(self.process.pid)
        assert len(self.started) >= 2
        self.process.send_signal(signal_number)
        return self.end()


@pytest.fixture
def up(tmp_path):
    """Starts the command; what is still running after the test is killed."""
    started = []

    def start(*args, **environment):
        started.append(Up(tmp_path / "data", *args, **environment))
        return started[-1]

    yield start
    for running in started:
        for pid in {running.process.pid, *running.started}:
            if is_running(pid):
                os.kill(pid, signal.SIGKILL)
        running.process.wait()
        running.process.stdout.close()


def stat_of(pid):
    """State and parent of a process, None where it is gone."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except (FileNotFoundError, ProcessLookupError):
        return None
    return fields[0], int(fields[1])


def is_running(pid):
    stat = stat_of(pid)
    return stat is not None and stat[0] != "Z"


def command_of(pid):
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode()
    except (FileNotFoundError, ProcessLookupError):
        return ""


def descendants(pid):
    parents = {int(name): stat_of(name) for name in os.listdir("/proc") if name.isdigit()}
    found = {pid}
    while True:
        more = {child for child, stat in parents.items() if stat and stat[1] in found} - found
        if not more:
            return found - {pid}
        found |= more


def get(address):
    with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(address, timeout=20) as answer:
        return answer.read().decode()


@pytest.fixture
def port():
    """A port where nobody listens."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return str(probe.getsockname()[1])


@pytest.mark.slow
def test_it_opens_the_shop_with_web_and_worker_and_closes_it_when_told(up, port):
    shop = up("--port", port)
    shop.wait_until_open()
    assert shop.address == f"http://localhost:{port}/"
    assert get(shop.address + "alive/") == "alive\n"
    shop.until((Path(shop.data) / "worker-seen").exists, "a worker that was seen")
    assert json.loads(get(shop.address + "ready/"))["ready"] is True
    assert "createsuperuser" in shop.said
    assert shop.stop() == 0
    assert "Traceback" not in shop.said


@pytest.mark.slow
def test_a_killed_worker_and_a_killed_web_server_come_back_and_go_with_their_killed_parent(up, port):
    shop = up("--port", port)
    shop.wait_until_open()
    os.kill(shop.child("celery"), signal.SIGKILL)
    shop.wait_for(r"The worker ended by itself \(SIGKILL\). Starting it again")
    shop.until(lambda: shop.said.count("ready.") == 2, "a second worker")
    os.kill(shop.child("waitress"), signal.SIGKILL)
    shop.wait_for(r"The web server ended by itself \(SIGKILL\). Starting it again")
    shop.until(lambda: shop.said.count("Serving on") == 2, "a second web server")
    assert get(shop.address + "alive/") == "alive\n"
    assert shop.stop(signal.SIGKILL) == -signal.SIGKILL


@pytest.mark.slow
def test_stopped_while_it_still_starts_it_stops(up, port):
    shop = up("--port", port)
    shop.until(lambda: len(descendants(shop.process.pid)) >= 2, "the children")
    assert shop.stop() == 0


@pytest.mark.slow
def test_a_web_server_that_cannot_start_is_said_and_told_by_the_exit_code(up, port):
    shop = up("--port", port, PYTHONPATH=str(ROOT / "tests" / "shopfloor" / "base" / "no_waitress"))
    assert shop.end() == 1
    assert "The web server did not start" in shop.said
    assert "this stand-in for the web server does not start" in shop.said


@pytest.mark.slow
def test_a_taken_port_is_said_the_next_is_used_and_ctrl_c_in_the_terminal_closes_it(up, port):
    with socket.socket() as other:
        other.bind(("127.0.0.1", int(port)))
        other.listen()
        shop = up("--port", port, "--host", "127.0.0.1")
        shop.wait_until_open()
        used = int(shop.address.rstrip("/").rpartition(":")[2])
        assert used > int(port)
        assert f"Port {port} is taken" in shop.said
        assert f"using {used}" in shop.said
        assert "for tablets" not in shop.said
        shop.started |= descendants(shop.process.pid)
        # As a terminal does it: to the whole group in front.
        os.killpg(shop.process.pid, signal.SIGINT)
        assert shop.end() == 0
        assert "Traceback" not in shop.said


def test_with_a_broker_that_is_a_server_it_refuses(settings):
    settings.BROKER_IS_EMBEDDED = False
    with pytest.raises(CommandError, match=r"BROKER_URL names a server.*docker-compose.yml"):
        call_command("up")


def test_a_port_that_is_free_is_taken_as_it_is(port):
    assert free_port("127.0.0.1", int(port)) == int(port)


def test_a_host_that_is_not_this_computer_is_refused():
    # Source: RFC 5737, 203.0.113.0/24 is kept for documentation, so it is nobody's address.
    with pytest.raises(CommandError, match=r"no such address"):
        free_port("203.0.113.7", 8000)


@pytest.mark.parametrize("number", [0, -1, 65536])
def test_a_number_that_is_no_port_is_refused(number):
    with pytest.raises(CommandError, match="from 1 to 65535"):
        free_port("127.0.0.1", number)


def test_the_address_for_tablets_is_an_address_of_this_computer():
    if own := lan_address():
        with socket.socket() as probe:
            probe.bind((own, 0))


def test_without_a_network_there_is_no_address_for_tablets(monkeypatch):
    def no_way(*_):
        raise OSError("Network is unreachable")

    monkeypatch.setattr(socket.socket, "connect", no_way)
    assert lan_address() == ""


@pytest.mark.slow
def test_an_empty_shop_becomes_the_demo_once_and_its_sign_ins_are_printed_each_time(up, port):
    first = up("--demo", "--port", port)
    first.wait_until_open()
    assert "Setting up the demo" in first.said
    assert first.said.count("Demo sign-ins") == 1
    assert "PIN" in first.said.partition("The shop is open")[2]
    assert first.stop() == 0
    again = up("--demo", "--port", port)
    again.wait_until_open()
    assert "Setting up" not in again.said
    assert first.said.partition("Demo sign-ins")[2].split("Ctrl-C")[0] in again.said
    assert again.stop() == 0


def test_a_shop_in_use_does_not_become_the_demo(db, capsys):
    person("office")
    assert Command()._demo() == ""
    assert "not loaded" in capsys.readouterr().out


def test_a_demo_that_stops_half_way_says_what_to_do(db, monkeypatch, settings):
    def half(name, **_):
        raise CommandError("Nest 1 came to nothing.")

    monkeypatch.setattr(module, "call_command", half)
    with pytest.raises(CommandError, match=re.escape(f"Delete the folder {settings.DATA_DIR} and try again.")):
        Command()._demo()
