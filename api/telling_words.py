"""What the tables of alerts.toml are called on a page, and how their values are said."""

from __future__ import annotations

from datetime import time
from typing import Any

from service.alerts.kinds import Kind
from service.alerts.tables import Value
from service.records.shop_facts import Site
from service.units import Dimension, show
from service.voice import later, say
from service.words.numbers import units_of

KINDS: dict[str, str] = {
    Kind.NEXT_DIP: later("next dip due"),
    Kind.LONGEST_WAIT_NEAR: later("longest wait near"),
    Kind.LONGEST_WAIT_PAST: later("waiting too long"),
    Kind.DEWAX: later("ready for dewax"),
    Kind.TOO_DAMP: later("too damp"),
    Kind.ROOM_OUT: later("room out of limits"),
    Kind.ROOM_SWING: later("room swinging"),
    Kind.ROOM_SILENT: later("room silent"),
    Kind.SENSOR_SILENT: later("sensor silent"),
    Kind.SENSORS_DIFFER: later("sensors differ"),
    Kind.BROKER_DOWN: later("broker down"),
    Kind.BEFORE_NIGHT: later("before the night"),
    Kind.WAX_AT_RISK: later("wax at risk"),
    Kind.AFTER_A_CUT: later("after a cut"),
    Kind.CLOCK_WRONG: later("clock wrong"),
}
TABLES: dict[str, tuple[str, str]] = {
    "quiet_hours": (
        later("Quiet hours"),
        later("In them everything but what is urgent waits. Somebody's own go before these."),
    ),
    "next_dip": (later("The next dip"), later("When the bell rings, and what rings with it.")),
    "dewax": (later("Ready for dewax"), later("When it is told that a shell is dry right through.")),
    "not_picked_up": (
        later("Nobody comes"),
        later("While nobody dips and nobody says “on my way”: told again, then the next person is told."),
    ),
    "night": (later("Before the night"), later("What comes due while somebody cannot be rung.")),
    "longest_wait": (later("The longest wait"), later("Before the recipe's longest wait of a coat ends.")),
    "room": (later("Air of a room"), later("When it is worth a message, and when that is over.")),
    "sensors": (later("Sensors and broker"), later("How long nothing may be heard.")),
    "power_cut": (later("After a power cut"), later("What is told of it, and what air harms a wax.")),
    "sending": (later("Sending"), later("How a message is tried again where it was not taken.")),
    "push": (later("Ringing browsers"), later("Needs https; see the page “Messages”.")),
    "console": (later("The terminal"), later("Where coatbell was started.")),
}
"""Title and what it is about, in the order in which a shop wants them."""
VALUES: dict[tuple[str, str], str] = {
    ("quiet_hours", "from"): later("They begin at"),
    ("quiet_hours", "until"): later("and end at"),
    ("quiet_hours", "urgent"): later("Urgent: rings all the same"),
    ("next_dip", "sure"): later("How surely dry a coat is when its bell rings"),
    ("next_dip", "sure_prime"): later("How surely, after a prime coat"),
    ("next_dip", "sure_backup"): later("How surely, after a backup coat"),
    ("next_dip", "sure_seal"): later("How surely, after a seal coat"),
    ("dewax", "sure"): later("How surely dry through a shell is when it is told"),
    ("next_dip", "early"): later("So long before a coat is ready the bell rings"),
    ("next_dip", "put_off"): later("So much further away, who heard it is told “not yet”"),
    ("next_dip", "together_within"): later("What comes ready so soon after rings with it"),
    ("not_picked_up", "remind_after"): later("Told again after"),
    ("not_picked_up", "next_person_after"): later("The next person is told after"),
    ("not_picked_up", "urgent_remind_after"): later("What is urgent: told again after"),
    ("not_picked_up", "urgent_next_person_after"): later("What is urgent: the next person is told after"),
    ("not_picked_up", "remind_every"): later("From then on again every"),
    ("not_picked_up", "most_reminders"): later("Reminders at most"),
    ("not_picked_up", "on_my_way_for"): later("So long it is quiet after “on my way”"),
    ("not_picked_up", "snooze"): later("“Ring again” puts it off by"),
    ("not_picked_up", "link_holds"): later("Links in a message can be tapped for"),
    ("night", "say_before"): later("So long before somebody's day ends they hear of it"),
    ("longest_wait", "warn_before"): later("Told so long before"),
    ("room", "out_for"): later("Told once it is out of its limits for"),
    ("room", "back_by_temperature"): later("Over once the temperature is inside again by"),
    ("room", "back_by_humidity"): later("Over once the humidity is inside again by"),
    ("room", "swing_above"): later("Swings more than this are told, with prime coats on"),
    ("room", "swing_over_below"): later("A swing is over once it is below"),
    ("room", "too_damp_by"): later("Too damp: above what the shells need by"),
    ("room", "too_damp_for"): later("Told once it is too damp for"),
    ("sensors", "silent_for"): later("A sensor is silent after"),
    ("sensors", "broker_down_for"): later("The broker is down after"),
    ("sensors", "stays_open"): later("An all clear comes no sooner than"),
    ("power_cut", "told_from"): later("Told from so long on"),
    ("power_cut", "wax_brittle_below"): later("Wax gets brittle below"),
    ("power_cut", "wax_soft_above"): later("Wax gets soft above"),
    ("sending", "first_retry"): later("Tried again after"),
    ("sending", "longest_retry"): later("doubled each time, up to"),
    ("sending", "time_out"): later("No answer within"),
    ("sending", "together_from"): later("So many messages of a kind at once go as one"),
    ("sending", "jitter"): later("Tries come earlier or later by up to"),
    ("push", "contact"): later("Address by which push services may reach you"),
    ("console", "on"): later("Print everything there, too"),
}
AS_ANY_COAT = {("next_dip", "sure_prime"), ("next_dip", "sure_backup"), ("next_dip", "sure_seal")}
"""Those that hold only where they are said."""
HINTS: dict[tuple[str, str], str] = {
    **dict.fromkeys(AS_ANY_COAT, later("Left empty: as for any coat.")),
    ("next_dip", "sure"): later(
        "80 %: it rings when it is dry enough in 8 of 10 such cases. Higher: it rings later, and fewer coats are "
        "dipped damp. From 50 to 95 %."
    ),
    ("dewax", "sure"): later(
        "80 %: it is told when the shell is dry enough in 8 of 10 such cases. Higher: it is told later, and fewer "
        "shells are melted out damp. From 50 to 95 %."
    ),
}
"""What somebody wants to know before they change a value, where its name does not say it."""
LENGTHS = (("d", 86400), ("h", 3600), ("min", 60))


