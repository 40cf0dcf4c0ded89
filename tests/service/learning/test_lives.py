"""Members played through: the same as each alone, with stops wherever something was heard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from service.drying.members import advance_members, dip_members, hang_members
from service.drying.shell import CELLS_PER_COAT
from service.drying.zone import Limits
from service.learning.draws import drawn
from service.learning.lives import Lived, play
from service.learning.story import Story
from service.learning.unknowns import unknowns_of
from tests.service.drying.batches import swinging
from tests.service.learning.scene import (
    FACE,
    HOUR_S,
    PARAMETERS,
    POCKET,
    a_story,
    a_truth,
    felt,
    read,
    redipped,
    start,
    weighed,
)

Array = NDArray[np.float64]
AIR = swinging(48.0)


def members_of(story: Story, members: int = 4) -> Array:
    return drawn(*start(unknowns_of(story)), members)


def lived(story: Story, x: Array | None = None) -> Lived:
    members = members_of(story) if x is None else x
    return play([story], [unknowns_of(story)], [members], AIR, PARAMETERS)[0]


class TestPlay:
    def test_is_dip_and_dry_by_hand(self) -> None:
        story = a_story((1.0, 5.0), 9.0)
        unknowns, x = unknowns_of(story), members_of(story)
        zone = hang_members(FACE.shape, float(AIR.at(np.array([HOUR_S])).temperature_k[0]), HOUR_S, 4)
        for n, until_h in enumerate((5.0, 9.0)):
            given = story.dips[n]
            zone = laid = dip_members(zone, given.coat, given.immersion_s, unknowns.laid(x, 0, n), PARAMETERS)
            (done,) = advance_members([zone], [until_h * HOUR_S], AIR, PARAMETERS, [given.limits])
            zone = done.zone
        found = lived(story)
        assert found.laid[0].saturation.tolist() == laid.saturation.tolist()
        assert found.now[0].saturation.tolist() == zone.saturation.tolist()
        assert found.ready_s == pytest.approx(done.ready_s[None], nan_ok=True)

    def test_moulds_played_together_live_as_if_alone(self) -> None:
        stories = [
            a_story((0.0, 5.0), 9.0, [weighed(3.0)]),
            a_story((2.0,), 30.0, zones=(FACE, POCKET), mould=2),
        ]
        x = [members_of(story) for story in stories]
        together = play(stories, [unknowns_of(story) for story in stories], x, AIR, PARAMETERS)
        for story, mine, found in zip(stories, x, together, strict=True):
            alone = lived(story, mine)
            for zone, same in zip(found.now, alone.now, strict=True):
                assert zone.saturation == pytest.approx(same.saturation, abs=1e-5)
            assert found.ready_s == pytest.approx(alone.ready_s, abs=0.1, nan_ok=True)

    def test_a_stop_to_look_changes_next_to_nothing(self) -> None:
        plain = lived(a_story())
        looked_at = lived(a_story(evidence=[felt(0.5), weighed(2.0), weighed(2.0), read(6.0), felt(9.0)]))
        assert looked_at.now[0].saturation == pytest.approx(plain.now[0].saturation, abs=3e-3)
        assert looked_at.ready_s == pytest.approx(plain.ready_s, abs=240.0, nan_ok=True)

    def test_a_story_that_ends_with_its_dip_is_just_wet(self) -> None:
        found = lived(a_story((0.0, 5.0), 5.0))
        assert (found.now[0].newest_saturation == 1.0).all()
        assert np.isnan(found.ready_s).all()
        assert found.now == found.laid

    def test_also_at_the_very_beginning_of_time(self) -> None:
        found = lived(a_story((-3.0,), 0.0))
        assert found.now[0].time_s == 0.0


class TestReady:
    def test_is_since_when_however_often_it_was_looked_at(self) -> None:
        slow = a_story((0.0,), 40.0)
        looks = [felt(float(hour)) for hour in range(1, 40, 3)]
        plain, looked_at = lived(slow), lived(replace(slow, evidence=tuple(looks)))
        assert np.isfinite(plain.ready_s).all()
        assert looked_at.ready_s == pytest.approx(plain.ready_s, abs=240.0)
        assert np.unique(looked_at.ready_s).size == 4

    def test_begins_anew_with_each_dip(self) -> None:
        found = lived(a_story((0.0, 40.0), 40.5))
        assert np.isnan(found.ready_s).all()

    def test_is_at_the_dip_where_nothing_is_waited_for(self) -> None:
        story = a_story((0.0,), 1.0)
        found = lived(replace(story, dips=(replace(story.dips[0], limits=Limits(1.0, 9.9)),)))
        assert found.ready_s.tolist() == found.dry_s.tolist() == [[0.0] * 4]


class TestShown:
    def test_weights_are_area_times_all_that_hangs_there(self) -> None:
        story = a_story((0.0,), 3.0, [weighed(3.0)], zones=(FACE, POCKET))
        x = members_of(story)
        found = lived(story, x)
        area = np.exp(unknowns_of(story).area @ x)
        by_zone = [
            zone.area_m2 * (state.dry_mass_kg_m2 + state.water_kg_m2)
            for zone, state in zip(story.zones, found.now, strict=True)
        ]
        assert found.shown[0].values == pytest.approx(area * sum(by_zone))
        wet = [zone.area_m2 * state.water_kg_m2 for zone, state in zip(story.zones, found.laid, strict=True)]
        left = [zone.area_m2 * state.water_kg_m2 for zone, state in zip(story.zones, found.now, strict=True)]
        assert found.shown[0].lost_kg == pytest.approx(float((area * (sum(wet) - sum(left))).mean()))

    def test_a_bare_wax_has_no_shell_on_it(self) -> None:
        found = lived(a_story(evidence=[weighed(-2.0), weighed(0.0)]))
        assert [shown.values.tolist() for shown in found.shown] == [[0.0] * 4] * 2
        assert [shown.coats for shown in found.shown] == [0, 0]

    def test_at_the_time_of_a_dip_it_is_about_the_shell_before(self) -> None:
        found = lived(a_story((0.0, 5.0), 5.1, [felt(4.999), felt(5.0), weighed(5.0), felt(5.001)])).shown
        assert found[1].values == pytest.approx(found[0].values, abs=1e-3)
        assert found[3].values == pytest.approx(np.ones(4), abs=1e-3)
        assert [shown.coats for shown in found] == [1, 1, 1, 2]

    def test_but_before_the_first_there_is_nothing_to_feel(self) -> None:
        found = lived(a_story(evidence=[felt(0.0), read(0.0)]))
        assert found.shown[0].values.tolist() == [1.0] * 4
        assert [shown.coats for shown in found.shown] == [1, 1]

    def test_a_redip_is_about_the_coat_as_it_was_redipped_however_late_it_is_told(self) -> None:
        before, shown = lived(a_story((0.0, 5.0), 9.0, [felt(4.999), redipped(9.0, coat=1)])).shown
        assert shown.values == pytest.approx(before.values, abs=1e-3)
        assert shown.coats == 1

    def test_the_whole_mould_is_as_damp_as_its_dampest_zone(self) -> None:
        story = a_story((0.0,), 3.0, [felt(3.0), felt(3.0, zone=0), felt(3.0, zone=1)], zones=(FACE, POCKET))
        whole, face, pocket = (shown.values for shown in lived(story).shown)
        assert whole.tolist() == np.maximum(face, pocket).tolist()
        assert (pocket > face).all()

    def test_a_face_is_read_where_it_was(self) -> None:
        story = a_story((0.0,), 3.0, [read(3.0, zone=1)], zones=(FACE, POCKET))
        found = lived(story)
        assert found.shown[0].values.tolist() == found.now[1].surface_k.tolist()

    def test_comes_in_the_order_of_the_evidence(self) -> None:
        heard = [felt(4.0), redipped(6.0), weighed(6.0), felt(6.0)]
        coats = [shown.coats for shown in lived(a_story((0.0, 5.0), 9.0, heard)).shown]
        assert coats == [1, 1, 2, 2]


class TestNumbersOfEachMember:
    def test_a_dip_is_laid_as_the_members_have_it(self) -> None:
        story = a_story((0.0, 5.0), 5.0)
        unknowns, x = unknowns_of(story), members_of(story)
        (zone,) = lived(story, x).now
        assert zone.thickness == pytest.approx(np.exp(unknowns.thickness @ x))
        assert zone.diffusivity == pytest.approx(np.exp(unknowns.diffusivity @ x))
        assert zone.transfer == pytest.approx(np.exp(unknowns.transfer[0, 1] @ x))

    def test_members_are_each_their_own(self) -> None:
        story = a_story()
        x = np.concatenate([a_truth(story, 1), a_truth(story, 2)], axis=1)
        both = lived(story, x)
        for n in range(2):
            (alone,) = lived(story, x[:, n : n + 1]).now
            assert both.now[0].saturation[:, n] == pytest.approx(alone.saturation[:, 0], abs=1e-5)

    def test_all_cells_of_the_newest_coat_start_full(self) -> None:
        assert (lived(a_story((0.0, 5.0), 5.0)).now[0].saturation[:CELLS_PER_COAT] == 1.0).all()
