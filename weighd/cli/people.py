"""``weighd people``: who works here, with PINs and rights."""

from __future__ import annotations

import getpass
import json
import sys
from pathlib import Path

import typer

from weighd.domain.errors import OperatorError
from weighd.domain.people import ABOUT, ALL, Person, Right, check_pin, rights_of

_CONFIG = typer.Option(None, "--config", help="The configuration file.")
_NAME = typer.Argument(help="A name, as it is to stand in records.")
_RIGHT = typer.Option(
    [], "--right", help='A right, may be repeated; "all" for all, "none" for none.'
)


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    people = typer.Typer(help="People with PINs and rights: list, add, pin, rights, retire.")
    app.add_typer(people, name="people")

    @people.command("list")
    def list_(
        retired: bool = typer.Option(False, "--retired", help="Also who was retired."),
        as_json: bool = typer.Option(False, "--json", help="For programs."),
        config: Path | None = _CONFIG,
    ) -> None:
        """List who works here and what each may do; without anybody, everybody may do all.

        The daemon's log has no names, but these numbers.
        """
        from weighd.main.people_files import people_of

        listed = enumerate(people_of(config), 1)
        found = [(number, one) for number, one in listed if retired or one.is_here]
        if as_json:
            told = [{"number": number, **_drawn(one)} for number, one in found]
            print(json.dumps(told, indent=1, ensure_ascii=False))
            return
        for number, one in found:
            print(f"{number}. {_line(one)}")
        if not found:
            print("Nobody is listed: everybody may do everything, and a name typed is enough.")
            print("With the first person that changes; the rights there are:")
            for right, about in ABOUT.items():
                print(f"  {right}: {about}")

    @people.command()
    def add(name: str = _NAME, right: list[str] = _RIGHT, config: Path | None = _CONFIG) -> None:
        """Add somebody; their PIN is asked for, or read from standard input.

        The first person has all rights. While a station runs, add people on its page.
        """
        from weighd.main.people_files import change_people, people_of

        rights = _rights(right) if right or people_of(config) else ALL
        pin = _new_pin(name)
        print(f"Added. {_line(change_people(config, lambda it: it.add(name, rights, pin)))}")

    @people.command()
    def pin(name: str = _NAME, config: Path | None = _CONFIG) -> None:
        """Give somebody another PIN, asked for or read from standard input.

        Wrong PINs that were counted are forgotten, and nobody has to wait any more.
        """
        from weighd.main.people_files import change_people

        new = _new_pin(name)
        print(f"{change_people(config, lambda it: it.set_pin(name, new)).name} has another PIN.")

    @people.command()
    def rights(name: str = _NAME, right: list[str] = _RIGHT, config: Path | None = _CONFIG) -> None:
        """Say which rights somebody has from now on: those given, and no others."""
        from weighd.main.people_files import change_people

        if not right:
            raise typer.BadParameter('name each right, or "all", or "none"', param_hint="--right")
        given = _rights(right)
        print(_line(change_people(config, lambda it: it.set_rights(name, given))))

    @people.command()
    def retire(name: str = _NAME, config: Path | None = _CONFIG) -> None:
        """Retire somebody: they can do nothing any more, and their name stays theirs in records."""
        from weighd.main.people_files import change_people

        print(_line(change_people(config, lambda it: it.retire(name))))


def _rights(words: list[str]) -> frozenset[Right]:
    return rights_of(() if [one.strip().lower() for one in words] == ["none"] else words)


def _drawn(one: Person) -> dict[str, object]:
    return {
        "name": one.name,
        "rights": sorted(one.rights),
        "since": one.since,
        "retired": one.retired,
    }


def _line(one: Person) -> str:
    if one.retired:
        return f"{one.name}: retired on {one.retired[:10]}."
    if one.rights == ALL:
        return f"{one.name}: all rights."
    listed = ", ".join(str(it) for it in ALL_IN_ORDER if it in one.rights)
    return f"{one.name}: {listed or 'no rights'}."


ALL_IN_ORDER = tuple(ABOUT)


def _new_pin(name: str) -> str:
    """A PIN, typed twice without being shown, or the first line of what is piped in.

    Raises :class:`OperatorError`, ``bad-pin``.
    """
    if not sys.stdin.isatty():
        return check_pin(sys.stdin.readline())
    first = check_pin(getpass.getpass(f"PIN for {name}: "))
    if getpass.getpass("The same again: ").strip() != first:
        raise OperatorError("bad-pin", "The two were not the same.", remedy="Try again.")
    return first
