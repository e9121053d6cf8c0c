"""SQL is only ever bound: no statement is put together from text, but for the reasons given here.

Read from the code itself (Python's own parser), so that a new place fails whatever it is called.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
#: Where a statement is put together, how often, and why no text of anybody's comes into it.
ALLOWED = {
    "weighd/storage/grants.py": (2, "tables by name; the role is quoted as a name, doubled quotes"),
    "weighd/storage/postgres.py": (1, "seconds that stand in this file"),
    "weighd/storage/sqlite.py": (2, "whole numbers, reckoned in this file"),
    "weighd/storage/views.py": (19, "names of views and columns, written down in this file"),
}
_SQL = re.compile(
    r"\b(SELECT\b.*\bFROM|INSERT\s+INTO|UPDATE\s+\w+\s+SET|DELETE\s+FROM|CREATE\s+(TABLE|VIEW|INDEX)|"
    r"DROP\s+\w+|ALTER\s+\w+|GRANT\b|PRAGMA\b|ATTACH\b|SELECT$|SELECT\s)"
)
#: What takes a statement as text.
_TAKES = {"execute", "executemany", "executescript", "exec_driver_sql", "literal_column", "text"}


def text_of(node: ast.expr) -> str:
    """The constant parts of an expression that makes text."""
    return " ".join(
        one.value
        for one in ast.walk(node)
        if isinstance(one, ast.Constant) and isinstance(one.value, str)
    )


def parts_of(node: ast.expr) -> Iterator[ast.expr]:
    """What a sum is made of."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Mod):
        yield from parts_of(node.left)
        yield from parts_of(node.right)
    else:
        yield node


def is_put_together(node: ast.expr) -> bool:
    """Whether a text is made of parts: an f-string with values, a sum, ``%`` or ``format``."""
    if isinstance(node, ast.JoinedStr):
        return any(isinstance(one, ast.FormattedValue) for one in node.values)
    if isinstance(node, ast.BinOp):
        parts = [one for one in parts_of(node) if isinstance(one, ast.Constant | ast.JoinedStr)]
        return any(text_of(one) for one in parts)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        return node.func.attr in ("format", "join", "replace") and bool(text_of(node))
    return False


def found_in(source: str) -> Iterator[int]:
    """Lines where a statement is put together, or what is no constant is handed over as one."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.expr) and is_put_together(node) and _SQL.search(text_of(node)):
            yield node.lineno
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute | ast.Name):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id
            raw = name in ("exec_driver_sql", "executescript", "literal_column")
            if name in _TAKES and node.args and is_put_together(node.args[0]) and raw:
                yield node.lineno


def test_no_statement_is_put_together_from_text() -> None:
    found = Counter[str]()
    for file in sorted((ROOT / "weighd").rglob("*.py")):
        where = str(file.relative_to(ROOT))
        source = file.read_text("utf-8")
        if _SQL.search(source) or "sqlalchemy" in source:  # the others need not be parsed
            found[where] += len(set(found_in(source)))
    assert {where: n for where, n in found.items() if n} == {
        where: n for where, (n, _) in ALLOWED.items()
    }
    assert all(len(why) > 20 for _, why in ALLOWED.values())


@pytest.mark.parametrize(
    "bad",
    [
        'connection.execute(f"SELECT * FROM entry WHERE batch = {batch!r}")',
        """connection.execute("DELETE FROM lot WHERE code = '" + code + "'")""",
        'q = "SELECT a FROM b WHERE c = %s" % name',
        'q = "UPDATE person SET name = {}".format(name)',
        'connection.exec_driver_sql(f"{anything} at all")',
        'literal_column("x." + column)',
    ],
)
def test_one_that_is_put_together_is_found(bad: str) -> None:
    assert set(found_in(bad)) == {1}


def test_what_is_bound_is_not() -> None:
    good = 'connection.execute(text("SELECT a FROM b WHERE c = :c"), {"c": name})'
    assert list(found_in(good)) == []
