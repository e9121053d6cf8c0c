"""Earlier revisions of a formula, and where each of them was met."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from weighd.domain.errors import FormulaError
from weighd.domain.formula import Formula, from_content, plain_id, revision_of


class Found(StrEnum):
    """Where a revision is known from."""

    #: It was saved on the page.
    PAGE = "page"
    #: An ingredient of the kitchen's list was changed on the page.
    INGREDIENTS = "ingredients"
    #: It stood in the file when somebody looked: another hand changed that, or the list.
    FILE = "file"
    #: A batch was opened with it.
    BATCH = "batch"
    #: A station published it.
    SHARED = "shared"


@dataclass(frozen=True, slots=True)
class Kept:
    """A revision as it is kept beside the formulas: whole, so that it can be composed anywhere.

    ``how`` and ``at`` (UTC) say how and when it was first met, ``by`` who changed it, where known.
    """

    formula: str
    revision: str
    content: Mapping[str, Any]
    how: Found
    by: str
    at: str

    def read(self) -> Formula:
        """The formula, once its content is seen to be that revision.

        Raises :class:`FormulaError`: ``not-that-revision``, ``bad-formula-content``.
        """
        return read_revision(self.content, self.formula, self.revision)

    def as_json(self) -> dict[str, Any]:
        """As JSON values, whole."""
        told = {"formula": self.formula, "revision": self.revision}
        told |= {"how": str(self.how), "by": self.by, "at": self.at}
        return {**told, "content": dict(self.content)}


def kept_of(given: Mapping[str, Any]) -> Kept:
    """The inverse of :meth:`Kept.as_json`. Raises ``KeyError``, ``TypeError``, ``ValueError``."""
    texts = [given[key] for key in ("formula", "revision", "how", "by", "at")]
    if not isinstance(given["content"], Mapping) or not all(isinstance(one, str) for one in texts):
        raise TypeError("the content of a formula is an object, and the rest are texts")
    formula, revision, how, by, at = texts
    return Kept(formula, revision, dict(given["content"]), Found(how), by, at)


def read_revision(content: Mapping[str, Any], formula: str, revision: str) -> Formula:
    """The formula of a content, once that is seen to be this revision of it; under the formula's
    own id. Raises :class:`FormulaError`: ``not-that-revision``, ``bad-formula-content``.
    """
    identity = plain_id(str(content.get("id")))
    if identity != formula or revision_of(content) != revision:
        raise FormulaError(
            "not-that-revision",
            "Its content is not that revision: it was changed after it was kept.",
            where=f"{formula}@{revision}",
            remedy="It is left out.",
        )
    return replace(from_content(content), id=formula)
