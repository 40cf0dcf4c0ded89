"""What a screen or a message needs to know, as plain frozen data: SI floats, aware UTC instants.

Built by `service.room`, worded by `service.words`, shown by `api`, judged by `service.alerts`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.reading import OF_AIR, Quantity
from service.reading import Freshness as Freshness
from service.records.facts import Fact, Failing, FaultKind, Problem, ZoneKind
from service.records.recipes import AirLimits, CoatKind, Recipe
from service.records.shop_facts import Room, Site
from service.room.audit_views import FinalDry, Range, StandsOut, TankChecked, TooWet, Weighings


class Stage(StrEnum):
    """Where a mould stands."""

    TO_DIP = "to dip"  # hung up, first coat not given yet: due at once
    DRYING = "drying"  # waiting until the newest coat is ready for the next
    TO_WIRE = "to wire"  # ready, and reinforcement wire comes before the next dip
    READY = "ready"  # the next dip can go on now
    FINAL_DRY = "final dry"  # all coats on, drying through
    DRY = "dry"  # ready for dewax
    ENDED = "ended"


@dataclass(frozen=True, slots=True)
class LedgerEnd:
    """How many entries there are, the check sum of the last, and the public key that signs heads ("": none yet).

    checked_at: when the whole chain was last looked over; broken_at: the first entry that did not fit.
    backed_up_at: when the last nightly copy was made.
    """

    entries: int
    digest: str
    key: str
    checked_at: datetime | None = None
    broken_at: int | None = None
    backed_up_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class NotAtThisHumidity:
    """The air is too damp for the limit ever to be reached."""

    air_humidity: float
    needs_below: float
    would_do_humidity: float
    would_do_s: float


@dataclass(frozen=True, slots=True)
class Layer:
    """One band of the picture of a mould, innermost first. Saturation None: the coat is still to come."""

    coat: int
    kind: CoatKind
    thickness_m: float
    saturation: float | None
    wires: bool  # wire lies (or is asked for, if the coat is to come) on this coat


@dataclass(frozen=True, slots=True)
class ZoneNow:
    """One zone of one mould, now and forecast. None: not reached within the forecast."""

    name: str
    kind: ZoneKind
    newest_saturation: float | None
    coat_saturations: tuple[float, ...]
    water_kg_m2: float
    water_share: float  # kg water a kg dry shell
    surface_temperature_k: float
    surface_recovery: float  # near 0 wet, near 1 no longer evaporating
    ready_at: datetime | None  # newest coat at its limit (past if already so)
    dry_at: datetime | None  # whole shell at its limit
    slowest: bool


@dataclass(frozen=True, slots=True)
class Wrong:
    """Something is wrong with a mould, and nobody said yet that it was put right."""

    problem: Problem
    text: str
    at: datetime
    hand: str


@dataclass(frozen=True, slots=True)
class MouldNow:
    """A mould as it stands, and what comes next."""

    id: int
    name: str
    piece: str
    customer: str
    hook: str
    room: Room
    wanted_by: datetime | None
    recipe: Recipe
    stage: Stage
    started_at: datetime
    ended_at: datetime | None
    outcome: str | None
    coats_given: int
    coats_total: int
    last_dip_at: datetime | None
    last_dip_number: int | None  # the fact number of the last dip
    next_coat: int | None  # from 1; None once all are on
    next_kind: CoatKind | None
    next_tank: str | None
    wires_due: bool
    due_at: datetime | None  # when the next dip, or dewax, can be done; past if it already can. None: unknown
    least_wait_until: datetime | None
    longest_wait_until: datetime | None
    never: NotAtThisHumidity | None
    held_by: str | None  # name of the slowest zone, while it is what is waited for
    hand_check: str | None  # "still damp" or "dry" felt since the last dip, the newest
    guessing_since: datetime | None  # the last good air, where the estimate goes on without fresh readings
    layers: tuple[Layer, ...]
    zones: tuple[ZoneNow, ...]
    hand_check_at: datetime | None = None
    felt_damp_at: datetime | None = None  # when a hand last felt it still damp since the last dip
    hung_here_at: datetime | None = None  # since when it has hung in this room
    unmeasured_s: float = 0.0  # how much of this wait had no measured air, where the estimate rests on such
    unworkable: bool = False  # its numbers cannot be worked with: no estimate, whatever the air
    last_dip_recorded_at: datetime | None = None  # when the last dip was written down, or put right
    verdict: str | None = (
        None  # how it came out, once it has left: "sound" or "failed"; None: nobody has said yet
    )
    failings: tuple[Failing, ...] = ()  # of a failed one: what went wrong
    result_number: int | None = None  # the fact number of the result
    result_at: datetime | None = None
    due_early_at: datetime | None = None  # between these two it gets due with 80 % (its 10 and 90 %) ...
    due_late_at: datetime | None = (
        None  # ... both None: not known, or due already; the late one alone: no end in sight
    )
    about_at: datetime | None = (
        None  # as likely due before as after; `due_at` is as sure as the shop wants a bell
    )
    from_notebook: bool = (
        False  # copied from an older notebook: nothing was measured, and nothing is worked out
    )
    wrong: tuple[Wrong, ...] = ()
    sureness_usual: bool = (
        False  # how sure it is is not worked out yet: `due_at` is late enough for any mould of such a wait
    )


@dataclass(frozen=True, slots=True)
class AirPoint:
    at: datetime
    temperature_k: float
    humidity: float
    speed_m_s: float


@dataclass(frozen=True, slots=True)
class AirAhead:
    """Air that is forecast. low, high: between these two it comes with 80 % (its 10 and 90 %)."""

    at: datetime
    temperature_k: float
    humidity: float
    speed_m_s: float
    temperature_low_k: float
    temperature_high_k: float
    humidity_low: float
    humidity_high: float


@dataclass(frozen=True, slots=True)
class SensorNow:
    name: str
    room_id: int | None
    freshness: Freshness
    last_good: datetime | None
    values: tuple[tuple[Quantity, float, datetime], ...]  # the newest good value of each quantity
    old_values: bool = False  # only the broker's retained memory so far
    last_reject: str | None = None  # why its newest message that was not taken was not, ...
    last_reject_at: datetime | None = None  # ... and when that came
    freshness_of: tuple[tuple[Quantity, Freshness], ...] = ()  # of each value; empty: all like `freshness`

    @property
    def needs_no_room(self) -> bool:
        """A scale or a probe on a shell: it is known what it measures, and that says nothing of a room."""
        return bool(self.values) and OF_AIR.isdisjoint(quantity for quantity, *_ in self.values)


@dataclass(frozen=True, slots=True)
class RoomNow:
    """A room's air: now, over the last day (10-minute means), and as forecast for the next two days."""

    room: Room
    freshness: Freshness
    last_good: datetime | None
    temperature_k: float | None
    humidity: float | None
    speed_m_s: float | None
    speed_measured: bool
    pressure_pa: float
    pressure_measured: bool
    swing_k: (
        float | None
    )  # largest minus smallest temperature a mould with prime on went through since its first dip, 24 h at most
    prime_on: bool  # prime coats are on some mould here and not yet buried
    out_of_limits: tuple[str, ...]  # sentences: "Too warm for prime coats: 25.1 °C, wanted 21 to 23 °C"
    last_day: tuple[AirPoint, ...]
    forecast: tuple[AirAhead, ...]
    forecast_how: str  # "level, trend and daily swing of 3 days" or "the little that was read so far"
    sensors: tuple[SensorNow, ...]
    sensors_differ: tuple[
        str, ...
    ] = ()  # sentences: "Sensors differ: bench 55 %, door 5 %: one of them is wrong"
    sensors_differ_since: datetime | None = None
    asked: AirLimits | None = (
        None  # the air that suits every coat hanging here; None: none hangs, or none asks
    )


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something about coatbell itself that a person should see."""

    code: str  # broker_down, push_failed, way_off, clock_put_forward, disk_full, estimate_behind, mould_numbers, ...
    words: str
    since: datetime | None
    seconds: float | None = None  # how much, where it is a length of time


@dataclass(frozen=True, slots=True)
class OpenBell:
    """A message that wants a hand at a mould, as long as it is true.

    coat: the one that is to go on; None: not said. urgent: it rings at night too.
    """

    alert_id: int
    mould_id: int
    mould: str
    coat: int | None
    title: str
    urgent: bool


@dataclass(frozen=True, slots=True)
class Hand:
    """What somebody said to such a message, as long as it holds. `said`: "on my way" or "later"."""

    mould_id: int
    title: str
    name: str
    said: str
    at: datetime
    until: datetime | None


@dataclass(frozen=True, slots=True)
class Called:
    """Which moulds call for a hand, and who said that they come.

    quiet: the shop's quiet hours hold. snooze_s: for how long *later* puts a bell off.
    """

    bells: tuple[OpenBell, ...] = ()
    hands: tuple[Hand, ...] = ()
    quiet: bool = False
    snooze_s: float = 1800.0


@dataclass(frozen=True, slots=True)
class Session:
    """Moulds that are dipped one after the other from one tank, in dipping order."""

    tank: str | None
    mould_ids: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """Everything the wall-board shows. Moulds are ordered: due first, ended not shown."""

    at: datetime
    site: Site | None
    demo: bool
    speed: float
    rooms: tuple[RoomNow, ...]
    moulds: tuple[MouldNow, ...]
    troubles: tuple[Trouble, ...]
    version: int  # counts up whenever anything on the board changed
    called: Called = Called()
    sessions: tuple[Session, ...] = ()  # what is due at the tanks; if nothing is, what comes first

    @property
    def hands(self) -> tuple[Hand, ...]:
        """Who is on the way, or wants to be told later."""
        return self.called.hands


class AirWrong(StrEnum):
    TOO_WARM = "too warm"
    TOO_COLD = "too cold"
    TOO_DAMP = "too damp"
    TOO_DRY = "too dry"
    SWUNG = "swung"


@dataclass(frozen=True, slots=True)
class AirFault:
    """How the air of a wait was not as the recipe asks: kelvin, or for humidity a share of 1."""

    wrong: AirWrong
    worst: float
    wanted: float
    lasted_s: float  # in all, within that wait


@dataclass(frozen=True, slots=True)
class CoatAudit:
    """One coat: asked against given."""

    coat: int
    kind_asked: CoatKind | None  # None: one more than was asked
    kind_given: CoatKind | None  # None: not given
    tank_asked: str | None
    tank_given: str | None
    hand: str | None
    dipped_at: datetime | None
    ready_at: (
        datetime | None
    )  # when the estimate says this coat was ready for the next (limit and least wait)
    waited_s: float | None  # from this dip to the next (or to now)
    saturation_at_next_dip: float | None  # of this coat in the slowest zone when the next went on
    early: bool  # the next coat went on before this one was ready
    early_reason: str | None
    late: bool  # the next went on after the longest wait
    temperature_range_k: tuple[float, float] | None
    humidity_range: tuple[float, float] | None
    air_gap_s: float  # how much of the wait had no measured air
    air_faults: tuple[AirFault, ...]  # of the measured air, held against the recipe's limits for this coat
    wires_asked: bool
    wires_given: bool
    thickness_m: float | None = None  # as the recipe has it: nobody measures each coat
    least_wait_s: float | None = None
    longest_wait_s: float | None = None
    saturation_limit: float | None = None
    likely_saturation: Range | None = None  # 10 to 90 % of `saturation_at_next_dip`
    too_wet: TooWet | None = None  # how sure it is that it was above its limit; None: hardly
    coldest_surface_k: float | None = None  # of any place during the wait
    swing_k: float | None = None  # largest in the mould's own air, while prime was the newest
    tank_check: TankChecked | None = None  # the last one of its tank before the dip
    felt_damp_at: datetime | None = None  # a hand felt it damp last, and then the next went on
    dip_number: int | None = None  # the fact number of its dip
    wettest_place: str = ""  # where it was wettest when the next went on; empty: it has one place only


@dataclass(frozen=True, slots=True)
class DrynessPoint:
    """For the chart: the slowest zone's newest coat and whole-shell water, and the room's air.

    coat_saturations: of each coat that is on, innermost first. wet_bulb_k: of the air, where that was measured.
    """

    at: datetime
    newest_saturation: float
    water_share: float
    temperature_k: float | None
    humidity: float | None
    surface_temperature_k: float | None = None
    wet_bulb_k: float | None = None
    coat_saturations: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class FeltSurface:
    """What a sensor on the face of a shell in the mould's room told; on which shell it was nobody records."""

    sensor: str
    points: tuple[tuple[datetime, float], ...]  # K


