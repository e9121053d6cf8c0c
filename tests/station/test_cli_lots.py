"""``weighd lots`` and ``weighd trace``: at a station that runs, and out of its database."""

from __future__ import annotations

import csv
import json
from pathlib import Path

from pypdf import PdfReader

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK, Cook, Served, kitchen


def test_goods_from_the_door_to_a_recall(tmp_path: Path) -> None:
    config = kitchen(tmp_path)
    with PtyScale(tmp_path / "scale", QUICK) as scale, Served(config) as daemon:
        at = ("--by", "Ada", "--url", daemon.address)
        done = run(
            "lots", "receive", "milk", "2 kg", "--supplier", "Invented Dairy",
            "--supplier-lot", "M-17", "--use-by", "2099-01-01", "--temperature", "4", *at,
        )  # fmt: skip
        assert (done.returncode, done.stdout, done.stderr) == (0, "Lot R-0001.\n", "")
        run("lots", "receive", "milk", "5 kg", "--use-by", "2001-01-01", *at)
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        assert cook.refused("name lot", lot="R-0002") == "lot-expired"
        cook.do("name lot", lot="M-17")  # by the supplier's own code
        cook.fill(1)
        cook.judged()
        cook.do("accept")
        wrong = run("lots", "receive", "gold", "1 kg", *at)
        assert (wrong.returncode, wrong.stdout) == (2, "")
        assert 'No ingredient is called "gold"' in wrong.stderr
        opened = run("lots", "open", "R-0001", "--keeps-days", "3", *at)
        assert "opened 20" in opened.stdout
        blocked = run("lots", "block", "R-0002", "--reason", "too old", *at)
        assert "BLOCKED: too old" in blocked.stdout
        assert (
            run("lots", "release", "R-0002", "--reason", "to be thrown away", *at).returncode == 0
        )
        gone = run("lots", "waste", "R-0002", "5 kg", "--reason", "too old", *at)
        assert ": 0 g left of 5000 g" in gone.stdout
        assert run("lots", "used-up", "R-0002", *at).returncode == 0
    # All the rest is read without a station.
    used = ("--config", config)
    listed = run("lots", "list", *used).stdout
    assert listed.startswith("R-0001       Milk: 1")
    assert "R-0002" not in listed
    assert "R-0002" in run("lots", "list", "--gone", *used).stdout
    assert json.loads(run("lots", "list", "dairy", "--json", *used).stdout)[0]["lot"] == "R-0001"
    assert "lot received: Ada" in run("lots", "show", "M-17", *used).stdout
    told = run("trace", "R-0001", "--drill", *used)
    assert told.returncode == 0
    assert "kitchen-0001: 49" in told.stdout or "kitchen-0001: 50" in told.stdout
    assert "Mock recall: 1 batch found in " in told.stdout
    assert "Nobody counted what is left" in told.stdout
    label = tmp_path / "label.svg"
    done = run("lots", "label", "R-0001", "--out", label, *used)
    assert (done.returncode, done.stdout) == (0, f"{label}: Milk, R-0001\n")
    assert ">Use by<" in label.read_text("utf-8")
    assert run("lots", "label", "kitchen-0001", "--out", label, *used).returncode == 2  # not whole
    assert run("lots", "label", "never", "--out", label, *used).returncode == 2
    pdf = tmp_path / "labels.pdf"
    asked = ("lots", "label", "R-0001", "--out", pdf, "--copies", "5")
    done = run(*asked, "--size", "62x40 on 210x297", *used)
    assert (done.returncode, done.stdout) == (0, f"{pdf}: Milk, R-0001, 5 labels\n")
    assert "5 of 5" in PdfReader(pdf).pages[0].extract_text()
    refused = run(*asked, "--size", "A4", *used)
    assert (refused.returncode, "write it in mm like 62x40" in refused.stderr) == (2, True)
    sheet = tmp_path / "recall.csv"
    assert run("trace", "kitchen-0001", "--csv", sheet, *used).returncode == 0
    rows = list(csv.reader(sheet.open(encoding="utf-8", newline="")))
    assert [row[2] for row in rows[1:]] == ["kitchen-0001", "R-0001"]
    paper = tmp_path / "recall.pdf"
    done = run("trace", "M-17", "--drill", "--format", "pdf", "-o", paper, *used)
    assert (done.returncode, done.stderr) == (0, "")
    assert "A drill" in PdfReader(paper).pages[0].extract_text()
    assert "with --out" in run("trace", "M-17", "--format", "pdf", *used).stderr
    as_json = json.loads(run("trace", "M-17", "--json", *used).stdout)
    assert as_json["known"]["lot"] == "R-0001"
    for gone_too in (("trace", "never"), ("lots", "show", "never")):
        unknown = run(*gone_too, *used)
        assert (unknown.returncode, unknown.stdout) == (2, "")
        assert "was received here" in unknown.stderr
    verified = run("verify", next((tmp_path / "data").glob("*.db")))
    assert verified.returncode == 0
    assert "2 lots follow from entries" in verified.stdout


def test_a_recall_that_does_not_add_up_says_so(tmp_path: Path) -> None:
    config = kitchen(tmp_path)
    with PtyScale(tmp_path / "scale", QUICK), Served(config) as daemon:
        at = ("--by", "Ada", "--url", daemon.address)
        run("lots", "receive", "milk", "2 kg", *at)
        run("lots", "count", "R-0001", "1.9 kg", "--reason", "counted", *at)
        missing = run("trace", "R-0001", "--drill", "--config", config)
    assert missing.returncode == 1
    assert "Counts found 100 g missing" in missing.stdout
    assert "does not add up" in missing.stdout
