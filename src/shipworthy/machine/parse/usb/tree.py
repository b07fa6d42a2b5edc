"""The tree of USB devices, hubs and ports, by the names that the kernel gives them.

`usb1` is a root hub; `1-4` hangs on its port 4, `1-4.2` on port 2 of the hub `1-4`. Port 2 of that hub is
`1-4-port2`, below the hub's one interface `1-4:1.0`; of a root hub `usb1-port4` below `1-0:1.0`. A
connector with USB 3 has a port on each of two buses, which the kernel links as peers.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing
from shipworthy.machine.parse.usb.words import HUB
from shipworthy.machine.parse.wiring import device_place
from shipworthy.model.reading import Port, PortState

DEVICES = "/sys/bus/usb/devices"
_ROOT_HUB = re.compile(r"usb\d+")
_DEVICE = re.compile(r"\d+-\d+(\.\d+)*")
_PORT = re.compile(r"(.+)-port(\d+)")


class Tree:
    """What is attached to what."""

    def __init__(self, listing: Listing) -> None:
        self._listing = listing
        self._names = listing.names(DEVICES)

    def devices(self) -> list[str]:
        """Return the names of devices that are no root hubs and that a place is known of."""
        return [n for n in self._names if _DEVICE.fullmatch(n) and self._path(n) is not None]

    def _root_hubs(self) -> list[str]:
        return [n for n in self._names if _ROOT_HUB.fullmatch(n) and self._path(n) is not None]

    def _path(self, name: str) -> str | None:
        return self._listing.target(f"{DEVICES}/{name}")

    def place(self, name: str) -> str:
        return device_place(self._path(name) or "")

    def interfaces(self, name: str) -> list[str]:
        return [other for other in self._names if other.startswith(f"{name}:")]

    def speed(self, name: str) -> float | int | None:
        """Return the speed in Mbit/s; None if the kernel does not say."""
        text = self._listing.text(f"{DEVICES}/{name}/speed") or ""
        if not re.fullmatch(r"\d{1,6}(\.\d+)?", text):
            return None
        return float(text) if "." in text else int(text)

    def class_of(self, name: str) -> int | None:
        text = self._listing.text(f"{DEVICES}/{name}/bDeviceClass") or ""
        return int(text, 16) if re.fullmatch(r"[0-9a-fA-F]{2}", text) else None

    def controllers(self) -> list[str]:
        """Return the places of controllers on PCI, in the order of their buses."""
        places = [device_place((self._path(hub) or "").rsplit("/", 1)[0]) for hub in self._root_hubs()]
        return [place for place in dict.fromkeys(places) if re.fullmatch(r"pci:[0-9a-f:.]+", place)]

    def _hubs_of(self, place: str) -> list[str]:
        hubs = self._root_hubs()
        return [hub for hub in hubs if device_place((self._path(hub) or "").rsplit("/", 1)[0]) == place]

    def fastest_bus(self, place: str) -> float | int | None:
        return max((s for hub in self._hubs_of(place) if (s := self.speed(hub))), default=None)

    def over_currents(self, place: str) -> int | None:
        """Return how often the root hubs' ports drew too much; None if the kernel does not count."""
        counts = [
            count
            for hub in self._hubs_of(place)
            for port in self._port_folders(hub)
            if (count := self._listing.number(f"{port}/over_current_count")) is not None
        ]
        return sum(counts) if counts else None

    def _interface_of_hub(self, hub: str) -> str:
        return f"{hub[3:]}-0:1.0" if _ROOT_HUB.fullmatch(hub) else f"{hub}:1.0"

    def _port_folders(self, hub: str) -> list[str]:
        folder = f"{DEVICES}/{self._interface_of_hub(hub)}"
        names = [name for name in self._listing.names(folder) if _PORT.fullmatch(name)]
        return [f"{folder}/{name}" for name in sorted(names, key=_port_number)]

    def _port_of(self, device: str) -> str:
        """Return the folder of the port that a device hangs on."""
        hub, _, number = device.rpartition("." if "." in device else "-")
        hub = hub if "-" in hub else f"usb{hub}"
        return f"{DEVICES}/{self._interface_of_hub(hub)}/{hub}-port{number}"

    def _peer(self, port: str) -> tuple[str, str] | None:
        """Return hub and device name of a port's peer: `usb2`, `2-4`."""
        target = self._listing.target(f"{port}/peer")
        return None if target is None else _hub_and_device(target)

    def _known(self, port: str) -> bool:
        return self._listing.row(f"{port}/connect_type") is not None

    def port_speed(self, device: str) -> float | int | None:
        """Return the fastest speed of the buses that a device's port has; None if its port is not told."""
        port = self._port_of(device)
        own = _hub_and_device(port)
        if not self._known(port) or own is None:
            return None
        peer = self._peer(port)
        speeds = [self.speed(own[0]), self.speed(peer[0]) if peer is not None else None]
        return max((speed for speed in speeds if speed is not None), default=None)

    def has_twin(self, hub: str) -> bool | None:
        """Return whether a hub's other half is there, on the peer of its port; None if it has no peer."""
        peer = self._peer(self._port_of(hub))
        return None if peer is None else self.class_of(peer[1]) == HUB

    def ports(self, source: str) -> tuple[Port, ...]:
        """Return the connectors: ports that the firmware calls `hotplug`. Peers are one connector."""
        found: list[Port] = []
        seen: set[str] = set()
        for hub in self._root_hubs() + self.devices():
            for port in self._port_folders(hub):
                name = port.rsplit("/", 1)[-1]
                if self._listing.text(f"{port}/connect_type") == "hotplug" and name not in seen:
                    peer = self._listing.target(f"{port}/peer")
                    seen |= {name, (peer or "").rsplit("/", 1)[-1]}
                    found.append(self._connector(hub, port, source))
        return tuple(found)

    def _connector(self, hub: str, port: str, source: str) -> Port:
        own = _hub_and_device(port)
        peer = self._peer(port)
        device = own[1] if own is not None else ""
        attached = [d for d in (device, peer[1] if peer else "") if d in self._names and self._path(d)]
        panel = self._listing.text(f"{port}/physical_location/panel")
        type_c = "/typec/" in (self._listing.target(f"{port}/connector") or "")
        label = port.rsplit("/", 1)[-1]
        return Port(
            place=device_place(f"{self._path(hub)}/{device}"),
            label=f"{label} ({panel})" if panel and panel != "unknown" else label,
            connector="USB-C" if type_c else "USB",
            state=PortState.UNTESTED,
            source=source,
            occupied_by=self.place(attached[0]) if attached else "",
        )


def _port_number(name: str) -> int:
    match = _PORT.fullmatch(name)
    return int(match[2]) if match else 0


def _hub_and_device(port: str) -> tuple[str, str] | None:
    """Return the hub of a port, and the name that a device there has."""
    match = _PORT.fullmatch(port.rsplit("/", 1)[-1])
    if match is None:
        return None
    hub, number = match[1], match[2]
    return hub, f"{hub[3:]}-{number}" if _ROOT_HUB.fullmatch(hub) else f"{hub}.{number}"