@dataclass(frozen=True, slots=True)
class Audit:
    now: MouldNow
    coats: tuple[CoatAudit, ...]
    facts: tuple[Fact, ...]  # all, in order of recording, corrections and withdrawn ones too
    chart: tuple[DrynessPoint, ...]
    chain_intact: bool
    stays: tuple[tuple[datetime, int], ...] = ()  # since when it hung in which room, by number
    final: FinalDry | None = None  # None: not all coats are on, or it was never dipped
    weighings: Weighings | None = None  # None: weighed less than twice
    result: Fact | None = None  # how the piece came out, the newest word that holds
    from_notebook: bool = False  # copied from an older notebook: nothing was measured
    stands_out: tuple[StandsOut, ...] = ()  # what differs most first
    sound_shells: int = 0  # how many this foundry's sound shells were compared with
    chain_checked_at: datetime | None = None  # when the whole ledger was last looked over
    air_by_the_hour_s: float = (
        0.0  # of its life, known by the hour's mean alone: its readings were thinned out
    )
    surfaces: tuple[FeltSurface, ...] = ()
    heard: int = 0  # how many weights, faces, hands and redips of its own it was worked out with
    learned: bool = False  # its numbers are other than the usual: what was heard of it, or taught by others


@dataclass(frozen=True, slots=True)
class Within:
    """The limits something is wanted in, both of them right. None: there is none on that side."""

    least: float | None
    most: float | None

    def holds(self, value: float | None) -> bool:
        """Whether it lies within; what was not measured does."""
        low = value is None or self.least is None or value >= self.least
        return low and (value is None or self.most is None or value <= self.most)


