"""`coatbell alerts test`, against a real far end, with and without records, and beside a service that has them open."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.alerts.ways import mark_of
from service.alerts_command import alerts_command
from service.clock import SystemClock
from service.demo.demo import BEGAN
from service.main import main
from service.records.database import Database
from service.records.set_up import Part
from service.records.store import Records
from tests.service.alerts.notifiers.far_end import FarEnd, Says, far_end

# Apprise loads this module of the standard library while it looks for its plugins
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


@pytest.fixture
def phone() -> Iterator[FarEnd]:
    with far_end() as server:
        yield server


@pytest.fixture
def places(phone: FarEnd, tmp_path: Path) -> list[str]:
    """The options: two ways to bench 1, one to the office."""
    alerts = f"""
console = false
[[people]]
name = "bench 1"
ways = ["{phone.address("json", "/one")}", "{phone.address("webhook+http", "/two")}"]
[[places]]
name = "office"
send_to = "{phone.address("json", "/office")}"
"""
    return options(tmp_path, alerts)


def options(folder: Path, alerts: str) -> list[str]:
    (folder / "configs").mkdir()
    (folder / "configs" / "alerts.toml").write_text(alerts)
    return ["--configs", str(folder / "configs"), "--data", str(folder / "data")]


def test_every_way_of_everybody(places: list[str], phone: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["alerts", "test", *places]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "office by web address: taken",
        "bench 1 by web address: taken",
        "bench 1 by webhook: taken",
    ]
    assert [got.path for got in phone.received] == ["/office", "/one", "/two"]
    assert {got.content["title"] for got in phone.received} == {"coatbell: a test"}


def test_one_alone(places: list[str], phone: FarEnd) -> None:
    assert alerts_command(["test", "--to", "bench 1", *places]) == 0
    assert [got.path for got in phone.received] == ["/one", "/two"]


def test_one_that_is_not_taken_makes_it_1_and_the_others_are_tried(
    places: list[str], phone: FarEnd, capsys: pytest.CaptureFixture[str]
) -> None:
    phone.answers = [Says(404)]
    assert alerts_command(["test", *places]) == 1
    first, *others = capsys.readouterr().out.splitlines()
    assert (
        first
        == "office by web address: not taken: answered 404 (Not Found). Look at its address on the page “Set-up”"
    )
    assert others == ["bench 1 by web address: taken", "bench 1 by webhook: taken"]


def test_the_console_is_told_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert alerts_command(["test", *options(tmp_path, "")]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "console: taken"


def test_it_makes_no_records(places: list[str], tmp_path: Path) -> None:
    assert alerts_command(["test", *places]) == 0
    assert not (tmp_path / "data").exists()


def test_a_way_that_takes_it_is_on_again_beside_a_service_that_runs(
    places: list[str], phone: FarEnd, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "data").mkdir()
    now = datetime.now(UTC)
    with Database(f"sqlite:///{tmp_path / 'data' / 'coatbell.db'}") as database:
        records = Records(database, SystemClock())
        for path in ("/one", "/office"):
            address = phone.address("json", path)
            records.switch_off("bench 1" if path == "/one" else "office", "json", mark_of(address), now, "no")
        phone.answers = [Says(403)]  # the office still refuses
        assert alerts_command(["test", *places]) == 1
        assert [row.recipient for row in records.ways_off()] == ["office"]
    assert "bench 1 by web address: was switched off, and is on again" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("alerts", "more", "words"),
    [
        ("", ["--to", "nobody"], "Nobody called “nobody” is told anything."),
        ("console = false", [], "Nobody has a way to be told anything."),
        ('[[people]]\nname = "bench 1"', ["--to", "bench 1"], "“bench 1” has no way to be told anything."),
        ("console = 7", [], "console"),
        (
            '[[places]]\nname = "p"\nsend_to = "pigeon://secret-word"',
            [],
            "the send_to of “p” is not one address",
        ),
    ],
)
def test_what_cannot_be_tried_is_told_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], alerts: str, more: list[str], words: str
) -> None:
    assert alerts_command(["test", *options(tmp_path, alerts), *more]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert words in told
    assert "secret-word" not in told


def test_anything_but_a_test_is_a_mistake(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        alerts_command(["ring"])
    assert ended.value.code == 2
    assert "coatbell alerts" in capsys.readouterr().err


def test_a_file_saved_with_a_mark_at_its_beginning_is_read_and_one_that_is_no_text_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Windows' editor writes the byte order mark, and once wrote Latin-1."""
    given = options(tmp_path, "")
    file = tmp_path / "configs" / "alerts.toml"
    file.write_bytes(b"\xef\xbb\xbfconsole = true")
    assert main(["alerts", "test", *given]) == 0
    file.write_bytes('[[people]]\nname = "Zo\u00eb"'.encode("latin-1"))
    assert main(["alerts", "test", *given]) == 2
    assert "alerts.toml is not a text file.\n  Save it as plain text (UTF-8)." in capsys.readouterr().err


def set_up(folder: Path, phone: FarEnd, demo: bool = False) -> None:
    """Somebody set up in the browser, beside those of the file."""
    with Database(f"sqlite:///{folder / 'data' / 'coatbell.db'}") as database:
        records = Records(database, SystemClock())
        way = {"name": "lamp", "send_to": phone.address("webhook+http", "/three")}
        records.keep_set_up(Part.PEOPLE, "bench 3", {"ways": [way]})
        if demo:
            records.remember(BEGAN, "2025-11-12T08:00:00+00:00")


@pytest.mark.parametrize(("demo", "code", "paths"), [(False, 0, ["/three"]), (True, 2, [])])
def test_who_was_set_up_in_the_browser_is_tried_too_but_nobody_of_a_demo(
    places: list[str], phone: FarEnd, tmp_path: Path, demo: bool, code: int, paths: list[str]
) -> None:
    (tmp_path / "data").mkdir(exist_ok=True)
    set_up(tmp_path, phone, demo)
    assert main(["alerts", "test", "--to", "bench 3", *places]) == code
    assert [got.path for got in phone.received] == paths
