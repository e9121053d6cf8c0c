"""TOML as text: parse it, and say on which line a key stands.

``tomllib`` gives values without positions, and a cook who mistyped a key needs the line. The
scan below follows only what decides where a key stands: table headers, ``key =`` at the start of
a logical line, multi-line strings and arrays to be skipped. The values come from ``tomllib``.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

#: A file a person wrote by hand is far smaller; a larger one is not read at all.
LARGEST = 1_000_000

_BARE = r"[A-Za-z0-9_-]+"
_PART = rf'(?:{_BARE}|"(?:[^"\\]|\\.)*"|\'[^\']*\')'
_KEY = re.compile(rf"\s*({_PART}(?:\s*\.\s*{_PART})*)\s*=")
_HEADER = re.compile(rf"\s*(\[\[|\[)\s*({_PART}(?:\s*\.\s*{_PART})*)\s*\]")
_SPLIT = re.compile(_PART)
#: A key with more parts than anybody writes: what parses TOML takes their number squared.
_DEEP = re.compile(rf"(?<![A-Za-z0-9_-])(?:{_PART}\s*\.\s*){{50}}")
_TOKEN = re.compile(r'"""|\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*|[\[\]{}]')

Path = tuple[str | int, ...]


class TomlError(ValueError):
    """Text that is not TOML. ``line`` counts from 1, 0 when the place is not known."""

    def __init__(self, message: str, line: int) -> None:
        super().__init__(message)
        self.line = line


def load(text: str) -> dict[str, Any]:
    """The document as plain values. Raises :class:`TomlError`."""
    if len(text) > LARGEST:
        raise TomlError(f"the file is too large ({len(text)} characters, {LARGEST} at most)", 0)
    try:
        if found := _DEEP.search(text):
            line = text.count("\n", 0, found.start()) + 1
            raise TomlError("a key has more parts than a file can have", line)
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+)", str(error))
        line = int(found[1]) if found else text.count("\n") + 1
        message = re.sub(r"\s*\(at .*\)$", "", str(error))
        raise TomlError(message[:1].lower() + message[1:], line) from error
    except RecursionError as error:
        raise TomlError("brackets are nested too deeply", 0) from error


def lines(text: str) -> dict[Path, int]:
    """Where every table and key stands: ``("additions", 2, "target") -> 17``, lines from 1."""
    out: dict[Path, int] = {}
    table: Path = ()
    counts: dict[Path, int] = {}
    depth = 0
    open_quote = ""
    for number, line in enumerate(text.splitlines(), start=1):
        start = 0
        if open_quote:
            end = line.find(open_quote)
            if end < 0:
                continue
            start, open_quote = end + 3, ""
        elif depth == 0:
            if header := _HEADER.match(line):
                table = _resolve(_parts(header[2]), counts)
                if header[1] == "[[":
                    nth = counts[table] = counts.get(table, -1) + 1
                    table = (*table, nth)
                out.setdefault(table, number)
                continue
            if key := _KEY.match(line):
                parts = _parts(key[1])
                for upto in range(1, len(parts) + 1):
                    out.setdefault((*table, *parts[:upto]), number)
                _inline(line[key.end() :], (*table, *parts), number, out)
                start = key.end()
        for token in _TOKEN.finditer(line, start):
            if token[0] in ("[", "{"):
                depth += 1
            elif token[0] in ("]", "}"):
                depth = max(0, depth - 1)
            elif token[0] in ('"""', "'''"):
                close = line.find(token[0], token.end())
                if close < 0:
                    open_quote = token[0]
                break
    return out


def line_of(where: dict[Path, int], path: Path) -> int:
    """The line of ``path``, or of the nearest table around it; 0 when nothing is known."""
    while path and path not in where:
        path = path[:-1]
    return where.get(path, 0)


def dotted(path: Path) -> str:
    """A path as messages write it: ``additions[3].target``, counted from 1."""
    out = ""
    for part in path:
        if isinstance(part, int):
            out += f"[{part + 1}]"
        else:
            out += f".{part}" if out else part
    return out


def _parts(dotted_key: str) -> tuple[str, ...]:
    return tuple(part[1:-1] if part[0] in "\"'" else part for part in _SPLIT.findall(dotted_key))


def _resolve(parts: tuple[str, ...], counts: dict[Path, int]) -> Path:
    """A header's path with the running index of every array of tables above it."""
    path: Path = ()
    for position, part in enumerate(parts):
        path = (*path, part)
        if position < len(parts) - 1 and path in counts:
            path = (*path, counts[path])
    return path


def _inline(rest: str, path: Path, number: int, out: dict[Path, int]) -> None:
    """Keys of an inline table on the same line: ``fat = { min = 3, max = 5 }``."""
    if rest.lstrip().startswith("{"):
        for found in re.finditer(rf"[{{,]\s*({_PART})\s*=", rest):
            out.setdefault((*path, *_parts(found[1])), number)
