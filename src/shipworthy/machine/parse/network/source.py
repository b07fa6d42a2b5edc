"""Network interfaces that are hardware, and the jacks of wired ones.

Sources: sysfs (Documentation/ABI/testing/sysfs-class-net) and the answers to two requests of SIOCETHTOOL.
"""

from __future__ import annotations

from shipworthy.machine.listing import Listing, number_or_implausible, said, whole_number
from shipworthy.machine.parse.network.ethtool import LinkSettings, link_settings, permanent_mac
from shipworthy.machine.parse.wiring import device_place, pci_function_of
from shipworthy.machine.raw import Parsed, Reply, remark, reply_named, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Port, PortState, Remark, SourceOutcome
from shipworthy.model.words import Absent, PartKind, RemarkKind

FOLDER = "/sys/class/net"
ETHERNET = "1"  # ARPHRD_ETHER of linux/if_arp.h
_TYPES = {ETHERNET: "Ethernet", "24": "IEEE 1394", "32": "InfiniBand"}
_DEVICE_TYPES = {"wlan": "Wi-Fi", "wwan": "WWAN"}
_ADDRESS_ORIGIN = {"0": "permanent", "1": "random", "2": "stolen", "3": "set"}
_UP = 1  # IFF_UP
MOST_MBIT_S = 1_600_000  # twice the fastest line rate of IEEE 802.3df


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `network`, and `network.<interface>.ethtool-…`. A function with several interfaces gives each
    `/port-N`, by the driver's number; the interfaces of one radio share its place."""
    reply = reply_read(replies, "network")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    devices = {
        name: device for name in listing.names(FOLDER) if (device := _device(listing, name)) is not None
    }
    wired = [device_place(device) for name, device in devices.items() if not _wireless(listing, name)]
    found: list[Sighting] = []
    ports: list[Port] = []
    remarks: list[Remark] = []
    for name, device in devices.items():
        place = device_place(device)
        if not _wireless(listing, name) and wired.count(place) > 1:
            place += f"/port-{listing.number(f'{FOLDER}/{name}/dev_port') or 0}"
        settings = _settings(replies, name, remarks)
        found += _of_the_driver(replies, name, place, settings)  # first: of one source the first is believed
        fields = _fields(listing, name, device)
        found.append(Sighting(kind=PartKind.NETWORK, place=place, source=reply.id, said=fields))
        if _has_jack(listing, name, device):
            jack = "Ethernet" if settings is None or settings.jack is None else settings.jack
            ports.append(
                Port(place=place, label=name, connector=jack, state=PortState.UNTESTED, source=reply.id)
            )
    return Parsed(tuple(found), tuple(ports), tuple(remarks))


def _device(listing: Listing, name: str) -> str | None:
    """Return the device that an interface belongs to; of a recorded tree without that link, its folder."""
    device = listing.target(f"{FOLDER}/{name}/device")
    if device is not None:
        return device
    path = listing.target(f"{FOLDER}/{name}") or ""
    head, found, rest = path.partition("/net/")
    hardware = bool(found) and "/" not in rest and not head.startswith("/sys/devices/virtual")
    return head if hardware and head != "/sys/class" else None


def _settings(replies: tuple[Reply, ...], name: str, remarks: list[Remark]) -> LinkSettings | None:
    reply = reply_read(replies, f"network.{name}.ethtool-link-settings")
    if reply is None:
        return None
    settings = link_settings(reply.data)
    if settings is None:
        detail = f"{len(reply.data)} bytes"
        remarks.append(remark(reply.id, RemarkKind.CUT_SHORT, "link settings", detail))
    elif settings.unknown_modes:
        detail = "link modes " + ", ".join(str(bit) for bit in settings.unknown_modes)
        remarks.append(remark(reply.id, RemarkKind.NOT_UNDERSTOOD, "link settings", detail))
    return settings


def _of_the_driver(
    replies: tuple[Reply, ...], name: str, place: str, settings: LinkSettings | None
) -> list[Sighting]:
    """Return what the driver answers beyond sysfs. An interface whose address is the permanent one says so
    in sysfs too, so the question is not lost where the driver was not asked."""
    found: list[Sighting] = []
    if settings is not None:
        fastest = max(settings.speeds_mbit_s, default=None)
        source = f"network.{name}.ethtool-link-settings"
        fields = (said("speed_max_mbit_s", fastest),)
        found.append(Sighting(kind=PartKind.NETWORK, place=place, source=source, said=fields))
    reply = reply_named(replies, f"network.{name}.ethtool-permanent-address")
    if reply is not None and reply.outcome is not SourceOutcome.ABSENT:
        value: str | Absent = permanent_mac(reply.data) if reply.read else Absent.NOT_READABLE
        fields = (said("permanent_mac", value),)
        found.append(Sighting(kind=PartKind.NETWORK, place=place, source=reply.id, said=fields))
    return found


