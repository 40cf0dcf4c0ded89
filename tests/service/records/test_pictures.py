"""What is kept of a picture: upright, small enough, and silent about where it was taken."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

import pytest
from PIL import Image, ImageCms, PngImagePlugin

from service.errors import BadInput
from service.records.pictures import LONGER_SIDE_PX, MOST_BYTES, SMALL_PX, digest, picture_of, small
from tests.service.records.pictures import MAKER, exif, file_of, opened, scene
from tests.service.room.cases import refused

RED, BLUE = (220, 20, 20), (20, 20, 220)


def kept(image: Image.Image, kind: str = "JPEG", **options: Any) -> Image.Image:
    return opened(picture_of(file_of(image, kind, **options)).jpeg)


def near(found: Any, wanted: tuple[int, ...], by: int = 24) -> bool:
    return all(abs(a - b) <= by for a, b in zip(found, wanted, strict=True))


def upright(image: Image.Image) -> bool:
    """Whether red is at the top left and blue at the bottom right."""
    last = image.width - 5, image.height - 5
    return near(image.getpixel((4, 4)), RED) and near(image.getpixel(last), BLUE)


class TestKept:
    def test_as_an_rgb_jpeg_that_says_its_size(self) -> None:
        picture = picture_of(file_of(scene()))
        image = opened(picture.jpeg)
        assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (400, 300))
        assert (picture.width_px, picture.height_px) == (400, 300)
        assert picture.sha256 == digest(picture.jpeg)

    def test_the_same_picture_twice_is_the_same_file(self) -> None:
        assert picture_of(file_of(scene())) == picture_of(file_of(scene()))

    @pytest.mark.parametrize(
        ("size", "kept_size"),
        [
            ((2048, 1000), (2048, 1000)),
            ((2049, 1000), (2048, 1000)),
            ((4096, 3072), (2048, 1536)),
            ((1000, 5000), (410, 2048)),
            ((1, 1), (1, 1)),
            ((9000, 1), (2048, 1)),
        ],
    )
    def test_no_longer_than_2048_pixels(self, size: tuple[int, int], kept_size: tuple[int, int]) -> None:
        image = kept(scene(size))
        assert max(image.size) <= LONGER_SIDE_PX
        assert image.size == pytest.approx(kept_size, abs=1)

    @pytest.mark.parametrize("turned", range(1, 9))
    def test_upright_whichever_way_the_camera_was_held(self, turned: int) -> None:
        back = {
            2: [Image.Transpose.FLIP_LEFT_RIGHT],
            3: [Image.Transpose.ROTATE_180],
            4: [Image.Transpose.FLIP_TOP_BOTTOM],
            5: [Image.Transpose.TRANSPOSE],
            6: [Image.Transpose.ROTATE_90],
            7: [Image.Transpose.TRANSVERSE],
            8: [Image.Transpose.ROTATE_270],
        }
        image = scene()
        for turn in back.get(turned, []):
            image = image.transpose(turn)
        found = kept(image, exif=exif(turned))
        assert found.size == (400, 300)
        assert upright(found)

    def test_a_large_one_on_its_side_too(self) -> None:
        found = kept(scene((4000, 3000)).transpose(Image.Transpose.ROTATE_90), exif=exif(6))
        assert found.size == (2048, 1536)
        assert upright(found)


class TestSilent:
    def test_no_word_of_place_camera_or_comment_is_left(self) -> None:
        xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:GPS>52.95 N saltmarsh</rdf:GPS></x:xmpmeta>'
        sent = file_of(scene(), exif=exif(), comment=b"saltmarsh", xmp=xmp, dpi=(72, 72)).getvalue()
        assert b"saltmarsh" in sent
        assert MAKER.encode() in sent
        picture = picture_of(io.BytesIO(sent))
        for word in (b"saltmarsh", MAKER.encode(), b"Exif", b"xmp", b"GPS"):
            assert word not in picture.jpeg
        image = opened(picture.jpeg)
        assert dict(image.getexif()) == {}
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}

    def test_nor_of_a_png(self) -> None:
        info = PngImagePlugin.PngInfo()
        info.add_text("Comment", "saltmarsh")
        info.add_itxt("XML:com.adobe.xmp", "<gps>saltmarsh</gps>")
        sent = file_of(scene(), "PNG", pnginfo=info, exif=exif()).getvalue()
        assert b"saltmarsh" in sent
        assert b"saltmarsh" not in picture_of(io.BytesIO(sent)).jpeg

    def test_what_hangs_behind_the_picture_is_gone(self) -> None:
        sent = file_of(scene()).getvalue() + b"<script>saltmarsh</script>"
        assert b"saltmarsh" not in picture_of(io.BytesIO(sent)).jpeg

    def test_a_profile_is_worked_in_and_left_out(self) -> None:
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        found = kept(scene(), icc_profile=profile)
        assert "icc_profile" not in found.info
        assert upright(found)

    @pytest.mark.parametrize("profile", [b"nonsense", b"x" * 5000])
    def test_a_profile_that_cannot_be_read_is_left_out(self, profile: bytes) -> None:
        assert upright(kept(scene(), icc_profile=profile))

    def test_a_profile_of_other_colours_is_left_out(self) -> None:
        lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
        assert upright(kept(scene(), icc_profile=lab))


class TestKinds:
    @pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "GIF", "BMP", "MPO"])
    def test_are_taken(self, kind: str) -> None:
        assert upright(kept(scene(), kind))

    @pytest.mark.parametrize("mode", ["L", "1", "P", "LA", "RGBA"])
    def test_and_modes_of_png(self, mode: str) -> None:
        assert kept(scene(mode=mode), "PNG").mode == "RGB"

    def test_sixteen_bits_of_grey_keep_their_shades(self) -> None:
        image = Image.new("I;16", (40, 30), 32768)
        image.paste(65535, (0, 0, 20, 30))
        found = kept(image, "PNG")
        assert near(found.getpixel((35, 15)), (128, 128, 128), 4)
        assert near(found.getpixel((5, 15)), (255, 255, 255), 4)

    def test_sixteen_bits_of_colour(self) -> None:
        assert near(opened(picture_of(io.BytesIO(png_48_bits())).jpeg).getpixel((3, 3)), (200, 100, 50), 8)

    def test_cmyk(self) -> None:
        assert upright(kept(scene(mode="CMYK")))

    @pytest.mark.parametrize("mode", ["RGBA", "LA"])
    def test_what_is_transparent_shows_white(self, mode: str) -> None:
        image = Image.new(mode, (40, 30))
        assert near(kept(image, "PNG").getpixel((20, 15)), (255, 255, 255), 2)

    def test_so_does_a_colour_marked_as_transparent(self) -> None:
        image = Image.new("P", (40, 30), 0)
        image.putpalette([0, 0, 0, 220, 20, 20])
        assert near(kept(image, "GIF", transparency=0).getpixel((20, 15)), (255, 255, 255), 2)

    @pytest.mark.parametrize("kind", ["GIF", "WEBP", "PNG"])
    def test_of_one_that_moves_the_first_picture(self, kind: str) -> None:
        later = Image.new("RGB", (400, 300), "black")
        assert upright(kept(scene(), kind, save_all=True, append_images=[later, later]))


def png_48_bits() -> bytes:
    """8 x 8 pixels of 16 bits a colour, which Pillow does not write itself."""
    row = b"\0" + struct.pack(">HHH", 200 * 257, 100 * 257, 50 * 257) * 8
    return png(8, 8, zlib.compress(row * 8), depth=16)


def png(width: int, height: int, data: bytes, depth: int = 8) -> bytes:
    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, depth, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


class TestRefused:
    @pytest.mark.parametrize(
        "data",
        [
            b"nothing of the kind",
            b"<svg xmlns='http://www.w3.org/2000/svg'/>",
            b"%PDF-1.7",
            b"\xff\xd8\xff",
            b"\x89PNG\r\n\x1a\n",
            b"GIF89a",
            b"\0" * 1000,
            b"II*\0" + b"\0" * 100,
        ],
    )
    def test_what_is_no_picture(self, data: bytes) -> None:
        with refused("not_a_photo") as told:
            picture_of(io.BytesIO(data))
        assert "JPEG or PNG" in told.value.todo
        assert told.value.field == "photo"

    def test_nothing_at_all(self) -> None:
        with refused("photo_empty"):
            picture_of(io.BytesIO(b""))

    @pytest.mark.parametrize("brand", [b"heic", b"heix", b"mif1"])
    def test_apples_own_format_with_what_to_do(self, brand: bytes) -> None:
        with refused("photo_heic") as told:
            picture_of(io.BytesIO(b"\0\0\0\x18ftyp" + brand + b"\0\0\0\0mif1heic" + b"\0" * 500))
        assert "Most Compatible" in told.value.todo

    @pytest.mark.parametrize("kind", ["JPEG", "PNG", "GIF", "WEBP", "BMP"])
    def test_what_broke_off_on_its_way(self, kind: str) -> None:
        whole = file_of(scene(), kind).getvalue()
        with pytest.raises(BadInput) as told:
            picture_of(io.BytesIO(whole[: len(whole) // 2]))
        assert told.value.code in ("photo_broken", "not_a_photo")

    def test_one_byte_over_twenty_megabytes(self) -> None:
        data = file_of(scene()).getvalue()
        assert picture_of(io.BytesIO(data.ljust(MOST_BYTES, b"\0")))
        with refused("photo_too_large") as told:
            picture_of(io.BytesIO(data.ljust(MOST_BYTES + 1, b"\0")))
        assert "20.1 MB; 20 MB is the most" in told.value.message

    @pytest.mark.parametrize("size", [(30_000, 30_000), (10_000, 10_000), (60_000, 1000)])
    def test_a_small_file_that_would_fill_the_memory(self, size: tuple[int, int]) -> None:
        with refused("photo_too_many_pixels"):
            picture_of(io.BytesIO(png(*size, zlib.compress(b"\0" * 1000))))

    def test_a_text_that_swells_when_it_is_unpacked(self) -> None:
        info = PngImagePlugin.PngInfo()
        info.add_text("Comment", "x" * 3_000_000, zip=True)
        sent = file_of(scene((8, 8)), "PNG", pnginfo=info)
        assert len(sent.getvalue()) < 200_000
        with pytest.raises(BadInput) as told:
            picture_of(sent)
        assert told.value.code in ("photo_broken", "not_a_photo")

    @pytest.mark.filterwarnings("ignore:Corrupt EXIF data")
    def test_words_about_itself_that_make_no_sense_are_passed_over(self) -> None:
        sent = file_of(scene(), exif=b"Exif\0\0MM\0*\0\0\0\x08\xff\xff" + b"\x01\x12" * 30)
        assert upright(opened(picture_of(sent).jpeg))


class TestSmall:
    def test_is_as_large_as_a_thumb_and_the_same_picture(self) -> None:
        image = opened(small(picture_of(file_of(scene((1600, 1200)))).jpeg))
        assert max(image.size) == SMALL_PX
        assert upright(image)

    def test_one_smaller_than_that_stays(self) -> None:
        assert opened(small(file_of(scene((40, 30))).getvalue())).size == (40, 30)
