"""Text that a person reads and that does not go through `say`: found in templates and in the arguments of problems."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from html.parser import HTMLParser
from itertools import count
from pathlib import Path

from jinja2 import Environment, nodes
from jinja2.nodes import Node

READ_ALOUD = {"aria-label", "aria-description", "placeholder", "title", "alt", "aria-roledescription"}
"""Attributes that are shown or read out."""
UNSPOKEN = {"code", "kbd", "samp", "script", "style"}
"""Elements whose text is what is typed, not what is said."""
LETTERS = re.compile(r"[^\W\d_]{2}")
COMMENT, STATEMENT = re.compile(r"{#.*?#}", re.S), re.compile(r"{%.*?%}", re.S)
CLASSES = re.compile(r"{% block body_class %}.*?{% endblock %}|{% macro \w+_class\(.*?{% endmacro %}", re.S)
ATTRIBUTE = re.compile(r'(?<!\S)(?:data-[\w-]+|aria-(?:describedby|invalid))(?:="[^"]*")?')
"""Written by a macro or a block, away from its tag."""
EXPRESSION = re.compile(r"{{.*?}}", re.S)
HOLE = "\x00"
"""Stands around the number of an expression, in text and in attributes."""
HOLES = re.compile(f"{HOLE}(\\d+){HOLE}")
SAME_EVERYWHERE = {"coatbell", "Language / Idioma", "°C, cm, kg, m/s", "°F, in, lb, ft/min"}
"""A name, signs of units, and what must be found by whoever reads only the other language."""
PROBLEMS = {
    *("ShopError", "BadInput", "NotFound", "Conflict", "Unavailable", "LinkOver", "LinkUnknown", "Refused"),
    *("KeyNeeded", "TooLarge", "WrongVerb", "TooOften", "OwnFault"),
}
MESSAGE, TODO = 1, 2
"""Where a problem's words stand among its arguments, after its code."""


def in_template(source: str) -> list[str]:
    """Letters outside tags and expressions, in attributes people read, and what expressions put there as plain text."""
    text = CLASSES.sub("", COMMENT.sub(" ", source))
    parser = _Texts(EXPRESSION.findall(text))
    numbers = count()
    parser.feed(EXPRESSION.sub(lambda _: f"{HOLE}{next(numbers)}{HOLE}", STATEMENT.sub(" ", text)))
    parser.close()
    found = [*parser.found, *_in_expressions(EXPRESSION.sub("", text))]
    return [words for words in found if words not in SAME_EVERYWHERE]


class _Texts(HTMLParser):
    def __init__(self, expressions: list[str]) -> None:
        super().__init__()
        self.found: list[str] = []
        self._expressions = expressions
        self._unspoken = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._unspoken += tag in UNSPOKEN
        shown = READ_ALOUD | ({"value"} if _is_button(tag, dict(attrs)) else set())
        self._note(*(value or "" for name, value in attrs if name in shown or _is_for_a_script(name, value)))

    def handle_endtag(self, tag: str) -> None:
        self._unspoken -= tag in UNSPOKEN

    def handle_data(self, data: str) -> None:
        if not self._unspoken:
            self._note(ATTRIBUTE.sub("", data))

    def _note(self, *texts: str) -> None:
        for text in texts:
            bare = " ".join(HOLES.sub("…", text).split())
            self.found += [bare] if LETTERS.search(bare) else []
            for number in HOLES.findall(text):
                self.found += _in_expressions(self._expressions[int(number)])


def _is_button(tag: str, attrs: dict[str, str | None]) -> bool:
    return tag == "input" and attrs.get("type") in ("submit", "button", "reset")


def _is_for_a_script(name: str, value: str | None) -> bool:
    """Words that a script shows."""
    return name.startswith("data-") and WORDS.search(value or "") is not None


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


