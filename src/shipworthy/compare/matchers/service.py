"""Services that leave a trace in a reading: the memory profile, by the speed at which the memory runs."""

from __future__ import annotations

from shipworthy.compare.judgement import Judgement, not_by_reading
from shipworthy.compare.modules import fitted_modules
from shipworthy.compare.pieces import Scene, Verdicts
from shipworthy.compare.rates import judge_speed
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Unit


class ServiceMatcher:
    """A speed in MT/s is the memory's; all else that is done for a customer, a person has to look at."""

    category = Category.SERVICE

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]:
        return tuple(self._verdicts(line, scene) for line in sorted(lines, key=lambda line: line.line_id))

    def _verdicts(self, line: OrderLine, scene: Scene) -> Verdicts:
        found = tuple(self._judged(wish, scene) for wish in line.expectations)
        return Verdicts(line, tuple((judgement.place, judgement) for judgement in found), ())

    def _judged(self, wish: Expectation, scene: Scene) -> Judgement:
        if wish.aspect is Aspect.SPEED and wish.unit is Unit.MEGATRANSFERS:
            return judge_speed(wish, fitted_modules(scene.reading), scene.reading)
        return not_by_reading(wish)


MATCHER = ServiceMatcher()
