"""Notebooks, and a shop's knowledge to hold them against."""

from __future__ import annotations

from datetime import UTC, datetime

from service.papers.notebook_plan import Choices, Known, Plan, plan_of
from service.records.recipes import CoatKind, CoatStep
from service.records.shop_facts import Room
from tests.service.papers.paper_shop import SALTMARSH
from tests.service.room.cases import TWO_COATS, WADER

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
ROOMS = (Room(1, "Shell room"), Room(2, "Lean-to"))
HEADS = "mould,coat,date,kind,remark,tank,hand,result,failing,room,recipe\n"
CURLEW = """mould,coat,date,remark,kind,tank,hand,result
Curlew,1,2024-11-03,wax a bit soft,prime,white,bench 1,
Curlew,2,2024-11-03,,prime,white,bench 1,
Curlew,3,2024-11-04 14:20,,backup,grey,bench 2,
Curlew,wires,2024-11-05,,,,bench 2,
Curlew,4,2024-11-06,cold night,backup,grey,,
Curlew,5,2024-11-08,,seal,grey,bench 1,sound
"""


def step(kind: CoatKind, tank: str) -> CoatStep:
    return CoatStep(kind=kind, tank=tank, thickness_m=1e-3)


def known(now: datetime = NOW) -> Known:
    return Known(SALTMARSH, ROOMS, (TWO_COATS, WADER), now, step)


def plan(text: str, now: datetime = NOW, **choices: object) -> Plan:
    return plan_of(text, "UTF-8", Choices(**choices), known(now))  # type: ignore[arg-type]


def book(*lines: str) -> str:
    """Lines under the usual heads: mould,coat,date,kind,remark,tank,hand,result,failing,room,recipe."""
    return HEADS + "".join(f"{line}\n" for line in lines)
