"""Good drawings spoilt by chance: each is read or refused in sentences, and none ends in a fault of ours.

TEST_TIMES=20 tries twenty times as many. Whether one hangs is for the
sandbox, which ends every reading after its limit; here the run itself would hang.
"""

import os

import pytest

from nesting.drawing.dxf_reader import DxfOptions, read_dxf
from nesting.records.parts import reading_from_record, reading_to_record
from tests.drawings import VERSIONS
from tests.spoilt_drawings import good, rewritten, spoilt

SEEDS = 160 * int(os.environ.get("TEST_TIMES", "1"))


def judged(path, seed):
    """What is wrong with the reading of one spoilt file; the empty text where nothing is."""
    path.write_bytes(spoilt(seed))
    reading = read_dxf(path, "plate.dxf", DxfOptions(unit="mm" if seed % 2 else ""))
    blocking = [finding for finding in reading.findings if finding.blocks]
    if (reading.kind == "refused") != bool(blocking):
        return f"{seed}: {reading.kind}, but {len(blocking)} findings block"
    for finding in reading.findings:
        if finding.code == "unreadable":
            return f"{seed}: {finding.message}"
        if not finding.message.endswith((".", "!", "?")) or "\n" in finding.message or len(finding.message) > 600:
            return f"{seed}: no sentence: {finding.message!r}"
    if reading.kind == "sheet" and not all(part.area > 0 for part in reading.parts):
        return f"{seed}: a part without metal"
    # What was read can be kept and given on.
    return "" if reading_from_record(reading_to_record(reading)) == reading else f"{seed}: changed by its record"


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
def test_the_drawings_are_good_before_they_are_spoilt(tmp_path, version, binary):
    path = tmp_path / "plate"
    path.write_bytes(good(version, binary=binary))
    reading = read_dxf(path, "plate.dxf", DxfOptions(unit="mm"))
    assert reading.kind == "sheet"
    (part,) = reading.parts
    assert (part.bounds.width, part.bounds.height) == pytest.approx((200.0, 100.0))
    # A circle, two in the block, six in rows, a slot, and where the version knows them an ellipse.
    assert len(part.holes) == (10 if version == "R12" else 11)


@pytest.mark.parametrize("version", [version for version in VERSIONS if version != "R12"])
def test_a_drawing_rewritten_in_the_binary_form_is_the_same_drawing(tmp_path, version):
    readings = []
    for k, data in enumerate((good(version, binary=False), rewritten(good(version, binary=False)))):
        path = tmp_path / str(k)
        path.write_bytes(data)
        readings.append(read_dxf(path, "plate.dxf"))
    assert readings[0] == readings[1]


@pytest.mark.slow
def test_a_spoilt_drawing_is_read_or_refused_in_sentences(tmp_path):
    path = tmp_path / "plate"
    assert [said for seed in range(SEEDS) if (said := judged(path, seed))] == []
