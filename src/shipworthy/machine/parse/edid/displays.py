"""Displays by their EDID, the names of their makers, and the connectors of graphics cards."""

from __future__ import annotations

import re

from shipworthy.machine.listing import WHY_ABSENT, Listing, said
from shipworthy.machine.parse.edid.blocks import Edid, is_edid, read_edid, remarks_of, sum_holds
from shipworthy.machine.parse.edid.facts import absent_facts, facts_of
from shipworthy.machine.parse.id_databases import read_names
from shipworthy.machine.parse.wiring import device_place
from shipworthy.machine.raw import Parsed, Reply, reply_read, text_read
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import Port, PortState, Remark
from shipworthy.model.words import Absent, PartKind

FOLDER = "/sys/class/drm"
_CONNECTOR = re.compile(r"(card\d+)-(.+)-(\d+)")

# Names of connector types in the kernel (drm_connector.c), and what stands on the back of a machine
CONNECTORS = {
    "DP": "DisplayPort",
    "HDMI-A": "HDMI",
    "HDMI-B": "HDMI",
    "DVI-D": "DVI",
    "DVI-I": "DVI",
    "DVI-A": "DVI",
    "VGA": "VGA",
    "USB": "USB-C",
    "Composite": "Composite",
    "SVIDEO": "S-Video",
    "Component": "Component",
    "DIN": "DIN",
    "TV": "TV",
}
"""Others (eDP, LVDS, DSI, DPI, Virtual, Writeback) are inside, or no connector at all."""


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Replies `displays` and `displays.names`: a display where a connector answers with an EDID, its maker's
    name where a list is installed, a port for each outer connector.

    A port is to be used only where this reading proves it: something is connected and answers, the card
    drives it at this moment, and no other card has connectors. With two cards the reading cannot tell
    which one the customer is meant to use.
    """
    reply = reply_read(replies, "displays")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    names = [name for name in listing.names(FOLDER) if _CONNECTOR.fullmatch(name)]
    cards = {name.split("-", 1)[0] for name in names if _kind(name) in CONNECTORS}
    names_known = _names_of_makers(text_read(replies, "displays.names"))
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for name in names:
        data = listing.data(f"{FOLDER}/{name}/edid")
        edid = read_edid(data) if data else None
        found += _display(listing, name, edid, reply.id, names_known)
        remarks += remarks_of(edid, reply.id, f"{name} ") if edid else ()
    ports = [_port(listing, n, reply.id, len(cards) == 1) for n in names if _kind(n) in CONNECTORS]
    return Parsed(tuple(found), tuple(ports), tuple(remarks))


def _names_of_makers(text: str) -> dict[str, str]:
    """Return makers' names by their three letters, from the lines that were kept of a list."""
    return {code: name for (code, device), name in read_names(text).items() if not device}


def _kind(name: str) -> str:
    match = _CONNECTOR.fullmatch(name)
    return match[2] if match else ""


def _display(
    listing: Listing, name: str, edid: Edid | None, source: str, makers: dict[str, str]
) -> list[Sighting]:
    """A connected display that answers nothing is there too, and says that it does not say.

    The maker is the list's name where there is one; else the three letters stand for it.
    """
    if edid is None and listing.text(f"{FOLDER}/{name}/status") != "connected":
        return []
    row = listing.row(f"{FOLDER}/{name}/edid")
    why = WHY_ABSENT.get(row.outcome, Absent.NOT_OFFERED) if row is not None else Absent.NOT_OFFERED
    facts = facts_of(edid) if edid is not None else absent_facts(why)
    code = next(field.value for field in facts if field.name == "maker_code")
    card = listing.target(f"{FOLDER}/{name.split('-', 1)[0]}/device")
    maker = makers.get(str(code)) if code is not None else None
    own = tuple(field for field in facts if maker is None or field.name != "maker")
    graphics = said("graphics", device_place(card) if card else None)
    place = f"drm:{name}"
    found = [Sighting(kind=PartKind.DISPLAY, place=place, source=source, said=(*own, graphics))]
    if maker is not None:
        by_name = (said("maker", maker),)
        found.append(Sighting(kind=PartKind.DISPLAY, place=place, source="displays.names", said=by_name))
    return found


def _port(listing: Listing, name: str, source: str, only_card: bool) -> Port:
    edid = listing.data(f"{FOLDER}/{name}/edid")
    answers = is_edid(edid) and sum_holds(edid)
    connected = listing.text(f"{FOLDER}/{name}/status") == "connected"
    driven = listing.text(f"{FOLDER}/{name}/enabled") == "enabled"
    return Port(
        place=f"drm:{name}",
        label=name.split("-", 1)[1],
        connector=CONNECTORS[_kind(name)],
        state=PortState.USE if only_card and answers and connected and driven else PortState.UNTESTED,
        source=source,
        occupied_by=f"drm:{name}" if edid or connected else "",
    )
