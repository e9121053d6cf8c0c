"""The virtual machine: Debian's kernel in qemu, the host's own files below it, read only.

No image of a system is made. The guest mounts the host's ``/`` by 9p with a layer of memory over
it, so that it runs the same environment, as real root, and can change nothing. The packages that
the daemon imports are handed over besides, as a tar archive on a disk: thousands of small files by
9p take minutes where the host is busy.
"""

from __future__ import annotations

import ctypes.util
import gzip
import importlib.util
import json
import lzma
import os
import shutil
import socket
import subprocess
import sys
import tarfile
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

#: What must be here, and the Debian package that brings it.
TOOLS = {
    "qemu-system-x86_64": "qemu-system-x86",
    "/bin/busybox": "busybox-static",
    "depmod": "kmod",
    "dpkg-deb": "dpkg",
    "/lib/systemd/systemd-udevd": "udev",
}
#: To reach the host's files; then the scale as a gadget, what reads it, and the serial adapter.
MODULES = (
    "virtio_pci", "virtio_blk", "9pnet_virtio", "9p", "overlay",
    "configfs", "dummy_hcd", "libcomposite", "usb_f_hid", "usb_f_fs", "usbhid", "hid-generic",
    "xhci-pci", "ftdi_sio", "ext4",
)  # fmt: skip
#: Three host controllers: two scales, and a device that is none.
OPTIONS = {"dummy_hcd": "num=3"}
#: Without what makes an emulated kernel slow: copying byte by byte, checks at each copy.
CPU = "max,erms=off,fsrm=off,smap=off,la57=off"
PATH = os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin", "/sbin"])

#: What is written goes into memory, or onto a disk of its own (vda), where the next start finds it.
MEMORY = "$B mkdir /memory/up /memory/work"
DISK = "$B mkdir /memory/disk && $B mount -t ext4 /dev/vda /memory/disk"
INIT = """#!/bin/busybox sh
B=/bin/busybox
$B mount -t proc proc /proc; $B mount -t sysfs sys /sys; $B mount -t devtmpfs dev /dev
while read -r module options; do
    $B insmod "/modules/$module" $options || echo "insmod $module failed"
done < /modules/order
$B mount -t 9p -o trans=virtio,version=9p2000.L,msize=512000,cache=loose,ro host /host \\
    && $B mount -t tmpfs -o size=80% memory /memory \\
    && $B mkdir /memory/root && {layer} \\
    && $B mount -t overlay \\
        -o lowerdir=/host,upperdir={at}/up,workdir={at}/work root /memory/root \\
    || { echo "GUEST no root"; $B poweroff -f; }
for one in proc sys dev; do $B mount --move /$one /memory/root/$one; done
$B mount -t tmpfs run /memory/root/run
"""
#: One job alone, with the packages that it needs out of an archive.
JOB_INIT = (
    INIT.replace("{layer}", MEMORY).replace("{at}", "/memory")
    + """
$B mkdir /memory/root/run/app && $B tar -xf /memory/root/dev/vda -C /memory/root/run/app \\
    || { echo "GUEST no packages"; $B poweroff -f; }
$B ifconfig lo 127.0.0.1 up
# Not chroot: udevadm does nothing there.
exec $B switch_root /memory/root /bin/sh -c "$($B cat /job)"
"""
)
#: A system that is started whole, once the job prepared it.
SYSTEM_INIT = (
    INIT.replace("{layer}", DISK).replace("{at}", "/memory/disk")
    + """
$B cp /job /memory/root/run/prepare
$B chroot /memory/root /bin/sh /run/prepare || { echo "GUEST not prepared"; $B poweroff -f; }
exec $B switch_root /memory/root /lib/systemd/systemd
"""
)


class MissingError(Exception):
    """Something that the machine needs is not here."""


def prepare() -> None:
    """Install what is missing, as root; else raise :class:`MissingError` naming it."""
    missing = [package for tool, package in TOOLS.items() if not shutil.which(tool, path=PATH)]
    if not ctypes.util.find_library("usb-1.0"):
        missing.append("libusb-1.0-0")
    if not missing:
        return
    if os.geteuid() != 0 or not shutil.which("apt-get"):
        raise MissingError("install these Debian packages first: " + " ".join(missing))
    _done("apt-get", "update", "-qq")
    _done("apt-get", "install", "-y", "-qq", "--no-install-recommends", *missing)


