"""The first start: ports looked at and listened to, and what is chosen written down."""

from __future__ import annotations

import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import serial
from serial.tools import list_ports

from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK
from weighd.config import Config, load
from weighd.domain.errors import OperatorError
from weighd.main import first_start
from weighd.main.first_formulas import UNKNOWN_ALLERGENS, FirstFormulas
from weighd.main.first_start import FirstStart
from weighd.storage.shelf import FormulaShelf

WAIT_S = 10.0


class Bench:
    """A folder with a scale on a port, and the first start in it."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder
        self.scale = PtyScale(folder / "port", QUICK)
        self.scale.start()
        port = SimpleNamespace(
            device=str(folder / "port"), description="n/a", vid=None, pid=None, serial_number=None
        )
        monkeypatch.setattr(list_ports, "comports", lambda: [port] if self.scale.plugged else [])
        monkeypatch.chdir(folder)
        self.begun = 0
        self.first = self.fresh()

    def fresh(self) -> FirstStart:
        made = FirstStart(load())
        made.begin_anew = self._count
        return made

    def _count(self) -> None:
        self.begun += 1

    def until(self, state: str) -> dict[str, Any]:
        """The port as it is told, once it is in this state."""
        deadline = time.monotonic() + WAIT_S
        while True:
            (place,) = self.first.picture()["places"]
            if place["state"] == state:
                return dict(place)
            assert time.monotonic() < deadline, place
            time.sleep(0.05)

    def add(self, place: str, more: bool = False, **given: str) -> dict[str, Any]:
        asked = {"place": place, "name": "", "max_g": "", "interval_g": "", **given}
        return self.first.add(asked, more=more)

    def config(self) -> Config:
        return load(self.folder / "weighd.toml")


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    made = Bench(tmp_path, monkeypatch)
    yield made
    made.first.close()
    made.scale.close()


def test_a_scale_is_heard_chosen_and_written_down(bench: Bench) -> None:
    bench.scale.bench.vessel(312.4)
    place = bench.until("reading")
    assert place["where"] == str(bench.folder / "port")
    deadline = time.monotonic() + WAIT_S
    while bench.until("reading")["reading"]["grams"] != "312.4":
        assert time.monotonic() < deadline
    assert place["step_g"] == "0.1"
    assert bench.scale.received == b"", "a scale is not spoken to"
    told = bench.add(place["id"], max_g="6000", interval_g="0.1")
    assert (told, bench.begun) == ({"scale": "bench", "anew": True}, 1)
    scale = bench.config().scales["bench"]
    assert (scale.driver, str(scale.max_g), scale.settings) == (
        "serial", "6000", {"port": str(bench.folder / "port")},
    )  # fmt: skip
    assert (bench.folder / "formulas").is_dir()
    # The port is free again for the station that begins anew.
    serial.Serial(str(bench.folder / "port"), exclusive=True).close()
    # Asked once more, by another page or again: it is so already.
    assert bench.add(place["id"]) == {"scale": "bench", "anew": False}
    assert bench.begun == 1


def test_a_port_that_says_nothing_is_tried_and_one_in_use_is_named(bench: Bench) -> None:
    bench.scale.silent()
    silent = bench.until("silent")
    bench.scale.silent(quiet=False)
    assert bench.first.learn(silent["id"])["places"][0]["state"] == "trying"
    found = bench.until("reading")
    assert found["way"] == {"baud": 9600}
    bench.first.close()
    with serial.Serial(str(bench.folder / "port"), exclusive=True):
        bench.first = bench.fresh()
        assert "is using" in bench.until("refused")["why"]
    bench.first.picture(again=True)
    bench.until("reading")


def test_devices_are_let_go_when_nobody_looks(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(first_start, "LET_GO_S", 0.2)
    bench.until("listening")
    deadline = time.monotonic() + WAIT_S
    while True:
        try:
            serial.Serial(str(bench.folder / "port"), exclusive=True).close()
            break
        except serial.SerialException:
            assert time.monotonic() < deadline
            time.sleep(0.1)


def test_only_the_first_scale_is_taken_unless_one_more_is_asked_for(bench: Bench) -> None:
    (bench.folder / "weighd.toml").write_text(
        '# Ours.\n[station]\nname = "kitchen"   # by the door\n'
    )
    bench.first = bench.fresh()
    assert bench.add("simulated") == {"scale": "bench", "anew": True}
    assert bench.add("simulated") == {"scale": "bench", "anew": False}
    place = bench.until("reading")
    with pytest.raises(OperatorError, match="set up here already: bench"):
        bench.add(place["id"])
    with pytest.raises(OperatorError, match="not plugged in any more"):
        bench.add("serial:/dev/none", more=True)
    bench.first.name("Ada")
    assert bench.config().station.operators == ("Ada",)
    # A real one takes the place of the simulated one; after it they stand side by side.
    assert bench.add(place["id"], more=True, name="counter")["scale"] == "counter"
    assert list(bench.config().scales) == ["counter"]
    with pytest.raises(OperatorError, match="set up here already"):
        bench.add("simulated", more=True)
    text = (bench.folder / "weighd.toml").read_text()
    assert text.startswith('# Ours.\n[station]\nname = "kitchen"   # by the door\n')


def _file_of(bench: Bench, text: str) -> None:
    (bench.folder / "weighd.toml").write_text(text)


def _read_only(bench: Bench, _text: str) -> None:
    (bench.folder / "weighd.toml").mkdir()


@pytest.mark.parametrize(
    ("spoil", "text", "given", "code"),
    [
        (_file_of, "", {"max_g": "5", "interval_g": "10"}, "no-such-scale"),
        (_file_of, "[station\n", {}, "cannot-edit"),
        (_file_of, "[log]\nlevel = 'loud'\n", {}, "no-such-scale"),
        (_read_only, "", {}, "cannot-read"),
    ],
)
def test_nothing_is_written_that_could_not_be_started_with(
    bench: Bench, spoil: Callable[[Bench, str], None], text: str, given: dict[str, str], code: str
) -> None:
    place = bench.until("reading")
    spoil(bench, text)
    with pytest.raises(OperatorError) as caught:
        bench.add(place["id"], **given)
    assert (caught.value.code, bench.begun) == (code, 0)
    if (bench.folder / "weighd.toml").is_file():
        assert (bench.folder / "weighd.toml").read_text() == text


def test_an_example_is_copied_and_nothing_written_over(tmp_path: Path) -> None:
    made = FirstFormulas(tmp_path / "formulas")
    names = [one["id"] for one in made.examples()]
    assert names[0] == "lemon-sorbet"
    for one in names:
        assert made.take(one) == one
    formulas, wrong = FormulaShelf(tmp_path / "formulas").all()
    assert (len(formulas), wrong) == (len(names), ())
    mine = tmp_path / "formulas/lemon-sorbet.toml"
    mine.write_text(mine.read_text().replace("870 g", "900 g"))
    assert made.take("lemon-sorbet") == "lemon-sorbet"
    assert "900 g" in mine.read_text()


def test_a_pasted_list_becomes_a_formula_in_an_empty_kitchen(tmp_path: Path) -> None:
    made = FirstFormulas(tmp_path / "formulas")
    text = "500 g whole milk\n120 g Crème fraîche ± 2 g\n2 tsp salt\n0.4 g salt"
    read = made.read_list(text)
    assert (read["taken"], read["new"]) == (3, ["Crème fraîche", "salt", "whole milk"])
    assert not (tmp_path / "formulas").exists()
    assert made.take_list("Milk ice", text) == "milk-ice"
    assert made.take_list("Milk ice", text) == "milk-ice-2", "nothing is written over"
    formula = FormulaShelf(tmp_path / "formulas").get("milk-ice")
    told = [(one.ingredient.name, f"{one.target_g:f}") for one in formula.additions]
    assert told == [("whole milk", "500"), ("Crème fraîche", "120"), ("salt", "0.4")]
    assert formula.cautions == (UNKNOWN_ALLERGENS,)
    kept = tomllib.loads((tmp_path / "formulas/milk-ice.toml").read_text())["additions"]
    assert [one["tolerance"] for one in kept] == ["1 %, at least 0.3 g", "2 g", "1 %"]
    with pytest.raises(OperatorError, match="No line of it"):
        made.take_list("Nothing", "some milk")


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OperatorError, match="cannot be made"):
        FirstFormulas(tmp_path / "taken" / "formulas").take("lemon-sorbet")
