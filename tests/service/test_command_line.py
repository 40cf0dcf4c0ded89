"""The options of the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.command_line import DEMO_FOLDER, make_parser, overrides, read_arguments


def given(*arguments: str) -> dict[str, dict[str, object]]:
    return overrides(make_parser().parse_args(arguments))


def test_nothing_given_sets_nothing() -> None:
    assert given() == {}


def test_each_option_sets_its_key() -> None:
    got = given("--host", "0.0.0.0", "--port", "9000", "--data", "shop", "--broker-port", "1999")
    assert got == {
        "server": {"host": "0.0.0.0", "port": 9000},
        "data": {"folder": "shop"},
        "broker": {"port": 1999},
    }


def test_the_demo_keeps_its_records_apart() -> None:
    assert given("--demo") == {"data": {"folder": DEMO_FOLDER}}
    assert given("--demo", "--data", "elsewhere") == {"data": {"folder": "elsewhere"}}


def test_the_demo_runs_an_hour_a_minute_unless_told() -> None:
    parser = make_parser()
    assert parser.parse_args([]).speed == 60.0
    assert parser.parse_args(["--demo", "--speed", "600"]).speed == 600.0


def test_a_folder_of_settings_is_taken_as_a_path() -> None:
    assert make_parser().parse_args(["--configs", "ours"]).configs == Path("ours")


@pytest.mark.parametrize(
    "arguments",
    [
        ["--port", "many"],
        ["--port", "0"],
        ["--port", "65536"],
        ["--broker-port", "-1"],
        ["--speed", "fast"],
        ["--speed", "0"],
        ["--speed", "nan"],
        ["--nonsense"],
    ],
)
def test_what_cannot_be_read_ends_with_two(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        make_parser().parse_args(arguments)
    assert ended.value.code == 2
    assert "usage: coatbell" in capsys.readouterr().err


def test_a_port_is_one_a_machine_has() -> None:
    parser = make_parser()
    assert parser.parse_args(["--port", "1", "--broker-port", "65535"]).broker_port == 65535


@pytest.mark.parametrize("arguments", [["--speed", "600"], ["--no-hand"], ["--fresh"]])
def test_what_is_the_demos_goes_with_the_demo(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert read_arguments([*arguments, "--demo"]).demo
    with pytest.raises(SystemExit) as ended:
        read_arguments(arguments)
    assert ended.value.code == 2
    assert "give them with --demo" in capsys.readouterr().err
