"""What names a kit of memory: the part numbers of its modules against the one sold, and against its name.

A module shows a part number, if anything; the name on the box it never shows. So a name that no part number
bears out is *not checked*: a person reads a label.
"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.compare.judgement import Judgement, judged
from shipworthy.compare.modules import Modules, number_of, unknown, why_modules_lack
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Outcome
from shipworthy.words.likeness import Likeness, best_of
from shipworthy.words.memory_codes import MemoryCode, module_likeness, read_memory_code, telling_difference
from shipworthy.words.memory_names import codes_of, latency_of
from shipworthy.words.memory_series import named_otherwise

_ROUNDED = 2
"""Makers round latency in part numbers: of 691 real kits 28 are sold with one that differs by up to 2 clocks
from that of their number (open part records), and none by more."""


def judge_part_number(wish: Expectation, modules: Modules) -> Judgement:
    """Compare the part number. A kit's is often not that of its modules: then it does not show."""
    said = numbers_of(modules)
    if not said:
        return unknown(wish, why_modules_lack(modules, "part_number"))
    found = {_best(wish, number) for number in said}
    got = ", ".join(said)
    if Likeness.OTHER in found:
        return judged(Outcome.DIFFERS, Aspect.PART_NUMBER, wish.want, got)
    if found == {Likeness.SAME} and all(module.text("part_number") for module in modules):
        return judged(Outcome.CONFORMS, Aspect.PART_NUMBER, wish.want, got)
    return judged(Outcome.CANNOT_TELL, Aspect.PART_NUMBER, wish.want, got, ending="not-shown")


def judge_model(wish: Expectation, line: OrderLine, modules: Modules) -> Judgement:
    """Compare the name of the kit: by the part number sold, by one within the name, by its series,
    by its latency."""
    said = numbers_of(modules)
    if not said:
        return _for_a_person(wish, why_modules_lack(modules, "part_number").value)
    got = ", ".join(said)
    number = line.wanted(Aspect.PART_NUMBER)
    if number is not None and judge_part_number(number, modules).outcome is Outcome.CONFORMS:
        return judged(Outcome.CONFORMS, Aspect.MODEL, wish.want, got, ending="by-part-number")
    likenesses = {module_likeness(code, one) for code in codes_of(str(wish.want)) for one in said}
    if likenesses == {Likeness.SAME} and all(module.text("part_number") for module in modules):
        return judged(Outcome.CONFORMS, Aspect.MODEL, wish.want, got, ending="by-part-number")
    if Likeness.OTHER in likenesses:
        return judged(Outcome.DIFFERS, Aspect.MODEL, wish.want, got)
    latency = latency_of(line.text)
    read = [code for one in said if (code := read_memory_code(one)) is not None]
    if any(named_otherwise(str(wish.want), code) for code in read):
        return judged(Outcome.DIFFERS, Aspect.MODEL, wish.want, got, ending="other-series")
    slower = next((c.cas for c in read if latency and c.cas and abs(c.cas - latency) > _ROUNDED), None)
    if slower is not None:
        named = {"latency": f"CL{latency}", "fitted": f"CL{slower}"}
        return judged(Outcome.DIFFERS, Aspect.MODEL, wish.want, got, ending="other-latency", named=named)
    return _for_a_person(wish, got)


def _for_a_person(wish: Expectation, said: str) -> Judgement:
    return judged(
        Outcome.NOT_CHECKED, Aspect.MODEL, wish.want, None, ending="read-label", named={"said": said}
    )


def mixed_parts(line: OrderLine, modules: Modules) -> Iterator[Judgement]:
    """Name modules of different kits where one kit was sold: their part numbers contradict each other."""
    count = line.wanted(Aspect.COUNT)
    if count is None or number_of(count.want) == line.quantity:
        return  # single modules, each sold by itself
    said = numbers_of(modules)
    if any(_contradict(one, other) for one in said for other in said if one < other):
        got = ", ".join(said)
        yield judged(Outcome.DIFFERS, Aspect.MODEL, line.text, got, ending="mixed")


def _contradict(one: str, other: str) -> bool:
    first, second = read_memory_code(one), read_memory_code(other)
    if first is None or second is None:
        return module_likeness(one, other) is Likeness.OTHER
    return first.maker != second.maker or telling_difference(first, second) is not None


def _best(wish: Expectation, said: str) -> Likeness:
    """Of several part numbers that would do, the one that says most for the module."""
    return best_of([module_likeness(str(want), said) for want in wish.wants])


def numbers_of(modules: Modules) -> tuple[str, ...]:
    """Return the part numbers that these modules show, each once."""
    return tuple(sorted({module.text("part_number") for module in modules} - {""}))


def codes_read(modules: Modules) -> tuple[MemoryCode | None, ...]:
    """Return what the part number of each module says, None for one that says nothing."""
    return tuple(read_memory_code(module.text("part_number")) for module in modules)


def type_by_numbers(modules: Modules) -> str:
    """Return the type that all part numbers agree on; empty where one of them says none."""
    types = {code.type if code is not None else None for code in codes_read(modules)}
    (only,) = types if len(types) == 1 else (None,)
    return only or ""
