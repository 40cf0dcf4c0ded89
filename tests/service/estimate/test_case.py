"""A case filled up with what holds when it is silent."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.drying.isotherm import Gab
from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.errors import BadInput, NotFound
from service.estimate.case import Case, CoatPlan, overlay, read_case
from service.estimate.case_file import CaseParameters
from service.records.recipes import CoatKind
from service.settings import CoatSettings
from service.units import Units

AIR = '[air]\ntemperature = "21 degC"\nhumidity = "45 %"\nspeed = "0.6 m/s"\n'
ZONE = '[[zones]]\nheight = "0.4 m"\nwidth = "0.3 m"\n'
COATS = '[[coats]]\nkind = "prime"\ntimes = 2\n[[coats]]\nkind = "backup"\n'
LOGGER = "time,temperature [degC],humidity [%]\n2026-03-01 08:00Z,20,40\n2026-03-01 20:00Z,16,70\n"
RECIPE = """
name = "wader"
title = "Small wader"
for_work = "birds to 30 cm"

[[steps]]
step = "coat"
kind = "prime"
tank = "white"
thickness = "0.5 mm"
porosity = "25 %"
immersion = "20 s"
ready_saturation = "30 %"
least_wait = "2 h"
longest_wait = "6 h"

[[steps]]
step = "coat"
kind = "backup"
tank = "grey"
thickness = "1.2 mm"

[[steps]]
step = "reinforcement wire"

[[steps]]
step = "coat"
kind = "backup"
tank = "grey"
thickness = "1.2 mm"

[[steps]]
step = "coat"
kind = "seal"
tank = "grey"
thickness = "0.3 mm"

