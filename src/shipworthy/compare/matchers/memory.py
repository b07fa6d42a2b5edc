"""Memory: total, modules and their size, type, the speed it runs at, part numbers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from shipworthy.compare.assign import best_assignment
from shipworthy.compare.judgement import Judgement, judged, not_by_reading
from shipworthy.compare.memory_names import judge_model, judge_part_number, mixed_parts, type_by_numbers
from shipworthy.compare.memory_sizes import capacity_by_total, judge_capacity, totals, usable_bytes
from shipworthy.compare.memory_slots import judge_channels, judge_position
from shipworthy.compare.modules import (
    fitted_modules,
    known_by_spd_alone,
    number_of,
    unknown,
    why_modules_lack,
    why_no_modules,
)
from shipworthy.compare.pieces import Scene, Verdicts
from shipworthy.compare.rates import judge_speed
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Category, Outcome, Unit
from shipworthy.words.likeness import Likeness, best_of
from shipworthy.words.makers import maker_key
from shipworthy.words.memory_codes import module_likeness
from shipworthy.words.speeds import same_rate

_Modules = tuple[Part, ...]


class MemoryMatcher:
    """Shares all modules out among the memory lines; where none can be read, falls back on the total."""

    category = Category.MEMORY

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]:
        lines = tuple(sorted(lines, key=lambda line: line.line_id))
        modules = fitted_modules(scene.reading)
        if not modules:
            return tuple(_by_total(line, lines, scene.reading) for line in lines)
        shares = _shared_out(lines, modules)
        told = next((line for line in lines if shares[line.line_id]), None)
        return tuple(
            _by_modules(line, shares[line.line_id], scene.reading, channels=line is told) for line in lines
        )


MATCHER = MemoryMatcher()


# With modules


def _by_modules(line: OrderLine, modules: _Modules, reading: Reading, *, channels: bool) -> Verdicts:
    """channels: whether this line says how all modules are spread; one of them does."""
    judgements: list[Judgement] = []
    if modules:
        judgements.append(judged(Outcome.CONFORMS, Aspect.PRESENCE, None, None))
    elif known_by_spd_alone(fitted_modules(reading)):
        why = why_no_modules(reading).value
        judgements.append(judged(Outcome.CANNOT_TELL, Aspect.PRESENCE, None, None, named={"why": why}))
    else:
        judgements.append(Judgement(Aspect.PRESENCE, Outcome.DIFFERS, "missing"))
    judgements += [_judged(wish, line, modules, reading) for wish in line.expectations]
    judgements += mixed_parts(line, modules)
    judgements += judge_channels(reading) if channels else ()
    return _verdicts(line, judgements, modules)


def _judged(wish: Expectation, line: OrderLine, modules: _Modules, reading: Reading) -> Judgement:
    if wish.aspect is Aspect.CAPACITY:
        return judge_capacity(wish, line, modules, reading)
    if wish.aspect is Aspect.COUNT:
        return _judge_count(wish, modules, reading)
    if wish.aspect is Aspect.SPEED:
        return judge_speed(wish, modules, reading)
    if wish.aspect is Aspect.TECHNOLOGY:
        return _judge_type(wish, modules)
    if wish.aspect is Aspect.PART_NUMBER:
        return judge_part_number(wish, modules)
    if wish.aspect is Aspect.MODEL:
        return judge_model(wish, line, modules)
    if wish.aspect is Aspect.POSITION:
        return judge_position(wish, modules, reading)
    if wish.aspect is Aspect.MAKER:
        return _judge_maker(wish, modules)
    return not_by_reading(wish)


def _judge_count(wish: Expectation, modules: _Modules, reading: Reading) -> Judgement:
    """Compare the count. Modules known by their SPD alone can be fewer than there are: not all may answer."""
    outcome, ending = (Outcome.CONFORMS if len(modules) == wish.want else Outcome.DIFFERS), ""
    wanted = number_of(wish.want)
    if known_by_spd_alone(fitted_modules(reading)) and wanted is not None and len(modules) < wanted:
        outcome, ending = Outcome.CANNOT_TELL, "fewer-answer"
    return judged(outcome, Aspect.COUNT, wish.want, len(modules), unit=Unit.COUNT, ending=ending)


def _judge_type(wish: Expectation, modules: _Modules) -> Judgement:
    """Compare the type. SMBIOS has no word for the low-voltage kinds (DDR3L), so that letter is dropped."""
    types = sorted({module.text("type") for module in modules})
    got = ", ".join(filter(None, types))
    want = _plain_type(str(wish.want))
    named = [kind for kind in types if "DDR" in kind]
    if any(_plain_type(kind) != want for kind in named):
        return judged(Outcome.DIFFERS, Aspect.TECHNOLOGY, wish.want, got)
    if modules and len(named) == len(types):
        return judged(Outcome.CONFORMS, Aspect.TECHNOLOGY, wish.want, got)
    by_numbers = type_by_numbers(modules) if modules else ""
    if by_numbers:
        outcome = Outcome.CONFORMS if _plain_type(by_numbers) == want else Outcome.DIFFERS
        ending = "by-part-number" if outcome is Outcome.CONFORMS else ""
        return judged(outcome, Aspect.TECHNOLOGY, wish.want, by_numbers, ending=ending)
    return unknown(wish, why_modules_lack(modules, "type"))


def _plain_type(kind: str) -> str:
    return kind.upper().removesuffix("L").removesuffix("X")


def _judge_maker(wish: Expectation, modules: _Modules) -> Judgement:
    """Compare the maker. Firmware often names the chips' maker or none, so another one is no difference."""
    said = sorted({module.text("maker") for module in modules})
    if said and all(maker_key(maker) == maker_key(str(wish.want)) for maker in said):
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, ", ".join(said))
    if any(said):
        return judged(
            Outcome.CANNOT_TELL, Aspect.MAKER, wish.want, ", ".join(filter(None, said)), ending="unknown"
        )
    return unknown(wish, why_modules_lack(modules, "maker"))


