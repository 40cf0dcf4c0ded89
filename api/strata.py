"""The picture of a mould: its shell as strata laid on wax, innermost at the left, as SVG.

One band a coat, as thick as the coat; dense hatching where it is wet, open hatching where damp, plain where dry;
wires as stitches; coats still to come as dashed outlines. The page that shows it defines the hatchings once (`DEFS`).
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from service.records.recipes import CoatStep, Recipe
from service.room.views import Layer, MouldNow, Stage
from service.voice import later, say, say_many
from service.words import wetness as wetness_of

WATER_DENSITY_KG_M3 = 998.0
PX_PER_REM = 16.0  # so that the picture grows with a larger screen as the words do
WAX_PX = 20.0
AIR_PX = 6.0
STITCH_GAP_PX = 9.0
THINNEST_PX = 7.0

COAT_IS = {
    "dry": later("coat {coat} dry"),
    "damp": later("coat {coat} damp"),
    "wet": later("coat {coat} wet"),
    "to come": later("coat {coat} to come"),
    "on": later("coat {coat} on"),
    "given": later("coat {coat} given"),
}

DEFS = Markup(
    '<svg class="defs" aria-hidden="true" width="0" height="0"><defs>'
    '<pattern id="wet" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect class="hatch" width="1.9" height="4"/></pattern>'
    '<pattern id="damp" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect class="hatch" width="1.2" height="9"/></pattern>'
    '<pattern id="wax" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<rect class="hatch" width="5" height="5"/></pattern>'
    "</defs></svg>"
)


@dataclass(frozen=True, slots=True)
class Scale:
    """How large to draw: pixels a metre of shell, and the height of the strip. `zoom` enlarges lines and all."""

    px_per_m: float
    height_px: float
    numbers: bool = False
    zoom: float = 1.0

    def width(self, thickness_m: float) -> float:
        return max(thickness_m * self.px_per_m, THINNEST_PX)


def dry_limit(mould: MouldNow, coat: int) -> float:
    """The saturation under which this coat counts as dry for what is waited for now: next coat, or dewax."""
    step = _step(mould.recipe, coat)
    if mould.stage not in (Stage.FINAL_DRY, Stage.DRY):
        return step.ready_saturation
    water = mould.recipe.final_dry.water_limit * step.dry_density_kg_m3
    return water / (step.porosity * WATER_DENSITY_KG_M3)


def wetness(mould: MouldNow, layer: Layer) -> str:
    """``"dry"``, ``"damp"``, ``"wet"``; ``"to come"``.

    Where how wet it is cannot be told: ``"on"`` while it hangs, ``"given"`` once it has left.
    """
    if layer.saturation is not None:
        return wetness_of(layer.saturation, dry_limit(mould, layer.coat))
    if layer.coat > mould.coats_given:
        return "to come"
    return "given" if mould.ended_at else "on"


def strata(mould: MouldNow, scale: Scale) -> Markup:
    """The strip for one mould. The coat a hand should give now is marked."""
    called = mould.next_coat if mould.stage in (Stage.READY, Stage.TO_DIP) else None
    parts, x = [_wax(scale)], WAX_PX
    for layer in mould.layers:
        width = scale.width(layer.thickness_m)
        state = wetness(mould, layer)
        parts.append(_band(layer, state, x, width, scale, layer.coat == called))
        x += width
    parts += _all_stitches(mould, scale)
    below = 20 if scale.numbers else 0
    return Markup(
        '<svg class="strata" role="img" aria-label="{label}" width="{wide:.3f}rem" height="{tall:.3f}rem" '
        'viewBox="0 0 {w:.1f} {h:.1f}">{parts}</svg>'
    ).format(
        label=described(mould),
        w=x + AIR_PX,
        h=scale.height_px + below,
        wide=(x + AIR_PX) / PX_PER_REM * scale.zoom,
        tall=(scale.height_px + below) / PX_PER_REM * scale.zoom,
        parts=Markup("").join(parts),
    )


def described(mould: MouldNow) -> str:
    """The strip in words, for those who cannot see it."""
    given = [layer for layer in mould.layers if layer.coat <= mould.coats_given]
    words = [say(COAT_IS[wetness(mould, g)], coat=g.coat) for g in given]
    wires = [say("wires on coat {coat}", coat=g.coat) for g in given if g.wires]
    return say_many(
        "Shell: {shell}; {number} coat to come",
        "Shell: {shell}; {number} coats to come",
        mould.coats_total - len(given),
        shell=", ".join(words + wires) or say("bare wax"),
    )


def _step(recipe: Recipe, coat: int) -> CoatStep:
    return recipe.coats[min(coat, len(recipe.coats)) - 1]


def _wax(scale: Scale) -> Markup:
    return Markup('<path class="wax" d="M6,0 {edge} L{x},{h:.0f} {back} Z"/>').format(
        edge=_edge(6, scale.height_px, 0),
        x=WAX_PX,
        h=scale.height_px,
        back=_edge_up(WAX_PX, scale.height_px, 1),
    )


def _band(layer: Layer, state: str, x: float, width: float, scale: Scale, called: bool) -> Markup:
    inner, outer = layer.coat, layer.coat + 1
    shape = Markup("M{x:.1f},0 {down} L{far:.1f},{h:.0f} {up} Z").format(
        x=x,
        down=_edge(x, scale.height_px, inner),
        far=x + width,
        h=scale.height_px,
        up=_edge_up(x + width, scale.height_px, outer),
    )
    number = (
        Markup('<text class="strata-number" x="{x:.1f}" y="{y:.0f}">{n}</text>').format(
            x=x + width / 2, y=scale.height_px + 16, n=layer.coat
        )
        if scale.numbers
        else Markup("")
    )
    kind = f"band {state.replace(' ', '-')}{' called' if called else ''}"
    return Markup('<path class="{kind}" d="{shape}"/>{number}').format(kind=kind, shape=shape, number=number)


def _all_stitches(mould: MouldNow, scale: Scale) -> list[Markup]:
    wanted = mould.coats_given if mould.stage is Stage.TO_WIRE else None
    found, x = [], WAX_PX
    for layer in mould.layers:
        x += scale.width(layer.thickness_m)
        if layer.wires or layer.coat == wanted:
            kind = (
                "called" if layer.coat == wanted else "set" if layer.coat <= mould.coats_given else "to-come"
            )
            found.append(_stitches(x, scale.height_px, kind))
    return found


def _stitches(x: float, height: float, kind: str) -> Markup:
    count = max(int(height // STITCH_GAP_PX), 2)
    gap = height / count
    lines = "".join(f"M{x - 5:.1f},{gap * (i + 0.65):.1f} l10,{-gap * 0.3:.1f} " for i in range(count))
    return Markup('<path class="stitch {kind}" d="{lines}"/>').format(kind=kind, lines=lines)


def _sway(number: int) -> tuple[float, float]:
    """How a coat's edge sways: always the same for the same coat, so that the picture holds still."""
    return ((number * 37) % 11 - 5) / 3, ((number * 53) % 13 - 6) / 3


def _edge(x: float, height: float, number: int) -> str:
    """The boundary inside coat `number`, from top to bottom."""
    a, b = _sway(number)
    return f"C{x + a:.1f},{height / 3:.1f} {x + b:.1f},{height * 2 / 3:.1f} {x:.1f},{height:.1f}"


def _edge_up(x: float, height: float, number: int) -> str:
    a, b = _sway(number)
    return f"C{x + b:.1f},{height * 2 / 3:.1f} {x + a:.1f},{height / 3:.1f} {x:.1f},0"