[[steps]]
step = "final dry"
water_limit = "1.5 %"
least_wait = "24 h"
"""


def case(folder: Path, text: str = AIR + ZONE + COATS, configs: Path | None = None) -> Case:
    path = folder / "heron.toml"
    path.write_text(text)
    return read_case(path, configs)


def refused(folder: Path, text: str) -> BadInput:
    with pytest.raises(BadInput) as caught:
        case(folder, text)
    return caught.value


class TestSilence:
    def test_what_holds_when_nothing_is_said(self, tmp_path: Path) -> None:
        found = case(tmp_path)
        assert found.title == "heron"
        assert found.units is Units.METRIC
        assert found.zones == (("mould", ZoneShape(0.4, 0.3)),)
        assert found.parameters == Parameters()
        assert found.water_limit == pytest.approx(0.02)
        assert (found.first_s, found.dips_s, found.final_wait_s, found.began) == (0.0, None, 0.0, None)

    def test_coats_are_as_the_shop_has_them(self, tmp_path: Path) -> None:
        prime = CoatPlan(CoatKind.PRIME, Coat(0.6e-3), 15.0, 0.35)
        backup = CoatPlan(CoatKind.BACKUP, Coat(1.1e-3), 15.0, 0.35)
        found = case(tmp_path).coats
        assert [plan.kind for plan in found] == [CoatKind.PRIME, CoatKind.PRIME, CoatKind.BACKUP]
        for plan, wanted in zip(found, [prime, prime, backup], strict=True):
            assert plan.coat.thickness_m == pytest.approx(wanted.coat.thickness_m)
            assert plan.coat.porosity == pytest.approx(wanted.coat.porosity)
            assert (plan.immersion_s, plan.ready_saturation) == pytest.approx((15.0, 0.35))
            assert (plan.least_wait_s, plan.longest_wait_s) == (0.0, None)

    def test_the_air_is_constant(self, tmp_path: Path) -> None:
        air = case(tmp_path).air
        assert air.time_s.tolist() == [0.0]
        assert (air.temperature_k[0], air.humidity[0], air.speed_m_s[0]) == pytest.approx((294.15, 0.45, 0.6))
        assert air.pressure_pa[0] == 101325.0


class TestParameters:
    def test_any_can_be_set(self, tmp_path: Path) -> None:
        text = (
            AIR
            + ZONE
            + COATS
            + '[parameters]\nsorptivity = "0.04 kg/m2/s**0.5"\nprime_thickness = "0.7 mm"\n'
        )
        found = case(tmp_path, text + 'water_limit = "1 %"\n[parameters.isotherm]\nc = 8\n')
        assert found.parameters == Parameters(sorptivity_kg_m2_s05=0.04, isotherm=Gab(c=8.0))
        assert found.coats[0].coat.thickness_m == pytest.approx(0.7e-3)
        assert found.coats[2].coat.thickness_m == pytest.approx(1.1e-3)
        assert found.water_limit == pytest.approx(0.01)

    def test_the_shops_own_hold_below(self, tmp_path: Path) -> None:
        own = tmp_path / "ours"
        own.mkdir()
        (own / "drying.toml").write_text(
            '[parameters]\nemissivity = 0.8\npocket_stirring = 5.0\n[coat]\nimmersion = "9 s"\n'
        )
        text = AIR + ZONE + COATS + "[parameters]\nemissivity = 0.7\n"
        found = case(tmp_path, text, own)
        assert (found.parameters.emissivity, found.parameters.pocket_stirring) == (0.7, 5.0)
        assert found.coats[0].immersion_s == 9.0

    def test_a_coat_says_otherwise(self, tmp_path: Path) -> None:
        coat = (
            '[[coats]]\nkind = "backup"\nthickness = "2 mm"\nporosity = 0.2\ndry_density = "1900 kg/m3"\n'
            'immersion = "30 s"\nready_saturation = "40 %"\nleast_wait = "2 h"\nlongest_wait = "8 h"\n'
        )
        (found,) = case(tmp_path, AIR + ZONE + coat + '[parameters]\nbackup_thickness = "3 mm"\n').coats
        assert found.coat.thickness_m == pytest.approx(0.002)
        assert (found.coat.porosity, found.coat.dry_density_kg_m3) == pytest.approx((0.2, 1900.0))
        assert (found.immersion_s, found.ready_saturation) == pytest.approx((30.0, 0.4))
        assert (found.least_wait_s, found.longest_wait_s) == pytest.approx((7200.0, 28800.0))

    def test_only_what_is_written_is_laid_over(self) -> None:
        over = CaseParameters.model_validate({"immersion": "0 s"})
        laid = overlay(CoatSettings(porosity=0.2), over)
        assert (laid.immersion_s, laid.porosity) == (0.0, 0.2)


class TestZones:
    def test_each_keeps_its_name(self, tmp_path: Path) -> None:
        hole = 'pocket = { depth = "8 cm", width = "4 cm", shape = "slot" }\n'
        pocket = f'[[zones]]\nheight = "0.2 m"\nwidth = "0.1 m"\n{hole}'
        named = '[[zones]]\nname = "wing"\nheight = "0.2 m"\nwidth = "0.1 m"\n'
        found = case(tmp_path, AIR + ZONE + pocket + named + COATS).zones
        assert [name for name, _ in found] == ["zone 1", "zone 2", "wing"]
        assert found[1][1].pocket == Pocket(0.08, 0.04, round_hole=False)

    def test_two_of_one_name(self, tmp_path: Path) -> None:
        named = '[[zones]]\nname = "wing"\nheight = "0.2 m"\nwidth = "0.1 m"\n'
        error = refused(tmp_path, AIR + named + named + COATS)
        assert str(error) == "heron.toml: two zones are called “wing”. Give each its own name."


class TestRecipe:
    def asked(self, folder: Path, more: str = "") -> Case:
        (folder / "wader.toml").write_text(RECIPE)
        return case(folder, f'recipe = "wader.toml"\n{AIR}{ZONE}{more}')

    def test_a_file_beside_the_case(self, tmp_path: Path) -> None:
        found = self.asked(tmp_path)
        assert [plan.kind for plan in found.coats] == ["prime", "backup", "backup", "seal"]
        prime = found.coats[0]
        assert prime.coat.thickness_m == pytest.approx(0.5e-3)
        assert (prime.coat.porosity, prime.immersion_s, prime.ready_saturation) == pytest.approx(
            (0.25, 20.0, 0.3)
        )
        assert (prime.least_wait_s, prime.longest_wait_s) == (7200.0, 21600.0)
        assert (found.water_limit, found.final_wait_s) == pytest.approx((0.015, 86400.0))

    def test_what_the_case_sets_holds_over_it(self, tmp_path: Path) -> None:
        more = '[parameters]\nwater_limit = "1 %"\nbackup_thickness = "2 mm"\nready_saturation = 0.5\n'
        found = self.asked(tmp_path, more)
        assert [plan.coat.thickness_m for plan in found.coats] == pytest.approx([0.5e-3, 2e-3, 2e-3, 0.3e-3])
        assert {plan.ready_saturation for plan in found.coats} == {0.5}
        assert found.water_limit == pytest.approx(0.01)

    def test_the_shops_drying_file_does_not(self, tmp_path: Path) -> None:
        (tmp_path / "drying.toml").write_text('[coat]\nporosity = "20 %"\n')
        (tmp_path / "wader.toml").write_text(RECIPE)
        found = case(tmp_path, f'recipe = "wader.toml"\n{AIR}{ZONE}', tmp_path)
        assert found.coats[0].coat.porosity == pytest.approx(0.25)
        assert found.coats[1].coat.porosity == pytest.approx(0.29)

    def test_a_recipe_the_shop_keeps(self, tmp_path: Path) -> None:
        (tmp_path / "data" / "recipes").mkdir(parents=True)
        (tmp_path / "data" / "recipes" / "wader.toml").write_text(RECIPE)
        (tmp_path / "site.toml").write_text(f"[data]\nfolder = '{tmp_path / 'data'}'\n")
        assert len(case(tmp_path, f'recipe = "wader"\n{AIR}{ZONE}', tmp_path).coats) == 4

    def test_a_recipe_that_ships(self, tmp_path: Path) -> None:
        found = case(tmp_path, f'recipe = "wading-bird"\n{AIR}{ZONE}')
        assert found.coats[0].kind is CoatKind.PRIME
        assert found.final_wait_s > 0

    def test_an_unknown_recipe(self, tmp_path: Path) -> None:
        with pytest.raises(NotFound, match=r"“wading-brid”\. Did you mean “wading-bird”\?"):
            case(tmp_path, f'recipe = "wading-brid"\n{AIR}{ZONE}')

    def test_a_mistake_in_it_names_its_file(self, tmp_path: Path) -> None:
        (tmp_path / "wader.toml").write_text(RECIPE.replace("thickness", "thicknes"))
        assert refused(tmp_path, f'recipe = "wader.toml"\n{AIR}{ZONE}').message.startswith("wader.toml")


class TestAirFile:
    def air(self, folder: Path, more: str = 'speed = "0.3 m/s"\n', logger: str = LOGGER) -> Case:
        (folder / "shed.csv").write_text(logger)
        return case(folder, f'[site]\naltitude = "500 m"\n[air]\nfile = "shed.csv"\n{more}{ZONE}{COATS}')

    def test_it_lies_beside_the_case(self, tmp_path: Path) -> None:
        found = self.air(tmp_path)
        assert found.air.time_s.tolist() == [0.0, 43200.0]
        assert found.air.humidity.tolist() == pytest.approx([0.4, 0.7])
        assert found.began == datetime(2026, 3, 1, 8, 0, tzinfo=UTC)

    def test_a_constant_fills_a_missing_column(self, tmp_path: Path) -> None:
        assert self.air(tmp_path).air.speed_m_s.tolist() == pytest.approx([0.3, 0.3])

    def test_a_constant_holds_over_a_column(self, tmp_path: Path) -> None:
        found = self.air(tmp_path, 'speed = "0.3 m/s"\nhumidity = "90 %"\n')
        assert found.air.humidity.tolist() == pytest.approx([0.9, 0.9])
        assert found.air.temperature_k.tolist() == pytest.approx([293.15, 289.15])

    def test_the_site_gives_the_pressure_unless_the_file_does(self, tmp_path: Path) -> None:
        assert self.air(tmp_path).air.pressure_pa.tolist() == pytest.approx([95461.0] * 2, rel=1e-4)
        logger = "time,temperature [degC],humidity [%],pressure [hPa]\n0,20,40,1000\n"
        assert self.air(tmp_path, logger=logger).air.pressure_pa.tolist() == pytest.approx([1e5])

    def test_what_neither_has(self, tmp_path: Path) -> None:
        (tmp_path / "shed.csv").write_text(LOGGER)
        error = refused(tmp_path, f'[air]\nfile = "shed.csv"\n{ZONE}{COATS}')
        assert error.message == "shed.csv has no column of speed."

    def test_a_file_that_is_not_there(self, tmp_path: Path) -> None:
        assert refused(tmp_path, f'[air]\nfile = "gone.csv"\n{ZONE}{COATS}').code == "file_missing"


class TestDips:
    def dips(self, folder: Path, lines: str, logger: str = LOGGER) -> Case:
        (folder / "shed.csv").write_text(logger)
        air = '[air]\nfile = "shed.csv"\nspeed = "0.3 m/s"\n'
        return case(folder, f"{air}{ZONE}{COATS}[dipping]\n{lines}\n")

    def told(self, folder: Path, lines: str, logger: str = LOGGER) -> str:
        with pytest.raises(BadInput) as caught:
            self.dips(folder, lines, logger)
        return str(caught.value)

    def test_times_from_the_start(self, tmp_path: Path) -> None:
        assert self.dips(tmp_path, 'at = ["0 h", "90 min", "1 day"]').dips_s == (0.0, 5400.0, 86400.0)

    def test_dates(self, tmp_path: Path) -> None:
        dates = 'at = ["2026-03-01 08:00Z", "2026-03-01 11:00+01:00", "2026-03-02T08:00Z"]'
        assert self.dips(tmp_path, dates).dips_s == (0.0, 7200.0, 86400.0)

    def test_the_first_alone(self, tmp_path: Path) -> None:
        found = self.dips(tmp_path, 'first = "2026-03-01 10:00Z"')
        assert (found.first_s, found.dips_s) == (7200.0, None)
        assert self.dips(tmp_path, 'first = "3 h"').first_s == 10800.0

    @pytest.mark.parametrize(
        ("lines", "words"),
        [
            ('at = ["0 h"]', "dipping.at gives 1 times for 3 coats. Give one time a coat, or leave it out"),
            ('at = ["0 h", "3 h", "3 h"]', "coat 3 goes on before coat 2."),
            (
                'at = ["0 h", "3", "4 h"]',
                "dipping.at: “3” has no unit. Write it with one, such as 15 s or 2 h.",
            ),
            ('at = ["0 h", "3 kg", "4 h"]', "dipping.at: “3 kg” is not a time."),
            ('at = ["-1 h", "3 h", "4 h"]', "dipping.at: “-1 h” is before the air begins."),
            ('first = "2026-03-01 07:59Z"', "dipping.first: “2026-03-01 07:59Z” is before the air begins."),
            ('first = "2026-03-01 09:00"', "dipping.first and the air do not both name a time zone."),
        ],
    )
    def test_wrong_times(self, tmp_path: Path, lines: str, words: str) -> None:
        assert words in self.told(tmp_path, lines)

    def test_a_date_where_the_air_has_none(self, tmp_path: Path) -> None:
        words = self.told(tmp_path, 'first = "2026-03-01"', "time,temperature [degC],humidity [%]\n0,20,40\n")
        assert (
            words
            == "heron.toml: dipping.first gives a date, but the air has none. Write a time such as “7 h”."
        )


def test_no_more_coats_than_a_shell_can_have(tmp_path: Path) -> None:
    text = AIR + ZONE + '[[coats]]\nkind = "backup"\ntimes = 40\n'
    assert len(case(tmp_path, text).coats) == 40
    assert refused(tmp_path, text + '[[coats]]\nkind = "seal"\n').code == "coats_too_many"


GIVEN = '[dipping]\nat = ["1 h", "5 h", "9 h"]\n'
SOME = '[dipping]\nat = ["1 h"]\nthen = "when ready"\n'


class TestCoatsToCome:
    def test_some_at_times_given_the_others_when_ready(self, tmp_path: Path) -> None:
        assert case(tmp_path, AIR + ZONE + COATS + SOME).dips_s == (3600.0,)

    def test_not_more_times_than_coats(self, tmp_path: Path) -> None:
        four = SOME.replace('["1 h"]', '["1 h", "2 h", "3 h", "4 h"]')
        assert refused(tmp_path, AIR + ZONE + COATS + four).code == "dips_count"
