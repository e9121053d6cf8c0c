"""Errors, by whose fault they are.

1. An outcome is not an error: out of tolerance, over capacity, still settling are values
   that are shown or recorded. An error is a request that cannot be met as it stands.
2. Every error says what happened, where, and what to do next, in a cook's words. ``code``
   is stable and is what programs match on; ``str(error)`` is what a person reads.
3. Status codes of HTTP and exit codes of the command line belong to the edges.
"""

from __future__ import annotations


class WeighdError(Exception):
    """An error with a stable code.

    ``code``    stable, lower case with hyphens: ``"no-open-batch"``.
    ``message`` what happened, one sentence.
    ``where``   the file, line, field, scale or batch concerned; may be empty.
    ``remedy``  what to do next; may be empty.
    """

    def __init__(self, code: str, message: str, *, where: str = "", remedy: str = "") -> None:
        if type(self) is WeighdError:
            raise TypeError("raise one of the children of WeighdError: whose fault is it?")
        super().__init__(code, message)
        self.code = code
        self.message = message
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        head = f"{self.where}: {self.message}" if self.where else self.message
        return f"{head} {self.remedy}" if self.remedy else head


class OperatorError(WeighdError):
    """Somebody asked for what the present state does not allow."""


class FormulaError(WeighdError):
    """A formula (or the ingredient list) cannot be used as written."""


class ConfigError(WeighdError):
    """The configuration cannot be used as written."""


class ScaleError(WeighdError):
    """A scale said something illegal, cannot be reached, or is not what was asked for."""


class JournalError(WeighdError):
    """The record could not be written or read; what it held before is untouched."""


class RecordError(WeighdError):
    """A record does not verify, or is not a record."""


class SessionError(WeighdError):
    """A recorded session cannot be read or does not replay."""


class SolverError(WeighdError):
    """A solver came to no answer: neither a solution, nor that there is none."""
