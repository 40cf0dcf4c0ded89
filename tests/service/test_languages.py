"""That everything a person reads can be said in another language: found, and wrapped."""

from __future__ import annotations

import string
from enum import Enum
from pathlib import Path
from typing import get_args

import pytest

from service.alerts.kinds import Echo, Kind
from service.alerts.replies import Said
from service.records.facts import AnyBody, CheckBody, EndedBody, FaultKind, ResultBody, ZoneKind
from service.records.recipes import CoatKind
from service.room.audit_views import Known, TooWet
from service.room.views import AirWrong
from service.voice import Language
from tests.bare_text import in_problems, in_script, in_template, nested, sentences, texts_said, told_bare
from tests.languages import (
    HOUSE,
    Msgid,
    blanks,
    catalogue,
    entries,
    forms,
    msgids,
    python_files,
    renew,
    said,
    said_in,
    script_files,
    template_files,
)

TYPED = {
    "_mould_fields.html": {"open face"},
    "correct.html": {"still damp"},
    "reply.html": {"on my way", "taken back"},
    "import.html": {"breast, open face, 38 cm, 20 cm"},
}
"""What forms send, and what is to be written just so."""

DEMO = {"demo.py", "settings.py", "weather.py"}
"""Saltmarsh Bronze speaks English: it is for trying out, and told on a terminal."""

IN_ENGLISH = (
    "service/demo",  # the story of Saltmarsh Bronze
    "service/estimate/report.py",  # the terminal
    "service/estimate/spread_report.py",
    "service/estimate/command.py",
    "service/ledger_words.py",
    "service/command_line.py",
    "service/commands.py",
    "service/alerts_command.py",
    "service/export.py",
    "service/import_notebook.py",
    "service/keep_copy.py",
    "service/ledger_command.py",
    "service/restore.py",
    "service/papers/notebook_columns.py",  # words that are read, not said
    "service/papers/notebook_words.py",
    "service/papers/notebook_facts.py",  # written into the ledger for good
    "service/papers/coat_table.py",  # headings that programs go by
    "service/papers/fact_table.py",
    "service/papers/reading_table.py",
    "service/papers/record_models.py",
    "service/learning/check.py",  # for us alone: a story that cannot be
    "service/main.py",  # names of ticks and parts, for the log
    "service/records/one_service.py",  # SQL
    "service/records/storage_store.py",
    "service/records/backup.py",
    "api/fakes.py",  # the story of Saltmarsh Bronze again
    "api/app.py",  # what is said and shown on /api/docs
    "api/models.py",
    "api/photos_router.py",
    "api/air_models.py",
    "api/audit_models.py",
    "api/dips_models.py",
    "api/fact_models.py",
    "api/learned_models.py",
    "api/failure_models.py",
    "api/message_models.py",
    "api/mould_models.py",
    "api/notebook_models.py",
    "api/recipe_models.py",
    "api/result_models.py",
)
KEPT_AS_THEY_ARE = {
    *("clock told wrong", "times not run", "last check of the ledger", "when past air changed"),
    *("where sensors hung", "storage by day", "coatbell: head of the ledger", "coatbell calendar address"),
    *("new calendar address", "test of a browser", "coatbell page cookie"),
    *("{off.first} to {off.last}", "steps no. {number}", "const WORDS = {json.dumps(_words())};\\n"),
    *(" TABLE DATA {re.escape(schema)} facts ", 'ALTER TABLE "{schema}"."{name}" SET SCHEMA "{kept}";'),
    *("WHEN '{name}' THEN {number}",),
    *("Bad user name or password", "joule / kilogram / delta_degC", "vapid t=, k="),
}
"""Names under which something is remembered, signed or asked; what files and SQL have in them."""
UNREAD = {"the phone's store does not open", "use strict"}
"""What a script throws at itself."""


# what is said is found


def test_what_python_says_is_found(tmp_path: Path) -> None:
    file = tmp_path / "x.py"
    file.write_text(
        'say("Coat {coat}", coat=1)\nsay_many("{number} coat", "{number} coats", 2, of="x")\n'
        'A = later("Board")\nB = later_many("a coat", "coats")\nheld("kept " "for later")\nsay(A)\nother("not")\n'
    )
    plural: list[Msgid] = [("{number} coat", "{number} coats"), ("a coat", "coats")]
    assert set(said_in(file)) == {"Coat {coat}", "Board", "kept for later", *plural}


