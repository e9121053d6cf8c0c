"""Tables as CSV (RFC 4180, UTF-8) that no spreadsheet takes for formulas.

1. A cell that a spreadsheet could take for a formula begins, for it, with ``= + - @`` after
   whatever it passes over. Such a cell gets one apostrophe in front, and so does a cell that
   begins with an apostrophe, a tab or a line end: whoever takes one leading apostrophe away has
   the text again.
2. Spreadsheets set to another language split at semicolons or tabs instead of commas, and inside
   cells then. So the rule holds for each piece between those and line ends, not for whole cells.
3. Numbers of ours (digits, one point, perhaps a minus sign) stay as they are, but only in columns
   of numbers; anything else that a changed record holds there is treated as text.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence

from weighd.reports.columns import COLUMNS, NUMBERS, Column, Headed, Value, table_rows
from weighd.reports.told import Record

GUARD = "'"
_STARTS = frozenset("=+-@")
#: Minus signs that no normal form takes for the ordinary one.
_LIKE_A_SIGN = frozenset("\u2212\u2010\u2011\u2012\u2013\u2014")
_SPLITS = re.compile(r"([;\t\r\n]+)")
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?", re.ASCII)


def guarded(value: str) -> str:
    """A text that no spreadsheet takes for a formula; :func:`bare` gives it back."""
    ahead = GUARD if _SPLITS.match(value) else ""
    return ahead + "".join(_piece(one) for one in _SPLITS.split(value))


def bare(cell: str) -> str:
    """The inverse of :func:`guarded`."""
    return "".join(one.removeprefix(GUARD) for one in _SPLITS.split(cell))


def csv_lines(records: Iterable[Record], columns: tuple[Column, ...] = COLUMNS) -> Iterator[str]:
    """The header, and a line for each weighing, each with its line end (CR LF)."""
    return lines_of(columns, (row for one in records for row in table_rows(one)))


def lines_of(heads: Sequence[Headed], rows: Iterable[Mapping[str, Value]]) -> Iterator[str]:
    """The header, and a line for each row of any table, each with its line end (CR LF)."""
    yield _line([one.name for one in heads])
    for row in rows:
        yield _line([_cell(one, row.get(one.name)) for one in heads])


def read_csv(text: str) -> list[Mapping[str, str]]:
    """Rows of such a table as they were before they were made safe."""
    rows = csv.DictReader(io.StringIO(text, newline=""))
    return [{name: bare(cell) for name, cell in row.items()} for row in rows]


def _piece(piece: str) -> str:
    if not piece or _SPLITS.fullmatch(piece):
        return piece
    return GUARD + piece if piece.startswith(GUARD) or _looks_like_a_formula(piece) else piece


def _looks_like_a_formula(piece: str) -> bool:
    """Whether the first thing that is seen of it starts a formula, in whatever width or form."""
    for one in unicodedata.normalize("NFKC", piece):
        if one in _STARTS or one in _LIKE_A_SIGN:
            return True
        if not (one.isspace() or one in "\"'" or unicodedata.category(one)[0] in "CZM"):
            return False
    return False


def _cell(column: Headed, value: Value) -> str:
    if value is None:
        return ""
    told = str(value).encode("utf-8", "replace").decode("utf-8")  # half a character is none
    if column.of in NUMBERS and _NUMBER.fullmatch(told):
        return told
    return guarded(told)


def _line(cells: list[str]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerow(cells)
    return out.getvalue()
