"""What a message to one person says besides its own words: how old they are, who was told, what was said. Pure."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial

from service.alerts.keys import extra_of
from service.alerts.kinds import REMINDED
from service.alerts.messages import with_lines
from service.alerts.people import Person
from service.alerts.replies import Said, holds, last_word, newest_words
from service.alerts.rules import AlertRules
from service.held import Held
from service.local_time import clock_time
from service.records.outbox import AlertRow, DeliveryRow, ReplyRow
from service.records.shop_facts import Site
from service.voice import say

OLD = timedelta(minutes=30)
"""From this age on a message says how old its words are (our choice): written at night, read in the morning."""


def with_the_others(
    delivery: DeliveryRow, alert: AlertRow, rules: AlertRules, site: Site | None, now: datetime
) -> DeliveryRow:
    """The same with its age, if it waited, and with what became of the turns that were told too."""
    person = rules.person(delivery.recipient)
    if person is None or extra_of(alert.key) is not None:
        return delivery
    lines = [_line(d, alert, site, now) for d in alert.deliveries if _of_another_turn(d, person, rules)]
    age = (
        say("As it was at {opened_at}", opened_at=clock_time(alert.opened_at, site, now))
        if now - alert.opened_at >= OLD
        else None
    )
    body = with_lines(delivery.alert.body, [line for line in (*lines, age) if line])
    return replace(delivery, alert=replace(delivery.alert, body=body))


def words_said(alert: AlertRow, site: Site | None, now: datetime) -> list[str]:
    """What everybody said last to this alert; held, since a message with it may be said anew."""
    return [Held(partial(_said, word, site, now)) for word in newest_words(alert)]


def _of_another_turn(delivery: DeliveryRow, person: Person, rules: AlertRules) -> bool:
    """People of one turn are told together: none of them was told before another."""
    other = rules.person(delivery.recipient)
    return other is not None and other.turn != person.turn


def _line(delivery: DeliveryRow, alert: AlertRow, site: Site | None, now: datetime) -> str | None:
    name = delivery.recipient
    word = last_word(alert, name)
    if word is not None:
        return _said(word, site, now)
    if delivery.delivered_at is None:
        return say("{name} could not be reached", name=name)
    at = clock_time(delivery.delivered_at, site, now)
    if alert.kind in REMINDED:
        return say("{name} was told at {at} and has not answered", name=name, at=at)
    return say("{name} was told at {at}", name=name, at=at)


def _said(word: ReplyRow, site: Site | None, now: datetime) -> str:
    at = clock_time(word.at, site, now)
    if word.what == Said.ON_MY_WAY and not holds(word, now):
        return say("{person} said at {at}: on my way, and has not dipped", person=word.person, at=at)
    if word.what == Said.ON_MY_WAY:
        return say("{person} said at {at}: on my way", person=word.person, at=at)
    if word.what == Said.LATER:
        return say("{person} asked at {at} to be told later", person=word.person, at=at)
    return say("{person} is not on the way after all", person=word.person)