def kernel(cache: Path) -> Path:
    """A folder with ``vmlinuz`` and ``modules/``, out of Debian's kernel package; kept."""
    names = _kernels()
    if not names and os.geteuid() == 0:
        _done("apt-get", "update", "-qq")
        names = _kernels()
    if not names:
        raise MissingError("apt knows no linux-image-amd64: run apt-get update first")
    place = cache / names[0]
    picked = place / "picked"
    if picked.exists() and picked.read_text() == " ".join(MODULES):
        return place
    cache.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=cache) as folder:
        _done("apt-get", "download", "-qq", names[0], cwd=folder)
        (package,) = Path(folder).glob("*.deb")
        tree = Path(folder) / "tree"
        _done("dpkg-deb", "-x", str(package), str(tree))
        _pick(tree, Path(folder) / "kept")
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(Path(folder) / "kept", place, dirs_exist_ok=True)
    return place


def _kernels() -> list[str]:
    """The package that Debian's newest kernel is in, as far as apt knows."""
    try:
        said = subprocess.run(
            ["apt-cache", "depends", "linux-image-amd64"], stdout=subprocess.PIPE, text=True
        ).stdout
    except FileNotFoundError:
        raise MissingError("the kernel comes from Debian by apt, which is not here") from None
    return [line.split()[-1] for line in said.splitlines() if "Depends: linux-image" in line]


def _pick(tree: Path, kept: Path) -> None:
    """The kernel and the modules wanted, in an order in which they load."""
    # A system whose /lib is a link has its modules below /usr/lib.
    (modules,) = [one for at in ("lib", "usr/lib") for one in (tree / at / "modules").glob("*")]
    base = modules.parents[2]
    _done("depmod", "-b", str(base), modules.name)
    (kept / "modules").mkdir(parents=True)
    order: dict[str, str] = {}
    for name in MODULES:
        said = _done("modprobe", "-d", str(base), "-S", modules.name, "--show-depends", name)
        for line in said.splitlines():
            if line.startswith("insmod "):
                file = Path(line.split()[1])
                data = file.read_bytes()
                plain = file.name.removesuffix(".xz")
                if plain != file.name:
                    data = lzma.decompress(data)
                (kept / "modules" / plain).write_bytes(data)
                order[plain] = OPTIONS.get(plain.removesuffix(".ko"), "")
    (kept / "picked").write_text(" ".join(MODULES))
    (kept / "modules/order").write_text("".join(f"{one} {o}\n" for one, o in order.items()))
    (image,) = (tree / "boot").glob("vmlinuz-*")
    shutil.copy(image, kept / "vmlinuz")


#: What the daemon and the test import, as a program that prints name and place of each.
IMPORTED = """
import sys, json, urllib.request
import weighd.cli.app, weighd.main.daemon, weighd_drivers.usb_hid, weighd_drivers.serial_port
names = {name.partition(".")[0] for name in sys.modules}
places = {}
for name in names:
    path = getattr(sys.modules.get(name), "__file__", None)
    if path and name != "__main__":
        places[name] = path
print(json.dumps(places))
"""


def application(out: Path) -> None:
    """The top-level packages and modules that the daemon imports, each whole, as a tar archive.

    What is not among them is still found where it is, by 9p.
    """
    places = json.loads(_done(sys.executable, "-c", IMPORTED))
    folders = {Path(place).parent.parent for place in places.values() if "__init__" in place}
    with tarfile.open(out, "w", format=tarfile.GNU_FORMAT) as archive:
        for place in sorted(places.values()):
            file = Path(place)
            one = file.parent if file.name.startswith("__init__") else file
            archive.add(one, one.name)
            compiled = Path(importlib.util.cache_from_source(place))
            if one == file and compiled.exists():
                archive.add(compiled, f"__pycache__/{compiled.name}")
        # The drivers are found through their entry points.
        for folder in folders:
            for one in folder.glob("*.dist-info"):
                archive.add(one, one.name)


