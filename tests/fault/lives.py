"""Lives of a station that are ended by SIGKILL, and what is left after each. Run under the shim.

``lives.py named FOLDER``              at every named point in turn, each life going on from the
                                       one before;
``lives.py any FOLDER COUNT SEED``     at any call to the disk, so many times;
``lives.py backup FOLDER STRIDE``      a copy being made, at every so many-th call to the disk;
``lives.py restore FOLDER STRIDE``     a copy being put back, likewise;
``lives.py migrate FOLDER STRIDE``     an old record being brought up to date, likewise;
``lives.py power FOLDER EACH SEED``    the power goes, and what was not synced is lost in part.
"""

from __future__ import annotations

import ctypes
import errno
import os
import random
import shutil
import signal
import sqlite3
import sys
import traceback
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

from tests.fault.power import Disk, Left, acts
from tests.fault.real_kitchen import DATABASE, STATION, Kitchen, drawn_tables, finished, sound
from tests.storage.entries import intact
from weighd.domain.errors import JournalError
from weighd.main.backing_up import back_up, put_back
from weighd.main.proving import verify_file
from weighd.storage import copies
from weighd.storage.journal import open_journal
from weighd.storage.keys import KEY_FILE
from weighd.storage.sqlite import look, quietly

REPOSITORY = Path(__file__).parents[2]
#: Evenings in which every named point comes by at least once.
EVENINGS = 1
#: A random life ends within so many calls to the disk; an evening has some 500, and the making of a
#: new record more than one such life.
MOST_CALLS, MAKING_CALLS = 150, 900
#: Invented: what a key is sealed with.
_WORDS = "twelve eggs"


def ended(life: Callable[[Callable[[str], None]], None]) -> tuple[bool, list[str]]:
    """Let a life go on until it ends; whether it was killed, and what it had said by then."""
    said, say = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        try:
            life(lambda line: (os.write(say, f"{line}\n".encode()), None)[1])
        except BaseException:  # noqa: BLE001  (nothing above may run twice)
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    os.close(say)
    with os.fdopen(said) as heard:
        lines = heard.read().splitlines()
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    assert killed or status == 0, f"a life ended with {status}"
    return killed, lines


def kill_at_call(n: int) -> None:
    """End this process at the n-th call to the disk from now on."""
    ctypes.CDLL(None).disk_kill(ctypes.c_long(n))


def named(folder: Path) -> None:
    """Every named point ends a life, the first time that it comes by."""
    died: set[str] = set()
    told: dict[str, int] = {}
    killed = True

    def life(say: Callable[[str], None]) -> None:
        def point(name: str) -> None:
            if name not in died:
                say(f"died\t{name}")
                os.kill(os.getpid(), signal.SIGKILL)

        kitchen = Kitchen(folder, point, lambda key, seq: say(f"told\t{key}\t{seq}"))
        for n in range(EVENINGS):
            kitchen.evening(n)
        kitchen.real.close()
        point("closed")

    while killed:
        killed, lines = ended(life)
        died |= {one.split("\t")[1] for one in lines if one.startswith("died")}
        told |= _told(lines)
        if (folder / DATABASE).exists():
            sound(folder / DATABASE, told)
    finished(folder, told, EVENINGS)
    print("points", len(died), "told", len(told))


def anywhere(folder: Path, count: int, seed: int) -> None:
    """Lives of random length, over as many evenings as it takes."""
    chance, told, kills, evening = random.Random(seed), dict[str, int](), 0, 0
    opened = 0
    while kills < count:
        there = (folder / DATABASE).exists() and look(folder / DATABASE) is not None
        at = chance.randint(1, MOST_CALLS if there else MAKING_CALLS)
        opened += there

        def life(say: Callable[[str], None], at: int = at) -> None:
            kill_at_call(at)
            kitchen = Kitchen(folder, lambda _: None, lambda key, seq: say(f"told\t{key}\t{seq}"))
            kitchen.evening(evening)  # noqa: B023  (it ends before the next)
            kitchen.real.close()

        killed, lines = ended(life)
        told |= _told(lines)
        kills += killed
        evening += not killed
        if (folder / DATABASE).exists():
            sound(folder / DATABASE, told)
    kitchen = Kitchen(folder, lambda _: None, told.__setitem__)
    kitchen.evening(evening)
    kitchen.real.close()
    finished(folder, told, evening + 1)
    print("kills", kills, "opened", opened, "evenings", evening + 1, "told", len(told))


