"""Does the memory go into the board, and will it run as it is sold?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

from shipworthy.model.catalogue import BoardFacts, CoolerFacts, MemoryFacts, ProcessorFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit import tables
from shipworthy.orders.fit.build import Build, Fitted, Known
from shipworthy.orders.fit.processor import family, spelt
from shipworthy.orders.fit.rules import MUST, SHOULD, Rule, rule
from shipworthy.orders.fit.spelling import form_factor_of, memory_form_of, memory_type_of

MANY_MODULES = 4
DDR3L_MOST_V = 1.45
"""The highest supply of DDR3L's own range, of 1.283 to 1.45 V (JESD79-3-1, from memory)."""
LARGE_BOARDS = ("ATX", "E-ATX", "XL-ATX", "SSI CEB", "SSI EEB")


@rule(
    "memory.type", MUST, "JEDEC: each DDR generation has a notch of its own (from memory); DDR3L: JESD79-3-1"
)
def _type(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for memory, board in product(build.of(MemoryFacts), build.of(BoardFacts)):
        taken = _type_of_board(board)
        yield _of_type(rule, memory, (taken.value,) if taken.known else (), board=taken)


@rule("memory.processor-type", MUST, "the processor maker's data sheet; DDR3L: JESD79-3-1")
def _processor_type(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for memory, processor in product(build.of(MemoryFacts), build.of(ProcessorFacts)):
        types = processor.ask("memory_types")
        taken = tuple(memory_type_of(word) for word in types.value) if types.known else ()
        yield _of_type(rule, memory, taken, processor=types)


def _of_type(
    rule: Rule, memory: Fitted[MemoryFacts], taken: tuple[str | None, ...], **by: Known
) -> FitFinding:
    """Return whether modules are of a type that is taken; None in it is a word that nothing knows.

    DDR3L runs at 1.35 V, and at 1.5 V as DDR3 does (JESD79-3-1, scope; from memory). What takes nothing but
    DDR3L gives 1.35 V; then what is called DDR3 tells by its own volts which of the two it is.
    """
    kind = _spelt_type(memory.ask("type"))
    (asker,) = by.values()
    if not (kind.known and asker.known):
        return rule.cannot_tell(memory=kind, **by)
    if kind.value in taken or (kind.value == "DDR3L" and "DDR3" in taken):
        return rule.conforms(memory=kind, **by)
    if None in taken:  # it may be this type
        return rule.cannot_tell(memory=kind, **{name: replace(one, value=None) for name, one in by.items()})
    if kind.value != "DDR3" or "DDR3L" not in taken:
        return rule.differs(memory=kind, **by)
    volts = memory.ask("volts")
    if volts.known and volts.value > DDR3L_MOST_V:
        return rule.differs("volts", memory=kind, volts=volts, **by)
    return rule.judge(lambda *_: True, memory=kind, volts=volts, **by)


@rule("memory.form", MUST, "JEDEC module outlines; boards of ATX and larger take DIMMs: common practice")
def _form(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for memory, board in product(build.of(MemoryFacts), build.of(BoardFacts)):
        yield rule.judge(
            lambda m, b: m == b, memory=_spelt_form(memory.ask("form")), board=_form_of_board(board)
        )


@rule("memory.slots", MUST, "the board maker's figure")
def _slots(rule: Rule, build: Build) -> Iterator[FitFinding]:
    modules = module_count(build)
    for board in build.of(BoardFacts):
        if modules is not None:
            yield rule.judge(lambda n, slots: n <= slots, modules=modules, slots=board.ask("memory_slots"))


@rule("memory.capacity", MUST, "the board maker's figure")
def _capacity(rule: Rule, build: Build) -> Iterator[FitFinding]:
    total = _total(build)
    for board in build.of(BoardFacts):
        if total is not None:
            yield rule.judge(lambda t, most: t <= most, total=total, most=board.ask("memory_most_bytes"))


@rule("memory.processor-capacity", SHOULD, "the processor maker's figure, which is often raised later")
def _processor_capacity(rule: Rule, build: Build) -> Iterator[FitFinding]:
    total = _total(build)
    for processor in build.of(ProcessorFacts):
        if total is not None:
            most = processor.ask("memory_most_bytes")
            yield rule.judge(lambda t, most: t <= most, total=total, most=most)


@rule("memory.four-modules", SHOULD, "the board's figure by modules fitted; else the platform's, from memory")
def _four_modules(rule: Rule, build: Build) -> Iterator[FitFinding]:
    modules = module_count(build)
    if modules is None or not modules.known or modules.value < MANY_MODULES:
        return
    for memory, board in product(build.of(MemoryFacts), build.of(BoardFacts)):
        kind, taken = _spelt_type(memory.ask("type")), _type_of_board(board)
        if kind.known and taken.known and kind.value != taken.value:
            continue  # no figure is about these together; the rule of the type says what it finds
        stated = _stated(build, board, modules.value)
        yield rule.judge(
            lambda speed, most, _: speed <= most * 1.01,
            speed=memory.ask("speed_mt_s"),
            most=stated,
            modules=modules,
        )


@rule("memory.mixed", SHOULD, "common practice: only modules of one kit were tested together")
def _mixed(rule: Rule, build: Build) -> Iterator[FitFinding]:
    lines = build.of(MemoryFacts)
    if not lines:
        return
    if len(lines) > 1:
        yield rule.differs("lines", lines=len(lines), first=lines[0].ask("modules"))
    elif lines[0].quantity > 1 and not lines[0].ask("modules").known:
        yield rule.cannot_tell(modules=lines[0].ask("modules"))
    elif lines[0].quantity > 1 and lines[0].facts.modules != 1:
        yield rule.differs("kits", kits=lines[0].quantity, modules=lines[0].ask("modules"))
    else:
        yield rule.conforms(modules=lines[0].ask("modules"))


@rule(
    "memory.registered",
    MUST,
    "memory controllers of the platforms, from memory; JEDEC: RDIMM and UDIMM do not mix",
)
def _registered(rule: Rule, build: Build) -> Iterator[FitFinding]:
    told = tables.table("registered")
    for memory, board in product(build.of(MemoryFacts), build.of(BoardFacts)):
        registered, takes = memory.ask("registered"), board.ask("registered")
        socket = spelt(board.ask("socket"))
        if takes.known:
            yield rule.judge(lambda m, b: m == b, registered=registered, takes=takes)
        elif socket.known and socket.value in told["never"]:
            yield rule.judge(lambda m, _: not m, registered=registered, board=socket)
        elif socket.known and socket.value in told["always"]:
            yield rule.judge(lambda m, _: m, registered=registered, board=socket)
        else:
            yield rule.cannot_tell(registered=registered, takes=takes)


@rule(
    "memory.ecc",
    SHOULD,
    "the makers' data sheets; without support ECC modules run as plain ones: common practice",
)
def _ecc(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for memory, board in product(build.of(MemoryFacts), build.of(BoardFacts)):
        ecc = memory.ask("ecc")
        if ecc.known and not ecc.value:
            yield rule.conforms(ecc=ecc)
            continue
        yield rule.judge(lambda m, b: not m or b, ecc=ecc, board=board.ask("ecc"))
        for processor in build.of(ProcessorFacts):
            yield rule.judge(lambda m, p: not m or p, ecc=ecc, board=processor.ask("ecc"))


@rule("memory.under-cooler", MUST, "the cooler maker's figure")
def _under_cooler(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for memory, cooler in product(build.of(MemoryFacts), build.of(CoolerFacts)):
        liquid = cooler.ask("liquid")
        if liquid.known and liquid.value:
            yield rule.conforms(
                liquid=liquid
            )  # the block stays inside of the socket's frame: common practice
            continue
        yield rule.judge(
            lambda height, room: height <= room,
            height=memory.ask("height_mm"),
            room=cooler.ask("memory_height_mm"),
        )


def module_count(build: Build) -> Known | None:
    """Return how many modules there are; not known if one line does not say; None without memory."""
    lines = build.of(MemoryFacts)
    unknown = [line.ask("modules") for line in lines if not line.ask("modules").known]
    if unknown or not lines:
        return unknown[0] if unknown else None
    total = sum(line.quantity * (line.facts.modules or 0) for line in lines)
    return Known(lines[0].line, "memory.modules", total, _sources(lines))


def _total(build: Build) -> Known | None:
    lines = build.of(MemoryFacts)
    total = 0
    for line in lines:
        for name in ("modules", "module_bytes"):
            if not line.ask(name).known:
                return line.ask(name)
        total += line.quantity * (line.facts.modules or 0) * (line.facts.module_bytes or 0)
    return Known(lines[0].line, "memory.total_bytes", total, _sources(lines)) if lines else None


def _sources(lines: tuple[Fitted[MemoryFacts], ...]) -> str:
    return ", ".join(dict.fromkeys(filter(None, (line.ask("modules").source for line in lines))))


def _spelt_type(kind: Known) -> Known:
    value = memory_type_of(kind.value) if kind.known else None
    return Known(kind.line, kind.name, value, kind.source)


def _type_of_board(board: Fitted[BoardFacts]) -> Known:
    """Return the memory type of a board; where none is told, the one type that its socket's platform has."""
    told, socket = _spelt_type(board.ask("memory_type")), spelt(board.ask("socket"))
    only = tables.table("single_type")
    if told.known or not socket.known or socket.value not in only["types"]:
        return told
    return Known(told.line, told.name, only["types"][socket.value], only["source"])


def _spelt_form(form: Known) -> Known:
    value = memory_form_of(form.value) if form.known else None
    return Known(form.line, form.name, value, form.source)


def _form_of_board(board: Fitted[BoardFacts]) -> Known:
    told = _spelt_form(board.ask("memory_form"))
    size, socket = board.ask("form_factor"), spelt(board.ask("socket"))
    if told.known or not socket.known or not size.known or form_factor_of(size.value) not in LARGE_BOARDS:
        return told
    return Known(told.line, told.name, "DIMM", "common practice")


def _stated(build: Build, board: Fitted[BoardFacts], modules: int) -> Known:
    """Return the speed that the board states for so many modules; else the platform's for four."""
    stated = board.ask("memory_stated_mt_s")
    if stated.known:
        rows = {int(n): int(rate) for n, _, rate in (row.partition("=") for row in stated.value)}
        if modules in rows:
            return Known(board.line, stated.name, rows[modules], stated.source)
    socket, kind = spelt(board.ask("socket")), _type_of_board(board)
    if socket.known and kind.known:
        for processor in build.of(ProcessorFacts):
            named = family(processor)
            told = tables.four_modules_mt_s(socket.value, named, kind.value) if named else None
            if told:
                return Known(board.line, stated.name, told.answer, told.source)
    return Known(board.line, stated.name, None)
