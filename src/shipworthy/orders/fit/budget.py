"""The power budget: what each part may draw, its peaks, and what the supply draws from the wall.

Two sums: the least, of what parts are known to draw, and the most, with the assumptions for what is not
known. Only the least can show that a supply is too small, and only the most that it is enough.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib import resources
from typing import Any

from shipworthy.model.catalogue import (
    BoardFacts,
    CardFacts,
    CaseFacts,
    CoolerFacts,
    FanFacts,
    GraphicsFacts,
    MemoryFacts,
    ProcessorFacts,
    StorageFacts,
    SupplyFacts,
)
from shipworthy.model.fit import Budget, BudgetRow, Excursion, WallPoint
from shipworthy.model.words import Category
from shipworthy.orders.fit.build import Build, Fitted, Known
from shipworthy.orders.fit.efficiency import POINTS, efficiency, grade_of, wall_w
from shipworthy.orders.fit.m2 import is_m2
from shipworthy.orders.fit.processor import spelt

RAIL_V = 12.0
_LARGE_W = 450.0


@cache
def assumptions() -> Any:
    text = resources.files(__package__).joinpath("assumptions.toml").read_text("utf-8")
    return tomllib.loads(text)


@lru_cache(maxsize=16)  # five rules ask for that of one build
def budget_of(build: Build) -> Budget:
    """Return the budget of a build; the supply's figures only where it has just one."""
    rows = tuple(_rows(build))
    supply = the_supply(build)
    watts = supply.ask("watts").value if supply else None
    grade = (grade_of(supply.facts.grade) or "") if supply else ""
    most = sum(row.load_w for row in rows)
    return Budget(
        rows=rows,
        least_w=sum(row.least_w for row in rows),
        sustained_w=most,
        whole=all(row.basis != "fit.budget.unknown" for row in rows),
        supply_w=watts,
        margin_ratio=assumptions()["margin"]["ratio"],
        grade=grade,
        excursions=tuple(_excursions(rows, supply)),
        wall=tuple(_wall(most, watts, grade)) if watts and grade else (),
    )


def the_supply(build: Build) -> Fitted[SupplyFacts] | None:
    supplies = build.of(SupplyFacts)
    return supplies[0] if len(supplies) == 1 and supplies[0].quantity == 1 else None


def on_rail_w(budget: Budget) -> float:
    """Return what surely hangs on +12 V: processors, graphics and fans. The rest is on it in part only."""
    return sum(row.least_w for row in budget.rows if row.what in ("processor", "graphics", "fan", "cooler"))


def _row(
    part: Fitted[Any],
    each_w: float,
    basis: str,
    *,
    known: bool,
    pieces: int | None = None,
    least_w: float | None = None,
) -> BudgetRow:
    count = part.quantity if pieces is None else pieces
    return BudgetRow(
        line=part.line,
        what=part.category.value,
        pieces=count,
        load_w=each_w * count,
        least_w=(each_w * known if least_w is None else least_w) * count,
        basis=basis,
        known=known,
    )


def _rows(build: Build) -> Iterator[BudgetRow]:
    for processor in build.of(ProcessorFacts):
        yield _processor_row(build, processor)
    for card in build.of(GraphicsFacts):
        draws = card.ask("board_w")
        basis = "fit.budget.board-power" if draws.known else "fit.budget.unknown"
        yield _row(card, draws.value or 0.0, basis, known=draws.known)
    yield from _assumed_rows(build)
    yield from _fan_rows(build)


def _processor_row(build: Build, processor: Fitted[ProcessorFacts]) -> BudgetRow:
    limit, tdp = processor.ask("limit_w"), processor.ask("tdp_w")
    if limit.known:
        return _row(processor, limit.value, "fit.budget.limit", known=True)
    if not tdp.known:
        return _row(processor, 0.0, "fit.budget.unknown", known=False)
    thermal, socket = assumptions()["thermal"], _socket(build, processor)
    if socket.known and socket.value in thermal["sockets"]:
        most, basis = tdp.value * thermal["factor"], "fit.budget.thermal-factor"
    else:
        rows = [row["sustained_w"] for row in thermal["guide"] if tdp.value <= row["tdp_w"]]
        most, basis = (rows[0], "fit.budget.thermal-guide") if rows else (0.0, "fit.budget.unknown")
    return _row(processor, max(most, tdp.value), basis, known=False, least_w=tdp.value)


