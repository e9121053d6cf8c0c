"""``make test-package``: the Debian package under a real systemd, in the same virtual machine.

    python tests/vm/package.py FIRST.deb NEXT.deb [--log FILE]

Debian's own systemd starts a system without weighd. FIRST is installed in it and weighed with; then
the system is started anew from the same disk, in mid-batch, and the service with it. NEXT, of a
higher revision, is installed in mid-batch too. What is tested stands in ``package_guest.py``. It
exits as ``run.py`` does, and takes root on the host: to mount.
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

MEMORY_MB = 2048
#: Two packages' worth of files are on its disk for a moment, while the one is upgraded.
SYSTEM_MB = 3000
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
#: The largest libraries of the package, which are the same in both. Unpacking them takes minutes
#: without KVM: the disk has them from the start, and the packages that are installed there do not.
SITE = "usr/lib/weighd/lib/python3.*/site-packages"
LARGEST = ("scipy", "typst", "matplotlib", "fontTools", "numpy", "PIL", "pillow")
#: On the host: a package as it is but for them, and not compressed.
LIGHTER = """
set -e
mkdir {folder}/tree
dpkg-deb --raw-extract {whole} {folder}/tree
cd {folder}/tree
for one in {largest}; do rm -r {site}/$one*; done
dpkg-deb --root-owner-group -Znone --build . {folder}/{name}
rm -r {folder}/tree
"""
#: A disk that is full soon, in MB: the record of a station is put on it.
RECORD_MB = 8
#: On the host, as root, in a name space of its own: a layer over the host's files is made ready,
#: and becomes the disk that the machine is started from. Of weighd it has the largest libraries.
SYSTEM = """
set -e
export PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LC_ALL=C.UTF-8
mount -t tmpfs -o size=2g layer {folder}/layer
cd {folder}/layer
mkdir -p disk/up disk/work root
mount -t overlay -o lowerdir=/,upperdir=disk/up,workdir=disk/work layer root
chroot root /bin/sh -e <<'INSIDE'
cd /
: > /etc/fstab
rm -rf /etc/systemd/system/*.wants
rm -f /usr/sbin/policy-rc.d  # images for containers have one, which keeps services as they are
for one in {masked}; do ln -sf /dev/null /etc/systemd/system/$one; done
ln -sf /lib/systemd/system/multi-user.target /etc/systemd/system/default.target
# What is read most goes into the layer as well: thousands of small files by 9p take minutes.
chmod -R u+r /var/lib/dpkg /usr/lib/python3.*
cat > /etc/systemd/system/weighd-test.service <<'END'
[Unit]
Description=The test
[Service]
Type=simple
ExecStart=/bin/sh /run/guest
StandardOutput=tty
StandardError=tty
TTYPath=/dev/ttyS0
TimeoutStopSec=2
Environment=LC_ALL=C.UTF-8
END
mkdir /etc/systemd/system/multi-user.target.wants
ln -s ../weighd-test.service /etc/systemd/system/multi-user.target.wants/
INSIDE
umount root
dpkg-deb --fsys-tarfile {whole} | tar --extract --directory disk/up --wildcards {largest}
rm -rf disk/work
mkdir disk/work
mke2fs -q -t ext4 -O ^metadata_csum -d disk {folder}/system {system}m
mke2fs -q -t ext4 -O ^metadata_csum -m 0 -J size=1 {folder}/record {record}m
"""
#: In the guest, before its system is started.
PREPARE = """
export PATH=/usr/sbin:/usr/bin:/sbin:/bin
! [ -d /var/lib/weighd/record ] || mount /dev/vdb /var/lib/weighd/record
cat > /run/guest <<'END'
/usr/bin/python3 -B {guest} {folder}/first.deb {folder}/next.deb
echo "GUEST ended $?"
/bin/busybox poweroff -f
END
"""


class PackageRun(run.Run):
    """One run with a system that is started whole, and once more from the same disk."""

    name = "test-package"
    longest_s = 1500.0
    most_starts = 2

    def __init__(
        self, place: Path, folder: Path, log: Path | None, first: Path, following: Path
    ) -> None:
        self._packages = first.resolve(), following.resolve()
        super().__init__(place, folder, log)

    def _made(self, place: Path, folder: Path) -> list[str]:
        (folder / "layer").mkdir()
        for whole, name in zip(self._packages, ("first.deb", "next.deb"), strict=True):
            lighter = LIGHTER.format(
                folder=folder, whole=shlex.quote(str(whole)), site=SITE,
                largest=" ".join(LARGEST), name=name,
            )  # fmt: skip
            _done("/bin/sh", "-c", lighter)
        system = SYSTEM.format(
            folder=folder,
            whole=shlex.quote(str(self._packages[0])),
            largest=" ".join(shlex.quote(f"./{SITE}/{one}*") for one in LARGEST),
            masked=" ".join(MASKED),
            system=SYSTEM_MB,
            record=RECORD_MB,
        )
        _done("unshare", "--mount", "/bin/sh", "-c", system)
        guest = Path(__file__).with_name("package_guest.py")
        job = PREPARE.format(folder=folder, guest=shlex.quote(str(guest)))
        machine.initramfs(place, job, folder / "initrd", machine.SYSTEM_INIT)
        return machine.command(place, folder, MEMORY_MB, ("system", "record"))


def _done(*command: str) -> None:
    """What has to be done on the host. Raises :class:`machine.MissingError`."""
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode != 0:
        raise machine.MissingError(f"no system was made: {done.stdout}{done.stderr}")


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
