"""What should have been told in a month, reckoned from its truth and written a second time from the rules in words.

Each check gives sentences about what is wrong; none means that all was told as it should have been.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache

from service.alerts.keys import extra_of, root_of, stem
from service.alerts.kinds import Kind
from service.records.outbox import AlertRow
from service.room.views import MouldNow, Stage
from tests.end_to_end.month import BENCH_1, BENCH_2, NAMES, STEP, WALL, Moment, Month, Stored
from tests.service.alerts.scene import SITE

MINUTE = timedelta(minutes=1)
EARLY, PUT_OFF, TOGETHER = 10 * MINUTE, 30 * MINUTE, 10 * MINUTE
WARN = 30 * MINUTE
NEXT_AFTER = 60 * MINUTE
TAKEN_WITHIN = 25 * MINUTE
"""A phone that is well is told so soon: two of the longest waits between tries, and what the looks take."""
DIP = Kind.NEXT_DIP


@dataclass
class Ring:
    """A bell from when it should have rung until it should have ended. put_off: not by a dip, but by the air."""

    mould: MouldNow
    at: datetime
    moments: list[Moment] = field(default_factory=list)
    put_off: bool = False

    @property
    def ends(self) -> datetime:
        return self.moments[-1].at if self.moments else self.at

    def holds(self, at: datetime) -> bool:
        return self.at <= at <= self.ends


class Oracle:
    def __init__(self, month: Month) -> None:
        self.month = month
        self.reach = month.rules.reach(SITE)
        self.reachable = cache(self.reach.reachable)
        self.stored = [item for phone in month.phones.values() for item in phone.stored]
        self.firsts = [item for item in self.stored if not item.repeat]
        self.wall = _by_subject(item for item in self.firsts if item.recipient == WALL)
        self.rings = [ring for name in NAMES for ring in self._rings(name)]
        self.known = {row.key: row for row in self._rows()}

    def faults(self) -> list[str]:
        """Everything that was not as it should have been."""
        checks = (
            self._nothing_invented(),
            self._copies_say_so(),
            self._nobody_at_the_wrong_hour(),
            self._bells_on_the_wall(),
            self._slips_on_the_wall(),
            self._slips_to_people(),
            self._longest_waits_on_the_wall(),
            self._broker_speaks_for_its_sensors(),
            self._somebody_hears(),
            self._turns_are_kept(),
            self._the_next_one_hears(),
            self._the_night_is_said(),
        )
        return [fault for check in checks for fault in check]

    def counts(self) -> Counter[str]:
        """How much of each there was, so that no check can pass for want of a case."""
        found = Counter(item.kind for item in self.firsts)
        found["rings"] = len(self.rings)
        found["put off rings"] = sum(ring.put_off for ring in self.rings)
        found["repeats"] = sum(item.repeat for item in self.stored)
        found["second turns"] = sum(1 for i in self.firsts if i.recipient == BENCH_2 and i.kind == DIP)
        found["blind moments"] = sum(not moment.alive for moment in self.month.moments)
        return found

    # What should have rung

    def _rings(self, name: str) -> Iterator[Ring]:
        """By the words of the README: ten minutes before, taken back forty before, ended by the dip."""
        ring: Ring | None = None
        for moment in self.month.moments:
            mould = next(m for m in moment.moulds if m.name == name)
            if ring is not None and mould.last_dip_at != ring.mould.last_dip_at:
                ring = None
            if not moment.alive:
                continue
            if ring is not None and not _near(mould, moment.at, EARLY + PUT_OFF):
                ring.put_off, ring = True, None
            if ring is None and self._begins(mould, moment):
                ring = Ring(mould, moment.at)
                yield ring
            if ring is not None:
                ring.moments.append(moment)

    def _begins(self, mould: MouldNow, moment: Moment) -> bool:
        if _near(mould, moment.at, EARLY):
            return not self._longest_wait_speaks(mould, moment)
        along = _near(mould, moment.at, EARLY + TOGETHER) and self._rang(mould.name, moment.at)
        return along and any(
            self._rang(m.name, moment.at) for m in moment.moulds if _near(m, moment.at, EARLY)
        )

    def _longest_wait_speaks(self, mould: MouldNow, moment: Moment) -> bool:
        """What ends soon and was told at that hour speaks for the dip that is due since before."""
        ends = mould.longest_wait_until
        return ends is not None and moment.at >= ends - WARN and not self._rang(mould.name, moment.at)

    def _rang(self, name: str, at: datetime) -> bool:
        return any(item.at == at for item in self.wall[name] if item.kind == DIP)

    # What is held against it

    def _nothing_invented(self) -> Iterator[str]:
        for item in self.stored:
            if item.key not in self.known:
                yield f"nobody wrote down {item}"
            elif item.subject in NAMES and item.kind == DIP and not self._ring_of(item):
                yield f"no bell was due: {item}"

    def _copies_say_so(self) -> Iterator[str]:
        seen: set[tuple[str, str]] = set()
        for item in sorted(self.stored, key=lambda item: item.at):
            mark = (item.recipient, item.key)
            if mark in seen and not item.repeat:
                yield f"a second copy that does not say so: {item}"
            seen.add(mark)

    def _nobody_at_the_wrong_hour(self) -> Iterator[str]:
        for item in self.stored:
            urgent = self.month.rules.is_urgent(item.kind) or self._reminds_of_urgent(item)
            if item.recipient != WALL and not urgent and not self.reachable(item.recipient, item.at):
                yield f"rung at a wrong hour: {item}"

    def _bells_on_the_wall(self) -> Iterator[str]:
        """The wall is always well: it hears each bell at its very moment, once."""
        for name in NAMES:
            heard = [item.at for item in self.wall[name] if item.kind == DIP]
            due = [ring.at for ring in self.rings if ring.mould.name == name]
            if heard != due:
                missing, more = sorted(set(due) - set(heard)), sorted(set(heard) - set(due))
                yield f"{name}: not rung at {_times(missing)}, rung for nothing at {_times(more)}"

    def _slips_on_the_wall(self) -> Iterator[str]:
        for name in NAMES:
            heard = len([item for item in self.wall[name] if item.kind == "put off"])
            due = len([ring for ring in self.rings if ring.mould.name == name and ring.put_off])
            if heard != due:
                yield f"{name}: {due} bells were taken back, {heard} times it was said"

    def _slips_to_people(self) -> Iterator[str]:
        """Who heard the bell hears once that it was taken back, and who did not, does not."""
        for name in (BENCH_1, BENCH_2):
            said = Counter(root_of(i.key) for i in self.firsts if i.recipient == name and i.kind == "put off")
            for ring in self.rings:
                key = self.key_of(ring) or ""
                most = int(ring.put_off and self._heard(name, ring))
                if said[key] > most:
                    yield f"{name} heard {said[key]} times that {key} was taken back"

    def _longest_waits_on_the_wall(self) -> Iterator[str]:
        for name in NAMES:
            for kind in (Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST):
                heard = Counter(root_of(item.key) for item in self.wall[name] if item.kind == kind)
                due = {self._wait_key(kind, m) for m in self._waits(name, kind)}
                if set(heard) != due or set(heard.values()) - {1}:
                    yield f"{name}, {kind}: due {sorted(due)}, heard {heard}"

    def _broker_speaks_for_its_sensors(self) -> Iterator[str]:
        for item in self.firsts:
            if item.kind in (Kind.SENSOR_SILENT, Kind.ROOM_SILENT):
                yield f"a sensor told as silent, though the broker was away: {item}"
        for since, until in self.month.broker_gone:
            known = [m for m in self.month.moments if m.alive and since + 2 * MINUTE <= m.at < until]
            heard = [i for i in self.firsts if i.kind == Kind.BROKER_DOWN and i.recipient == WALL]
            if known and not any(since <= item.at <= until for item in heard):
                yield f"the broker was away from {since} to {until}, and nobody was told"

    def _somebody_hears(self) -> Iterator[str]:
        for name, ring in self.must_hear():
            if not self._heard(name, ring):
                yield f"{name} heard nothing of {ring.mould.name}, rung at {ring.at}"

    def must_hear(self) -> Iterator[tuple[str, Ring]]:
        """Whoever can be rung as it rings, or is the first who can be while it does, and whose phone is well.

        Of a coat whose longest wait was told meanwhile they heard that instead.
        """
        for ring in self.rings:
            first = next((m for m in ring.moments if self._who(m.at)), None)
            if first is not None and _fires(ring, first):
                name = self._who(first.at)[0]
                other = self._heard_of_its_longest_wait(name, ring)
                if self._well_for(name, first.at, ring) and not other:
                    yield name, ring

    def had_to_ring(self, ring: Ring) -> bool:
        """Whether its own hour had come, and neither another bell nor a longest wait has to do with it."""
        return _near(ring.mould, ring.at, EARLY) and ring.mould.longest_wait_until is None

    def _turns_are_kept(self) -> Iterator[str]:
        """The second turn hears nothing within the hour of a bell at which the first could be rung."""
        for ring in self.rings:
            if self.reachable(BENCH_1, ring.at):
                for item in self._of(BENCH_2, ring):
                    if item.at < ring.at + NEXT_AFTER:
                        yield f"told before its turn: {item}, rung at {ring.at}"

    def _the_next_one_hears(self) -> Iterator[str]:
        """Nobody dips, nobody says that they come: the next turn hears of it, once its hour and its phone allow."""
        for ring in self.rings:
            told = min((item.at for item in self._of(BENCH_1, ring)), default=None)
            if told is None or self._words(ring):
                continue
            there = self._well_for(BENCH_2, told + NEXT_AFTER + 2 * STEP, ring)
            heard = self._heard(BENCH_2, ring) or self._heard_of_its_longest_wait(BENCH_2, ring)
            if there and not heard:
                yield f"{BENCH_2} was never told of {ring.mould.name}, which {BENCH_1} heard at {told}"

    def _the_night_is_said(self) -> Iterator[str]:
        """What comes ready while nobody can be rung is said before, where the air stays as it is."""
        for before, after in zip(self.month.moments, self.month.moments[1:], strict=False):
            name = BENCH_1
            if self.reachable(name, before.at) and not self.reachable(name, after.at):
                evening = [m for m in self.month.moments if before.at - 45 * MINUTE <= m.at <= before.at]
                due = [n for n in NAMES if all(self._comes_in_the_night(n, m) for m in evening)]
                well = all(m.alive and not self.month.phones[name].bad(m.at) for m in evening)
                said = any(
                    item.kind == Kind.BEFORE_NIGHT and before.at - timedelta(hours=8) <= item.at <= after.at
                    for item in self.month.phones[name].stored
                )
                if due and well and not said:
                    yield f"{name} was not told before {after.at} of {due}"

    # Small things

    def _comes_in_the_night(self, name: str, moment: Moment) -> bool:
        mould = next(m for m in moment.moulds if m.name == name)
        back = self.reach.back_at(BENCH_1, moment.at + 3 * timedelta(hours=1))
        if mould.stage is not Stage.DRYING or mould.due_at is None or back is None:
            return False
        nobody = not self._who(mould.due_at) and mould.longest_wait_until is None
        return nobody and moment.at + timedelta(hours=1) < mould.due_at < back

    def _who(self, at: datetime) -> list[str]:
        return [name for name in (BENCH_1, BENCH_2) if self.reachable(name, at)]

    def _ring_of(self, item: Stored) -> Ring | None:
        return next((r for r in self.rings if r.mould.name == item.subject and r.holds(item.at)), None)

    def _of(self, name: str, ring: Ring) -> list[Stored]:
        return [item for item in self.month.phones[name].stored if item.key == self.key_of(ring)]

    def key_of(self, ring: Ring) -> str | None:
        """Under which key the wall heard it."""
        rang = [item.key for item in self.wall[ring.mould.name] if item.kind == DIP and item.at == ring.at]
        return next(iter(rang), None)

    def _heard(self, name: str, ring: Ring) -> bool:
        return bool(self._of(name, ring))

    def _heard_of_its_longest_wait(self, name: str, ring: Ring) -> bool:
        """Which speaks for the dip as well."""
        kinds = (Kind.LONGEST_WAIT_NEAR, Kind.LONGEST_WAIT_PAST)
        stored = [i for i in self.month.phones[name].stored if i.subject == ring.mould.name]
        return any(item.kind in kinds and ring.holds(item.at) for item in stored)

    def _well_for(self, name: str, since: datetime, ring: Ring) -> bool:
        """Whether phone, hours, power and bell all held long enough after `since` for it to be told."""
        stretch = timedelta()
        for moment in ring.moments:
            ok = moment.at >= since and _fires(ring, moment) and self.reachable(name, moment.at)
            ok = ok and not self.month.phones[name].bad(moment.at)
            stretch = stretch + STEP if ok else timedelta()
            if stretch > TAKEN_WITHIN:
                return True
        return False

    def _words(self, ring: Ring) -> bool:
        """Whether anybody said anything to this bell or another of the same mould meanwhile."""
        rows = [row for row in self.known.values() if row.mould_id == ring.mould.id]
        return any(ring.at <= word.at <= ring.ends for row in rows for word in row.replies)

    def _waits(self, name: str, kind: Kind) -> Iterator[MouldNow]:
        for moment in self.month.moments:
            mould = next(m for m in moment.moulds if m.name == name)
            ends = mould.longest_wait_until
            if moment.alive and ends is not None:
                near = ends - WARN <= moment.at < ends
                if near if kind is Kind.LONGEST_WAIT_NEAR else moment.at >= ends:
                    yield mould

    def _wait_key(self, kind: Kind, mould: MouldNow) -> str:
        assert mould.last_dip_at is not None
        return stem(kind, mould.id, mould.next_coat or 0, f"{mould.last_dip_at:%Y%m%dT%H%M%SZ}")

    def _reminds_of_urgent(self, item: Stored) -> bool:
        root = self.known.get(root_of(item.key))
        return extra_of(item.key) is not None and root is not None and self.month.rules.is_urgent(root.kind)

    def _rows(self) -> list[AlertRow]:
        return self.month.records.recent_alerts(1_000_000)


def _near(mould: MouldNow, at: datetime, within: timedelta) -> bool:
    if mould.stage is Stage.READY:
        return True
    return mould.stage is Stage.DRYING and mould.due_at is not None and mould.due_at - at <= within


def _fires(ring: Ring, moment: Moment) -> bool:
    mould = next(m for m in moment.moulds if m.id == ring.mould.id)
    return moment.alive and _near(mould, moment.at, EARLY)


def _by_subject(items: Iterator[Stored]) -> defaultdict[str, list[Stored]]:
    found: defaultdict[str, list[Stored]] = defaultdict(list)
    for item in items:
        found[item.subject].append(item)
    return found


def _times(times: list[datetime]) -> str:
    return ", ".join(f"{at:%d. %H:%M}" for at in times) or "no time"
