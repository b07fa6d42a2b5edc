"""A machine and a folder of reports with personal texts planted wherever one can lie; all names invented."""

# ruff: noqa: E501
# Lines as those tools print them.

from __future__ import annotations

import json
import struct
from pathlib import Path

from tests.machine import recorded
from tests.machine.recorded import NIC, NVME, link, write
from tests.machine.reports_of_a_machine import fill
from tests.machine.smbios_bytes import end, structure

HOST = "fjordheim"
MACHINE = {
    "usb serial": "UU77-USB-4401",
    "container id": "5b1e9f0a7c3d4e2f8a6b1c9d0e3f7a51",
    "interface": "021a2b3c4d5e",
    "infiniband": "80:00:02:08:fe:80:00:00:00:00:00:00:02:c9:03:00:0a:1b:2c:3d",
    "platform key": "Mettesdatter Own Platform Key",
    "pci serial": "7a61bdfffe332211",
    "nqn": "3f2504e0-4f89-41d3-9a0c-0305e82c3301",
    "fru": "a1b2c3d4e5f60718293a4b5c6d7e8f90",
    "nvme own bytes": "OWNBYTES-ND-551",
    "ata own bytes": "SMARTOWN-ND-552",
    "oem string": "Bestilt af Mette Hvidtfeldt",
    "controller": "ilo-mettehost",
    "behind the table": "STALE-SER-99102",
    "gpu": "1f0b2c6e-97d3-4a51-8c0e-6d5b4a392817",
    "battery": "BT-4471-0092",
    "display": "DSP88120017",
    "possessive": "Ingeborg",
}
REPORTS = {
    "host": "skovsgaard",
    "user": "hvidtfeldt",
    "wifi": "Fjordnettet 5G",
    "label": "Mettes Fotos",
    "mount": "Ferieplaner",
    "volume": "skovs--vg",
    "short uuid": "7C1A-92EF",
    "long uuid": "qW3eRt-Y7uI-oP9a-SdF1-gHjK-lZxC-vBnM5q",
    "ntfs uuid": "9A4C2E7F1B3D5A60",
    "luks": "0d1c2b3a-4958-6776-8594-a3b2c1d0e9f8",
    "ip": "84.215.33.117",
    "link local": "fe80::a1b2:c3ff:fed4:e5f6",
    "oem string": "Udlaant til Karoline",
    "own structure": "LICENS-KQ-7719",
    "tag": "INV-2207-KLM",
    "module key": "skovs-arbejdsplads",
    "file": "Karolines-pc",
    "left over": "Skilsmisse aftale",
    "program": "hemmeligt-spil",
    "escaped": "Jørgensen",
    "spaced": "SN 77 QQ 12",
    "no colon": "FBSDSER00417",
    "eui": "0025385b11c2d3e4",
    "naa": "5000c5009f8e7d6c",
    "gpu uuid": "2e1d0c9b-8a79-4685-9374-a2b1c0dfeedc",
    "dsn": "00-1b-21-ff-fe-77-66-55",
    "bsd host": "langbane",
}


