"""Revisions of the tables: old records are brought up to date, once, and only when needed."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import create_engine
from sqlalchemy.pool import NullPool

from tests.storage.entries import STATION, Chain, intact
from weighd.domain.errors import JournalError
from weighd.storage import migrate, schema, sqlite
from weighd.storage.journal import SqlJournal, open_journal, open_read_only

REPOSITORY = Path(__file__).parents[2]
DATABASES = REPOSITORY / "fixtures" / "databases"


def schema_of(path: Path) -> list[tuple[object, ...]]:
    """The schema as the database understands it, whatever words made it."""
    with closing(sqlite3.connect(path)) as connection:
        out: list[tuple[object, ...]] = []
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        for (table,) in sorted(tables.fetchall()):
            out.append((table,))
            for pragma in ("table_xinfo", "foreign_key_list"):
                out += connection.execute(f"PRAGMA {pragma}('{table}')").fetchall()
            indexes = connection.execute(f"PRAGMA index_list('{table}')").fetchall()
            for index in sorted(one[1:] for one in indexes):
                out.append((*index, *connection.execute(f"PRAGMA index_xinfo('{index[0]}')")))
        views = "SELECT name, sql FROM sqlite_master WHERE type = 'view' ORDER BY name"
        return out + connection.execute(views).fetchall()


def migrated(path: Path, scripts: Path | None = None) -> None:
    engine = create_engine(f"sqlite:///{path}", poolclass=NullPool)
    with engine.begin() as connection:
        migrate.upgrade(connection, scripts)


def test_a_migrated_database_is_a_fresh_one(path: Path, tmp_path: Path) -> None:
    open_journal(path, STATION).close()
    migrated(tmp_path / "migrated.db")
    assert schema_of(tmp_path / "migrated.db") == schema_of(path)


def test_the_revisions_we_know_are_the_migrations_there_are() -> None:
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(str(migrate.SCRIPTS))
    assert scripts.get_current_head() == schema.REVISIONS[-1]
    assert [one.revision for one in scripts.walk_revisions()][::-1] == list(schema.REVISIONS)


@pytest.fixture
def with_a_later_revision(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A weighd that knows one revision more."""
    scripts = tmp_path / "migrations 100%"
    shutil.copytree(migrate.SCRIPTS, scripts, ignore=shutil.ignore_patterns("__pycache__"))
    later = scripts / "versions" / "later.py"
    later.write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f"revision, down_revision = 'later', '{schema.REVISIONS[-1]}'\n"
        "def upgrade():\n    op.add_column('batch', sa.Column('note', sa.Text))\n"
    )
    monkeypatch.setattr(migrate, "SCRIPTS", scripts)
    monkeypatch.setattr(schema, "REVISIONS", (*schema.REVISIONS, "later"))
    return later


def test_an_older_record_is_brought_up_to_date(
    journal: SqlJournal, path: Path, with_a_later_revision: Path
) -> None:
    chain = Chain()
    journal.append(chain.whole_batch("kitchen-0001"))
    before = list(journal.entries())
    journal.close()
    with pytest.raises(JournalError) as caught:
        open_read_only(path, STATION)
    assert caught.value.code == "store-older"
    upgraded = open_journal(path, STATION)
    assert list(upgraded.entries()) == before
    upgraded.append([chain.opening("kitchen-0002")])
    upgraded.close()
    assert sqlite.look(path) == "later"
    assert any("note" in row for row in schema_of(path))


@pytest.fixture(params=sorted(one.stem for one in DATABASES.glob("*.sql")))
def older(request: pytest.FixtureRequest, path: Path) -> Path:
    """A database as the weighd of an older revision made it, with a batch in it."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((DATABASES / f"{request.param}.sql").read_text("utf-8"))
    assert sqlite.look(path) == request.param
    return path


def test_every_older_revision_has_a_database_to_try_it_on() -> None:
    assert {one.stem for one in DATABASES.glob("*.sql")} == set(schema.REVISIONS[:-1])


def test_a_database_of_an_older_weighd_is_brought_up_to_date(older: Path, tmp_path: Path) -> None:
    open_journal(tmp_path / "fresh.db", STATION).close()
    journal = open_journal(older, STATION)
    entries = list(journal.entries())
    assert intact(entries)
    assert entries == list(Chain().whole_batch("kitchen-0001"))
    assert journal.batches()[0].status == "closed"
    assert journal.learned().all() == {}
    assert journal.vessels().all() == ()
    assert [one.g for one in journal.uses_in_batches(["kitchen-0001"])] == [Decimal("500.10")] * 2
    before = journal.uses_in_batches(["kitchen-0001"]), journal.drawn()
    assert journal.rebuild_batches() == 1  # what the migration drew is what we draw
    assert (journal.uses_in_batches(["kitchen-0001"]), journal.drawn()) == before
    journal.close()
    assert sqlite.look(older) == schema.REVISIONS[-1]
    assert schema_of(older) == schema_of(tmp_path / "fresh.db")


def test_a_database_whose_record_is_the_same_is_read_as_it_stands(older: Path) -> None:
    """A copy that was put away is verified and exported without being touched."""
    before = older.read_bytes()
    journal = open_read_only(older, STATION)
    assert list(journal.entries()) == list(Chain().whole_batch("kitchen-0001"))
    assert journal.learned().all() == {}
    assert journal.vessels().all() == ()
    journal.close()
    assert older.read_bytes() == before


def test_a_migration_that_fails_leaves_the_record_as_it_was(
    journal: SqlJournal, path: Path, with_a_later_revision: Path
) -> None:
    journal.append(Chain().whole_batch("kitchen-0001"))
    journal.close()
    before, revision = schema_of(path), sqlite.look(path)
    good = with_a_later_revision.read_text()
    with_a_later_revision.write_text(good + "    op.execute('SELECT no_such_function()')\n")
    with pytest.raises(JournalError) as caught:
        open_journal(path, STATION)
    assert caught.value.code == "store-failed"
    assert sqlite.look(path) == revision
    assert schema_of(path) == before
    with_a_later_revision.write_text(good)
    upgraded = open_journal(path, STATION)
    assert upgraded.tail().seq == 4
    upgraded.close()


def test_opening_does_not_load_the_migration_tool(path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from weighd.storage.journal import open_journal\n"
        "for _ in range(2): open_journal(Path(sys.argv[1]), 'kitchen').close()\n"
        "print(sorted(one for one in sys.modules if one.startswith(('alembic', 'mako'))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"
