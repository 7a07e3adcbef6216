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
    "solid_square_bar": ("bar-solid", "is a solid bar of 30 x 30 mm"),
    "solid_round_bar": ("bar-solid", "is a solid round bar of 20 mm"),
    "disc": ("plate", "is a plate of 5 mm"),
    "stub_disc": ("plate", "is a disc of 18 mm"),
    "ball": ("ball", "is a ball"),
    "angle": ("profile-open", "looks like an angle"),
    "rolled_angle": ("profile-open", "looks like an angle"),
    "bent_sheet_angle": ("profile-open", "looks like an angle (an open profile), or a bent sheet"),
    "channel": ("profile-open", "looks like a channel"),
    "tee": ("profile-open", "looks like a T"),
    "i_beam": ("profile-open", "looks like an I, H or Z profile"),
    "zed": ("profile-open", "looks like an I, H or Z profile"),
    "lipped_channel": ("slit", "is open from end to end: looks like an open profile"),
    "slit_tube": ("slit", "or a tube slit along its whole length"),
    "slit_round_tube": ("slit", "slit along its whole length"),
    "half_round_tube": ("slit", "looks like an open profile"),
    "hexagonal_tube": ("polygon", "has 6 flat sides"),
    "faceted_round_tube": ("round-of-flats", "drawn with 32 flat sides. Export it with true arcs"),
    "oval_tube": ("free-form", "is made of free-form surfaces"),
    "flat_oval_tube": ("oval", "looks like a flat oval tube"),
    "bent_round_tube": ("bent", "is bent"),
    "bent_square_tube": ("bent", "is bent"),
    "bolt": ("turned", "looks like a turned part or a fastener"),
    "nut": ("turned", "looks like a turned part or a fastener"),
    "stepped_bush": ("turned", "is turned or bored in steps"),
    "bearing_hub": ("turned", "is turned or bored in steps"),
    "casting": ("not-a-tube", "no straight square, rectangular or round hollow section was found"),
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
def test_what_is_no_hollow_section_is_refused_with_what_it_seems_to_be(kind):
    code, words = EXPECTED[kind]
    part, findings = recognise(measure(getattr(other_solids, kind)()), "piece")
    assert part is None
    assert [(finding.code, finding.severity) for finding in findings] == [(code, Severity.REFUSAL)]
    assert findings[0].message.startswith("piece ")
    assert words in findings[0].message
    assert findings[0].message.endswith(".")


@pytest.mark.parametrize("kind", ["angle", "channel", "bent_round_tube", "plate", "bolt", "solid_square_bar"])
def test_the_guess_does_not_depend_on_how_the_solid_lies(kind):
    turned = other_solids.turned(getattr(other_solids, kind)(), (1, 2, -3), 77.0, (500, -20, 3))
    _, findings = recognise(measure(turned), "piece")
    assert findings[0].code == EXPECTED[kind][0]
