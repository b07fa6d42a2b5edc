"""An order drafted from what is fitted: a person edits it, or keeps it as what the machine was.

A line is written for what the reading tells and for nothing else. The texts read as a shop writes them;
where a device's own words would be misread by the grammar, the line gives the expectation as data.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import msgspec

from shipworthy.model.base import Trouble
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import PLUGGED_IN, Absent, Aspect, Category, PartKind, Unit
from shipworthy.orders.draft_memory import counted_total, likely_total, sold_rate
from shipworthy.orders.draft_system import systems
from shipworthy.orders.expect import derived_expectations
from shipworthy.words.marketed import is_marketed_as, marketed_gb
from shipworthy.words.models import model_text
from shipworthy.words.names import Name, lacking, same_spelling
from shipworthy.words.processor_names import is_cut_short
from shipworthy.words.sizes import Base, size_text

_GIB = 2**30
_LONGEST_TEXT = 500
_TECHNOLOGY_WORDS = {
    "NVMe": "NVMe SSD",
    "solid state": "SSD",
    "spinning": "hard disk",
    "virtual": "virtual disk",
}


def draft_order(reading: Reading, *, order_id: str, shop: str, unit_id: str) -> Order:
    """Return an order of what the reading tells: comparing it with the same reading gives no *differs*.

    (Save where the machine contradicts itself, as by cores that are off or memory that nothing can use, by a
    device without its driver or a bare drive beside the system's, and what hangs on it from outside, which is
    the bench's.)
    Raises Trouble if the reading tells of no part at all, since an order has at least one line.
    """
    lines: list[OrderLine] = []
    for category, describe in _DESCRIBE.items():
        lines.extend(_numbered(category, describe(reading)))
    if not lines:
        raise Trouble(
            "the reading tells of no part that an order could name",
            "the reading",
            "Take it again as root, or write the order by hand.",
        )
    return Order(order_id=order_id, shop=shop, units=(unit_id,), lines=tuple(lines))


def _numbered(category: Category, drafts: Iterable[OrderLine]) -> Iterator[OrderLine]:
    """Join equal lines into one with a quantity, and give each an id."""
    joined: dict[OrderLine, int] = {}
    for draft in drafts:
        joined[draft] = joined.get(draft, 0) + 1
    if category is Category.MEMORY:  # its capacity and count are of the whole line already
        joined = dict.fromkeys(joined, 1)
    stem = category.value.replace(" ", "-")
    for number, (draft, quantity) in enumerate(joined.items(), 1):
        line_id = stem if len(joined) == 1 else f"{stem}-{number}"
        yield msgspec.structs.replace(draft, line_id=line_id, quantity=quantity)


def _line(
    category: Category, words: Iterable[str], truth: Iterable[Expectation] = (), part_number: str = ""
) -> OrderLine | None:
    """Return a line with that text; what the grammar does not read from it as it is, is given as data."""
    text = _clean(" ".join(filter(None, words)))[:_LONGEST_TEXT].strip()
    if not text:
        return None
    line = OrderLine(line_id="draft", category=category, text=text, part_number=_clean(part_number))
    read = {expectation.aspect: expectation for expectation in derived_expectations(line)}
    given = tuple(fact for fact in truth if not _says(read.get(fact.aspect), fact, category))
    return msgspec.structs.replace(line, expectations=given)


def _says(read: Expectation | None, fact: Expectation, category: Category) -> bool:
    """Whether what the grammar read is the fact; a model may have its maker's name before it, if that is a
    word that tells no models apart."""
    if read is None or read.unit is not fact.unit:
        return False
    if fact.aspect is Aspect.CAPACITY and isinstance(fact.want, int) and isinstance(read.want, int):
        return read.want == fact.want or is_marketed_as(fact.want, read.want)
    if fact.aspect is Aspect.MODEL:
        model = model_text(str(fact.want), category)
        first, _, rest = str(read.want).partition(" ")
        spoken = [str(read.want)] if lacking(Name.of(first), Name.of(""))[0] else [str(read.want), rest]
        return any(same_spelling(model, said) for said in spoken)
    return read.want == fact.want


def _clean(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _processors(reading: Reading) -> Iterator[OrderLine]:
    for part in _processors_there(reading.of_kind(PartKind.PROCESSOR)):
        model, cores = _clean(part.text("model")), part.number("cores")
        if not _runs(part) and is_cut_short(model):
            model = ""
        truth = [_text(Aspect.MODEL, model)] if model else []
        words = [model or "processor"]
        if cores:
            truth.append(Expectation(aspect=Aspect.CORES, want=int(cores), unit=Unit.COUNT))
            words[-1] += f", {int(cores)} core{'s' if cores > 1 else ''}"
        yield from _if_any(_line(Category.PROCESSOR, words, truth))


def _processors_there(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """Return those that the kernel runs; else those of the firmware's table, one a socket: some firmware has
    a structure for each core (5 of 733 machines of reference data, bsd-joined-machines)."""
    running = tuple(part for part in parts if _runs(part))
    by_socket = {part.text("socket") or part.place: part for part in reversed(parts)}
    return running or tuple(sorted(by_socket.values(), key=lambda part: part.place))


def _runs(part: Part) -> bool:
    """Whether it is the kernel that tells of a processor."""
    return part.place.startswith("socket:")


def _boards(reading: Reading) -> Iterator[OrderLine]:
    for part in reading.of_kind(PartKind.BOARD):
        maker, model = _clean(part.text("maker")), _clean(part.text("model"))
        version = _clean(part.text("version"))
        if not model:
            continue
        named = [] if model.casefold().startswith(maker.casefold()) else [maker]
        truth = [_text(Aspect.MODEL, model)]
        if any(map(str.isdigit, version)):
            truth.append(_text(Aspect.VERSION, version))
        revision = f"rev {version}" if len(truth) > 1 else ""
        yield from _if_any(_line(Category.BOARD, [*named, model, revision], truth))


def _memory(reading: Reading) -> Iterator[OrderLine]:
    modules = [m for m in reading.of_kind(PartKind.MEMORY_MODULE) if m.number("size_bytes")]
    unknown = [m for m in reading.of_kind(PartKind.MEMORY_MODULE) if _of_unknown_size(m)]
    if not modules or unknown:
        yield from _memory_by_total(reading)
        return
    groups: dict[tuple[object, ...], list[Part]] = {}
    for module in modules:  # by what a line says, so that no two lines are the same and count for one
        key = (module.number("size_bytes"), _type(module), sold_rate(module), module.text("part_number"))
        groups.setdefault(key, []).append(module)
    for group in groups.values():
        yield from _if_any(_memory_line(group))


def _memory_line(group: list[Part]) -> OrderLine | None:
    first, count = group[0], len(group)
    each, kind, speed = int(first.number("size_bytes") or 0), _type(first), sold_rate(first)
    truth = [
        Expectation(aspect=Aspect.CAPACITY, want=each * count, unit=Unit.BYTES),
        Expectation(aspect=Aspect.COUNT, want=count, unit=Unit.COUNT),
    ]
    if kind:
        truth.append(_text(Aspect.TECHNOLOGY, kind))
    rate = ""
    if speed is not None:
        truth.append(Expectation(aspect=Aspect.SPEED, want=speed, unit=Unit.MEGATRANSFERS))
        rate = f"{kind}-{speed}" if kind else f"{speed} MT/s"
    size = f"{size_text(each * count, Base.BINARY)} ({count}x{size_text(each, Base.BINARY)})"
    return _line(Category.MEMORY, [size, rate or kind, "memory"], truth, first.text("part_number"))


def _type(module: Part) -> str:
    return _clean(module.text("type")) if "DDR" in module.text("type") else ""


def _memory_by_total(reading: Reading) -> Iterator[OrderLine]:
    """Where no module can be read: what the kernel counts, else the one total that can leave what it can use.

    Where several can, or none, the reading does not tell, and no line is written.
    """
    for part in reading.of_kind(PartKind.MEMORY):
        total = counted_total(part.number("real_bytes")) or likely_total(part.number("usable_bytes"))
        if total is None:
            continue
        truth = [Expectation(aspect=Aspect.CAPACITY, want=total, unit=Unit.BYTES)]
        yield from _if_any(_line(Category.MEMORY, [size_text(total, Base.BINARY), "memory"], truth))
        return


def _rounded_up(size: int, step: int) -> int:
    return -(-size // step) * step


def _drives(reading: Reading) -> Iterator[OrderLine]:
    for part in reading.of_kind(PartKind.STORAGE):
        size, model = part.number("size_bytes"), _clean(part.text("model"))
        technology, interface = part.text("technology"), part.text("interface")
        if interface in PLUGGED_IN or _is_empty(part):  # what the bench plugged in is no part of the unit
            continue
        truth = [Expectation(aspect=Aspect.CAPACITY, want=int(size), unit=Unit.BYTES)] if size else []
        if model:
            truth.append(_text(Aspect.MODEL, model))
        if technology:
            truth.append(_text(Aspect.TECHNOLOGY, "solid state" if technology == "NVMe" else technology))
        if interface:
            truth.append(_text(Aspect.INTERFACE, interface))
        told = _TECHNOLOGY_WORDS.get(technology, "drive")
        told = (
            told if (interface in ("", "NVMe") and "NVMe" in told) or not interface else f"{interface} {told}"
        )
        sold = _drive_size_text(int(size)) if size else ""
        written = "" if sold.casefold() in model.casefold().split() else sold
        yield from _if_any(_line(Category.STORAGE, [model, written, told], truth))


def _is_empty(part: Part) -> bool:
    """Whether it is a reader without a card."""
    return part.number("size_bytes") is None and part.why_absent("size_bytes") is Absent.NOT_FITTED


def _drive_size_text(size_bytes: int) -> str:
    gb = marketed_gb(size_bytes)
    if gb is not None:
        return f"{gb / 1000:g}TB" if gb >= 1000 else f"{gb}GB"
    return size_text(size_bytes, Base.DECIMAL)


def _optical_drives(reading: Reading) -> Iterator[OrderLine]:
    for part in reading.of_kind(PartKind.OPTICAL_DRIVE):
        if part.text("interface") == "USB":  # of the bench, as a stick is
            continue
        model = _clean(part.text("model"))
        truth = [_text(Aspect.MODEL, model)] if model else []
        yield from _if_any(_line(Category.OPTICAL_DRIVE, [model, "optical drive"], truth))


def _graphics(reading: Reading) -> Iterator[OrderLine]:
    for part in reading.of_kind(PartKind.GRAPHICS):
        model = _clean(part.text("model"))
        truth = [_text(Aspect.MODEL, model)] if model else []
        memory = part.number("memory_bytes")
        size = ""
        if memory:
            sold = _card_memory(int(memory))
            truth.append(Expectation(aspect=Aspect.CAPACITY, want=sold, unit=Unit.BYTES))
            size = size_text(sold, Base.BINARY)
        written = "" if size.casefold() in model.casefold().split() else size
        words = [model, written, "graphics"] if model else ["Graphics device", _ids(part), size]
        yield from _if_any(_line(Category.GRAPHICS, words, truth))


def _card_memory(told_bytes: int) -> int:
    """Return the size on the box: the next whole GiB, as a driver keeps up to a tenth; else what it tells."""
    whole = _rounded_up(told_bytes, _GIB)
    return whole if told_bytes >= 0.9 * whole else told_bytes


def _networks(reading: Reading) -> Iterator[OrderLine]:
    for part in reading.of_kind(PartKind.NETWORK):
        speed = part.number("speed_mbit_s")
        rate = f"{int(speed)} Mbit/s" if speed and speed > 0 else ""
        yield from _if_any(_line(Category.NETWORK, ["Network adapter", _ids(part), rate]))


def _displays(reading: Reading) -> Iterator[OrderLine]:
    for part in reading.of_kind(PartKind.DISPLAY):
        model = _clean(part.text("model"))
        width, height = part.number("width_px"), part.number("height_px")
        pixels = f"{int(width)}x{int(height)}" if width and height else ""
        truth = [_text(Aspect.MODEL, model)] if model else []
        yield from _if_any(_line(Category.DISPLAY, [model, "display", pixels], truth))


def _ids(part: Part) -> str:
    vendor, device = part.text("vendor_id"), part.text("device_id")
    return f"{vendor.removeprefix('0x')}:{device.removeprefix('0x')}" if vendor and device else ""


def _text(aspect: Aspect, want: str) -> Expectation:
    return Expectation(aspect=aspect, want=want)


def _of_unknown_size(module: Part) -> bool:
    return module.number("size_bytes") is None and module.why_absent("size_bytes") is not Absent.NOT_FITTED


def _if_any(line: OrderLine | None) -> Iterator[OrderLine]:
    if line is not None:
        yield line


_DESCRIBE: dict[Category, Callable[[Reading], Iterator[OrderLine]]] = {
    Category.PROCESSOR: _processors,
    Category.BOARD: _boards,
    Category.MEMORY: _memory,
    Category.STORAGE: _drives,
    Category.GRAPHICS: _graphics,
    Category.OPTICAL_DRIVE: _optical_drives,
    Category.NETWORK: _networks,
    Category.DISPLAY: _displays,
    Category.SYSTEM_SOFTWARE: systems,
}
