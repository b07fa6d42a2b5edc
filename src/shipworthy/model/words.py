"""The closed sets: each a word that stands in records, on screens and in the docs."""

from __future__ import annotations

from enum import StrEnum


class Absent(StrEnum):
    """Why a value is not there. Five different things; none of them is a number."""

    NOT_FITTED = "not fitted"  # the source says that nothing is there
    NOT_READABLE = "not readable"  # there, but refused or failed: permission, driver, bus
    NOT_OFFERED = "not offered"  # the device, or its firmware, does not say (a placeholder counts as silence)
    IMPLAUSIBLE = "implausible"  # said, but it cannot be so
    NOT_ASKED = "not asked"


class RemarkKind(StrEnum):
    """What can be wrong with, or left over of, the bytes that a source gave."""

    BAD_CHECKSUM = "bad checksum"
    BAD_HEADER = "bad header"
    BAD_LENGTH = "bad length"
    BAD_REFERENCE = "bad reference"  # points to what is not there
    BAD_VALUE = "bad value"  # said, and it cannot be so
    CUT_SHORT = "cut short"
    NO_TERMINATOR = "no terminator"
    REPEATED = "repeated"  # two things say that they are the same one
    OLD_LAYOUT = "old layout"  # whole, of an older version of its standard: the newer fields are not there
    NOT_UNDERSTOOD = "not understood"  # whole, but this version does not decode it
    NOT_ANSWERED = "not answered"  # a device gave no answer in its time
    DECODER_FAILED = "decoder failed"  # a mistake of this tool's own: the bytes are kept for a later version
    PLACEHOLDER = "placeholder"  # a text of the firmware's that stands for nothing


LEFT_OVERS = (RemarkKind.PLACEHOLDER, RemarkKind.NOT_UNDERSTOOD, RemarkKind.OLD_LAYOUT)
"""Remarks that are no fault of the bytes: they are counted, and not shouted."""


class Outcome(StrEnum):
    """Result of one comparison.

    W3C's EARL has the same four: passed, failed, cantTell, untested (from memory).
    """

    CONFORMS = "conforms"
    DIFFERS = "differs"
    CANNOT_TELL = "cannot tell"
    NOT_CHECKED = "not checked"


class Category(StrEnum):
    """What an order line is. UNIT is no line's: it is the whole machine, and closes the list."""

    PROCESSOR = "processor"
    BOARD = "board"
    MEMORY = "memory"
    STORAGE = "storage"
    GRAPHICS = "graphics"
    POWER_SUPPLY = "power supply"
    CASE = "case"
    COOLER = "cooler"
    FAN = "fan"
    OPTICAL_DRIVE = "optical drive"
    NETWORK = "network"
    SOUND = "sound"
    DISPLAY = "display"
    CABLE = "cable"
    ACCESSORY = "accessory"
    SYSTEM_SOFTWARE = "system software"
    SERVICE = "service"
    CUSTOMISATION = "customisation"
    UNIT = "unit"


class PartKind(StrEnum):
    """What a machine can say that it has."""

    SYSTEM = "system"
    FIRMWARE = "firmware"
    BOARD = "board"
    CHASSIS = "chassis"
    PROCESSOR = "processor"
    MEMORY = "memory"  # the whole of it
    MEMORY_MODULE = "memory module"
    STORAGE = "storage"
    GRAPHICS = "graphics"
    NETWORK = "network"
    SOUND = "sound"
    DISPLAY = "display"
    PCI_DEVICE = "pci device"
    SENSOR_CHIP = "sensor chip"
    KERNEL = "kernel"
    UNPLACED_MODULE = "unplaced memory module"  # its SPD answers, and no slot could be told for it
    MEMORY_RANGE = "memory range"  # which addresses a module answers for
    MEMORY_CONTROLLER = "memory controller"  # it counts what error correction mended
    CACHE = "cache"
    SLOT = "slot"
    CONNECTOR = "connector"
    ONBOARD_DEVICE = "onboard device"
    PROBE = "probe"  # what the firmware says it measures
    POWER_SUPPLY = "power supply"
    BATTERY = "battery"
    SECURITY_MODULE = "security module"
    USB_DEVICE = "usb device"
    BLUETOOTH = "bluetooth adapter"
    OPTICAL_DRIVE = "optical drive"


