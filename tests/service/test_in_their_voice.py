"""The whole service, two people and a restart: each is told in their own units, and once."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.alerts.kinds import Kind
from service.clock import FakeClock
from service.units import Units
from service.voice import Language, Voice
from tests.service.shed import Shed

ALERTS = """
console = false
[next_dip]
early = "0 s"
[[people]]
name = "bench 1"
ways = [{ name = "terminal", send_to = "console" }]
[[people]]
name = "bench 2"
ways = [{ name = "terminal", send_to = "console" }]
"""


def told(said: str) -> dict[str, str]:
    """What was printed for each, by name."""
    parts = [part.partition(": ") for part in said.split("to bench ")[1:]]
    return {f"bench {number}": words for number, _, words in parts}


def test_each_is_told_in_their_own_units(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    clock = FakeClock(datetime(2026, 3, 4, 6, 0, tzinfo=UTC))
    with Shed(tmp_path, clock, alerts=ALERTS) as shed:
        shed.service.shop.choose_voice("Bench 1", Voice(Language.ENGLISH, Units.US))
        shed.let_pass(0.5)
        heron = shed.hang()
        shed.dip(heron)
        capsys.readouterr()
        shed.let_pass(3.5)
        said = told(capsys.readouterr().out)
        assert "70 °F" in said["bench 1"]
        assert "°C" not in said["bench 1"]
        assert "21.0 °C" in said["bench 2"]
        assert "°F" not in said["bench 2"]
        assert "21.0 °C" in shed.bodies(Kind.NEXT_DIP)[0]

        shed.stop()
        shed.start()
        shed.tick()
        assert told(capsys.readouterr().out) == {}, "nothing is told again"
