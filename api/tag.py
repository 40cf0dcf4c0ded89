"""One hanger tag as SVG in millimetres: name, piece, recipe, first dip, hook, the coats to tick off, and the code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from api.fitted_text import LEADING, Fitted, fitted
from api.fitted_text import wide as wide_of
from api.label_stock import Stock
from api.qr import QUIET, Code
from service.errors import BadInput
from service.room.views import Layer, MouldNow
from service.voice import say, say_many

LEAST_MODULE_MM = 0.5
CODE_SHARE = 0.36  # of a label's width, at most
NAME_SHARE = 0.55
LARGEST_NAME_MM, LARGEST_TEXT_MM, SMALLEST_MM = 8.0, 4.0, 2.1
STRIP_SHARE, TALLEST_STRIP_MM = 0.3, 13.0
NUMBERS_MM = 2.7
THINNEST_MM, WAX_MM = 2.2, 1.6
TO_WRITE = "____________"


@dataclass(frozen=True, slots=True)
class Box:
    """A place on a tag."""

    x: float
    y: float
    wide: float
    tall: float


@dataclass(frozen=True, slots=True)
class Tag:
    """What a tag says. first_dip: the day, on the shop's calendar."""

    mould: MouldNow
    first_dip: date | None
    code: Code


def module_mm(stock: Stock, side: int) -> float:
    """How large the modules of a code with so many to a side come out on this stock."""
    return _dark(stock, side) / side


def check(stock: Stock, code: Code) -> None:
    """Raise BadInput where a phone could not read the code any more."""
    if module_mm(stock, code.side) < LEAST_MODULE_MM:
        raise BadInput(
            "label_too_small",
            say("The address in the code is too long for so small a label: a phone could not read it."),
            say("Choose a larger label, or a shorter address in site.toml."),
            "stock",
        )


def _dark(stock: Stock, side: int) -> float:
    """The side of the code's dark part: within the inset, and its quiet zone within the label."""
    wide, tall = stock.label
    whole = side / (side + 2 * QUIET)
    if tall > wide:
        return min(wide * whole, wide - 2 * stock.inset, tall * CODE_SHARE)
    return min(tall * whole, tall - 2 * stock.inset, wide * CODE_SHARE)


def drawn(tag: Tag, stock: Stock) -> Markup:
    """The tag with its upper left corner at 0, 0."""
    wide, tall = stock.label
    parts = _upright(tag, stock) if tall > wide else _lying(tag, stock)
    return Markup("").join([*_edge(stock), *parts])


def _edge(stock: Stock) -> list[Markup]:
    wide, tall = stock.label
    cut = Markup('<rect class="cut" width="{w}" height="{h}"/>').format(w=wide, h=tall)
    if stock.hole is None:
        return [cut] if stock.cut else []
    x, y = stock.hole
    hole = Markup('<circle class="hole" cx="{x}" cy="{y}" r="2.5"/>').format(x=x, y=y)
    return [cut, hole] if stock.cut else [hole]


def _lying(tag: Tag, stock: Stock) -> list[Markup]:
    """The code at the left, everything else beside it."""
    wide, tall = stock.label
    dark = _dark(stock, tag.code.side)
    module = dark / tag.code.side
    x = max(stock.inset, QUIET * module)
    text_x = x + dark + max(QUIET * module, 2.0)
    strip = min(tall * STRIP_SHARE, TALLEST_STRIP_MM)
    inner = tall - 2 * stock.inset
    beside = Box(text_x, stock.inset, wide - stock.inset - text_x, inner - strip - 1)
    return [
        tag.code.drawn(x, (tall - dark) / 2, dark),
        *_words(tag, beside),
        *_coats(tag.mould, Box(text_x, tall - stock.inset - strip, beside.wide, strip)),
    ]


def _upright(tag: Tag, stock: Stock) -> list[Markup]:
    """Everything under the hole, the code between name and coats."""
    wide, tall = stock.label
    dark = _dark(stock, tag.code.side)
    quiet = QUIET * dark / tag.code.side
    top = (stock.hole[1] + 5.0) if stock.hole else stock.inset
    inner = wide - 2 * stock.inset
    code_y = tall * 0.29
    text_y = code_y + dark + max(quiet, 2.0)
    strip_y = tall - stock.inset - TALLEST_STRIP_MM
    return [
        *_laid([_name(tag.mould, inner, code_y - quiet - top)], stock.inset, top),
        tag.code.drawn((wide - dark) / 2, code_y, dark),
        *_laid(_lines(tag, inner, strip_y - 1 - text_y), stock.inset, text_y),
        *_coats(tag.mould, Box(stock.inset, strip_y, inner, TALLEST_STRIP_MM)),
    ]


