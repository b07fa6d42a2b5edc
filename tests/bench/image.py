"""Build what the virtual PC starts from: a Debian kernel, a small root with the usual tools, an ACPI table.

It is built once into a cache folder (some 25 s, 700 MB, from the system's own Debian packages) and used by
every run; a change of the recipe builds anew.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import platformdirs

GUEST = Path(__file__).parent / "guest"
TOOLS = (
    "qemu-system-x86_64",
    "mmdebstrap",
    "mksquashfs",
    "iasl",
    "depmod",
    "cpio",
    "busybox",
    "dpkg-deb",
    "apt-get",
)
RELEASE = "bookworm"
PACKAGES = (
    "python3",
    "kmod",
    "udev",
    "pciutils",
    "usbutils",
    "smartmontools",
    "dmidecode",
    "lm-sensors",
    "iproute2",
    "procps",
    "util-linux",
    "e2fsprogs",
    "lshw",
)
INITRD_MODULES = ("virtio_pci", "virtio_blk", "squashfs", "overlay", "9pnet_virtio", "9p")
_REASONS = {
    "root": "building the virtual PC's root folder needs root",
    "python": "the virtual PC's Python is 3.11, and this one's packages would not run there",
}


class CannotBuild(Exception):
    """Why there is no virtual PC here; a sentence for the skipped test."""


def ready() -> Path:
    """Return the folder with `vmlinuz`, `initrd`, `root.sqfs` and `ssdt.aml`, built if not there yet."""
    missing = [
        tool for tool in TOOLS if shutil.which(tool) is None and not Path(f"/usr/sbin/{tool}").exists()
    ]
    if missing:
        raise CannotBuild(f"the virtual PC needs {', '.join(missing)}")
    if sys.version_info[:2] != (3, 11):
        raise CannotBuild(_REASONS["python"])
    cache = Path(os.environ.get("SHIPWORTHY_BENCH_CACHE") or platformdirs.user_cache_path("shipworthy"))
    folder = cache / f"virtual-bench-{_recipe()}"
    cache.mkdir(parents=True, exist_ok=True)
    with folder.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # tests that run side by side build it once
        return folder if (folder / "done").exists() else _built(folder)


def _built(folder: Path) -> Path:
    if os.geteuid() != 0:
        raise CannotBuild(_REASONS["root"])
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    try:
        _build(folder)
    except subprocess.CalledProcessError as error:
        word = (error.stderr or b"").decode("utf-8", "replace").strip().splitlines()[-1:]
        raise CannotBuild(f"the virtual PC could not be built: {error.cmd[0]}: {word}") from error
    (folder / "done").touch()
    return folder


def _recipe() -> str:
    """Return a name for the recipe: a change of it makes another folder."""
    pieces = (Path(__file__), *(GUEST / name for name in ("first.sh", "start.sh", "thermal.dsl")))
    return hashlib.sha256(b"".join(path.read_bytes() for path in pieces)).hexdigest()[:12]


def _run(*words: str | Path, cwd: Path, data: bytes | None = None) -> bytes:
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive", "LC_ALL": "C.UTF-8"}
    environment["PATH"] = f"{environment.get('PATH', '')}:/usr/sbin:/sbin"
    done = subprocess.run(words, cwd=cwd, check=True, capture_output=True, input=data, env=environment)
    return done.stdout


def _build(folder: Path) -> None:
    version = _kernel(folder)
    _root(folder, version)
    _initrd(folder, version)
    shutil.copy(GUEST / "thermal.dsl", folder / "ssdt.dsl")
    _run("iasl", "-p", "ssdt", "ssdt.dsl", cwd=folder)


def _kernel(folder: Path) -> str:
    """Fetch the release's kernel and return its version."""
    depends = _run("apt-cache", "depends", "linux-image-amd64", cwd=folder).decode()
    package = next(line.split()[-1] for line in depends.splitlines() if "Depends: linux-image-" in line)
    version = package.removeprefix("linux-image-")
    _run("apt-get", "download", "-q", package, cwd=folder)
    archive = next(folder.glob(f"{package}*.deb"))
    _run("dpkg-deb", "-x", archive, "kernel", cwd=folder)
    archive.unlink()
    _run("depmod", "-b", "kernel", version, cwd=folder)
    shutil.copy(folder / f"kernel/boot/vmlinuz-{version}", folder / "vmlinuz")
    return version


def _root(folder: Path, version: str) -> None:
    """Make the root: a minimal Debian, the kernel's modules and our way of starting it."""
    _run(
        "mmdebstrap",
        "-q",
        "--variant=minbase",
        f"--include={','.join(PACKAGES)}",
        RELEASE,
        "root",
        cwd=folder,
    )
    root = folder / "root"
    shutil.copytree(
        folder / f"kernel/lib/modules/{version}",
        root / f"lib/modules/{version}",
        symlinks=True,
        dirs_exist_ok=True,
    )
    shutil.copy(GUEST / "start.sh", root / "sbin/bench-start")
    (root / "sbin/bench-start").chmod(0o755)
    _run(
        *("mksquashfs", "root", "root.sqfs", "-comp", "zstd", "-Xcompression-level", "3", "-noappend"),
        *("-quiet", "-no-progress", "-no-xattrs", "-e", "boot", "var/cache/apt", "var/lib/apt/lists"),
        cwd=folder,
    )
    shutil.rmtree(root)


def _initrd(folder: Path, version: str) -> None:
    """Make the first file system: a static shell and the modules that reach the root and the share."""
    first = folder / "first"
    for name in ("bin", "dev", "proc", "sys", "modules", "read-only", "written", "system"):
        (first / name).mkdir(parents=True)
    shutil.copy(shutil.which("busybox") or "/bin/busybox", first / "bin/busybox")
    modules: dict[str, None] = {}
    for name in INITRD_MODULES:
        told = _run("modprobe", "-S", version, "-d", folder / "kernel", "--show-depends", name, cwd=folder)
        modules.update(
            dict.fromkeys(line.split()[1] for line in told.decode().splitlines() if line.startswith("insmod"))
        )
    for number, path in enumerate(modules):
        shutil.copy(path, first / f"modules/{number:02}-{Path(path).name}")
    shutil.copy(GUEST / "first.sh", first / "init")
    (first / "init").chmod(0o755)
    names = "".join(f"{path.relative_to(first)}\n" for path in sorted(first.rglob("*")))
    archive = _run("cpio", "-o", "-H", "newc", "--quiet", cwd=first, data=names.encode())
    (folder / "initrd").write_bytes(_run("gzip", "-1", cwd=folder, data=archive))
    shutil.rmtree(first)
    shutil.rmtree(folder / "kernel")
