"""A mould in sentences: what is to be done, when, and what is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.drying.air import FREEZING_K
from service.listed import capital
from service.local_time import clock_time, date_and_time, seconds_between, span
from service.records.facts import NO_TANK
from service.records.recipes import CoatKind
from service.records.shop_facts import Site
from service.room.estimate import FORECAST_S, NEXT_DIP_S
from service.room.views import MouldNow, NotAtThisHumidity, Stage, ZoneNow
from service.terms import term
from service.units import Dimension, Units, show_apart
from service.voice import later, say, say_many
from service.words.air import guessing_line
from service.words.due import WAITING, due_range, has_hour, likely_at, range_of
from service.words.numbers import percent, temperature, water_share
from service.words.problems import wrong_line
from service.words.results import result_question, result_wanted, verdict_line

MOST_NAMES = 8


def tank_words(tank: str) -> str:
    """``the grey tank`` from ``grey`` or ``grey tank``; ``tank 2`` from ``2`` or ``tank 2``."""
    name = tank.strip()
    if name.isdigit():
        return say("tank {name}", name=name)
    if name == NO_TANK:
        return say(NO_TANK)
    if _is_whole(name):
        return say("the {tank}", tank=name)
    return name if "tank" in name.lower() else say("the {name} tank", name=name)


def bare_tank(tank: str) -> str:
    """The same without its article: ``grey tank``."""
    name = tank.strip()
    if name.isdigit():
        return say("tank {name}", name=name)
    if name == NO_TANK:
        return say(NO_TANK)
    return name if _is_whole(name) or "tank" in name.lower() else say("{name} tank", name=name)


def _is_whole(name: str) -> bool:
    """Whether somebody called it a tank already, in English or in the language that is spoken."""
    word = say("tank").lower()
    return name.lower().endswith("tank") or (word != "tank" and word in name.lower())


def hook_words(hook: str) -> str:
    """``hook 4`` from ``4``; any other name as it is."""
    return say("hook {hook}", hook=hook.strip()) if hook.strip().isdigit() else hook.strip()


def coat_words(mould: MouldNow) -> str:
    """The next coat: ``coat 5 of 9, backup``. Empty once all coats are on."""
    if mould.next_coat is None:
        return ""
    if not mould.next_kind:
        return say(
            "coat {next_coat} of {coats_total}", next_coat=mould.next_coat, coats_total=mould.coats_total
        )
    kind = term(mould.next_kind)
    return say(
        "coat {next_coat} of {coats_total}, {kind}",
        next_coat=mould.next_coat,
        coats_total=mould.coats_total,
        kind=kind,
    )


def next_dip(mould: MouldNow) -> str:
    """``coat 5 of 9, backup, from the grey tank``. Empty once all coats are on."""
    coat = coat_words(mould)
    return (
        say("{coat}, from {next_tank}", coat=coat, next_tank=tank_words(mould.next_tank))
        if coat and mould.next_tank
        else coat
    )


def coats_on(mould: MouldNow) -> str:
    """``4 of 9 coats on``."""
    return say(
        "{coats_given} of {coats_total} coats on",
        coats_given=mould.coats_given,
        coats_total=mould.coats_total,
    )


def too_soon_for_dewax(mould: MouldNow) -> str:
    """What speaks against the dewax of a mould that hangs: coats that are missing, or a shell still drying."""
    if mould.stage in (Stage.DRY, Stage.ENDED):
        return ""
    if mould.coats_given < mould.coats_total:
        return say(
            "Only {coats_given} of {coats_total} coats on.",
            coats_given=mould.coats_given,
            coats_total=mould.coats_total,
        )
    return say("Not dry enough for dewax yet, as far as anything is known.")


def headline(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """One line: ``Heron: coat 5 of 9, backup, from the grey tank, about 14:20, surely by 15:10``."""
    return f"{mould.name}: {_headline(mould, site, now)}"


def what_now(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """The next right thing to do: ``Dip coat 5 of 9, backup, grey tank``, ``Wait: about 14:20, surely by 15:10``."""
    if mould.stage is Stage.ENDED:
        return result_question(mould) if result_wanted(mould) else verdict_line(mould)
    if mould.stage in WAITING:
        return _wait(mould, site, now)
    order = _order(mould)
    return capital(
        say("feel it again, then {order}", order=order) if mould.hand_check == "still damp" else order
    )


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
    air, limit = _humidities(never)
    better, how_long = percent(never.would_do_humidity), span(never.would_do_s)
    if mould.stage is Stage.FINAL_DRY:
        return say(
            "Not at this humidity: {air} forecast. Needs under {limit}; at {better} it is dry in {how_long}",
            air=air,
            limit=limit,
            better=better,
            how_long=how_long,
        )
    return say(
        "Not at this humidity: {air} forecast. Needs under {limit}; at {better} it is ready in {how_long}",
        air=air,
        limit=limit,
        better=better,
        how_long=how_long,
    )


def frost_line(mould: MouldNow) -> str | None:
    """Where a face is below freezing: the drying is reckoned for water, and ice does more harm than that."""
    frozen = [zone for zone in mould.zones if zone.surface_temperature_k < FREEZING_K]
    if not frozen or mould.stage is Stage.ENDED:
        return None
    return say("Below freezing: a wet shell freezes and cracks, and no estimate holds")


def least_wait_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``The recipe asks for a wait until 14:20``, where that wait is what is waited for."""
    least = mould.least_wait_until
    if least is None or least <= now or mould.stage not in WAITING:
        return None
    if mould.due_at is not None and least < mould.due_at:
        return None
    return say("The recipe asks for a wait until {least}", least=clock_time(least, site, now))


