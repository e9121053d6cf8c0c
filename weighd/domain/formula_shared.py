"""Formulas that were published to all stations: one revision each, whole, in an order of its own.

A revision holds its content: ingredients with their allergens and compositions, tolerances, steps
with the tables they are judged by. So it is composed and weighed wherever it comes, whatever the
kitchen there has. It is known by ``ID@REVISION``; the kitchen's own file of that id stays as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from weighd.domain.errors import FormulaError
from weighd.domain.formula import Formula, from_content, plain_id, revision_of


class Chosen(StrEnum):
    """What a station made of a revision that came down."""

    NEW = "new"
    TAKEN = "taken"
    LEFT = "left"


@dataclass(frozen=True, slots=True)
class Published:
    """A revision of a formula as it was published, ``number`` in the order of all.

    ``station``, ``by``, ``at``  where, by whom and when (UTC).
    """

    number: int
    formula: str
    revision: str
    name: str
    content: Mapping[str, Any]
    station: str
    by: str
    at: str

    @property
    def id(self) -> str:
        """What it is called in a list of formulas."""
        return f"{self.formula}@{self.revision}"

    def read(self) -> Formula:
        """The formula, once its content is seen to be that revision.

        Raises :class:`FormulaError`: ``not-that-revision``, ``bad-formula-content``.
        """
        if (
            revision_of(self.content) != self.revision
            or plain_id(str(self.content.get("id"))) != self.formula
        ):
            raise FormulaError(
                "not-that-revision",
                "Its content is not that revision: it was changed after it was published.",
                where=self.id,
                remedy="Publish it again from where it is right.",
            )
        return replace(from_content(self.content), id=self.id)

    def as_json(self) -> dict[str, Any]:
        """As JSON values, whole."""
        told = {key: getattr(self, key) for key in ("number", *_TEXTS)}
        return {**told, "content": dict(self.content)}


_TEXTS = ("formula", "revision", "name", "station", "by", "at")


def published_of(row: Mapping[str, Any]) -> Published:
    """The inverse of :meth:`Published.as_json`. Raises ``KeyError``, ``TypeError``,
    ``ValueError``."""
    if not isinstance(row["content"], Mapping):
        raise TypeError("the content of a formula is an object")
    texts = {key: str(row[key]) for key in _TEXTS}
    return Published(number=int(row["number"]), content=dict(row["content"]), **texts)
