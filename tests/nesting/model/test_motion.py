import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.model.motion import Step, move_time, time_along


@pytest.mark.parametrize(
    ("distance", "speed", "acceleration", "seconds"),
    [
        # Source: by hand from d/v + v/a and 2 sqrt(d/a); Lynch and Park, Modern Robotics (2017), 9.2.2.2.
        (1.0, 0.5, 1.0, 2.5),
        (0.1, 0.5, 1.0, 2.0 * math.sqrt(0.1)),
        (1.5, 2.0, 5.0, 1.15),
        (0.05, 2.0, 10.0, 2.0 * math.sqrt(0.005)),
        (4.0, 2.0, 1.0, 4.0),  # both forms, where v² / a is the distance
        (0.0, 2.0, 1.0, 0.0),
    ],
)
def test_a_move_takes_as_long_as_the_trapezoid_of_the_textbooks(distance, speed, acceleration, seconds):
    assert move_time(distance, speed, acceleration) == pytest.approx(seconds, rel=1e-12)


def test_without_a_limit_of_acceleration_it_is_length_over_speed():
    assert move_time(90.0, 360.0, math.inf) == pytest.approx(0.25)
    assert move_time(0.0, 360.0, math.inf) == 0.0


def test_a_path_cut_into_steps_takes_as_long_as_in_one():
    whole = time_along([Step(10.0, 3.0, 2.0)])
    parts = time_along([Step(1.0, 3.0, 2.0, math.inf) for _ in range(10)])
    assert parts == pytest.approx(whole, rel=1e-12)


def test_a_slow_step_between_fast_ones_is_entered_and_left_at_its_speed():
    # Source: by hand. 0 to 4 at 2 m/s² takes 2 s and 4 m, 4 to 1 takes 1.5 s and 3.75 m; 1 m at 1 m/s takes 1 s.
    fast = Step(7.75, 4.0, 2.0, math.inf)
    assert time_along([fast, Step(1.0, 1.0, 2.0, math.inf), fast]) == pytest.approx(2 * 3.5 + 1.0)


def test_a_pause_is_added_where_it_rests():
    steps = [Step(4.0, 2.0, 1.0, 0.0, pause=0.7), Step(4.0, 2.0, 1.0)]
    assert time_along(steps) == pytest.approx(2 * 4.0 + 0.7)


@given(
    st.lists(
        st.builds(Step, st.floats(0.01, 100), st.floats(0.1, 50), st.floats(0.1, 1000), st.floats(0, 50)), min_size=1
    )
)
def test_no_path_is_faster_than_its_speeds_nor_slower_than_stopping_at_every_step(steps):
    least = sum(step.length / step.speed for step in steps)
    most = sum(move_time(step.length, step.speed, step.acceleration) for step in steps)
    assert least - 1e-9 <= time_along(steps) <= most * (1 + 1e-9)
