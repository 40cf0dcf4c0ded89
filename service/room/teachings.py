"""What every mould taught, kept in the records, and what that makes of the shop."""

from __future__ import annotations

import hashlib
import threading
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from service.drying.shell import Parameters
from service.learning.effect import Effect, EffectKind
from service.learning.site import NOTHING_HEARD, Belief, Site, pool
from service.records.plain import by_number
from service.records.store import Records
from service.records.taught_store import Taught
from service.room.anew import Anew
from service.room.learned_views import HeardKind, LearnedEffect
from service.room.lesson import KINDS, Lesson, kept, read
from service.room.own_numbers import Learned
from service.room.past_changes import PastChanges

METHOD = "taught 2"
"""Another name where the way of working out changes, so that what older programs left is made anew."""
SETTLES = timedelta(minutes=20)
"""Readings of a moment come this much later at most, or count as a change of the past air."""
SAYS_NOTHING = 1e-6
"""With less precision than this a mould says nothing of an effect."""
NINE_TENTHS = 1.2815515655446004
"""Of a normal distribution, so many spreads off the middle lies the 90 %."""
FADES_BY_THE_HOUR_S = 3600.0
"""Old evidence fades over months: what was pooled holds for an hour."""


@dataclass(frozen=True)
class _Known:
    """What is in hand of one mould. air: the change of the past air it knows of. numbers: which it was left with."""

    fact_number: int
    made_at: datetime
    air: int
    site: Site | None
    last_dip_s: float
    until: datetime
    rooms: frozenset[int]
    ended: bool
    numbers: str
    epochs: str