def backup(folder: Path, stride: int) -> None:
    """A copy that was cut short is none, and hurts nobody."""
    config, kitchen = _kitchen(folder)
    into, ends, at, killed = folder / "copies", 0, 1, True
    while killed:

        def life(say: Callable[[str], None], at: int = at) -> None:
            kill_at_call(at)
            back_up(config, into, keep=None, passphrase=_WORDS)
            say("made")

        killed, said = ended(life)
        ends += killed
        whole = copies.copies(into, STATION) if into.exists() else []
        assert len(whole) >= len(said)
        for one in whole:
            copies.check(one)
            verify_file(one.folder / copies.DATABASE)
        shutil.rmtree(into, ignore_errors=True)
        at += stride
    sound(folder / "data" / DATABASE, {})
    kitchen.real.close()
    print("kills", ends)


def restore(folder: Path, stride: int) -> None:
    """A station that was put back in part is none, and is put back by asking once more."""
    config, kitchen = _kitchen(folder)
    kitchen.real.close()
    (folder / "formulas" / "ice.toml").write_text("# nothing yet")
    copy = back_up(config, folder / "copies", keep=None, passphrase=_WORDS).copy.folder
    ends, at, killed = 0, 1, True
    while killed:
        new = folder / f"new-{at}"
        record = new / "data" / DATABASE

        def life(_: Callable[[str], None], at: int = at, new: Path = new) -> None:
            kill_at_call(at)
            put_back(copy, new, _WORDS)

        killed, _ = ended(life)
        ends += killed
        if not record.exists():
            assert killed
            put_back(copy, new, _WORDS)
        verify_file(record)
        left = sorted(str(one.relative_to(new)) for one in new.rglob("*") if one.is_file())
        assert left == [f"data/{KEY_FILE}", f"data/{DATABASE}", "formulas/ice.toml", config.name]
        same = (folder / "data" / KEY_FILE).read_bytes()
        assert record.with_name(KEY_FILE).read_bytes() == same
        shutil.rmtree(new)
        at += stride
    print("kills", ends)


def _kitchen(folder: Path) -> tuple[Path, Kitchen]:
    """A configured station after an evening, still open: its configuration, and it."""
    config = folder / "weighd.toml"
    config.write_text(f'[station]\nname = "{STATION}"\ndata = "data"\nformulas = "formulas"\n')
    (folder / "formulas").mkdir()
    (folder / "data").mkdir()
    kitchen = Kitchen(folder / "data", lambda _: None, lambda *_: None)
    kitchen.evening(0)  # it goes on beside: a copy is made of a record that is open
    return config, kitchen


def migration(folder: Path, stride: int) -> None:
    """An old record is as it was, or is up to date, and nothing of it is lost."""
    ready = folder / "ready.db"
    with closing(sqlite3.connect(ready)) as made:
        made.execute("PRAGMA journal_mode = WAL")
        made.executescript((REPOSITORY / "fixtures/databases/0001.sql").read_text("utf-8"))
    station = _station(ready)
    was = [tuple(one) for one in _rows(ready)]
    again = folder / "again.db"
    shutil.copy(ready, again)
    journal = open_journal(again, station)
    right = drawn_tables(journal)
    journal.close()
    ends, at, killed = 0, 1, True
    while killed:
        one = folder / f"{at}" / DATABASE
        one.parent.mkdir()
        shutil.copy(ready, one)

        def life(_: Callable[[str], None], at: int = at, one: Path = one) -> None:
            kill_at_call(at)
            open_journal(one, station).close()

        killed, _ = ended(life)
        ends += killed
        assert look(one) in ("0001", look(again)), f"call {at}: half way"
        assert [tuple(row) for row in _rows(one)] == was, f"call {at}: the record changed"
        journal = open_journal(one, station)
        assert intact(list(journal.entries()))
        assert drawn_tables(journal) == right, f"call {at}"
        journal.close()
        shutil.rmtree(one.parent)
        at += stride
    print("kills", ends)


