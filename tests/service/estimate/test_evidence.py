"""What a case says was heard of its mould."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.estimate.evidence import Told
from service.learning.story import FaceRead, Felt, Redipped, Weighed
from tests.service.estimate.test_case import AIR, COATS, GIVEN, LOGGER, ZONE, case, refused


def heard(*lines: str) -> str:
    return "".join(f"[[evidence]]\n{line}\n" for line in lines)


def test_as_the_smoother_takes_it_by_time(tmp_path: Path) -> None:
    said = heard(
        'at = "6 h"\nfelt = "dry"',
        'at = "3 h"\nweight = "4 kg"',
        "shed = 1",
        'at = "2 h"\nchanged = "wire"',
    )
    told = case(tmp_path, AIR + ZONE + COATS + GIVEN + said).told
    assert told.pieces == (
        Weighed(2, 4 * 3600.0, 4.0),
        Redipped(3, 5 * 3600.0, 1, True),
        Felt(1, 7 * 3600.0, None, True),
    )
    assert told.changes_s == (3 * 3600.0,)


def test_in_its_zone(tmp_path: Path) -> None:
    zones = ZONE.replace("height", 'name = "body"\nheight') + ZONE.replace("height", 'name = "slot"\nheight')
    said = heard(
        'at = "3 h"\nface = "18 degC"\nzone = "slot"', 'at = "4 h"\nfelt = "still damp"\nzone = "body"'
    )
    told = case(tmp_path, AIR + zones + COATS + GIVEN + said).told
    assert told.pieces == (FaceRead(1, 4 * 3600.0, 1, 291.15), Felt(2, 5 * 3600.0, 0, False))


def test_by_the_date_where_the_air_has_dates(tmp_path: Path) -> None:
    (tmp_path / "shed.csv").write_text(LOGGER)
    air = '[air]\nfile = "shed.csv"\nspeed = "0.3 m/s"\n'
    dips = '[dipping]\nat = ["2026-03-01 09:00Z"]\nthen = "when ready"\n'
    said = heard('at = "2026-03-01 12:30Z"\nfelt = "dry"', 'at = "3 h"\nfelt = "dry"')
    told = case(tmp_path, air + ZONE + COATS + dips + said).told
    assert [piece.at_s / 3600 for piece in told.pieces] == [4.0, 4.5]


def test_at_the_first_dip_itself(tmp_path: Path) -> None:
    told = case(tmp_path, AIR + ZONE + COATS + GIVEN + heard('at = "0 h"\nweight = "4 kg"')).told
    assert [piece.at_s for piece in told.pieces] == [3600.0]


def test_none(tmp_path: Path) -> None:
    assert case(tmp_path).told == Told()


@pytest.mark.parametrize(
    ("said", "code", "words"),
    [
        ('at = "-1 min"\nfelt = "dry"', "evidence_too_soon", "“-1 min” is before the first dip."),
        ('at = "soon"\nfelt = "dry"', "not_a_number", "“soon” does not start with a number."),
        ('at = "2026-03-01"\nfelt = "dry"', "dates_unknown", "gives a date, but the air has none."),
        (
            'at = "1 h"\nfelt = "dry"\nzone = "moult"',
            "evidence_zone",
            "no zone “moult”. Did you mean “mould”?",
        ),
        ("shed = 3", "evidence_coat", "nothing was laid on coat 3 yet."),
    ],
)
def test_what_cannot_be_is_named_by_its_place(tmp_path: Path, said: str, code: str, words: str) -> None:
    fine = 'at = "1 h"\nfelt = "still damp"'
    problem = refused(tmp_path, AIR + ZONE + COATS + GIVEN + heard(fine, said))
    assert (problem.code, problem.field) == (code, "evidence")
    assert str(problem).startswith("heron.toml: evidence no. 2")
    assert words in str(problem)


def test_whose_face_it_is_must_be_said_where_there_are_two(tmp_path: Path) -> None:
    said = GIVEN + heard('at = "3 h"\nface = "18 degC"')
    assert case(tmp_path, AIR + ZONE + COATS + said).told.pieces == (FaceRead(1, 4 * 3600.0, 0, 291.15),)
    problem = refused(tmp_path, AIR + ZONE * 2 + COATS + said)
    assert "which zone's face it is. Add `zone`: zone 1, zone 2." in str(problem)


def test_not_of_coats_that_went_on_nobody_knows_when(tmp_path: Path) -> None:
    problem = refused(tmp_path, AIR + ZONE + COATS + heard('at = "1 h"\nfelt = "dry"'))
    assert problem.code == "evidence_dips"
    assert 'Give dipping.at, and then = "when ready"' in problem.todo
