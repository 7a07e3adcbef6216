"""Chromium against the real server: a live server on the tests' own database, and windows that look at it.

A `Window` is one browser with one page in somebody's hands. Whatever goes wrong in it unseen (a fault of a script, an
error in the console, something the content policy forbids, a request answered with an error) makes the test fail,
unless the test says that it expects it. When a test ends its windows are closed, and its database is emptied only after
the server has answered their last requests.

`DJANGO_ALLOW_ASYNC_UNSAFE`: the browser's driver runs an event loop in the test's thread, which Django would take for
an asynchronous view. Nothing asynchronous touches the database here.
"""

import os
import threading

import pytest
from django.conf import settings
from django.db import connections
from django.test import Client
from playwright.sync_api import expect

from shopfloor.accounts.pin_sign_in import set_pin
from shopfloor.base.roles import INSPECTOR, OPERATOR
from shopfloor.floor.management.commands.demo import write_all
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.parts.read import read
from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.run import run
from tests.factories.accounts import UserFactory
from tests.services import chromium
from tests.shopfloor.conftest import people, quick_engine, shop

__all__ = ["people", "quick_engine", "shop"]

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

HOST = "shop.test"
"""A name as a shop's own network has it: a browser calls plain http to it not secure, unlike localhost."""

DESK = (1440, 900)
TABLET = (1280, 800)
PIN = "2580"
PATIENCE_MS = 30_000
"""For a slow computer; nothing is asserted about time."""

expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
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
    return {**browser_type_launch_args, "executable_path": chromium(), "args": quiet}


@pytest.fixture(scope="session")
def base_url():
    """None: a window knows its address. In place of the plugin's own fixture, which pytest 9 warns of."""
    return


class Window:
    """One browser with one page. `faults` fills with what went wrong in it unseen."""

    def __init__(self, context, url):
        self.context, self.url = context, url
        self.page = context.new_page()
        self.faults = []
        self._expected = set()
        self.page.on("pageerror", lambda fault: self.faults.append(f"script: {fault}"))
        self.page.on("console", self._note_message)
        self.page.on("response", self._note_answer)

    def expects(self, *statuses):
        """From now on, answers with these statuses are no faults."""
        self._expected |= set(statuses)

    def _note_message(self, message):
        # What could not be fetched is told by the answer, and is wanted where a test takes the network away.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            self.faults.append(f"console: {message.text}")

    def _note_answer(self, answer):
        if answer.status >= 400 and answer.status not in self._expected:
            self.faults.append(f"{answer.status} to {answer.request.method} {answer.url}")

    def open(self, path="/"):
        self.page.goto(f"{self.url}{path}")

    def sign_in_as(self, person):
        """Signs the person in as with name and password, without the page for it."""
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        session = client.cookies[settings.SESSION_COOKIE_NAME].value
        self.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": self.url}])

    def named(self, words):
        """The one visible button or link that is called so."""
        target = self.page.get_by_role("button", name=words).or_(self.page.get_by_role("link", name=words))
        return target.filter(visible=True).first

    def click(self, words):
        self.named(words).click()

    def wait_until(self, ask, wanted):
        """Until `ask()` answers `wanted`, for what the page does not show by itself."""
        for _ in range(PATIENCE_MS // 100):
            if ask() == wanted:
                return
            self.page.wait_for_timeout(100)
        assert ask() == wanted


class Tablet(Window):
    """A window in the hands of a worker: the few taps that every journey makes."""

    @property
    def next(self):
        """The one filled button, wherever the page puts it."""
        return self.page.locator(".bench .next")

    def open(self, path="/floor/"):
        super().open(path)

    def tap(self, words):
        self.named(words).tap()

    def tap_next(self, words=None):
        """Taps the next button, once it is called so."""
        if words is not None:
            expect(self.next).to_have_text(words)
        self.next.tap()

    def tap_piece(self, number):
        # A page takes taps before its scripts listen; once it is loaded they do.
        self.page.wait_for_load_state()
        piece = self.page.locator(f".zoomable [data-piece='{number}']")
        expect(piece).to_be_visible()
        drawn = piece.locator("path")
        if drawn.count() < 2:
            piece.tap()
            return
        # A piece of a bar that is drawn from two sides has nothing in the middle of both: it is tapped on the first.
        box = drawn.first.bounding_box()
        self.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    def sign_in(self, name="Ines Ferro", pin=PIN):
        self.open()
        self.tap(name)
        for digit in pin:
            self.page.locator(f"[data-key='{digit}']").tap()
        self.tap_next()
        # Whoever goes on to another page before this one is there cancels the sign-in.
        expect(self.page.locator(".rail-person")).to_have_text(name)

    def choose(self, machine):
        name = self.page.locator("strong").get_by_text(machine, exact=True)
        self.page.locator(".tile").filter(has=name).tap()
        expect(self.page.locator(".rail-name")).to_have_text(machine)


@pytest.fixture
def open_window(live_server, new_context):
    """`open_window()` opens a window at a desk; `person` signs in, `size` is in px. Any number may be open at once."""
    opened = []

    def open_one(person=None, *, size=DESK, kind=Window, **more):
        context = new_context(viewport={"width": size[0], "height": size[1]}, **more)
        context.set_default_timeout(PATIENCE_MS)
        window = kind(context, live_server.url.replace("localhost", HOST))
        opened.append(window)
        if person is not None:
            window.sign_in_as(person)
        return window

    yield open_one
    for window in opened:
        window.context.close()
    _wait_for_the_server()
    assert [fault for window in opened for fault in window.faults] == []


def _wait_for_the_server():
    """Until the live server is done with every connection: emptying the database would break what is under way."""
    for thread in threading.enumerate():
        if "process_request_thread" in thread.name:
            thread.join(60)
            assert not thread.is_alive(), "A minute after its browser left the server is still busy with it."


@pytest.fixture
def desk(open_window, people):
    """A window at a desk in the office, somebody of the office signed in."""
    return open_window(people.office)


@pytest.fixture
def ines(transactional_db):
    """Somebody who works at the machine and inspects, with a PIN."""
    ines = UserFactory(username="ines", first_name="Ines", last_name="Ferro", roles=(OPERATOR, INSPECTOR))
    set_pin(ines, PIN)
    return ines


@pytest.fixture
def open_tablet(open_window, ines):
    """`open_tablet()` gives one more tablet with touch, nobody signed in."""
    return lambda size=TABLET, **more: open_window(size=size, kind=Tablet, has_touch=True, **more)


@pytest.fixture
def tablet(open_tablet):
    """A tablet with touch at the shop's plain http address, nobody signed in."""
    return open_tablet()


@pytest.fixture
def workers(transactional_db):
    """While the test runs, drawings are read and nests laid out as they come, as the worker process does."""
    stop, faults = threading.Event(), []

    def work():
        try:
            while not stop.wait(0.1):
                for pk in Drawing.objects.filter(state=DrawingState.QUEUED).order_by("pk").values_list("pk", flat=True):
                    read(pk)
                for pk in Nest.objects.filter(state=NestState.QUEUED).order_by("pk").values_list("pk", flat=True):
                    run(pk)
        except Exception as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    thread = threading.Thread(target=work, name="workers of the browser tests")
    thread.start()
    yield
    stop.set()
    thread.join(120)
    assert not thread.is_alive()
    assert faults == []


@pytest.fixture(scope="session")
def files(tmp_path_factory):
    """The demo's part files by name."""
    return {path.name: path for path in write_all(tmp_path_factory.mktemp("files"))}
