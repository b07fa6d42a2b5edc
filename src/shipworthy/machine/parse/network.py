"""Network interfaces that are hardware, and the jacks of wired ones."""

from __future__ import annotations

from shipworthy.machine.listing import Listing, number_or_implausible, said
from shipworthy.machine.parse.wiring import device_place, pci_function_of
from shipworthy.machine.raw import Parsed, Reply, reply_named
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Port, PortState
from shipworthy.model.words import Absent, PartKind

FOLDER = "/sys/class/net"
ETHERNET = "1"  # ARPHRD_ETHER of linux/if_arp.h


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `network`. A function with several interfaces gives each `/port-N`, by the driver's number."""
    reply = reply_named(replies, "network")
    if reply is None or not reply.read:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    devices = {
        name: device
        for name in listing.names(FOLDER)
        if (device := listing.target(f"{FOLDER}/{name}/device")) is not None
    }
    found: list[Sighting] = []
    ports: list[Port] = []
    for name, device in devices.items():
        place = device_place(device)
        if [device_place(other) for other in devices.values()].count(place) > 1:
            place += f"/port-{listing.number(f'{FOLDER}/{name}/dev_port') or 0}"
        fields = _fields(listing, name)
        found.append(Sighting(kind=PartKind.NETWORK, place=place, source=reply.id, said=fields))
        if _has_jack(listing, name, device):
            ports.append(
                Port(place=place, label=name, connector="Ethernet", state=PortState.UNTESTED, source=reply.id)
            )
    return Parsed(tuple(found), tuple(ports))


def _has_jack(listing: Listing, name: str, device: str) -> bool:
    """Wired and physical. Whether the jack is RJ-45 or a cage, sysfs does not tell: `Ethernet` says both."""
    driver = listing.target(f"{FOLDER}/{name}/device/driver") or ""
    wired = listing.text(f"{FOLDER}/{name}/type") == ETHERNET and not _wireless(listing, name)
    return wired and "/virtio" not in device and not driver.endswith("/virtio_net")


def _wireless(listing: Listing, name: str) -> bool:
    return bool(listing.names(f"{FOLDER}/{name}/wireless"))


def _fields(listing: Listing, name: str) -> tuple[Said, ...]:
    folder = f"{FOLDER}/{name}"
    device = listing.target(f"{folder}/device") or ""
    driver = listing.target(f"{folder}/device/driver")
    fields = (
        said("kernel_name", name),
        said("wireless", _wireless(listing, name)),
        listing.said("mac", f"{folder}/address", _mac),
        _while_up(listing, folder, "speed_mbit_s", "speed"),
        _while_up(listing, folder, "duplex", "duplex"),
        listing.said("carrier", f"{folder}/carrier", lambda text: text == "1"),
    )
    if "/virtio" in device and pci_function_of(device):  # the function has a driver of its own, and says so
        return fields
    return (*fields, said("driver", driver.rsplit("/", 1)[-1] if driver else None))


def _mac(text: str) -> str | Absent:
    return Absent.NOT_OFFERED if not text or set(text) <= set("0:") else text.lower()


def _while_up(listing: Listing, folder: str, field: str, file: str) -> Said:
    """Speed and duplex exist while there is a link: reading them otherwise fails with EINVAL, or gives -1."""
    row = listing.row(f"{folder}/{file}")
    if row is None or row.error == "EINVAL" or (row.text or "").strip() in ("-1", "unknown", "4294967295"):
        return said(field, Absent.NOT_OFFERED)
    return listing.said(field, f"{folder}/{file}", number_or_implausible if file == "speed" else str)