def machine(root: Path) -> Path:
    """Return the recorded machine with its own serials, and everything of MACHINE beside."""
    recorded.build(root)
    usb = "sys/devices/pci0000:00/0000:00:14.0/usb1/1-3"
    texts = {
        "idVendor": "0a5c", "idProduct": "21e8", "serial": MACHINE["usb serial"], "maxchild": "0",
        "manufacturer": "Norvik", "product": f"{MACHINE['possessive']}'s Keyboard", "speed": "480",
    }  # fmt: skip
    for name, text in texts.items():
        write(root, f"{usb}/{name}", f"{text}\n")
    bos = bytes([5, 15, 25, 0, 1, 20, 16, 4, 0]) + bytes.fromhex(MACHINE["container id"])
    write(root, f"{usb}/bos_descriptors", bos)
    link(root, "sys/bus/usb/devices/1-3", usb)
    pairs = ":".join(MACHINE["interface"][at : at + 2] for at in range(0, 12, 2))
    name = f"enx{MACHINE['interface']}"
    for interface, address in ((name, pairs), ("ibp6s0", MACHINE["infiniband"])):
        write(root, f"{NIC}/net/{interface}/address", f"{address}\n")
        link(root, f"{NIC}/net/{interface}/device", NIC)
        link(root, f"sys/class/net/{interface}", f"{NIC}/net/{interface}")
    reply = struct.pack("<II", 0x20, 6) + bytes.fromhex(MACHINE["interface"]) + bytes(26)
    write(root, f"replies/{name}/ethtool-permanent-address.bin", reply)
    key = b"\x27\0\0\0" + bytes(28) + b"0\x82" + MACHINE["platform key"].encode()
    write(root, "sys/firmware/efi/efivars/PK-8be4df61-93ca-11d2-aa0d-00e098032b8c", key)
    space = bytearray(0x200)
    space[0:2], space[6], space[0x34], space[0x40:0x43] = b"\x86\x80", 0x10, 0x40, b"\x10\0\x02"
    serial = bytes.fromhex(MACHINE["pci serial"])
    space[0x100:0x10C] = bytes.fromhex("03000100") + serial
    write(root, f"{NVME}/config", bytes(space))
    page = bytearray(recorded.identify_controller())
    nqn = f"nqn.2014-08.org.nvmexpress:uuid:{MACHINE['nqn']}".encode()
    page[768 : 768 + len(nqn)], page[112:128] = nqn, bytes.fromhex(MACHINE["fru"])
    page[3100 : 3100 + 15] = MACHINE["nvme own bytes"].encode()
    write(root, "replies/nvme0/identify-controller.bin", bytes(page))
    smart = bytearray(512)
    smart[0], smart[400:415] = 16, MACHINE["ata own bytes"].encode()
    smart[511] = -sum(smart[:511]) % 256
    write(root, "replies/sda/ata-smart.bin", bytes(smart))
    table = recorded.smbios_table()[: -len(end())]
    table += structure(11, 0x40, b"\x01", MACHINE["oem string"])
    table += structure(42, 0x41, b"\x40\x40" + MACHINE["controller"].encode())
    table += end() + b"\xff\x03" + MACHINE["behind the table"].encode() + b"\0"
    write(root, "sys/firmware/dmi/tables/DMI", table)
    battery = "sys/devices/virtual/power_supply/BAT0"
    for attribute, text in (("type", "Battery"), ("serial_number", MACHINE["battery"]), ("present", "1")):
        write(root, f"{battery}/{attribute}", f"{text}\n")
    link(root, "sys/class/power_supply/BAT0", battery)
    log = f"[    0.000000] Linux version 6.12 (a@{HOST})\n[    1.0] NVRM: GPU-{MACHINE['gpu']} is lost\n"
    write(root, "dmesg.txt", log)
    return root


DMESG = f"""\
[    0.000000] Linux version 6.12.1-bench (mason@{REPORTS["host"]}) (gcc 13) #1 SMP
[    0.000000] Command line: root=/dev/mapper/{REPORTS["volume"]}-root rd.luks=luks-{REPORTS["luks"]} quiet
[    2.000000] systemd[1]: Hostname set to <{REPORTS["host"]}>.
[    2.100000] Loaded X.509 cert '{REPORTS["module key"]} Secure Boot Module Signature key: 8a1b'
[    2.200000] usb 1-2: Product: Karolines telefon
[    3.000000] wlan0: ESSID:"{REPORTS["wifi"]}"
[    3.100000] audit: type=1100 acct="{REPORTS["user"]}" hostname=? addr={REPORTS["ip"]}
[    3.200000] IPv6: eth0: {REPORTS["link local"]} is ready
[    3.300000] ada0: Serial Number {REPORTS["no colon"]}
[    3.400000] hostname: {REPORTS["bsd host"]}
[    3.500000] exe=/home/{REPORTS["user"]}/bin/x
"""
DMIDECODE_MORE = f"""
Handle 0x0040, DMI type 11, 5 bytes
OEM Strings
\tString 1: {REPORTS["oem string"]}

Handle 0x0041, DMI type 131, 22 bytes
OEM-specific Type
\tHeader and Data:
\t\t83 16 41 00 4B 51 37 37
\tStrings:
\t\t{REPORTS["own structure"]}

Handle 0x0042, DMI type 3, 22 bytes
Chassis Information
\tManufacturer: Holloway
\tAsset Tag: {REPORTS["tag"]}
\tSerial Number: {REPORTS["spaced"]}
"""