def longest_wait_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``Dip before 16:00, the longest wait for this coat``, or since when that has passed."""
    longest = mould.longest_wait_until
    if longest is None or mould.next_coat is None or mould.stage in (Stage.TO_DIP, Stage.ENDED):
        return None
    if longest > now:
        return say(
            "Dip before {longest}, the longest wait for this coat", longest=clock_time(longest, site, now)
        )
    since = clock_time(longest, site, now)
    if newest_kind(mould) is CoatKind.PRIME:
        return say(
            "Past its longest wait since {since}: look for lifted or cracked prime before you dip",
            since=since,
        )
    return say("Past its longest wait since {since}: look it over before you dip", since=since)


def wires_line(mould: MouldNow) -> str | None:
    """``Reinforcement wire goes on coat 4 first``."""
    if not mould.wires_due or mould.stage in (Stage.ENDED, Stage.DRY):
        return None
    where = next((w for w in _wire_places(mould) if w), "")
    if where:
        return say(
            "Reinforcement wire goes on coat {coats_given} first: {where}",
            coats_given=mould.coats_given,
            where=where,
        )
    return say("Reinforcement wire goes on coat {coats_given} first", coats_given=mould.coats_given)


def hand_check_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """Where hand and estimate differ: ``Felt still damp at 13:10; the estimate says dry: wait``."""
    reckoned = reckoned_dry(mould, now)
    if mould.hand_check == "still damp" and reckoned:
        felt = _felt(mould, later("Felt still damp"), later("Felt still damp at {time}"), site, now)
        if mould.stage in WAITING:
            return say("{felt}; the estimate says dry: wait", felt=felt)
        return say("{felt}; the estimate says dry: feel it again", felt=felt)
    if mould.hand_check == "dry" and mould.stage in WAITING and not reckoned:
        felt = _felt(mould, later("Felt dry"), later("Felt dry at {time}"), site, now)
        if _is_past(likely_at(mould), now):
            return say("{felt}; the estimate is not sure yet: feel the deepest place", felt=felt)
        return say("{felt}; the estimate says still damp inside: wait, and feel the deepest place", felt=felt)
    return None


def _felt(mould: MouldNow, plain: str, timed: str, site: Site | None, now: datetime) -> str:
    at = mould.hand_check_at
    return say(timed, time=clock_time(at, site, now)) if at else say(plain)


def unmeasured_line(mould: MouldNow, now: datetime) -> str | None:
    """``No air measured for 5 h of this wait: reckoned as if it had been like the rest``.

    None where the silence of now is all there is to it, and said already.
    """
    guessed_s = seconds_between(mould.guessing_since, now) if mould.guessing_since else 0.0
    said = mould.stage in WAITING and guessed_s >= mould.unmeasured_s
    if not mould.unmeasured_s or said or mould.stage is Stage.ENDED:
        return None
    return say(
        "No air measured for {unmeasured_s} of this wait: reckoned as if it had been like the rest",
        unmeasured_s=span(mould.unmeasured_s),
    )


def reckoned_dry(mould: MouldNow, now: datetime) -> bool:
    """Whether the estimate alone, whatever a hand felt, says that what is waited for is reached in every zone."""
    if mould.stage not in WAITING:
        return mould.stage in (Stage.TO_WIRE, Stage.READY, Stage.DRY)
    final = mould.stage is Stage.FINAL_DRY
    reached = [zone.dry_at if final else zone.ready_at for zone in mould.zones]
    in_doubt = range_of(mould, now) is not None
    return bool(reached) and all(_is_past(at, now) for at in reached) and not in_doubt


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
    """How a coat this full of water feels: ``wet``, ``damp``, or ``dry`` from the recipe's limit down.

    It names drawings and colours too, so it stays as it is in every language; `term` says it.
    """
    if saturation <= ready:
        return "dry"
    return "wet" if saturation > 0.7 else "damp"


def zone_line(zone: ZoneNow, mould: MouldNow, site: Site | None, now: datetime) -> str:
    """``newest coat 41 % full of water, face 15.8 °C; ready 10:51``; once all coats are on, the water in the shell."""
    if zone.newest_saturation is None:
        return say("bare wax")
    face = temperature(zone.surface_temperature_k, site)
    if mould.next_coat:
        water = say(
            "newest coat {newest_saturation} full of water, face {face}",
            newest_saturation=percent(zone.newest_saturation),
            face=face,
        )
        reached = _reached(zone.ready_at, later("ready {time}"), later("ready since {time}"), site, now)
    else:
        limit = 100 * mould.recipe.final_dry.water_limit
        share = water_share(zone.water_share)
        water = say(
            "shell {share} water by weight, dry enough at {limit:g} %, face {face}",
            share=share,
            limit=limit,
            face=face,
        )
        reached = _reached(
            zone.dry_at, later("dry through {time}"), later("dry through since {time}"), site, now
        )
    return f"{water}; {reached}" if reached else water


def _reached(at: datetime | None, to_come: str, past: str, site: Site | None, now: datetime) -> str:
    return say(past if at <= now else to_come, time=clock_time(at, site, now)) if at else ""


def unworkable_line(names: Sequence[str], all_of_them: bool) -> str:
    """``Heron cannot be worked out: look whether its sizes and its recipe are right``."""
    if all_of_them:
        return say_many(
            "{names} cannot be worked out: look whether its sizes and its recipe, and the numbers in drying.toml, "
            "are right",
            "{names} cannot be worked out: look whether their sizes and their recipes, and the numbers in drying.toml, "
            "are right",
            len(names),
            names=_some(names),
        )
    return say_many(
        "{names} cannot be worked out: look whether its sizes and its recipe are right",
        "{names} cannot be worked out: look whether their sizes and their recipes are right",
        len(names),
        names=_some(names),
    )


def _some(names: Sequence[str]) -> str:
    first, rest = ", ".join(names[:MOST_NAMES]), len(names) - MOST_NAMES
    return say("{first} and {rest} more", first=first, rest=rest) if rest > 0 else first


def wanted_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``Wanted by Fri 12 Dec 14:20``, ``Was wanted by Tue 9 Dec 12:00``."""
    if mould.wanted_by is None:
        return None
    when = date_and_time(mould.wanted_by, site, now)
    return (
        say("Was wanted by {when}", when=when)
        if _is_past(mould.wanted_by, now)
        else say("Wanted by {when}", when=when)
    )


