"""The README says everything that can be set, given or asked, and its commands are the ones that are run."""

from __future__ import annotations

import argparse
import importlib
import pkgutil
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

import api
from api.app import create_app
from api.fakes import FakeShop
from api.settings import ApiSettings
from sensors.declared import Declared
from service.alerts.rules import AlertRules
from service.alerts_command import make_alerts_parser
from service.command_line import make_parser
from service.demo.settings import DemoSettings
from service.estimate.case_file import CaseFile
from service.estimate.command import estimate_command
from service.export import make_export_parser
from service.import_notebook import make_import_parser
from service.keep_copy import make_backup_parser
from service.ledger_command import make_ledger_parser
from service.records.recipe_lines import RecipeFile
from service.restore import make_restore_parser
from service.settings import option_keys
from service.toml_files import key_list

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
MODELS = (AlertRules, Declared, DemoSettings, RecipeFile, CaseFile)


def keys() -> Iterator[str]:
    yield from (key.rsplit(".", 1)[-1] for key in option_keys())
    for model in MODELS:
        yield from (key.rsplit(".", 1)[-1] for key in key_list(model))


@pytest.mark.parametrize("key", sorted(set(keys())))
def test_every_key_of_every_settings_file_is_told(key: str) -> None:
    assert f"`{key}`" in README or f".{key}]`" in README or f"{key} = " in README, key


def options(parser: argparse.ArgumentParser) -> list[str]:
    return [name for action in parser._actions for name in action.option_strings if name.startswith("--")]


PARSERS = (
    make_parser(),
    make_restore_parser(),
    make_backup_parser(),
    make_ledger_parser(),
    make_export_parser(),
    make_import_parser(),
    make_alerts_parser(),
)
OPTIONS = [option for parser in PARSERS for option in options(parser)] + ["--json"]


@pytest.mark.parametrize("option", OPTIONS)
def test_every_option_of_the_command_line_is_told(option: str) -> None:
    assert option == "--help" or option in README, option


def minutes(span: re.Match[str]) -> str:
    each = {"day": 1440, "days": 1440, "h": 60, "min": 1}
    return str(sum(int(number) * each[unit] for number, unit in re.findall(r"(\d+) (\w+)", span[0])))


def said(text: str) -> tuple[str, list[float]]:
    """The words of a line, and its numbers; how long something takes as minutes."""
    text = re.sub(r"\d+ (?:days?|h|min)\b(?: \d+ (?:h|min)\b)*", minutes, " ".join(text.split()))
    return re.sub(r"\d[\d.]*", "#", text), [float(n.rstrip(".")) for n in re.findall(r"\d[\d.]*", text)]


@pytest.mark.parametrize(
    ("case", "start", "lines", "more"),
    [
        ("ships-bell", "coat  kind ", 6, []),
        ("heron-open-shed", "Coat 4 goes", 2, []),
        ("reed-panel-weighed", "How sure that is", 9, ["--spread"]),
    ],
)
def test_what_an_example_prints_is_what_is_told(
    case: str, start: str, lines: int, more: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert estimate_command([str(ROOT / "configs" / "cases" / f"{case}.toml"), *more]) == 0
    printed = [said(line) for line in capsys.readouterr().out.splitlines()]
    block = README[README.index(f"\n{start}") :].split("\n```")[0].replace(" %.\nIt must", " %. It must")
    told = [said(line) for line in block.splitlines() if line.strip(". ")]
    assert len(told) == lines
    for words, numbers in told:
        near = [got for same, got in printed if same == words and got == pytest.approx(numbers, rel=0.01)]
        assert near, words


def routes() -> Iterator[tuple[str, str]]:
    app = create_app(FakeShop.saltmarsh(), ApiSettings())
    for path, verbs in app.openapi()["paths"].items():
        yield from ((verb.upper(), path) for verb in verbs)


@pytest.mark.parametrize(("verb", "path"), sorted(routes()))
def test_every_endpoint_is_told(verb: str, path: str) -> None:
    assert f"`{verb} {path}`" in README, f"{verb} {path}"


def test_the_first_thing_said_is_the_job() -> None:
    title, first, *_ = README.split("\n\n")
    assert title == "# coatbell"
    assert first.startswith("coatbell tells a small lost-wax foundry when each ceramic-shell mould is ready")


def test_two_commands_then_pictures_then_the_shop() -> None:
    places = [
        README.index(words)
        for words in ("--demo\n```", "-m pytest\n```", "![The wall-board]", "in your shop")
    ]
    assert places == sorted(places)


def test_every_picture_and_file_is_there() -> None:
    for target in re.findall(r"\]\((?!http)([^)#]+)\)", README):
        assert (ROOT / target).is_file(), target
    for name in re.findall(r"`configs/([\w/.-]+\.toml)`", README):
        assert (ROOT / "configs" / name).is_file(), name


def test_the_checks_on_a_fresh_machine_run_the_command_that_is_told() -> None:
    assert "Run its tests" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert ".venv/bin/python -m pytest" in README


def pages() -> Iterator[str]:
    for module in pkgutil.iter_modules(api.__path__):
        if module.name.endswith("_router"):
            router = importlib.import_module(f"api.{module.name}").router
            yield from (route.path for route in router.routes if "GET" in route.methods)


def test_every_page_is_told() -> None:
    found = {re.sub(r"\{\w+(:\w+)?\}", "{}", page) for page in pages() if not page.startswith("/api")}
    told = {re.sub(r"\{\w+\}", "{}", path) for path in re.findall(r"`(/[^`]*)`", README)}
    assert len(found) > 12
    assert sorted(found - told) == []


@pytest.mark.parametrize(
    ("heard", "switched"),
    [
        ("room/1/light wait, alive 1, room/1/light soon, room/1/light dip", "off off off on"),
        ("alive 1, room/1/light late, room/1/light dip, room/1/light wait", "off on on off"),
        ("room/1/light dip, alive 0", "off off"),
        ("alive 1, room/1/light dip, alive 0, alive 1", "off on off on"),
    ],
)
def test_the_lamp_that_is_told_of_works(heard: str, switched: str) -> None:
    """What stands behind the pipe, fed with lines as the command before it writes them."""
    block = README.split("```sh\nmosquitto_sub", 1)[1].split("```")[0]
    loop = block.split("|\n", 1)[1]
    lines = "".join(f"coatbell/1/{line}\n" for line in heard.split(", "))
    script = f"relay() {{ echo $1; }}\n{loop}"
    done = subprocess.run(["sh", "-c", script], input=lines, capture_output=True, text=True, check=True)
    assert done.stdout.split() == switched.split()
