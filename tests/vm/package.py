"""``make test-package``: the Debian package under a real systemd, in the same virtual machine.

    python tests/vm/package.py FIRST.deb NEXT.deb [--log FILE]

FIRST is installed before the system is started, as into an image; then Debian's own systemd starts
it, with the service enabled. NEXT, of a higher revision, is installed in mid-batch. What is tested
stands in ``package_guest.py``. It exits as ``run.py`` does, and takes root on the host: to mount.
"""

from __future__ import annotations

import argparse
import shlex
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import machine
import run

#: Two systems' worth of files are in its memory for a moment, while the package is upgraded.
MEMORY_MB = 3072
#: Services of the host that the guest has no use for, or that walk the whole of the host's files.
MASKED = (
    "systemd-tmpfiles-setup.service", "systemd-tmpfiles-setup-dev.service",
    "systemd-tmpfiles-clean.timer", "systemd-sysusers.service", "systemd-journal-flush.service",
    "systemd-remount-fs.service", "systemd-update-utmp.service", "systemd-random-seed.service",
    "systemd-update-utmp-runlevel.service", "systemd-firstboot.service", "systemd-logind.service",
    "systemd-machine-id-commit.service", "getty.target", "dbus.service", "dbus.socket",
    "systemd-binfmt.service", "proc-sys-fs-binfmt_misc.automount", "systemd-pcrphase.service",
    "systemd-pcrphase-sysinit.service", "systemd-user-sessions.service",
)  # fmt: skip
#: A disk that is full soon, in MB: the record of a station is on it.
DISK_MB = 6
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
CONFIG = """
[scales.raw]
driver = "usb"
serial = "WEIGHD-VM-0"
max_g = "3000"
[scales.line]
driver = "serial"
port = "serial:WEIGHD-VM-LINE"
baud = 2400
data_bits = 7
parity = "even"
max_g = "6000"
"""
#: On the host, as root, in a name space of its own: the package is installed into a layer over the
#: host's files, and the layer becomes a disk. In the guest alone that takes minutes.
INSTALL = """
set -e
export PATH=/usr/sbin:/usr/bin:/sbin:/bin DEBIAN_FRONTEND=noninteractive HOME=/root LC_ALL=C.UTF-8
mount -t tmpfs -o size=2g layer {folder}/layer
cd {folder}/layer
mkdir up work root
mount -t overlay -o lowerdir=/,upperdir=up,workdir=work layer root
mount -t proc proc root/proc
mount --bind /dev root/dev
mount -t tmpfs run root/run
cp {first} root/run/first.deb
chroot root /bin/sh -e <<'INSIDE'
cd /
: > /etc/fstab
rm -rf /etc/systemd/system/*.wants
rm -f /usr/sbin/policy-rc.d  # images for containers have one, which keeps services as they are
for one in {masked}; do ln -sf /dev/null /etc/systemd/system/$one; done
ln -sf /lib/systemd/system/multi-user.target /etc/systemd/system/default.target
dpkg --force-unsafe-io -i /run/first.deb
# What is read most goes into the layer as well: thousands of small files by 9p take minutes.
chmod -R u+r /var/lib/dpkg /usr/lib/python3.*
cat >> /etc/weighd/weighd.toml <<'END'
{config}
END
cat > /var/lib/weighd/formulas/test-ice.toml <<'END'
{formula}
END
mkdir -p /var/lib/weighd/record
cat > /etc/systemd/system/weighd-test.service <<'END'
[Unit]
Description=The test
[Service]
Type=simple
ExecStart=/bin/sh /run/guest
StandardOutput=tty
StandardError=tty
TTYPath=/dev/ttyS0
Environment=LC_ALL=C.UTF-8
END
ln -s ../weighd-test.service /etc/systemd/system/multi-user.target.wants/
INSIDE
umount root/run root/dev root/proc root
mke2fs -q -t ext4 -O ^has_journal,^metadata_csum -d up {folder}/app.tar 1500m
"""
#: In the guest, before its system is started.
PREPARE = """
export PATH=/usr/sbin:/usr/bin:/sbin:/bin
mount -t tmpfs -o size={disk}m,mode=0750,uid=$(id -u weighd),gid=$(id -g weighd) r \\
    /var/lib/weighd/record
cat > /run/guest <<'END'
/usr/bin/python3 -B {guest} {next}
echo "GUEST ended $?"
/bin/busybox poweroff -f
END
"""


class PackageRun(run.Run):
    """One run with a system that is started whole."""

    name = "test-package"
    longest_s = 1500.0

    def __init__(
        self, place: Path, folder: Path, log: Path | None, first: Path, following: Path
    ) -> None:
        self._packages = first.resolve(), following.resolve()
        super().__init__(place, folder, log)

    def _made(self, place: Path, folder: Path) -> list[str]:
        first, following = (shlex.quote(str(one)) for one in self._packages)
        (folder / "layer").mkdir()
        install = INSTALL.format(
            folder=folder, first=first, masked=" ".join(MASKED), config=CONFIG, formula=FORMULA
        )
        done = subprocess.run(
            ["unshare", "--mount", "/bin/sh", "-c", install], capture_output=True, text=True
        )
        if done.returncode != 0:
            raise machine.MissingError(f"the package was not installed: {done.stdout}{done.stderr}")
        guest = Path(__file__).with_name("package_guest.py")
        job = PREPARE.format(next=following, disk=DISK_MB, guest=guest)
        machine.initramfs(place, job, folder / "initrd", machine.SYSTEM_INIT)
        return machine.command(place, folder, MEMORY_MB)


def main() -> int:
    """Prepare, run, report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("first", type=Path)
    parser.add_argument("next", type=Path)
    parser.add_argument("--log", type=Path, help="where to keep what the machine said")
    given = parser.parse_args()
    began = time.monotonic()
    try:
        machine.prepare()
        place = machine.kernel(run.CACHE)
        with tempfile.TemporaryDirectory(prefix="weighd-vm-") as folder:
            made = PackageRun(place, Path(folder), given.log, given.first, given.next)
            print(f"test-package: prepared in {time.monotonic() - began:.1f} s", flush=True)
            return made.ended()
    except machine.MissingError as error:
        print(f"test-package: {error}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
