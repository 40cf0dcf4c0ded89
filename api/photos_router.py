"""Photos: their files for pages and programs, and keeping one as a program does."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Path, UploadFile
from pydantic import AwareDatetime
from starlette.responses import Response

from api.asked import Key, TheShop
from api.fact_models import FactOut, fact_out
from api.models import READ_ONE, WRITE
from api.result_models import PhotoOut, photo_out

router = APIRouter(tags=["what happened"])

Sha256 = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$")]
HEADERS = {
    # What a picture is called is what it holds, so that it never changes; nobody between may keep it.
    "cache-control": "private, max-age=604800, immutable",
    "content-security-policy": "default-src 'none'; sandbox",
    "cross-origin-resource-policy": "same-origin",
    "x-content-type-options": "nosniff",
    "x-robots-tag": "noindex",
}
FIELDS = {
    "photo": "@heron.jpg",
    "text": "hairline at the foot",
    "zone": "hollow base",
    "coat": 3,
    "hand": "bench 1",
}
EXAMPLE = {"requestBody": {"content": {"multipart/form-data": {"example": FIELDS}}}}


@router.get("/photos/{sha256}", include_in_schema=False)
def photo(shop: TheShop, sha256: Sha256) -> Response:
    """A photo, as large as it is kept."""
    return _jpeg(shop.photo_jpeg(sha256), sha256)


@router.get("/photos/{sha256}/small", include_in_schema=False)
def small_photo(shop: TheShop, sha256: Sha256) -> Response:
    """A photo as large as a thumb."""
    return _jpeg(shop.photo_jpeg(sha256, small=True), sha256)


def _jpeg(data: bytes, sha256: str) -> Response:
    named = {**HEADERS, "content-disposition": f'inline; filename="{sha256[:12]}.jpg"'}
    return Response(data, media_type="image/jpeg", headers=named)


@router.get(
    "/api/moulds/{mould_id}/photos", summary="A mould's photos that were not taken back", responses=READ_ONE
)
def photos(shop: TheShop, mould_id: int) -> list[PhotoOut]:
    return [photo_out(fact) for fact in shop.photos(mould_id)]


@router.post(
    "/api/moulds/{mould_id}/photos",
    status_code=201,
    summary="Keep a photo, sent as a form",
    responses=WRITE,
    openapi_extra=EXAMPLE,
)
def keep(
    shop: TheShop,
    mould_id: int,
    photo: UploadFile,
    key: Key,
    text: Annotated[str, Form(max_length=500)] = "",
    zone: Annotated[str | None, Form(max_length=60)] = None,
    coat: Annotated[int | None, Form(ge=1, le=40)] = None,
    hand: Annotated[str, Form(max_length=60)] = "",
    at: Annotated[AwareDatetime | None, Form()] = None,
) -> FactOut:
    """One picture of at most 20 MB as `multipart/form-data`: JPEG, PNG, WebP, GIF or BMP.

    It is kept upright, at most 2048 pixels on its longer side, and without anything else its file told, such as where
    it was taken.
    """
    fact = shop.photo(mould_id, photo.file, hand, key, at, zone or None, coat, text)
    return fact_out(fact, shop.site())
