"""alerts.toml: who is told of what, how early, how often, and by what limits an alert comes and goes."""

from __future__ import annotations

from datetime import time
from importlib.resources import files
from typing import Annotated, Any, Self

from pydantic import AfterValidator, BeforeValidator, Field, SecretStr, model_validator

from service.alerts.hours import Hours
from service.alerts.kinds import URGENT, Kind
from service.alerts.people import CONSOLE as CONSOLE
from service.alerts.people import Address, Part, Person, Place, Reach, check_names, quiet_of
from service.errors import BadInput
from service.records.shop_facts import Site
from service.room.sureness import USUAL, Sureness
from service.toml_files import check_data, parse_toml
from service.units import Fraction, SecondsS, TemperatureDifferenceK, TemperatureK
from service.voice import say

DAY_S = 86400.0


def _a_share(sure: float) -> float:
    """80 alone would be read as 8000 %."""
    if sure > 1.0:
        raise BadInput(
            "value_wrong",
            say("That would be {percent:g} %, more than certain.", percent=100 * sure),
            say('Write it like "80 %".'),
        )
    return sure


Sure = Annotated[Fraction, AfterValidator(_a_share), Field(ge=0.5, le=0.95)]
"""How sure a bell is. Under half it would ring wrongly more often than not; beyond 95 %, so few of the ways in which a
shell may dry are left that their hour is chance (our choice)."""


class NextDipRules(Part):
    """How sure and how early the bell rings, when it is taken back, and what rings with it.

    sure: that the coat is dry enough, when the next can be dipped; by the kind of that coat, where it is other.
    """

    sure: Sure = USUAL
    sure_prime: Sure | None = None
    sure_backup: Sure | None = None
    sure_seal: Sure | None = None
    early_s: SecondsS = Field(default=600.0, ge=0, le=7200, alias="early")
    put_off_s: SecondsS = Field(default=1800.0, ge=60, le=DAY_S, alias="put_off")
    together_within_s: SecondsS = Field(default=600.0, ge=0, le=7200, alias="together_within")


class DewaxRules(Part):
    """How sure it is that the whole shell is dry enough, when *ready for dewax* rings."""

    sure: Sure = USUAL


class NotPickedUpRules(Part):
    """What happens while nobody dips and nobody says that they come. The `urgent` pair is for urgent kinds."""

    remind_after_s: SecondsS = Field(default=1800.0, ge=60, le=DAY_S, alias="remind_after")
    next_person_after_s: SecondsS = Field(default=3600.0, ge=60, le=DAY_S, alias="next_person_after")
    urgent_remind_after_s: SecondsS = Field(default=600.0, ge=60, le=DAY_S, alias="urgent_remind_after")
    urgent_next_person_after_s: SecondsS = Field(
        default=900.0, ge=60, le=DAY_S, alias="urgent_next_person_after"
    )
    remind_every_s: SecondsS = Field(default=3600.0, ge=300, le=7 * DAY_S, alias="remind_every")
    most_reminders: int = Field(default=3, ge=0, le=20)
    on_my_way_for_s: SecondsS = Field(default=1800.0, ge=60, le=DAY_S, alias="on_my_way_for")
    snooze_s: SecondsS = Field(default=1800.0, ge=60, le=DAY_S, alias="snooze")
    link_holds_s: SecondsS = Field(default=DAY_S, ge=600, le=7 * DAY_S, alias="link_holds")


class NightRules(Part):
    """When somebody is told what comes due while they cannot be rung."""

    say_before_s: SecondsS = Field(default=2700.0, ge=0, le=6 * 3600, alias="say_before")


class PowerCutRules(Part):
    """From how long a cut on it is told, and at what air a wax may have been harmed."""

    told_from_s: SecondsS = Field(default=900.0, ge=10, le=DAY_S, alias="told_from")  # two beats at least
    wax_brittle_below_k: TemperatureK = Field(default=275.15, ge=223.15, le=293.15, alias="wax_brittle_below")
    wax_soft_above_k: TemperatureK = Field(default=305.15, ge=293.15, le=343.15, alias="wax_soft_above")


class LongestWaitRules(Part):
    """How long before a coat's longest wait ends somebody is told."""

    warn_before_s: SecondsS = Field(default=1800.0, ge=0, le=DAY_S, alias="warn_before")