class Teachings:
    """Asked and told from several threads."""

    def __init__(self, records: Records, parameters: Parameters, past: PastChanges) -> None:
        self._records, self._past = records, past
        self.method = f"{METHOD} {hashlib.sha256(repr(parameters).encode()).hexdigest()[:12]}"
        self._shelf: dict[int, _Known] | None = None
        self._lock = threading.Lock()
        self._pooled: tuple[tuple[int, float], Belief] | None = None
        self.version = 0
        self.of_the_ended = 0
        """Counted up with each change, and with each of a mould that has left."""

    # The shop

    def belief(self, now_s: float, without: int | None = None) -> Belief:
        """What all taught together by now; without one mould's own."""
        if without is not None and self._site_of(without) is not None:
            return pool(self._sites(), now_s, without)
        known = self._in_hand() and (self.version, now_s // FADES_BY_THE_HOUR_S)
        if not known:
            return NOTHING_HEARD
        pooled = self._pooled
        if pooled is None or pooled[0] != known:
            pooled = self._pooled = (known, pool(self._sites(), now_s))
        return pooled[1]

    def learned(self, now: datetime, anew: Anew) -> list[LearnedEffect]:
        """Every effect that anything was heard of, and those to be learned anew since."""
        sites, now_s = self._sites(), now.timestamp()
        belief = self.belief(now_s)
        heard_of = {(effect.kind, effect.of) for site in sites for effect in _taught_by(site)}
        in_order = sorted(heard_of, key=lambda each: (list(EffectKind).index(each[0]), by_number(each[1])))
        return [_learned(anew, kind, of, sites, belief, now_s) for kind, of in in_order]

    def _sites(self) -> list[Site]:
        return [known.site for known in self._in_hand().values() if known.site is not None]

    def _site_of(self, mould_id: int) -> Site | None:
        known = self._in_hand().get(mould_id)
        return known.site if known else None

    # One mould

    def lesson(self, mould_id: int) -> Lesson | None:
        """What is kept of a mould."""
        row = self._records.taught(mould_id)
        return read(mould_id, row.found) if row is not None and row.method == self.method else None

    def numbers_of(self, mould_id: int) -> str | None:
        """Which numbers a mould was left with, as `Learned.digest`. None: it was not worked in yet, or it hangs."""
        known = self._in_hand().get(mould_id)
        return known.numbers if known and known.ended else None

    def has(self, mould_id: int) -> bool:
        """Whether anything is kept of a mould."""
        return mould_id in self._in_hand()

    def holds(self, mould_id: int, fact_number: int, anew: Anew, now: datetime) -> bool:
        """Whether what a mould that left taught still stands: made after its end, of these facts and this air."""
        known = self._in_hand().get(mould_id)
        if known is None or known.fact_number != fact_number or not known.ended:
            return False
        settled_at = known.until + SETTLES
        return (
            known.epochs == anew.until(known.last_dip_s)
            and not (known.made_at < settled_at <= now)
            and not self.other_air(mould_id)
        )

    def other_air(self, mould_id: int) -> bool:
        """Whether the air it hung in is known to be other than what it was worked out of."""
        known = self._in_hand().get(mould_id)
        return known is not None and self._past.other_since(known.air, known.rooms, known.until)

    def keep(self, it: Lesson, fact_number: int, anew: Anew, air: int, now: datetime) -> None:
        """Keep what a mould taught, in the place of what was. Raises what the records raise."""
        row = Taught(
            it.mould_id,
            fact_number,
            self.method,
            now,
            {**kept(it, air), "epochs": anew.until(it.last_dip_s)},
        )
        self._records.save_taught(row)
        with self._lock:
            before = self._shelf.get(it.mould_id) if self._shelf is not None else None
            if self._shelf is not None:
                self._shelf[it.mould_id] = _known(row)
            self.version += 1
            if it.ended or (before is not None and before.ended):
                self.of_the_ended += 1

    def drop(self, mould_id: int) -> None:
        """A mould that was taken back taught nothing."""
        self._records.drop_taught(mould_id)
        with self._lock:
            if self._shelf is not None and self._shelf.pop(mould_id, None) is not None:
                self.version += 1

    def _in_hand(self) -> dict[int, _Known]:
        with self._lock:
            if self._shelf is None:
                rows = self._records.each_taught(self.method)
                self._shelf = {row.mould_id: _known(row) for row in rows}
            return dict(self._shelf)


def _known(row: Taught) -> _Known:
    it = read(row.mould_id, row.found)
    return _Known(
        row.fact_number,
        row.at,
        row.found["air"],
        it.site,
        it.last_dip_s,
        it.until,
        it.rooms,
        it.ended,
        Learned(it.own, it.doubt).digest,
        row.found["epochs"],
    )


def _taught_by(site: Site) -> list[Effect]:
    return [
        effect
        for effect, known in zip(site.effects, np.diag(site.precision), strict=True)
        if known > SAYS_NOTHING
    ]


def _learned(
    anew: Anew, kind: EffectKind, of: str, sites: Iterable[Site], belief: Belief, now_s: float
) -> LearnedEffect:
    effect = anew.effect(kind, of, now_s)
    together = [effect] if not of else [anew.effect(kind, "", now_s), effect]
    likely, low, high = _range(belief, together)
    _, first_low, first_high = _range(NOTHING_HEARD, together)
    bearing = sorted((site for site in sites if effect in _taught_by(site)), key=lambda site: site.at_s)
    said_at = anew.times_s(kind, of)
    return LearnedEffect(
        kind,
        of,
        likely,
        low,
        high,
        first_low,
        first_high,
        _pieces(bearing),
        len(bearing),
        _instant(bearing[-1].at_s if bearing else None),
        _instant(max(said_at, default=None)),
        tuple(site.mould for site in bearing),
    )


def _range(belief: Belief, together: Sequence[Effect]) -> tuple[float, float, float]:
    """The middle of what effects make together, and its 10 and 90 %: a hook has its own and the whole shop's."""
    mean, covariance = belief.about(together)
    off = NINE_TENTHS * float(np.sqrt(covariance.sum()))
    middle = float(mean.sum())
    return float(np.exp(middle)), float(np.exp(middle - off)), float(np.exp(middle + off))


def _pieces(sites: Sequence[Site]) -> tuple[tuple[HeardKind, int], ...]:
    found: Counter[HeardKind] = Counter()
    for site in sites:
        found.update({KINDS[name]: count for name, count in site.pieces})
    return tuple((kind, found[kind]) for kind in HeardKind if found[kind])


def _instant(at_s: float | None) -> datetime | None:
    return None if at_s is None else datetime.fromtimestamp(at_s, UTC)
