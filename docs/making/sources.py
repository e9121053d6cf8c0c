"""The program's source, read once: what is asked of it by several pages."""

from __future__ import annotations

import ast
import functools
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("weighd", "drivers/weighd_drivers")


@functools.cache
def calls(root: Path = ROOT) -> tuple[tuple[str, ast.Call | ast.Subscript], ...]:
    """Every call and every subscript of the program, with its file as seen from ``root``."""
    return tuple(_each(root))


def _each(root: Path) -> Iterator[tuple[str, ast.Call | ast.Subscript]]:
    for folder in FOLDERS:
        for file in sorted((root / folder).rglob("*.py")):
            name = file.relative_to(root).as_posix()
            for node in ast.walk(ast.parse(file.read_text("utf-8"))):
                if isinstance(node, ast.Call | ast.Subscript):
                    yield name, node
