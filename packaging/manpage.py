"""The manual page of weighd, made of what its commands say of themselves.

    python packaging/manpage.py > weighd.1

One page: what every command is for, its arguments and options, exit codes, files, environment.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import Any

from typer.main import get_command

from weighd import __version__
from weighd.cli.app import __doc__ as about_exits
from weighd.cli.app import app

FILES = {
    "weighd.toml": "The configuration: in the working folder, else in $XDG_CONFIG_HOME/weighd, "
    "else in /etc/weighd.",
    "/etc/weighd/weighd.toml": "That of the service.",
    "/var/lib/weighd": "Record, key and formulas of the service.",
}
ENVIRONMENT = {
    "XDG_CONFIG_HOME": "Where a user's configuration is looked for; ~/.config where it is not set.",
    "NOTIFY_SOCKET, WATCHDOG_USEC, LISTEN_FDS": "Set by a service manager for weighd serve: it is "
    "told when the station is ready and that it goes on, and keeps the page's socket.",
}


def escaped(text: str) -> str:
    """A text as roff takes it: nothing in it is a command."""
    plain = re.sub(r"\\(?=\[)", "", text)  # marks of what prints help on a terminal
    # A line cannot begin with a dot here: none is written by itself.
    return (
        plain.replace("\\", "\\e").replace("-", "\\-").replace("'", "\\(aq").replace("`", "\\(ga")
    )


def paragraphs(text: str) -> list[str]:
    """The paragraphs of a help text, each on one line."""
    parts = re.split(r"\n\s*\n", text.replace("\b", ""))
    return [" ".join(one.split()) for one in parts if one.strip()]


def metavar(one: Any) -> str:
    """What stands for a value."""
    kind = one.type_descriptor.annotation
    if one.metavar:
        return str(one.metavar)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return "|".join(str(it.value) for it in kind)
    if one.param_type_name == "argument":
        return str(one.name).upper()
    return {Path: "PATH", int: "N", float: "X"}.get(kind, "TEXT")


def told(one: Any) -> Iterator[str]:
    """An option or argument with what it is for."""
    if getattr(one, "hidden", False):
        return
    value = f"\\fI{escaped(metavar(one))}\\fR"
    names = ", ".join(f"\\fB{escaped(name)}\\fR" for name in [*one.opts, *one.secondary_opts])
    if one.param_type_name == "argument":
        written = value
    else:
        written = names if one.is_flag else f"{names} {value}"
    default = one.default
    shown = not (default is None or default in ((), "", [], False, True) or callable(default))
    more = f" Default: {getattr(default, 'value', default)}." if shown else ""
    yield ".TP"
    yield written
    yield escaped(" ".join((getattr(one, "help", "") or "").split()) + more) or "\\&"


def section(name: str, command: Any) -> Iterator[str]:
    """One command, with those below it."""
    arguments = [it for it in command.params if it.param_type_name == "argument"]
    options = [it for it in command.params if it.param_type_name == "option"]
    below = getattr(command, "commands", {})
    usage = " ".join(
        [
            f"\\fBweighd {escaped(name)}\\fR",
            *(["[\\fIoptions\\fR]"] if options else []),
            *(
                f"\\fI{escaped(metavar(it))}\\fR"
                if it.required
                else f"[\\fI{escaped(metavar(it))}\\fR]"
                for it in arguments
            ),
            *(["\\fIcommand\\fR ..."] if below else []),
        ]
    )
    yield f'.SS "weighd {escaped(name)}"'
    yield usage
    for one in paragraphs(command.help or ""):
        yield ".PP"
        yield escaped(one)
    for one in (*arguments, *options):
        yield from told(one)
    for deeper, it in below.items():
        yield from section(f"{name} {deeper}", it)


def page() -> str:
    """The whole page, in the macros of man(7)."""
    main = get_command(app)
    lines = [
        f'.TH WEIGHD 1 "" "weighd {__version__}" "User commands"',
        ".SH NAME",
        "weighd \\- a weighing station",
        ".SH SYNOPSIS",
        "\\fBweighd\\fR \\fIcommand\\fR [\\fIoptions\\fR] [\\fIarguments\\fR]",
        ".SH DESCRIPTION",
    ]
    for one in paragraphs(main.help or ""):
        lines += [escaped(one), ".PP"]
    lines += [
        "Begin with \\fBweighd serve\\fR, and open the address that it prints.",
        ".SH COMMANDS",
    ]
    for name, command in main.commands.items():  # type: ignore[attr-defined]
        lines += section(name, command)
    lines.append(".SH EXIT STATUS")
    exits = (about_exits or "").partition("Exit codes:")[2]
    for code, meaning in re.findall(r"(\d) ([^;.]+)[;.]", " ".join(exits.split())):
        lines += [".TP", f"\\fB{code}\\fR", escaped(meaning[0].upper() + meaning[1:] + ".")]
    for title, rows in (("FILES", FILES), ("ENVIRONMENT", ENVIRONMENT)):
        lines.append(f".SH {title}")
        for what, meaning in rows.items():
            lines += [".TP", f"\\fI{escaped(what)}\\fR", escaped(meaning)]
    lines += [
        ".SH CAUTION",
        escaped(
            "weighd is not a legal-for-trade instrument. Where the work can hurt someone, local "
            "codes and licensed practice come first."
        ),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(page())
