"""``weighd export``: sheets, tables and the schema, as the command line writes them."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.forked import run
from tests.json_schemas import held_to
from tests.reports.records import golden
from tests.station.test_proving import recorded, renumbered
from weighd.domain.record import Tail
from weighd.main.tables import NAMES
from weighd.storage.journal import open_journal
from weighd.storage.keys import KEY_FILE, station_key


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station's database with three signed batches, opened on one day."""
    folder = tmp_path_factory.mktemp("data")
    journal = open_journal(folder / "weighd.db", "mill")
    journal.signer = station_key(folder / KEY_FILE)
    tail = Tail()
    for n, session in enumerate(("plain", "over-pour", "abandoned"), start=1):
        for one in renumbered(recorded(session), tail, f"mill-{n:04d}"):
            journal.append([one])
            tail = Tail(one.seq, one.hash)
    journal.close()
    return folder / "weighd.db"


def export(database: Path, *arguments: object) -> Any:
    return run("export", *map(str, arguments), "--database", str(database))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_a_batch_as_a_sheet(database: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    done = export(database, "mill-0001", "--format", "pdf", "--out", out)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == f"{out}: the record sheet of batch mill-0001\n"
    text = PdfReader(out).pages[0].extract_text()
    assert "Batch mill-0001, closed" in text
    assert "by the key" in text


def test_a_sheet_of_a_batch_that_was_changed_says_so_and_exits_1(
    database: Path, tmp_path: Path
) -> None:
    copy, out = tmp_path / "weighd.db", tmp_path / "sheet.pdf"
    shutil.copy(database, copy)
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute("UPDATE entry SET body = replace(body, '224.5', '212.5') WHERE seq = 7")
        connection.commit()
    done = export(copy, "mill-0001", "--format", "pdf", "--out", out)
    assert done.returncode == 1
    assert "entry 7" in done.stderr
    assert "does not hold." in PdfReader(out).pages[0].extract_text()


def test_a_record_that_was_exported_makes_sheet_and_table_without_a_database(
    database: Path, tmp_path: Path
) -> None:
    kept, out = tmp_path / "kept.json", tmp_path / "sheet.pdf"
    export(database, "mill-0001", "--out", kept)
    done = run("export", kept, "--format", "pdf", "--out", out)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Batch mill-0001, closed" in PdfReader(out).pages[0].extract_text()
    table = run("export", kept, "--format", "csv")
    assert table.stdout == export(database, "mill-0001", "--format", "csv").stdout
    document = json.loads(kept.read_text("utf-8"))
    document["entries"][6]["body"]["net_g"] = "1"
    kept.write_text(json.dumps(document), "utf-8")
    assert run("export", kept, "--format", "pdf", "--out", out).returncode == 1
    assert "does not hold." in PdfReader(out).pages[0].extract_text()
    for text in ("{}", "[]", "nonsense", '{"weighd_record": 1, "entries": []}'):
        kept.write_text(text, "utf-8")
        done = run("export", kept, "--format", "pdf", "--out", tmp_path / "none.pdf")
        assert (done.returncode, done.stdout) == (1, "")
        assert not (tmp_path / "none.pdf").exists()
    assert "already" in run("export", kept).stderr


def test_a_batch_as_a_table(database: Path, tmp_path: Path) -> None:
    done = export(database, "mill-0001", "--format", "csv")
    assert done.returncode == 0
    found = rows(done.stdout)
    assert [one["net_g"] for one in found] == ["450.8", "224.5", "171.0", "61.2", "1.9", "2.6"]
    out = tmp_path / "table.csv"
    done = export(database, "mill-0001", "--format", "csv", "--out", out)
    assert done.stdout == f"{out}: 6 additions\n"
    assert rows(out.read_bytes().decode("utf-8")) == found


def test_all_batches_and_those_of_some_days(database: Path) -> None:
    done = export(database, "--all", "--format", "csv")
    assert [one["batch"] for one in rows(done.stdout)] == ["mill-0001"] * 6 + ["mill-0002"] * 5
    day = ("--from", "2026-11-26", "--to", "2026-11-26")
    assert export(database, "--all", *day, "--format", "csv").stdout == done.stdout
    later = export(database, "--all", "--from", "2026-11-27", "--format", "csv")
    assert (later.returncode, "no batch in those days" in later.stderr) == (1, True)
    before = export(database, "--all", "--to", "2026-11-25", "--format", "csv")
    assert before.returncode == 1


def test_all_batches_as_parquet(database: Path, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="the extra parquet is not installed")
    out = tmp_path / "all.parquet"
    done = export(database, "--all", "--format", "parquet", "--out", out)
    assert (done.returncode, done.stdout) == (0, f"{out}: 11 additions\n")
    assert parquet.read_table(out).num_rows == 11


def test_other_tables_one_at_a_time_and_all_into_a_folder(database: Path, tmp_path: Path) -> None:
    folder = tmp_path / "tables"
    done = export(database, "--all", "--format", "csv", "--table", "all", "--out", folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert f"{folder / 'batches.csv'}: 3 rows\n" in done.stdout
    assert {one.name for one in folder.iterdir()} == {f"{one}.csv" for one in NAMES}
    one = export(database, "--all", "--format", "csv", "--table", "batches")
    assert one.stdout == (folder / "batches.csv").read_bytes().decode("utf-8")
    assert [it["status"] for it in rows(one.stdout)] == ["closed", "closed", "abandoned"]
    assert all(len(it["signed_by"]) == 64 for it in rows(one.stdout))
    alone = export(database, "mill-0003", "--format", "csv", "--table", "deviations")
    assert "batch abandoned" in [it["kind"] for it in rows(alone.stdout)]
    file = tmp_path / "file"
    file.write_text("x")
    done = export(database, "--all", "--format", "csv", "--table", "all", "--out", file)
    assert (done.returncode, "folder cannot be made" in done.stderr) == (2, True)


def test_the_schema_and_a_record_that_fits_it(database: Path, tmp_path: Path) -> None:
    out = tmp_path / "schema.json"
    assert run("export", "--schema", "--out", str(out)).returncode == 0
    validator = held_to(json.loads(out.read_text("utf-8")))
    assert json.loads(run("export", "--schema").stdout) == validator.schema
    document = json.loads(export(database, "mill-0002").stdout)
    assert "signatures" in document
    assert not list(validator.iter_errors(document))


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "Name a batch, or ask for --all"),
        (("mill-0001", "--all", "--format", "csv"), "not both"),
        (("--all",), "only csv and parquet"),
        (("--all", "--format", "pdf"), "only csv and parquet"),
        (("mill-0001", "--format", "xml"), "json, csv, pdf, parquet"),
        (("mill-0001", "--format", "csv", "--from", "2026-11-26"), "belong to --all"),
        (("mill-0001", "--format", "csv", "--proof"), "json only"),
        (("mill-0001", "--schema"), "leave the batch out"),
        (("mill-0001", "--table", "batches"), "goes with --format csv"),
        (("mill-0001", "--format", "csv", "--table", "lots"), "of no batch"),
        (("mill-0001", "--format", "csv", "--table", "all"), "into a folder"),
        (("mill-0001", "--format", "csv", "--table", "x"), "one of weighings"),
        (("--all", "--format", "csv", "--from", "26.11."), "not a day"),
        (("--all", "--format", "csv", "--from", "2026-12-01", "--to", "2026-11-01"), "comes after"),
        (("mill-0001", "--format", "parquet"), "Name a file with --out"),
        (("mill-0001", "--format", "csv", "--out", "/nowhere/x.csv"), "cannot be written"),
        (("mill-0001", "--format", "pdf", "--out", "/nowhere/x.pdf"), "cannot be written"),
        (("mill-0001", "--format", "parquet", "--out", "/nowhere/x.parquet"), "cannot be written"),
    ],
)
def test_what_does_not_go_together_is_told(
    database: Path, arguments: tuple[str, ...], told: str
) -> None:
    done = export(database, *arguments)
    assert done.returncode == 2
    assert told in " ".join(done.stderr.replace("│", " ").split())


@pytest.mark.parametrize("form", ["json", "csv", "pdf"])
def test_a_batch_that_is_not_there(database: Path, form: str) -> None:
    done = export(database, "mill-0099", "--format", form, "--out", "/tmp/never")
    assert done.returncode == 1
    assert "There is no batch mill-0099." in done.stderr
    assert not Path("/tmp/never").exists()


def test_what_draws_is_imported_only_when_something_is_drawn() -> None:
    import subprocess

    asked = (
        "import sys, weighd.main.daemon, weighd.main.outputs, weighd.cli.export\n"
        "print([one for one in ('typst', 'segno', 'pyarrow', 'weighd.reports.sheet')"
        " if one in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_words_of_a_record_survive_the_terminal(database: Path) -> None:
    """As bytes, in UTF-8, whatever the terminal takes."""
    done = export(database, "mill-0003", "--format", "csv")
    assert done.stdout.startswith("station,batch,")
    assert golden("abandoned")["batch"] == "mill-0001"