def _headline(mould: MouldNow, site: Site | None, now: datetime) -> str:
    if mould.stage is Stage.ENDED:
        outcome = term(mould.outcome or Stage.ENDED)
        when = clock_time(mould.ended_at, site, now) if mould.ended_at else ""
        came_out = verdict_line(mould)
        left = " ".join(part for part in (outcome, when) if part)
        return ", ".join(part for part in (left, came_out[:1].lower() + came_out[1:]) if part)
    if mould.stage is Stage.DRY:
        since = _since(mould, site, now)
        return say("ready for dewax since {since}", since=since) if since else say("ready for dewax")
    if mould.stage is Stage.FINAL_DRY:
        return say(
            "all {coats_total} coats on, dry for dewax {when}",
            coats_total=mould.coats_total,
            when=_when(mould, site, now),
        )
    if mould.stage is Stage.TO_WIRE:
        return say(
            "wires on coat {coats_given}, then {next_dip}",
            coats_given=mould.coats_given,
            next_dip=next_dip(mould),
        )
    if mould.stage is Stage.TO_DIP:
        return say("{next_dip}, now", next_dip=next_dip(mould))
    if mould.stage is Stage.READY:
        since, coat = _since(mould, site, now), next_dip(mould)
        return (
            say("{coat}, ready since {since}", coat=coat, since=since)
            if since
            else say("{coat}, ready", coat=coat)
        )
    return ", ".join((next_dip(mould), _when(mould, site, now)))


