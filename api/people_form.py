"""The form of somebody who is told: fields to what alerts.toml would hold, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from api.asked import Form
from service.alerts.as_written import days_off_text, hours_text, masked, works_text
from service.alerts.hours import DAYS, Hours, day_names
from service.alerts.kinds import Kind
from service.alerts.people import NO_QUIET, Address, Person, Place
from service.errors import ShopError
from service.records.set_up import Part
from service.voice import Language, voice

MOST_WAYS = 8
SHOPS, NONE, OWN = "shop", "none", "own"
"""Whose quiet hours somebody goes by."""
Row = dict[str, str]


def body_of(form: Form, part: Part) -> dict[str, Any]:
    """What the form says of somebody. Addresses that were left empty are empty."""
    kinds = {} if form["all_kinds"] else {"kinds": [kind.value for kind in Kind if form[f"kind_{kind.name}"]]}
    if part is Part.PLACES:
        return {"send_to": form["send_to"], "quiet": bool(form["quiet"]), **kinds}
    return {
        "ways": [row for _, row in filled(form)],
        "turn": form.whole("turn", "turn"),
        "works": _lines(form["works"]),
        "days_off": _lines(form["days_off"]),
        **_quiet(form),
        **kinds,
    }


def rows(form: Form) -> list[Row]:
    """The ways as they stand in the form."""
    count = sum(f"way_{n}_send_to" in form for n in range(MOST_WAYS))
    return [_row(form, n) for n in range(count)]


def filled(form: Form) -> list[tuple[int, Row]]:
    """Those in which something stands, with their place in the form."""
    return [(n, row) for n, row in enumerate(rows(form)) if any(row.values())]


def moved(form: Form) -> Form | None:
    """The form after a way was moved or taken out, by a button of the form. None: none was pressed."""
    pressed = re.fullmatch(r"(up|down|out)-(\d)", form["do"])
    listed = [row for _, row in filled(form)]
    if pressed is None:
        return None
    n = int(pressed[2])
    if n < len(listed):
        row = listed.pop(n)
        if pressed[1] != "out":
            listed.insert(max(n + (1 if pressed[1] == "down" else -1), 0), row)
    rest = {name: value for name, value in form.items() if not name.startswith("way_")}
    return Form({**rest, **_fields_of_rows(listed)})


def fields_of(who: Person | Place) -> Form:
    """The form filled in; no address stands in it."""
    kinds = {f"kind_{kind.name}": "yes" for kind in Kind if who.kinds is not None and kind in who.kinds}
    both = {"name": who.name, "all_kinds": "yes" if who.kinds is None else "", **kinds}
    if isinstance(who, Place):
        return Form({**both, "quiet": "yes" if who.quiet else ""})
    rows_ = [{"name": way.name, "send_to": "", "was": way.name} for way in who.ways]
    own = isinstance(who.quiet, Hours)
    return Form(
        {
            **both,
            **_fields_of_rows(rows_),
            "turn": str(who.turn),
            "works": "\n".join(works_text(each, shown_days()) for each in who.works),
            "days_off": "\n".join(days_off_text(each) for each in who.days_off),
            "quiet_how": OWN if own else NONE if who.quiet == NO_QUIET else SHOPS,
            "quiet": hours_text(who.quiet) if isinstance(who.quiet, Hours) else "",
        }
    )


def kept(who: Person | Place | None) -> Mapping[str, str]:
    """What may be shown of each address that is kept, by its way's name."""
    ways: tuple[Address, ...] = who.ways if who else ()
    return {way.called: masked(way) for way in ways}


def field_named(problem: ShopError, form: Form) -> str | None:
    """The form's own name of the field that a problem is about."""
    parts = (problem.field or "").split(".")
    if problem.code == "never_rung":
        return "works"
    if parts[0] == "ways" and len(parts) > 1:
        places = [n for n, _ in filled(form)]
        n = int(parts[1])
        return f"way_{places[n] if n < len(places) else n}_{parts[2] if len(parts) > 2 else 'send_to'}"
    return {"kinds": "all_kinds"}.get(parts[0], parts[0]) or None


def shown_days() -> tuple[str, ...]:
    """The days of the week as whoever asks writes them."""
    return (
        DAYS if voice().language is Language.ENGLISH else day_names()[list(Language).index(voice().language)]
    )


def _quiet(form: Form) -> dict[str, str]:
    how = form["quiet_how"]
    return {} if how == SHOPS else {"quiet": NO_QUIET if how == NONE else form["quiet"]}


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _row(form: Form, n: int) -> Row:
    return {part: form[f"way_{n}_{part}"] for part in ("name", "send_to", "was")}


def _fields_of_rows(listed: list[Row]) -> dict[str, str]:
    return {f"way_{n}_{part}": value for n, row in enumerate(listed) for part, value in row.items()}
