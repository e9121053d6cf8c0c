"""Exit codes of the command line."""

from __future__ import annotations

from docs.making.codes import FAULT, KINDS
from docs.making.tables import code, table
from weighd.cli import exits

#: What each means. A test names the ones that are missing here.
SAID = {
    exits.OK: "Done.",
    exits.DOES_NOT_HOLD: "A record, a replay or a mass balance does not hold; a scale did not pass "
    "its check; what was asked for cannot be had; or, for `weighd doctor`, something keeps the "
    "station from weighing.",
    exits.BAD_INPUT: "The request, a formula, the configuration or a session cannot be used as "
    "given.",
    exits.SCALE: "A scale said something illegal, cannot be reached, or is not what was asked for.",
    exits.STORE: "The record could not be written or read.",
    exits.ADDRESS_IN_USE: "The address is taken: another weighd runs there, or another program.",
}


def every() -> list[int]:
    """Every exit code there is."""
    names = [one for one in vars(exits) if one.isupper() and not one.startswith("_")]
    return sorted(vars(exits)[one] for one in names)


def made() -> str:
    """The table of exit codes."""
    return table(
        ("exit code", "what it means", "errors that end so"),
        (
            (
                code(str(one)),
                SAID.get(one, ""),
                "<br>".join(
                    fault
                    for name, fault in FAULT.items()
                    if exits.code_for(KINDS[name]("any", "")) == one
                ),
            )
            for one in every()
        ),
    )
