"""What a daemon does with its key: lost, replaced, no key at all, read by others."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.forked import run
from tests.station.daemon import FORMULA, Served
from tests.station.test_moving import weigh
from tests.station.test_proving import recorded
from weighd.domain.errors import RecordError
from weighd.domain.keeping import KEY_CHANGED
from weighd.main.proving import verify_file
from weighd.storage.journal import open_journal, open_read_only
from weighd.storage.keys import KEY_FILE, read_station_key, station_key

STATION = recorded("plain")[0].station


@pytest.fixture(scope="module")
def signed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a station with a batch in its record that its key signed."""
    folder = tmp_path_factory.mktemp("signed") / "here"
    (folder / "formulas").mkdir(parents=True)
    (folder / "formulas" / "test-ice.toml").write_text(FORMULA)
    config = folder / "weighd.toml"
    config.write_text(
        f'[station]\nname = "{STATION}"\ndata = "data"\nformulas = "formulas"\n'
        f'[scales.bench]\ndriver = "serial"\nport = "{folder / "scale"}"\nmax_g = 6000\n'
    )
    open_journal(folder / "data" / "weighd.db", STATION).close()
    station_key(folder / "data" / KEY_FILE)
    weigh(config, "mill-0001")
    return folder


@pytest.fixture
def folder(signed: Path, tmp_path: Path) -> Path:
    """A copy of it, to do something to its key."""
    shutil.copytree(signed, tmp_path / "here")
    return tmp_path / "here"


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda key: key.chmod(0o644), "chmod 600"),
        (lambda key: key.chmod(0o620), "chmod 600"),
        (lambda key: key.write_bytes(b""), "no private key"),
        (lambda key: key.write_bytes(key.read_bytes()[:40]), "no private key"),
        (lambda key: (key.unlink(), key.mkdir(0o700)), "Is a directory"),
    ],
    ids=["read by others", "written by others", "empty", "cut off", "a folder"],
)
def test_a_key_that_cannot_be_used_keeps_the_station_from_starting(
    folder: Path, spoil: Callable[[Path], object], told: str
) -> None:
    database, key = folder / "data" / "weighd.db", folder / "data" / KEY_FILE
    public = read_station_key(key).key
    spoil(key)
    before = key.stat(), database.read_bytes()
    done = run("serve", "--config", folder / "weighd.toml", "--port", "0")
    assert (done.returncode, done.stdout) == (4, "")
    assert told in done.stderr
    assert str(key) in done.stderr
    assert "Traceback" not in done.stderr
    assert (key.stat().st_mode, key.stat().st_size) == (before[0].st_mode, before[0].st_size)
    assert database.read_bytes() == before[1], "and no other key is made, and nothing recorded"
    assert verify_file(database, [public]).report.signed == {public: 1}


@pytest.mark.parametrize("how", ["lost", "replaced"])
def test_another_key_is_told_recorded_and_verified_beside_the_old(folder: Path, how: str) -> None:
    config, database = folder / "weighd.toml", folder / "data" / "weighd.db"
    key = folder / "data" / KEY_FILE
    old = read_station_key(key).key
    key.unlink()
    if how == "replaced":
        station_key(key)
    with Served(config) as daemon:
        (notice,) = daemon.state()["station"]["notices"]
        assert notice["code"] == "key-changed"
        assert daemon.get("/api/health")["status"] in ("ok", "degraded")
        assert daemon.stop() == 0
    assert "another key than before" in daemon.log()
    new = read_station_key(key).key
    assert new != old
    assert key.stat().st_mode & 0o777 == 0o600
    weigh(config, "mill-0002")
    journal = open_read_only(database)
    (told,) = journal.newest(KEY_CHANGED)
    journal.close()
    assert (told.body["before"], told.body["key"]) == (old, new)
    assert verify_file(database, [old, new]).report.signed == {old: 1, new: 1}
    with pytest.raises(RecordError) as caught:  # who trusts the old one alone is told of the new
        verify_file(database, [old])
    assert caught.value.code == "wrong-key"
    # The new one signs for all that the chain has before it.
    assert verify_file(database, [new]).report.unsigned == 1
    shown = run("verify", database, "--key", old)
    assert (shown.returncode, shown.stdout) == (1, "")
    assert "key" in shown.stderr


def test_without_anything_signed_a_new_key_is_nothing_to_tell(folder: Path) -> None:
    for one in (folder / "data").iterdir():
        one.unlink()
    with Served(folder / "weighd.toml") as daemon:
        assert daemon.state()["station"]["notices"] == []
        assert daemon.stop() == 0
    assert (folder / "data" / KEY_FILE).stat().st_mode & 0o777 == 0o600