def length_of(seconds: float) -> tuple[str, str]:
    """Number and unit as people say it: ``30 min``, ``24 h``, ``90 s``."""
    for unit, long_s in LENGTHS:
        if seconds >= long_s and seconds % long_s == 0 and not (unit == "d" and seconds < 2 * long_s):
            return f"{seconds / long_s:g}", unit
    return f"{seconds:g}", "s"


def value_words(value: Any, dimension: Dimension | None, site: Site | None) -> str:
    """How one value is said."""
    if value is None or value == "":
        return say("none")
    if isinstance(value, bool):
        return say("yes") if value else say("no")
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, tuple):
        return ", ".join(say(KINDS[kind]) for kind in value) or say("none")
    if dimension is Dimension.TIME:
        return " ".join(length_of(value))
    return show(value, dimension, units_of(site)) if dimension else str(value)


def kind_words(kind: str) -> str:
    """What a message is about."""
    return say(KINDS[kind])


def held_words(table: str, value: Value, held: Any, site: Site | None) -> str:
    """How what holds of a value, or what would, is said."""
    if held is None and (table, value.key) in AS_ANY_COAT:
        return say("as for any coat")
    return value_words(held, value.dimension, site)


def hint_of(table: str, value: Value) -> str:
    """What there is to know of it, if anything."""
    hint = HINTS.get((table, value.key))
    return say(hint) if hint else ""


def label_of(table: str, value: Value) -> str:
    """What a value is called."""
    return say(VALUES[table, value.key])
