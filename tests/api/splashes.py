"""A code as a camera sees it, and slurry on it. The seed decides where; nothing here is chance."""

from __future__ import annotations

import random
from typing import Any

from PIL import Image, ImageDraw, ImageFilter

from api.qr import QUIET, Code
from tests.parts import need

PX = 6
CORNER = 7.5  # modules: a corner square with the white line at its side
SLURRY = (235, 200, 150)  # grey from 0 to 255


def picture(code: Code) -> Image.Image:
    """Black on white with its quiet zone, PX a module."""
    side = (code.side + 2 * QUIET) * PX
    made = Image.new("L", (side, side), 255)
    for y, row in enumerate(code.rows):
        for x, dark in enumerate(row):
            if dark:
                made.paste(0, tuple((at + QUIET) * PX for at in (x, y, x + 1, y + 1)))
    return made


def splashed(code: Code, share: float, seed: int, corners_clear: bool = True) -> Image.Image:
    """Splashes of 6 to 14 % of the code's side in radius, until so much of it is covered; then out of focus."""
    chance, side, edge = random.Random(seed), code.side * PX, QUIET * PX
    cover = Image.new("L", picture(code).size, 0)
    pen = ImageDraw.Draw(cover)
    while cover.crop((edge, edge, edge + side, edge + side)).histogram()[255] < share * side**2:
        r, x, y = chance.uniform(0.06, 0.14) * side, chance.uniform(0, side), chance.uniform(0, side)
        if not (corners_clear and _in_a_corner(x, y, r, side)):
            pen.ellipse([edge + x - r, edge + y - r, edge + x + r, edge + y + r], fill=255)
    made = picture(code)
    made.paste(chance.choice(SLURRY), mask=cover)
    return made.filter(ImageFilter.GaussianBlur(PX / 3))


def _in_a_corner(x: float, y: float, r: float, side: float) -> bool:
    reach = CORNER * PX + r
    left, top = x < reach, y < reach
    return (left and top) or (left and y > side - reach) or (top and x > side - reach)


def read(image: Image.Image) -> list[str]:
    """What zxing-cpp, which has nothing to do with how codes are made here, reads."""
    zxing: Any = need("zxingcpp")
    return [found.text for found in zxing.read_barcodes(image, formats=zxing.BarcodeFormat.QRCode)]