def power(folder: Path, each: int, seed: int) -> None:
    """The power goes at any moment of an evening; what the disk may hold then is opened again.

    In the evening a life is killed, and a sync fails once, before it is over.
    """
    chance, place, log = random.Random(seed), folder / "evening", folder / "log"
    place.mkdir()

    def life(_: Callable[[str], None], end: str = "") -> None:
        disk = ctypes.CDLL(None)
        disk.disk_log(os.fsencode(log), os.fsencode(place))

        def point(name: str) -> None:
            if name == end:
                os.kill(os.getpid(), signal.SIGKILL)
            disk.disk_fail(errno.EIO if name == "begin step: told" and end == "" else 0)

        def told(key: str, seq: int) -> None:
            disk.disk_mark(f"{key}\t{seq}".encode())

        kitchen = Kitchen(place, point, told)
        with suppress(JournalError):
            kitchen.evening(0)
        disk.disk_fail(0)
        kitchen.evening(0)
        kitchen.real.close()

    ended(lambda say: life(say, "lot named: durable, nobody told"))
    ended(life)
    disk, seen, opened = Disk(chance, each), set[tuple[int, bool]](), 0
    where = folder / "left"
    for act in (*acts(log, place), None):
        for left in disk.end() if act is None else disk.take(*act):
            opened += 1
            try:
                _stands(where, left, seen)
            except BaseException:
                print(left.how, file=sys.stderr)
                raise
    finished(place, disk.told, EVENINGS)
    print("acts", disk.acts, "opened", opened, "told", len(disk.told))


def _stands(where: Path, left: Left, seen: set[tuple[int, bool]]) -> None:
    """A disk after a cut: it opens, and all that was told is there; the rest is whole."""
    shutil.rmtree(where, ignore_errors=True)
    where.mkdir()
    for name, data in left.files.items():
        (where / name).write_bytes(data)
        (where / name).chmod(0o600)
    journal = open_journal(where / DATABASE, STATION)
    entries = list(journal.entries())
    assert intact(entries)
    keyed = {one.body["key"]: one.seq for one in entries if one.body.get("key")}
    assert left.told.items() <= keyed.items(), f"lost: {left.told.items() - keyed.items()}"
    stood = drawn_tables(journal)
    journal.rebuild_batches()
    assert drawn_tables(journal) == stood
    journal.close()
    signed = (where / KEY_FILE).exists()
    if (len(entries), signed) not in seen:  # signatures and verdicts, once for each length
        seen.add((len(entries), signed))
        sound(where / DATABASE, left.told)


def _rows(path: Path) -> list[tuple[object, ...]]:
    wanted = "SELECT station, seq, body, hash FROM entry ORDER BY seq"
    return quietly(path, lambda connection: list(connection.execute(wanted)))


def _station(path: Path) -> str:
    return str(_rows(path)[0][0])


def _told(lines: list[str]) -> dict[str, int]:
    told = (one.split("\t")[1:] for one in lines if one.startswith("told"))
    return {key: int(seq) for key, seq in told}


if __name__ == "__main__":
    what, place, *more = sys.argv[1:]
    how: dict[str, Callable[..., None]] = {
        "named": named,
        "any": anywhere,
        "backup": backup,
        "restore": restore,
        "migrate": migration,
        "power": power,
    }
    how[what](Path(place), *map(int, more))
