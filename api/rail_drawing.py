"""The rail of hours as SVG."""

from __future__ import annotations

from datetime import datetime

from markupsafe import Markup

from api.rail import GAP_W, LEFT, LETTER_W, Clock, Hung, Rail, Spread
from service.local_time import day_mark, hour_mark, hour_marks, local
from service.records.shop_facts import Site
from service.voice import say

TOP = 40.0
LANE_H = 43.0
HOURS_Y = 25.0
SPREAD_H = 9.0
RISES, FALLS, AWAY = "rises", "falls", "away"
FAINT = 0.3
LEAST_BAR_W = 2.0
CLEAR_OF_NOW = 72.0
CLEAR_OF_HOUR = 48.0


def drawn(rail: Rail, site: Site | None, clock: Clock) -> Markup:
    """Hours above the line, what is due hanging below it."""
    height = TOP + 14 + rail.lanes * LANE_H
    parts = [
        _fades(rail),
        *_nights(rail, height),
        *_hours(rail, site),
        *(_window(h) for h in rail.hung),
        *(_spread(h, rail) for h in rail.hung),
        *(_thread(h) for h in rail.hung),
        _line(rail),
        _now(rail, clock, height),
        *(_label(h) for h in rail.hung),
        *_due(rail),
        *_beyond(rail),
    ]
    return Markup(
        '<svg class="rail" role="img" aria-label="{label}" viewBox="0 0 {w:.0f} {h:.0f}">{parts}</svg>'
    ).format(label=described(rail), w=rail.width, h=height, parts=Markup("").join(parts))


def described(rail: Rail) -> str:
    """The rail in words, every mould named."""
    due = [say("{mould} now", mould=name) for name in rail.due]
    hung = [f"{h.bell.name} {h.bell.what} {h.bell.said or h.bell.clock}" for h in rail.hung]
    told = ", ".join([*due, *hung, *rail.beyond])
    return say("What is due: {moulds}", moulds=told) if told else say("What is due: nothing")


def _nights(rail: Rail, height: float) -> list[Markup]:
    shape = Markup('<rect class="night" x="{x:.1f}" y="0" width="{w:.1f}" height="{h:.0f}"/>')
    x = rail.axis.x
    return [shape.format(x=x(a), w=x(b) - x(a), h=height) for a, b in rail.axis.nights]


def _hours(rail: Rail, site: Site | None) -> list[Markup]:
    """Marks for all hours; words where there is room for them, for the rounder hours first."""
    hours = [(rail.axis.x(at), local(at, site)) for at in hour_marks(rail.axis.start, rail.axis.end, site)]
    written = list[float]()
    for x, _ in sorted(hours, key=lambda hour: _roundness(hour[1].hour)):
        clear = all(abs(x - other) >= CLEAR_OF_HOUR for other in written)
        if clear and abs(x - rail.axis.x(rail.now)) >= CLEAR_OF_NOW:
            written.append(x)
    return [_hour(x, shown, _hour_text(shown, site) if x in written else "") for x, shown in hours]


def _roundness(hour: int) -> int:
    """0 for midnight, 1 for noon, and so on: which hour is written where not all have room."""
    return next(i for i, every in enumerate((24, 12, 6, 3, 2, 1)) if hour % every == 0)


def _hour_text(shown: datetime, site: Site | None) -> str:
    return hour_mark(shown, site) if shown.hour else day_mark(shown)


def _hour(x: float, shown: datetime, text: str) -> Markup:
    return Markup(
        '<path class="hour{m}" d="M{x:.1f},{top} v{up}"/>'
        '<text class="hour-text{m}" x="{x:.1f}" y="{y:.0f}">{text}</text>'
    ).format(y=HOURS_Y, m="" if shown.hour else " midnight", x=x, top=TOP, up=-10 if text else -5, text=text)


def _line(rail: Rail) -> Markup:
    return Markup('<path class="rail-line" d="M{x},{y} h{w:.1f}"/>').format(x=LEFT, y=TOP, w=rail.axis.width)


def _base(lane: int) -> float:
    """The baseline of a label's words."""
    return TOP + 37 + lane * LANE_H


def _window(hung: Hung) -> Markup:
    """From when it is due to its longest wait, under its label."""
    if hung.until_x is None or hung.lane is None:
        return Markup("")
    return Markup('<path class="window" d="M{x:.1f},{y:.1f} H{to:.1f} v-8"/>').format(
        x=hung.x, y=_base(hung.lane) + 11, to=hung.until_x
    )


