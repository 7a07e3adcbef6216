"""Opens the shop on one computer: brings the tables up to date, then runs web server and worker until told to stop.

This is the embedded way: SQLite unless DATABASE_URL names PostgreSQL, and a broker inside the worker process. Where a
broker is a server of its own, docker-compose.yml shows which processes run, and something else looks after them.
"""

import argparse
import contextlib
import errno
import io
import os
import socket
import urllib.error
import urllib.request
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from shopfloor.base.children import Child, Children

PORTS_TRIED = 20
WEB_STARTS_WITHIN_S = 60.0
ADDRESS_OF_NOBODY = "192.0.2.1"
"""Of the block that RFC 5737 keeps for documentation; nothing is sent to it, only the way there is asked for."""


class Command(BaseCommand):
    help = "Starts everything: tables, web server, worker. Ctrl-C stops it."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--demo", action="store_true", help="fill an empty shop with a demo to play with")
        parser.add_argument("--host", default="0.0.0.0", help="address to listen on; 127.0.0.1 keeps others out")  # noqa: S104 - tablets come from other computers
        parser.add_argument("--port", type=int, default=8000, help="port to listen on; the next free one if taken")

    def handle(self, *, demo: bool, host: str, port: int, **_: Any) -> None:
        if not settings.BROKER_IS_EMBEDDED:
            raise CommandError(
                "BROKER_URL names a server, so workers on other machines may be meant. Start web, workers and beat one "
                "by one as docker-compose.yml does, or unset BROKER_URL to run everything from here."
            )
        free = free_port(host, port)
        if free != port:
            self._say(f"Port {port} is taken, perhaps by this server in another window; using {free}.")
        call_command("migrate", verbosity=0, interactive=False)
        sign_ins = self._demo() if demo else ""
        web = Child("The web server", "waitress", _web_args(host, free), grace_s=8.0)
        children = Children([web, Child("The worker", "celery", WORKER_ARGS, grace_s=8.0)], self._say)
        children.stop_on_signals()
        try:
            children.start()
            if children.wait_for(lambda: _answers(host, free), web, WEB_STARTS_WITHIN_S):
                self._say(_welcome(host, free, sign_ins))
                went_well = children.look_after()
            else:
                went_well = children.stop_asked
                if not went_well:
                    self._say(f"The web server did not start on {host} port {free}; the lines above say why.")
        finally:
            if children.stop_asked:
                self._say("Stopping; work in hand is done again at the next start.")
            children.stop()
        if not went_well:
            raise SystemExit(1)

    def _say(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()

    def _demo(self) -> str:
        """The demo's sign-ins; an empty shop becomes the demo first. Empty where the shop is somebody's own."""
        if not get_user_model().objects.exists():
            self._say("Setting up the demo; this takes about a minute.")
            try:
                call_command("demo", stdout=self.stdout, verbosity=0)
            except CommandError as fault:
                advice = f"Only a part of the demo is there. Delete the folder {settings.DATA_DIR} and try again."
                raise CommandError(f"{fault} {advice}") from fault
        said = io.StringIO()
        try:
            call_command("demo", sign_ins=True, stdout=said)
        except CommandError:
            self._say("This shop is in use, so the demo is not loaded. To see it, set SHOP_DATA to a new folder.")
        return said.getvalue().rstrip()


WORKER_ARGS = [
    *("--app=shopfloor", "--quiet", "worker", "--pool=threads", "--concurrency=3", "--queues=reading,nesting"),
    *("--without-gossip", "--without-mingle", "--without-heartbeat", "--loglevel=INFO"),
]


def _web_args(host: str, port: int) -> list[str]:
    return [f"--host={host}", f"--port={port}", "--threads=8", "shopfloor.wsgi:application"]


def free_port(host: str, port: int) -> int:
    """The first port from `port` on that nobody listens on.

    Raises:
        CommandError: `host` is not an address of this computer, the port is not one, or many are taken.
    """
    if not 0 < port < 65536:
        raise CommandError(f"--port {port}: a port is a number from 1 to 65535.")
    for tried in range(port, min(port + PORTS_TRIED, 65536)):
        with socket.socket() as probe:
            if os.name == "posix":  # elsewhere this option would let us share a port with another program
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, tried))
            except OSError as fault:
                if fault.errno == errno.EADDRNOTAVAIL or isinstance(fault, socket.gaierror):
                    raise CommandError(f"--host {host}: this computer has no such address.") from fault
                if fault.errno == errno.EACCES:
                    raise CommandError(
                        f"--port {tried}: you have no right to listen there. Take one above 1023."
                    ) from fault
            else:
                return tried
    raise CommandError(f"Ports {port} to {tried} are all taken. Name another one with --port.")


def _answers(host: str, port: int) -> bool:
    """Whether the web server answers."""
    there = "127.0.0.1" if host == "0.0.0.0" else host  # noqa: S104
    request = urllib.request.Request(f"http://{there}:{port}/alive/")
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    with contextlib.suppress(urllib.error.URLError, OSError), opener.open(request, timeout=5) as answer:
        return answer.status == 200
    return False


def _welcome(host: str, port: int, sign_ins: str) -> str:
    lines = ["", "The shop is open:"]
    if host in ("0.0.0.0", "127.0.0.1", "localhost"):  # noqa: S104
        lines.append(f"  on this computer     http://localhost:{port}/")
    if host == "0.0.0.0" and (own := lan_address()):  # noqa: S104
        lines.append(f"  for tablets nearby   http://{own}:{port}/")
    if host not in ("0.0.0.0", "127.0.0.1", "localhost"):  # noqa: S104
        lines.append(f"  http://{host}:{port}/")
    if sign_ins:
        lines += ["", sign_ins]
    elif not get_user_model().objects.exists():
        lines += ["", "Nobody can sign in yet. Make the first manager: python3 manage.py createsuperuser"]
    return "\n".join([*lines, "", "Ctrl-C stops everything."])


def lan_address() -> str:
    """The address by which others in the same network reach this computer; empty where there is no network."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect((ADDRESS_OF_NOBODY, 9))
        own = str(probe.getsockname()[0])
        return "" if own.startswith("127.") else own
    return ""