def _words(tag: Tag, box: Box) -> list[Markup]:
    least = len(_said(tag)) * SMALLEST_MM * LEADING
    name = _name(tag.mould, box.wide, min(box.tall * NAME_SHARE, box.tall - least))
    lines = _lines(tag, box.wide, box.tall - name.height)
    return _laid([name, *lines], box.x, box.y)


def _laid(blocks: Sequence[Fitted], x: float, y: float) -> list[Markup]:
    found = []
    for block in blocks:
        found.append(block.drawn(x, y))
        y += block.height
    return found


def _name(mould: MouldNow, wide: float, tall: float) -> Fitted:
    return fitted(mould.name, wide, tall, LARGEST_NAME_MM, SMALLEST_MM, bold=True)


def _lines(tag: Tag, wide: float, tall: float) -> list[Fitted]:
    """One line each, all as large as the longest of them allows."""
    said = _said(tag)
    each = tall / len(said)
    widest = max(map(wide_of, said))
    size = max(min(LARGEST_TEXT_MM, each / LEADING, 0.999 * wide / widest), SMALLEST_MM)
    return [fitted(line, wide, 1.001 * size * LEADING, size, size) for line in said]


def _said(tag: Tag) -> list[str]:
    mould, title = tag.mould, tag.mould.recipe.title
    coats = say_many("{recipe}, {number} coat", "{recipe}, {number} coats", mould.coats_total, recipe=title)
    piece = [mould.piece] if mould.piece not in ("", mould.name) else []
    return [*piece, coats, _hook_and_day(tag)]


def _hook_and_day(tag: Tag) -> str:
    day = tag.first_dip.isoformat() if tag.first_dip else TO_WRITE
    if not tag.mould.hook:
        return say("First dip {day}", day=day)
    return say("Hook {hook}, first dip {day}", hook=tag.mould.hook, day=day)


def _coats(mould: MouldNow, box: Box) -> list[Markup]:
    """The shell as an outline, wax at the left: what is on stands ticked, what is to come waits for a pencil."""
    places = _bands(mould.layers, box)
    wax = Markup('<rect class="tag-wax" x="{x:.2f}" y="{y:.2f}" width="{w}" height="{h:.2f}"/>').format(
        x=box.x, y=box.y, w=WAX_MM, h=box.tall - NUMBERS_MM
    )
    coats = [
        _coat(layer, layer.coat <= mould.coats_given, place)
        for layer, place in zip(mould.layers, places, strict=True)
    ]
    wired = [place for layer, place in zip(mould.layers, places, strict=True) if _wired(mould, layer)]
    return [wax, *coats, *map(_stitches, wired)]


def _wired(mould: MouldNow, layer: Layer) -> bool:
    """Wire lies on this coat, or is asked for."""
    return layer.wires or mould.recipe.wires_after(layer.coat)


def _bands(layers: Sequence[Layer], box: Box) -> list[Box]:
    """Where each coat stands: as thick as it is beside the others, but never too thin for a tick."""
    thick, room = sum(layer.thickness_m for layer in layers), box.wide - WAX_MM
    least = min(THINNEST_MM, room / max(len(layers), 1))
    spare, x, found = room - least * len(layers), box.x + WAX_MM, []
    for layer in layers:
        found.append(Box(x, box.y, least + spare * layer.thickness_m / thick, box.tall - NUMBERS_MM))
        x += found[-1].wide
    return found


def _coat(layer: Layer, given: bool, box: Box) -> Markup:
    return Markup(
        '<rect class="tag-coat{on}" x="{x:.2f}" y="{y:.2f}" width="{w:.2f}" height="{h:.2f}"/>{tick}'
        '<text class="tag-number" x="{middle:.2f}" y="{under:.2f}" font-size="{size}">{n}</text>'
    ).format(
        on=" on" if given else "",
        x=box.x,
        y=box.y,
        w=box.wide,
        h=box.tall,
        tick=_tick(box) if given else "",
        middle=box.x + box.wide / 2,
        under=box.y + box.tall + NUMBERS_MM - 0.4,
        size=SMALLEST_MM,
        n=layer.coat,
    )


def _tick(box: Box) -> Markup:
    size = min(box.wide, box.tall) * 0.6
    return Markup('<path class="tag-tick" d="M{x:.2f},{y:.2f} l{a:.2f},{a:.2f} l{b:.2f},-{c:.2f}"/>').format(
        x=box.x + (box.wide - size) / 2,
        y=box.y + box.tall / 2,
        a=size * 0.33,
        b=size * 0.67,
        c=size * 0.9,
    )


def _stitches(box: Box) -> Markup:
    """Wire lies on this coat: on its outer edge."""
    count = max(int(box.tall // 2), 2)
    gap, x = box.tall / count, box.x + box.wide
    lines = "".join(
        f"M{x - 0.8:.2f},{box.y + gap * (n + 0.7):.2f}l1.6,-{gap * 0.4:.2f}" for n in range(count)
    )
    return Markup('<path class="tag-stitch" d="{lines}"/>').format(lines=lines)
