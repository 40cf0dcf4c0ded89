"""The old notebook on a page: looked through first, then taken in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, TheShop
from api.shop_port import ShopPort
from api.templating import render
from service.errors import BadInput, ShopError
from service.papers import notebook_report as account
from service.papers.notebook_findings import Findings
from service.papers.notebook_plan import Choices
from service.papers.notebook_text import LARGEST, text_of
from service.papers.zones import zones_of
from service.voice import later, say

router = APIRouter(prefix="/import", include_in_schema=False)

MOST_FIELDS, ROOM_FOR_FIELDS = 20, 256 * 1024
ORDERS = (
    ("", later("found out by the whole notebook")),
    ("day", later("day first: 3 November")),
    ("month", later("month first: 11 March")),
)


@dataclass(frozen=True)
class Upload:
    """A notebook, chosen as a file or handed on by the page before, and the form around it."""

    form: Form
    file: bytes

    @property
    def data(self) -> bytes:
        """Raises BadInput where there is none."""
        found = self.file or self.form["text"].encode()
        if not found:
            raise BadInput(
                "file_missing",
                say("No file was chosen."),
                say("Choose the CSV file of the notebook."),
                "file",
            )
        return found

    @property
    def choices(self) -> Choices:
        form = self.form
        places = [line for line in form["zones"].splitlines() if line.strip()]
        return Choices(
            form["recipe"],
            form["room"],
            zones_of(places),
            form["order"] == "day" if form["order"] else None,
            form["take_the_rest"] == "yes",
        )


async def uploaded(request: Request) -> Upload:
    async with request.form(
        max_files=1, max_fields=MOST_FIELDS, max_part_size=LARGEST + ROOM_FOR_FIELDS
    ) as data:
        file = data.get("file")
        return Upload(Form.of(data), await file.read() if isinstance(file, UploadFile) else b"")


Uploaded = Annotated[Upload, Depends(uploaded)]


@router.get("")
def import_page(request: Request, shop: TheShop) -> Response:
    """Choose the file."""
    return _page(request, shop, Form({}))


@router.post("")
def look(request: Request, shop: TheShop, upload: Uploaded) -> Response:
    """What would become of it; nothing is recorded."""
    try:
        text, _ = text_of(upload.data)
        findings = shop.notebook.look(upload.data, upload.choices)
    except ShopError as problem:
        return _page(request, shop, upload.form, problem=problem)
    return _page(request, shop, upload.form, findings, text)


@router.post("/take")
def take(request: Request, shop: TheShop, upload: Uploaded) -> Response:
    """Taken in. The same again changes nothing."""
    try:
        findings = shop.notebook.take_in(upload.data, upload.choices)
    except ShopError as problem:
        return _page(request, shop, upload.form, problem=problem)
    return _page(request, shop, upload.form, findings)


def _page(
    request: Request,
    shop: ShopPort,
    form: Form,
    findings: Findings | None = None,
    text: str = "",
    problem: ShopError | None = None,
) -> Response:
    return render(
        request,
        "import.html",
        problem.status if problem else 200,
        form=form,
        findings=findings,
        text=text,
        problem=problem,
        account=account,
        recipes=[("", say("as the notebook says")), *((r.name, r.title) for r in shop.shelf.all())],
        rooms=[(room.name, room.name) for room in shop.rooms()],
        orders=[(order, say(words)) for order, words in ORDERS],
    )
