"""Radios of wireless networks, and whether a switch keeps them silent.

Sources: /sys/class/ieee80211 and Documentation/ABI/stable/sysfs-class-rfkill.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, said
from shipworthy.machine.parse.wiring import device_place, is_virtual
from shipworthy.machine.raw import Parsed, Reply, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind

FOLDER = "/sys/class/ieee80211"
_SWITCH = re.compile(r"rfkill\d+")
_MAC = re.compile(r"[0-9a-f]{2}(:[0-9a-f]{2}){5}")
_BLOCKED = {"0": False, "1": True}


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `wireless`: one sighting for each radio that is hardware."""
    reply = reply_read(replies, "wireless")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    for name in listing.names(FOLDER):
        folder = f"{FOLDER}/{name}"
        device = listing.target(f"{folder}/device")
        if device is None or is_virtual(device):  # mac80211_hwsim pretends
            continue
        fields = (
            said("wireless", True),
            said("technology", "Wi-Fi"),
            listing.said("permanent_mac", f"{folder}/macaddress", _mac),
            said("driver", listing.target_name(f"{folder}/device/driver")),
            *switches(listing, folder),
        )
        place = device_place(device)
        found.append(Sighting(kind=PartKind.NETWORK, place=place, source=reply.id, said=fields))
    return Parsed(tuple(found))


def switches(listing: Listing, folder: str) -> tuple[Said, ...]:
    """Return whether a radio is blocked: it is if any of its switches is on."""
    names = [name for name in listing.names(folder) if _SWITCH.fullmatch(name)]
    return (
        said("radio_soft_blocked", _any_on(listing, [f"{folder}/{name}/soft" for name in names])),
        said("radio_hard_blocked", _any_on(listing, [f"{folder}/{name}/hard" for name in names])),
    )


def _any_on(listing: Listing, paths: list[str]) -> bool | Absent:
    if not paths:
        return Absent.NOT_OFFERED
    words = [listing.said(path, path, lambda text: _BLOCKED.get(text, Absent.IMPLAUSIBLE)) for path in paths]
    if any(word.value is True for word in words):
        return True
    reasons = [word.absent for word in words if word.absent is not None]
    return reasons[0] if reasons else False


def _mac(text: str) -> str | Absent:
    mac = text.lower()
    if not _MAC.fullmatch(mac):
        return Absent.IMPLAUSIBLE
    return Absent.NOT_OFFERED if set(mac) <= set("0:") else mac
