"""Pictures and cut files as the API gives them: not JSON, but what a browser or a machine takes as it is."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.exceptions import NotFound
from rest_framework.renderers import BaseRenderer
from rest_framework.response import Response


class AsItIs(BaseRenderer):
    """Sends what it is given unchanged."""

    charset = None

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Mapping[str, Any] | None = None
    ) -> bytes:
        return data if isinstance(data, bytes) else str(data).encode()


class SvgRenderer(AsItIs):
    media_type, format = "image/svg+xml", "svg"


class DxfRenderer(AsItIs):
    media_type, format = "image/vnd.dxf", "dxf"


class CsvRenderer(AsItIs):
    media_type, format = "text/csv", "csv"


class PdfRenderer(AsItIs):
    media_type, format = "application/pdf", "pdf"


PICTURE = (SvgRenderer,)
CUT_FILE = (DxfRenderer, CsvRenderer)
FLAT_FILE = (DxfRenderer,)
CUT_LIST = (PdfRenderer,)
"""Which forms an address offers."""

picture_schema = extend_schema(
    responses={(200, SvgRenderer.media_type): OpenApiResponse(OpenApiTypes.STR, "The picture, in millimetres.")}
)
cut_file_schema = extend_schema(
    responses={
        (200, DxfRenderer.media_type): OpenApiResponse(OpenApiTypes.BINARY, "The sheet as DXF."),
        (200, CsvRenderer.media_type): OpenApiResponse(OpenApiTypes.BINARY, "The bar's cut list."),
    }
)
flat_file_schema = extend_schema(
    responses={(200, DxfRenderer.media_type): OpenApiResponse(OpenApiTypes.BINARY, "The bar laid flat, as DXF.")}
)
cut_list_schema = extend_schema(
    responses={(200, PdfRenderer.media_type): OpenApiResponse(OpenApiTypes.BINARY, "The bar's cut list on paper.")}
)


def picture_answer(svg: str, what: str) -> Response:
    """The picture; code `not-found` where there is none yet."""
    if not svg:
        raise NotFound(f"{what} has no picture yet.")
    return Response(svg, content_type=SvgRenderer.media_type)


def cut_file_answer(content: bytes, name: str) -> Response:
    """The file, to be saved under its name."""
    media_type = next(kind.media_type for kind in (*CUT_FILE, *CUT_LIST) if name.endswith(f".{kind.format}"))
    disposition = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(bytes(content), content_type=media_type, headers=disposition)
