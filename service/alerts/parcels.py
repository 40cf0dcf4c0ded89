"""Which waiting deliveries go out now, and which of them go together. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from service.alerts.dipping_order import dipping_order
from service.alerts.hours import second_of_day
from service.alerts.keys import kind_of
from service.alerts.kinds import Echo, Kind
from service.alerts.message import Message
from service.alerts.messages import dips_together, hands_together, together
from service.alerts.notifiers.notifier import Notice
from service.alerts.people import Place
from service.alerts.rules import AlertRules
from service.records.outbox import DeliveryRow
from service.records.shop_facts import Site
from service.words import MOST_NAMES

AS_URGENT = (Echo.REMINDER, Echo.PUT_OFF, Echo.TAKEN_ON)
"""As urgent as what they follow from: whoever was woken must not go for nothing, nor two of them."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """One message to one recipient; it settles all the deliveries in it."""

    recipient: str
    message: Message
    key: str
    deliveries: tuple[DeliveryRow, ...]

    def with_lines(self, lines: Sequence[str]) -> Parcel:
        """The same with more at its end."""
        message = Message(self.message.title, "\n".join([self.message.body, "", *lines]).strip("\n"))
        return replace(self, message=message) if lines else self

    def notice(self, repeat: bool) -> Notice:
        """As it goes out now. `repeat`: it may have arrived already."""
        first = self.deliveries[0]
        return Notice(
            self.message.title,
            self.message.body,
            self.key,
            first.alert.kind,
            1 + max(d.attempts for d in self.deliveries),
            repeat,
            first.alert_id,
            tuple(d.alert for d in self.deliveries),
        )


def is_moot(delivery: DeliveryRow) -> bool:
    """Whether it came too late to be true. An all clear stays true."""
    return delivery.cleared_at is not None and delivery.alert.kind != Echo.ALL_CLEAR


def held_back(delivery: DeliveryRow, now: datetime, site: Site | None, rules: AlertRules) -> bool:
    """Whether this waits until its recipient may be rung."""
    alert = delivery.alert
    if rules.is_urgent(kind_of(alert.key) if alert.kind in AS_URGENT else alert.kind):
        return False
    if rules.person(delivery.recipient) is not None:
        return not rules.reach(site).reachable(delivery.recipient, now)
    place, quiet = rules.recipient(delivery.recipient), rules.quiet_hours.hours
    if quiet is None or not isinstance(place, Place) or not place.quiet:
        return False
    return quiet.hold(second_of_day(now, site))


def pack(
    deliveries: Iterable[DeliveryRow], rules: AlertRules, now: datetime, board_link: str = ""
) -> list[Parcel]:
    """Parcels, those tried least often first. Bells for one recipient go as one, in dipping order, and so do reminders
    of them; many messages of another kind go as one with `board_link`.
    """
    piles: dict[tuple[str, str, bool], list[DeliveryRow]] = {}
    for delivery in deliveries:
        about = (delivery.recipient, delivery.alert.kind, _asks_for_a_dip(delivery))
        piles.setdefault(about, []).append(delivery)
    parcels = [parcel for pile in piles.values() for parcel in _pack_pile(pile, rules, now, board_link)]
    return sorted(parcels, key=lambda p: (max(d.attempts for d in p.deliveries), _oldest(p.deliveries).id))


def _pack_pile(
    pile: Sequence[DeliveryRow], rules: AlertRules, now: datetime, board_link: str
) -> list[Parcel]:
    if len(pile) >= 2 and _asks_for_a_dip(pile[0]):
        return [_dips(pile, now, board_link)]
    if len(pile) >= 2 and pile[0].alert.kind == Echo.TAKEN_ON:
        said = hands_together([delivery.alert for delivery in pile])
        return [_parcel(pile, _linked(said.title, said.body, board_link))]
    if len(pile) < rules.sending.together_from:
        return [_parcel([delivery], _own_message(delivery)) for delivery in pile]
    message = together([delivery.alert.title for delivery in pile])
    return [_parcel(pile, _linked(message.title, message.body, board_link))]


def _asks_for_a_dip(delivery: DeliveryRow) -> bool:
    """Whether it is a bell for a dip, or a reminder of one."""
    alert = delivery.alert
    return alert.kind == Kind.NEXT_DIP or (
        alert.kind == Echo.REMINDER and kind_of(alert.key) == Kind.NEXT_DIP
    )


def _dips(pile: Sequence[DeliveryRow], now: datetime, board_link: str) -> Parcel:
    places = {alert.key: i for i, alert in enumerate(dipping_order([d.alert for d in pile], now))}
    ordered = sorted(pile, key=lambda d: places[d.alert.key])
    message = dips_together([d.alert for d in ordered])
    left_out = len(pile) > MOST_NAMES
    return _parcel(ordered, _linked(message.title, message.body, board_link if left_out else ""))


def _parcel(deliveries: Sequence[DeliveryRow], message: Message) -> Parcel:
    oldest = _oldest(deliveries)
    return Parcel(oldest.recipient, message, oldest.alert.key, tuple(deliveries))


def _oldest(deliveries: Sequence[DeliveryRow]) -> DeliveryRow:
    """Its key stands for the parcel: the order may be another when it is tried again."""
    return min(deliveries, key=lambda d: d.id)


def _own_message(delivery: DeliveryRow) -> Message:
    alert = delivery.alert
    return _linked(alert.title, alert.body, alert.link)


def _linked(title: str, body: str, link: str) -> Message:
    return Message(title, f"{body}\n{link}" if link else body)
