"""The command line: one file a command, thin; errors end as a sentence and an exit code.

Exit codes: 0 done; 1 something does not hold (a record, a replay); 2 the request, a formula, the
configuration or a session cannot be used as given; 3 a scale; 4 the record cannot be written or
read; 5 the address is taken.
"""

from __future__ import annotations

import sys

import typer

from weighd import __version__
from weighd.cli import (
    archive,
    backup,
    check,
    compose,
    correct,
    countersign,
    cue,
    decode,
    demo,
    devices,
    doctor,
    dry_ice,
    export,
    floor,
    formula,
    ingredients,
    keys,
    limits,
    loss,
    lots,
    paste,
    people,
    plan,
    publish,
    record,
    recover,
    repeatability,
    replay,
    revisions,
    scales,
    serve,
    settle,
    share,
    size,
    solve,
    steps,
    swap,
    timeline,
    trace,
    trends,
    verify,
    vessels,
    yields,
)
from weighd.cli.exits import code_for
from weighd.domain.errors import WeighdError

app = typer.Typer(
    name="weighd",
    help="A weighing station: reads a scale, judges each addition against a formula, keeps an "
    "as-weighed record. Not a legal-for-trade instrument.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=True,
)
for command in (
    serve,
    share,
    demo,
    doctor,
    scales,
    check,
    vessels,
    decode,
    settle,
    size,
    solve,
    steps,
    swap,
    cue,
    record,
    repeatability,
    replay,
    revisions,
    timeline,
    trends,
    trace,
    verify,
    export,
    keys,
    archive,
    backup,
    formula,
    compose,
    dry_ice,
    loss,
    lots,
    ingredients,
    limits,
    paste,
    plan,
    publish,
    recover,
    yields,
    correct,
    countersign,
    people,
    devices,
    floor,
):
    command.add_to(app)


@app.callback(invoke_without_command=True)
def version(
    show: bool = typer.Option(False, "--version", help="Print the version and leave."),
) -> None:
    """Options of weighd itself."""
    if show:
        print(f"weighd {__version__}")
        raise typer.Exit


def main() -> None:
    """The entry point ``weighd``."""
    try:
        app()
    except WeighdError as error:
        print(f"weighd: {error}", file=sys.stderr)
        sys.exit(code_for(error))
    except BrokenPipeError:
        # Whoever read our output has seen enough.
        sys.stderr.close()
        sys.exit(0)
