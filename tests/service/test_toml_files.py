"""TOML read into models, and how mistakes are told."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field

from service.errors import BadInput
from service.toml_files import (
    check_data,
    key_list,
    load_toml,
    nearest,
    parse_toml,
    place,
    read_text,
    read_toml,
)
from service.units import LengthM, SecondsS, TemperatureK


class Table(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class Dip(Table):
    step: Literal["dip"] = "dip"
    tank: str = Field(min_length=2, max_length=10)
    thickness_m: LengthM = Field(gt=0, le=0.02, alias="thickness", examples=['"1.1 mm"'])


class Wire(Table):
    step: Literal["wire"] = "wire"
    turns: int = Field(default=1, ge=1, lt=100)


class Door(Table):
    password: str | None = Field(default=None, min_length=8)
    open: bool = False
    address: str | None = Field(default=None, pattern="^http", examples=['"http://shed.local"'])


class Shop(Table):
    name: str
    warmth: TemperatureK | None = Field(default=None, ge=273.15, lt=313.15)
    soak: SecondsS = 15.0
    share: float = 0.5
    colour: Literal["grey", "white"] = "grey"
    log: Path = Path("log")
    door: Door = Door()
    steps: tuple[Annotated[Dip | Wire, Field(discriminator="step")], ...] = ()


class Shed(Table):
    shop: Shop
    dips: list[Dip]


def told(data: dict[str, object]) -> BadInput:
    with pytest.raises(BadInput) as caught:
        check_data({"name": "Saltmarsh Bronze", **data}, "shop.toml", Shop)
    return caught.value


def test_a_file_is_read(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text(
        'name = "Saltmarsh Bronze"\nwarmth = "21 degC"\n[[steps]]\nstep = "dip"\ntank = "grey"\nthickness = "1 mm"\n'
    )
    shop = read_toml(file, Shop)
    assert shop.warmth == pytest.approx(294.15)
    assert shop.steps == (Dip.model_validate({"tank": "grey", "thickness": "1 mm"}),)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_bytes("\ufeffname = 'Reedbed'\r\n".encode())
    assert load_toml(file) == {"name": "Reedbed"}


class TestFilesThatCannotBeRead:
    def test_missing(self, tmp_path: Path) -> None:
        with pytest.raises(BadInput, match=r"There is no file .*curlew\.toml") as caught:
            read_text(tmp_path / "curlew.toml")
        assert caught.value.code == "file_missing"

    def test_a_folder(self, tmp_path: Path) -> None:
        with pytest.raises(BadInput, match="cannot be read") as caught:
            read_text(tmp_path)
        assert caught.value.code == "file_unreadable"

    def test_not_text(self, tmp_path: Path) -> None:
        file = tmp_path / "shop.toml"
        file.write_bytes(b"\xff\xfe\x00n")
        with pytest.raises(BadInput, match=r"shop.toml is not a text file\. Save it as plain text") as caught:
            read_text(file)
        assert caught.value.code == "file_not_text"

    @pytest.mark.parametrize(
        ("text", "where"),
        [
            ("name = Saltmarsh", "line 1"),
            ('name = "a"\nname = "b"', "overwrite"),
            ("\n[door\n", "line 2"),
            ('name = "open', "line 1|end of document"),
        ],
    )
    def test_not_toml(self, text: str, where: str) -> None:
        with pytest.raises(BadInput, match=where) as caught:
            parse_toml(text, "shop.toml")
        assert caught.value.code == "toml_syntax"
        assert caught.value.message.startswith("shop.toml cannot be read as TOML: ")
        assert "quotes" in caught.value.todo

    def test_nested_without_end(self) -> None:
        with pytest.raises(BadInput, match="nested too deep") as caught:
            parse_toml("a = " + "[" * 20_000, "shop.toml")
        assert caught.value.code == "toml_syntax"


class TestMistakes:
    def test_an_unknown_key_names_the_nearest_one(self) -> None:
        error = told({"colur": "grey"})
        assert str(error) == "shop.toml: colur: there is no such key. Did you mean “colour”?"
        assert (error.code, error.field) == ("key_unknown", "colur")

    def test_an_unknown_key_in_a_table(self) -> None:
        assert str(told({"door": {"Open": True}})).endswith(
            "door.Open: there is no such key. Did you mean “open”?"
        )

    def test_an_unknown_key_unlike_any_other_lists_them(self) -> None:
        assert told({"door": {"zzz": 1}}).todo == "It can be: password, open, address."

    def test_an_unknown_key_in_a_list_knows_which_kind_it_stands_in(self) -> None:
        error = told({"steps": [{"step": "wire"}, {"step": "wire", "tunrs": 2}]})
        assert "steps no. 2, tunrs" in error.message
        assert error.todo == "Did you mean “turns”?"

    def test_a_mistyped_key_is_told_before_the_one_missing_for_it(self) -> None:
        error = told({"steps": [{"step": "dip", "tank": "grey", "thicknes": "1 mm"}]})
        assert error.code == "key_unknown"
        assert error.todo == "Did you mean “thickness”? (1 more to put right after it.)"

    def test_a_missing_key_shows_an_example(self) -> None:
        error = told({"steps": [{"step": "dip", "tank": "grey"}]})
        assert error.code == "key_missing"
        assert error.todo == 'Add a line “thickness = "1.1 mm"”.'

    def test_a_missing_table_says_how_to_begin_it(self) -> None:
        with pytest.raises(BadInput, match=r"shop: it is missing. Add a table \[shop\]"):
            check_data({"dips": []}, "shed.toml", Shed)
        with pytest.raises(BadInput, match=r"dips: it is missing. Add a table \[\[dips\]\]"):
            check_data({"shop": {"name": "x"}}, "shed.toml", Shed)

    @pytest.mark.parametrize(
        ("data", "words"),
        [
            ({"warmth": 21}, "warmth: “21” has no unit. Write it with one, such as 20.7 degC or 69 degF."),
            ({"warmth": "21 %"}, "warmth: “21 %” is not a temperature. Write it like 20.7 degC or 69 degF."),
            (
                {"soak": "15 scnd"},
                "soak: “15 scnd” has a unit coatbell does not know. Write it like 15 s or 2 h.",
            ),
            ({"warmth": "-1 degC"}, "warmth: “-1 degC” is too small: it must be at least 0.0 °C."),
            ({"warmth": "40 degC"}, "warmth: “40 degC” is too large: it must be less than 40.0 °C."),
            ({"name": 7}, "name: “7” is not text. Write it in quotes."),
            ({"share": "half"}, "share: “half” is not a number."),
            ({"share": float("nan")}, "share: “nan” is not a usable number."),
            (
                {"colour": "blue"},
                "colour: “blue” is not one of the words known here. It can be: 'grey' or 'white'.",
            ),
            ({"log": 3}, "log: “3” is not the name of a file or folder."),
            ({"door": {"open": "perhaps"}}, "door.open: “perhaps” is neither true nor false."),
            ({"door": 3}, "door: “3” must be a table of its own."),
            (
                {"door": {"address": "shed"}},
                'door.address: “shed” is not written as it must be. Write it like "http://shed.local".',
            ),
            ({"steps": 3}, "steps: “3” must be a list."),
            ({"steps": [{"step": "wire", "turns": 0}]}, "turns: “0” is too small: it must be at least 1."),
            (
                {"steps": [{"step": "wire", "turns": 100}]},
                "turns: “100” is too large: it must be less than 100.",
            ),
            ({"steps": [{"step": "wire", "turns": 1.5}]}, "turns: “1.5” is not a whole number."),
            (
                {"steps": [{"step": "dip", "tank": "x", "thickness": "1 mm"}]},
                "tank: “x” must have at least 2 letters.",
            ),
            (
                {"steps": [{"step": "dip", "tank": "x" * 11, "thickness": "1 mm"}]},
                "must have at most 10 letters.",
            ),
            (
                {"steps": [{"step": "dip", "tank": "grey", "thickness": "0 mm"}]},
                "“0 mm” is too small: it must be more than 0 mm.",
            ),
            (
                {"steps": [{"step": "dip", "tank": "grey", "thickness": "1 in"}]},
                "“1 in” is too large: it must be at most 20 mm.",
            ),
        ],
    )
    def test_each_is_told_with_what_to_do(self, data: dict[str, object], words: str) -> None:
        error = told(data)
        assert words in str(error)
        assert error.message.startswith("shop.toml: ")
        assert error.todo.endswith((".", '"'))

    def test_a_secret_is_never_repeated(self) -> None:
        error = told({"door": {"password": "hunter"}})
        assert "hunter" not in str(error)
        assert "must have at least 8 letters" in error.message

    def test_a_kind_of_complaint_without_words_here_still_reads(self) -> None:
        error = told({"steps": [{"step": "glue"}]})
        assert "glue" in error.message
        assert error.todo


def test_places_are_counted_from_one() -> None:
    assert place(()) == ""
    assert place(("door", "open")) == "door.open"
    assert place(("steps", 0, "thickness")) == "steps no. 1, thickness"
    assert place(("steps", 2)) == "steps no. 3"


def test_every_key_is_listed_once() -> None:
    assert key_list(Shop) == [
        "name",
        "warmth",
        "soak",
        "share",
        "colour",
        "log",
        "door.password",
        "door.open",
        "door.address",
        "steps.step",
        "steps.tank",
        "steps.thickness",
        "steps.turns",
    ]


@pytest.mark.parametrize(
    ("word", "sentence"),
    [
        ("humidty", "Did you mean “humidity”?"),
        ("Speed", "Did you mean “speed”?"),
        ("xyz", "It can be: speed, humidity."),
    ],
)
def test_the_nearest_word(word: str, sentence: str) -> None:
    assert nearest(word, ["speed", "humidity"]) == sentence
