"""The whole ledger looked over every night, and what came of it remembered; a break stands on the board."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from service.held import Held
from service.records.store import Records
from service.room.views import Trouble
from service.voice import say

LAST_CHECK = "last check of the ledger"


@dataclass(frozen=True)
class LedgerCheck:
    """at: None while it was never looked over. broken_at: the first line that does not fit."""

    at: datetime | None = None
    broken_at: int | None = None


def check_ledger(records: Records, now: datetime) -> LedgerCheck:
    """Look it over, and remember what came of it."""
    found = LedgerCheck(now, records.verify_chain())
    records.remember(LAST_CHECK, json.dumps({"at": now.isoformat(), "broken_at": found.broken_at}))
    return found


def last_check(records: Records) -> LedgerCheck:
    """What came of it the last time."""
    told = json.loads(records.recall(LAST_CHECK) or "{}")
    return LedgerCheck(datetime.fromisoformat(told["at"]), told["broken_at"]) if told else LedgerCheck()


def ledger_troubles(check: LedgerCheck) -> list[Trouble]:
    """For the board."""
    if check.broken_at is None:
        return []
    return [Trouble("ledger_broken", Held(partial(_broken_words, check.broken_at)), check.at)]


def _broken_words(number: int) -> str:
    return say(
        "The records were changed or lost outside coatbell: the ledger breaks at entry {number}. What "
        "was written before it holds. Keep a copy of the records as they are, and compare with the "
        "back-ups.",
        number=number,
    )
