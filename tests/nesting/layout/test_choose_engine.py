"""Which constructions run for which sheets."""

import pytest

from nesting.layout.choose_engine import FULL_SHEETS, RECTANGLES, sheet_constructions
from nesting.layout.engines.rows import STANDS, lay_rows
from nesting.layout.survey import survey
from nesting.model.nest import SheetNest
from tests.shop_parts import angle, sheet_job, square


def chosen(job):
    looked_over = survey(job)
    rows = lay_rows(looked_over.job, looked_over.forms, STANDS[0], is_over=lambda: False)
    return sheet_constructions(looked_over, SheetNest(job, rows))


def test_rectangles_get_their_own_engine_beside_full_sheets():
    assert chosen(sheet_job((square("a", 100.0), 9)))[:2] == [RECTANGLES, FULL_SHEETS]


@pytest.mark.parametrize("job", [sheet_job((angle("l", 200.0, 200.0, 50.0), 9)), sheet_job((square("a", 100.0), 0))])
def test_other_jobs_do_not(job):
    assert RECTANGLES not in chosen(job)
