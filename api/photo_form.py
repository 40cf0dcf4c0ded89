"""Photos sent with a form: taken in piece by piece to the disk, never whole into memory."""

from __future__ import annotations

import hashlib
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends
from pydantic import ValidationError
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request

from api.asked import MOST_FIELDS, Form
from api.doors import MOST_PHOTOS
from api.problem_words import told
from api.shop_port import ShopPort
from service.errors import BadInput, ShopError
from service.records.facts import Fact
from service.voice import say

INPUTS = 2
"""How many inputs for photos a form has: the camera and the album. An empty one is sent as an empty file."""


@dataclass(frozen=True)
class SentPhotos:
    """A posted form with the photos that were chosen in it."""

    form: Form
    files: Sequence[UploadFile]


async def sent_photos(request: Request) -> AsyncIterator[SentPhotos]:
    """Raises BadInput for what is no form, or holds too many photos."""
    try:
        data = await request.form(max_fields=MOST_FIELDS, max_files=MOST_PHOTOS + INPUTS)
    except HTTPException as error:
        raise _unreadable(str(error.detail)) from error
    try:
        files = _chosen(data)
        if len(files) > MOST_PHOTOS:
            raise _too_many()
        yield SentPhotos(Form.of(data), files)
    finally:
        await data.close()


PostedPhotos = Annotated[SentPhotos, Depends(sent_photos)]


def _chosen(data: FormData) -> list[UploadFile]:
    every = [value for _, value in data.multi_items() if isinstance(value, UploadFile)]
    return [file for file in every if file.filename or file.size]


def _unreadable(detail: str) -> BadInput:
    if "files" in detail:
        return _too_many()
    return BadInput("form_unreadable", say("What was sent did not arrive whole."), say("Send it again."))


def _too_many() -> BadInput:
    return BadInput(
        "too_many_photos",
        say("Those are more than {most_photos} photos.", most_photos=MOST_PHOTOS),
        say("Send up to {most_photos} at a time.", most_photos=MOST_PHOTOS),
        "photo",
    )


def keep_photos(
    shop: ShopPort, mould_id: int, sent: SentPhotos, at: datetime | None
) -> tuple[list[Fact], ShopError | None]:
    """Keep every photo that can be kept; those kept, and what was wrong with the first that could not be."""
    kept: list[Fact] = []
    wrong: ShopError | None = None
    for file in sent.files:
        try:
            kept.append(_keep(shop, mould_id, file, sent.form, at))
        except ShopError as problem:
            wrong = wrong or problem
        except ValidationError as problem:
            wrong = wrong or told(problem.errors()[0])
    return kept, _counted(wrong, len(kept), len(sent.files))


def _keep(shop: ShopPort, mould_id: int, file: UploadFile, form: Form, at: datetime | None) -> Fact:
    """The key hangs on the picture too: a form sent again after a refusal may hold others."""
    file.file.seek(0)
    key = f"{form.key} {hashlib.file_digest(file.file, 'sha256').hexdigest()[:16]}"  # type: ignore[arg-type]
    coat = form.whole("photo_coat", say("Coat")) if form["photo_coat"] else None
    return shop.photo(
        mould_id, file.file, form.hand, key, at, form["photo_zone"] or None, coat, form["photo_text"]
    )


def _counted(wrong: ShopError | None, kept: int, sent: int) -> ShopError | None:
    if wrong is not None and sent > 1:
        wrong.message = say(
            "{kept} of {sent} photos were kept. {message}", kept=kept, sent=sent, message=wrong.message
        )
    return wrong
