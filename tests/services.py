"""What some tests need beside Python: Chromium, and in CI a PostgreSQL and a Redis. Nothing is left out in silence.

Tests marked `browser` drive Chromium; where there is none they are left out with a loud line. With REQUIRE_SERVICES=1
the run ends with code 2 instead, also where DATABASE_URL and BROKER_URL do not lead to servers that answer.
"""

import os
import shutil
import socket
from urllib.parse import urlsplit

import pytest
from django.conf import settings

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
NO_CHROMIUM = "no Chromium found, install it (on Debian: apt install chromium) or name one in SHOP_CHROMIUM"
SERVER_SCHEMES = {"DATABASE_URL": ("postgres", "postgresql"), "BROKER_URL": ("redis", "rediss")}
USUAL_PORTS = {"DATABASE_URL": 5432, "BROKER_URL": 6379}


def chromium():
    """The path of a Chromium on this computer, or None."""
    if named := os.environ.get("SHOP_CHROMIUM"):
        return shutil.which(named)
    return next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)


def missing_services():
    """A sentence for each thing that REQUIRE_SERVICES=1 asks for and that is not there."""
    missing = [] if chromium() else [f"Chromium: {NO_CHROMIUM}."]
    # The settings of the tests keep the broker to themselves, so that no test sends to it by accident.
    addresses = {"DATABASE_URL": os.environ.get("DATABASE_URL", ""), "BROKER_URL": settings.WORKERS_BROKER_URL}
    for variable, value in addresses.items():
        address = urlsplit(value)
        if address.scheme not in SERVER_SCHEMES[variable]:
            missing.append(f"{variable}: it names no {SERVER_SCHEMES[variable][0]} server.")
            continue
        port = address.port or USUAL_PORTS[variable]
        try:
            socket.create_connection((address.hostname, port), timeout=5).close()
        except OSError as fault:
            missing.append(f"{variable}: nobody answers at {address.hostname}:{port} ({fault}).")
    return missing


class Services:
    """The plugin that `tests/conftest.py` registers."""

    def __init__(self):
        self.left_out = 0

    def pytest_sessionstart(self):
        if os.environ.get("REQUIRE_SERVICES") == "1" and (missing := missing_services()):
            pytest.exit("REQUIRE_SERVICES=1, but these are missing. " + " ".join(missing), returncode=2)

    def pytest_collection_modifyitems(self, config, items):
        if chromium():
            return
        left_out = [item for item in items if item.get_closest_marker("browser")]
        items[:] = [item for item in items if item not in left_out]
        config.hook.pytest_deselected(items=left_out)
        self.left_out = len(left_out)

    def pytest_terminal_summary(self, terminalreporter):
        if self.left_out:
            line = f"{self.left_out} browser tests left out: {NO_CHROMIUM}"
            terminalreporter.write_sep("!", line, red=True, bold=True)
