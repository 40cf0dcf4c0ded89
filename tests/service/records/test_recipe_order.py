"""A recipe's steps must be something a shell can be built by."""

from __future__ import annotations

import pytest

from service.errors import BadInput
from service.records.recipe_files import read_recipe
from tests.service.records.making import told

STEPS = {
    "p": '[[steps]]\nstep = "coat"\nkind = "prime"\ntank = "white"\nthickness = "0.6 mm"\n',
    "b": '[[steps]]\nstep = "coat"\nkind = "backup"\ntank = "grey"\nthickness = "1.1 mm"\n',
    "s": '[[steps]]\nstep = "coat"\nkind = "seal"\ntank = "grey"\nthickness = "0.3 mm"\n',
    "w": '[[steps]]\nstep = "reinforcement wire"\n',
    "d": '[[steps]]\nstep = "final dry"\n',
}


def text(letters: str, more: str = "") -> str:
    return 'name = "x"\ntitle = "X"\n' + "".join(STEPS[letter] for letter in letters) + more


@pytest.mark.parametrize(
    "letters",
    ["pbd", "ppd", "psd", "ppbbbbbbsd", "pbwbbd", "pbwbsd", "ppbbwbbwbbbsd", "pwbbd", "p" + "b" * 39 + "d"],
)
def test_what_a_foundry_would_build_is_taken(letters: str) -> None:
    assert len(read_recipe(text(letters), "x.toml").steps) == len(letters)


@pytest.mark.parametrize(
    ("letters", "words"),
    [
        ("d", "it has 0 coats"),
        ("pd", "it has 1 coats"),
        ("p" + "b" * 40 + "d", "it has 41 coats"),
        ("bbd", "first coat is a backup coat"),
        ("sbd", "first coat is a seal coat"),
        ("pbpd", "coat 3 is a prime coat and comes after a backup coat"),
        ("pbsbd", "coat 4 is a backup coat and comes after a seal coat"),
        ("pb", "does not end with one final dry"),
        ("pdb", "does not end with one final dry"),
        ("pbdd", "does not end with one final dry"),
        ("dpbd", "does not end with one final dry"),
        ("wpbbd", "no. 1 sets wire, but there is no coat just before it"),
        ("pbwwbbd", "no. 4 sets wire, but there is no coat just before it"),
        ("pbwbd", "no. 3 sets wire, and fewer than 2 coats come after it"),
        ("pbbwd", "no. 4 sets wire, and fewer than 2 coats come after it"),
        ("pbwbbwsd", "no. 6 sets wire, and fewer than 2 coats come after it"),
    ],
)
def test_what_no_shell_is_built_by_is_told(letters: str, words: str) -> None:
    with told(BadInput, "recipe_wrong", "x.toml", words):
        read_recipe(text(letters), "x.toml")


def waits(least: str, longest: str) -> str:
    line = f'least_wait = "{least}"\nlongest_wait = "{longest}"\n'
    return text("pbd").replace('thickness = "0.6 mm"\n', f'thickness = "0.6 mm"\n{line}')


def test_a_coat_must_be_able_to_wait_as_long_as_it_must() -> None:
    assert read_recipe(waits("2 h", "120 min"), "x").coats[0].longest_wait_s == 7200.0
    with told(BadInput, "recipe_wrong", "coat 1", "longest_wait"):
        read_recipe(waits("2 h", "119 min"), "x")


@pytest.mark.parametrize("table", ["prime_air", "backup_air"])
@pytest.mark.parametrize(
    ("what", "low", "high"), [("temperature", "23 degC", "21 degC"), ("humidity", "60 %", "60 %")]
)
def test_air_limits_must_leave_something_between(table: str, what: str, low: str, high: str) -> None:
    air = f'[{table}]\nlowest_{what} = "{low}"\nhighest_{what} = "{high}"\n'
    with told(BadInput, "recipe_wrong", table, what):
        read_recipe(text("pbd", air), "x.toml")


@pytest.mark.parametrize("line", ['lowest_temperature = "21 degC"', 'highest_humidity = "60 %"'])
def test_one_limit_alone_is_fine(line: str) -> None:
    assert read_recipe(text("pbd", f"[prime_air]\n{line}\n"), "x.toml")
