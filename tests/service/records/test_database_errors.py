"""Every complaint of a database has words, a stable code and something to do."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path
from types import SimpleNamespace

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError, StatementError

from service.errors import BadInput, Conflict, NotFound, ShopError, Unavailable
from service.records.database_errors import PAGE, in_words, translated
from tests.service.records.making import told

WHERE = "coatbell.db"


class Said(sqlite3.OperationalError):
    """A SQLite error with its extended result code, as the driver raises it."""

    def __init__(self, code: int) -> None:
        super().__init__("as SQLite says it")
        self.sqlite_errorcode = code


class PostgresSaid(Exception):
    def __init__(self, sqlstate: str) -> None:
        super().__init__("as PostgreSQL says it\nDETAIL: more")
        self.sqlstate = sqlstate


# Result codes: sqlite.org/rescode.html. SQLSTATEs: PostgreSQL manual, appendix A.
@pytest.mark.parametrize(
    ("cause", "code"),
    [
        (Said(13), "disk_full"),
        (PostgresSaid("53100"), "disk_full"),
        (Said(sqlite3.SQLITE_IOERR_WRITE), "disk_refused"),
        (Said(sqlite3.SQLITE_IOERR_FSYNC), "disk_refused"),
        (Said(11), "database_damaged"),
        (Said(11 | 1 << 8), "database_damaged"),  # SQLITE_CORRUPT_VTAB
        (Said(26), "database_damaged"),
        (PostgresSaid("XX001"), "database_damaged"),
        (Said(8), "database_read_only"),
        (Said(8 | 6 << 8), "database_read_only"),  # SQLITE_READONLY_DIRECTORY
        (Said(14), "database_read_only"),
        (PostgresSaid("25006"), "database_read_only"),
        (PostgresSaid("42501"), "database_read_only"),
        (Said(5), "database_busy"),
        (Said(6), "database_busy"),
        (PostgresSaid("55P03"), "database_busy"),
        (OverflowError("too large to convert"), "number_too_large"),
        (PostgresSaid("22003"), "number_too_large"),
        (Said(19), "does_not_fit"),
        (PostgresSaid("23505"), "does_not_fit"),
        (Said(10), "database_away"),  # SQLITE_IOERR
        (PostgresSaid("57P01"), "database_away"),
    ],
)
def test_each_code_has_its_words(cause: Exception, code: str) -> None:
    found = translated(OperationalError("INSERT", {}, cause), WHERE)
    assert found.code == code
    assert found.message.endswith(".")
    assert found.todo.endswith(".")
    kinds = {"does_not_fit": Conflict, "number_too_large": NotFound}
    assert isinstance(found, kinds.get(code, Unavailable))


@pytest.mark.parametrize("code", [13, 11, 8, 5, 10])
def test_the_words_name_the_place_and_no_sql(code: int) -> None:
    found = translated(OperationalError("INSERT INTO facts", {"hand": "bench 1"}, Said(code)), WHERE)
    assert WHERE in found.message
    assert "INSERT" not in str(found)


@pytest.mark.parametrize(
    ("free", "code"), [(0, "disk_full"), (PAGE - 1, "disk_full"), (PAGE, "database_away")]
)
def test_a_fault_of_the_disk_is_a_full_one_where_nothing_fits_any_more(
    free: int, code: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        shutil, "disk_usage", lambda folder: SimpleNamespace(free=free) if folder == tmp_path else None
    )
    assert translated(Said(10 | 19 << 8), str(tmp_path / "coatbell.db")).code == code  # SQLITE_IOERR_SHMSIZE


def test_a_disk_that_is_gone_is_not_called_full(tmp_path: Path) -> None:
    assert translated(Said(10), str(tmp_path / "gone" / "coatbell.db")).code == "database_away"


def test_only_the_first_line_of_a_server_is_passed_on() -> None:
    found = translated(OperationalError("SELECT 1", {}, PostgresSaid("08006")), WHERE)
    assert "as PostgreSQL says it" in found.message
    assert "DETAIL" not in str(found)


def test_an_error_without_words_is_still_told() -> None:
    assert "TimeoutError" in translated(TimeoutError(), WHERE).message


def test_a_damaged_file_comes_with_the_way_back() -> None:
    found = translated(Said(11), WHERE)
    for word in ("Stop coatbell", "keep it", "newest back-up"):
        assert word in found.todo


def test_our_own_error_inside_a_statement_comes_out_as_it_was() -> None:
    ours = BadInput("time_without_zone", "No zone.", "Give one.", "at")
    assert translated(StatementError("bind", "INSERT", {}, ours), WHERE) is ours


def test_a_block_without_trouble_is_left_alone() -> None:
    with in_words(WHERE):
        pass


def test_a_number_beyond_the_drivers_reach_is_told() -> None:
    with told(NotFound, "number_too_large"), in_words(WHERE):
        raise OverflowError("Python int too large to convert to SQLite INTEGER")


@pytest.mark.parametrize("error", [Said(13), IntegrityError("INSERT", {}, Said(13))])
def test_a_block_in_trouble_is_told(error: Exception) -> None:
    with told(Unavailable, "disk_full"), in_words(WHERE):
        raise error


def test_other_errors_pass() -> None:
    with pytest.raises(ZeroDivisionError), in_words(WHERE):
        raise ZeroDivisionError
    with pytest.raises(ShopError), in_words(WHERE):
        raise ShopError("x", "y", "z")
