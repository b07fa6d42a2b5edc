"""Services that leave a trace in a reading: the memory profile, by the speed at which the memory runs; drives
left blank, by what is on them."""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.compare.contents import Contents, Delivered, in_words, is_carried
from shipworthy.compare.judgement import Judgement, judged, not_by_reading
from shipworthy.compare.modules import fitted_modules
from shipworthy.compare.pieces import Scene, Verdicts
from shipworthy.compare.rates import judge_speed
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Category, Outcome, Unit


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


def judge_left_blank(delivered: Delivered) -> Iterator[Judgement]:
    """Judge that drives were left blank; nothing is said where one could not be looked into."""
    inside = [drive for drive in delivered.drives if not is_carried(drive)]
    told = {drive.place: delivered.contents(drive) for drive in inside}
    used = [drive for drive in inside if told[drive.place] is Contents.SOMETHING]
    if used:
        what = "; ".join(
            f"{drive.text('model') or drive.place}: {in_words(drive, runs=delivered.holds_what_runs(drive))}"
            for drive in used
        )
        yield judged(Outcome.DIFFERS, Aspect.PRESENCE, None, what, ending="not-blank")
    elif inside and set(told.values()) == {Contents.NOTHING}:
        yield judged(Outcome.CONFORMS, Aspect.PRESENCE, None, None, ending="blank")


MATCHER = ServiceMatcher()