@dataclass(frozen=True, slots=True)
class TankNow:
    """A slurry tank, and the checks of it that hold, the newest first."""

    name: str
    checks: tuple[Fact, ...]

    @property
    def last(self) -> Fact | None:
        return self.checks[0] if self.checks else None


class Factor(StrEnum):
    """What of a shell's making is held against how it came out. Each a number, larger or smaller; SI, shares of 1."""

    EARLY_DIPS = "early dips"  # how many coats went on before the one under them was ready
    WETTEST_COAT = (
        "wettest coat"  # how far above its limit the wettest coat was when the next went on; below: negative
    )
    PRIME_SWING = "prime swing"  # K, largest swing of the air while prime was the newest coat
    PRIME_TOO_DRY = "prime too dry"  # s of prime waits in air drier than the recipe asks
    COATS_SHORT = "coats short"  # how many fewer than asked; more than asked: negative
    THICKNESS = "thickness"  # m, of all coats given, each as thick as the recipe has it
    WIRES_SHORT = "wires short"  # how many of the wires asked were never recorded
    LATE_DIPS = "late dips"  # how many coats went on after the longest wait
    TANK_AGE = "tank age"  # s, the oldest slurry check any coat was dipped on
    UNMEASURED = "unmeasured"  # share of its life without measured air
    WATER_AT_END = "water at end"  # kg water a kg dry shell in the slowest place when it left the shell room
    FINAL_WAIT = "final wait"  # s from the last dip to leaving the shell room


@dataclass(frozen=True, slots=True)
class ShellSummary:
    """A mould that left the shell room: how it came out, and what its making was like. None: not known."""

    mould_id: int
    name: str
    recipe: str
    started_at: datetime
    ended_at: datetime
    verdict: str | None  # "sound" or "failed"; None: nobody has said yet
    faults: tuple[FaultKind, ...]
    factors: Mapping[Factor, float | None]
