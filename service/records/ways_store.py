"""Ways to reach people: those that refused for good, and the browsers that messages may be pushed to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col, select

from service.records.base_store import BaseStore
from service.records.plain import storable
from service.records.tables import PushTable, WayOffTable
from service.records.utc import in_utc

LONGEST_WORDS = 500
LONGEST_DEVICE = 60


@dataclass(frozen=True, slots=True)
class WayOff:
    """A way that is switched off, since when, and what it said. `mark`: see `service.alerts.ways`."""

    recipient: str
    mark: str
    way: str
    since: datetime
    words: str


@dataclass(frozen=True, slots=True)
class PushSubscription:
    """A browser on somebody's device: where to push to (RFC 8030), and its keys as base64url text (RFC 8291)."""

    id: int
    person: str
    device: str
    endpoint: str
    p256dh: str
    auth: str
    made_at: datetime


class WaysStore(BaseStore):
    def switch_off(self, recipient: str, way: str, mark: str, at: datetime, words: str) -> None:
        """Note that a way refused for good. One that is off already stays as it is."""
        with self._database.write() as session:
            if session.get(WayOffTable, (recipient, mark)) is None:
                said = storable(words, LONGEST_WORDS)
                session.add(
                    WayOffTable(recipient=recipient, mark=mark, way=way, since=in_utc(at), words=said)
                )

    def switch_on(self, recipient: str, mark: str) -> None:
        """Use a way again. One that is on stays on."""
        with self._database.write() as session:
            row = session.get(WayOffTable, (recipient, mark))
            if row is not None:
                session.delete(row)

    def ways_off(self) -> list[WayOff]:
        """All that are switched off, the one that has been so for longest first."""
        with self._database.read() as session:
            rows = session.exec(select(WayOffTable).order_by(col(WayOffTable.since)))
            return [WayOff(r.recipient, r.mark, r.way, r.since, r.words) for r in rows]

    def keep_push(
        self, person: str, device: str, endpoint: str, p256dh: str, auth: str, at: datetime
    ) -> PushSubscription:
        """Keep where a browser can be pushed to. The same endpoint again takes the place of what was kept."""
        with self._database.write() as session:
            row = session.exec(select(PushTable).where(PushTable.endpoint == endpoint)).first()
            if row is None:
                row = PushTable(
                    person=person, device="", endpoint=endpoint, p256dh="", auth="", made_at=in_utc(at)
                )
                session.add(row)
            row.person, row.device = person, storable(device, LONGEST_DEVICE)
            row.p256dh, row.auth = p256dh, auth
            session.flush()
            return _subscription(row)

    def drop_push(self, endpoint: str) -> None:
        """Forget a browser. One that is not known is forgotten already."""
        with self._database.write() as session:
            row = session.exec(select(PushTable).where(PushTable.endpoint == endpoint)).first()
            if row is not None:
                session.delete(row)

    def push_subscriptions(self) -> list[PushSubscription]:
        """All of them, in the order in which they were made."""
        with self._database.read() as session:
            return [_subscription(row) for row in session.exec(select(PushTable).order_by(col(PushTable.id)))]


def _subscription(row: PushTable) -> PushSubscription:
    assert row.id is not None
    return PushSubscription(row.id, row.person, row.device, row.endpoint, row.p256dh, row.auth, row.made_at)
