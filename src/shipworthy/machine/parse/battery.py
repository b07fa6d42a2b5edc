"""Batteries: what they hold against what they were made for; and adapters.

Source: Documentation/ABI/testing/sysfs-class-power (µWh, µAh, µV, whole percent). The numbers are the
battery's own; many tell zero cycles or a design capacity of zero where they do not count.
"""

from __future__ import annotations

from shipworthy.machine.listing import Listing, number_or_implausible, said, text_or_silence
from shipworthy.machine.parse.acpi_place import acpi_place
from shipworthy.machine.raw import Parsed, Reply, remark, reply_read
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

FOLDER = "/sys/class/power_supply"
MOST_HEALTH = (
    2.0  # a new battery holds some percent more than its design; twice is no battery's (our own bound)
)
MOST_VOLTS = 100
MOST_CYCLES = 20_000


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `battery`: one sighting for each battery and adapter. What serves only a device of its own, such
    as the cell in a mouse, has the place of that device."""
    reply = reply_read(replies, "battery")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for name in listing.names(FOLDER):
        device = listing.target(f"{FOLDER}/{name}/device") or ""
        place = acpi_place(device) or f"power:{name}"
        sort = listing.text(f"{FOLDER}/{name}/type")
        if sort == "Battery":
            fields = _battery(listing, name, reply.id, remarks)
            found.append(Sighting(kind=PartKind.BATTERY, place=place, source=reply.id, said=fields))
        elif sort is not None:
            fields = _adapter(listing, name, sort)
            found.append(Sighting(kind=PartKind.POWER_SUPPLY, place=place, source=reply.id, said=fields))
    return Parsed(tuple(found), remarks=tuple(remarks))


def _adapter(listing: Listing, name: str, sort: str) -> tuple[Said, ...]:
    """`Mains`, `USB`, `Wireless`, `UPS`: their kind, and whether they feed the machine now."""
    fields = (said("kernel_name", name), said("type", sort))
    return (*fields, listing.said("online", f"{FOLDER}/{name}/online", _online))


def _online(text: str) -> bool | Absent:
    """0: no; 1: yes; 2: yes, with a voltage that was agreed."""
    return {"0": False, "1": True, "2": True}.get(text, Absent.IMPLAUSIBLE)


def _battery(listing: Listing, name: str, source: str, remarks: list[Remark]) -> tuple[Said, ...]:
    folder = f"{FOLDER}/{name}"
    fields: tuple[Said, ...] = (
        said("kernel_name", name),
        said("of_a_device", listing.text(f"{folder}/scope") == "Device"),
    )
    if listing.text(f"{folder}/present") == "0":
        return (*fields, said("present", False))
    fields += (
        said("present", True if listing.text(f"{folder}/present") == "1" else None),
        *(_text(listing, folder, field, file, source, remarks) for field, file in _TEXTS),
        listing.said("status", f"{folder}/status", _known),
        listing.said("technology", f"{folder}/technology", _known),
        listing.said("capacity_percent", f"{folder}/capacity", _percent),
        listing.said("cycles", f"{folder}/cycle_count", _cycles),
        listing.said("voltage_mv", f"{folder}/voltage_now", _millivolts),
        listing.said("voltage_design_mv", f"{folder}/voltage_min_design", _millivolts),
    )
    return (*fields, *_holds(listing, folder, source, remarks))


_TEXTS = (("maker", "manufacturer"), ("model", "model_name"), ("serial", "serial_number"))


def _text(listing: Listing, folder: str, field: str, file: str, source: str, remarks: list[Remark]) -> Said:
    """Return a text of the battery's. Bytes that are no text, as some leave behind theirs, are cut off."""
    word = listing.said(field, f"{folder}/{file}", str)
    if not isinstance(word.value, str):
        return word
    text = "".join(sign for sign in word.value if sign.isprintable() and sign != "\ufffd").strip()
    if text != word.value:
        where, detail = f"{folder}/{file}", repr(word.value)
        remarks.append(remark(source, RemarkKind.BAD_VALUE, where, detail))
    return said(field, text_or_silence(text))


def _known(text: str) -> str | Absent:
    return Absent.NOT_OFFERED if text in ("", "Unknown") else text


def _percent(text: str) -> int | Absent:
    number = number_or_implausible(text)
    return number if isinstance(number, int) and 0 <= number <= 100 else Absent.IMPLAUSIBLE


def _cycles(text: str) -> int | Absent:
    """0 is what a battery that does not count tells too, and -1 what some drivers do: neither is a count."""
    number = number_or_implausible(text)
    if number in (0, -1):
        return Absent.NOT_OFFERED
    return number if isinstance(number, int) and 0 < number <= MOST_CYCLES else Absent.IMPLAUSIBLE


def _millivolts(text: str) -> int | Absent:
    number = number_or_implausible(text)
    plausible = isinstance(number, int) and 0 < number <= MOST_VOLTS * 1_000_000
    return round(number / 1000) if plausible and isinstance(number, int) else Absent.IMPLAUSIBLE


def _holds(listing: Listing, folder: str, source: str, remarks: list[Remark]) -> tuple[Said, ...]:
    """What it holds when full, against its design: in Wh, or in Ah where the battery counts charge."""
    energy = [listing.said(name, f"{folder}/{file}", _millionth) for name, file in _ENERGY]
    charge = [listing.said(name, f"{folder}/{file}", _millionth) for name, file in _CHARGE]
    use = energy if any(word.value is not None for word in energy) else charge
    if all(word.value is None for word in use):
        use = energy
    full, design = (word.value for word in use[:2])
    health: Scalar | Absent = Absent.NOT_OFFERED
    if isinstance(full, float) and isinstance(design, float):
        health = round(full / design, 4)
        if health > MOST_HEALTH:
            detail = f"full {full:g}, design {design:g}"
            remarks.append(remark(source, RemarkKind.BAD_VALUE, folder, detail))
            health = Absent.IMPLAUSIBLE
    elif Absent.IMPLAUSIBLE in (use[0].absent, use[1].absent):
        health = Absent.IMPLAUSIBLE
    return (*use, said("health_ratio", health))


_ENERGY = (
    ("energy_full_wh", "energy_full"),
    ("energy_design_wh", "energy_full_design"),
    ("energy_now_wh", "energy_now"),
)
_CHARGE = (
    ("charge_full_ah", "charge_full"),
    ("charge_design_ah", "charge_full_design"),
    ("charge_now_ah", "charge_now"),
)


def _millionth(text: str) -> float | Absent:
    """µWh or µAh. Zero and less are what a battery that does not know tells."""
    number = number_or_implausible(text)
    if isinstance(number, Absent):
        return number
    return number / 1_000_000 if number > 0 else Absent.NOT_OFFERED
