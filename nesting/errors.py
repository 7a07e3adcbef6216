"""Faults in a call to this library. A fault in a customer's file is not here: it is a `Finding` and is returned.

NestingError
├── BadValue (also ValueError)   a noun was built from values that cannot be
│   └── BadRecord                a stored or typed record does not have the stated form
├── Cancelled                    the caller asked to stop; nothing usable was made
└── ChildFailed                  work in a child process did not answer
├── OutOfTime                it ran past its wall or processor time; `best` holds the best answer so far
└── OutOfMemory              it ran past its memory limit
"""


class NestingError(Exception):
    """Root of every exception raised on purpose by `nesting`."""


class BadValue(NestingError, ValueError):
    """A noun was built from values that cannot be; the message names the noun, the value and the limit."""


class BadRecord(BadValue):
    """A record (JSON) does not have the stated form; the message names the place in the record."""


class Cancelled(NestingError):
    """The caller asked to stop before anything usable was made."""


class ChildFailed(NestingError):
    """Work in a child process ended without an answer; the message says how it ended."""


class OutOfTime(ChildFailed):
    """Work in a child process ran past its time.

    `best` is the last answer it had reported, or None.
    """

    def __init__(self, message: str, best: object = None) -> None:
        super().__init__(message)
        self.best = best


class OutOfMemory(ChildFailed):
    """Work in a child process ran past its memory limit."""
