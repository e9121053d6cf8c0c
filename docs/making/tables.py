"""Tables in Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def cell(text: str) -> str:
    """A text as it may stand in a cell: in one line, its bars no borders."""
    return " ".join(text.split()).replace("|", "\\|")


def code(text: str) -> str:
    """A text set as code; nothing for nothing."""
    return f"`{text}`" if text else ""


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; every row has as many cells as ``heads``."""
    lines = ["| " + " | ".join(heads) + " |", "| " + " | ".join("---" for _ in heads) + " |"]
    lines += ["| " + " | ".join(map(cell, row)) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def sentence(text: str) -> str:
    """A text that ends as a sentence does, and begins with a capital."""
    text = " ".join(text.split())
    if not text:
        return ""
    first = text[0] if text.startswith("weighd") else text[0].upper()
    return first + text[1:] + ("" if text.endswith((".", "!", "?", ":")) else ".")