# Which modules are whose


def _shared_out(lines: tuple[OrderLine, ...], modules: _Modules) -> dict[str, _Modules]:
    """Give every module to one line: those that a line asks for first, what is left to who lacks most."""
    if len(lines) == 1:
        return {lines[0].line_id: modules}
    pieces = [line for line in lines for _ in range(_pieces(line))]
    taken = best_assignment([[_misfit(line, module) for module in modules] for line in pieces])
    shares: dict[str, list[Part]] = {line.line_id: [] for line in lines}
    for row, column in taken.items():
        shares[pieces[row].line_id].append(modules[column])
    left = [module for column, module in enumerate(modules) if column not in taken.values()]
    for module in left:
        neediest = max(lines, key=lambda line: (_lack(line, shares[line.line_id]), line.line_id))
        shares[neediest.line_id].append(module)
    return {name: tuple(sorted(share, key=lambda m: m.place)) for name, share in shares.items()}


def _pieces(line: OrderLine) -> int:
    count = line.wanted(Aspect.COUNT)
    wanted = int(count.want) if count is not None and isinstance(count.want, int | float) else line.quantity
    return max(1, min(wanted, 1000))


def _misfit(line: OrderLine, module: Part) -> int:
    capacity, kind, number = (
        line.wanted(aspect) for aspect in (Aspect.CAPACITY, Aspect.TECHNOLOGY, Aspect.PART_NUMBER)
    )
    points = 0
    if capacity is not None and module.number("size_bytes") is not None:
        each = [(number_of(want) or 0) / _pieces(line) for want in capacity.wants]
        points += 100 * (module.number("size_bytes") not in each)
    if kind is not None:
        kinds = {_plain_type(str(want)) for want in kind.wants}
        points += 100 * (_plain_type(module.text("type")) not in kinds)
    if number is not None:
        said = module.text("part_number")
        likeness = best_of([module_likeness(str(want), said) for want in number.wants])
        points += {Likeness.SAME: 0, Likeness.PARTLY: 10, Likeness.OTHER: 50}[likeness]
    speed, running = line.wanted(Aspect.SPEED), module.number("configured_speed_mt_s")
    if speed is not None and running is not None:
        points += not any(same_rate(running, number_of(want) or 0) for want in speed.wants)
    return points


def _lack(line: OrderLine, share: list[Part]) -> float:
    capacity = line.wanted(Aspect.CAPACITY)
    wanted = number_of(capacity.want) if capacity is not None else None
    return (wanted or 0) - sum(module.number("size_bytes") or 0 for module in share)


# Without modules

_OF_MODULES = (Aspect.COUNT, Aspect.SPEED, Aspect.TECHNOLOGY, Aspect.PART_NUMBER, Aspect.MAKER)


def _by_total(line: OrderLine, lines: tuple[OrderLine, ...], reading: Reading) -> Verdicts:
    why = why_no_modules(reading)
    wanted = [number_of(wish.want) for one in lines if (wish := one.wanted(Aspect.CAPACITY)) is not None]
    sold = sum(filter(None, wanted)) if len(wanted) == len(lines) and all(wanted) else None
    judgements = [_presence_by_total(reading, why)]
    for wish in line.expectations:
        if wish.aspect is Aspect.CAPACITY:
            judgements.append(capacity_by_total(wish, sold, reading, why))
        elif wish.aspect in _OF_MODULES:
            judgements.append(unknown(wish, why))
        else:
            judgements.append(not_by_reading(wish))
    return _verdicts(line, judgements, totals(reading)[:1])


def _presence_by_total(reading: Reading, why: Absent) -> Judgement:
    if usable_bytes(reading) is None:
        return judged(Outcome.CANNOT_TELL, Aspect.PRESENCE, None, None, named={"why": why.value})
    return judged(Outcome.CONFORMS, Aspect.PRESENCE, None, None)


# Small words


def _verdicts(line: OrderLine, judgements: Iterable[Judgement], parts: _Modules) -> Verdicts:
    return Verdicts(line, tuple(_placed(judgements, parts)), tuple(part.place for part in parts))


def _placed(judgements: Iterable[Judgement], parts: _Modules) -> Iterator[tuple[str, Judgement]]:
    """A judgement speaks of a module if it says so or if there is but one."""
    only = parts[0].place if len(parts) == 1 else ""
    for judgement in judgements:
        yield judgement.place or only, judgement