def texts_said(source: str) -> Iterator[str | tuple[str, ...]]:
    """What calls in a Python file say, as it is looked up."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and _name(node.func) in LOOKED_UP:
            many = 2 if _name(node.func) in BY_NUMBER else 1
            texts = tuple(arg.value for arg in node.args[:many] if isinstance(arg, ast.Constant))
            if len(texts) == many and all(isinstance(text, str) for text in texts):
                yield texts if many > 1 else texts[0]


def nested(source: str) -> list[int]:
    """Lines where what is said stands in another call, so that it is not found for translation as it is said."""
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    said = [call for call in calls if _name(call.func) in SAYS_IN_PYTHON]
    texts = [(call, call.args[:2] if _name(call.func) in BY_NUMBER else call.args[:1]) for call in said]
    return [call.lineno for call, args in texts if any(_is_said_twice(arg) for arg in args)]


def _is_said_twice(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Call) and _name(node.func) in SAYS_IN_PYTHON
    )


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


def _is_sentence(node: ast.Constant | ast.JoinedStr) -> bool:
    own = MARKUP.sub("", _own_letters(node))
    around = MARKUP.sub("", _with_values(node)) if OWN_WORD.search(own) else ""
    return THREE_WORDS.search(own) is not None or THREE_WORDS.search(around) is not None


def _with_values(node: ast.Constant | ast.JoinedStr) -> str:
    """An f-string's text, a word standing for each value where it is set apart by blanks."""
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    return "".join(str(part.value) if isinstance(part, ast.Constant) else VALUE_WORD for part in parts)


def told_bare(path: Path) -> list[str]:
    """For a file of either sort, what is found, with its line where that is known."""
    source = path.read_text(encoding="utf-8")
    if path.suffix == ".html":
        return in_template(source)
    return [f"line {line}: {words}" for line, words in in_problems(source)]


THREE_WORDS = re.compile(r"[^\W\d_]{2}\S* (?:\S+ )?[^\W\d_]{2}\S* (?:\S+ )?[^\W\d_]{2}")
TELLS_NOBODY = {"getLogger", "compile", "text", "mapped_column", "Field", "TypeVar", "deque"}
FOR_THE_LOG = {"debug", "info", "warning", "error", "exception"}
FOR_PROGRAMMERS = {"summary", "description", "example", "cache-control", "content-security-policy"}
"""What /api/docs says of an address, which speaks English; and heads of answers."""
VALUE_WORD = "xx"
OWN_WORD = re.compile(r"(?:^|\s)[^\W\d_]{2,}(?=[\s,.;:]|$)")
MARKUP = re.compile(r"<[^<>]*>")
LOOKED_UP = {"say", "say_many", "held", "later", "later_many"}
BY_NUMBER = {"say_many", "later_many"}
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
        if _is_sentence(node):
            yield node.lineno, ast.unparse(node)
        return
    for child in _read_by_people(node):
        yield from _sentences(child, docs)


def _read_by_people(node: ast.AST) -> Iterable[ast.AST]:
    if not isinstance(node, ast.Dict):
        return ast.iter_child_nodes(node)
    return [
        value for key, value in zip(node.keys, node.values, strict=True) if _text(key) not in FOR_PROGRAMMERS
    ]


def _text(key: ast.expr | None) -> object:
    return key.value if isinstance(key, ast.Constant) else None


def _is_elsewhere(node: ast.AST) -> bool:
    if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
        return _name(node.exc.func).endswith("Error") and _name(node.exc.func) not in PROBLEMS
    if isinstance(node, ast.ClassDef):
        return any(_name(base) == "StrEnum" for base in node.bases)
    if isinstance(node, ast.Call):
        return _name(node.func) in TELLS_NOBODY | FOR_THE_LOG | SAYS_IN_PYTHON
    if isinstance(node, ast.keyword):
        return node.arg in FOR_PROGRAMMERS
    return isinstance(node, ast.Assert | ast.Compare)


IN_A_SCRIPT = re.compile(
    r"""//[^\n]*|/\*.*?\*/|"(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*'|`(?:[^`\\]|\\.)*`""", re.S
)
"""A remark, or a text: whichever begins first."""
VALUE = re.compile(r"\$?\{[^{}]*\}")
SHOWS = re.compile(
    r"(?:textContent|innerText|title|ariaLabel|placeholder)\s*=(?!=)[^;]*|(?:alert|confirm|prompt)\([^;]*"
)
"""Where a single word, too, is read."""


def in_script(source: str) -> list[str]:
    """Texts of a script that are sentences, and whatever it shows: its words come with the page, in its language."""
    texts = [text[1:-1] for text in IN_A_SCRIPT.findall(source) if not text.startswith("/")]
    found = [text for text in texts if THREE_WORDS.search(MARKUP.sub("", VALUE.sub("", text)))]
    plain = IN_A_SCRIPT.sub(lambda match: "" if match[0].startswith("/") else match[0], source)
    shown = [text[1:-1] for part in SHOWS.findall(plain) for text in IN_A_SCRIPT.findall(part)]
    return [*found, *(text for text in shown if LETTERS.search(VALUE.sub("", text)) and text not in found)]
