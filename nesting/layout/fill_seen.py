"""What share of its room a sheet takes in bulk in a run of so long, learned from how the runs of this job ended."""

import math

from nesting.units import Mm2, Seconds

USUAL = 0.80
"""The share for a run of one second, until this job has taught better."""

GAIN = 0.025
"""How much it grows with the logarithm of the seconds. Measured on a sheet of 80 parts: 0.027."""

SATURATED: Seconds = 20.0
"""Longer runs win little more."""

LEAST, MOST = 0.3, 0.98

NEWEST = 0.6
"""How much the newest run counts against all before it."""


class FillSeen:
    """Starts from what is usual."""

    def __init__(self) -> None:
        self._in_1s = USUAL

    def expected(self, seconds: Seconds) -> float:
        return min(MOST, self._in_1s + GAIN * math.log(min(max(seconds, 0.3), SATURATED)))

    def learn(self, bulk: Mm2, room: Mm2, seconds: Seconds) -> None:
        """A run of so long has brought the bulk into that much room."""
        took = min(max(seconds, 0.3), SATURATED)
        seen = min(MOST, max(LEAST, bulk / room - GAIN * math.log(took)))
        self._in_1s = (1.0 - NEWEST) * self._in_1s + NEWEST * seen
