"""The record taken along, and an old notebook taken in, for programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query
from starlette.responses import StreamingResponse

from api.asked import Key, TheShop
from api.models import READ, READ_ONE, WRITE
from api.notebook_models import NotebookIn, NotebookOut, notebook_out
from service.papers.asked import Asked, Table, day
from service.papers.record_models import DRAFT, FORMAT, VERSION, schema

HEAD_EXAMPLE = f'{{"format":"{FORMAT}","line":"head","version":{VERSION},...}}'
Kind = Literal["jsonl", "csv"]
router = APIRouter(prefix="/api", tags=["papers"])

FILE: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "A file, sent in pieces",
        "content": {"application/jsonl": {"schema": {"type": "string", "example": HEAD_EXAMPLE}}},
    }
}
SCHEMA: dict[int | str, dict[str, Any]] = {
    200: {"content": {"application/json": {"schema": {"type": "object", "example": {"$schema": DRAFT}}}}}
}

MEDIA = {"jsonl": "application/jsonl", "csv": "text/csv; charset=utf-8"}
Since = Annotated[str, Query(description="from this day on, such as 2026-03-02, on the shop's calendar")]
Until = Annotated[str, Query(description="up to this day, its end included")]
Readings = Annotated[bool, Query(description="with what the sensors measured; JSON Lines only")]
Form = Annotated[Kind, Query(alias="format", description="JSON Lines (jsonl), or csv for a spreadsheet")]
Which = Annotated[Table, Query(description="which of the tables, with format=csv")]


@router.get(
    "/export",
    summary="The whole record, or of a span of days, as a file",
    responses={**FILE, **READ_ONE},
    response_class=StreamingResponse,
)
def export(
    shop: TheShop,
    since: Since = "",
    until: Until = "",
    readings: Readings = False,
    form: Form = "jsonl",
    table: Which = Table.FACTS,
) -> StreamingResponse:
    asked = Asked(None, day(since, "since"), day(until, "until"), readings)
    return _file(shop, asked, form, table, "coatbell-record")


@router.get(
    "/export/schema", summary="JSON Schema of the lines of a record file", responses={**SCHEMA, **READ}
)
def export_schema() -> dict[str, Any]:
    return schema()


@router.get(
    "/moulds/{mould_id}/export",
    summary="The record of one mould as a file",
    responses={**FILE, **READ_ONE},
    response_class=StreamingResponse,
)
def export_mould(
    shop: TheShop, mould_id: int, readings: Readings = False, form: Form = "jsonl", table: Which = Table.FACTS
) -> StreamingResponse:
    return _file(shop, Asked(mould_id, readings=readings), form, table, f"coatbell-mould-{mould_id}")


@router.post("/import", summary="Look through an old notebook, or take it in", responses=WRITE)
def import_notebook(shop: TheShop, told: NotebookIn, _: Key) -> NotebookOut:
    """A notebook is its own key: the same lines again change nothing."""
    handed = told.csv.encode("utf-8", "replace")
    if told.dry_run:
        return notebook_out(shop.notebook.look(handed, told.choices()), shop.site())
    return notebook_out(shop.notebook.take_in(handed, told.choices()), shop.site())


def _file(shop: TheShop, asked: Asked, form: Kind, table: Table, name: str) -> StreamingResponse:
    pieces: Iterator[str] = shop.export.table(table, asked) if form == "csv" else shop.export.lines(asked)
    file = f"{name}-{table}.csv" if form == "csv" else f"{name}.jsonl"
    return StreamingResponse(
        pieces, media_type=MEDIA[form], headers={"content-disposition": f'attachment; filename="{file}"'}
    )
