"""alerts.toml: who is told of what, how early, how often, and by what limits an alert comes and goes."""

from __future__ import annotations

from datetime import time
from importlib.resources import files
from typing import Annotated, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, SecretStr, model_validator

from service.alerts.kinds import Kind
from service.errors import BadInput
from service.toml_files import check_data, parse_toml
from service.units import Fraction, SecondsS, TemperatureDifferenceK

CONSOLE = "console"
DAY_S = 86400.0


class Part(BaseModel):
    """A table of alerts.toml: an unknown key is an error, and so is a number that is not finite."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class NextDipRules(Part):
    """How early the bell rings, and how often again while nobody acts."""

    early_s: SecondsS = Field(default=600.0, ge=0, le=7200, alias="early")
    put_off_s: SecondsS = Field(default=1800.0, ge=60, le=DAY_S, alias="put_off")
    remind_every_s: SecondsS = Field(default=3600.0, ge=300, le=7 * DAY_S, alias="remind_every")
    most_reminders: int = Field(default=3, ge=0, le=20)


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
                "swing_over_below must be less than swing_above, or the message would flutter.",
                "Keep some tenths of a degree between them, such as 1.7 delta_degC and 1.4 delta_degC.",
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
            "value_wrong", f"“{written}” is not a time of day.", 'Write it in quotes, like "22:00".'
        )
    return written


ClockTime = Annotated[time, BeforeValidator(_no_number)]


class QuietHours(Part):
    """Local times between which only `urgent` kinds go out; the others wait for the end. May run over midnight."""

    start: ClockTime = Field(alias="from", examples=['"22:00"'])
    until: ClockTime = Field(examples=['"06:30"'])
    urgent: tuple[Kind, ...] = (Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST)


class SendingRules(Part):
    """How sending is tried again, and from how many messages of a kind on they go as one."""

    first_retry_s: SecondsS = Field(default=60.0, ge=1, le=3600, alias="first_retry")
    longest_retry_s: SecondsS = Field(default=1800.0, ge=1, le=DAY_S, alias="longest_retry")
    time_out_s: SecondsS = Field(default=20.0, ge=1, le=120, alias="time_out")
    together_from: int = Field(default=3, ge=2, le=1000)

    def retry_after_s(self, attempts: int) -> float:
        """How long to wait after that many failed attempts: doubling, up to the longest."""
        return min(self.first_retry_s * 2.0 ** min(max(attempts - 1, 0), 30), self.longest_retry_s)


class Recipient(Part):
    """Somebody, or some place, that is told: `send_to` is ``console`` or an Apprise address. No kinds: all of them."""

    name: str = Field(min_length=1, max_length=60, examples=['"shop phone"'])
    send_to: SecretStr = Field(min_length=1, examples=['"ntfy://ntfy.example.org/shellroom"'])
    kinds: tuple[Kind, ...] | None = None
    quiet: bool = True

    def wants(self, kind: Kind) -> bool:
        """Whether this kind goes here. A reminder or an all clear goes where the message before it went."""
        return self.kinds is None or kind in self.kinds


class AlertRules(Part):
    """alerts.toml"""

    next_dip: NextDipRules = NextDipRules()
    longest_wait: LongestWaitRules = LongestWaitRules()
    room: RoomRules = RoomRules()
    sensors: SensorRules = SensorRules()
    sending: SendingRules = SendingRules()
    quiet_hours: QuietHours | None = None
    recipients: tuple[Recipient, ...] = (Recipient(name=CONSOLE, send_to=SecretStr(CONSOLE), quiet=False),)

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        names = [recipient.name for recipient in self.recipients]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise BadInput(
                "recipient_twice", f"two recipients are called “{twice}”.", "Give each a name of its own."
            )
        return self

    def recipient(self, name: str) -> Recipient | None:
        """The recipient of that name, if there still is one."""
        return next((r for r in self.recipients if r.name == name), None)

    def told_of(self, kind: Kind) -> list[str]:
        """The names of those who are told of this kind."""
        return [recipient.name for recipient in self.recipients if recipient.wants(kind)]


def read_rules(text: str, file_name: str = "alerts.toml") -> AlertRules:
    """Rules from TOML. Raises BadInput naming the file, the key, what is wrong and what to do."""
    return check_data(parse_toml(text, file_name), file_name, AlertRules)


def shipped_rules() -> AlertRules:
    """The rules that come with coatbell."""
    return read_rules((files("configs") / "alerts.toml").read_text(encoding="utf-8"))
