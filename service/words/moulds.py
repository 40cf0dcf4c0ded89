"""A mould in sentences: what is to be done, when, and what is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.drying.air import FREEZING_K
from service.local_time import clock_time, date_and_time, seconds_between, span
from service.records.recipes import CoatKind
from service.records.shop_facts import Site
from service.room.estimate import FORECAST_S, NEXT_DIP_S
from service.room.views import MouldNow, NotAtThisHumidity, Stage, ZoneNow
from service.units import Dimension, Units, show_apart
from service.words.air import guessing_line
from service.words.numbers import percent, temperature, water_share
from service.words.problems import wrong_line
from service.words.results import result_question, result_wanted, verdict_line

WAITING = (Stage.DRYING, Stage.FINAL_DRY)
MOST_NAMES = 8


def tank_words(tank: str) -> str:
    """``the grey tank`` from ``grey`` or ``grey tank``; ``tank 2`` from ``2`` or ``tank 2``."""
    name = tank.strip()
    if name.isdigit():
        return f"tank {name}"
    if name.lower().endswith("tank"):
        return f"the {name}"
    return name if "tank" in name.lower() else f"the {name} tank"


def hook_words(hook: str) -> str:
    """``hook 4`` from ``4``; any other name as it is."""
    return f"hook {hook.strip()}" if hook.strip().isdigit() else hook.strip()


def coat_words(mould: MouldNow) -> str:
    """The next coat: ``coat 5 of 9, backup``. Empty once all coats are on."""
    if mould.next_coat is None:
        return ""
    kind = f", {mould.next_kind}" if mould.next_kind else ""
    return f"coat {mould.next_coat} of {mould.coats_total}{kind}"


def next_dip(mould: MouldNow) -> str:
    """``coat 5 of 9, backup, from the grey tank``. Empty once all coats are on."""
    tank = f", from {tank_words(mould.next_tank)}" if mould.next_tank else ""
    return f"{coat_words(mould)}{tank}" if mould.next_coat else ""


def coats_on(mould: MouldNow) -> str:
    """``4 of 9 coats on``."""
    return f"{mould.coats_given} of {mould.coats_total} coats on"


def too_soon_for_dewax(mould: MouldNow) -> str:
    """What speaks against the dewax of a mould that hangs: coats that are missing, or a shell still drying."""
    if mould.stage in (Stage.DRY, Stage.ENDED):
        return ""
    if mould.coats_given < mould.coats_total:
        return f"Only {coats_on(mould)}."
    return "Not dry enough for dewax yet, as far as anything is known."


def headline(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """One line for the board: ``Heron: coat 5 of 9, backup, from the grey tank, 14:20``."""
    return f"{mould.name}: {_headline(mould, site, now)}"


def what_now(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """The next right thing to do: ``Dip coat 5 of 9, backup, grey tank``, ``Wait until 14:20``."""
    if mould.stage is Stage.ENDED:
        return result_question(mould) if result_wanted(mould) else verdict_line(mould)
    if mould.stage in WAITING:
        return _wait(mould, site, now)
    again = "Feel it again, then " if mould.hand_check == "still damp" else ""
    order = f"{again}{_order(mould)}"
    return order[0].upper() + order[1:]


def notices(mould: MouldNow, site: Site | None, now: datetime) -> list[str]:
    """Everything in the way of the next step or worth knowing before it, the weightiest first."""
    lines = [
        frost_line(mould),
        wrong_line(mould, site, now),
        hand_check_line(mould, site, now),
        longest_wait_line(mould, site, now) if _is_past(mould.longest_wait_until, now) else None,
        never_line(mould),
        wires_line(mould),
        least_wait_line(mould, site, now),
        _held_line(mould, now),
        _unknown_line(mould),
        notebook_line(mould),
        longest_wait_line(mould, site, now) if not _is_past(mould.longest_wait_until, now) else None,
        unmeasured_line(mould, now),
        guessing_line(mould.guessing_since, now) if mould.stage in WAITING else None,
    ]
    return [line for line in lines if line]


def obstacle(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """What is most in the way, if anything."""
    lines = notices(mould, site, now)
    return lines[0] if lines else None


def never_line(mould: MouldNow) -> str | None:
    """``Not at this humidity: 78 % forecast. Needs under 63 %; at 53 % it is ready in 5 h``."""
    never = mould.never
    if never is None or mould.stage not in WAITING:
        return None
    what = "dry" if mould.stage is Stage.FINAL_DRY else "ready"
    air, limit = _humidities(never)
    better = f"at {percent(never.would_do_humidity)} it is {what} in {span(never.would_do_s)}"
    return f"Not at this humidity: {air} forecast. Needs under {limit}; {better}"


def frost_line(mould: MouldNow) -> str | None:
    """Where a face is below freezing: the drying is reckoned for water, and ice does more harm than that."""
    frozen = [zone for zone in mould.zones if zone.surface_temperature_k < FREEZING_K]
    if not frozen or mould.stage is Stage.ENDED:
        return None
    return "Below freezing: a wet shell freezes and cracks, and no estimate holds"


def least_wait_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``The recipe asks for a wait until 14:20``, where that wait is what is waited for."""
    least = mould.least_wait_until
    if least is None or least <= now or mould.stage not in WAITING:
        return None
    if mould.due_at is not None and least < mould.due_at:
        return None
    return f"The recipe asks for a wait until {clock_time(least, site, now)}"


