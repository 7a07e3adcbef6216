import pytest

from shopfloor.stock.tolerances import outside_tolerance, twist_tolerance
from tests.factories.stock import TubeSectionFactory

pytestmark = pytest.mark.django_db


# Source: EN 10219-2:2006 and EN 10210-2:2006, tolerances on shape, by a public page of the steel trade: sides below
# 100 mm 1 % and at least 0.5 mm, to 200 mm 0.8 %, above 0.6 % (cold formed); 1 % and at least 0.5 mm (hot finished);
# diameters 1 %, at least 0.5 and at most 10 mm.
@pytest.mark.parametrize(
    ("shape", "standard", "nominal", "allowed"),
    [
        ("square", "EN 10219-2", 40, 0.5),
        ("square", "EN 10219-2", 90, 0.9),
        ("square", "EN 10219-2", 100, 0.8),
        ("rectangular", "EN 10219-2", 200, 1.6),
        ("rectangular", "EN 10219-2", 300, 1.8),
        ("square", "EN 10210-2", 300, 3.0),
        ("round", "EN 10219-2", 33.7, 0.5),
        ("round", "EN 10219-2", 168.3, 1.683),
        ("round", "EN 10210-2", 1219, 10.0),
        ("square", "", 40, None),
        ("angle", "EN 10056-1", 40, None),
    ],
)
def test_the_outside_may_be_off_as_the_standard_says(shape, standard, nominal, allowed):
    section = TubeSectionFactory.build(shape=shape, standard=standard)
    assert outside_tolerance(section, nominal) == (None if allowed is None else pytest.approx(allowed))


# Source: the same page, twist of square and rectangular tube: 2 mm and 0.5 mm for each metre.
@pytest.mark.parametrize(
    ("shape", "standard", "allowed"),
    [
        ("square", "EN 10219-2", 5.0),
        ("rectangular", "EN 10210-2", 5.0),
        ("round", "EN 10219-2", None),
        ("square", "", None),
    ],
)
def test_twist_is_allowed_by_the_length_of_the_bar(shape, standard, allowed):
    assert twist_tolerance(TubeSectionFactory.build(shape=shape, standard=standard), 6000.0) == allowed
