"""What runs inside the virtual PC: it talks by lines on the console (READY, SAID) and files in the share."""

import json
import os
import pathlib
import shutil
import subprocess
import sys
import time

SHARE = pathlib.Path("/mnt/share")
CODE = "/tmp/code"
NOBODY = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups")
sys.path.insert(0, str(SHARE))


def shipworthy(*words, account=(), stdin=None):
    """Run the tool and return its exit code, and the seconds that it took with its start."""
    began = time.monotonic()
    done = subprocess.run(
        [*account, sys.executable, "-m", "shipworthy", *words],
        env={"PYTHONPATH": CODE, "PATH": os.environ["PATH"], "HOME": "/tmp", "LC_ALL": "C.UTF-8"},
        stdin=stdin,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        print("FAILED", words, done.returncode, done.stderr[-2000:])
    return done.returncode, round(time.monotonic() - began, 2)


def ask_host(name):
    """Let the host do its part of a step, and wait until it has."""
    print("READY", name)
    while not (SHARE / f"go-{name}").exists():
        time.sleep(0.05)


def read(name, *words, account=(), stdin=None):
    """Take a reading into the share; an account without rights writes to /tmp first."""
    folder = pathlib.Path("/tmp/readings") / name
    code, seconds = shipworthy("read", "--into", str(folder), *words, account=account, stdin=stdin)
    shutil.copytree(folder, SHARE / name)
    print("SAID", json.dumps({"reading": name, "exit": code, "seconds": seconds}))


def sample(name):
    """Say one row of all sensors, by place and channel, as the burn-in's sampler sees it."""
    code = (
        "import json, pathlib\n"
        "from shipworthy.machine.root import LIVE\n"
        "from shipworthy.machine.sensors import Sampler, list_columns\n"
        "columns = list_columns(LIVE)\n"
        "row = dict(zip([f'{c.place} {c.channel}' for c in columns], Sampler(LIVE, columns).sample()))\n"
        f"print('SAID', json.dumps({{'sample': {name!r}, 'row': row}}))\n"
    )
    subprocess.run([sys.executable, "-c", code], env={"PYTHONPATH": CODE}, check=True)


def report(name, *words):
    """Keep what another tool prints."""
    done = subprocess.run(words, capture_output=True)
    (SHARE / "reports" / name).write_bytes(done.stdout)


def reports():
    (SHARE / "reports").mkdir()
    report("dmidecode.txt", "dmidecode")
    report("lspci.txt", "lspci", "-vvnn")
    report("lscpu.txt", "lscpu")
    report("lscpu.json", "lscpu", "-J")
    report("lsblk.json", "lsblk", "-J", "-b", "-o", "NAME,MODEL,SERIAL,SIZE,ROTA,TYPE,TRAN")
    report("sensors.json", "sensors", "-j")
    report("lshw.xml", "lshw", "-xml", "-quiet")
    report("dmesg.txt", "dmesg")
    for device in ("nvme0", *sorted(disk.name for disk in pathlib.Path("/sys/block").glob("sd*"))):
        report(f"smartctl-{device}.json", "smartctl", "-j", "-x", f"/dev/{device}")
        report(f"smartctl-{device}.txt", "smartctl", "-x", f"/dev/{device}")


def monitor(edid):
    """Plug in a monitor of the test's making: the driver takes this EDID for the one that it read."""
    override = next(pathlib.Path("/sys/kernel/debug/dri").glob("*/Virtual-1/edid_override"))
    override.write_bytes(edid)
    status = next(pathlib.Path("/sys/class/drm").glob("card*-Virtual-1")) / "status"
    status.write_text("detect")


def main():
    from chips import Chips

    shutil.copytree(SHARE / "code", CODE)
    readings = pathlib.Path("/tmp/readings")
    readings.mkdir()
    readings.chmod(0o777)
    modules = [(0x50 + i, file.read_bytes()) for i, file in enumerate(sorted(SHARE.glob("spd-*.bin")))]
    chips = Chips(modules)
    time.sleep(2.5)
    shipworthy("--version")  # compiles, so that the times below are those of a second start
    sample("before")
    read("root")
    with open("/tmp/privileged.tar", "wb") as tar:
        alone = f"{CODE}/shipworthy/machine/capture/privileged.py"
        subprocess.run([sys.executable, "-I", alone], stdout=tar, check=True)
    with open("/tmp/privileged.tar", "rb") as tar:
        read("privileged", "--privileged", "-", account=NOBODY, stdin=tar)
    read("user", account=NOBODY)
    read("specimen", "--specimen")
    reports()
    monitor((SHARE / "monitor.bin").read_bytes())
    chips.fan(0, 0)
    chips.temperature(0, 97)
    ask_host("change")
    time.sleep(2.5)
    sample("after")
    read("changed")
    print("READY vanish")  # the host unplugs while this reading runs
    read("vanishing")
    time.sleep(2)
    read("gone")
    print("SAID", json.dumps({"ended": True}))


main()
