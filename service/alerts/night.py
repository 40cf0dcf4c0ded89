"""What somebody must know before the hours in which they cannot be rung. Pure.

"Night" is any such spell of two hours or more, a weekend too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from service.alerts import night_words
from service.alerts.conditions import Condition, for_demo
from service.alerts.hours import LOOKED_AHEAD
from service.alerts.keys import moment, stem, stem_of
from service.alerts.kinds import Kind
from service.alerts.messages import Scene
from service.alerts.night_words import Night, Overnight
from service.alerts.people import Person, Reach
from service.alerts.rules import AlertRules
from service.records.outbox import AlertRow
from service.room.views import Board, MouldNow, Stage

SHORTEST = timedelta(hours=2)
"""A gap shorter than this is a break: whoever comes back so soon hears the bell itself in good time (our choice)."""
WAITS = (Stage.DRYING, Stage.TO_WIRE, Stage.READY)


@dataclass(frozen=True, slots=True)
class _Evening:
    """One person's evening: what there is to say of the night that follows."""

    person: Person
    night: Night
    stem: str
    due: tuple[Overnight, ...]


def before_night(board: Board, open_alerts: Sequence[AlertRow], rules: AlertRules) -> list[Condition]:
    """One condition a person and night, from the last sensible moment on until the night begins.

    It is told once: what comes up after it is left to the bell, but for a longest wait that ends in the night. Each of
    these has a condition of its own then.
    """
    reach = rules.reach(board.site)
    scene = Scene(board.site, board.at, {room.room.id: room for room in board.rooms})
    found: list[Condition] = []
    for person in rules.people:
        night = night_after(person, board.at, reach) if _has_hours(person, rules) else None
        if night is not None and board.at >= night.begins - _longest_lead(rules):
            stem_ = stem(Kind.BEFORE_NIGHT, person.name, moment(night.begins))
            due = tuple(_overnight(board.moulds, person, night, rules, reach))
            found += _of_evening(_Evening(person, night, stem_, due), open_alerts, rules, scene)
    return [for_demo(c) for c in found] if board.demo else found


def night_after(person: Person, at: datetime, reach: Reach) -> Night | None:
    """The next spell in which they cannot be rung, breaks left out. None: none within weeks."""
    back: datetime | None = at
    # somebody may have breaks only, for ever
    while back is not None and back - at <= LOOKED_AHEAD and (here := reach.back_at(person.name, back)):
        begins = reach.until(person.name, here)
        if begins is None:
            return None
        back = reach.back_at(person.name, begins)
        if back is None or back - begins >= SHORTEST:
            return Night(begins, back)
    return None


def _has_hours(person: Person, rules: AlertRules) -> bool:
    quiet = person.quiet if person.quiet is not None else rules.quiet_hours.hours
    return bool(person.works or person.days_off) or not (quiet is None or isinstance(quiet, str))


def _overnight(
    moulds: Sequence[MouldNow], person: Person, night: Night, rules: AlertRules, reach: Reach
) -> Iterator[Overnight]:
    for mould in moulds:
        due = Overnight.of(mould, night) if mould.stage in WAITS and mould.next_coat else None
        if due is not None and not _somebody_else(due, night, person, rules, reach):
            yield replace(due, rings_at=_rings_at(due, person, rules))


def _somebody_else(due: Overnight, night: Night, person: Person, rules: AlertRules, reach: Reach) -> bool:
    """Whether another can be rung when it comes ready, or before its longest wait ends."""
    ready = due.ready if due.ready and not due.too_late else night.begins
    from_ = max(ready, night.begins)
    until = due.ends if due.cannot_wait and due.ends else from_
    others = (p.name for p in rules.people if p.name != person.name and p.wants(Kind.NEXT_DIP))
    return any((back := reach.back_at(name, from_)) is not None and back <= until for name in others)


def _rings_at(due: Overnight, person: Person, rules: AlertRules) -> datetime | None:
    """When a bell that may ring them in the night does so. None: none does."""
    warns = timedelta(seconds=rules.longest_wait.warn_before_s)
    early = timedelta(seconds=rules.next_dip.early_s)
    rings = {Kind.LONGEST_WAIT_NEAR: due.ends and due.ends - warns, Kind.LONGEST_WAIT_PAST: due.ends}
    rings[Kind.NEXT_DIP] = due.ready and due.ready - early
    urgent = [at for kind, at in rings.items() if at and rules.is_urgent(kind) and person.wants(kind)]
    return min(urgent, default=None) if due.cannot_wait else None


def _of_evening(
    evening: _Evening, open_alerts: Sequence[AlertRow], rules: AlertRules, scene: Scene
) -> Iterator[Condition]:
    due, last = evening.due, _last_moment(evening, rules)
    firing = bool(due) and scene.now >= last and _is_there(evening, rules, scene)
    yield _condition(evening, evening.stem, due, firing, scene)
    told = next((row for row in open_alerts if stem_of(row.key) == evening.stem), None)
    for one in due if told else ():
        dipped, recorded = one.mould.last_dip_at, one.mould.last_dip_recorded_at
        if one.cannot_wait and told and dipped and recorded and recorded > told.opened_at:
            own = "/".join([evening.stem, str(one.mould.id), moment(dipped)])
            yield _condition(evening, own, (one,), _is_there(evening, rules, scene), scene)


def _last_moment(evening: _Evening, rules: AlertRules) -> datetime:
    """The last sensible one: for a dip that cannot wait as long before as its longest wait is warned of."""
    cannot_wait = any(one.cannot_wait for one in evening.due)
    lead = _longest_lead(rules) if cannot_wait else timedelta(seconds=rules.night.say_before_s)
    return evening.night.begins - lead


def _longest_lead(rules: AlertRules) -> timedelta:
    return timedelta(seconds=max(rules.night.say_before_s, rules.longest_wait.warn_before_s))


def _is_there(evening: _Evening, rules: AlertRules, scene: Scene) -> bool:
    return rules.reach(scene.site).reachable(evening.person.name, scene.now)


def _condition(
    evening: _Evening, key: str, due: Sequence[Overnight], firing: bool, scene: Scene
) -> Condition:
    name, begins = evening.person.name, evening.night.begins
    message = night_words.before_night_message(due, evening.night, scene)
    told = Condition(Kind.BEFORE_NIGHT, key, key, name, begins, firing, message, only_for=name)
    if len(due) != 1:
        return told
    mould = due[0].mould
    return replace(told, page=f"mould/{mould.id}", mould_id=mould.id, dip_before=due[0].ends)
