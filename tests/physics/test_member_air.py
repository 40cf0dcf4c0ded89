"""Members in air that is not known, each against SciPy's BDF on the model written a second time, in its own air.

Tolerance 1 % on hours until ready. Numbers of each member's own: transfer, stirring, and of each coat thickness and
diffusivity.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.drying.members import Laid, MemberAir, MemberZone, advance_members, dip_members, hang_members
from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from tests.physics.second_model import second_opinion

HOUR_S = 3600.0
END_S = 30 * HOUR_S
MEMBERS = 2


def zone(shape: ZoneShape) -> MemberZone:
    draw = np.random.default_rng(5)
    hung = hang_members(shape, 292.0, 0.0, MEMBERS)
    for coat in (Coat(0.6e-3, diffusivity_multiplier=1.4), Coat(1.1e-3), Coat(1.1e-3, 0.25, 1700.0)):
        hung = replace(hung, saturation=np.full_like(hung.saturation, 0.25))
        laid = Laid(*(np.exp(draw.normal(0.0, spread, MEMBERS)) for spread in (0.35, 0.3, 0.3, 0.5, 0.15)))
        hung = dip_members(hung, coat, 15.0, laid, Parameters())
    return hung


def doubtful_air() -> MemberAir:
    t = np.arange(0.0, END_S + 1.0, HOUR_S)
    day = np.sin(2 * np.pi * t / (24 * HOUR_S))
    base = AirSeries(t, 292.0 + 3.0 * day, 0.55 - 0.15 * day, np.full(t.size, 0.3), np.full(t.size, 101325.0))
    ways = np.stack([np.ones(t.size), np.sin(t / (4 * HOUR_S))])
    return MemberAir(base, t, 1.5 * ways, -0.1 * ways, np.array([[0.8, -0.5], [-1.2, 1.0]]))


@pytest.mark.parametrize(
    "shape", [ZoneShape(0.4, 0.3), ZoneShape(0.4, 0.3, Pocket(0.07, 0.04))], ids=["face", "hole"]
)
def test_each_member_is_ready_when_scipy_says(shape: ZoneShape) -> None:
    members, doubt = zone(shape), doubtful_air()
    (found,) = advance_members([members], [END_S], doubt, Parameters(), [Limits()])
    for i in range(MEMBERS):
        numbers = Parameters(
            transfer_multiplier=float(members.transfer[i]), stirring_multiplier=float(members.stirring[i])
        )
        theirs = second_opinion(members.member(i), END_S, doubt.of(i), numbers, Limits())
        assert theirs.ready_s is not None
        assert found.ready_s[i] == pytest.approx(theirs.ready_s, rel=0.01)
        assert found.zone.saturation[:, i] == pytest.approx(theirs.saturation, abs=0.003)
        assert found.zone.surface_k[i] == pytest.approx(theirs.surface_k, abs=0.1)
