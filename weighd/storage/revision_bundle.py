"""All kept revisions of a kitchen in one text, a line each: as a copy of a station has them."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path

from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula_kept import kept_of
from weighd.domain.formula_text import is_id
from weighd.storage.kept_revisions import REVISIONS, read_kept, write_kept

BUNDLE = "revisions.jsonl"
#: What a file that is no revision may raise.
_NONE = (FormulaError, OSError, ValueError, KeyError, TypeError, RecursionError)


def bundle(formulas: Path) -> str:
    """Every revision beside these formulas, oldest first; files that are none are left out."""
    found = []
    for path in sorted((formulas / REVISIONS).glob("*/*.json")):
        with suppress(*_NONE):
            found.append(read_kept(path).as_json())
    found.sort(key=lambda one: str(one["at"]))
    return "".join(json.dumps(one, ensure_ascii=False) + "\n" for one in found)


def unbundle(text: str, formulas: Path) -> int:
    """Keep the revisions of such a text beside these formulas; how many lines are none.

    Raises :class:`OperatorError` where they cannot be written.
    """
    left = 0
    for line in text.splitlines():
        try:
            kept = kept_of(json.loads(line))
            kept.read()
            if not is_id(kept.formula):
                raise ValueError(kept.formula)
        except _NONE:
            left += 1
            continue
        try:
            write_kept(formulas / REVISIONS / kept.formula, kept)
        except UnicodeEncodeError:  # half a character, which JSON can say and no file can hold
            left += 1
        except OSError as error:
            raise OperatorError(
                "cannot-write",
                f"Revisions cannot be put back: {error.strerror or error}.",
                where=str(formulas / REVISIONS),
            ) from error
    return left
