"""`coatbell ledger verify` says in the shop's words what was changed, and ends with a code a script can read."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from service import ledger_words
from service.clock import FakeClock
from service.ledger_command import BROKEN, COULD_NOT_LOOK, WHOLE, ledger_command, make_ledger_parser
from service.records.ledger_heads import Signer, read_head, write_head
from service.records.ledger_lines import read_book
from service.records.lock import only_one
from service.restore import BACK_UP_FOLDER
from tests.service.records.ledgers import LAST, PICTURE_SHA256, keep_picture, made, outsider
from tests.service.records.making import START


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A data folder with the ledger, its photo, its key and one head of half the entries."""
    book = read_book(made(url(tmp_path), FakeClock(START)))
    keep_picture(tmp_path)
    for number in (LAST // 2, LAST):
        row = book.rows[number - 1]
        write_head(
            Signer(tmp_path).head(row.told["recorded_at"], number, row.digest), tmp_path / BACK_UP_FOLDER
        )
    return tmp_path


def url(folder: Path) -> str:
    return f"sqlite:///{folder / 'coatbell.db'}"


def run(folder: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str]:
    code = ledger_command(["verify", "--data", str(folder), *more])
    told = capsys.readouterr()
    return code, told.err if code == COULD_NOT_LOOK else told.out


def meddle(folder: Path, sql: str, capsys: pytest.CaptureFixture[str]) -> str:
    """What is told after somebody changed the records so; they are put right again after."""
    with outsider(url(folder)) as hand:
        hand.do(sql)
        hand.commit()
        code, told = run(folder, capsys)
    assert code == BROKEN
    assert run(folder, capsys)[0] == WHOLE
    return told


def test_a_whole_ledger(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, told = run(folder, capsys)
    assert code == WHOLE
    assert f"The ledger is whole: {LAST} entries, 1 photo, 2 signed heads." in told
    assert re.search(r"its check sum begins with [0-9a-f]{12}\.", told)


def test_it_may_run_beside_the_service(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with only_one(folder):
        assert run(folder, capsys)[0] == WHOLE


def test_nothing_is_written(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    run(folder, capsys)
    after = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert {path: after[path] for path in before} == before
    assert {path.name for path in after.keys() - before.keys()} <= {"coatbell.db-wal", "coatbell.db-shm"}


def test_a_changed_entry_is_named_with_mould_time_hand_and_neighbours(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = meddle(folder, "UPDATE facts SET body = replace(body, 'grey', 'gray') WHERE number = 9", capsys)
    assert "Entry 9 was changed since it was recorded" in told
    assert (
        "entry 9 (a dip, mould 1 “Redshank”, recorded 2 March 2026 14:26:00 UTC, nobody said by whom)" in told
    )
    assert "Before it stands entry 8 (what a hand felt" in told
    assert "after it stands entry 10" in told
    assert "Keep these records as they are" in told


def test_a_removed_entry_says_what_is_known_of_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = meddle(folder, "DELETE FROM facts WHERE number = 13", capsys)
    assert "Entry 13 is missing; entry 14 (an entry taken back, mould 2 “Dunlin”" in told
    told = meddle(folder, "DELETE FROM facts WHERE number IN (20, 21, 22)", capsys)
    assert "Entries 20 to 22 are missing, 3 in all." in told
    told = meddle(folder, f"DELETE FROM facts WHERE number = {LAST}", capsys)
    assert f"Entry {LAST} is missing; it was about mould 3 “Knot II”." in told


def test_of_a_ledger_changed_throughout_not_every_entry_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ledger_words, "MOST_TOLD", 4)
    told = meddle(folder, "UPDATE facts SET hand = 'nobody'", capsys)
    assert told.count("was changed since it was recorded") == 4
    assert f"There are {LAST - 4} more such faults, up to entry {LAST}." in told


def test_reordered_entries_are_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with outsider(url(folder)) as hand:
        hand.swap(7, 8)
        hand.commit()
        assert "Entries 7 and 8 were put in each other's place." in run(folder, capsys)[1]
    told = meddle(folder, "UPDATE facts SET number = 77 WHERE number = 7", capsys)
    assert "Entry 7 stands in the place of entry 77." in told


def test_a_check_sum_and_the_end_mark_are_told_from_the_entries(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = meddle(folder, "UPDATE facts SET digest = 'x' WHERE number = 5", capsys)
    assert "Only the check sum of entry 5 was changed; the entry itself is as it was recorded." in told
    told = meddle(folder, "UPDATE ledger_head SET number = 12", capsys)
    assert f"it says at entry 12, and the last entry is {LAST}" in told
    assert f"it or entry {LAST} was changed" in meddle(folder, "UPDATE ledger_head SET digest = 'x'", capsys)
    assert "the ledger ends is gone" in meddle(folder, "DELETE FROM ledger_head", capsys)


def test_an_entry_from_outside_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = meddle(
        folder,
        "INSERT INTO facts SELECT 99, mould_id, kind, at, recorded_at, hand, body, NULL, NULL, digest "
        "FROM facts WHERE number = 4",
        capsys,
    )
    assert "Entry 99 was put in from outside" in told


def test_the_last_entry_removed_with_the_end_mark_set_back_shows_by_the_heads(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with outsider(url(folder)) as hand:
        hand.set_head_back(LAST - 1)
        hand.remove(LAST)
        hand.commit()
        code, told = run(folder, capsys)
    assert code == BROKEN
    assert f"vouches for {LAST} entries, and there are {LAST - 1}" in told
    assert f"Up to entry {LAST // 2} all is as it was then." in told
    assert f"from entry {LAST // 2 + 1} on, was rewritten or cut off" in told
    assert (
        f"Entry {LAST} is missing at the end: the wetness of mould 3 “Knot II” was worked out from it."
        in told
    )


def test_moulds_and_entries_must_match(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Mould 9 stands in the table of moulds, and no entry hung it up." in meddle(
        folder, "INSERT INTO moulds VALUES (9)", capsys
    )
    told = meddle(folder, "DELETE FROM moulds WHERE id = 2", capsys)
    assert (
        "Mould 2 is missing from the table of moulds: see entry 2 (what a mould is, mould 2 “Dunlin”" in told
    )


def test_photos_are_looked_at(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = folder / "photos" / f"{PICTURE_SHA256}.jpg"
    photo.write_bytes(b"another")
    code, told = run(folder, capsys)
    assert (code, "was changed:" in told, str(photo) in told) == (BROKEN, True, True)
    photo.unlink()
    code, told = run(folder, capsys)
    assert code == BROKEN
    assert re.search(r"The photo of entry \d+ \(a photo, mould 1 “Redshank”, recorded .* is missing:", told)


def test_times_are_those_of_the_shops_wall(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with outsider(url(folder)) as hand:
        hand.do("INSERT INTO site VALUES (1, 'Saltmarsh Bronze', 4, 'America/New_York', 'us', 8, 17, 'en')")
        hand.commit()
        assert re.search(r"recorded 2 March 2026 \d+:\d\d:00 EST by", run(folder, capsys)[1])
        hand.do("UPDATE site SET time_zone = 'Nowhere/At_All'")
        hand.commit()
        assert "UTC by" in run(folder, capsys)[1]
        hand.do("DELETE FROM site")
        hand.commit()


def test_a_single_head_does_not_say_from_which_entry_on(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    newest = max((folder / BACK_UP_FOLDER / "heads").iterdir(), key=lambda file: read_head(file).entries)
    with outsider(url(folder)) as hand:
        hand.set_head_back(LAST - 1)
        hand.remove(LAST)
        hand.commit()
        code, told = run(folder, capsys, "--heads", str(newest))
    assert code == BROKEN
    assert f"vouches for {LAST} entries, and there are {LAST - 1}. No older head is here to tell" in told
    assert "Where an older copy was brought back since, it is that" in told
    assert "from entry 1 on" not in told


def test_heads_kept_elsewhere_are_asked_instead(
    folder: Path, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    stick = tmp_path_factory.mktemp("stick")
    for file in (folder / BACK_UP_FOLDER / "heads").iterdir():
        file.rename(stick / file.name)
    assert "0 signed heads" in run(folder, capsys)[1]
    assert "2 signed heads" in run(folder, capsys, "--heads", str(stick))[1]
    (one, _) = sorted(stick.iterdir())
    assert "1 signed head" in run(folder, capsys, "--heads", str(one))[1]


def test_the_private_key_is_not_needed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "ledger.key").unlink()
    assert run(folder, capsys)[0] == WHOLE
    assert not (folder / "ledger.key").exists()


def test_the_public_key_can_be_asked_for(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    public = Signer(folder).public
    assert run(folder, capsys, "--key", public)[0] == WHOLE
    assert run(folder, capsys, "--key", public[:12])[0] == WHOLE
    code, told = run(folder, capsys, "--key", "0" * 12)
    assert (code, f"was signed with another key: {public[:12]}" in told) == (BROKEN, True)


def test_two_keys_are_worth_knowing_and_no_fault(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    last = read_book(url(folder)).rows[-1]
    other = Signer(folder / "new machine").head(last.told["recorded_at"], LAST, last.digest)
    write_head(other, folder / BACK_UP_FOLDER)
    code, told = run(folder, capsys)
    assert (code, "The heads were signed with 2 keys" in told) == (WHOLE, True)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [("entries: 30", "was changed, or was not signed"), ("date: 2", "is no head of a ledger")],
)
def test_a_spoilt_head_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str], spoil: str, words: str
) -> None:
    newest = max((folder / BACK_UP_FOLDER / "heads").iterdir())
    newest.write_text(newest.read_text().replace(spoil, spoil[:-1] + "9"))
    code, told = run(folder, capsys)
    assert (code, words in told, newest.name in told) == (BROKEN, True, True)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--heads", "nowhere"], "There are no heads in nowhere"),
        (["--configs", "nowhere"], "There is no folder nowhere"),
    ],
)
def test_what_cannot_be_looked_at_is_told_with_a_code_of_its_own(
    folder: Path, capsys: pytest.CaptureFixture[str], more: list[str], words: str
) -> None:
    assert run(folder, capsys, *more)[0] == COULD_NOT_LOOK
    code, told = run(folder, capsys, *more)
    assert (code, words in told) == (COULD_NOT_LOOK, True)


def test_no_records_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, told = run(tmp_path, capsys)
    assert (code, "There is no ledger in" in told) == (COULD_NOT_LOOK, True)
    (tmp_path / "coatbell.db").write_bytes(b"no database" * 1000)
    assert run(tmp_path, capsys)[0] == COULD_NOT_LOOK


def test_only_what_it_can_do_is_asked(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        make_ledger_parser().parse_args(["forget"])
    assert stopped.value.code == COULD_NOT_LOOK
    assert "verify" in capsys.readouterr().err


@pytest.mark.postgresql
def test_on_postgresql(fresh_postgresql_url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    clock = FakeClock(START)
    made(fresh_postgresql_url, clock)
    keep_picture(tmp_path)
    (tmp_path / "site.toml").write_text(f"[data]\ndatabase = {json.dumps(fresh_postgresql_url)}\n")
    own = ["--configs", str(tmp_path)]
    assert run(tmp_path, capsys, *own)[0] == WHOLE
    with outsider(fresh_postgresql_url) as hand:
        hand.change(9, "hand", "nobody")
        hand.commit()
        code, told = run(tmp_path, capsys, *own)
    assert (code, "Entry 9 was changed" in told, "by nobody" in told) == (BROKEN, True, True)