class Aspect(StrEnum):
    """What of an order line, or of the unit, a finding speaks of: with the category, the coverage key."""

    MODEL = "model"
    MAKER = "maker"
    VARIANT = "variant"  # what the maker calls his own version of a product, told by its label alone
    PART_NUMBER = "part number"
    CAPACITY = "capacity"
    COUNT = "count"
    SPEED = "speed"
    TECHNOLOGY = "technology"
    INTERFACE = "interface"
    LINK = "link"
    CORES = "cores"
    COLOUR = "colour"
    TEXT = "text"
    RATED_POWER = "rated power"  # of a supply, in W
    EFFICIENCY = "efficiency"  # of a supply: its grade
    FORM = "form factor"
    SIZE = "size"  # of a fan, or of a radiator, in mm
    TIMINGS = "timings"  # of memory, in clock cycles
    ERROR_CORRECTION = "error correction"  # of memory
    FINISH = "finish"  # of a surface: matt, satin, gloss
    POSITION = "position"
    VERSION = "version"
    FIRMWARE = "firmware"  # its version is at least the one asked for
    PRESENCE = "presence"  # it is there, or it was done
    CONDITION = "condition"  # looked at: undamaged
    NEWNESS = "newness"
    LOAD = "load"  # every result under load was right
    HEAT = "heat"
    FANS = "fans"
    PORTS = "ports"
    CONFIGURATION = "configuration"
    IDENTITY = "identity"  # the serials and the nonce that bind the two halves
    ENDING = "ending"  # the burn-in ran to its end
    HEALTH = "health"  # no device complained under load: kernel's log, counters, drives
    BLANK = "blank"  # of a drive: nothing is on it
    DRIVERS = "drivers"  # of a delivered system: no device with a problem
    FORMAT = "format"  # of a delivered system: the drives beside its own can be used
    ENCRYPTION = "encryption"  # of a delivered system: as agreed, and the customer has the key
    ACTIVATION = "activation"
    FIRST_RUN = "first run"  # it waits for its new owner
    ACCOUNTS = "accounts"  # none but the customer's


class Unit(StrEnum):
    """Units of a wanted or a found value, as written in records; text for people is made when shown."""

    NONE = ""
    TEXT = "text"
    COUNT = "count"
    BYTES = "bytes"
    MEGATRANSFERS = "MT/s"
    GIGATRANSFERS = "GT/s"  # of each lane of a link
    MEGABITS = "Mbit/s"
    CELSIUS = "celsius"
    RPM = "rpm"
    MEGAHERTZ = "MHz"
    WATTS = "W"
    MILLIMETRES = "mm"
    SECONDS = "s"
    HOURS = "h"
    RATIO = "ratio"


class Cores(StrEnum):
    """When the cores of a load work."""

    TOGETHER = "together"
    IN_TURN = "in turn"  # one at a time, so that each reaches its highest clock


class PowerCycle(StrEnum):
    """What a step of a plan may ask of the machine's power; announced in the log before it happens."""

    COLD_START = "cold start"  # off, the cord out, on again
    WARM_RESTART = "warm restart"
    SLEEP = "sleep and wake"


class WholeDrive(StrEnum):
    """What a person has allowed with a whole drive, by typing its serial."""

    NOTHING = "nothing"
    READ = "read"
    WRITE = "write"


class Danger(StrEnum):
    """What a person may see that nobody can ever concede."""

    LEAK = "leak"
    MAINS_DAMAGE = "mains damage"


class EvidenceKind(StrEnum):
    """How something was shown."""

    READING = "reading"
    BURN_IN = "burn-in"
    INSPECTION = "inspection"


class Ending(StrEnum):
    """How a run ended; what it showed is another matter.

    INTERRUPTED is concluded by the reader, never written. AWAITING_POWER: a segment ended in order because
    the plan asks for a restart; the run goes on in the next one.
    """

    COMPLETED = "completed"
    STOPPED_BY_PERSON = "stopped by person"
    STOPPED_BY_GUARD = "stopped by guard"
    FAILED_TO_RUN = "failed to run"
    AWAITING_POWER = "waiting for an announced restart"
    INTERRUPTED = "interrupted"


class Origin(StrEnum):
    """Who set a limit."""

    DEVICE = "device"
    MAKER = "maker's published figure"
    SHOP = "shop's policy"
    TOOL = "tool's own rule"


class VerdictWord(StrEnum):
    RELEASE = "release"
    HOLD = "hold"


PLUGGED_IN = ("USB", "SD")
"""Interfaces of drives that come and go, as a stick or card of the bench does."""
CARRIED = (*PLUGGED_IN, "MMC")
"""Interfaces of drives that may be ones to carry about; what is called MMC alone may be a card or an eMMC."""
