"""Does the processor go into the board, and does the board know it?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from shipworthy.model.catalogue import BoardFacts, ProcessorFacts
from shipworthy.model.fit import FitFinding
from shipworthy.orders.fit import tables
from shipworthy.orders.fit.build import Build, Fitted, Known, pieces
from shipworthy.orders.fit.rules import MUST, SHOULD, Rule, rule
from shipworthy.orders.fit.spelling import socket_of


def pairs(build: Build) -> Iterator[tuple[Fitted[ProcessorFacts], Fitted[BoardFacts]]]:
    return product(build.of(ProcessorFacts), build.of(BoardFacts))


@rule("processor.socket", MUST, "socket names of their makers; seats of another name from memory")
def _socket(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for processor, board in pairs(build):
        of_processor, of_board = spelt(processor.ask("socket")), spelt(board.ask("socket"))
        yield rule.judge(lambda p, b: tables.seats(p, b).answer, processor=of_processor, board=of_board)


@rule("processor.chipset", MUST, "makers' overviews of chipsets, by family, from memory (tables.toml)")
def _chipset(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for processor, board in pairs(build):
        if _of_other_sockets(processor, board):
            continue
        chipset, family = board.ask("chipset"), processor.ask("family")
        told = _knows(processor, board)
        if told is None and chipset.known and family.known and board.ask("socket").known:
            yield rule.cannot_tell("unlisted", chipset=chipset, family=family)
        elif told is None:
            yield rule.cannot_tell("", [board.ask("socket")], chipset=chipset, family=family)
        elif told.answer is tables.Knows.NEVER and tables.of_servers(processor.text):
            yield rule.differs("server", chipset=chipset, family=family, source=told.source)
        elif told.answer is tables.Knows.NEVER:
            yield rule.differs(chipset=chipset, family=family, source=told.source)
        else:
            yield rule.conforms(chipset=chipset, family=family, source=told.source)


@rule(
    "processor.firmware",
    SHOULD,
    "the board maker's list of processors; which families came later, from memory",
)
def _firmware(rule: Rule, build: Build) -> Iterator[FitFinding]:
    for processor, board in pairs(build):
        if _of_other_sockets(processor, board):
            continue
        family, least = processor.ask("family"), board.ask("firmware_least")
        version = _least_version(family, least)
        told = _knows(processor, board)
        if version:
            yield rule.differs("version", family=family, least=least, version=version)
        elif told is None:
            yield rule.cannot_tell("", [least, board.ask("chipset")], family=family)
        elif told.answer is tables.Knows.LATER:
            yield rule.differs("later", family=family, chipset=board.ask("chipset"), source=told.source)
        elif told.answer is tables.Knows.FROM_THE_START:
            yield rule.conforms(family=family, chipset=board.ask("chipset"), source=told.source)


@rule("processor.count", MUST, "common practice: one socket a board, but for servers and workstations")
def _count(rule: Rule, build: Build) -> Iterator[FitFinding]:
    processors, boards = build.of(ProcessorFacts), build.of(BoardFacts)
    if not processors or not boards:
        return
    wanted = pieces(processors)
    for board in boards:
        sockets = board.ask("sockets")
        socket = spelt(board.ask("socket"))
        if sockets.known:
            yield rule.judge(lambda n: wanted <= n * pieces(boards), sockets=sockets, processors=wanted)
        elif wanted <= pieces(boards):
            yield rule.conforms(board=socket, processors=wanted)
        elif socket.known and socket.value in tables.table("single")["sockets"]:
            yield rule.differs("single", board=socket, processors=wanted)
        else:
            yield rule.cannot_tell(sockets=sockets, processors=wanted)


def spelt(socket: Known) -> Known:
    """Return a socket in one spelling; not known if its word is not."""
    value = socket_of(socket.value) if socket.known else None
    return Known(socket.line, socket.name, value, socket.source)


def family(processor: Fitted[ProcessorFacts]) -> str | None:
    """Return the family in the tables' words; None if it is not known."""
    known = processor.ask("family")
    return tables.family_of(known.value, processor.text) if known.known else None


def _of_other_sockets(processor: Fitted[ProcessorFacts], board: Fitted[BoardFacts]) -> bool:
    """Whether the rule of the socket fails: then there is nothing more to ask."""
    one, other = spelt(processor.ask("socket")), spelt(board.ask("socket"))
    return one.known and other.known and not tables.seats(one.value, other.value).answer


def _knows(processor: Fitted[ProcessorFacts], board: Fitted[BoardFacts]) -> tables.Told | None:
    socket, chipset, named = spelt(board.ask("socket")), board.ask("chipset"), family(processor)
    if not socket.known or not chipset.known or named is None:
        return None
    return tables.knows(socket.value, chipset.value, named)


def _least_version(named: Known, least: Known) -> str:
    """Return the first firmware for a family by the board's own list, `Family=version`."""
    if not named.known or not least.known:
        return ""
    rows = dict(row.partition("=")[::2] for row in least.value)
    by_name = {tables.family_of(name, ""): version.strip() for name, version in rows.items()}
    return str(by_name.get(tables.family_of(named.value, ""), ""))
