"""The tables. Rows are written and read by the stores only; everybody else sees frozen dataclasses.

Units stand in the column names; instants are UTC.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from sqlalchemy import BigInteger, Index, MetaData, PrimaryKeyConstraint, SmallInteger, UniqueConstraint
from sqlmodel import Field, SQLModel

from service.records.utc import UtcDateTime


class Table(SQLModel):
    """What all tables share: constraints get names, so that a later migration can change them on SQLite too."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


def _instant(primary_key: bool = False) -> datetime:
    found: datetime = Field(sa_type=UtcDateTime, primary_key=primary_key)
    return found


def _maybe_instant() -> datetime | None:
    found: datetime | None = Field(default=None, sa_type=UtcDateTime)
    return found


class MouldTable(Table, table=True):
    """Only the number of a mould: what is known of it is in its facts."""

    __tablename__ = "moulds"
    id: int | None = Field(default=None, primary_key=True)


class FactTable(Table, table=True):
    """One line of the ledger. `body` is canonical JSON text, so that the digest covers every character."""

    __tablename__ = "facts"
    number: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    mould_id: int | None = Field(default=None, foreign_key="moulds.id", index=True)
    kind: str = Field(index=True)
    at: datetime = _instant()
    recorded_at: datetime = _instant()
    hand: str
    body: str
    replaces: int | None = Field(default=None, foreign_key="facts.number", unique=True)
    key: str | None = Field(default=None, unique=True)
    digest: str


class LedgerHeadTable(Table, table=True):
    """The end of the chain. Its one row is what writers wait for, on any database."""

    __tablename__ = "ledger_head"
    id: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    number: int
    digest: str


class SiteTable(Table, table=True):
    __tablename__ = "site"
    id: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    name: str
    altitude_m: float
    time_zone: str
    units: str
    day_starts_hour: int
    day_ends_hour: int
    language: str = Field(default="en", sa_column_kwargs={"server_default": "en"})


class SetUpTable(Table, table=True):
    """One word on how something of the shop is set up, as JSON; the newest on a name holds. body None: taken away."""

    __tablename__ = "set_up"
    __table_args__: ClassVar = (Index("ix_set_up_part", "part", "name"),)
    id: int | None = Field(default=None, primary_key=True)
    part: str
    name: str
    body: str | None = None
    at: datetime = _instant()
    hand: str


class RoomTable(Table, table=True):
    __tablename__ = "rooms"
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    still_air_m_s: float


class SensorTable(Table, table=True):
    __tablename__ = "sensors"
    name: str = Field(primary_key=True)
    room_id: int | None = Field(default=None, foreign_key="rooms.id")
    first_heard: datetime = _instant()
    last_good: datetime | None = _maybe_instant()


class SeriesTable(Table, table=True):
    """One quantity of one sensor, as a small number: there are millions of readings, and a dozen of these."""

    __tablename__ = "series"
    __table_args__: ClassVar = (UniqueConstraint("sensor", "quantity"),)
    id: int | None = Field(default=None, primary_key=True)
    sensor: str = Field(foreign_key="sensors.name")
    quantity: str


class ReadingTable(Table, table=True):
    """One value at one instant, in SI. The key is also the order they are asked for.

    at_us: microseconds since 1970. late_us: how much later it reached us. flag: its number, see `reading_store`.
    The widest columns stand first, so that PostgreSQL leaves no gaps between them.
    """

    __tablename__ = "readings"
    __table_args__: ClassVar = (
        PrimaryKeyConstraint("series_id", "at_us"),
        {"sqlite_with_rowid": False},
    )
    at_us: int = Field(sa_type=BigInteger, primary_key=True)
    value: float
    late_us: int = Field(sa_type=BigInteger)
    series_id: int = Field(primary_key=True, foreign_key="series.id")
    flag: int | None = Field(default=None, sa_type=SmallInteger)


class HourTable(Table, table=True):
    """What is left of the readings of an hour, once they were thinned out. `hour`: whole hours since 1970 (UTC).

    heard: one bit for each five minutes in which there was a reading, the first lowest.
    """

    __tablename__ = "hours"
    __table_args__: ClassVar = (
        PrimaryKeyConstraint("series_id", "hour"),
        {"sqlite_with_rowid": False},
    )
    mean: float
    least: float
    most: float
    count: int
    heard: int
    series_id: int = Field(primary_key=True, foreign_key="series.id")
    hour: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})


