"""Whether a room's air suits the coats that hang in it, in sentences."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial

from service.held import Held
from service.records.recipes import AirLimits, CoatKind
from service.room.progress import Progress
from service.room.views import AirWrong
from service.units import Dimension, Units, show_apart
from service.voice import later, say, voice


def prime_on(moulds: Iterable[Progress]) -> list[Progress]:
    """The moulds whose newest coat is a prime: not buried yet, so the room must be held steady for them."""
    return [
        p
        for p in moulds
        if p.last_step is not None and p.last_step.kind is CoatKind.PRIME and p.ended is None
    ]


def largest_swing_k(moulds: Sequence[Progress]) -> float | None:
    """The tightest swing that the prime coats now on can stand, by their recipes."""
    swings = [p.recipe.prime_air.largest_swing_k for p in prime_on(moulds)]
    asked = [swing for swing in swings if swing is not None]
    return min(asked) if asked else None


def out_of_limits(
    moulds: Sequence[Progress], temperature_k: float, humidity: float, units: Units
) -> tuple[str, ...]:
    """What is wrong with the air for the coats that are on, each said once."""
    said = (
        words
        for who, limits in _asked(moulds)
        for words in _said(who, limits, temperature_k, humidity, units)
    )
    return tuple(dict.fromkeys(said))


def asked_air(moulds: Sequence[Progress]) -> AirLimits | None:
    """The air that suits every coat that is on: the narrowest of all limits. None where nothing asks for any."""
    asked = [limits for _, limits in _asked(moulds)]
    if not asked:
        return None
    return AirLimits(
        lowest_temperature_k=_most(limits.lowest_temperature_k for limits in asked),
        highest_temperature_k=_least(limits.highest_temperature_k for limits in asked),
        lowest_humidity=_most(limits.lowest_humidity for limits in asked),
        highest_humidity=_least(limits.highest_humidity for limits in asked),
        largest_swing_k=largest_swing_k(moulds),
    )


def _most(limits: Iterable[float | None]) -> float | None:
    return max((limit for limit in limits if limit is not None), default=None)


def _least(limits: Iterable[float | None]) -> float | None:
    return min((limit for limit in limits if limit is not None), default=None)


def _asked(moulds: Sequence[Progress]) -> list[tuple[CoatKind, AirLimits]]:
    primed = prime_on(moulds)
    backed = [p for p in moulds if p.dips and p not in primed and p.ended is None]
    return [(CoatKind.PRIME, p.recipe.prime_air) for p in primed] + [
        (CoatKind.BACKUP, p.recipe.backup_air) for p in backed
    ]


TOO = {
    (AirWrong.TOO_WARM, CoatKind.PRIME): later("Too warm for prime coats: {now}, wanted at most {wanted}"),
    (AirWrong.TOO_COLD, CoatKind.PRIME): later("Too cold for prime coats: {now}, wanted at least {wanted}"),
    (AirWrong.TOO_DAMP, CoatKind.PRIME): later("Too damp for prime coats: {now}, wanted at most {wanted}"),
    (AirWrong.TOO_DRY, CoatKind.PRIME): later("Too dry for prime coats: {now}, wanted at least {wanted}"),
    (AirWrong.TOO_WARM, CoatKind.BACKUP): later("Too warm for backup coats: {now}, wanted at most {wanted}"),
    (AirWrong.TOO_COLD, CoatKind.BACKUP): later("Too cold for backup coats: {now}, wanted at least {wanted}"),
    (AirWrong.TOO_DAMP, CoatKind.BACKUP): later("Too damp for backup coats: {now}, wanted at most {wanted}"),
    (AirWrong.TOO_DRY, CoatKind.BACKUP): later("Too dry for backup coats: {now}, wanted at least {wanted}"),
}
AT_MOST = (AirWrong.TOO_WARM, AirWrong.TOO_DAMP)


def _said(
    kind: CoatKind, limits: AirLimits, temperature_k: float, humidity: float, units: Units
) -> Iterable[str]:
    warm, damp = Dimension.TEMPERATURE, Dimension.FRACTION
    checked = (
        (AirWrong.TOO_WARM, warm, temperature_k, limits.highest_temperature_k),
        (AirWrong.TOO_COLD, warm, temperature_k, limits.lowest_temperature_k),
        (AirWrong.TOO_DAMP, damp, humidity, limits.highest_humidity),
        (AirWrong.TOO_DRY, damp, humidity, limits.lowest_humidity),
    )
    for wrong, dimension, value, limit in checked:
        if limit is not None and (value > limit if wrong in AT_MOST else value < limit):
            yield Held(partial(_line, TOO[wrong, kind], value, limit, dimension, units))


def _line(text: str, value: float, limit: float, dimension: Dimension, units: Units) -> str:
    now, wanted = show_apart(value, limit, dimension, voice().units or units)
    return say(text, now=now, wanted=wanted)
