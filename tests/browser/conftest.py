"""Chromium against the real server: a live server on the tests' own database, and a tablet beside it.

`DJANGO_ALLOW_ASYNC_UNSAFE`: the browser's driver runs an event loop in the test's thread, which Django would take for
an asynchronous view. Nothing asynchronous touches the database here.
"""

import os
import shutil

import pytest

from shopfloor.accounts.pin_sign_in import set_pin
from shopfloor.base.roles import INSPECTOR, OPERATOR
from tests.factories.accounts import UserFactory
from tests.shopfloor.conftest import people, quick_engine, shop

__all__ = ["people", "quick_engine", "shop"]

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

HOST = "shop.test"
"""A name as a shop's own network has it: a browser calls plain http to it not secure, unlike localhost."""

TABLET = {"width": 1280, "height": 800}
PIN = "2580"


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert chromium, "These tests drive Chromium: install it (on Debian: apt install chromium)."
    quiet = [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--no-proxy-server",
        f"--host-resolver-rules=MAP {HOST} 127.0.0.1",
    ]
    return {**browser_type_launch_args, "executable_path": chromium, "args": quiet}


@pytest.fixture(scope="session")
def base_url():
    """None: every test names the address itself. In place of the plugin's own fixture, which pytest 9 warns of."""
    return


@pytest.fixture
def worker(transactional_db):
    """Somebody who works at the machine and inspects, with a PIN."""
    ines = UserFactory(username="ines", first_name="Ines", last_name="Ferro", roles=(OPERATOR, INSPECTOR))
    set_pin(ines, PIN)
    return ines


class Tablet:
    """A page in the hands of a worker: the few taps that every journey makes."""

    def __init__(self, page, url):
        self.page, self.url = page, url

    def open(self, path="/floor/"):
        self.page.goto(f"{self.url}{path}")

    def tap(self, words):
        """Taps the one button or link that is called so."""
        target = self.page.get_by_role("button", name=words).or_(self.page.get_by_role("link", name=words))
        target.filter(visible=True).first.tap()

    def tap_next(self):
        """Taps the next button, wherever the page puts it."""
        self.page.locator(".bench .next").tap()

    def tap_piece(self, number):
        self.page.locator(f".zoomable [data-piece='{number}']").tap()

    def sign_in(self, name="Ines Ferro", pin=PIN):
        self.open()
        self.tap(name)
        for digit in pin:
            self.page.locator(f"[data-key='{digit}']").tap()
        self.tap_next()


@pytest.fixture
def tablet(live_server, new_context, worker):
    """A tablet of 1280x800 with touch, at the shop's plain http address, where no fault of a script stays unseen."""
    context = new_context(viewport=TABLET, has_touch=True)
    page = context.new_page()
    faults = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    yield Tablet(page, live_server.url.replace("localhost", HOST))
    assert faults == []
