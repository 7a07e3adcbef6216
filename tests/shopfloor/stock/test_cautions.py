import pytest

from shopfloor.stock.cautions import ALWAYS, BY_FAMILY, LIFT_FROM_KG, cautions_of, lifting_caution
from shopfloor.stock.models import Family
from tests.factories.stock import MaterialFactory


@pytest.mark.parametrize("family", Family.values)
def test_every_family_has_cautions_of_its_own_beside_the_usual_ones(family):
    assert set(ALWAYS) < set(cautions_of(family))


def test_a_family_that_is_not_listed_is_treated_as_unusual():
    assert cautions_of("wood") == cautions_of("other")


@pytest.mark.parametrize(
    ("family", "word"),
    [
        # Source: AWS safety and health fact sheet 25, metal fume fever from zinc.
        ("galvanised", "zinc"),
        # Source: US 29 CFR 1910.1026, hexavalent chromium.
        ("stainless", "chromium"),
        # Source: EIGA Doc 44/18, inert gases displace oxygen.
        ("stainless", "ventilation"),
    ],
)
def test_the_known_hazards_are_named(family, word):
    assert word in " ".join(cautions_of(family))


def test_nothing_is_called_safe_or_approved():
    for sentence in ALWAYS + [each for family in BY_FAMILY.values() for each in family]:
        assert not {"safe", "safely", "approved", "harmless"} & set(sentence.lower().replace(",", " ").split())


def test_the_shops_own_caution_is_added():
    material = MaterialFactory.build(own_caution="Peel off the film first.")
    assert material.cautions[-1] == "Peel off the film first."


def test_a_heavy_load_says_so():
    # Source: NIOSH lifting equation, load constant 23 kg.
    assert LIFT_FROM_KG == 23
    assert lifting_caution(22.9) == ""
    assert lifting_caution(23) == "Mass 23 kg: plan the lifting, use the lifting gear or a second person."
