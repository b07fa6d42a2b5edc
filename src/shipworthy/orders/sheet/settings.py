"""Firmware settings to make, and to look at again after the last restart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shipworthy.model.catalogue import CoolerFacts, ProcessorFacts
from shipworthy.model.words import Aspect, Category, Unit
from shipworthy.orders.sheet.build import Work, say, wanted

_SLOWEST_PROFILE_MT_S = 1600
"""Below that, memory of any type is sold at a rate that it takes by itself (from memory, JESD79-3)."""


@dataclass(frozen=True)
class Setting:
    """name: of the setting, in the trade's words. to: what to set. Firmware calls it by names of its own."""

    name: str
    to: str


def settings_of(work: Work) -> tuple[Setting, ...]:
    """Return the settings of a build, those of the order first."""
    return tuple(_settings(work))


def _settings(work: Work) -> Iterator[Setting]:
    for line in work.lines(Category.BOARD):
        if (version := wanted(line, Aspect.FIRMWARE)) is not None:
            yield Setting(say("setting.version"), say("setting.version-to", version=version))
    yield from _memory(work)
    yield _power_limits(work)
    liquid = any(cooler.facts.liquid for cooler in work.build.of(CoolerFacts))
    yield Setting(say("setting.fans"), say("setting.pump-to" if liquid else "setting.fans-to"))
    if work.lines(Category.GRAPHICS):
        yield Setting(say("setting.bar"), say("setting.bar-to"))
    sold = work.lines(Category.SYSTEM_SOFTWARE)
    yield Setting(say("setting.boot"), say("setting.boot-to" if sold else "setting.boot-none-to"))
    yield Setting(say("setting.after-loss"), say("setting.after-loss-to"))
    yield Setting(say("setting.standby"), say("setting.standby-to"))
    yield Setting(say("setting.clock"), say("setting.clock-to"))


def _memory(work: Work) -> Iterator[Setting]:
    """One row a speed that is sold: as part of the memory, or as a service on it."""
    speeds = {
        int(wish.want)
        for line in work.lines(Category.MEMORY, Category.SERVICE)
        if (wish := line.wanted(Aspect.SPEED)) is not None
        and wish.unit is Unit.MEGATRANSFERS
        and isinstance(wish.want, int | float)
    }
    if not speeds and work.lines(Category.MEMORY):
        yield Setting(say("setting.memory"), say("setting.memory-not-sold"))
    for speed in sorted(speeds):
        if speed > _SLOWEST_PROFILE_MT_S:
            yield Setting(say("setting.memory"), say("setting.memory-to", speed_mt_s=speed))


def _power_limits(work: Work) -> Setting:
    facts = work.first(ProcessorFacts)
    limit = facts.limit_w if facts else None
    to = say("setting.power-known-to", limit_w=limit) if limit else say("setting.power-to")
    return Setting(say("setting.power"), to)
