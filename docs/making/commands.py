"""Every command of the command line with its arguments and options, from the command itself."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import Any

from typer.main import get_command

from docs.making.tables import code, sentence, table
from weighd.cli.app import app

_KINDS: dict[object, str] = {Path: "PATH", int: "NUMBER", float: "NUMBER"}


def commands() -> Iterator[tuple[str, Any]]:
    """Every command by its full name (``lots receive``), in the order of the alphabet."""
    yield from _below("", get_command(app))


def _below(name: str, command: Any) -> Iterator[tuple[str, Any]]:
    for below, one in sorted(getattr(command, "commands", {}).items()):
        full = f"{name} {below}".strip()
        yield full, one
        yield from _below(full, one)


def given(command: Any) -> list[Any]:
    """Its arguments and options, but for ``--help``."""
    return [one for one in command.params if one.name != "help"]


def spelled(one: Any) -> str:
    """How an argument or an option is written."""
    if one.param_type_name == "argument":
        return str(one.metavar or one.name.upper())
    names = [*one.opts, *one.secondary_opts]
    if one.is_flag:
        return ", ".join(names)
    value = one.metavar or _values(one.type_descriptor.annotation)
    return f"{', '.join(names)} {value}"


def _values(kind: Any) -> str:
    if isinstance(kind, type) and issubclass(kind, Enum):
        return "/".join(str(one.value) for one in kind)
    return _KINDS.get(kind, "TEXT")


def _default(one: Any) -> str:
    if one.param_type_name == "argument" or one.default in (None, False, (), []):
        return "has to be given" if one.required else ""
    if callable(one.default) or one.default is True:
        return ""
    value = one.default
    if isinstance(value, list | tuple):
        value = " ".join(map(str, value))
    shown = str(getattr(value, "value", value))
    return "" if shown == "" or "Sentinel" in shown else code(shown)


def plain(text: str | None) -> str:
    """A help text without the marks of what prints it in a terminal."""
    return (text or "").replace("\\[", "[").replace("\b", "").strip()


def _paragraphs(text: str) -> str:
    """Help in paragraphs; one that begins with a mark for fixed lines is kept as it is."""
    parts = []
    for one in text.split("\n\n"):
        if one.startswith("\b"):
            parts.append("```text\n" + one.lstrip("\b\n") + "\n```")
        else:
            parts.append(" ".join(one.split()))
    return "\n\n".join(parts)


def made() -> str:
    """A section for each command."""
    parts = []
    for name, command in commands():
        # A group's own commands follow it; it has a usage of its own only when it does something.
        usage = " ".join(_usage(name, command))
        level = "##" if " " not in name else "###"
        text = (command.help or "").replace("\\[", "[")
        parts.append(f"{level} `weighd {name}`\n\n{_paragraphs(text)}\n\n```text\n{usage}\n```\n")
        if rows := given(command):
            parts.append(
                table(
                    ("argument or option", "what it is for", "default"),
                    (
                        (code(spelled(one)), sentence(plain(one.help)), _default(one))
                        for one in rows
                    ),
                )
            )
    return "\n".join(parts)


def _usage(name: str, command: Any) -> Iterator[str]:
    yield f"weighd {name}"
    if any(one.param_type_name == "option" for one in given(command)):
        yield "[OPTIONS]"
    for one in given(command):
        if one.param_type_name == "argument":
            shown = spelled(one) + ("..." if one.nargs == -1 else "")
            yield shown if one.required else f"[{shown}]"
    if getattr(command, "commands", None):
        yield "COMMAND ..."
