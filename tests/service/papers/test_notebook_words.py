"""What foundries write for coats, kinds, ends and faults."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadInput
from service.papers.notebook_words import CoatWord, EndWord, ResultWord, WiresWord, done, faults, kind, result
from service.records.facts import FaultKind
from service.records.recipes import CoatKind
from tests.service.room.cases import refused

PRIME, BACKUP, SEAL = CoatKind.PRIME, CoatKind.BACKUP, CoatKind.SEAL


class TestCoats:
    @pytest.mark.parametrize(
        ("text", "word"),
        [
            ("1", CoatWord(1)),
            ("1.0", CoatWord(1)),
            ("#3", CoatWord(3)),
            ("coat 1", CoatWord(1)),
            ("No. 12", CoatWord(12)),
            ("dip 4", CoatWord(4)),
            ("2nd coat", CoatWord(2)),
            ("third", CoatWord(3)),
            ("First coat", CoatWord(1)),
            ("3 (backup)", CoatWord(3, kind=BACKUP)),
            ("1 prime", CoatWord(1, kind=PRIME)),
            ("P1", CoatWord(of_kind=1, kind=PRIME)),
            ("prime 2", CoatWord(of_kind=2, kind=PRIME)),
            ("B3", CoatWord(of_kind=3, kind=BACKUP)),
            ("back-up 3", CoatWord(of_kind=3, kind=BACKUP)),
            ("Prime", CoatWord(kind=PRIME)),
            ("face coat", CoatWord(kind=PRIME)),
            ("SEAL", CoatWord(kind=SEAL)),
            ("Wires", WiresWord()),
            ("reinforcement wire", WiresWord()),
            ("Dewaxed", EndWord("dewaxed")),
            ("scrapped", EndWord("scrapped")),
            ("", None),
            ("-", None),
        ],
    )
    def test_are_read(self, text: str, word: object) -> None:
        assert done(text) == word

    @pytest.mark.parametrize(
        "text",
        ["2-4", "2 – 4", "2 to 4", "2,3", "2/3", "2 & 3", "2 and 3", "B1-B3", "coats 2-4", "1+2"],
    )
    def test_several_in_one_line_are_refused_with_why(self, text: str) -> None:
        with refused("several_coats") as told:
            done(text)
        assert "one line a coat" in told.value.todo

    @pytest.mark.parametrize("text", ["0", "41", "P0", "coat 999"])
    def test_a_number_no_shell_has(self, text: str) -> None:
        with refused("coat_number"):
            done(text)

    @pytest.mark.parametrize("text", ["x", "maybe 3", "prime?", "½", "²", "1e3", "-1", "99999"])
    def test_others_are_refused(self, text: str) -> None:
        with pytest.raises(BadInput):
            done(text)

    @given(st.text(max_size=20))
    def test_anything_is_read_or_refused(self, text: str) -> None:
        for read in (done, kind, result):
            with suppress(BadInput):
                read(text)
        faults(text)


@pytest.mark.parametrize(
    ("text", "found"), [("Prime", PRIME), ("bu", BACKUP), ("seal coat", SEAL), ("", None)]
)
def test_kinds(text: str, found: CoatKind | None) -> None:
    assert kind(text) is found


def test_no_kind() -> None:
    with refused("kind_unknown"):
        kind("purple")


class TestResults:
    @pytest.mark.parametrize(
        ("text", "word"),
        [
            ("OK", ResultWord("dewaxed", "sound")),
            ("sound", ResultWord("dewaxed", "sound")),
            ("No good", ResultWord("failed", "failed")),
            ("failed", ResultWord("failed", "failed")),
            ("run-out at the base", ResultWord("failed", "failed")),
            ("dewaxed", ResultWord("dewaxed", None)),
            ("scrapped", ResultWord("scrapped", None)),
            (" ", None),
        ],
    )
    def test_are_read(self, text: str, word: ResultWord | None) -> None:
        assert result(text) == word

    @pytest.mark.parametrize("text", ["so so", "no cracks", "tbd"])
    def test_others_are_refused(self, text: str) -> None:
        with refused("result_unknown"):
            result(text)


class TestFaults:
    @pytest.mark.parametrize("fault", list(FaultKind))
    def test_the_trades_own_words(self, fault: FaultKind) -> None:
        assert faults(fault.value) == (fault,)

    @pytest.mark.parametrize(
        ("text", "found"),
        [
            ("Run out", (FaultKind.RUN_OUT,)),
            ("runout; fins", (FaultKind.RUN_OUT, FaultKind.FIN)),
            ("cracked in dewax", (FaultKind.DEWAX_CRACK,)),
            ("small crack at cup", (FaultKind.CRACK,)),
            ("crack and crack", (FaultKind.CRACK,)),
            ("misrun/bulged", (FaultKind.COLD_SHUT, FaultKind.BULGE)),
            ("the cat did it", (FaultKind.OTHER,)),
            ("none", ()),
            ("no cracks", ()),
            ("", ()),
        ],
    )
    def test_are_read_leniently(self, text: str, found: tuple[FaultKind, ...]) -> None:
        assert faults(text) == found