class RejectTable(Table, table=True):
    __tablename__ = "rejects"
    id: int | None = Field(default=None, primary_key=True)
    topic: str
    payload: str
    received_at: datetime = _instant()
    reason: str
    words: str
    sensor: str | None = Field(default=None, index=True)
    quantity: str | None = None


class ProfileTable(Table, table=True):
    """A cache: how wet a mould was at an instant, computed from its facts up to `fact_number`."""

    __tablename__ = "profiles"
    mould_id: int = Field(primary_key=True, foreign_key="moulds.id")
    fact_number: int
    at: datetime = _instant()
    blob: str


class WorkedOutTable(Table, table=True):
    """A cache: what was worked out of a mould's whole life, from its facts up to `fact_number`.

    `method` names the way it was worked out: what an older program left is worked out anew.
    """

    __tablename__ = "worked_out"
    mould_id: int = Field(primary_key=True, foreign_key="moulds.id")
    fact_number: int
    method: str
    at: datetime = _instant()
    blob: str


class TaughtTable(Table, table=True):
    """A cache: what a mould taught of the shop, from its facts up to `fact_number` and what sensors on it told."""

    __tablename__ = "taught"
    mould_id: int = Field(primary_key=True, foreign_key="moulds.id")
    fact_number: int
    method: str
    at: datetime = _instant()
    blob: str


class MemoryTable(Table, table=True):
    """Small things the service must remember over a restart."""

    __tablename__ = "memory"
    name: str = Field(primary_key=True)
    value: str


class AlertTable(Table, table=True):
    __tablename__ = "alerts"
    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    kind: str
    subject: str
    mould_id: int | None = Field(default=None, foreign_key="moulds.id")
    since: datetime | None = _maybe_instant()
    title: str
    body: str
    link: str
    opened_at: datetime = _instant()
    cleared_at: datetime | None = _maybe_instant()
    dip_before: datetime | None = _maybe_instant()
    tank: str | None = None


class DeliveryTable(Table, table=True):
    __tablename__ = "deliveries"
    __table_args__: ClassVar = (Index("ix_deliveries_waiting", "delivered_at", "next_try_at"),)
    id: int | None = Field(default=None, primary_key=True)
    alert_id: int = Field(foreign_key="alerts.id", index=True)
    recipient: str
    attempts: int = 0
    next_try_at: datetime | None = _maybe_instant()
    last_try_at: datetime | None = _maybe_instant()
    delivered_at: datetime | None = _maybe_instant()
    error: str | None = None


class TryTable(Table, table=True):
    """One attempt to tell one recipient one alert by one way. `outcome` None: it never came back, or runs."""

    __tablename__ = "tries"
    id: int | None = Field(default=None, primary_key=True)
    delivery_id: int = Field(foreign_key="deliveries.id", index=True)
    way: str
    repeat: bool = False
    begun_at: datetime = _instant()
    ended_at: datetime | None = _maybe_instant()
    outcome: str | None = None
    words: str | None = None


class ReplyTable(Table, table=True):
    """What somebody said to an alert: that they are on their way, or want to be told again later."""

    __tablename__ = "replies"
    id: int | None = Field(default=None, primary_key=True)
    alert_id: int = Field(foreign_key="alerts.id", index=True)
    person: str
    what: str
    at: datetime = _instant()
    until: datetime | None = _maybe_instant()


class WayOffTable(Table, table=True):
    """A way to somebody that refused for good. `mark` tells its address from another one without holding it."""

    __tablename__ = "ways_off"
    recipient: str = Field(primary_key=True)
    mark: str = Field(primary_key=True)
    way: str
    since: datetime = _instant()
    words: str


class PushTable(Table, table=True):
    """A browser that somebody lets messages be pushed to (RFC 8030), with its keys (RFC 8291)."""

    __tablename__ = "push_subscriptions"
    id: int | None = Field(default=None, primary_key=True)
    person: str
    device: str
    endpoint: str = Field(unique=True)
    p256dh: str
    auth: str
    made_at: datetime = _instant()
