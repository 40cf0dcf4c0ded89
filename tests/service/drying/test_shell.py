"""Parameters of a batch: in common, or of each zone its own multipliers."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest

from service.drying.history import Dip, Life, play_back
from service.drying.isotherm import Gab
from service.drying.shell import Numbers, Parameters, Pocket, ZoneShape, for_each, plain
from service.drying.solver import advance
from tests.service.drying.batches import BACKUP, FACE, HOLE, LIMITS, PARAMETERS, PRIME, swinging, wet

LIVELY = replace(PARAMETERS, transfer_multiplier=1.7, diffusivity_multiplier=2.0)
THICK = replace(PARAMETERS, thickness_multiplier=1.4, sorptivity_multiplier=0.6)
AIR = swinging(72.0)


def life(shape: object = FACE) -> Life:
    dips = tuple(Dip(h * 3600.0, coat) for h, coat in ((1.0, PRIME), (5.0, BACKUP), (11.0, BACKUP)))
    return Life(shape, dips, 30 * 3600.0)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("pocket", "area"),
    [
        (None, 0.08),
        (Pocket(0.06, 0.04), pi * 0.04 * 0.07),
        (Pocket(0.06, 0.04, round_hole=False), 0.16 * 0.4),
    ],
)
def test_how_much_face_a_zone_has(pocket: Pocket | None, area: float) -> None:
    shape = ZoneShape(0.4, 0.2, pocket)
    assert shape.face_m2 == pytest.approx(area)
    assert shape.coated_m2 == pytest.approx(area if pocket else 2 * area)


class TestForEach:
    def test_common_ones_are_everybodys(self) -> None:
        assert for_each(PARAMETERS, 3) == (PARAMETERS,) * 3
        assert for_each(PARAMETERS, 0) == ()

    def test_own_ones_in_their_order(self) -> None:
        assert for_each([LIVELY, THICK], 2) == (LIVELY, THICK)

    @pytest.mark.parametrize("numbers", [[], [LIVELY], [LIVELY] * 3])
    def test_one_each(self, numbers: list[Parameters]) -> None:
        with pytest.raises(ValueError, match="of its own"):
            for_each(numbers, 2)

    @pytest.mark.parametrize(
        "changes", [{"diffusivity_slope": 2.9}, {"isotherm": Gab(c=9.0)}, {"emissivity": 0.8}]
    )
    def test_all_but_the_multipliers_is_in_common(self, changes: dict[str, float]) -> None:
        with pytest.raises(ValueError, match="only the multipliers"):
            for_each([LIVELY, replace(LIVELY, **changes)], 2)  # type: ignore[arg-type]

    def test_plain_is_without_multipliers(self) -> None:
        assert plain(replace(LIVELY, thickness_multiplier=0.5, sorptivity_multiplier=3.0)) == PARAMETERS


class TestBatch:
    def test_the_same_for_each_is_bit_for_bit_what_they_give_in_common(self) -> None:
        def paths(numbers: Numbers) -> list[bytes]:
            dried = advance([wet(FACE), wet(HOLE)], [9e4] * 2, AIR, numbers, [LIMITS] * 2)
            return [one.path.tobytes() for one in dried]

        assert paths(LIVELY) == paths([LIVELY, LIVELY])

    def test_each_dries_as_if_alone(self) -> None:
        own = [PARAMETERS, LIVELY, THICK]
        together = play_back([life()] * 3, AIR, own)
        for found, numbers in zip(together, own, strict=True):
            alone = play_back([life()], AIR, numbers)[0]
            for one, other in zip(found, alone, strict=True):
                assert one.dried.state.saturation == pytest.approx(other.dried.state.saturation, abs=1e-9)
                assert one.dried.coldest_k == pytest.approx(other.dried.coldest_k, abs=1e-7)
                assert one.laid.coats == other.laid.coats

    def test_they_stay_with_their_zone_when_others_have_arrived(self) -> None:
        ends = [4 * 3600.0, 20 * 3600.0]
        first, last = advance([wet(), wet()], ends, AIR, [THICK, LIVELY], [LIMITS] * 2)
        alone = advance([wet()], ends[1:], AIR, LIVELY, [LIMITS])[0]
        assert last.state.newest_saturation == pytest.approx(alone.state.newest_saturation, abs=1e-9)
        assert first.state.time_s == ends[0]

    def test_more_draught_dries_faster_and_a_thicker_coat_slower(self) -> None:
        left = [
            s[-1].dried.state.water_kg_m2 for s in play_back([life()] * 3, AIR, [LIVELY, PARAMETERS, THICK])
        ]
        assert left == sorted(left)

    def test_odd_ones_are_refused(self) -> None:
        other = replace(LIVELY, latent_heat_j_kg=2.4e6)
        with pytest.raises(ValueError, match="only the multipliers"):
            play_back([life(), life()], AIR, [LIVELY, other])