class RoomRules(Part):
    """When the room's air is worth a message, and when that is over: two limits each, so that nothing flutters."""

    out_for_s: SecondsS = Field(default=1200.0, ge=0, le=DAY_S, alias="out_for")
    back_by_temperature_k: TemperatureDifferenceK = Field(
        default=0.3, ge=0, le=5, alias="back_by_temperature"
    )
    back_by_humidity: Fraction = Field(default=0.02, ge=0, le=0.2)
    swing_above_k: TemperatureDifferenceK = Field(default=1.7, gt=0, le=20, alias="swing_above")
    swing_over_below_k: TemperatureDifferenceK = Field(default=1.4, gt=0, le=20, alias="swing_over_below")
    too_damp_by: Fraction = Field(default=0.01, ge=0, le=0.5)
    too_damp_for_s: SecondsS = Field(default=3600.0, ge=0, le=DAY_S, alias="too_damp_for")

    @model_validator(mode="after")
    def _two_limits(self) -> Self:
        if self.swing_over_below_k >= self.swing_above_k:
            raise BadInput(
                "limits_crossed",
                say("swing_over_below must be less than swing_above, or the message would flutter."),
                say("Keep some tenths of a degree between them, such as 1.7 delta_degC and 1.4 delta_degC."),
            )
        return self


class SensorRules(Part):
    """How long nothing may be heard."""

    silent_for_s: SecondsS = Field(default=900.0, ge=60, le=7 * DAY_S, alias="silent_for")
    broker_down_for_s: SecondsS = Field(default=120.0, ge=0, le=DAY_S, alias="broker_down_for")
    stays_open_s: SecondsS = Field(default=900.0, ge=0, le=DAY_S, alias="stays_open")


def _no_number(written: object) -> object:
    """A plain 22 would be read as 22 seconds past midnight."""
    if isinstance(written, int | float):
        raise BadInput(
            "value_wrong",
            say("“{written}” is not a time of day.", written=written),
            say('Write it in quotes, like "22:00".'),
        )
    return written


def _shops_own(at: time) -> time:
    if at.tzinfo is not None:
        raise BadInput(
            "value_wrong",
            say("“{at}” names a time zone.", at=at),
            say('Write it by the shop\'s clock, like "22:00".'),
        )
    return at


ClockTime = Annotated[time, BeforeValidator(_no_number), AfterValidator(_shops_own)]


class QuietHours(Part):
    """Local times between which only `urgent` kinds go out; the others wait for the end. May run over midnight.

    start and until None: there are no quiet hours, but `urgent` still says what reaches people outside working hours.
    """

    start: ClockTime | None = Field(default=None, alias="from", examples=['"22:00"'])
    until: ClockTime | None = Field(default=None, examples=['"06:30"'])
    urgent: tuple[Kind, ...] = URGENT

    @model_validator(mode="after")
    def _both(self) -> Self:
        if (self.start is None) != (self.until is None):
            raise BadInput(
                "hours_wrong",
                say("quiet hours need both from and until."),
                say('Write from = "22:00", until = "06:30".'),
            )
        if self.start is not None and self.start == self.until:
            raise BadInput(
                "hours_wrong",
                say("quiet hours end when they begin."),
                say('Write from = "22:00", until = "06:30", or take both lines out for none.'),
            )
        return self

    @property
    def hours(self) -> Hours | None:
        if self.start is None or self.until is None:
            return None
        return Hours(_seconds(self.start), _seconds(self.until))


def _seconds(at: time) -> int:
    return at.hour * 3600 + at.minute * 60 + at.second


class SendingRules(Part):
    """How sending is tried again, and from how many messages of a kind on they go as one."""

    first_retry_s: SecondsS = Field(default=60.0, ge=1, le=3600, alias="first_retry")
    longest_retry_s: SecondsS = Field(default=1800.0, ge=1, le=DAY_S, alias="longest_retry")
    time_out_s: SecondsS = Field(default=20.0, ge=1, le=120, alias="time_out")
    together_from: int = Field(default=3, ge=2, le=1000)
    jitter: Fraction = Field(default=0.2, ge=0, le=0.5)

    def retry_after_s(self, attempts: int) -> float:
        """How long to wait after that many failed attempts: doubling, up to the longest."""
        return min(self.first_retry_s * 2.0 ** min(max(attempts - 1, 0), 30), self.longest_retry_s)


class PushRules(Part):
    """Ringing browsers. contact: by which push services may reach whoever runs coatbell (RFC 8292 section 2.1).

    None: no browser is rung.
    """

    contact: str | None = Field(
        default=None,
        max_length=200,
        pattern=r"^(mailto:[^\s@,?]+@[^\s@,?]+|https://[^\s/]+\S*)$",
        examples=['"mailto:you@example.org"'],
    )