def _has_jack(listing: Listing, name: str, device: str) -> bool:
    """Wired and physical. Whether the jack is RJ-45 or a cage, sysfs does not tell: `Ethernet` says both."""
    driver = listing.target(f"{FOLDER}/{name}/device/driver") or ""
    return (
        _technology(listing, name) == "Ethernet"
        and "/virtio" not in device
        and not driver.endswith("/virtio_net")
    )


def _wireless(listing: Listing, name: str) -> bool:
    """The folder `wireless` is there only where the old wireless extensions are built in (from memory)."""
    return (
        bool(listing.names(f"{FOLDER}/{name}/wireless"))
        or listing.target(f"{FOLDER}/{name}/phy80211") is not None
        or _device_type(listing, name) == "wlan"
    )


def _device_type(listing: Listing, name: str) -> str:
    lines = (listing.text(f"{FOLDER}/{name}/uevent") or "").splitlines()
    return next((line[8:].strip() for line in lines if line.startswith("DEVTYPE=")), "")


def _technology(listing: Listing, name: str) -> str | None:
    if _wireless(listing, name):
        return "Wi-Fi"
    named = _DEVICE_TYPES.get(_device_type(listing, name))
    return named or _TYPES.get(listing.text(f"{FOLDER}/{name}/type") or "")


def _fields(listing: Listing, name: str, device: str) -> tuple[Said, ...]:
    folder = f"{FOLDER}/{name}"
    driver = listing.target(f"{folder}/device/driver")
    fields = (
        said("kernel_name", name),
        said("wireless", _wireless(listing, name)),
        said("technology", _technology(listing, name)),
        listing.said("mac", f"{folder}/address", _mac),
        listing.said("mac_origin", f"{folder}/addr_assign_type", _origin),
        _permanent(listing, folder),
        listing.said("enabled", f"{folder}/flags", _enabled),
        listing.said("operating_state", f"{folder}/operstate", _state),
        _while_up(listing, folder, "speed_mbit_s", "speed"),
        _while_up(listing, folder, "duplex", "duplex"),
        listing.said("carrier", f"{folder}/carrier", lambda text: text == "1"),
    )
    if "/virtio" in device and pci_function_of(device):  # the function has a driver of its own, and says so
        return fields
    return (*fields, said("driver", driver.rsplit("/", 1)[-1] if driver else None))


def _mac(text: str) -> str | Absent:
    return Absent.NOT_OFFERED if not text or set(text) <= set("0:") else text.lower()


def _origin(text: str) -> str | Absent:
    return _ADDRESS_ORIGIN.get(text, Absent.IMPLAUSIBLE)


def _permanent(listing: Listing, folder: str) -> Said:
    """sysfs holds the address in use; it is the permanent one where its origin says so (NET_ADDR_PERM). An
    InfiniBand address is not: its first bytes are given anew at each start."""
    origin = listing.row(f"{folder}/addr_assign_type")
    if listing.text(f"{folder}/type") not in (ETHERNET, None):
        return said("permanent_mac", Absent.NOT_OFFERED)
    if origin is not None and (origin.text or "").strip() == "0":
        return listing.said("permanent_mac", f"{folder}/address", _mac)
    refused = origin is not None and origin.outcome in (SourceOutcome.REFUSED, SourceOutcome.FAILED)
    return said("permanent_mac", Absent.NOT_READABLE if refused else Absent.NOT_OFFERED)


def _enabled(text: str) -> bool | Absent:
    flags = whole_number(text)
    return Absent.IMPLAUSIBLE if flags is None else bool(flags & _UP)


def _state(text: str) -> str | Absent:
    """RFC 2863's words. `unknown` is what a driver that does not track its state leaves there."""
    return Absent.NOT_OFFERED if text in ("", "unknown") else text


def _while_up(listing: Listing, folder: str, field: str, file: str) -> Said:
    """Speed and duplex exist while there is a link: reading them otherwise fails with EINVAL, or gives -1."""
    row = listing.row(f"{folder}/{file}")
    if row is None or row.error == "EINVAL" or (row.text or "").strip() in ("-1", "unknown", "4294967295"):
        return said(field, Absent.NOT_OFFERED)
    return listing.said(field, f"{folder}/{file}", _speed if file == "speed" else str)


def _speed(text: str) -> int | Absent:
    """65535 is what drivers of old kernels gave for unknown, a speed cut to 16 bits."""
    number = number_or_implausible(text)
    if number in (0, 65535):
        return Absent.NOT_OFFERED
    plausible = isinstance(number, int) and 0 < number <= MOST_MBIT_S
    return number if plausible else Absent.IMPLAUSIBLE
