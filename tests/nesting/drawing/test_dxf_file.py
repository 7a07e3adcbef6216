import pytest

from nesting.drawing import dxf_file as module
from nesting.drawing.dxf_file import OTHER_KINDS, is_binary, opened
from nesting.drawing.refusals import StopReading
from tests.drawings import VERSIONS, add_rectangle, as_bytes, drawing, raw_dxf, tags

LINE = tags(0, "LINE", 8, "0", 10, 0, 20, 0, 11, 5, 21, 5)


def open_bytes(tmp_path, data):
    path = tmp_path / "upload"
    path.write_bytes(data)
    return opened(path, "plate.dxf")


def refusal(tmp_path, data):
    with pytest.raises(StopReading) as stop:
        open_bytes(tmp_path, data)
    finding = stop.value.finding
    assert finding.blocks
    assert "plate.dxf" in finding.message
    return finding


def plate(version="R2010", *, binary=False):
    document, space = drawing(version)
    add_rectangle(space, 60, 40)
    return as_bytes(document, binary=binary)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
def test_every_version_opens_in_both_forms_without_a_word(tmp_path, version, binary):
    data = plate(version, binary=binary)
    file = open_bytes(tmp_path, data)
    assert (len(file.drawing.modelspace()), file.data, file.findings) == (1, data, ())
    assert is_binary(data) == binary


@pytest.mark.parametrize(
    "change",
    [
        lambda data: b"\xef\xbb\xbf" + data,
        lambda data: data.replace(b"\n", b"\r\n"),
        lambda data: data.replace(b"\n", b"\r"),
        lambda data: data + b"\x1a",
        lambda data: data + b"\x00" * 300,
    ],
    ids=["byte order mark", "CR LF", "CR alone", "end mark of old systems", "padding"],
)
def test_a_drawing_opens_however_its_lines_begin_and_end(tmp_path, change):
    assert len(open_bytes(tmp_path, change(plate())).drawing.modelspace()) == 1


def test_a_file_of_entities_alone_opens(tmp_path):
    file = open_bytes(tmp_path, f"  0\nSECTION\n  2\nENTITIES\n{LINE}  0\nENDSEC\n  0\nEOF\n".encode())
    assert len(file.drawing.modelspace()) == 1


@pytest.mark.parametrize(("magic", "kind", "advice"), OTHER_KINDS, ids=[kind for _, kind, _ in OTHER_KINDS])
def test_a_file_of_another_kind_is_named_and_told_what_to_do(tmp_path, magic, kind, advice):
    finding = refusal(tmp_path, magic + b"\x01\x02 anything else" * 50)
    assert finding.code == "not-a-drawing"
    assert finding.message == f"plate.dxf is {kind}, not a DXF drawing. {advice}"


@pytest.mark.parametrize("data", [b"", b" \n" * 90, b"\x00" * 4000])
def test_an_empty_file_is_called_empty(tmp_path, data):
    assert refusal(tmp_path, data).code == "file-empty"


def test_a_text_that_is_no_drawing_is_called_so(tmp_path):
    assert refusal(tmp_path, b"Dear workshop,\nplease find attached\n" * 20).code == "not-a-drawing"


def test_a_folder_and_a_file_that_is_gone_cannot_be_opened(tmp_path):
    for path in (tmp_path, tmp_path / "gone"):
        with pytest.raises(StopReading) as stop:
            opened(path, "plate.dxf")
        assert stop.value.finding.code == "file-unreadable"


def test_a_large_file_is_refused_before_it_is_read(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "MOST_BYTES", 1000)
    assert refusal(tmp_path, plate()).code == "file-too-large"


def test_a_file_that_breaks_off_among_its_lines_is_refused(tmp_path):
    data = plate()
    assert refusal(tmp_path, data[: data.index(b"LWPOLYLINE", data.rindex(b"ENTITIES")) + 90]).code == "file-cut-off"
    binary = plate(binary=True)
    assert refusal(tmp_path, binary[: len(binary) * 2 // 3]).code == "file-cut-off"


def test_a_file_that_breaks_off_behind_its_lines_opens_with_a_warning(tmp_path):
    data = plate()
    file = open_bytes(tmp_path, data[: data.rindex(b"OBJECTS") + 300])
    assert len(file.drawing.modelspace()) == 1
    assert [(f.code, f.severity.value) for f in file.findings][:1] == [("file-cut-off", "warning")]


@pytest.mark.parametrize(
    ("bound", "entities"),
    [
        ("MOST_ENTITIES", LINE * 40),
        ("MOST_POINTS", tags(0, "LWPOLYLINE", 100, "AcDbPolyline", 90, 40, *(10, 1, 20, 2) * 40)),
    ],
)
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_too_many_entities_or_points_are_refused_before_they_are_loaded(tmp_path, monkeypatch, bound, entities, ending):
    monkeypatch.setattr(module, bound, 60)
    open_bytes(tmp_path, raw_dxf(entities).encode())
    monkeypatch.setattr(module, bound, 30)
    finding = refusal(tmp_path, raw_dxf(entities).replace("\n", ending).encode())
    assert finding.code == "too-many-entities"
    assert "more than 30" in finding.message


@pytest.mark.parametrize("version", [v for v in VERSIONS if v != "R12"])
def test_too_many_entities_are_counted_in_binary_files_too(tmp_path, monkeypatch, version):
    document, space = drawing(version)
    for k in range(300):
        space.add_line((k, 0), (k, 9))
    data = as_bytes(document, binary=True)
    open_bytes(tmp_path, data)
    monkeypatch.setattr(module, "MOST_ENTITIES", 250)
    assert refusal(tmp_path, data).code == "too-many-entities"


def test_a_damaged_file_is_opened_patiently_and_it_is_told(tmp_path):
    # The end of the first section is missing: the plain way gives up, the patient way does not.
    file = open_bytes(tmp_path, raw_dxf(LINE).replace("  0\nENDSEC\n", "", 1).encode())
    assert len(file.drawing.modelspace()) == 1
    (finding,) = file.findings
    assert (finding.code, finding.severity.value) == ("file-repaired", "note")
    assert "missing ENDSEC" in finding.message


def test_damage_beyond_repair_is_refused_with_what_the_reader_says(tmp_path):
    data = raw_dxf(LINE.replace("LINE\n", "LINE\nno code\n", 1)).encode()
    finding = refusal(tmp_path, data)
    assert finding.code == "file-damaged"
    assert finding.message.endswith("save it as DXF and upload it again.")


def test_a_file_with_a_marker_missing_is_mended_and_it_is_told(tmp_path):
    bare = tags(0, "LWPOLYLINE", 8, "0", 90, 2, 10, 0, 20, 0, 10, 9, 20, 0)
    file = open_bytes(tmp_path, raw_dxf(bare * 2).encode())
    assert len(file.drawing.modelspace()) == 2
    assert file.findings[0].message.startswith("2 polylines or splines lacked a marker")
    assert file.data.count(b"AcDbPolyline") == 2
