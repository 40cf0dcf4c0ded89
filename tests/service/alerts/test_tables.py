"""The tables of alerts.toml value by value, and where each comes from."""

from __future__ import annotations

import pytest

from service.alerts.rules import AlertRules
from service.alerts.tables import MODELS, Origin, Value, differing, values_of
from service.errors import BadInput
from service.units import Dimension

FILE = {"not_picked_up": {"snooze": "20 min"}, "console": False}


def value(table: str, key: str, here: dict[str, object] | None = None) -> Value:
    return next(each for each in values_of(table, FILE, here or {}) if each.key == key)


def test_every_table_of_the_rules_is_there() -> None:
    assert set(MODELS) == set(AlertRules.model_fields) - {"people", "places"}


def test_a_default_the_files_and_what_was_set_up() -> None:
    plain = value("not_picked_up", "remind_after")
    assert (plain.now, plain.origin, plain.dimension) == (1800.0, Origin.DEFAULT, Dimension.TIME)
    files = value("not_picked_up", "snooze")
    assert (files.now, files.before, files.origin) == (1200.0, 1200.0, Origin.FILE)
    here = value("not_picked_up", "snooze", {"snooze": "5 min"})
    assert (here.now, here.before, here.origin, here.before_in_file) == (300.0, 1200.0, Origin.HERE, True)


def test_the_console_stands_alone_in_the_file() -> None:
    assert (value("console", "on").now, value("console", "on").origin) == (False, Origin.FILE)


def test_what_is_as_it_was_is_nothing_new() -> None:
    said = {"snooze": "1200 s", "remind_after": "0.5 h", "most_reminders": 4}
    assert differing("not_picked_up", FILE, said) == {"most_reminders": 4}


def test_what_cannot_be_names_its_key() -> None:
    with pytest.raises(BadInput) as refused:
        differing("not_picked_up", FILE, {"snooze": "5 s"})
    assert refused.value.field == "snooze"
    assert refused.value.message == "“5 s” is too small: it must be at least 60 s."
