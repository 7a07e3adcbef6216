import pytest

from nesting.model.findings import Severity
from nesting.tube.measuring import measure
from nesting.tube.recognise import recognise
from tests import other_solids

EXPECTED = {
    "plate": ("plate", "is a plate of 6 mm. Draw it as DXF"),
    "thin_ring_plate": ("plate", "is a plate of 4 mm"),
    "washer": ("plate", "is a plate of 2 mm"),
    "block": ("block", "is a block of 60 x 50 x 80 mm"),
    "disc": ("plate", "is a plate of 5 mm"),
    "stub_disc": ("plate", "is a disc of 18 mm"),
    "ball": ("ball", "is a ball"),
    "zed": ("profile-open", "looks like an I, H or Z profile"),
    "lipped_channel": ("slit", "is open from end to end: looks like an open profile"),
    "half_round_tube": ("slit", "looks like an open profile"),
    "hexagonal_tube": ("polygon", "has 6 flat sides"),
    "faceted_round_tube": ("round-of-flats", "drawn with 32 flat sides. Export it with true arcs"),
    "oval_tube": ("free-form", "is made of free-form surfaces"),
    "bent_round_tube": ("bent", "is bent"),
    "bent_square_tube": ("bent", "is bent"),
    "bolt": ("turned", "looks like a turned part or a fastener"),
    "nut": ("turned", "looks like a turned part or a fastener"),
    "stepped_bush": ("turned", "is turned or bored in steps"),
    "bearing_hub": ("turned", "is turned or bored in steps"),
    "casting": ("not-a-tube", "no straight tube, open profile or bar of a known section"),
    "half_pipe_block": ("not-a-tube", "is not recognised"),
    "wing": ("not-a-tube", "is not recognised"),
    "capped_tube": ("end-closed", "is closed by a cap at about 0 mm"),
    "divided_tube": ("end-closed", "has a wall across its inside at about 150 mm"),
    "tube_with_tab": ("not-only-tube", "has something outside of its wall at about 130 mm"),
    "tube_with_dome": ("not-only-tube", "has something outside of its wall at about 150 mm"),
    "eccentric_tube": ("wall-uneven", "has an uneven wall: its bore is not in the middle"),
    "uneven_box_tube": ("wall-uneven", "has walls of 2.00 to 4.00 mm"),
    "uneven_corner_tube": ("corners-uneven", "has corner radii of 0.00 to 5.00 mm"),
    "chamfered_corner_tube": ("corners-unclear", "neither sharp nor round arcs"),
}


@pytest.mark.parametrize("kind", EXPECTED)
def test_what_is_no_straight_section_is_refused_with_what_it_seems_to_be(kind):
    code, words = EXPECTED[kind]
    part, findings = recognise(measure(getattr(other_solids, kind)()), "piece")
    assert part is None
    assert [(finding.code, finding.severity) for finding in findings] == [(code, Severity.REFUSAL)]
    assert findings[0].message.startswith("piece ")
    assert words in findings[0].message
    assert findings[0].message.endswith(".")


@pytest.mark.parametrize("kind", ["zed", "bent_round_tube", "plate", "bolt", "block"])
def test_the_guess_does_not_depend_on_how_the_solid_lies(kind):
    turned = other_solids.turned(getattr(other_solids, kind)(), (1, 2, -3), 77.0, (500, -20, 3))
    _, findings = recognise(measure(turned), "piece")
    assert findings[0].code == EXPECTED[kind][0]
