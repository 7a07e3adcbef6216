"""A real drawing that cannot be used as it is: uploaded, read, answered on the page, and usable with that answer."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from shopfloor.orders.models import OrderFile
from shopfloor.parts.models import DrawingState
from shopfloor.parts.read import read
from tests.factories.orders import OrderFactory
from tests.part_files import write_plate

pytestmark = [pytest.mark.django_db, pytest.mark.slow]
HTMX = {"hx-request": "true"}


@pytest.fixture
def entered(client, people, settings, tmp_path):
    """Uploads a plate into a draft, as the office does, and reads it; gives the file's row."""
    settings.MEDIA_ROOT = tmp_path / "files"
    client.force_login(people.office)

    def enter(**drawn):
        path = write_plate(tmp_path / "hinge.dxf", **drawn)
        order = OrderFactory()
        upload = SimpleUploadedFile("hinge.dxf", path.read_bytes())
        client.post(reverse("orders:files-add", args=[order.pk]), {"files": [upload]})
        file = order.files.get()
        read(file.drawing_id)
        return file

    return enter


def card(client, file):
    return client.get(reverse("orders:file-show", args=[file.pk]), headers=HTMX).text


def press(client, file, words):
    """Sends the form of the button that says so, and reads what was queued by it."""
    button = next(each for each in re.findall(r"<button [^>]*>[^<]*</button>", card(client, file)) if words in each)
    name, value = re.search(r'name="(\w+)" value="([^"]+)"', button).groups()
    client.post(reverse("orders:file-answer", args=[file.pk]), {name: value}, headers=HTMX)
    file = OrderFile.objects.get(order_id=file.order_id)
    assert file.drawing.state == DrawingState.QUEUED
    read(file.drawing_id)
    return OrderFile.objects.get(pk=file.pk)


def test_a_drawing_with_a_small_gap_is_usable_once_joining_was_chosen(client, entered):
    file = entered(gap=0.06)
    assert "is open by 0.06 mm" in card(client, file)
    file = press(client, file, "Join ends up to 0.1 mm")
    assert (file.drawing.state, float(file.drawing.join_mm)) == (DrawingState.USABLE, 0.1)
    (line,) = file.lines.all()
    # Source: by hand, 200 x 100 less a hole of 20; the gap moves one corner by half of it.
    assert line.part.area_mm2 == pytest.approx(20_000 - 314.159265, abs=6.0)
    assert "Join ends" not in card(client, file)
    assert "1 gap between line ends was closed" in card(client, file)


@pytest.mark.parametrize("gap", [0.12, 5.0])
def test_joining_is_not_offered_where_it_would_not_help(client, entered, gap):
    file = entered(gap=gap)
    shown = card(client, file)
    assert "is open by" in shown
    assert "Join ends" not in shown


@pytest.mark.parametrize(("words", "width"), [("It is in mm", 200.0), ("It is in inches", 5080.0)])
def test_a_drawing_without_a_unit_is_usable_once_the_unit_was_said(client, entered, words, width):
    file = entered(units=0)
    shown = card(client, file)
    # Source: 200 x 100 as drawn, and times 25.4.
    assert "200.0 x 100.0 mm" in shown
    assert "5080.0 x 2540.0 mm" in shown
    file = press(client, file, words)
    assert file.drawing.state == DrawingState.USABLE
    assert file.lines.get().part.length_mm == pytest.approx(width)


def test_a_drawing_with_both_faults_takes_both_answers_one_after_the_other(client, entered):
    file = press(client, entered(units=0, gap=0.06), "Join ends")
    assert file.drawing.state == DrawingState.REFUSED
    file = press(client, file, "It is in mm")
    assert (file.drawing.state, file.drawing.unit, float(file.drawing.join_mm)) == (DrawingState.USABLE, "mm", 0.1)
