"""Files that nobody can use, all in one upload with two good ones: each gets its sentence, and the good ones go on."""

import pytest
from django.core.files.base import File
from django.urls import reverse
from django.utils.html import escape

from shopfloor.orders import intake
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.parts.read import read
from tests.bad_files import BAD_FILES
from tests.factories.orders import OrderFactory
from tests.part_files import write_plate, write_tube

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

KEPT_OUT = ("empty drawing", "empty model", "100 MB drawing", "100 MB model")
"""What is refused while it is uploaded; everything else is stored first and refused when it is read."""


@pytest.fixture
def uploaded(people, settings, tmp_path):
    """One upload of everything, as (order, sentences of what was kept out, file names by what is wrong)."""
    settings.MEDIA_ROOT = tmp_path / "files"
    names, paths = {}, []
    for number, (what, bad) in enumerate(BAD_FILES.items()):
        path = tmp_path / f"{number:02d}-{bad.name}"
        bad.write(path)
        names[what] = path.name
        paths.append(path)
    paths.insert(9, write_plate(tmp_path / "hinge.dxf"))
    paths.append(write_tube(tmp_path / "frame.step", "two"))
    order = OrderFactory()
    opened = [File(path.open("rb"), path.name) for path in paths]
    try:
        sentences = intake.add_files(order, opened, by=people.office)
    finally:
        for file in opened:
            file.close()
    return order, sentences, names


def test_each_bad_file_gets_its_sentence_and_the_good_ones_become_lines(uploaded, client, people):
    order, sentences, names = uploaded
    assert [sentence.partition(":")[0] for sentence in sentences] == [names[what] for what in KEPT_OUT]
    drawings = {drawing.name: drawing for drawing in Drawing.objects.filter(order_files__order=order)}
    assert len(drawings) == len(BAD_FILES) - len(KEPT_OUT) + 2
    for drawing in drawings.values():
        read(drawing.pk)
        drawing.refresh_from_db()
    client.force_login(people.office)
    page = client.get(reverse("orders:order-enter", args=[order.pk])).text
    for what, bad in BAD_FILES.items():
        if what in KEPT_OUT:
            continue
        drawing = drawings[names[what]]
        assert (drawing.state, drawing.failure) == (DrawingState.REFUSED, ""), what
        (finding,) = [each for each in drawing.findings if each["severity"] in ("refusal", "question")]
        assert finding["code"] == bad.code, what
        assert escape(finding["message"]) in page, what
    assert "Traceback" not in page
    assert sorted(line.part.name for line in order.lines.select_related("part")) == ["gate post", "gate rail", "hinge"]


def test_an_order_with_a_bad_file_is_not_confirmed_and_says_which(uploaded, client, people):
    order, _, names = uploaded
    for drawing in Drawing.objects.filter(order_files__order=order, name__in=["hinge.dxf", names["block in itself"]]):
        read(drawing.pk)
    client.force_login(people.office)
    shown = client.get(reverse("orders:order-ready", args=[order.pk]), headers={"hx-request": "true"}).text
    assert names["block in itself"] in shown
