"""``weighd yield``: at a station that runs, out of its database, and of an export."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, QUICK, Cook, Served, kitchen

FACTS = """
[ingredients.milk]
name = "Milk"
cost_per_kg = "1.20"
[ingredients.milk.composition]
water = 87.5
fat = 3.5
msnf = 9
[ingredients.sugar]
name = "Sugar"
cost_per_kg = "1.50"
[ingredients.sugar.composition]
sugars = { sucrose = 100 }
[ingredients.salt]
name = "Salt"
cost_per_kg = "0.80"
[ingredients.salt.composition]
salt = 100
"""


def test_a_batch_is_drawn_shown_put_right_and_verified(tmp_path: Path) -> None:
    config = kitchen(tmp_path)
    formula = tmp_path / "formulas" / "test-ice.toml"
    lines = formula.read_text().splitlines()
    plain = [one for one in lines if not one.startswith(("[ingr", "milk", "sugar", "salt"))]
    formula.write_text("\n".join((*plain, FACTS)))
    with (
        PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale,
        Served(config, speed=FAST) as daemon,
    ):
        cook = Cook(daemon, scale)
        cook.start()
        open_ = run(
            "yield", "kitchen-0001", "--draw", "1kg", "--config", config, "--url", daemon.address
        )
        assert (open_.returncode, open_.stdout) == (2, "")
        assert "still being weighed" in open_.stderr
        cook.weigh_all()
        at = ("--url", daemon.address)
        done = run(
            "yield", "kitchen-0001", "--draw", "300g/0.35L", "--draw", "330 g/400mL",
            "--portions", "8", "--left", "5g", "--by", "Ada", *at,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, "")
        assert "Draw 1: 300g, 0.35L. Overrun " in done.stdout
        assert "Draw 2: 330 g, 400mL, 5g left over, 8 portions. Overrun " in done.stdout
        assert "Portions: 8, 78.8 g or 93.8 mL each." in done.stdout
        assert "Cost: all of it " in done.stdout
        wrong = run("yield", "kitchen-0001", "--correct", "2", "--draw", "320g", *at)
        assert (wrong.returncode, wrong.stdout) == (2, "")
        assert "say why" in wrong.stderr
        right = run(
            "yield", "kitchen-0001", "--correct", "2", "--draw", "320g", "--reason", "misread", *at
        )
        assert "Draw 2: 320g. No overrun: no volume." in right.stdout
        assert right.returncode == 0
    # Nothing is recorded without a station, and everything is still there.
    gone = run("yield", "kitchen-0001", "--draw", "1g", "--config", config, *at)
    assert gone.returncode == 2
    assert "No station answers there." in gone.stderr
    kept = json.loads(run("yield", "kitchen-0001", "--json", "--config", config).stdout)
    assert [one["weight"]["typed"] for one in kept["draws"]] == ["300g", "320g"]
    assert kept["cost"]["known"]
    table = run("yield", "kitchen-0001", "--csv", "--config", config).stdout.splitlines()
    rows = list(csv.DictReader(table))
    assert [(one["draw"], one["weight_typed"], one["weight_g"]) for one in rows] == [
        ("1", "300g", "300"),
        ("2", "320g", "320"),
    ]
    export = tmp_path / "batch.json"
    assert run("export", "kitchen-0001", "--out", export, "--config", config).returncode == 0
    of_export = json.loads(run("yield", export, "--json").stdout)
    assert of_export["draws"] == kept["draws"]
    assert run("verify", export).returncode == 0
    database = next((tmp_path / "data").glob("*.db"))
    assert run("verify", database).returncode == 0
    spoilt = json.loads(export.read_text())
    spoilt["entries"][-1]["body"]["weight"]["g"] = "500"
    export.write_text(json.dumps(spoilt))
    assert run("verify", export).returncode == 1


@pytest.mark.parametrize(
    ("given", "where"),
    [
        (("--draw", "12g/13g"), "--draw"),
        (("--draw", "/"), "--draw"),
        (("--containers", "4*350mL"), "--containers"),
        (("--containers", "٤x350mL"), "--containers"),
        (("--cup", "110g"), "--cup"),
        (("--sample", "1g/2mL/3"), "--sample"),
        (("--correct", "1", "--draw", "1g", "--draw", "2g"), "--draw"),
    ],
)
def test_what_cannot_be_read_is_refused_before_anything_is_sent(
    given: tuple[str, ...], where: str
) -> None:
    done = run("yield", "kitchen-0001", *given, "--url", "http://127.0.0.1:9")
    assert (done.returncode, done.stdout) == (2, "")
    assert f"{where}: " in done.stderr or where in done.stderr


def test_of_what_is_no_batch(tmp_path: Path) -> None:
    file = tmp_path / "x.json"
    file.write_text("[]")
    done = run("yield", file)
    assert done.returncode == 1
    assert "not an as-weighed record" in done.stderr
    assert run("yield", tmp_path / "none.json").returncode == 1
