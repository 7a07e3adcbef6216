import hashlib
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile

from nesting.drawing.dxf_reader import DxfOptions
from shopfloor.base.errors import BadInput
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.parts.upload import JOINS, UNITS, clean_name, read_again, stored_path, take_file

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def upload(content=b"0\nSECTION\n", name="bracket.dxf"):
    return SimpleUploadedFile(name, content)


def stored_files():
    return [path for path in Path(default_storage.location).rglob("*") if path.is_file()]


def test_a_file_is_stored_under_its_hash_and_waits_to_be_read():
    drawing = take_file(upload(b"abc"), "gate/hinge.STEP")
    # Source: FIPS 180-4, the example digest of "abc".
    assert drawing.digest == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert (drawing.name, drawing.size_bytes, drawing.state) == ("hinge.STEP", 3, DrawingState.QUEUED)
    assert stored_path(drawing).read_bytes() == b"abc"


def test_its_reading_is_asked_for_after_the_commit(settings, sent_messages, django_capture_on_commit_callbacks):
    settings.BROKER_IS_EMBEDDED = False
    with django_capture_on_commit_callbacks(execute=True):
        drawing = take_file(upload(), "a.dxf")
        assert sent_messages == []
    assert sent_messages == [("shopfloor.parts.tasks.read_drawing", drawing.pk)]


def test_the_same_file_again_is_the_same_drawing_and_is_not_read_again(settings, sent_messages):
    settings.BROKER_IS_EMBEDDED = False
    first = take_file(upload(), "a.dxf")
    assert take_file(upload(), "a.dxf") == first
    assert len(stored_files()) == 1


def test_the_same_content_under_another_name_is_another_drawing_of_one_stored_file():
    assert take_file(upload(), "a.dxf") != take_file(upload(), "b.dxf")
    assert len(stored_files()) == 1


@pytest.mark.parametrize("name", ["a.txt", "a", "dxf", "a.dxf.exe", "a.dwg", "a.zip"])
def test_a_file_that_is_neither_dxf_nor_step_is_refused_by_name(name):
    with pytest.raises(BadInput, match="only DXF") as refusal:
        take_file(upload(), name)
    assert refusal.value.field == "files"
    assert name in str(refusal.value)
    assert not stored_files()


@pytest.mark.parametrize("name", ["a.dxf", "A.DXF", "a.step", "a.Stp", "a.p21"])
def test_endings_are_taken_in_any_case(name):
    assert take_file(upload(), name).name == name


def test_an_empty_file_is_refused():
    with pytest.raises(BadInput, match=r"hinge\.dxf: the file is empty"):
        take_file(upload(b""), "hinge.dxf")
    assert not Drawing.objects.exists()


def test_a_file_over_the_limit_is_refused_with_both_sizes(settings):
    settings.LARGEST_DRAWING_BYTES = 1024 * 1024
    with pytest.raises(BadInput, match=r"big.dxf: 2 MB, at most 1 MB are read"):
        take_file(upload(bytes(2 * 1024 * 1024)), "big.dxf")
    assert not stored_files()
    assert take_file(upload(bytes(1024 * 1024)), "just.dxf")


@pytest.mark.parametrize(
    ("given", "clean"),
    [
        ("../../etc/passwd.dxf", "passwd.dxf"),
        ("C:\\parts\\gate.dxf", "gate.dxf"),
        ("gate\x00\n.dxf", "gate.dxf"),
        ("  gate.dxf ", "gate.dxf"),
        ("Tür – links.dxf", "Tür – links.dxf"),
        ("\x00\x01", "drawing"),
        ("", "drawing"),
        ("/", "drawing"),
    ],
)
def test_a_name_loses_folders_and_control_characters(given, clean):
    assert clean_name(given) == clean


def test_a_long_name_is_cut_and_keeps_its_ending():
    short = clean_name("x" * 500 + ".step")
    assert len(short) <= 180
    assert short.endswith(".step")
    assert take_file(upload(), short).name == short


class BrokenUpload(ContentFile):
    """An upload whose temporary file is gone when it is to be copied."""

    def chunks(self, chunk_size=None):
        if self.tell() == 0 and getattr(self, "read_once", False):
            yield b"half"
            raise OSError("No space left on device")
        self.read_once = True
        yield from super().chunks(chunk_size)


def test_a_file_that_could_not_be_written_whole_leaves_nothing_behind():
    content = b"half and half"
    with pytest.raises(OSError, match="No space left"):
        take_file(BrokenUpload(content), "a.dxf")
    assert not stored_files()
    assert not Drawing.objects.exists()
    drawing = take_file(upload(content), "a.dxf")
    assert hashlib.sha256(stored_path(drawing).read_bytes()).hexdigest() == drawing.digest


@pytest.mark.django_db(transaction=True)
def test_eight_uploads_of_one_file_at_once_make_one_drawing_and_one_file(at_once):
    content = bytes(range(256)) * 4000
    drawings = at_once(8, lambda _: take_file(upload(content), "a.dxf"))
    assert len({drawing.pk for drawing in drawings}) == 1
    assert [path.read_bytes() for path in stored_files()] == [content]


class TestReadAgain:
    def test_an_answer_makes_another_drawing_and_leaves_the_first_as_it_was(self):
        first = take_file(upload(), "a.dxf")
        inch = read_again(first, unit="inch")
        assert inch.pk != first.pk
        assert (inch.digest, inch.name, inch.unit, inch.join_mm) == (first.digest, "a.dxf", "inch", Decimal("0.01"))
        assert read_again(first, unit="inch") == inch
        wide = read_again(inch, join_mm=Decimal("0.1"))
        assert (wide.unit, wide.join_mm) == ("inch", Decimal("0.1"))

    def test_the_same_answer_is_the_same_drawing(self):
        first = take_file(upload(), "a.dxf")
        assert read_again(first) == first
        assert read_again(first, unit="", join_mm=Decimal("0.01")) == first

    @pytest.mark.parametrize(
        ("answer", "field"),
        [
            ({"unit": "parsec"}, "unit"),
            ({"join_mm": Decimal("0.5")}, "join_mm"),
            ({"join_mm": Decimal("nan")}, "join_mm"),
            ({"join_mm": Decimal("snan")}, "join_mm"),
        ],
    )
    def test_an_answer_that_is_not_offered_is_refused(self, answer, field):
        first = take_file(upload(), "a.dxf")
        with pytest.raises(BadInput) as refusal:
            read_again(first, **answer)
        assert refusal.value.field == field

    def test_every_answer_that_is_offered_is_one_that_the_reader_knows(self):
        for unit in UNITS:
            for join_mm in JOINS:
                DxfOptions(unit, float(join_mm))
