"""Text that a person reads and that does not go through `say`: found in templates and in the arguments of problems."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

from jinja2 import Environment, nodes
from jinja2.nodes import Node

READ_ALOUD = {"aria-label", "aria-description", "placeholder", "title", "alt", "aria-roledescription"}
"""Attributes that are shown or read out."""
UNSPOKEN = {"code", "kbd", "samp", "script", "style"}
"""Elements whose text is what is typed, not what is said."""
LETTERS = re.compile(r"[^\W\d_]{2}")
COMMENT, STATEMENT = re.compile(r"{#.*?#}", re.S), re.compile(r"{%.*?%}", re.S)
CLASSES = re.compile(r"{% block body_class %}.*?{% endblock %}")
EXPRESSION = re.compile(r"{{.*?}}", re.S)
HOLE = "\x00"
"""Stands where an expression was, in text and in attributes."""
PROBLEMS = {
    *("ShopError", "BadInput", "NotFound", "Conflict", "Unavailable", "LinkOver", "LinkUnknown", "Refused"),
    *("KeyNeeded", "TooLarge", "WrongVerb", "TooOften", "OwnFault"),
}
MESSAGE, TODO = 1, 2
"""Where a problem's words stand among its arguments, after its code."""


def in_template(source: str) -> list[str]:
    """Letters outside tags and expressions, in attributes people read, and in expressions that give plain text."""
    parser = _Texts()
    parser.feed(_without_jinja(source))
    parser.close()
    return [*parser.found, *_in_expressions(source)]


def _without_jinja(source: str) -> str:
    return EXPRESSION.sub(HOLE, STATEMENT.sub(" ", CLASSES.sub("", COMMENT.sub(" ", source))))


class _Texts(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._unspoken = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._unspoken += tag in UNSPOKEN
        shown = READ_ALOUD | ({"value"} if _is_button(tag, dict(attrs)) else set())
        self._note(*(value or "" for name, value in attrs if name in shown))

    def handle_endtag(self, tag: str) -> None:
        self._unspoken -= tag in UNSPOKEN

    def handle_data(self, data: str) -> None:
        if not self._unspoken:
            self._note(data)

    def _note(self, *texts: str) -> None:
        self.found += [" ".join(t.replace(HOLE, "…").split()) for t in texts if LETTERS.search(t)]


def _is_button(tag: str, attrs: dict[str, str | None]) -> bool:
    return tag == "input" and attrs.get("type") in ("submit", "button", "reset")


WORDS = re.compile(r"[^\W\d_]{2}.* |.* [^\W\d_]{2}")
"""More than one word: single ones are names of fields and classes."""
SAYS = {"say", "say_many"}


def _in_expressions(source: str) -> Iterator[str]:
    """Text of several words in expressions that is no argument of `say` and is compared with nothing."""
    yield from _constants(Environment(trim_blocks=True, lstrip_blocks=True).parse(source))


def _constants(node: Node) -> Iterator[str]:
    if isinstance(node, nodes.Compare | nodes.Getitem):
        return
    if isinstance(node, nodes.Call) and getattr(node.node, "name", "") in SAYS:
        return
    if isinstance(node, nodes.Const) and isinstance(node.value, str) and WORDS.search(node.value):
        yield node.value
    for child in node.iter_child_nodes():
        yield from _constants(child)


def in_problems(source: str) -> Iterator[tuple[int, str]]:
    """Lines where a problem is given words that are not said: plain text, or an f-string with letters of its own."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and _name(node.func) in PROBLEMS:
            named = [k.value for k in node.keywords if k.arg in ("message", "todo")]
            for argument in [*node.args[MESSAGE : TODO + 1], *named]:
                yield from ((part.lineno, ast.unparse(part)) for part in _plain(argument))


def _name(function: ast.expr) -> str:
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def _plain(node: ast.expr) -> Iterator[ast.expr]:
    if isinstance(node, ast.IfExp):
        yield from (*_plain(node.body), *_plain(node.orelse))
    elif isinstance(node, ast.BinOp):
        yield from (*_plain(node.left), *_plain(node.right))
    elif isinstance(node, ast.Constant | ast.JoinedStr) and LETTERS.search(_own_letters(node)):
        yield node


def _own_letters(node: ast.Constant | ast.JoinedStr) -> str:
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    return " ".join(str(part.value) for part in parts if isinstance(part, ast.Constant))


def told_bare(path: Path) -> list[str]:
    """For a file of either sort, what is found, with its line where that is known."""
    source = path.read_text(encoding="utf-8")
    if path.suffix == ".html":
        return in_template(source)
    return [f"line {line}: {words}" for line, words in in_problems(source)]


THREE_WORDS = re.compile(r"[^\W\d_]{2}\S* (?:\S+ )?[^\W\d_]{2}\S* (?:\S+ )?[^\W\d_]{2}")
TELLS_NOBODY = {"getLogger", "compile", "text", "mapped_column", "Field", "TypeVar", "deque"}
FOR_THE_LOG = {"debug", "info", "warning", "error", "exception"}
SAYS_IN_PYTHON = {"say", "say_many", "held", "later", "later_many", "in_every_language"}


def sentences(source: str) -> Iterator[tuple[int, str]]:
    """Lines with three words or more that are not said, but for docstrings, the log and what is raised at ourselves."""
    tree = ast.parse(source)
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    yield from _sentences(tree, docs)


def _sentences(node: ast.AST, docs: set[int]) -> Iterator[tuple[int, str]]:
    if id(node) in docs or _is_elsewhere(node):
        return
    if isinstance(node, ast.Constant | ast.JoinedStr):
        if THREE_WORDS.search(_own_letters(node)):
            yield node.lineno, ast.unparse(node)
        return
    for child in ast.iter_child_nodes(node):
        yield from _sentences(child, docs)


def _is_elsewhere(node: ast.AST) -> bool:
    if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
        return _name(node.exc.func).endswith("Error") and _name(node.exc.func) not in PROBLEMS
    if isinstance(node, ast.ClassDef):
        return any(_name(base) == "StrEnum" for base in node.bases)
    if isinstance(node, ast.Call):
        return _name(node.func) in TELLS_NOBODY | FOR_THE_LOG | SAYS_IN_PYTHON
    return isinstance(node, ast.Assert | ast.Compare)
