"""Pictures as they are kept: upright JPEGs of a bounded size that do not say where, when or with what they were taken.

What a phone sends is decoded and written anew, pixel by pixel, so that nothing else of its file is left.
"""

from __future__ import annotations

import hashlib
import io
import math
import os
import threading
from dataclasses import dataclass
from typing import BinaryIO

from PIL import Image, ImageCms, ImageOps

from service.errors import BadInput
from service.voice import later, say

MOST_MB = 20
MOST_BYTES = MOST_MB * 1_000_000
LONGER_SIDE_PX = 2048
SMALL_PX = 360
MOST_PIXELS = 50_000_000
MOST_PIXELS_JPEG = 89_000_000
"""A plain JPEG is decoded at an eighth to a half of its size; all else must fit into the memory of a small computer."""
QUALITY, SMALL_QUALITY = 85, 78
READABLE = ("JPEG", "PNG", "WEBP", "GIF", "BMP")
"""A phone's picture of several, MPO, is opened as JPEG."""
APPLES = {b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1"}
"""Brands of ISO/IEC 23008-12, Annex B, at bytes 8 to 12 of a file (from memory)."""
SEND = later("Send it as JPEG or PNG.")

_one_at_a_time = threading.Lock()


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as it is kept."""

    jpeg: bytes
    width_px: int
    height_px: int

    @property
    def sha256(self) -> str:
        return digest(self.jpeg)


def digest(jpeg: bytes) -> str:
    """The name under which a picture is kept."""
    return hashlib.sha256(jpeg).hexdigest()


def picture_of(file: BinaryIO) -> Picture:
    """What is kept of a file somebody sent. Raises BadInput, in words, for what is no picture coatbell can take."""
    _check_file(file)
    with _one_at_a_time:  # a large picture fills much of a small computer's memory
        return _kept(_upright(_decoded(file)), LONGER_SIDE_PX, QUALITY)


def small(jpeg: bytes) -> bytes:
    """A kept picture as large as a thumb."""
    with _one_at_a_time:
        return _kept(_decoded(io.BytesIO(jpeg), SMALL_PX), SMALL_PX, SMALL_QUALITY).jpeg


def _check_file(file: BinaryIO) -> None:
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    if size == 0:
        raise BadInput(
            "photo_empty",
            say("The photo is empty: nothing of it arrived."),
            say("Choose it once more."),
            "photo",
        )
    if size > MOST_BYTES:
        raise BadInput(
            "photo_too_large",
            say(
                "The photo has {ceil:.1f} MB; {most_mb} MB is the most.",
                ceil=math.ceil(size / 100000.0) / 10,
                most_mb=MOST_MB,
            ),
            say("Let the camera take smaller pictures, or send a smaller copy."),
            "photo",
        )
    head = file.read(12)
    file.seek(0)
    if head[4:8] == b"ftyp" and head[8:12] in APPLES:
        raise BadInput(
            "photo_heic",
            say("The photo is in Apple's HEIC format, which coatbell cannot open."),
            say(
                "On an iPhone choose Settings, Camera, Formats, Most Compatible, and take it again; or send it "
                "as JPEG."
            ),
            "photo",
        )


def _decoded(file: BinaryIO, wanted_px: int = LONGER_SIDE_PX) -> Image.Image:
    image = _opened(file)
    _check_pixels(image)
    try:
        image.draft("RGB", (wanted_px, wanted_px))  # of a JPEG only: much less to decode
        image.load()
    except Exception as error:  # Pillow raises many kinds for what breaks off or contradicts itself
        raise BadInput(
            "photo_broken",
            say("The photo is damaged or did not arrive whole."),
            say("Send it again; if that fails too, take it again."),
            "photo",
        ) from error
    return image


def _opened(file: BinaryIO) -> Image.Image:
    try:
        return Image.open(file, formats=READABLE)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many_pixels() from error
    except Exception as error:  # as above
        raise BadInput(
            "not_a_photo", say("That file is no picture coatbell can open."), say(SEND), "photo"
        ) from error


def _check_pixels(image: Image.Image) -> None:
    plain_jpeg = image.format in ("JPEG", "MPO") and not image.info.get("progressive")
    if image.width * image.height > (MOST_PIXELS_JPEG if plain_jpeg else MOST_PIXELS):
        raise _too_many_pixels()


def _too_many_pixels() -> BadInput:
    return BadInput(
        "photo_too_many_pixels",
        say("The photo has more pixels than coatbell can work with."),
        say(
            "{most_pixels} million are taken, more in a plain JPEG. Let the camera take smaller pictures.",
            most_pixels=MOST_PIXELS // 1000000,
        ),
        "photo",
    )


def _upright(image: Image.Image) -> Image.Image:
    """As it was seen, whichever way the camera was held."""
    try:
        return ImageOps.exif_transpose(image)
    except Exception:  # what it says of itself cannot be read: then as the camera wrote it
        return image


def _kept(image: Image.Image, longer_side_px: int, quality: int) -> Picture:
    profile = image.info.get("icc_profile")
    plain = _shallow(image)
    plain = plain if plain.mode in ("RGB", "L", "CMYK") else _on_white(plain)
    plain.thumbnail((longer_side_px, longer_side_px), Image.Resampling.LANCZOS)
    plain = _in_srgb(plain, profile)
    bare = Image.new("RGB", plain.size)  # what else the file held is not taken over
    bare.paste(plain)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=quality, optimize=True)
    return Picture(out.getvalue(), *bare.size)


def _shallow(image: Image.Image) -> Image.Image:
    """Eight bits a colour: scaled, where Pillow would cut off what is brighter."""
    if image.mode.startswith("I;16"):
        image = image.convert("I")
    if image.mode == "I":
        return image.point(lambda value: value / 256 + 0).convert("L")
    return image


def _on_white(image: Image.Image) -> Image.Image:
    """What is transparent shows white."""
    if "A" not in image.getbands() and "transparency" not in image.info:
        return image.convert("RGB")
    seen = image.convert("RGBA")
    white = Image.new("RGB", seen.size, "white")
    white.paste(seen, mask=seen.getchannel("A"))
    return white


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """In the colours every screen takes for granted: the profile that tells of others is not kept."""
    if profile and image.mode in ("RGB", "CMYK"):
        try:
            told = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            changed = ImageCms.profileToProfile(image, told, ImageCms.createProfile("sRGB"), outputMode="RGB")
            return changed or image.convert("RGB")
        except Exception:  # a profile that cannot be read, or is of other colours than the picture
            return image.convert("RGB")
    return image.convert("RGB")
