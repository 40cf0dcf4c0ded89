"""What one person says to a message, told to the others who got it: that they are on the way, or not after all. Pure.

Others are the people who were told, whenever they got it; a place hears of moulds, not of who goes to them. Said of
several bells of a mould at once, it is told once. It is no longer true when it runs out (they are reminded then), and
needs not be told any more; taken back, whoever heard of it hears that too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.alerts.keys import extra_of, root_of, with_extra
from service.alerts.kinds import LONGEST_WAIT, Echo
from service.alerts.replies import Said, holds, newest_words
from service.alerts.rules import AlertRules
from service.records.outbox import AlertRow, ReplyRow
from service.records.plain import spelling

COMES, COMES_NOT = "taken-on-", "taken-back-"
"""What the extra of such a message's key begins with; the reply's number follows."""


@dataclass(frozen=True, slots=True)
class Word:
    """What is to be told of a person's word. ended: the messages that it takes the place of."""

    alert: AlertRow
    reply: ReplyRow
    key: str
    comes: bool
    recipients: tuple[str, ...]
    ended: tuple[str, ...] = ()


def words_to_pass_on(open_alerts: Sequence[AlertRow], now: datetime, rules: AlertRules) -> list[Word]:
    """Everything that others must hear now, or that is over."""
    echoes = [row for row in open_alerts if row.kind == Echo.TAKEN_ON]
    hands: dict[str | int, list[AlertRow]] = {}
    for row in open_alerts:
        if extra_of(row.key) is None and row.replies:
            hands.setdefault(row.mould_id or row.key, []).append(row)
    return [word for bells in hands.values() for word in _of_hand(bells, echoes, now, rules)]


def _of_hand(
    bells: Sequence[AlertRow], echoes: Sequence[AlertRow], now: datetime, rules: AlertRules
) -> Iterator[Word]:
    """Said of the dip, if of several: its bell outlives that of a longest wait, which becomes another when it ends."""
    for person in dict.fromkeys(spelling(reply.person) for row in bells for reply in row.replies):
        said = [(row, word) for row in bells for word in newest_words(row) if spelling(word.person) == person]
        alert, word = min(said, key=lambda pair: (pair[0].kind in LONGEST_WAIT, pair[0].id))
        coming, not_coming = (
            [echo for row in bells for echo in echoes if _tells_of(echo, row, person, begins)]
            for begins in (COMES, COMES_NOT)
        )
        if word.what == Said.ON_MY_WAY and holds(word, now):
            yield from _comes(alert, word, coming, not_coming, bells, rules)
        elif coming:
            yield _comes_not(alert, word, coming)


def _comes(
    alert: AlertRow,
    word: ReplyRow,
    coming: Sequence[AlertRow],
    not_coming: Sequence[AlertRow],
    bells: Sequence[AlertRow],
    rules: AlertRules,
) -> Iterator[Word]:
    """Told to others that got the message since, too; said again before it ran out, it is no news."""
    key = coming[0].key if coming else with_extra(alert.key, f"{COMES}{word.id}")
    had = {d.recipient for row in coming for d in row.deliveries}
    others = tuple(p.name for p in rules.people if p.name in _got(bells) - had and p.name != word.person)
    if others or not_coming:
        yield Word(alert, word, key, True, others, tuple(row.key for row in not_coming))


def _comes_not(alert: AlertRow, word: ReplyRow, coming: Sequence[AlertRow]) -> Word:
    others = tuple(sorted(_got(coming))) if word.what != Said.ON_MY_WAY else ()
    key = with_extra(alert.key, f"{COMES_NOT}{word.id}")
    return Word(alert, word, key, False, others, tuple(row.key for row in coming))


def _got(alerts: Sequence[AlertRow]) -> set[str]:
    return {d.recipient for row in alerts for d in row.deliveries if d.delivered_at is not None}


def _tells_of(echo: AlertRow, alert: AlertRow, person: str, begins: str) -> bool:
    """Whether this message tells of a word of this person, as `spelling` has the name, to this alert."""
    number = (extra_of(echo.key) or "").removeprefix(begins)
    own = {str(reply.id) for reply in alert.replies if spelling(reply.person) == person}
    return root_of(echo.key) == alert.key and number in own