def _spread(hung: Hung, rail: Rail) -> Markup:
    """From when it may be ready to when it surely is, under its label: darkest where it is as likely as not.

    Where no end is known it fades out.
    """
    if hung.spread is None or hung.lane is None:
        return Markup("")
    bar, y = hung.spread, _base(hung.lane) + 11 - SPREAD_H / 2
    if hung.bell.guessed:
        return _outlined(bar, y)
    after = AWAY if bar.open else FALLS
    halves = ((RISES, bar.left, bar.likely), (after, bar.likely, max(bar.right, bar.likely + LEAST_BAR_W)))
    shape = Markup(
        '<rect class="spread" fill="url(#{fill}-{rail})" x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.0f}"/>'
    )
    return Markup("").join(
        shape.format(fill=fill, rail=_mark(rail), x=left, y=y, w=right - left, h=SPREAD_H)
        for fill, left, right in halves
        if right > left
    )


def _outlined(bar: Spread, y: float) -> Markup:
    """Dashed where it rests on air that nobody measured; without an end it stays open."""
    return Markup(
        '<path class="spread guessed" d="M{r:.1f},{y:.1f} H{l:.1f} v{h:.0f} H{r:.1f}{close}"/>'
    ).format(r=bar.right, l=bar.left, y=y, h=SPREAD_H, close="" if bar.open else " z")


def _fades(rail: Rail) -> Markup:
    """How dark a bar is from end to end. Named by the rail: two of them are on a page."""
    shape = Markup(
        '<linearGradient id="{name}-{rail}"><stop class="fade" offset="0" stop-opacity="{a}"/>'
        '<stop class="fade" offset="1" stop-opacity="{b}"/></linearGradient>'
    )
    every = ((RISES, FAINT, 1), (FALLS, 1, FAINT), (AWAY, 1, 0))
    drawn = Markup("").join(shape.format(name=name, rail=_mark(rail), a=a, b=b) for name, a, b in every)
    return Markup("<defs>{}</defs>").format(drawn)


def _mark(rail: Rail) -> str:
    return f"{rail.width:.0f}"


def _guessed(hung: Hung) -> str:
    """Dashed where the hour rests on air that nobody measured."""
    return " guessed" if hung.bell.guessed else ""


def _thread(hung: Hung) -> Markup:
    foot = TOP if hung.lane is None else _base(hung.lane) + 11
    thread = Markup('<path class="thread" d="M{x:.1f},{top} V{y:.1f}"/>').format(x=hung.x, top=TOP, y=foot)
    bell = Markup('<path class="bell{g}" d="{bell}"/>').format(g=_guessed(hung), bell=_bell_shape(hung.x))
    return thread + bell if hung.bell.rings else thread


def _bell_shape(x: float) -> str:
    return f"M{x - 9:.1f},{TOP + 16:.1f} q2.6,-4 3.1,-10.4 q5.9,-7.8 11.8,0 q0.5,6.4 3.1,10.4 z"


def _label(hung: Hung) -> Markup:
    if hung.lane is None:
        return Markup("")
    return Markup(
        '<text class="bell-text" x="{x:.1f}" y="{y:.1f}">{name} <tspan class="bell-clock">{rest}</tspan></text>'
    ).format(x=hung.label_x + 7, y=_base(hung.lane), name=hung.bell.name, rest=hung.text)


def _now(rail: Rail, clock: Clock, height: float) -> Markup:
    x, text = rail.axis.x(rail.now), clock(rail.now)
    return Markup(
        '<path class="now-line" d="M{x:.1f},29 V{h:.0f}"/><text class="now-text" x="{tx:.1f}" y="{y:.0f}">{text}</text>'
    ).format(y=HOURS_Y, x=x, h=height, tx=max(x, len(text) * LETTER_W / 2), text=text)


def _due(rail: Rail) -> list[Markup]:
    shape = Markup('<text class="due-text" x="{x:.1f}" y="{y:.0f}">{text}</text>')
    return [shape.format(x=rail.axis.x(rail.now) + 9, y=_base(0), text=rail.due_text)] if rail.due else []


def _beyond(rail: Rail) -> list[Markup]:
    """At the right: no hour, or later than the rail is long."""
    if not rail.beyond:
        return []
    x = LEFT + rail.axis.width + GAP_W
    shape = Markup('<text class="beyond" x="{x:.0f}" y="{y:.0f}">{t}</text>')
    head = Markup('<text class="beyond-head" x="{x:.0f}" y="{y:.0f}">{t}</text>').format(
        x=x, y=HOURS_Y, t=say("no hour, or later")
    )
    return [head, *(shape.format(x=x, y=_base(i), t=text) for i, text in enumerate(rail.beyond_lines))]
