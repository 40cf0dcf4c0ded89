"""Whether a room suits what hangs in it, in sentences."""

from __future__ import annotations

import pytest

from service.records.recipes import AirLimits, Recipe
from service.room.limits import asked_air, largest_swing_k, out_of_limits, prime_on
from service.room.progress import Progress
from service.units import Units
from tests.service.room.cases import BACKUP_STEP, FINAL, PRIME_STEP, T0, WADER, Ledger, h, mould, mould_body

GOOD_K, GOOD_RH = 295.15, 0.55


def recipe(prime_air: AirLimits = AirLimits(), backup_air: AirLimits = AirLimits()) -> Recipe:  # noqa: B008
    return WADER.model_copy(update={"prime_air": prime_air, "backup_air": backup_air})


def ended(*dip_hours: float) -> Progress:
    book = Ledger()
    book.hang(mould_body())
    book.dips(*dip_hours)
    book.end(T0 + h(50))
    return book.progress


class TestPrimeOn:
    def test_only_while_a_prime_is_the_newest_coat(self) -> None:
        assert [bool(prime_on([mould(*range(1, n + 1))])) for n in range(5)] == [
            False,
            True,
            True,
            False,
            False,
        ]

    def test_not_once_it_has_left_the_room(self) -> None:
        assert prime_on([ended(1)]) == []

    def test_a_last_coat_that_is_prime(self) -> None:
        only_primes = WADER.model_copy(update={"steps": (PRIME_STEP, FINAL)})
        assert len(prime_on([mould(1, recipe=only_primes)])) == 1

    def test_nothing_hangs_here(self) -> None:
        assert prime_on([]) == []


class TestLargestSwing:
    def test_the_tightest_of_the_prime_coats_on(self) -> None:
        tight = recipe(AirLimits(largest_swing_k=1.0))
        loose = recipe(AirLimits(largest_swing_k=3.0))
        assert largest_swing_k([mould(1, recipe=loose), mould(1, recipe=tight)]) == 1.0

    def test_a_recipe_that_asks_none(self) -> None:
        assert largest_swing_k([mould(1, recipe=recipe())]) is None

    def test_backed_up_moulds_do_not_ask(self) -> None:
        assert largest_swing_k([mould(1, 2, 3)]) is None


class TestOutOfLimits:
    def test_all_well(self) -> None:
        assert out_of_limits([mould(1), mould(1, 2, 3)], GOOD_K, GOOD_RH, Units.METRIC) == ()

    def test_a_hair_beyond_a_limit_does_not_read_like_it(self) -> None:
        assert out_of_limits([mould(1)], GOOD_K, 0.704, Units.METRIC) == (
            "Too damp for prime coats: 70.4 %, wanted at most 70.0 %",
        )

    def test_nothing_hangs_here(self) -> None:
        assert out_of_limits([], 250.0, 1.0, Units.METRIC) == ()

    def test_a_bare_wax_asks_for_nothing(self) -> None:
        assert out_of_limits([mould()], 250.0, 1.0, Units.METRIC) == ()

    @pytest.mark.parametrize(
        ("kelvin", "humidity", "words"),
        [
            (297.15, 0.55, "Too warm for prime coats: 24.0 °C, wanted at most 23.0 °C"),
            (293.15, 0.55, "Too cold for prime coats: 20.0 °C, wanted at least 21.0 °C"),
            (295.15, 0.75, "Too damp for prime coats: 75 %, wanted at most 70 %"),
            (295.15, 0.40, "Too dry for prime coats: 40 %, wanted at least 50 %"),
        ],
    )
    def test_each_limit_has_its_sentence(self, kelvin: float, humidity: float, words: str) -> None:
        assert out_of_limits([mould(1)], kelvin, humidity, Units.METRIC) == (words,)

    @pytest.mark.parametrize(("kelvin", "humidity"), [(296.15, 0.7), (294.15, 0.5)])
    def test_the_limit_itself_is_still_well(self, kelvin: float, humidity: float) -> None:
        assert out_of_limits([mould(1)], kelvin, humidity, Units.METRIC) == ()

    @pytest.mark.parametrize(("kelvin", "humidity"), [(296.1501, 0.7001), (294.1499, 0.4999)])
    def test_just_beyond_it_is_not(self, kelvin: float, humidity: float) -> None:
        assert len(out_of_limits([mould(1)], kelvin, humidity, Units.METRIC)) == 2

    def test_in_the_shops_units(self) -> None:
        (words,) = out_of_limits([mould(1)], 297.15, 0.55, Units.US)
        assert words == "Too warm for prime coats: 75 °F, wanted at most 73 °F"

    def test_prime_and_backup_coats_speak_each_for_themselves(self) -> None:
        found = out_of_limits([mould(1), mould(1, 2, 3)], GOOD_K, 0.35, Units.METRIC)
        assert found == (
            "Too dry for prime coats: 35 %, wanted at least 50 %",
            "Too dry for backup coats: 35 %, wanted at least 40 %",
        )

    def test_two_moulds_with_one_wish_say_it_once(self) -> None:
        found = out_of_limits([mould(1), mould(1, mould_id=2)], GOOD_K, 0.8, Units.METRIC)
        assert len(found) == 1

    def test_a_mould_that_left_says_nothing(self) -> None:
        assert out_of_limits([ended(1), ended(1, 2, 3)], 250.0, 1.0, Units.METRIC) == ()

    def test_no_limits_no_words(self) -> None:
        assert out_of_limits([mould(1, recipe=recipe())], 250.0, 1.0, Units.METRIC) == ()

    def test_backup_coats_are_held_to_their_own_step(self) -> None:
        assert BACKUP_STEP.kind.value == "backup"
        assert out_of_limits([mould(1, 2, 3, 4)], GOOD_K, 0.65, Units.METRIC) == (
            "Too damp for backup coats: 65 %, wanted at most 60 %",
        )


class TestAskedAir:
    def test_the_narrowest_of_all_that_is_on(self) -> None:
        prime = AirLimits(lowest_humidity=0.5, highest_humidity=0.7, highest_temperature_k=296.15)
        backup = AirLimits(lowest_humidity=0.4, highest_humidity=0.6)
        both = recipe(prime, backup)
        asked = asked_air([mould(1, recipe=both), mould(1, 2, 3, recipe=both)])
        assert asked is not None
        assert (asked.lowest_humidity, asked.highest_humidity) == (0.5, 0.6)
        assert (asked.lowest_temperature_k, asked.highest_temperature_k) == (None, 296.15)

    def test_nothing_is_on_or_nothing_hangs(self) -> None:
        assert asked_air([]) is None
        assert asked_air([ended(1), mould()]) is None
