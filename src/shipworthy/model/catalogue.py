"""A shop's own part list: names and numbers a part goes by, and the facts that fit and power are told from.

Every fact may be missing: None, or empty, is *not known*, and never *none*. Lengths are in mm, power in W,
sizes in bytes. A maker's figure stays as the maker gives it.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from shipworthy.model.base import Record
from shipworthy.model.time import Moment
from shipworthy.model.words import Category

Millimetres = Annotated[float, msgspec.Meta(gt=0, le=5000)]
Watts = Annotated[float, msgspec.Meta(gt=0, le=10_000)]
Bytes = Annotated[int, msgspec.Meta(gt=0, le=2**62)]
Number = Annotated[int, msgspec.Meta(ge=0, le=10_000)]
Rate = Annotated[int, msgspec.Meta(ge=0, le=1_000_000)]
ByModules = Annotated[str, msgspec.Meta(pattern=r"^[0-9]{1,3}=[0-9]{1,6}$(?!\n)")]
ByFamily = Annotated[str, msgspec.Meta(pattern=r"^[^=]+=.+$")]
Gtin = Annotated[str, msgspec.Meta(pattern=r"^(\d{8}|\d{12,14})$")]


class ProcessorFacts(Record, tag="processor", tag_field="kind"):
    """socket: as its maker writes it (`LGA 1700`, `AM5`). family: the maker's name of the generation.

    tdp_w: the maker's thermal figure (base power). limit_w: the most that the maker lets it draw for long
    (maximum turbo power, package power limit). graphics: whether it drives a display by itself.
    """

    socket: str = ""
    family: str = ""
    performance_cores: Number | None = None
    efficiency_cores: Number | None = None
    cores: Number | None = None
    threads: Number | None = None
    tdp_w: Watts | None = None
    limit_w: Watts | None = None
    graphics: bool | None = None
    memory_types: tuple[str, ...] = ()
    memory_most_bytes: Bytes | None = None
    memory_mt_s: Rate | None = None
    cooler_included: bool | None = None
    ecc: bool | None = None


class M2Place(Record):
    """lengths: in mm, of the cards that it takes (2280 is 80). interface: `PCIe 4.0 x4`, `SATA` …

    shares_with: what is switched off while this place is used, in the manual's words (`SATA 5`).
    """

    interface: str = ""
    key: str = ""
    lengths: tuple[int, ...] = ()
    shares_with: tuple[str, ...] = ()


class SlotPlace(Record):
    """One slot for cards. lanes: as wired."""

    generation: str = ""
    lanes: Number | None = None


class BoardFacts(Record, tag="board", tag_field="kind"):
    """firmware_least: the first version of the firmware that knows a processor family, `Family=version`.

    memory_stated_mt_s: what the platform states, by the number of modules fitted: `2=5200`, `4=3600`.
    processor_plugs: 12 V sockets for the processor, by their pins (8, 8, 4). sockets: for processors.
    ecc: whether it uses the check bits of such modules. registered: whether it takes registered modules only.
    """

    socket: str = ""
    chipset: str = ""
    form_factor: str = ""
    memory_type: str = ""
    memory_form: str = ""
    memory_slots: Number | None = None
    memory_most_bytes: Bytes | None = None
    memory_stated_mt_s: tuple[ByModules, ...] = ()
    firmware_least: tuple[ByFamily, ...] = ()
    m2: tuple[M2Place, ...] | None = None
    sata_ports: Number | None = None
    slots: tuple[SlotPlace, ...] | None = None
    processor_plugs: tuple[Number, ...] = ()
    fan_headers: Number | None = None
    fan_header_a: float | None = None
    pump_headers: Number | None = None
    lighting_5v: Number | None = None
    lighting_12v: Number | None = None
    usb_2_headers: Number | None = None
    usb_a_headers: Number | None = None
    usb_c_headers: Number | None = None
    outputs: tuple[str, ...] | None = None
    wireless: bool | None = None
    network_mbit_s: Rate | None = None
    rear_connectors: bool | None = None
    sockets: Number | None = None
    ecc: bool | None = None
    registered: bool | None = None


class MemoryFacts(Record, tag="memory", tag_field="kind"):
    """form: `DIMM` or `SO-DIMM`. timings: `30-36-36-76`."""

    type: str = ""
    form: str = ""
    modules: Number | None = None
    module_bytes: Bytes | None = None
    speed_mt_s: Rate | None = None
    timings: str = ""
    volts: float | None = None
    ecc: bool | None = None
    registered: bool | None = None
    height_mm: Millimetres | None = None
    lighting: bool | None = None


class StorageFacts(Record, tag="storage", tag_field="kind"):
    """capacity_bytes: as marketed. form_factor: `M.2-2280`, `2.5"`, `3.5"` …"""

    capacity_bytes: Bytes | None = None
    technology: str = ""
    interface: str = ""
    link: str = ""
    form_factor: str = ""
    rpm: Rate | None = None
    heatsink: bool | None = None


class GraphicsFacts(Record, tag="graphics", tag_field="kind"):
    """chip: as its maker names it. board_w: total board power. plugs: `8-pin`, `12V-2x6` …, each."""

    chip: str = ""
    memory_bytes: Bytes | None = None
    length_mm: Millimetres | None = None
    height_mm: Millimetres | None = None
    slots: float | None = None
    board_w: Watts | None = None
    supply_least_w: Watts | None = None
    plugs: tuple[str, ...] | None = None
    interface: str = ""
    outputs: tuple[str, ...] | None = None
    support_included: bool | None = None


class SupplyFacts(Record, tag="power supply", tag_field="kind"):
    """grade: the 80 PLUS level (`Gold`). pcie_leads: separate leads to the 6+2-pin plugs, where known.

    rail_12v_a: current of each +12 V rail, in A.
    """

    watts: Watts | None = None
    grade: str = ""
    form_factor: str = ""
    length_mm: Millimetres | None = None
    main_plugs: Number | None = None
    processor_plugs: Number | None = None
    pcie_8_plugs: Number | None = None
    pcie_leads: Number | None = None
    pcie_16_plugs: Number | None = None
    pcie_16_w: Watts | None = None
    sata_plugs: Number | None = None
    drive_plugs: Number | None = None
    modular: str = ""
    atx_version: str = ""
    rail_12v_a: tuple[float, ...] = ()


class RadiatorPlace(Record):
    """Where a case takes a radiator: `top`, `front` …, and the longest one in mm."""

    place: str
    longest_mm: Millimetres


class CaseFacts(Record, tag="case", tag_field="kind"):
    """boards: form factors of the boards that it takes. fan_places: how many fans may be fitted."""

    boards: tuple[str, ...] = ()
    supplies: tuple[str, ...] = ()
    supply_length_mm: Millimetres | None = None
    graphics_length_mm: Millimetres | None = None
    graphics_height_mm: Millimetres | None = None
    cooler_height_mm: Millimetres | None = None
    radiators: tuple[RadiatorPlace, ...] | None = None
    slots: Number | None = None
    bays_25: Number | None = None
    bays_35: Number | None = None
    front_usb_c: Number | None = None
    front_usb_a: Number | None = None
    fans_fitted: Number | None = None
    fan_places: Number | None = None
    fan_thickness_mm: Millimetres | None = None
    rear_connector_boards: bool | None = None
    weight_kg: float | None = None


class CoolerFacts(Record, tag="cooler", tag_field="kind"):
    """sockets: of the processors that its kit fits. memory_height_mm: the tallest module below it."""

    sockets: tuple[str, ...] = ()
    height_mm: Millimetres | None = None
    liquid: bool | None = None
    radiator_mm: Millimetres | None = None
    radiator_thickness_mm: Millimetres | None = None
    memory_height_mm: Millimetres | None = None
    fans: Number | None = None
    fan_mm: Millimetres | None = None
    rated_w: Watts | None = None
    lighting: str = ""


class FanFacts(Record, tag="fan", tag_field="kind"):
    """current_a: rated, of one fan. lighting: `5 V`, `12 V` or empty."""

    size_mm: Millimetres | None = None
    rpm: Rate | None = None
    current_a: float | None = None
    lighting: str = ""
    pack: Number | None = None


class DisplayFacts(Record, tag="display", tag_field="kind"):
    inches: float | None = None
    width_px: Number | None = None
    height_px: Number | None = None
    hertz: float | None = None
    inputs: tuple[str, ...] | None = None


class CardFacts(Record, tag="card", tag_field="kind"):
    """A network or sound card. interface: `PCIe 2.0 x1`, `USB` …; lanes: of the slot that it needs."""

    interface: str = ""
    lanes: Number | None = None
    network_mbit_s: Rate | None = None
    wireless: bool | None = None
    antennas: Number | None = None


Facts = (
    ProcessorFacts
    | BoardFacts
    | MemoryFacts
    | StorageFacts
    | GraphicsFacts
    | SupplyFacts
    | CaseFacts
    | CoolerFacts
    | FanFacts
    | DisplayFacts
    | CardFacts
)


FACTS_OF: dict[Category, type[Record]] = {
    Category.PROCESSOR: ProcessorFacts,
    Category.BOARD: BoardFacts,
    Category.MEMORY: MemoryFacts,
    Category.STORAGE: StorageFacts,
    Category.GRAPHICS: GraphicsFacts,
    Category.POWER_SUPPLY: SupplyFacts,
    Category.CASE: CaseFacts,
    Category.COOLER: CoolerFacts,
    Category.FAN: FanFacts,
    Category.DISPLAY: DisplayFacts,
    Category.NETWORK: CardFacts,
    Category.SOUND: CardFacts,
}
"""By category, the facts that its parts can have; the others have none."""


class CataloguePart(Record):
    """One part that a shop sells. part_id: the list's own; names: others that it is sold under.

    source: where the record is from (a file, a list), for whoever doubts a fact.
    """

    part_id: Annotated[str, msgspec.Meta(min_length=1, max_length=120)]
    category: Category
    maker: str = ""
    name: Annotated[str, msgspec.Meta(min_length=1, max_length=500)]
    names: tuple[str, ...] = ()
    series: str = ""
    part_numbers: tuple[str, ...] = ()
    gtins: tuple[Gtin, ...] = ()
    facts: Facts | None = None
    source: str = ""


class Alias(Record):
    """A name learnt from a match that a person accepted: what a device or an order calls that part.

    said: the words. by, at: who proposed it, and when. It counts once it is reviewed, and until it is undone;
    it is never deleted: each change is one more line, and the last line on these words and this part holds.
    """

    schema: Literal[1] = 1
    said: Annotated[str, msgspec.Meta(min_length=1, max_length=500)]
    category: Category
    part_id: str
    by: Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
    at: Moment
    why: str = ""
    reviewed_by: str = ""
    reviewed_at: Moment | None = None
    undone_by: str = ""
    undone_at: Moment | None = None

    @property
    def holds(self) -> bool:
        return bool(self.reviewed_by) and not self.undone_by
