"""How long a machine takes along a path at limited speed and acceleration.

A path is a row of steps. Along each the speed has a limit and changes by the step's acceleration at most; where two
steps meet it has a limit too, 0 where the path turns sharply. The fastest way that keeps all limits speeds up as long
as it can still slow down in time: from each place forwards and from each place backwards, v² grows by 2·a·length at
most, and within a step the speed rises to a peak, may stay at the limit, and falls.

Over one step from rest to rest that is the trapezoid of the textbooks: d/v + v/a where d is at least v²/a, else
2·sqrt(d/a). Source: Lynch and Park, Modern Robotics (2017), 9.2.2.2, for a path of length 1.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.units import Seconds


@dataclass(frozen=True)
class Step:
    """One step of a path, in any one unit of length; `meets` is the speed limit where the next step begins.

    `pause` is the time that passes there at rest, and takes a limit of 0.
    """

    length: float
    speed: float
    acceleration: float
    meets: float = 0.0
    pause: Seconds = 0.0


def time_along(steps: Sequence[Step]) -> Seconds:
    """From rest at the start to rest at the end."""
    if not steps:
        return 0.0
    at = [0.0]
    for step, following in zip(steps, [*steps[1:], None], strict=True):
        after = following.speed if following is not None else 0.0
        at.append(min(step.meets if following is not None else 0.0, step.speed, after))
    for k, step in enumerate(steps):
        at[k + 1] = min(at[k + 1], math.sqrt(at[k] ** 2 + 2.0 * step.acceleration * step.length))
    for k in range(len(steps) - 1, -1, -1):
        at[k] = min(at[k], math.sqrt(at[k + 1] ** 2 + 2.0 * steps[k].acceleration * steps[k].length))
    return math.fsum(_time(step, at[k], at[k + 1]) + step.pause for k, step in enumerate(steps))


def _time(step: Step, entry: float, leave: float) -> Seconds:
    if step.length <= 0.0:
        return 0.0
    a, length = step.acceleration, step.length
    peak = min(step.speed, math.sqrt((2.0 * a * length + entry**2 + leave**2) / 2.0))
    peak = max(peak, entry, leave)  # float noise only: the speeds at both ends can be reached
    level = max(0.0, length - (2.0 * peak**2 - entry**2 - leave**2) / (2.0 * a))
    return (2.0 * peak - entry - leave) / a + level / peak


def move_time(distance: float, speed: float, acceleration: float) -> Seconds:
    """From rest to rest over a distance, in any one unit of length."""
    return time_along([Step(abs(distance), speed, acceleration)])
