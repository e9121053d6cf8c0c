"""People, PINs and waiting: our own rules (common practice, no source), and argon2id (RFC 9106)."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.station.listed_people import PINS, ListStore, Now, PlainPins, kitchen_people
from tests.storage.entries import STATION, Chain
from weighd.cli.app import app
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.people import (
    ABOUT,
    ALL,
    LONGEST_WAIT_S,
    Person,
    Right,
    check_pin,
    rights_of,
    too_simple,
    wait_s,
)
from weighd.station.people import MustWaitError, People
from weighd.storage.journal import open_journal, open_read_only
from weighd.storage.pins import MEMORY_KIB, PASSES, Argon2Pins


def code_of(asked: Callable[[], Any]) -> str:
    with pytest.raises(OperatorError) as raised:
        asked()
    assert raised.value.message.endswith(".")
    return raised.value.code


# --- PINs -------------------------------------------------------------------------------------


@pytest.mark.parametrize("pin", ["1234", "0000", "9876", "7890", "1212", "123123", "3210", "55555"])
def test_what_anybody_would_try_first_is_too_simple(pin: str) -> None:
    assert too_simple(pin)
    assert code_of(lambda: check_pin(pin)) == "bad-pin"


@pytest.mark.parametrize("pin", ["4711", "2580", "1357", "00112", "12345679"])
def test_what_is_not(pin: str) -> None:
    assert check_pin(f" {pin}\n") == pin


@pytest.mark.parametrize("pin", ["", "471", "4711471147114", "47a1", "٤٧١١", "47 11", "-471"])
def test_what_is_no_pin(pin: str) -> None:
    assert code_of(lambda: check_pin(pin)) == "bad-pin"


def test_waiting_grows_and_ends() -> None:
    waits = [wait_s(n) for n in range(40)]
    assert waits[:3] == [0, 0, 0]
    assert waits[3:7] == [5, 10, 20, 40]
    assert waits == sorted(waits)
    assert max(waits) == LONGEST_WAIT_S
    assert wait_s(10**9) == LONGEST_WAIT_S


def test_the_hash_is_argon2id_with_the_parameters_that_are_told() -> None:
    pins = Argon2Pins()
    made = pins.hash("4711")
    # The encoding is that of the reference implementation of RFC 9106, from memory.
    assert made.startswith(f"$argon2id$v=19$m={MEMORY_KIB},t={PASSES},p=1$")
    assert pins.fits(made, "4711")
    assert not pins.fits(made, "4712")
    cheap = Argon2Pins(1, 8)
    assert cheap.hash("4711") != cheap.hash("4711")
    assert not cheap.fits("no hash at all", "4711")
    assert not cheap.fits("", "4711")


def test_a_wrong_pin_is_counted_waited_for_and_forgotten_with_the_right_one() -> None:
    now = Now()
    store, pins = ListStore(kitchen_people().all()), PlainPins()
    people = People(store, pins, now)
    for _ in range(3):
        assert code_of(lambda: people.check("Bo", "0001")) == "wrong-pin"
    assert store.kept["Bo"].wrong == 3
    with pytest.raises(MustWaitError) as raised:
        people.check("bo", PINS["Bo"])  # the right one, too early
    assert (raised.value.wait_s, raised.value.code) == (5, "wait-for-pin")
    assert "5 s" in raised.value.message
    assert people.check("Ada", PINS["Ada"]).name == "Ada"  # nobody else waits
    again = People(store, pins, now)  # a restart forgets nothing
    assert code_of(lambda: again.check("Bo", PINS["Bo"])) == "wait-for-pin"
    now.s += 4
    assert code_of(lambda: again.check("Bo", PINS["Bo"])) == "wait-for-pin"
    now.s += 1
    assert again.check("Bo", PINS["Bo"]).wrong == 0
    assert store.kept["Bo"].wrong == 0


def test_a_clock_set_back_lengthens_no_wait_for_ever() -> None:
    now = Now()
    now.s = 3000
    people = kitchen_people(now)
    for _ in range(3):
        code_of(lambda: people.check("Bo", "0001"))
    now.s -= 3
    with pytest.raises(MustWaitError) as raised:
        people.check("Bo", PINS["Bo"])
    assert raised.value.wait_s == 5
    now.s = 0
    assert people.check("Bo", PINS["Bo"]).name == "Bo"


def test_it_is_counted_before_it_is_looked_at() -> None:
    store = ListStore(kitchen_people().all())

    class Pulled(PlainPins):
        def fits(self, hashed: str, pin: str, /) -> bool:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        People(store, Pulled(), Now()).check("Bo", PINS["Bo"])
    assert store.kept["Bo"].wrong == 1


def test_a_name_that_nobody_has_is_answered_as_a_wrong_pin() -> None:
    store, pins = ListStore(kitchen_people().all()), PlainPins()
    people = People(store, pins, Now())
    told: dict[str, list[str]] = {}
    for name in ("Bo", "Zoe"):
        for _ in range(5):
            with pytest.raises(OperatorError) as raised:
                people.check(name, "0001")
            told.setdefault(name, []).append(str(raised.value))
    assert told["Bo"] == told["Zoe"]
    assert len(pins.checked) == 6  # the same work for both


def test_what_cannot_be_counted_is_not_looked_at() -> None:
    pins = PlainPins()
    full = _Full(ListStore(kitchen_people().all()))
    with pytest.raises(JournalError):
        People(full, pins, Now()).check("Bo", PINS["Bo"])
    assert pins.checked == []


class _Full(ListStore):
    def __init__(self, of: ListStore) -> None:
        super().__init__(of.all())

    def put(self, person: Person, /) -> None:
        raise JournalError("store-full", "Full.")


# --- the list ---------------------------------------------------------------------------------


def test_the_first_has_all_rights_and_one_who_looks_after_people_stays() -> None:
    people = People(ListStore(), PlainPins(), Now())
    assert code_of(lambda: people.add("Ada", {Right.PEOPLE}, "4711")) == "first-needs-all"
    people.add(" Ada  Example ", ALL, "4711")
    assert [one.name for one in people.all()] == ["Ada Example"]
    people.add("Bo", (), "2580")
    for change in (
        lambda: people.retire("ada example"),
        lambda: people.set_rights("Ada Example", ALL - {Right.PEOPLE}),
    ):
        assert code_of(change) == "last-keeper"
    people.set_rights("Bo", {Right.PEOPLE})
    gone = people.retire("Ada Example")
    assert (gone.is_here, gone.rights, gone.pin) == (False, frozenset(), "")
    assert people.get("Ada Example") is None
    assert code_of(lambda: people.check("Ada Example", "4711")) == "wrong-pin"
    assert code_of(lambda: people.add("ADA  example", (), "4711")) == "person-exists"
    assert code_of(lambda: people.set_pin("Ada Example", "4711")) == "person-retired"
    assert code_of(lambda: people.set_pin("Zoe", "4711")) == "unknown-person"
    assert code_of(lambda: people.retire("Bo")) == "last-keeper"


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, "a\nb\x00", "Station"])
def test_what_is_no_name(name: str) -> None:
    assert code_of(lambda: kitchen_people().add(name, (), "4711")) == "bad-name"


def test_rights_have_names() -> None:
    assert rights_of(["ALL"]) == ALL == frozenset(ABOUT)
    assert rights_of(["correct", " Look after  people "]) == {Right.CORRECT, Right.PEOPLE}
    assert code_of(lambda: rights_of(["fly"])) == "unknown-right"


def test_another_pin_ends_the_waiting() -> None:
    people = kitchen_people()
    for _ in range(4):
        code_of(lambda: people.check("Cy", "0001"))
    people.set_pin("Cy", "3141")
    assert people.check("Cy", "3141").name == "Cy"


# --- kept -------------------------------------------------------------------------------------


def test_people_are_kept_beside_the_record_and_not_in_it(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.db"
    journal = open_journal(path, STATION)
    entries = Chain().whole_batch("kitchen-0001")
    journal.append(entries)
    book = journal.people()
    assert book.all() == ()
    ada = Person("Ada", ALL, "$argon2id$x", "2026-11-25T09:00:00.000Z")
    book.put(ada)
    later = Person("Bo", frozenset({Right.CORRECT}), "h", "2026-11-26T09:00:00.000Z", wrong=2)
    book.put(later)
    book.put(replace(ada, retired="2026-11-27T09:00:00.000Z"))
    journal.close()
    quiet = open_read_only(path, STATION)
    assert [one.name for one in quiet.people().all()] == ["Ada", "Bo"]
    assert quiet.people().all()[1] == later
    assert quiet.people().all()[0].retired
    assert list(quiet.entries()) == list(entries)
    with pytest.raises(JournalError):
        quiet.people().put(ada)
    quiet.close()


# --- the command line -------------------------------------------------------------------------


def ran(*args: str, stdin: str = "") -> Any:
    """The command in this process: its output, or the error it ends with."""
    done = CliRunner().invoke(app, ["people", *args], input=stdin)
    return done.exception if isinstance(done.exception, OperatorError) else done.output


def test_people_on_the_command_line(tmp_path: Path) -> None:
    (tmp_path / "weighd.toml").write_text('[station]\nname = "kitchen"\n')
    at = ("--config", str(tmp_path / "weighd.toml"))
    assert "everybody may do everything" in ran("list", *at)
    assert ran("add", "Ada", *at, stdin="1234\n").code == "bad-pin"
    assert ran("add", "Ada", *at, stdin="4711\n") == "Added. Ada: all rights.\n"
    bo = ran("add", "Bo", "--right", "correct", *at, stdin="2580\n")
    assert bo == "Added. Bo: correct.\n"
    assert ran("retire", "Ada", *at).code == "last-keeper"
    assert ran("rights", "Bo", "--right", "none", *at) == "Bo: no rights.\n"
    assert ran("pin", "Bo", *at, stdin="3141\n") == "Bo has another PIN.\n"
    assert ran("retire", "bo", *at).startswith("Bo: retired on ")
    assert ran("list", *at) == "1. Ada: all rights.\n"
    assert [it["name"] for it in json.loads(ran("list", "--retired", "--json", *at))] == [
        "Ada",
        "Bo",
    ]
    kept = (tmp_path / "weighd-data" / "weighd.db").read_bytes()
    assert b"$argon2id$" in kept
    assert b"4711" not in kept
    assert not re.search(r"--pin\b", ran("pin", "--help"))  # never as an argument