def reports(folder: Path) -> Path:
    """Return the folder of reports of one machine with everything of REPORTS in them."""
    fill(folder)
    stem = f"{REPORTS['file']}-"
    (folder / "dmesg.txt").write_text(DMESG)
    dmi = folder / "dmidecode.txt"
    dmi.write_text(dmi.read_text() + DMIDECODE_MORE)
    dmi.rename(folder / f"{stem}dmidecode.txt")
    drives = json.loads((folder / "lsblk.json").read_text())
    drives["blockdevices"][0] |= {
        "label": REPORTS["label"], "uuid": REPORTS["short uuid"], "owner": REPORTS["user"],
        "id-link": f"ata-Quarrel_{REPORTS['spaced'].replace(' ', '_')}",
        "mountpoints": [f"/media/{REPORTS['user']}/{REPORTS['mount']} 2024", "/"],
        "children": [
            {"name": "sda1", "type": "part", "uuid": REPORTS["long uuid"], "mountpoint": f"/mnt/{REPORTS['mount']}"},
            {"name": "sda2", "type": "part", "uuid": REPORTS["ntfs uuid"], "partlabel": REPORTS["escaped"]},
        ],
    }  # fmt: skip
    (folder / "lsblk.json").write_text(json.dumps(drives, indent=3))
    smart = json.loads((folder / "smartctl-sda.json").read_text())
    naa = REPORTS["naa"]
    smart["wwn"] = {"naa": int(naa[0], 16), "oui": int(naa[1:7], 16), "id": int(naa[7:], 16)}
    (folder / "smartctl-sda.json").write_text(json.dumps(smart, indent=2))
    eui = REPORTS["eui"]
    disk = {"id": 1, "eui64": {"oui": int(eui[:6], 16), "ext_id": int(eui[6:], 16)}}
    more = smart | {"device": {"name": "/dev/nvme0", "type": "nvme", "protocol": "NVMe"}}
    more |= {"serial_number": "QR1TB000451", "model_name": "Quarrel M2 1TB", "nvme_namespaces": [disk]}
    (folder / "smartctl-nvme0.json").write_text(json.dumps(more))
    text = f"smartctl 7.3 2022-02-28 r5338 [x86_64-linux-6.1.0] (local build)\n\n=== START OF INFORMATION SECTION ===\n" \
        f"Device Model:     Quarrel Archive 4TB Spinner\nSerial Number:    QA4-0017\n" \
        f"LU WWN Device Id: {naa[0]} {naa[1:7]} {naa[7:]}\n"  # fmt: skip
    (folder / "smartctl-sda.txt").write_text(text)
    nvme = (
        text.split("Device Model")[0]
        + f"Model Number: Q\nSerial Number: QR1TB000451\nNamespace 1 IEEE EUI-64: {eui[:6]} {eui[6:]}\n"
    )
    (folder / "smartctl-nvme0.txt").write_text(nvme)
    lshw = (folder / "lshw.xml").read_text().replace('id="tower"', f'id="{REPORTS["host"]}"')
    setting = f'<configuration><setting id="ip" value="{REPORTS["ip"]}" /><setting id="label" value="{REPORTS["label"]}" />'
    lshw = lshw.replace(
        "<logicalname>/dev/nvme0n1",
        f"<logicalname>/mnt/{REPORTS['mount']}</logicalname><logicalname>/dev/nvme0n1",
    )
    lshw = lshw.replace('   <node id="nvme"', f'   {setting}</configuration>\n   <node id="nvme"')
    (folder / "lshw.xml").write_text(lshw)
    lspci = (folder / "lspci.txt").read_text()
    (folder / "lspci.txt").write_text(
        f"{lspci}\tCapabilities: [140 v1] Device Serial Number {REPORTS['dsn']}\n"
    )
    xml = f'<?xml version="1.0" ?>\n<!DOCTYPE nvidia_smi_log SYSTEM "nvsmi_device_v12.dtd">\n<nvidia_smi_log>' \
        f'<gpu id="00000000:01:00.0"><product_name>Sable</product_name><uuid>GPU-{REPORTS["gpu uuid"]}</uuid>' \
        f"<processes><process_info><process_name>/opt/{REPORTS['program']}</process_name></process_info></processes>" \
        f"</gpu></nvidia_smi_log>\n"  # fmt: skip
    (folder / "nvidia-smi.xml").write_text(xml)
    (folder / f"{REPORTS['left over']}.pdf").write_text("%PDF")
    return folder
