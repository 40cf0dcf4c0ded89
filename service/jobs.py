"""The ticks that keep the service going. Each does what is due by what is true then, so a missed one costs nothing."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

from service.errors import ShopError
from service.voice import Voice, speaking

log = logging.getLogger(__name__)

LEAST_INTERVAL_S = 0.2


@dataclass(frozen=True)
class Tick:
    """Something done again and again, every `every_s` seconds of the machine's time, and once at the start.

    wait_s: not at the start at once, but so much later, when the pages are up.
    """

    name: str
    every_s: float
    do: Callable[[], object]
    wait_s: float = 0.0


def make_scheduler(ticks: list[Tick], voice: Callable[[], Voice] = Voice) -> BackgroundScheduler:
    """A scheduler for these ticks, not started. A late tick still runs, and two late ones run once.

    voice: the shop's, in which they say what they have to.
    """
    scheduler = BackgroundScheduler(
        timezone=UTC,
        executors={"default": ThreadPoolExecutor(max(len(ticks), 1))},
        job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
    )
    for tick in ticks:
        scheduler.add_job(
            guarded(tick, voice),
            "interval",
            seconds=max(tick.every_s, LEAST_INTERVAL_S),
            id=tick.name,
            next_run_time=datetime.now(UTC) + timedelta(seconds=tick.wait_s),
        )
    return scheduler


def make_due(scheduler: BackgroundScheduler) -> None:
    """Let every tick run now. What is due is told by the wall clock: set back by hours, no tick would run for hours."""
    now = datetime.now(UTC)
    for job in scheduler.get_jobs():
        job.modify(next_run_time=now)
    scheduler.wakeup()


def guarded(tick: Tick, voice: Callable[[], Voice] = Voice) -> Callable[[], None]:
    """One failing tick must not end the others; it is logged and tried again at the next."""

    def run() -> None:
        try:
            with speaking(voice()):
                tick.do()
        except (
            ShopError
        ) as problem:  # it says itself what is wrong; a full disk must not fill up with its traces
            log.warning("%s failed; it is tried again: %s", tick.name, problem)
        except Exception:
            log.exception("%s failed; it is tried again", tick.name)

    return run


CLOCK_WAS_AHEAD = timedelta(hours=1)
"""A back-up that was made so much later than now was made on a clock that was wrong."""


def back_up_due(now: datetime, last: datetime | None, hour: int, zone: str) -> bool:
    """Whether a nightly back-up time (local `hour`, 3 to 23) has passed since the last one.

    Plain arithmetic on instants: a night the machine slept through is made up for as soon as it wakes. One made while
    the clock was ahead does not put off all that come until then.
    """
    local = now.astimezone(ZoneInfo(zone))
    newest = datetime.combine(local.date(), time(hour), ZoneInfo(zone))
    if newest > local:
        newest = datetime.combine(local.date() - timedelta(days=1), time(hour), ZoneInfo(zone))
    return last is None or last < newest or last > now + CLOCK_WAS_AHEAD