def longest_wait_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``Dip before 16:00, the longest wait for this coat``, or since when that has passed."""
    longest = mould.longest_wait_until
    if longest is None or mould.next_coat is None or mould.stage in (Stage.TO_DIP, Stage.ENDED):
        return None
    if longest > now:
        return f"Dip before {clock_time(longest, site, now)}, the longest wait for this coat"
    look = "look for lifted or cracked prime" if newest_kind(mould) is CoatKind.PRIME else "look it over"
    return f"Past its longest wait since {clock_time(longest, site, now)}: {look} before you dip"


def wires_line(mould: MouldNow) -> str | None:
    """``Reinforcement wire goes on coat 4 first``."""
    if not mould.wires_due or mould.stage in (Stage.ENDED, Stage.DRY):
        return None
    where = next((w for w in _wire_places(mould) if w), "")
    return f"Reinforcement wire goes on coat {mould.coats_given} first{f': {where}' if where else ''}"


def hand_check_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """Where hand and estimate differ: ``Felt still damp at 13:10; the estimate says dry: wait``."""
    at = f" at {clock_time(mould.hand_check_at, site, now)}" if mould.hand_check_at else ""
    reckoned = reckoned_dry(mould, now)
    if mould.hand_check == "still damp" and reckoned:
        todo = "wait" if mould.stage in WAITING else "feel it again"
        return f"Felt still damp{at}; the estimate says dry: {todo}"
    if mould.hand_check == "dry" and mould.stage in WAITING and not reckoned:
        return f"Felt dry{at}; the estimate says still damp inside: wait, and feel the deepest place"
    return None


def unmeasured_line(mould: MouldNow, now: datetime) -> str | None:
    """``No air measured for 5 h of this wait: reckoned as if it had been like the rest``.

    None where the silence of now is all there is to it, and said already.
    """
    guessed_s = seconds_between(mould.guessing_since, now) if mould.guessing_since else 0.0
    said = mould.stage in WAITING and guessed_s >= mould.unmeasured_s
    if not mould.unmeasured_s or said or mould.stage is Stage.ENDED:
        return None
    return f"No air measured for {span(mould.unmeasured_s)} of this wait: reckoned as if it had been like the rest"


def reckoned_dry(mould: MouldNow, now: datetime) -> bool:
    """Whether the estimate alone, whatever a hand felt, says that what is waited for is reached in every zone."""
    if mould.stage not in WAITING:
        return mould.stage in (Stage.TO_WIRE, Stage.READY, Stage.DRY)
    final = mould.stage is Stage.FINAL_DRY
    reached = [zone.dry_at if final else zone.ready_at for zone in mould.zones]
    return bool(reached) and all(_is_past(at, now) for at in reached)


def reckoned_roughly(mould: MouldNow) -> bool:
    """Whether its hour rests on air that nobody measured."""
    return mould.guessing_since is not None or mould.unmeasured_s > 0.0


def rough_mark(mould: MouldNow) -> str:
    """``~`` before an hour that rests on air that nobody measured."""
    return "~" if reckoned_roughly(mould) else ""


def newest_kind(mould: MouldNow) -> CoatKind | None:
    """The kind of the newest coat that is on."""
    coats = mould.recipe.coats
    return coats[mould.coats_given - 1].kind if 0 < mould.coats_given <= len(coats) else None


def wetness(saturation: float, ready: float = 0.35) -> str:
    """How a coat this full of water feels: ``wet``, ``damp``, or ``dry`` from the recipe's limit down."""
    if saturation <= ready:
        return "dry"
    return "wet" if saturation > 0.7 else "damp"


