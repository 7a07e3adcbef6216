"""What the server says no to, in words an operator can read. Views and API turn it into an answer in one place each.

Refused                 what was asked, why not, what to do
├── WrongState          the thing has moved on since the page was drawn
├── NotYourRole         the person may not do this
└── BadInput            a value is missing or cannot be; `field` names it
"""


class Refused(Exception):
    """A request that was understood and not carried out.

    `code` is a stable kebab-case word for programs, `str()` a sentence for people.
    """

    code = "refused"

    def __init__(self, message: str, code: str | None = None) -> None:
        super().__init__(message)
        if code:
            self.code = code


class WrongState(Refused):
    """The thing is not in a state from which this can be done."""

    code = "wrong-state"


class NotYourRole(Refused):
    """The person has no role that may do this."""

    code = "not-your-role"


class BadInput(Refused):
    """A value is missing or cannot be."""

    code = "bad-input"

    def __init__(self, message: str, field: str = "") -> None:
        super().__init__(message)
        self.field = field
