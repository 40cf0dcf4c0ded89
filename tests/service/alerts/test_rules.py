"""alerts.toml: what ships, what may stand in it, and what is said of mistakes."""

from __future__ import annotations

import re
from datetime import time
from importlib.resources import files

import pytest

from service.alerts.kinds import Kind
from service.alerts.rules import AlertRules, read_rules, shipped_rules
from service.errors import BadInput
from service.toml_files import key_list

SHIPPED = (files("configs") / "alerts.toml").read_text(encoding="utf-8")
PHONE = '[[places]]\nname = "phone"\nsend_to = "ntfy://ntfy.example.org/secret-word"\n'


def test_the_shipped_file_holds_the_defaults() -> None:
    assert shipped_rules() == AlertRules()
    assert [r.name for r in shipped_rules().recipients] == ["console"]


def test_every_key_and_kind_is_explained_in_the_shipped_file() -> None:
    for key in key_list(AlertRules):
        assert re.search(rf"^(# )?{key.rpartition('.')[2]} = ", SHIPPED, re.MULTILINE), key
    for kind in Kind:
        assert f'"{kind}"' in SHIPPED


def test_the_examples_in_the_shipped_file_can_be_used() -> None:
    lines = SHIPPED.splitlines()
    plain = [re.sub(r"^# (?=\[|\w+ = )", "", line) for line in lines]
    rules = read_rules("\n".join(plain))
    assert [r.name for r in rules.recipients] == ["console", "shop phone", "office"]
    assert rules.quiet_hours is not None
    assert (rules.quiet_hours.start, rules.quiet_hours.until) == (time(22), time(6, 30))


def test_values_carry_units_and_become_si() -> None:
    rules = read_rules(
        '[next_dip]\nearly = "0.25 h"\n[room]\nswing_above = "3 delta_degF"\nswing_over_below = "1 delta_degC"'
    )
    assert rules.next_dip.early_s == pytest.approx(900.0)
    assert rules.room.swing_above_k == pytest.approx(3 / 1.8)  # 1 degree F is 5/9 of a kelvin


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        ('[next_dip]\nearli = "3 min"', "key_unknown", "Did you mean “early”?"),
        ('[nextdip]\nearly = "3 min"', "key_unknown", "Did you mean “next_dip”?"),
        ("[next_dip]\nearly = 10", "unit_missing", "“10” has no unit."),
        ('[room]\nswing_above = "1.7 degC"', "unit_wrong", "“1.7 degC” is not a temperature difference."),
        ('[next_dip]\nearly = "-1 min"', "value_wrong", "is too small"),
        (
            '[room]\nswing_above = "1.4 delta_degC"',
            "limits_crossed",
            "swing_over_below must be less than swing_above",
        ),
        (PHONE + PHONE, "recipient_twice", "two recipients are called “phone”"),
        (PHONE + 'kinds = ["next dip"]', "value_wrong", "'next dip due'"),
        (PHONE + 'kinds = ["reminder"]', "value_wrong", "'next dip due'"),
        ('[[places]]\nname = "phone"', "key_missing", "Add a line “send_to = "),
        ('[quiet_hours]\nfrom = "22:00"', "key_missing", "Add a line “until = "),
        ('[quiet_hours]\nfrom = "25:00"\nuntil = "06:00"', "value_wrong", "quiet_hours.from"),
        (
            '[quiet_hours]\nfrom = "late"\nuntil = "06:00"',
            "value_wrong",
            "“late” is not a time of day. Write it in",
        ),
        ('[quiet_hours]\nfrom = 22\nuntil = "06:00"', "value_wrong", 'in quotes, like "22:00".'),
        ("[next_dip", "toml_syntax", "cannot be read as TOML"),
    ],
)
def test_a_mistake_is_told_with_file_key_and_what_to_do(text: str, code: str, says: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_rules(text, "alerts.toml")
    assert caught.value.code == code
    assert caught.value.message.startswith("alerts.toml")
    assert says in str(caught.value)


def test_limits_may_not_touch() -> None:
    with pytest.raises(BadInput):
        read_rules('[room]\nswing_above = "1.5 delta_degC"\nswing_over_below = "1.5 delta_degC"')
    read_rules('[room]\nswing_above = "1.5 delta_degC"\nswing_over_below = "1.49 delta_degC"')


def test_an_address_is_never_shown() -> None:
    rules = read_rules(PHONE)
    assert "secret-word" not in repr(rules)
    assert "secret-word" not in rules.model_dump_json()
    with pytest.raises(BadInput) as caught:
        read_rules(PHONE + "quiet = 3")
    assert "secret-word" not in str(caught.value)


def test_who_is_told_of_what() -> None:
    rules = read_rules(
        PHONE + '[[places]]\nname = "office"\nsend_to = "console"\nkinds = ["ready for dewax"]'
    )
    assert rules.told_of(Kind.NEXT_DIP) == ["phone"]
    assert rules.told_of(Kind.DEWAX) == ["phone", "office"]
    assert rules.recipient("office") is rules.recipients[1]
    assert rules.recipient("nobody") is None


def test_an_empty_list_of_kinds_is_a_recipient_who_wants_nothing() -> None:
    assert read_rules(PHONE + "kinds = []").told_of(Kind.NEXT_DIP) == []


@pytest.mark.parametrize(
    ("attempts", "wait_s"),
    [(0, 60), (1, 60), (2, 120), (3, 240), (5, 960), (6, 1800), (7, 1800), (10**6, 1800)],
)
def test_a_retry_waits_twice_as_long_each_time_up_to_the_longest(attempts: int, wait_s: float) -> None:
    assert shipped_rules().sending.retry_after_s(attempts) == wait_s
