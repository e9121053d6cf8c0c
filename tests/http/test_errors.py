"""The one table: every code that the domain or the station raises has a status of its own."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from weighd.domain import errors as domain_errors
from weighd.domain.errors import JournalError, OperatorError, ScaleError, WeighdError
from weighd.http.access import Refusal
from weighd.http.errors import OF_CLASS, OF_CODE, problem_of, status_of

ROOT = Path(__file__).resolve().parents[2] / "weighd"
_CODE = re.compile(r"[a-z]+(-[a-z]+)+")
_CLASSES = {
    name
    for name, kind in vars(domain_errors).items()
    if isinstance(kind, type) and issubclass(kind, WeighdError)
}


def _strings(node: ast.AST) -> Iterator[str]:
    for one in ast.walk(node):
        if isinstance(one, ast.Constant) and isinstance(one.value, str):
            yield one.value


def _called(node: ast.Call) -> str:
    match node.func:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def codes_in(source: str) -> set[str]:
    """Every code raised in a module: written where the error is made, or passed to what makes it.

    A function whose error takes its code from a variable may raise any code that stands in it,
    in its defaults, or in what it is called with.
    """
    tree = ast.parse(source)
    found: set[str] = set()
    makers: set[str] = set()
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef | ast.Module):
            continue
        inside = ast.walk(function) if isinstance(function, ast.FunctionDef) else function.body
        for node in inside:
            if not (isinstance(node, ast.Call) and _called(node) in _CLASSES and node.args):
                continue
            if isinstance(node.args[0], ast.Constant):
                found.add(str(node.args[0].value))
            elif isinstance(function, ast.FunctionDef):
                makers.add(function.name)
                found |= {one for one in _strings(function) if _CODE.fullmatch(one)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and _called(node) in makers:
            for given in (*node.args, *(word.value for word in node.keywords)):
                if isinstance(given, ast.Constant) and isinstance(given.value, str):
                    found |= {given.value} if _CODE.fullmatch(given.value) else set()
    return found


def test_the_scan_finds_codes_however_they_are_made() -> None:
    assert codes_in('raise OperatorError("one-code", "x")') == set()  # not in a function
    assert codes_in(
        "def f():\n    raise OperatorError('one-code', 'x')\n"
        "def g(x, code='by-default'):\n    return FormulaError(code, x)\n"
        "def h():\n    code = {1: 'in-a-dict'}.get(2, 'or-so')\n    raise ScaleError(code, 'y')\n"
        "def i():\n    raise g('a text', 'passed-on')\n"
        "def j():\n    raise g('a text', code='by-name')\n"
    ) == {"one-code", "by-default", "in-a-dict", "or-so", "passed-on", "by-name"}


@pytest.mark.parametrize("room", ["domain", "station", "http"])
def test_every_code_has_a_status(room: str) -> None:
    found = {
        code: file.name
        for file in sorted((ROOT / room).glob("*.py"))
        for code in codes_in(file.read_text(encoding="utf-8"))
    }
    assert len(found) >= {"domain": 30, "station": 8, "http": 10}[room]
    missing = {code: file for code, file in found.items() if code not in OF_CODE}
    assert not missing, f"give these a status in weighd/http/errors.py: {missing}"


def test_the_table_holds_no_status_that_http_does_not_have() -> None:
    from http import HTTPStatus

    for status in (*OF_CODE.values(), *OF_CLASS.values()):
        assert HTTPStatus(status) >= 400


def test_every_class_of_error_has_a_status() -> None:
    for name in _CLASSES - {"WeighdError"}:
        kind = getattr(domain_errors, name)
        assert status_of(kind("a-code-nobody-knows", "Something.")) == OF_CLASS[kind]
    assert status_of(JournalError("store-full", "Full.")) == 503
    assert status_of(ScaleError("no-device", "Gone.")) == 503
    assert status_of(OperatorError("unheard-of", "No.")) == 409


def test_a_refusal_at_the_gate_has_a_status() -> None:
    """Refusals are made with their code first, as errors are."""
    sources = (ROOT / "http" / name for name in ("access.py", "gate.py"))
    codes = [
        node.args[0].value
        for source in sources
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and _called(node) == Refusal.__name__
        if isinstance(node.args[0], ast.Constant)
    ]
    assert len(codes) >= 5
    assert set(codes) <= set(OF_CODE)


def test_a_problem_can_always_be_said() -> None:
    """Half a surrogate pair in a message (a file name, say) must not break the answer."""
    answer = problem_of(OperatorError("not-now", "\ud800" * 5000, where="\udfff"))
    assert answer.status_code == 409
    assert len(answer.body) < 10_000
    bytes(answer.body).decode("utf-8")
