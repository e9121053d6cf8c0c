"""``weighd dry-ice`` and ``weighd loss`` as a user calls them."""

from __future__ import annotations

import json
import threading
import time
from pathlib import Path

from tests.domain.test_sublimation import shown
from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK, kitchen

SORBET = """\
name = "Plum sorbet"
[ingredients.plum]
name = "Plum purée"
[ingredients.plum.composition]
water = 86
other_solids = 3
sugars = { fructose = 4, glucose = 5, sucrose = 2 }
[ingredients.sugar]
name = "Sugar"
[ingredients.sugar.composition]
sugars = { sucrose = 100 }
[[additions]]
ingredient = "plum"
target = "800 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "200 g"
tolerance = "1 %"
"""


def formula(folder: Path) -> Path:
    file = folder / "plum-sorbet.toml"
    file.write_text(SORBET)
    return file


def test_a_sorbet_is_reckoned_for_people_and_for_programs(tmp_path: Path) -> None:
    file = formula(tmp_path)
    asked = ("dry-ice", file, "--yield-g", "2000", "--from", "4", "--to", "-6", "--room-m3", "25")
    done = run(*asked)
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    assert out["batch_g"] == "2000.00"
    assert out["asked"]["from_c"] == "4"
    half = json.loads(run(*asked[:3], "1000", *asked[4:]).stdout)
    most, least = float(out["charge"]["most_g"]), float(half["charge"]["most_g"])
    assert abs(most - 2 * least) < 0.2
    text = run(*asked, "--text").stdout
    assert text.index("Before you begin:") < text.index("Air of the room") < text.index("Dry ice:")


def test_the_room_may_be_configured(tmp_path: Path) -> None:
    file = formula(tmp_path)
    config = tmp_path / "weighd.toml"
    config.write_text('[dry_ice]\nroom_m3 = 42\nair_changes = "1.5"\nefficiency_percent = 55\n')
    out = json.loads(run("dry-ice", file, "--config", config).stdout)
    assert (out["room"]["volume_m3"], out["room"]["air_changes"]) == ("42", "1.5")
    assert out["charge"]["efficiency_percent"] == "55"
    config.write_text("[dry_ice]\nroom_m3 = -2\n")
    done = run("dry-ice", file, "--config", config)
    assert done.returncode == 2
    assert "dry_ice.room_m3" in done.stderr
    assert "line 2" in done.stderr


def test_bad_input_ends_with_a_sentence_and_names_the_field(tmp_path: Path) -> None:
    file = formula(tmp_path)
    for more, field in (
        ((), "room_m3"),
        (("--room-m3", "0"), "room_m3"),
        (("--room-m3", "30", "--air-changes", "-2"), "air_changes"),
        (("--room-m3", "30", "--to", "-40"), "to_c"),
    ):
        done = run("dry-ice", file, *more)
        assert (done.returncode, done.stdout) == (2, ""), more
        assert done.stderr.startswith(f"weighd: {field}: "), done.stderr
        assert "Traceback" not in done.stderr


def test_a_loss_is_told_line_by_line() -> None:
    rows = [
        json.dumps({"t": round(t, 2), "grams": str(grams)})
        for t, grams in shown(6.0, 60, start=1000)
    ]
    lines = "\n".join([*rows[:200], "nonsense", *rows[200:]]) + "\n"
    done = run("loss", "--want-g", "888", "--in-s", "300", stdin=lines.encode())
    assert done.returncode == 2
    assert "line 201 is not a reading" in done.stderr
    answers = [json.loads(one) for one in done.stdout.splitlines()]
    assert len(answers) == len(rows) + 1
    assert answers[20]["loses"] is None
    last = answers[-1]
    assert last["loses"] is True
    assert abs(float(last["rate_g_min"]) - 6) <= 3 * float(last["u_rate_g_min"])
    assert abs(float(last["weigh_out_g"]) - 918) < 0.5
    assert abs(float(last["at_use_g"]) - (1000 - 6 - 30)) < 0.5


def test_a_vessel_that_was_not_tared_is_taken_off() -> None:
    rows = [
        json.dumps({"t": round(t, 2), "grams": str(grams)})
        for t, grams in shown(6.0, 60, start=700)
    ]
    done = run("loss", "--want-g", "400", "--tare-g", "200", "--in-s", "60",
               stdin="\n".join(rows).encode())  # fmt: skip
    last = json.loads(done.stdout.splitlines()[-1])
    assert last["grams"] == "494.0"
    assert abs(float(last["weigh_out_g"]) - 406) < 0.3


def test_a_loss_asked_for_wrongly() -> None:
    for more, field in ((("--want-g", "-1"), "want_g"), (("--in-s", "x"), "wait_s"),
                        (("--interval-g", "0"), "interval_g")):  # fmt: skip
        done = run("loss", *more)
        assert done.returncode == 2
        assert field in done.stderr


def test_a_live_scale_is_listened_to(tmp_path: Path) -> None:
    config = kitchen(tmp_path)
    with PtyScale(tmp_path / "scale", QUICK) as scale:
        scale.silent()
        stop = threading.Event()

        def waste() -> None:
            """A load that loses 12 g a minute, in the lines of any scale."""
            began = time.monotonic()
            while not stop.wait(0.05):
                grams = 900 - (time.monotonic() - began) / 5
                scale.send(f"ST,GS,{grams:9.1f} g\r\n".encode())

        thread = threading.Thread(target=waste)
        thread.start()
        try:
            done = run("loss", "--scale", "bench", "--for", "15", "--want-g", "500",
                       "--in-s", "10", "--config", config, seconds=40)  # fmt: skip
        finally:
            stop.set()
            thread.join()
    assert done.returncode == 0, done.stderr
    print(done.stdout)
    answers = [json.loads(one) for one in done.stdout.splitlines()]
    assert 8 <= len(answers) <= 20
    assert abs(float(answers[-1]["rate_g_min"]) - 12) < 1.5
    assert 501.5 < float(answers[-1]["weigh_out_g"]) < 502.5
    other = run("loss", "--scale", "desk", "--config", config)
    assert other.returncode == 2
    assert "Configured are: bench" in other.stderr