def test_what_a_template_says_is_found(tmp_path: Path) -> None:
    file = tmp_path / "x.html"
    file.write_text(
        '{% macro a(x) %}<p title="{{ say(\'Above\') }}">{{ m.text("n", say("Name of {x}", x=x)) }}</p>{% endmacro %}\n'
        '{{ say_many("{number} coat", "{number} coats", 2) }}{{ words.say_nothing("not") }}\n'
    )
    assert list(said_in(file)) == ["Above", "Name of {x}", ("{number} coat", "{number} coats")]


def test_there_is_much_to_say() -> None:
    found = msgids(said())
    assert len(found) > 1000
    assert "Moulds" in found
    assert ("{number} coat", "{number} coats") in found


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('later_many(later("{number} coat"), later("{number} coats"))', [1]),
        ('say(f"{a} coats")', [1]),
        ('held(say("a coat"))', [1]),
        ('say("a coat", of=say("x"))', []),
        ("say(TEXT[a], b=1)", []),
        ('say_many("coat", "coats", say("n"))', []),
    ],
)
def test_what_is_said_within_another_is_seen(source: str, found: list[int]) -> None:
    assert nested(source) == found


def test_all_that_is_said_is_found() -> None:
    """Within an f-string it would not be."""
    told = {text for path in python_files() for text in texts_said(path.read_text(encoding="utf-8"))}
    assert told - msgids(said()) == set()


def test_nothing_is_said_within_another() -> None:
    """It would be found under other names than it is looked up by."""
    bare = {str(path): nested(path.read_text(encoding="utf-8")) for path in python_files()}
    assert {name: lines for name, lines in bare.items() if lines} == {}


def test_every_text_can_be_filled_in() -> None:
    """A brace that nobody closes would be noticed only when it is said."""
    for message in entries(said()):
        for text in forms(message.id):
            if blanks(text):
                list(string.Formatter().parse(text))


def test_a_plural_differs_only_in_its_number() -> None:
    for message in entries(said()):
        if not isinstance(message.id, str):
            one, many = (blanks(form) - {"{number}"} for form in forms(message.id))
            assert one == many, message.id


def test_a_catalogue_is_brought_up_to_date(tmp_path: Path) -> None:
    file = tmp_path / "es.po"
    file.write_text(
        'msgid ""\nmsgstr ""\n"Language: es\\n"\n"Plural-Forms: nplurals=2; plural=(n != 1);\\n"\n\n'
        'msgid "Moulds"\nmsgstr "Moldes"\n\nmsgid "Said by nobody any more"\nmsgstr "De nadie"\n'
    )
    renew(Language.SPANISH, file)
    once = file.read_text()
    renew(Language.SPANISH, file)
    there = catalogue(Language.SPANISH, file)
    assert file.read_text() == once
    assert msgids(there) == msgids(said())
    assert there["Moulds"].string == "Moldes"
    assert "Said by nobody any more" not in once
    assert "Date:" not in once


SHOWN: tuple[type[Enum], ...] = (Kind, Echo, Said, FaultKind, ZoneKind, CoatKind, Known, TooWet, AirWrong)


@pytest.mark.parametrize("kinds", SHOWN)
def test_stored_words_can_be_said(kinds: type[Enum]) -> None:
    assert {str(kind.value) for kind in kinds} <= {id_ for id_ in msgids(said()) if isinstance(id_, str)}


@pytest.mark.parametrize(
    ("body", "field"), [(CheckBody, "verdict"), (EndedBody, "outcome"), (ResultBody, "verdict")]
)
def test_verdicts_can_be_said(body: type[CheckBody | EndedBody | ResultBody], field: str) -> None:
    told = body.model_json_schema()["properties"][field]["enum"]
    assert set(told) <= msgids(said())


def test_kinds_of_records_can_be_said() -> None:
    bodies = get_args(get_args(AnyBody)[0])
    assert {body.model_fields["kind"].default for body in bodies} <= msgids(said())


# what is not said is found


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("<p>Moulds</p>", ["Moulds"]),
        ("<p>{{ say('Moulds') }}</p>", []),
        ("<p>{{ name }} hangs</p>", ["… hangs"]),
        ("<p>{# a remark #}{% if a %}{{ n }}{% endif %} °C</p>", []),
        ('<input aria-label="Name" class="wide one" value="sent so">', ["Name"]),
        ('<input type="submit" value="Send">', ["Send"]),
        ("<code>coatbell export</code><script>let words;</script>", []),
        ('{{ m.text("name", "Its name, as you call it") }}', ["Its name, as you call it"]),
        ('{{ m.text("name", say("Its name, as you call it", x="a b c")) }}', []),
        ('{{ "Two words" if a == "still damp" else say("x") }}', ["Two words"]),
        ("{% set a = 'plain words' %}{% block body_class %}page wide{% endblock %}", ["plain words"]),
    ],
)
def test_bare_text_in_a_template(source: str, found: list[str]) -> None:
    assert in_template(source) == found


