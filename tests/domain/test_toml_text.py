"""Where a key stands, checked against the parser of the standard library."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.toml_text import Path, TomlError, lines, load

AWKWARD = '''\
# [not] a = 1
top = "a = [ b"
multi = """
[fake]
key = 1
"""
list = [
  "[x]",  # key = 2
  "y = 3",
]
inline = { one = 1, two = "=" }
[table]
"quoted key" = 1
a.b.c = 2
[table.deeper]
x = \'\'\'one line\'\'\'
y = 1
[[rows]]
n = 1
[rows.sub]
m = 1
[[rows]]
n = 2
[rows.sub]
m = 2
'''


def paths(value: object, path: Path = ()) -> set[Path]:
    if isinstance(value, dict):
        return {path} | {p for k, v in value.items() for p in paths(v, (*path, k))}
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        return {path} | {p for n, v in enumerate(value) for p in paths(v, (*path, n))}
    return {path}


def test_every_key_is_found_on_its_line() -> None:
    found = lines(AWKWARD)
    text = AWKWARD.splitlines()
    for path in paths(tomllib.loads(AWKWARD)) - {(), ("rows",)}:
        assert path in found, path
        assert str(path[-1]) in text[found[path] - 1] or isinstance(path[-1], int), path
    assert found[("rows", 1, "sub", "m")] == AWKWARD.splitlines().index("m = 2") + 1
    assert ("fake",) not in found
    assert ("key",) not in found


@given(
    st.dictionaries(
        st.from_regex(r"[a-z]{1,6}", fullmatch=True),
        st.dictionaries(
            st.from_regex(r"[a-z]{1,6}", fullmatch=True), st.integers(0, 9), min_size=1, max_size=4
        ),
        min_size=1,
        max_size=4,
    ),
    st.integers(0, 3),
)
def test_lines_of_plain_tables(tables: dict[str, dict[str, int]], gap: int) -> None:
    out: list[str] = []
    expected: dict[Path, int] = {}
    for name, rows in tables.items():
        out += [""] * gap + [f"[{name}]"]
        expected[(name,)] = len(out)
        for key, value in rows.items():
            out.append(f"  {key} = {value}  # [{key}]")
            expected[(name, key)] = len(out)
    assert lines("\n".join(out)) == expected


def test_brackets_without_end_are_an_error_and_no_crash() -> None:
    with pytest.raises(TomlError, match="nested too deeply"):
        load("a = " + "[" * 100_000)