def zone_line(zone: ZoneNow, mould: MouldNow, site: Site | None, now: datetime) -> str:
    """``newest coat 41 % full of water, face 15.8 °C; ready 10:51``; once all coats are on, the water in the shell."""
    if zone.newest_saturation is None:
        return "bare wax"
    if mould.next_coat:
        water = f"newest coat {percent(zone.newest_saturation)} full of water"
        at, reached = zone.ready_at, "ready"
    else:
        limit = 100 * mould.recipe.final_dry.water_limit
        water = f"shell {water_share(zone.water_share)} water by weight, dry enough at {limit:g} %"
        at, reached = zone.dry_at, "dry through"
    when = f"; {reached} {'since ' if at <= now else ''}{clock_time(at, site, now)}" if at else ""
    return f"{water}, face {temperature(zone.surface_temperature_k, site)}{when}"


def unworkable_line(names: Sequence[str], all_of_them: bool) -> str:
    """``Heron cannot be worked out: look whether its sizes and its recipe are right``."""
    its = "its sizes and its recipe" if len(names) == 1 else "their sizes and their recipes"
    besides = ", and the numbers in drying.toml," if all_of_them else ""
    rest = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return (
        f"{', '.join(names[:MOST_NAMES])}{rest} cannot be worked out: look whether {its}{besides} are right"
    )


