"""The matchers, one file a category. A new one is added to this list and nowhere else."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from shipworthy.compare.matchers import (
    board,
    display,
    graphics,
    memory,
    network,
    optical,
    processor,
    service,
    software,
    sound,
    storage,
)
from shipworthy.compare.pieces import Scene, Verdicts
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Category


class Matcher(Protocol):
    """Compares all order lines of its category at once, since parts are shared out among them."""

    @property
    def category(self) -> Category: ...

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]: ...


_ALL: tuple[Matcher, ...] = (
    processor.MATCHER,
    board.MATCHER,
    memory.MATCHER,
    storage.MATCHER,
    graphics.MATCHER,
    network.MATCHER,
    sound.MATCHER,
    optical.MATCHER,
    display.MATCHER,
    service.MATCHER,
    software.MATCHER,
)
MATCHERS: Mapping[Category, Matcher] = {matcher.category: matcher for matcher in _ALL}
