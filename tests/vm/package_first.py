"""The package installed in the guest, and its station set up, as somebody does it by the book."""

from __future__ import annotations

import time
from pathlib import Path

import package_strangers
from package_station import RECORD, UNIT, prop, request, run, say, status, until

ADAPTER = "WEIGHD-VM-LINE"
CONFIG = Path("/etc/weighd/weighd.toml")
#: Without what the system does then for other packages: the index of all manuals takes minutes.
DPKG = ("dpkg", "--force-unsafe-io", "--no-triggers")
#: The worst that `systemd-analyze security` may say, in tenths.
EXPOSED = 25
FORMULA = """
name = "Test ice"
scenario = "Invented, for the tests."
[ingredients]
milk = { name = "Milk", allergens = ["milk"] }
sugar = { name = "Sugar" }
[[additions]]
ingredient = "milk"
target = "500 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "120 g"
tolerance = "2 g"
[[additions]]
ingredient = "milk"
target = "200 g"
tolerance = "2 g"
"""
MORE = f"""
[scales.raw]
driver = "usb"
serial = "WEIGHD-VM-0"
max_g = "3000"
[scales.line]
driver = "serial"
port = "serial:{ADAPTER}"
baud = 2400
data_bits = 7
parity = "even"
max_g = "6000"
[elsewhere]
host = "0.0.0.0"
port = {package_strangers.DOOR}
names = ["{package_strangers.OUTSIDE}"]
allow_plain = true
"""


def installed(first: str) -> None:
    """Installed where there was none: it runs, with nobody doing more."""
    assert not Path("/usr/lib/weighd/bin").exists() and not CONFIG.parent.exists()
    assert not Path("/usr/sbin/policy-rc.d").exists(), "the host's policy keeps services still"
    began = time.monotonic()
    run(*DPKG, "-i", first)
    took = time.monotonic() - began
    assert prop("ActiveState") == "active", status()
    assert run("systemctl", "is-enabled", UNIT).strip() == "enabled"
    version = run("dpkg-query", "-W", "-f", "${Version}", "weighd")
    until(lambda: "none is set up" in prop("StatusText"), status)
    say(f"{version} was installed in {took:.0f} s; it runs and is enabled; {prop('StatusText')}")


def exposed() -> None:
    """What systemd says of what the service could do."""
    security = ("systemd-analyze", "security", "--no-pager", f"--threshold={EXPOSED}", UNIT)
    said = run(*security).strip().splitlines()[-1]
    told = {one: prop(one) for one in ("Type", "WatchdogUSec", "FileDescriptorStoreMax")}
    assert told == {"Type": "notify", "WatchdogUSec": "30s", "FileDescriptorStoreMax": "2"}
    say(f"{said.lstrip('→ ')}; {told}")


def set_up() -> None:
    """Scales, a formula and a second door, as somebody writes them; the record on its own disk."""
    run("systemctl", "stop", UNIT)
    before = RECORD.with_name("before")
    RECORD.rename(before)
    RECORD.mkdir()
    run("mount", "/dev/vdb", str(RECORD))
    run("chown", "weighd:weighd", str(RECORD))
    run("chmod", "0750", str(RECORD))
    run("cp", "-a", *(str(one) for one in before.iterdir()), str(RECORD))
    with CONFIG.open("a") as file:
        file.write(MORE)
    (RECORD.with_name("formulas") / "test-ice.toml").write_text(FORMULA)
    package_strangers.plug_in()
    run("systemctl", "start", UNIT)
    until(lambda: request("/api/health"))