def _when(mould: MouldNow, site: Site | None, now: datetime) -> str:
    in_doubt = due_range(mould, site, now)
    if in_doubt:
        return in_doubt
    if mould.due_at is not None:
        return clock_time(mould.due_at, site, now) if mould.due_at > now else say("any minute")
    if mould.never is not None:
        return say("not at this humidity")
    if mould.unworkable:
        return say("cannot be worked out")
    return (
        say("not within {looked_ahead}", looked_ahead=_looked_ahead(mould))
        if mould.zones
        else say("no air measured yet")
    )


def _since(mould: MouldNow, site: Site | None, now: datetime) -> str:
    past = mould.due_at is not None and mould.due_at <= now
    return clock_time(mould.due_at, site, now) if past and mould.due_at else ""


def _wait(mould: MouldNow, site: Site | None, now: datetime) -> str:
    in_doubt = due_range(mould, site, now)
    if in_doubt:
        return say("Wait: {when}", when=in_doubt)
    if mould.due_at is not None:
        if mould.due_at <= now:
            return say("Wait: ready any minute")
        when = clock_time(mould.due_at, site, now)
        return (
            say("Wait until about {when}", when=when)
            if reckoned_roughly(mould)
            else say("Wait until {when}", when=when)
        )
    if mould.never is not None:
        return say("Get the air drier: under {humidities}", humidities=_humidities(mould.never)[1])
    return say("Wait: no end in sight") if mould.zones else say("Wait, and go by the feel of it")


def _order(mould: MouldNow) -> str:
    if mould.stage is Stage.DRY:
        return say("ready for dewax") if mould.hand_check != "still damp" else say("dewax")
    if mould.wires_due or mould.stage is Stage.TO_WIRE:
        if mould.next_coat:
            return say("set the wires, then dip coat {next_coat}", next_coat=mould.next_coat)
        return say("set the wires")
    coat = coat_words(mould)
    if mould.next_tank:
        tank = bare_tank(mould.next_tank)
        return say("dip {coat}, {tank}", coat=coat, tank=tank)
    return say("dip {coat}", coat=coat)


def _held_line(mould: MouldNow, now: datetime) -> str | None:
    """Not where a hand or the recipe alone is what is waited for."""
    waits = mould.stage in WAITING and len(mould.zones) > 1 and not reckoned_dry(mould, now)
    return (
        say("Waiting for the slowest place: {held_by}", held_by=mould.held_by)
        if waits and mould.held_by
        else None
    )


def _unknown_line(mould: MouldNow) -> str | None:
    if mould.stage not in WAITING or has_hour(mould) or mould.never is not None:
        return None
    if mould.from_notebook:
        return say("Nothing is worked out for a mould from the notebook: feel the shell")
    if mould.unworkable:
        return unworkable_line([mould.name], False)
    if not mould.zones:
        return say("No air measured yet: without it nobody can reckon when it is ready")
    line = not_within_line(mould)
    return say("{line}. If that surprises you, look whether its sizes are right", line=line)


def not_within_line(mould: MouldNow) -> str:
    """``Not ready within 3 days in this air``: as far as is looked ahead."""
    how_long = _looked_ahead(mould)
    if mould.next_coat:
        return say("Not ready within {how_long} in this air", how_long=how_long)
    return say("Not dry within {how_long} in this air", how_long=how_long)


def notebook_line(mould: MouldNow) -> str | None:
    """What is known of a mould that an older notebook tells of."""
    if not mould.from_notebook:
        return None
    return say("From the notebook: no air was measured, and its days are as somebody wrote them down")


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
