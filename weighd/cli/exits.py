"""Exit codes of the command line: the one table from errors to codes."""

from __future__ import annotations

from weighd.domain.errors import (
    ConfigError,
    FormulaError,
    JournalError,
    OperatorError,
    RecordError,
    ScaleError,
    SessionError,
    SolverError,
    WeighdError,
)

OK = 0
DOES_NOT_HOLD = 1
BAD_INPUT = 2
SCALE = 3
STORE = 4
ADDRESS_IN_USE = 5

_CODES: dict[type[WeighdError], int] = {
    RecordError: DOES_NOT_HOLD,
    OperatorError: BAD_INPUT,
    FormulaError: BAD_INPUT,
    ConfigError: BAD_INPUT,
    SessionError: BAD_INPUT,
    SolverError: BAD_INPUT,
    ScaleError: SCALE,
    JournalError: STORE,
}


def code_for(error: WeighdError) -> int:
    """The exit code for an error."""
    if error.code == "address-in-use":
        return ADDRESS_IN_USE
    if error.code.startswith("shared-"):  # what was sent is not as it was sent
        return DOES_NOT_HOLD
    return next(code for kind, code in _CODES.items() if isinstance(error, kind))