def _socket(build: Build, processor: Fitted[ProcessorFacts]) -> Known:
    own = spelt(processor.ask("socket"))
    boards = build.of(BoardFacts)
    return own if own.known or not boards else spelt(boards[0].ask("socket"))


def _assumed_rows(build: Build) -> Iterator[BudgetRow]:
    watts, basis = assumptions()["assumed_w"], "fit.budget.assumed"
    pieces_of = assumptions()["assumed_pieces"]
    for board in build.of(BoardFacts):
        yield _row(board, watts["board"], basis, known=False)
        yield BudgetRow(
            line="", what="USB", pieces=1, load_w=watts["usb"], least_w=0.0, basis=basis, known=False
        )
    for memory in build.of(MemoryFacts):
        modules = memory.ask("modules")
        pieces = memory.quantity * (modules.value if modules.known else pieces_of["modules"])
        yield _row(memory, watts["module"], basis, known=False, pieces=pieces)
    for drive in build.of(StorageFacts):
        yield _row(drive, watts[_kind_of_drive(drive)], basis, known=False)
    for card in build.of(CardFacts):
        yield _row(card, watts["card"], basis, known=False)
    for line in build.in_category(Category.OPTICAL_DRIVE):
        optical = Fitted(line.line, line.category, line.quantity, line.text, StorageFacts())
        yield _row(optical, watts["optical"], basis, known=False)


def _kind_of_drive(drive: Fitted[StorageFacts]) -> str:
    if is_m2(drive) or drive.facts.interface.casefold() == "nvme":
        return "m2"
    return "solid_state" if "solid" in drive.facts.technology.casefold() else "spinning"


def _fan_rows(build: Build) -> Iterator[BudgetRow]:
    watts, pieces_of = assumptions()["assumed_w"], assumptions()["assumed_pieces"]
    for fan in build.of(FanFacts):
        current, pack = fan.ask("current_a"), fan.ask("pack")
        each = current.value * RAIL_V if current.known else watts["fan"]
        known = current.known and pack.known
        basis = "fit.budget.current" if known else "fit.budget.assumed"
        pieces = fan.quantity * (pack.value if pack.known else pieces_of["pack"])
        yield _row(fan, each, basis, known=known, pieces=pieces)
    for case in build.of(CaseFacts):
        fitted = case.ask("fans_fitted")
        pieces = case.quantity * (fitted.value if fitted.known else pieces_of["case_fans"])
        if pieces:
            yield _row(case, watts["fan"], "fit.budget.assumed", known=False, pieces=pieces)
    for cooler in build.of(CoolerFacts):
        fans = cooler.ask("fans")
        pump = watts["pump"] * (cooler.facts.liquid is not False)
        each = watts["fan"] * (fans.value if fans.known else pieces_of["cooler_fans"]) + pump
        yield _row(cooler, each, "fit.budget.assumed", known=False)


def _excursions(rows: tuple[BudgetRow, ...], supply: Fitted[SupplyFacts] | None) -> Iterator[Excursion]:
    for row in assumptions()["excursions"]:
        factors = {"graphics": row["graphics"], "processor": row["processor"]}
        yield Excursion(
            lasts_s=row["lasts_s"],
            load_w=sum(each.load_w * factors.get(each.what, 1.0) for each in rows),
            least_w=sum(each.least_w * factors.get(each.what, 1.0) for each in rows),
            allowed_w=_allowed_w(row, supply) if supply else None,
        )


def _allowed_w(row: dict[str, float], supply: Fitted[SupplyFacts]) -> float | None:
    """Return what the supply stands for so long; None if it is not said to be built to such a guide."""
    watts, version = supply.ask("watts"), supply.ask("atx_version")
    if (
        not watts.known
        or not version.known
        or not version.value.strip().upper().removeprefix("ATX").strip().startswith("3")
    ):
        return None
    large = watts.value > _LARGE_W and bool(supply.facts.pcie_16_plugs)
    return float(watts.value * row["allowed" if large else "small"])


def _wall(most_w: float, rating_w: float, grade: str) -> Iterator[WallPoint]:
    for ratio, _ in POINTS[grade]:
        yield _point(ratio * rating_w, rating_w, grade)
    yield _point(most_w, rating_w, grade)


def _point(load_w: float, rating_w: float, grade: str) -> WallPoint:
    ratio = load_w / rating_w
    return WallPoint(
        load_w=load_w,
        load_ratio=ratio,
        efficiency_ratio=efficiency(grade, ratio),
        wall_w=wall_w(load_w, rating_w, grade),
    )
