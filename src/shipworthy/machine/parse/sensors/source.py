"""Sensors: which there are, where they are wired, and what their raw numbers mean.

Source: the kernel's documentation of the hwmon, thermal and powercap interfaces in sysfs.
hwmon counts temperatures in thousandths of a degree, power in microwatts, frequencies in Hz.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, said, whole_number
from shipworthy.machine.parse.sensors.limits import ENDS, channel_facts, limit_word, trip_facts
from shipworthy.machine.parse.sensors.sanity import HIGHEST_RPM, implausible_temperature
from shipworthy.machine.parse.wiring import device_place, storage_place
from shipworthy.machine.raw import Parsed, Reply, remark, reply_named, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.runlog import Column
from shipworthy.model.words import Absent, PartKind, RemarkKind, Unit

HWMON, THERMAL, POWERCAP, CPUS = (
    "/sys/class/hwmon",
    "/sys/class/thermal",
    "/sys/class/powercap",
    "/sys/devices/system/cpu",
)
STAT = "/proc/stat"
_CHANNEL = re.compile(r"(temp|fan|power|freq)(\d+)_(input|average)")
_TRIP = re.compile(r"trip_point_\d+_type")
_QUANTITIES = {
    "temp": ("temperature", Unit.CELSIUS),
    "fan": ("fan", Unit.RPM),
    "power": ("power", Unit.WATTS),
    "freq": ("clock", Unit.MEGAHERTZ),
}

HIGHEST_W = 5_000.0
HIGHEST_MHZ = 20_000.0


def _number(text: str) -> int | None:
    """Return a whole number of up to 64 bits; a longer one is no register's."""
    number = whole_number(text)
    return number if number is not None and number.bit_length() <= 64 else None


def temperature_c(text: str) -> float | None:
    """Return °C of a number of thousandths; None for what cannot be a temperature in a PC."""
    number = _number(text)
    if number is None:
        return None
    value = number / 1000
    return value if implausible_temperature(value) is None else None


def limit_c(text: str | None) -> float | None:
    """Return a device's own limit; 0 and less are no limits, nor is what is no temperature."""
    value = temperature_c(text or "")
    return value if value is not None and value > 0 else None


def fan_rpm(text: str) -> float | None:
    """Return turns a minute; 0 is a fan that stands, or none that is plugged in."""
    number = _number(text)
    return float(number) if number is not None and 0 <= number <= HIGHEST_RPM else None


def power_w(text: str) -> float | None:
    """Return W of a number of microwatts."""
    number = _number(text)
    return number / 1e6 if number is not None and 0 <= number / 1e6 <= HIGHEST_W else None


def clock_mhz(text: str, per_mhz: int) -> float | None:
    """Return MHz of a number of kHz (per_mhz 1000) or Hz (1,000,000)."""
    number = _number(text)
    return number / per_mhz if number is not None and 0 < number / per_mhz <= HIGHEST_MHZ else None


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """The chips: place, name, and of the channels that this tool reads labels and limits. No values."""
    hwmon = _listing(replies, "sensors.hwmon")
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for chip, place in chip_places(hwmon).items():
        fields = _chip_facts(hwmon, chip)
        found.append(_sighting(place, "sensors.hwmon", fields))
        remarks += [
            _impossible("sensors.hwmon", f"{place}: {field.name}")
            for field in fields
            if field.absent is Absent.IMPLAUSIBLE
        ]
    thermal = _listing(replies, "sensors.thermal")
    for zone, kind in _zones(thermal, hwmon):
        folder = f"{THERMAL}/{zone}"
        trips = [
            (thermal.text(f"{folder}/{name}") or "", thermal.text(f"{folder}/{name[:-5]}_temp") or "")
            for name in thermal.names(folder)
            if _TRIP.fullmatch(name)
        ]
        fields = (said("name", kind), said("channels", "temp"), *trip_facts(trips))
        found.append(_sighting(f"thermal:{zone}", "sensors.thermal", fields))
    return Parsed(tuple(found), remarks=tuple(remarks))


def _sighting(place: str, source: str, fields: tuple[Said, ...]) -> Sighting:
    return Sighting(kind=PartKind.SENSOR_CHIP, place=place, source=source, said=fields)


def _impossible(source: str, where: str) -> Remark:
    return remark(source, RemarkKind.BAD_VALUE, where, "no temperature in a PC")