class AlertRules(Part):
    """alerts.toml"""

    console: bool = True
    next_dip: NextDipRules = NextDipRules()
    dewax: DewaxRules = DewaxRules()
    not_picked_up: NotPickedUpRules = NotPickedUpRules()
    night: NightRules = NightRules()
    longest_wait: LongestWaitRules = LongestWaitRules()
    room: RoomRules = RoomRules()
    sensors: SensorRules = SensorRules()
    power_cut: PowerCutRules = PowerCutRules()
    sending: SendingRules = SendingRules()
    push: PushRules = PushRules()
    quiet_hours: QuietHours = QuietHours()
    people: tuple[Person, ...] = ()
    places: tuple[Place, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _old_name(cls, data: Any) -> Any:
        if isinstance(data, dict) and "recipients" in data:
            raise BadInput(
                "recipients_renamed",
                say("there are no recipients any more."),
                say(
                    "Write [[people]] for somebody who dips, [[places]] for what everybody hears; the comments in "
                    "the shipped file show how."
                ),
            )
        return data

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        check_names([r.name for r in self.recipients], say("two of those who are told are called"))
        return self

    @model_validator(mode="after")
    def _everybody_can_be_rung(self) -> Self:
        for person in self.people:
            urgent_only = person.kinds is not None and all(map(self.is_urgent, person.kinds))
            if not urgent_only and not person.can_ever_ring(quiet_of(person, self.quiet_hours.hours)):
                raise BadInput(
                    "never_rung",
                    say(
                        "“{person}” could never be rung: every hour of theirs is a quiet one.",
                        person=person.name,
                    ),
                    say(
                        'Leave a gap between works and quiet hours; their own quiet = "none" takes the shop\'s away. '
                        "For what is urgent alone, name it as their kinds."
                    ),
                )
        return self

    @property
    def everywhere(self) -> tuple[Place, ...]:
        """The places, with the console among them unless it is switched off."""
        console = Place(name=CONSOLE, send_to=SecretStr(CONSOLE), quiet=False)
        return (console, *self.places) if self.console else self.places

    @property
    def recipients(self) -> tuple[Person | Place, ...]:
        """Everybody and every place that is told."""
        return (*self.everywhere, *self.people)

    def recipient(self, name: str) -> Person | Place | None:
        """The person or place of that name, if there still is one."""
        return next((r for r in self.recipients if r.name == name), None)

    def person(self, name: str) -> Person | None:
        """The person of that name, if there still is one."""
        return next((p for p in self.people if p.name == name), None)

    @property
    def sureness(self) -> Sureness:
        """How sure the shop wants each bell."""
        dip = self.next_dip
        prime, backup, seal = (
            dip.sure if own is None else own for own in (dip.sure_prime, dip.sure_backup, dip.sure_seal)
        )
        return Sureness(prime, backup, seal, self.dewax.sure)

    def is_urgent(self, kind: str) -> bool:
        """Whether this kind rings in quiet hours too."""
        return kind in self.quiet_hours.urgent

    def remind_after_s(self, kind: str) -> float:
        """How long after somebody was told they are told again."""
        waits = self.not_picked_up
        return waits.urgent_remind_after_s if self.is_urgent(kind) else waits.remind_after_s

    def next_person_after_s(self, kind: str) -> float:
        """How long after somebody was told the next person is."""
        waits = self.not_picked_up
        return waits.urgent_next_person_after_s if self.is_urgent(kind) else waits.next_person_after_s

    def reach(self, site: Site | None) -> Reach:
        """Who can be reached when, by the clock of that site."""
        return Reach(self.people, self.quiet_hours.hours, site)

    def ways_of(self, name: str) -> tuple[Address, ...]:
        """The addresses of a person or place, in the order in which they are tried."""
        found = self.recipient(name)
        return found.ways if found else ()


def read_rules(text: str, file_name: str = "alerts.toml") -> AlertRules:
    """Rules from TOML. Raises BadInput naming the file, the key, what is wrong and what to do."""
    return check_data(parse_toml(text, file_name), file_name, AlertRules)


def shipped_rules() -> AlertRules:
    """The rules that come with coatbell."""
    return read_rules((files("configs") / "alerts.toml").read_text(encoding="utf-8"))