def initramfs(place: Path, job: str, out: Path, init: str = JOB_INIT) -> None:
    """What the kernel starts with: busybox, the modules, and the job to do."""
    files: dict[str, tuple[int, bytes]] = {
        "init": (0o100755, init.encode()),
        "job": (0o100644, job.encode()),
        "bin/busybox": (0o100755, Path("/bin/busybox").read_bytes()),
    }
    for one in sorted((place / "modules").iterdir()):
        files[f"modules/{one.name}"] = (0o100644, one.read_bytes())
    folders = ("bin", "dev", "proc", "sys", "modules", "host", "memory")
    entries = [(one, 0o040755, b"") for one in folders]
    entries += [(name, mode, data) for name, (mode, data) in files.items()]
    out.write_bytes(gzip.compress(archive(entries), 1))


def archive(entries: Sequence[tuple[str, int, bytes]]) -> bytes:
    """A cpio archive in the kernel's format ``newc`` (its documentation, from memory)."""
    out = bytearray()
    for number, (name, mode, data) in enumerate([*entries, ("TRAILER!!!", 0, b"")], 1):
        path = name.encode() + b"\0"
        numbers = (number, mode, 0, 0, 1, 0, len(data), 0, 0, 0, 0, len(path), 0)
        out += b"070701" + b"".join(b"%08X" % one for one in numbers) + path
        out += bytes(-len(out) % 4) + data
        out += bytes(-len(out) % 4)
    return bytes(out)


def command(
    place: Path, folder: Path, memory_mb: int = 1024, disks: Sequence[str] = ()
) -> list[str]:
    """qemu without any need of KVM; its monitor and the serial line are sockets in ``folder``.

    ``disks``  files there that are its disks, and written to; else ``app.tar`` is one, read only.
    """
    drives = [f"file={folder}/{one},format=raw,if=virtio,cache=unsafe" for one in disks]
    drives = drives or [f"file={folder}/app.tar,format=raw,if=virtio,readonly=on"]
    return [
        "qemu-system-x86_64", "-accel", "tcg,thread=multi", "-cpu", CPU, "-smp", "2",
        "-m", str(memory_mb), "-nographic", "-no-reboot", "-nic", "none",
        "-kernel", str(place / "vmlinuz"), "-initrd", f"{folder}/initrd",
        "-append", "console=ttyS0 quiet panic=-1 mitigations=off nokaslr random.trust_cpu=on",
        "-virtfs",
        "local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap",
        *(word for one in drives for word in ("-drive", one)),
        "-qmp", f"unix:{folder}/qmp,server=on,wait=off",
        "-device", "qemu-xhci,id=xhci",
        "-chardev", f"socket,id=line,path={folder}/line,server=on,wait=off",
        "-trace", "usb_serial_*",
    ]  # fmt: skip


class Monitor:
    """qemu's monitor: plugs the serial adapter in and pulls it out."""

    def __init__(self, path: Path) -> None:
        self._socket = connected(path)
        self._file = self._socket.makefile("rw")
        self._file.readline()
        self._ask("qmp_capabilities")

    def plug(self, serial: str) -> None:
        """An adapter with a serial number of its own, on the line."""
        end = time.monotonic() + 10
        while True:
            try:
                self._ask(
                    "device_add", driver="usb-serial", id="adapter", chardev="line", serial=serial
                )
            except RuntimeError as error:
                # The one before is let go of a moment after it was pulled out.
                if "is in use" not in str(error) or time.monotonic() > end:
                    raise
                time.sleep(0.1)
            else:
                return

    def unplug(self) -> None:
        """Pull it out."""
        self._ask("device_del", id="adapter")

    def _ask(self, what: str, **arguments: str) -> None:
        self._file.write(json.dumps({"execute": what, "arguments": arguments}) + "\n")
        self._file.flush()
        while True:
            answer = json.loads(self._file.readline())
            if "error" in answer:
                raise RuntimeError(f"{what}: {answer['error']}")
            if "return" in answer:
                return


def connected(path: Path) -> socket.socket:
    """A socket of qemu's, once it is there."""
    end = time.monotonic() + 10
    while True:
        one = socket.socket(socket.AF_UNIX)
        try:
            one.connect(str(path))
        except OSError:
            one.close()
            if time.monotonic() > end:
                raise
            time.sleep(0.05)
        else:
            return one


def _done(*command: str, cwd: str | None = None) -> str:
    environment = {**os.environ, "PATH": PATH, "DEBIAN_FRONTEND": "noninteractive"}
    return subprocess.run(
        command, cwd=cwd, env=environment, check=True, stdout=subprocess.PIPE, text=True
    ).stdout