def wanted_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``Wanted by Fri 12 Dec 14:20``, ``Was wanted by Tue 9 Dec 12:00``."""
    if mould.wanted_by is None:
        return None
    start = "Was wanted" if _is_past(mould.wanted_by, now) else "Wanted"
    return f"{start} by {date_and_time(mould.wanted_by, site, now)}"


def _headline(mould: MouldNow, site: Site | None, now: datetime) -> str:
    if mould.stage is Stage.ENDED:
        when = f" {clock_time(mould.ended_at, site, now)}" if mould.ended_at else ""
        came_out = verdict_line(mould)
        return (
            f"{mould.outcome or 'ended'}{when}{f', {came_out[0].lower()}{came_out[1:]}' if came_out else ''}"
        )
    if mould.stage is Stage.DRY:
        return f"ready for dewax{_since(mould, site, now)}"
    if mould.stage is Stage.FINAL_DRY:
        return f"all {mould.coats_total} coats on, dry for dewax {_when(mould, site, now)}"
    if mould.stage is Stage.TO_WIRE:
        return f"wires on coat {mould.coats_given}, then {next_dip(mould)}"
    if mould.stage is Stage.TO_DIP:
        return f"{next_dip(mould)}, now"
    if mould.stage is Stage.READY:
        return f"{next_dip(mould)}, ready{_since(mould, site, now)}"
    return f"{next_dip(mould)}, {_when(mould, site, now)}"


def _when(mould: MouldNow, site: Site | None, now: datetime) -> str:
    if mould.due_at is not None:
        return clock_time(mould.due_at, site, now) if mould.due_at > now else "any minute"
    if mould.never is not None:
        return "not at this humidity"
    if mould.unworkable:
        return "cannot be worked out"
    return f"not within {_looked_ahead(mould)}" if mould.zones else "no air measured yet"


def _since(mould: MouldNow, site: Site | None, now: datetime) -> str:
    past = mould.due_at is not None and mould.due_at <= now
    return f" since {clock_time(mould.due_at, site, now)}" if past and mould.due_at else ""


def _wait(mould: MouldNow, site: Site | None, now: datetime) -> str:
    if mould.due_at is not None:
        about = "about " if reckoned_roughly(mould) else ""
        soon = mould.due_at <= now
        return (
            "Wait: ready any minute" if soon else f"Wait until {about}{clock_time(mould.due_at, site, now)}"
        )
    if mould.never is not None:
        return f"Get the air drier: under {_humidities(mould.never)[1]}"
    return "Wait: no end in sight" if mould.zones else "Wait, and go by the feel of it"


def _order(mould: MouldNow) -> str:
    if mould.stage is Stage.DRY:
        return "ready for dewax" if mould.hand_check != "still damp" else "dewax"
    if mould.wires_due or mould.stage is Stage.TO_WIRE:
        return f"set the wires{f', then dip coat {mould.next_coat}' if mould.next_coat else ''}"
    tank = f", {tank_words(mould.next_tank).removeprefix('the ')}" if mould.next_tank else ""
    return f"dip {coat_words(mould)}{tank}"


def _held_line(mould: MouldNow, now: datetime) -> str | None:
    """Not where a hand or the recipe alone is what is waited for."""
    waits = mould.stage in WAITING and len(mould.zones) > 1 and not reckoned_dry(mould, now)
    return f"Waiting for the slowest place: {mould.held_by}" if waits and mould.held_by else None


def _unknown_line(mould: MouldNow) -> str | None:
    if mould.stage not in WAITING or mould.due_at is not None or mould.never is not None:
        return None
    if mould.from_notebook:
        return "Nothing is worked out for a mould from the notebook: feel the shell"
    if mould.unworkable:
        return unworkable_line([mould.name], False)
    if not mould.zones:
        return "No air measured yet: without it nobody can reckon when it is ready"
    return f"{not_within_line(mould)}. If that surprises you, look whether its sizes are right"


def not_within_line(mould: MouldNow) -> str:
    """``Not ready within 3 days in this air``: as far as is looked ahead."""
    what = "ready" if mould.next_coat else "dry"
    return f"Not {what} within {_looked_ahead(mould)} in this air"


def notebook_line(mould: MouldNow) -> str | None:
    """What is known of a mould that an older notebook tells of."""
    if not mould.from_notebook:
        return None
    return "From the notebook: no air was measured, and its days are as somebody wrote them down"


def _looked_ahead(mould: MouldNow) -> str:
    return span(NEXT_DIP_S if mould.next_coat else FORECAST_S)


def _wire_places(mould: MouldNow) -> list[str]:
    """Where the recipe wants wire on the newest coat."""
    given, places = 0, []
    for step in mould.recipe.steps:
        if step.step == "coat":
            given += 1
        elif step.step == "reinforcement wire" and given == mould.coats_given:
            places.append(step.where)
    return places


def _humidities(never: NotAtThisHumidity) -> tuple[str, str]:
    """Humidity of the air to come, on average, and the one needed."""
    return show_apart(never.air_humidity, never.needs_below, Dimension.FRACTION, Units.METRIC)


def _is_past(at: datetime | None, now: datetime) -> bool:
    return at is not None and at <= now
