"""Tags laid on sheets of label stock: each sheet an SVG as large as the paper, drawn in millimetres."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from api.label_stock import Stock
from api.tag import Tag, drawn
from service.voice import say


def sheets(tags: Sequence[Tag], stock: Stock, start: int = 1) -> list[Markup]:
    """As many as it takes, from the `start`-th label of the first on (from 1): a used sheet can be finished."""
    laid, each = [*[None] * (start - 1), *tags], stock.on_a_sheet
    return [_sheet(laid[n : n + each], stock) for n in range(0, len(laid), each)] if tags else []


def _sheet(tags: Sequence[Tag | None], stock: Stock) -> Markup:
    wide, tall = stock.sheet
    said = say("A sheet with tags of {names}", names=", ".join(tag.mould.name for tag in tags if tag))
    return Markup(
        '<svg class="sheet" role="img" aria-label="{said}" width="{w}mm" height="{h}mm" '
        'viewBox="0 0 {w} {h}">{parts}</svg>'
    ).format(
        said=said,
        w=f"{wide:g}",
        h=f"{tall:g}",
        parts=Markup("").join(_place(tag, stock, n) for n, tag in enumerate(tags)),
    )


def _place(tag: Tag | None, stock: Stock, n: int) -> Markup:
    """Cut off at the label's edge, whatever it holds."""
    (x, y), (wide, tall) = stock.spot(n), stock.label
    edge = Markup('<rect class="label-edge" width="{w:.3f}" height="{h:.3f}"/>').format(w=wide, h=tall)
    return Markup(
        '<svg class="label" x="{x:.3f}" y="{y:.3f}" width="{w:.3f}" height="{h:.3f}">{inside}</svg>'
    ).format(x=x, y=y, w=wide, h=tall, inside=edge + (drawn(tag, stock) if tag else ""))
