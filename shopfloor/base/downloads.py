"""Answers with a file to be saved, such as a cut file or a cut list."""

from django.http import HttpResponse

KINDS = {"dxf": "image/vnd.dxf", "csv": "text/csv; charset=utf-8", "pdf": "application/pdf"}
"""Content types by the ending of the name."""


def as_download(content: bytes, name: str) -> HttpResponse:
    """The file, to be saved under its name."""
    answer = HttpResponse(content, content_type=KINDS[name.rpartition(".")[2]])
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