def _chip_facts(listing: Listing, chip: str) -> tuple[Said, ...]:
    name, folder = _chip_name(listing, chip), f"{HWMON}/{chip}"
    channels = [f"{kind}{number}" for kind, number, _ in _channels(listing, chip)]
    fields = [said("name", name or None), said("channels", ", ".join(channels) or None)]
    for channel in channels:
        texts = {end: listing.text(f"{folder}/{channel}_{end}") for end in ("label", *ENDS)}
        fields += channel_facts(name, channel, texts)
    return tuple(fields)


def columns(replies: tuple[Reply, ...]) -> tuple[Column, ...]:
    """Return a column for each sensor of the replies `sensors.…`."""
    found: list[Column] = []
    hwmon = _listing(replies, "sensors.hwmon")
    found += _hwmon_columns(hwmon)
    found += _thermal_columns(_listing(replies, "sensors.thermal"), hwmon)
    found += _power_columns(_listing(replies, "sensors.powercap"))
    stat = reply_named(replies, "sensors.stat")
    found += _cpu_columns(_listing(replies, "sensors.cpus"), stat.data if stat is not None else b"")
    return tuple(found)


def _listing(replies: tuple[Reply, ...], name: str) -> Listing:
    reply = reply_read(replies, name)
    return Listing(reply.data if reply is not None else b"", name)


def _chip_name(listing: Listing, chip: str) -> str:
    """The name, once kept below the device."""
    return listing.text(f"{HWMON}/{chip}/name") or listing.text(f"{HWMON}/{chip}/device/name") or ""


def chip_places(listing: Listing) -> dict[str, str]:
    """Return each chip's place: that of the device that it measures, else by its name.

    Two chips at one place get the chip's name behind it, so that their channels stay apart.
    """
    places: dict[str, str] = {}
    for chip in listing.names(HWMON):
        device = listing.target(f"{HWMON}/{chip}/device")
        place = _chip_place(device) if device else f"hwmon:{_chip_name(listing, chip) or 'unnamed'}"
        if place in places.values():
            named = f"{place}#{_chip_name(listing, chip) or 'unnamed'}"
            times = sum(1 for known in places.values() if known.startswith(named))
            place = named if not times else f"{named}-{times + 1}"
        places[chip] = place
    return places


def _chip_place(device: str) -> str:
    """An ATA drive's chip (drivetemp) hangs on the drive; it is at the drive's place."""
    zone = re.fullmatch(r"/sys/devices/virtual/thermal/(thermal_zone\d+)", device)
    if zone:
        return f"thermal:{zone[1]}"
    if re.search(r"/ata\d+/", device):
        return storage_place(f"{device}/block/x") or device_place(device)
    return device_place(device)


def _channels(listing: Listing, chip: str) -> list[tuple[str, int, str]]:
    """Kind, number and file of each channel; an `average` counts where there is no `input`."""
    names = listing.names(f"{HWMON}/{chip}")
    found: dict[tuple[str, int], str] = {}
    for name in names:
        match = _CHANNEL.fullmatch(name)
        if match and (match[3] == "input" or (match[1] == "power" and f"power{match[2]}_input" not in names)):
            found[match[1], int(match[2])] = name
    return [(kind, number, found[kind, number]) for kind, number in sorted(found)]


def _hwmon_columns(listing: Listing) -> list[Column]:
    found: list[Column] = []
    for chip, place in chip_places(listing).items():
        folder = f"{HWMON}/{chip}"
        has_high = limit_word(_chip_name(listing, chip), "max") == "high"  # else it is what it regulates at
        for kind, number, file in _channels(listing, chip):
            quantity, unit = _QUANTITIES[kind]
            channel = f"{kind}{number}"
            label = (
                listing.text(f"{folder}/{channel}_label") or f"{_chip_name(listing, chip)} {channel}".strip()
            )
            high, critical = (listing.text(f"{folder}/{channel}_{end}") for end in ("max", "crit"))
            found.append(
                Column(
                    quantity=quantity,
                    place=place,
                    channel=channel,
                    label=label,
                    unit=unit,
                    source=f"{folder}/{file}",
                    high=limit_c(high) if kind == "temp" and has_high else None,
                    critical=limit_c(critical) if kind == "temp" else None,
                )
            )
    return found


def _zones(listing: Listing, hwmon: Listing) -> list[tuple[str, str]]:
    """Name and type of the thermal zones, but for those that are an hwmon chip too (of the same name)."""
    shown = {_chip_name(hwmon, chip) for chip in hwmon.names(HWMON)}
    zones = [zone for zone in listing.names(THERMAL) if zone.startswith("thermal_zone")]
    kinds = [(zone, listing.text(f"{THERMAL}/{zone}/type")) for zone in zones]
    return [(zone, kind) for zone, kind in kinds if kind is not None and kind.replace("-", "_") not in shown]


