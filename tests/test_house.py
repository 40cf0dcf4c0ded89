"""The house rules that a reader cannot check by eye: which folder may know which, and what never stands in a text."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path
from statistics import median, quantiles

import pytest

HOUSE = Path(__file__).parents[1]
PACKAGES = ("service", "sensors", "api", "configs")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "sensors", "api", "tests", "configs"}
LEFTOVERS = {"__pycache__", "build", "dist", "coatbell-data", "coatbell-demo", "*.egg-info"}
TEXTS = {
    ".py",
    ".toml",
    ".md",
    ".html",
    ".css",
    ".js",
    ".txt",
    ".csv",
    ".svg",
    ".mako",
    ".ini",
    ".json",
    ".conf",
}

WIRING = "service.main"
"""The one place where real parts are put together: it may know everybody."""
SENSORS_MAY_KNOW = {
    "service.reading",
    "service.clock",
    "service.errors",
    "service.units",
    "service.settings",
    "service.voice",
    "service.listening",
    "service.held",
}
SQL = {"sqlalchemy", "sqlmodel", "alembic", "sqlite3", "psycopg"}
HANDED_OUT = {"AlertRow", "DeliveryRow", "NewAlert", "RecipeShelf", "read_recipe", "write_recipe"}
"""What modules with SQL at some distance below them hand out: frozen data, and recipes, which are files."""


@dataclass(frozen=True)
class Import:
    """One name taken from one module, by another."""

    by: str
    module: str
    name: str = ""

    @property
    def full(self) -> str:
        return f"{self.module}.{self.name}" if self.name else self.module


def module_of(path: Path) -> str:
    parts = path.relative_to(HOUSE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def sources(*packages: str) -> list[Path]:
    return [path for package in packages for path in sorted((HOUSE / package).rglob("*.py"))]


def imports(source: str, by: str) -> Iterator[Import]:
    """Every import in a module, also those inside functions and under TYPE_CHECKING."""
    for node in ast.walk(ast.parse(source, by)):
        if isinstance(node, ast.Import):
            yield from (Import(by, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{by} imports from “{'.' * node.level}”: write the whole name"
            yield from (Import(by, node.module or "", alias.name) for alias in node.names)


EVERY = [
    found
    for path in sources(*PACKAGES)
    for found in imports(path.read_text(encoding="utf-8"), module_of(path))
]
MODULES = {module_of(path) for path in sources(*PACKAGES)}


def is_in(module: str, package: str) -> bool:
    return module == package or module.startswith(f"{package}.")


def ours(found: Import) -> bool:
    return found.module.split(".")[0] in PACKAGES


def target(found: Import) -> str:
    """The module an import really reaches: ``from service import words`` reaches ``service.words``."""
    return found.full if found.full in MODULES else found.module


def with_sql_below() -> set[str]:
    """The modules that import SQL, and those of `service.records` that import one of them, at any distance."""
    found = {each.by for each in EVERY if each.module.split(".")[0] in SQL}
    while True:
        more = {
            each.by for each in EVERY if target(each) in found and is_in(each.by, "service.records")
        } - found
        if not more:
            return found
        found |= more


KNOW_SQL = with_sql_below()


def arrow_faults(found: Import) -> str | None:
    """What is wrong with an import between our folders, or None."""
    by, to = found.by, target(found)
    if is_in(by, "service.drying") and not is_in(to, "service.drying"):
        return "drying knows nothing of ours but itself"
    if (
        is_in(by, "service.learning")
        and not is_in(to, "service.learning")
        and not is_in(to, "service.drying")
    ):
        return "learning knows the drying alone"
    if is_in(by, "sensors") and not is_in(to, "sensors") and to not in SENSORS_MAY_KNOW:
        return f"sensors know only {', '.join(sorted(SENSORS_MAY_KNOW))}"
    if is_in(by, "service") and not is_in(to, "service") and not is_in(to, "configs") and by != WIRING:
        return "service knows neither sensors nor api"
    if is_in(by, "api") and (is_in(to, "sensors") or to == WIRING):
        return "api knows neither sensors nor the wiring"
    if is_in(by, "api") and to in KNOW_SQL and found.name not in HANDED_OUT:
        return "api does not reach into tables and stores"
    if is_in(by, "configs"):
        return "configs hold no code"
    return None


class TestArrows:
    @pytest.mark.parametrize("package", PACKAGES)
    def test_every_import_goes_the_right_way(self, package: str) -> None:
        between = [found for found in EVERY if is_in(found.by, package) and ours(found)]
        wrong = [
            f"{found.by} imports {found.full}: {fault}" for found in between if (fault := arrow_faults(found))
        ]
        assert wrong == []

    def test_there_are_imports_to_look_at(self) -> None:
        assert len([found for found in EVERY if ours(found)]) > 100
        assert {"service.drying.solver", "sensors.client", "api.app", WIRING} <= {found.by for found in EVERY}

    @pytest.mark.parametrize(
        ("by", "line", "words"),
        [
            ("service.drying.solver", "from service.errors import BadInput", "drying"),
            ("service.drying.solver", "from service import units", "drying"),
            ("service.drying.solver", "import service.clock", "drying"),
            ("service.learning.site", "from service.records.store import Records", "the drying alone"),
            ("service.learning.site", "from service.errors import BadInput", "the drying alone"),
            ("sensors.client", "from service.shop import Shop", "sensors know only"),
            ("sensors.client", "from service import words", "sensors know only"),
            ("service.shop", "from api.app import create_app", "neither sensors nor api"),
            ("service.room.keeper", "def f():\n    import sensors.client", "neither sensors nor api"),
            ("api.app", "from sensors.client import Client", "neither sensors nor the wiring"),
            ("api.app", "from service.records.tables import FactTable", "tables and stores"),
            ("api.app", "from service.records.store import Records", "tables and stores"),
            ("configs", "from service import units", "no code"),
        ],
    )
    def test_a_wrong_one_is_seen(self, by: str, line: str, words: str) -> None:
        (found,) = imports(line, by)
        assert words in (arrow_faults(found) or "nothing seen")

    @pytest.mark.parametrize(
        ("by", "line"),
        [
            ("service.drying.solver", "from service.drying import rates"),
            ("service.learning.lives", "from service.drying.members import MemberZone"),
            ("sensors.client", "from service.reading import Reading"),
            ("api.app", "from service.records.outbox import AlertRow"),
            ("api.app", "from service import words"),
            (WIRING, "from api.app import create_app"),
        ],
    )
    def test_a_right_one_is_let_through(self, by: str, line: str) -> None:
        (found,) = imports(line, by)
        assert arrow_faults(found) is None


class TestSql:
    def test_only_records_write_it(self) -> None:
        users = {found.by for found in EVERY if found.module.split(".")[0] in SQL}
        assert users, "nobody imports SQL: the check looks at nothing"
        assert [by for by in sorted(users) if not is_in(by, "service.records")] == []

    @pytest.mark.parametrize("folder", ["service.drying", "service.learning"])
    def test_drying_and_learning_need_numbers_only(self, folder: str) -> None:
        outside = {found.module.split(".")[0] for found in EVERY if is_in(found.by, folder)}
        assert "numpy" in outside
        assert not outside & (SQL | {"datetime", "time", "pathlib", "os", "pint", "pydantic", "fastapi"})


class TestMqtt:
    def test_only_sensors_speak_it(self) -> None:
        """Both ways: `sensors.publisher` is handed topics by the wiring and knows nothing of what stands in them."""
        users = {found.by for found in EVERY if found.module.split(".")[0] in ("paho", "amqtt")}
        assert "sensors.publisher" in users
        assert [by for by in sorted(users) if not is_in(by, "sensors")] == []


class TestTopLevel:
    def test_nothing_else_lies_there(self) -> None:
        names = [path.name for path in HOUSE.iterdir() if not path.name.startswith(".")]
        others = [name for name in names if not any(fnmatch(name, left) for left in TOP_LEVEL | LEFTOVERS)]
        assert others == []

    def test_every_package_is_shipped(self) -> None:
        project = tomllib.loads((HOUSE / "pyproject.toml").read_text(encoding="utf-8"))
        assert project["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"] == list(PACKAGES)


def texts(*folders: str) -> list[Path]:
    """What people can read in these folders, and at the top."""
    inside = [path for folder in folders for path in (HOUSE / folder).rglob("*") if path.is_file()]
    kept = [path for path in inside if path.suffix in TEXTS and "__pycache__" not in path.parts]
    return [*kept, *(path for path in HOUSE.iterdir() if path.suffix in TEXTS)]


def lines_with(pattern: re.Pattern[str], paths: list[Path]) -> list[str]:
    found = []
    for path in paths:
        for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), 1):
            if pattern.search(line):
                found.append(f"{path.relative_to(HOUSE)}:{number}: {line.strip()[:120]}")
    return found


# What a library calls so: the keyword of urllib's quote, the filter of Jinja, PyYAML's and ast's readers.
PROMISE = re.compile(r"(?<![|_])(?<!\| )\b(?:un)?safe(?:ty|ly)?\b(?!\s*=)(?!_)", re.IGNORECASE)
MACHINE_PATH = re.compile(r"(?<![\w./:}>-])/(?:work|tmp|home|root|Users|mnt|opt|private|var/folders)/[\w.$-]")


class TestWords:
    def test_nothing_is_promised_about_danger(self) -> None:
        assert lines_with(PROMISE, texts(*PACKAGES)) == []

    @pytest.mark.parametrize(
        "line", ["It is safe now.", "Safety first", "a thread-safe queue", "handle it safely"]
    )
    def test_a_promise_is_seen(self, line: str) -> None:
        assert PROMISE.search(line)

    @pytest.mark.parametrize(
        "line", ["{{ page|safe }}", "{{ page | safe }}", "quote(text, safe='')", "yaml.safe_load(x)"]
    )
    def test_a_librarys_own_word_is_let_through(self, line: str) -> None:
        assert not PROMISE.search(line)

    def test_no_path_of_one_machine(self) -> None:
        paths = [path for path in texts(*PACKAGES, "tests") if path != Path(__file__)]
        assert lines_with(MACHINE_PATH, paths) == []

    @pytest.mark.parametrize("line", ["see /home/ann/shop.toml", '"/tmp/x"', "cd /work/main"])
    def test_a_machines_path_is_seen(self, line: str) -> None:
        assert MACHINE_PATH.search(line)

    @pytest.mark.parametrize(
        "line", ["GET /api/moulds", "https://a.example/home/page", "configs/tmp/x", "m/s"]
    )
    def test_other_paths_are_let_through(self, line: str) -> None:
        assert not MACHINE_PATH.search(line)

    def test_there_are_texts_to_look_at(self) -> None:
        found = texts(*PACKAGES)
        assert len(found) > 50
        assert {".py", ".toml", ".html", ".css"} <= {path.suffix for path in found}


def function_lengths() -> list[int]:
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in sources(*PACKAGES)]
    nodes = [node for tree in trees for node in ast.walk(tree) if isinstance(node, kinds)]
    return [(node.end_lineno or node.lineno) - node.lineno + 1 for node in nodes]


def test_functions_are_short() -> None:
    lengths = function_lengths()
    assert median(lengths) <= 8
    assert quantiles(lengths, n=10)[8] <= 30


def test_every_module_says_what_it_is() -> None:
    silent = [
        module_of(path)
        for path in sources(*PACKAGES)
        if path.read_text(encoding="utf-8").strip()
        and not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert silent == []
