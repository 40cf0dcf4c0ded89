"""A broker's listener for tests of the pages: topics heard by hand, no decoding but of plain numbers in °C or %."""

from __future__ import annotations

from collections.abc import Sequence

from service.clock import Clock
from service.errors import BadInput, NotFound
from service.listening import Guess, Proposal, ReadBy, Table, TopicHeard, Tried
from service.reading import Quantity
from service.units import Dimension, convert
from service.voice import say

DIMENSIONS = {
    "air_temperature": Dimension.TEMPERATURE,
    "surface_temperature": Dimension.TEMPERATURE,
    "relative_humidity": Dimension.FRACTION,
    "weight": Dimension.MASS,
}
HOTTEST_K = 333.15


class FakeListening:
    """`hear` makes a topic heard, with the numbers in its message by field (None: the message is one number)."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._sent: dict[str, dict[str | None, str]] = {}
        self._meant: dict[str, str] = {}
        self.tables: list[Table] = []

    def hear(self, topic: str, sent: dict[str | None, str], meant: str = "") -> None:
        self._sent[topic], self._meant[topic] = sent, meant

    def heard(self) -> Sequence[TopicHeard]:
        return [self._heard(topic) for topic in sorted(self._sent)]

    def propose(self, topic: str) -> Proposal:
        if topic not in self._sent:
            raise NotFound(
                "topic_unknown",
                say("Nothing was heard on “{topic}” yet.", topic=topic),
                say("Switch the sensor on and wait for it."),
                "topic",
            )
        table, sent = self._table(topic), self._sent[topic]
        by_field = {value.get("field"): value for value in table["values"]} if table else {}
        made = [_guess(field, number, by_field.get(field)) for field, number in sent.items()]
        name = topic.split("/")[-2] if "/" in topic else topic
        return Proposal(self._heard(topic), str(sent), name, tuple(made), table)

    def try_out(self, topic: str, table: Table) -> Sequence[Tried]:
        self.check(table)
        return [_tried(self._sent[topic], table, value) for value in table["values"]]

    def check(self, table: Table) -> None:
        if not table["values"]:
            raise BadInput(
                "none_given",
                say("There is nothing in it."),
                say("Add one, as in the shipped sensors.toml."),
                "values",
            )
        for value in table["values"]:
            convert(1.0, value["unit"], DIMENSIONS[value["quantity"]])

    def read_so(self, tables: Sequence[Table]) -> None:
        self.tables = list(tables)

    def _table(self, topic: str) -> Table | None:
        return next((table for table in self.tables if table["pattern"] == topic), None)

    def _heard(self, topic: str) -> TopicHeard:
        table = self._table(topic)
        reads = [(table["sensor"], Quantity(value["quantity"])) for value in table["values"]] if table else []
        by = ReadBy.OWN if table else ReadBy.NOBODY
        payload, meant = str(self._sent[topic])[:120], self._meant[topic] or None
        return TopicHeard(topic, payload, self._clock.now(), 60.0, False, by, tuple(reads), meant)


def _guess(field: str | None, number: str, read: Table | None) -> Guess:
    if read is not None:
        return Guess(field, number, Quantity(read["quantity"]), read["unit"])
    return Guess(field, number, Quantity.AIR_TEMPERATURE, "degC")


def _tried(sent: dict[str | None, str], table: Table, value: Table) -> Tried:
    field, quantity = value.get("field"), Quantity(value["quantity"])
    if field not in sent:
        return Tried(
            table.get("sensor"),
            quantity,
            field,
            None,
            False,
            say("The field {field} is missing.", field=field),
        )
    if not _is_number(sent[field]):
        return Tried(
            table.get("sensor"),
            quantity,
            field,
            None,
            False,
            say("“{sent}” is not a number.", sent=sent[field]),
        )
    si = convert(float(sent[field]), value["unit"], DIMENSIONS[quantity])
    plausible = quantity is not Quantity.AIR_TEMPERATURE or si < HOTTEST_K
    return Tried(
        table.get("sensor"), quantity, field, si, plausible, "" if plausible else say("It cannot be.")
    )


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
