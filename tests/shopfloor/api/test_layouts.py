import csv
import io

import ezdxf
import pytest


@pytest.fixture
def sheet(shop):
    shop.sheets(on_hand=1)
    return shop.ready_nest(shop.line(4)).layouts.get()


@pytest.fixture
def bar(shop):
    shop.bars(on_hand=1)
    return shop.ready_nest(shop.tube_line(3)).layouts.get()


def test_the_picture_of_a_sheet_is_svg(office, sheet):
    answer = office.get(f"/layouts/{sheet.pk}/picture/")
    assert answer["Content-Type"] == "image/svg+xml"
    assert answer.content.decode() == sheet.picture
    assert "<script" not in sheet.picture


def test_the_cut_file_of_a_sheet_is_dxf_under_its_name(office, sheet):
    answer = office.get(f"/layouts/{sheet.pk}/cut-file/")
    assert answer["Content-Type"] == "image/vnd.dxf"
    assert answer["Content-Disposition"] == f'attachment; filename="nest-{sheet.nest_id}-01.dxf"'
    # Source: DXF reference, header variable $INSUNITS, 4 = millimetres
    assert ezdxf.read(io.StringIO(answer.content.decode())).header["$INSUNITS"] == 4


def test_the_cut_list_of_a_bar_is_csv(office, bar):
    answer = office.get(f"/layouts/{bar.pk}/cut-file/")
    assert answer["Content-Type"] == "text/csv"
    assert answer["Content-Disposition"].endswith('.csv"')
    assert len(list(csv.reader(io.StringIO(answer.content.decode())))) >= 3


def test_a_mitred_bar_is_given_laid_flat_and_on_paper(office, shop):
    shop.bars(on_hand=1)
    bar = shop.ready_nest(shop.tube_line(2, mitre=30.0)).layouts.get()
    assert office.get(f"/layouts/{bar.pk}/").json()["has_flat_file"] is True
    flat, paper = (office.get(f"/layouts/{bar.pk}/{name}/") for name in ("flat-file", "cut-list"))
    assert (flat["Content-Type"], paper["Content-Type"]) == ("image/vnd.dxf", "application/pdf")
    assert len(ezdxf.read(io.StringIO(flat.content.decode())).modelspace().query('*[layer=="END_CUTS"]')) == 4
    assert paper["Content-Disposition"].endswith('-01.pdf"')
    assert paper.content.startswith(b"%PDF-")


def test_what_a_sheet_does_not_have_is_not_found(office, sheet, refused):
    assert office.get(f"/layouts/{sheet.pk}/").json()["has_flat_file"] is False
    for name in ("flat-file", "cut-list"):
        refused(office.get(f"/layouts/{sheet.pk}/{name}/"), 404, "not-found")


def test_layouts_are_found_by_nest_and_stock(office, sheet, bar):
    def found(**params):
        return [row["id"] for row in office.rows("/layouts/", **params)]

    assert found(nest=sheet.nest_id) == [sheet.pk]
    assert found(stock=bar.stock_id) == [bar.pk]
    assert found(ordering="-yield_share") == sorted(
        (sheet.pk, bar.pk), key=lambda pk: -{sheet.pk: sheet, bar.pk: bar}[pk].yield_share
    )


def test_a_layout_names_its_stock(office, sheet):
    body = office.get(f"/layouts/{sheet.pk}/").json()
    assert (body["stock_name"], body["nest"], body["copies"]) == (str(sheet.stock), sheet.nest_id, 1)
    assert body["remnant"] == sheet.remnant
