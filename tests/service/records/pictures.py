"""Pictures as phones, scanners and pranksters send them, made for tests."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image, ImageDraw

MAKER = "Reedbank Cameras"
ORIENTATION, GPS, MAKE, COMMENT = 0x0112, 0x8825, 0x010F, 0x9286


def scene(size: tuple[int, int] = (400, 300), mode: str = "RGB") -> Image.Image:
    """Red at the top left, blue at the bottom right, grey between, so that turning it shows."""
    image = Image.new("RGB", size, (128, 128, 128))
    draw = ImageDraw.Draw(image)
    wide, high = size[0] // 4, size[1] // 4
    draw.rectangle((0, 0, wide, high), fill=(220, 20, 20))
    draw.rectangle((size[0] - wide, size[1] - high, *size), fill=(20, 20, 220))
    return image.convert(mode)


def file_of(image: Image.Image, kind: str = "JPEG", **options: Any) -> io.BytesIO:
    out = io.BytesIO()
    image.save(out, kind, **options)
    out.seek(0)
    return out


def exif(orientation: int = 1) -> Image.Exif:
    """Everything a phone tells: where, with what, and which way it was held."""
    told = Image.Exif()
    told[ORIENTATION], told[MAKE] = orientation, MAKER
    told.get_ifd(GPS).update({1: "N", 2: (52.0, 57.0, 11.0), 3: "E", 4: (0.0, 51.0, 2.0)})
    told.get_ifd(0x8769)[COMMENT] = b"ASCII\0\0\0behind the saltmarsh"
    return told


def jpeg(size: tuple[int, int] = (400, 300)) -> bytes:
    return file_of(scene(size)).getvalue()


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image
