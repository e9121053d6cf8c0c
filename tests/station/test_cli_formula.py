"""``weighd formula`` beside a configuration: what each scale can judge, before it is heard."""

from __future__ import annotations

from pathlib import Path

from tests.forked import run
from tests.station.daemon import FORMULA

SCALES = """
[judging]
k = "2"
[scales.bench]
max_g = "6000"
interval_g = "1"
port = "/dev/nowhere"
[scales.fine]
driver = "usb"
max_g = "300"
interval_g = "0.01"
[scales.floor]
driver = "usb"
"""


def test_formula_says_what_each_configured_scale_can_judge(tmp_path: Path) -> None:
    file, config = tmp_path / "test-ice.toml", tmp_path / "scales.toml"
    file.write_text(FORMULA)
    assert "Scale " not in run("formula", file).stdout
    config.write_text(SCALES)
    done = run("formula", file, "--config", config)
    assert (done.returncode, done.stderr) == (0, "")
    told = done.stdout.splitlines()
    bench = told.index("Scale bench, interval 1 g, guarded by 2 u:")
    fine = told.index("Scale fine, interval 0.01 g, guarded by 2 u:")
    warned = [one for one in told[bench:fine] if "cannot judge" in one or "can judge" in one]
    assert warned
    assert all("Use the scale fine" in one for one in warned)
    assert told[fine - 1] == f"  {3 - len(warned)} of 3 additions can be weighed and judged."
    assert told[fine + 1].startswith("  The whole batch is 640 g")
    assert told[fine + 2] == "  2 of 3 additions can be weighed and judged."
    assert told[-1].startswith("What the scale floor can judge is not known yet")
    config.write_text(SCALES.replace('k = "2"', 'k = "9"'))
    wrong = run("formula", file, "--config", config)
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert "line 3, judging.k" in wrong.stderr
