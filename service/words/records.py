"""How whole the records are, in sentences."""

from __future__ import annotations

from datetime import datetime

from service.local_time import clock_time
from service.records.shop_facts import Site
from service.room.views import LedgerEnd
from service.voice import say


def whole_line(end: LedgerEnd, site: Site | None, now: datetime) -> str:
    """When every entry was last looked over, and what came of it."""
    if end.checked_at is None:
        return say("The chain of entries has not been looked over yet; that is done every night.")
    when = clock_time(end.checked_at, site, now)
    if end.broken_at is not None:
        return say(
            "Looked over {when}: the chain of entries breaks at entry {broken_at}. What came before it "
            "holds.",
            when=when,
            broken_at=end.broken_at,
        )
    return say("Looked over {when}: the chain of entries is unbroken.", when=when)


def back_up_line(end: LedgerEnd, site: Site | None, now: datetime) -> str:
    """When the last nightly copy was made; others go where a hand put them."""
    if end.backed_up_at is None:
        return say("No nightly copy has been made yet.")
    return say("Last nightly copy: {backed_up_at}.", backed_up_at=clock_time(end.backed_up_at, site, now))
