"""What a child process says to whoever started it: lines of JSON, taken off its pipe by one thread, read by another."""

import json
import threading
from contextlib import suppress
from typing import IO, Any

from nesting.sandbox_child import LARGEST_ANSWER
from nesting.units import Seconds

type Message = dict[str, Any]
"""A JSON object: a request, an answer, or news on the way."""


class Answers:
    """What the child has said so far; filled by the listening thread, emptied by the waiting one.

    News that comes faster than it is taken is dropped but for the newest, so a chatty child cannot fill our memory.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._news: Message | None = None
        self.newest: Message | None = None
        self.final: Message | None = None
        self.closed = False

    def listen(self, stream: IO[bytes]) -> None:
        """Takes lines until the stream ends, and closes it; what is not an answer is passed over."""
        with suppress(OSError, ValueError), stream:
            while line := stream.readline(LARGEST_ANSWER):
                self._take(line)
        with self._changed:
            self.closed = True
            self._changed.notify()

    def _take(self, line: bytes) -> None:
        said: object = None
        if len(line) >= LARGEST_ANSWER and not line.endswith(b"\n"):
            said = {"fault": "ChildFailed", "message": f"Its answer is over {LARGEST_ANSWER // 2**20} MB."}
        else:
            with suppress(ValueError, RecursionError):
                said = json.loads(line)
        if not isinstance(said, dict):
            return
        with self._changed:
            if isinstance(said.get("news"), dict):
                self._news = self.newest = said["news"]
            elif self.final is None and (isinstance(said.get("answer"), dict) or isinstance(said.get("fault"), str)):
                self.final = said
            self._changed.notify()

    def wait(self, seconds: Seconds) -> None:
        """Returns when something is there, or after that many seconds."""
        with self._changed:
            if self._news is None and self.final is None and not self.closed:
                self._changed.wait(seconds)

    def news(self) -> Message | None:
        """The newest news, once."""
        with self._changed:
            news, self._news = self._news, None
        return news