@pytest.mark.parametrize(
    "source",
    [
        '<p class="now{{ " old days" if a }}">{{ say("x") }}</p>',
        '{% macro about(n) %}{% if n %} aria-describedby="h-{{ "two words" }}" data-waits{% endif %}{% endmacro %}',
        '{% block body_data %}data-live="/live/{{ n }}"{% endblock %}',
        "{% macro row_class(a) %}row{% if a %} called{% endif %}{% endmacro %}",
        "<title>{% block title %}coatbell{% endblock %}</title>",
    ],
)
def test_what_is_no_text_in_a_template(source: str) -> None:
    assert in_template(source) == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("<p title=\"{{ 'Two words' if a }}\">", ["Two words"]),
        ("<p data-held=\"Page {page} stays\" data-of='wet'>", ["Page {page} stays"]),
        ("<p>{{ 'two words' if a else say('x') }}</p>", ["two words"]),
    ],
)
def test_text_in_attributes_and_expressions(source: str, found: list[str]) -> None:
    assert in_template(source) == found


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('a = "It goes by itself."; // "It is a remark."', ["It goes by itself."]),
        ("a = `<p>${n} moulds hang here</p>`", ["<p>${n} moulds hang here</p>"]),
        ('b.textContent = on ? "On" : words.off;', ["On"]),
        ('alert("No"); b.textContent = words.on; b.className = "wide open";', ["No"]),
        ('/* "words of a remark" */ if (b.textContent === "On") go("/a b c");', []),
    ],
)
def test_bare_text_in_a_script(source: str, found: list[str]) -> None:
    assert in_script(source) == found


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('raise BadInput("code", "It is wrong.", say("Put it right."), "field")', 1),
        ('raise BadInput("code", say("It is wrong."), f"Write {x} instead.")', 1),
        ('raise BadInput("code", say("It is wrong."), say("Write {x}.", x=f"a {b}"))', 0),
        ('raise Conflict("code", message="plain", todo=todo)', 1),
        ('NotFound("code", f"{message}: {x}", "There." if a else say("Here."))', 1),
        ('raise ValueError("for us alone")', 0),
    ],
)
def test_bare_text_in_a_problem(source: str, found: int) -> None:
    assert len(list(in_problems(source))) == found


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('def f():\n    """A docstring of five words."""\n    return "nothing good heard yet"', 1),
        ('return_ = f"{a} goes on from {b}"', 1),
        ('a = f"in {room} since {hour}"', 1),
        ('a = f"{name}: {what}, {when}"', 0),
        ('a = say("nothing good heard yet")', 0),
        ('log.warning("nothing good heard yet")', 0),
        ('raise RuntimeError("nothing good heard yet")', 0),
        ('class Kind(StrEnum):\n    A = "nothing good heard yet"', 0),
        ('if a == "nothing good heard yet": pass', 0),
        ("a = \"<p class='one two three'>{text}</p>\"", 0),
        ('a = "<p>nothing good heard yet</p>"', 1),
        ('a = {"description": "Nothing good heard yet", **more}', 0),
        ('a = {"words": "Nothing good heard yet"}', 1),
        ('router.get("/x", summary="Nothing good heard yet")', 0),
    ],
)
def test_bare_sentences(source: str, found: int) -> None:
    assert len(list(sentences(source))) == found


def test_templates_say_all_their_text() -> None:
    bare = {path.name: set(told_bare(path)) - TYPED.get(path.name, set()) for path in template_files()}
    assert {name: found for name, found in bare.items() if found} == {}


def test_problems_say_all_their_text() -> None:
    bare = {
        str(path.relative_to(HOUSE)): told_bare(path)
        for path in python_files()
        if not (path.parent.name == "demo" and path.name in DEMO)
    }
    assert {name: found for name, found in bare.items() if found} == {}


def test_sentences_are_said() -> None:
    bare = [
        (name, words)
        for path in python_files()
        if not (name := path.relative_to(HOUSE).as_posix()).startswith(IN_ENGLISH)
        for _, words in sentences(path.read_text(encoding="utf-8"))
        if words.strip("bf'\"") not in KEPT_AS_THEY_ARE
    ]
    assert bare == []


def test_scripts_show_no_words_of_their_own() -> None:
    bare = {path.name: in_script(path.read_text(encoding="utf-8")) for path in script_files()}
    assert {name: set(found) - UNREAD for name, found in bare.items() if set(found) - UNREAD} == {}
