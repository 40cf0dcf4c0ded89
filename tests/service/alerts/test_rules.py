"""alerts.toml: what ships, what may stand in it, and what is said of mistakes."""

from __future__ import annotations

import re
from datetime import UTC, datetime, time
from importlib.resources import files

import pytest

from service.alerts.kinds import URGENT, Kind
from service.alerts.rules import AlertRules, read_rules, shipped_rules
from service.errors import BadInput
from service.records.recipes import CoatKind
from service.toml_files import key_list

SHIPPED = (files("configs") / "alerts.toml").read_text(encoding="utf-8")
PHONE = '[[places]]\nname = "phone"\nsend_to = "ntfy://ntfy.example.org/secret-word"\n'
BENCH = '[[people]]\nname = "bench 1"\nways = ["ntfy://ntfy.example.org/secret-word"]\n'


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
    assert [r.name for r in rules.recipients] == ["console", "office", "bench 1", "bench 2"]
    assert [(p.turn, len(p.ways)) for p in rules.people] == [(1, 2), (2, 1)]
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
        (
            '[next_dip]\nsure = "96 %"',
            "value_wrong",
            "next_dip.sure: “96 %” is too large: it must be at most 95 %.",
        ),
        (
            '[next_dip]\nsure_seal = "49 %"',
            "value_wrong",
            "sure_seal: “49 %” is too small: it must be at least 50 %.",
        ),
        (
            "[next_dip]\nsure = 80",
            "value_wrong",
            'That would be 8000 %, more than certain. Write it like "80 %".',
        ),
        ('[dewax]\nsure = "2 h"', "unit_wrong", "dewax.sure: “2 h” is not a fraction."),
        ('[dewax]\nsure_seal = "80 %"', "key_unknown", "Did you mean “sure”?"),
        ('[room]\nswing_above = "1.7 degC"', "unit_wrong", "“1.7 degC” is not a temperature difference."),
        ('[next_dip]\nearly = "-1 min"', "value_wrong", "is too small"),
        (
            '[room]\nswing_above = "1.4 delta_degC"',
            "limits_crossed",
            "swing_over_below must be less than swing_above",
        ),
        (PHONE + PHONE, "name_twice", "two of those who are told are called “phone”"),
        (PHONE + BENCH.replace("bench 1", "phone"), "name_twice", "are called “phone”"),
        (BENCH.replace("bench 1", "console"), "name_twice", "are called “console”"),
        (BENCH + "turn = 0", "value_wrong", "people"),
        (BENCH + 'works = ["Mo-Fr 07:00-17:00"]', "day_wrong", "“Mo” is not a day of the week"),
        (BENCH + 'works = ["07:00-07:10"]', "hours_wrong", "is too short"),
        (BENCH + 'days_off = ["2027-01-02 to 2026-12-24"]', "day_wrong", "is no day off"),
        (BENCH + "days_off = [2026-12-24T12:00:00]", "day_wrong", "is no whole day"),
        (BENCH + "quiet = false", "hours_wrong", "is not a span of hours"),
        (BENCH + "quiet = 22:00:00", "hours_wrong", 'Write it in quotes, like "22:00-06:30".'),
        (BENCH + 'quiet = ["22:00-06:30"]', "hours_wrong", "is not a span of hours"),
        (BENCH + 'quiet = { from = "22:00" }', "hours_wrong", "is not a span of hours"),
        (BENCH + 'works = [{ days = "Mon" }]', "hours_wrong", "is not a span of hours"),
        (BENCH + 'quiet = "00:00-24:00"', "never_rung", "“bench 1” could never be rung"),
        (BENCH.replace("bench 1", "  "), "name_missing", "There is no name for somebody who is told"),
        (BENCH.replace("bench 1", "bench\\n1"), "name_unreadable", "cannot be shown"),
        (BENCH + BENCH.replace("bench 1", "Bench 1 "), "name_twice", "are called “bench 1”"),
        (BENCH + 'send_to = "console"', "key_unknown", "send_to"),
        ('[[recipients]]\nname = "phone"', "recipients_renamed", "Write [[people]] for somebody who dips"),
        ('[next_dip]\nremind_every = "1 h"', "key_unknown", "remind_every"),
        ('[not_picked_up]\nurgent_remind_after = "0 min"', "value_wrong", "is too small"),
        (PHONE + 'kinds = ["next dip"]', "value_wrong", "'next dip due'"),
        (PHONE + 'kinds = ["reminder"]', "value_wrong", "'next dip due'"),
        ('[[places]]\nname = "phone"', "key_missing", "Add a line “send_to = "),
        ('[quiet_hours]\nfrom = "22:00"', "hours_wrong", "quiet hours need both from and until"),
        ('[quiet_hours]\nuntil = "06:30"', "hours_wrong", "quiet hours need both from and until"),
        ('[quiet_hours]\nfrom = "22:00"\nuntil = "22:00"', "hours_wrong", "end when they begin"),
        ('[quiet_hours]\nfrom = "25:00"\nuntil = "06:00"', "value_wrong", "quiet_hours.from"),
        (
            '[quiet_hours]\nfrom = "late"\nuntil = "06:00"',
            "value_wrong",
            "“late” is not a time of day. Write it in",
        ),
        ('[quiet_hours]\nfrom = 22\nuntil = "06:00"', "value_wrong", 'in quotes, like "22:00".'),
        ('[quiet_hours]\nfrom = "22:00+02:00"\nuntil = "06:00"', "value_wrong", "names a time zone"),
        ("[next_dip", "toml_syntax", "cannot be read as TOML"),
    ],
)
def test_a_mistake_is_told_with_file_key_and_what_to_do(text: str, code: str, says: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_rules(text, "alerts.toml")
    assert caught.value.code == code
    assert caught.value.message.startswith("alerts.toml")
    assert says in str(caught.value)


class TestSureness:
    """How sure each bell is."""

    @pytest.mark.parametrize(
        ("text", "prime", "backup", "seal", "dewax"),
        [
            ("", 0.8, 0.8, 0.8, 0.8),
            ('[next_dip]\nsure = "90 %"', 0.9, 0.9, 0.9, 0.8),
            ('[next_dip]\nsure_prime = "95 %"\nsure_seal = "50 %"', 0.95, 0.8, 0.5, 0.8),
            ('[next_dip]\nsure = 0.6\nsure_backup = 0.7\n[dewax]\nsure = "95 %"', 0.6, 0.7, 0.6, 0.95),
        ],
    )
    def test_by_the_kind_of_the_coat_that_dries(
        self, text: str, prime: float, backup: float, seal: float, dewax: float
    ) -> None:
        sureness = read_rules(text).sureness
        kinds = [sureness.of(kind) for kind in (CoatKind.PRIME, CoatKind.BACKUP, CoatKind.SEAL)]
        assert [*kinds, sureness.dewax] == [prime, backup, seal, dewax]


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


ADDRESS = "ntfy://ntfy.example.org/secret-word"


@pytest.mark.parametrize(
    "text",
    [
        f'[[people]]\nname = "bench 1"\nways = "{ADDRESS}"',
        f'[[people]]\nname = "bench 1"\nways = [["{ADDRESS}"]]',
        f'[[people]]\nname = "bench 1"\nways = [{{ sendto = "{ADDRESS}" }}]',
        f'[[people]]\nname = "bench 1"\nway = "{ADDRESS}"',
        f'people = "{ADDRESS}"',
        f'places = ["{ADDRESS}"]',
        f'[[places]]\nname = "phone"\nsend_to = ["{ADDRESS}"]',
        f'[[places]]\nname = "phone"\nways = ["{ADDRESS}"]',
        f'[[people]]\nname = "bench 1"\nways = ["{ADDRESS}"',
    ],
)
def test_no_mistake_of_writing_makes_an_error_that_tells_an_address(text: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_rules(text)
    assert "secret-word" not in str(caught.value)


@pytest.mark.parametrize(
    ("hours", "kinds", "rung"),
    [
        ('works = ["Mon-Fri 07:00-17:00"]\nquiet = "17:00-07:00"', "", True),
        ('works = ["Mon-Fri 07:00-17:00"]\nquiet = "07:00-17:00"', "", False),
        ('works = ["Mon-Fri 07:00-17:00"]\nquiet = "07:01-17:00"', "", True),
        ('works = ["Mon-Fri 07:00-17:00"]\nquiet = "07:00-16:59"', "", True),
        ('works = ["22:00-06:00"]', "", False),
        ('works = ["22:00-06:00"]\nquiet = "none"', "", True),
        ('works = ["22:00-06:00", "Sun 06:00-06:31"]', "", True),
        ('works = ["22:00-06:00"]', 'kinds = ["waiting too long"]', True),
        ('works = ["22:00-06:00"]', 'kinds = ["waiting too long", "next dip due"]', False),
    ],
)
def test_whose_hours_leave_no_gap_is_named_at_once(hours: str, kinds: str, rung: bool) -> None:
    text = f'[quiet_hours]\nfrom = "21:30"\nuntil = "06:30"\n{BENCH}{hours}\n{kinds}'
    if rung:
        assert read_rules(text).people
    else:
        with pytest.raises(BadInput, match="“bench 1” could never be rung"):
            read_rules(text)


def test_people_and_places_are_found_by_name() -> None:
    rules = read_rules(PHONE + BENCH)
    assert [r.name for r in rules.recipients] == ["console", "phone", "bench 1"]
    assert rules.recipient("bench 1") is rules.person("bench 1") is rules.people[0]
    assert rules.recipient("phone") is rules.places[0]
    assert rules.person("phone") is None
    assert rules.recipient("nobody") is None
    assert rules.ways_of("nobody") == ()
    assert [way.called for way in rules.ways_of("bench 1")] == ["ntfy"]
    assert [way.called for way in rules.ways_of("console")] == ["console"]


def test_the_console_can_be_switched_off() -> None:
    assert [r.name for r in read_rules("console = false\n" + PHONE).recipients] == ["phone"]
    assert read_rules("console = false").recipients == ()


def test_quiet_hours_left_out_still_say_what_is_urgent() -> None:
    rules = read_rules('[quiet_hours]\nurgent = ["too damp"]')
    assert rules.quiet_hours.hours is None
    assert [kind for kind in Kind if rules.is_urgent(kind)] == [Kind.TOO_DAMP]
    assert [kind for kind in Kind if shipped_rules().is_urgent(kind)] == list(URGENT)


def test_what_is_urgent_waits_less_long() -> None:
    rules = shipped_rules()
    assert (rules.remind_after_s(Kind.NEXT_DIP), rules.next_person_after_s(Kind.NEXT_DIP)) == (1800, 3600)
    assert (rules.remind_after_s(Kind.WAX_AT_RISK), rules.next_person_after_s(Kind.WAX_AT_RISK)) == (600, 900)


def test_quiet_hours_of_the_shop_hold_for_people_who_have_none_of_their_own() -> None:
    rules = read_rules('[quiet_hours]\nfrom = "22:00"\nuntil = "06:30"\n' + BENCH)
    assert not rules.reach(None).reachable("bench 1", datetime(2026, 3, 2, 22, tzinfo=UTC))
    assert rules.reach(None).reachable("bench 1", datetime(2026, 3, 2, 21, 59, 59, tzinfo=UTC))


@pytest.mark.parametrize(
    ("attempts", "wait_s"),
    [(0, 60), (1, 60), (2, 120), (3, 240), (5, 960), (6, 1800), (7, 1800), (10**6, 1800)],
)
def test_a_retry_waits_twice_as_long_each_time_up_to_the_longest(attempts: int, wait_s: float) -> None:
    assert shipped_rules().sending.retry_after_s(attempts) == wait_s
