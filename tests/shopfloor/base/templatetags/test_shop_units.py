"""Numbers and dates as the pages say them."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
import time_machine

from shopfloor.base.templatetags import shop_units as say

THIN = "\u202f"


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (say.mm(2500), "2 500 mm"),
        (say.mm(Decimal("701.55")), "701.5 mm"),
        (say.mm(None), ""),
        (say.mm_fine(Decimal("1.50")), "1.5 mm"),
        (say.mm_fine(0.75), "0.75 mm"),
        (say.metres(22_840), "22.8 m"),
        (say.kg(40.83), "40.8 kg"),
        (say.kg(0.0123), "0.012 kg"),
        (say.kg(0), "0 kg"),
        (say.percent(0.2741), "27.4 %"),
        (say.minutes(45), "45 s"),
        (say.minutes(timedelta(minutes=12)), "12 min"),
        (say.minutes(3 * 3600 + 125), "3 h 2 min"),
        (say.minutes(2 * 3600), "2 h 0 min"),
        (say.size({"length_mm": 2500, "width_mm": 1250}), "2 500 × 1 250 mm"),
        (say.size({"length_mm": 6000, "width_mm": None}), "6 000 mm"),
    ],
)
def test_measures(told, words):
    assert told.replace(THIN, " ") == words


@time_machine.travel("2026-11-25 12:00:00+00:00")
@pytest.mark.parametrize(
    ("value", "day", "away", "is_late"),
    [
        (date(2026, 11, 25), "Wed 25 Nov", "today", False),
        (date(2026, 11, 26), "Thu 26 Nov", "tomorrow", False),
        (date(2026, 11, 24), "Tue 24 Nov", "yesterday", True),
        (date(2027, 1, 4), "Mon 4 Jan 2027", "in 40 days", False),
        (date(2026, 11, 20), "Fri 20 Nov", "5 days ago", True),
        (None, "", "", False),
    ],
)
def test_days(value, day, away, is_late):
    assert (say.day(value), say.days_away(value), say.is_late(value)) == (day, away, is_late)