def _thermal_columns(listing: Listing, hwmon: Listing) -> list[Column]:
    found: list[Column] = []
    for zone, kind in _zones(listing, hwmon):
        folder = f"{THERMAL}/{zone}"
        trips = _trips(listing, folder)
        found.append(
            Column(
                quantity="temperature",
                place=f"thermal:{zone}",
                channel="temp",
                label=kind,
                unit=Unit.CELSIUS,
                source=f"{folder}/temp",
                high=trips.get("hot"),
                critical=trips.get("critical"),
            )
        )
    return found


def _trips(listing: Listing, folder: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for name in listing.names(folder):
        match = re.fullmatch(r"trip_point_(\d+)_type", name)
        limit = limit_c(listing.text(f"{folder}/trip_point_{match[1]}_temp")) if match else None
        if limit is not None:
            found.setdefault(listing.text(f"{folder}/{name}") or "", limit)
    return found


def _power_columns(listing: Listing) -> list[Column]:
    """Energy counters of powercap, which become power between two samples. The MMIO twin is left out."""
    found: list[Column] = []
    for zone in listing.names(POWERCAP):
        folder = f"{POWERCAP}/{zone}"
        name = listing.text(f"{folder}/name")
        if name is None or zone.startswith("intel-rapl-mmio"):
            continue
        package = re.match(r"intel-rapl:(\d+)", zone)
        top = listing.text(f"{POWERCAP}/intel-rapl:{package[1]}/name") if package else None
        socket = re.fullmatch(r"package-(\d+)", top or "")
        found.append(
            Column(
                quantity="power",
                place=f"socket:{socket[1]}" if socket else "system",
                channel=zone,
                label=name,
                unit=Unit.WATTS,
                source=f"{folder}/energy_uj",
            )
        )
    return found


def _cpu_columns(listing: Listing, stat: bytes) -> list[Column]:
    found = [_cpu_column("utilisation", f"cpu:{n}", "utilisation", STAT, Unit.RATIO) for n in cpu_times(stat)]
    packages: set[int] = set()
    for cpu in sorted(
        (n for n in listing.names(CPUS) if re.fullmatch(r"cpu\d+", n)), key=lambda n: int(n[3:])
    ):
        folder, place = f"{CPUS}/{cpu}", f"cpu:{cpu[3:]}"
        if "scaling_cur_freq" in listing.names(f"{folder}/cpufreq"):
            source = f"{folder}/cpufreq/scaling_cur_freq"
            found.append(_cpu_column("clock", place, "scaling_cur_freq", source, Unit.MEGAHERTZ))
        counters = listing.names(f"{folder}/thermal_throttle")
        if "core_throttle_count" in counters:
            source = f"{folder}/thermal_throttle/core_throttle_count"
            found.append(_cpu_column("throttle", place, "core_throttle_count", source, Unit.COUNT))
        package = max(listing.number(f"{folder}/topology/physical_package_id") or 0, 0)
        if "package_throttle_count" in counters and package not in packages:
            packages.add(package)
            source = f"{folder}/thermal_throttle/package_throttle_count"
            place = f"socket:{package}"
            found.append(_cpu_column("throttle", place, "package_throttle_count", source, Unit.COUNT))
    return found


def _cpu_column(quantity: str, place: str, channel: str, source: str, unit: Unit) -> Column:
    return Column(
        quantity=quantity, place=place, channel=channel, label=f"{place} {quantity}", unit=unit, source=source
    )


def cpu_times(stat: bytes) -> dict[int, tuple[int, int]]:
    """Return (busy, all) in ticks of each processor in /proc/stat.

    proc_stat(5): user, nice, system, idle, iowait, irq, softirq, steal, …; the guests' time is in user's.
    Time stolen by a host counts in the whole and not as busy: this machine did not work in it.
    """
    found: dict[int, tuple[int, int]] = {}
    for line in stat.split(b"\n"):
        match = re.fullmatch(rb"cpu(\d+) ([\d ]+)", line.rstrip())
        if match:
            times = [int(text) for text in match[2].split()[:8]]
            times += [0] * (8 - len(times))
            busy = sum(times[:3]) + times[5] + times[6]
            found[int(match[1])] = (busy, sum(times))
    return found
