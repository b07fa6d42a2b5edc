"""The speed of memory: what it runs at against what was sold, and why it may run slower.

Four speeds are told apart. What runs now is `configured_speed_mt_s`. What was sold stands in the order, and
nowhere else: the firmware's word for a module's speed (SMBIOS type 17, DSP0134 7.18.4) is often only the base
speed. What a module can do without a profile, and what its profile makes of it, its own chip tells
(`jedec_speed_mt_s`, `profile_speed_mt_s`), or its part number where its maker writes the speed there: so a
profile that is not switched on is told from a module that was never made for the speed sold.
"""

from __future__ import annotations

from shipworthy.compare.judgement import Judgement, judged, text_or_why
from shipworthy.compare.memory_speeds import (
    Version,
    is_step,
    means_clock,
    running_speed,
    smbios_version,
    speed_by_number,
)
from shipworthy.compare.modules import (
    Modules,
    is_by_spd,
    number_of,
    unknown,
    why_modules_lack,
    why_no_modules,
)
from shipworthy.model.base import Scalar
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Outcome, Unit
from shipworthy.words.speeds import same_rate

_Found = tuple[Outcome, str]
_ABOVE = ("above-sold", "module-faster")
"""So it is only if no module of which nobody says how fast it runs is slower."""


def judge_speed(wish: Expectation, modules: Modules, reading: Reading) -> Judgement:
    """Compare the speed that the memory runs at with the one sold, to 1 %: the slowest module counts.

    Above the speed sold is a difference too: the modules run beyond their word, or are not those sold. Where
    only the part numbers tell the speed, and tell the one sold, what runs is for a person to read.
    """
    sold = number_of(wish.want)
    if sold is None or not modules:
        return unknown(wish, why_no_modules(reading))
    version = smbios_version(reading)
    running = [(speed, m) for m in modules if (speed := running_speed(m, version)) is not None]
    running.sort(key=lambda pair: (pair[0], pair[1].place))
    silent = tuple(module for module in modules if running_speed(module, version) is None)
    # A part number that contradicts the order does so on whichever module.
    for module in (*(m for _, m in running), *silent):
        if (ending := _other_number(sold, module)) is not None:
            return _judged(wish, running_speed(module, version), module, Outcome.DIFFERS, ending)
    if not running:
        return _by_chip_alone(wish, sold, modules)
    speed, module = running[0]
    outcome, ending = _found(sold, speed, module, version)
    if silent and outcome is Outcome.CONFORMS:
        return _unread(wish, sold, silent)
    if silent and ending in _ABOVE:
        return unknown(wish, why_modules_lack(silent, "configured_speed_mt_s"))
    return _judged(wish, speed, module, outcome, ending, version)


def _found(sold: float, slowest: float, module: Part, version: Version | None) -> _Found:
    half = _half_of_sold(sold, slowest, module, version)
    if half is not None:
        return half
    if same_rate(slowest, sold):
        return Outcome.CONFORMS, ""
    if slowest > sold:
        return Outcome.DIFFERS, _why_above(sold, slowest, module)
    return Outcome.DIFFERS, _why_below(sold, module)


def _half_of_sold(sold: float, slowest: float, module: Part, version: Version | None) -> _Found | None:
    """Say what half of the speed sold means, where that is what the module can do; None of any other speed.

    Some firmware gives the clock in place of the rate. It is the clock where the table means one, or where
    no memory of that type has such a rate; else nobody can tell.
    """
    plain = module.number("jedec_speed_mt_s")
    explained = plain is not None and same_rate(slowest, plain)  # 1333 of a kit of 2666 without its profile
    if explained or not same_rate(slowest * 2, sold):
        return None
    told, number = any(same_rate(sold, can) for can in _told(module)), speed_by_number(module)
    if (told or (number is not None and same_rate(number, sold))) and not is_step(slowest, module):
        return Outcome.CONFORMS, "clock"
    if told:
        by_version = means_clock(module, version)
        return (
            (Outcome.CONFORMS, "clock-by-version") if by_version else (Outcome.CANNOT_TELL, "half-of-rated")
        )
    return None


def _other_number(sold: float, module: Part) -> str | None:
    """Say how a part number contradicts the speed sold; None where it does not. The module's own chip, where
    all of it is understood, knows better."""
    number = speed_by_number(module)
    if number is None or same_rate(number, sold) or _most_by_chip(module) is not None:
        return None
    return "number-slower" if number < sold else "number-faster"


def _unread(wish: Expectation, sold: float, silent: Modules) -> Judgement:
    """Return what is open of modules of which nobody says how fast they run.

    Where their part numbers say the speed sold, the part is right and its setting is unseen: the firmware,
    which was asked, does not tell it, so a person reads it. Else it may be another part.
    """
    why = why_modules_lack(silent, "configured_speed_mt_s")
    if all(module.value("configured_speed_mt_s") is not None for module in silent):
        why = Absent.IMPLAUSIBLE
    numbers = [speed_by_number(module) for module in silent]
    right = all(number is not None and same_rate(number, sold) for number in numbers)
    if not right or why not in (Absent.NOT_OFFERED, Absent.IMPLAUSIBLE):
        return unknown(wish, why)
    said = ", ".join(sorted({module.text("part_number") for module in silent}))
    return judged(
        Outcome.NOT_CHECKED,
        Aspect.SPEED,
        wish.want,
        None,
        unit=Unit.MEGATRANSFERS,
        ending="read-setup",
        named={"why": why.value, "number": said},
    )


def _why_above(sold: float, runs: float, module: Part) -> str:
    """Say whether the module was made for the speed that it runs at, by its own chip, or is run beyond its
    word; `above-sold` where nothing tells."""
    by_number = speed_by_number(module)
    if by_number is not None and same_rate(by_number, sold):
        return "set-above"
    chip = (module.number("jedec_speed_mt_s"), module.number("profile_speed_mt_s"), _most_by_chip(module))
    if any(speed is not None and _reaches(speed, runs) for speed in chip):
        return "module-faster"
    return "above-sold" if by_number is None else "set-above"


def _why_below(sold: float, module: Part) -> str:
    """Say what the module's own chip knows of the speed sold; `below-sold` where it tells nothing of it."""
    profile, plain = module.number("profile_speed_mt_s"), module.number("jedec_speed_mt_s")
    if plain is not None and _reaches(plain, sold):
        return "below-module"
    if profile is not None and _reaches(profile, sold):
        return "profile-off"
    if _most_by_chip(module) is not None:
        return "module-slower"
    if (by_number := speed_by_number(module)) is not None and same_rate(by_number, sold):
        return "not-set"
    return "profile-unread" if module.text("profiles") else "below-sold"


def _by_chip_alone(wish: Expectation, sold: float, modules: Modules) -> Judgement:
    """Without the speed that runs, a module can still be one that was never made for the speed sold."""
    known = [(most, m) for m in modules if (most := _most_by_chip(m)) is not None]
    if known:
        most, module = min(known, key=lambda pair: (pair[0], pair[1].place))
        if not _reaches(most, sold):
            return _judged(wish, None, module, Outcome.DIFFERS, "not-made-for")
    return _unread(wish, sold, modules)


def _judged(
    wish: Expectation,
    got: int | float | None,
    module: Part,
    outcome: Outcome,
    ending: str,
    version: Version | None = None,
) -> Judgement:
    most = _most_by_chip(module)
    named: dict[str, Scalar] = {
        name: text_or_why(module, name) for name in ("jedec_speed_mt_s", "profile_speed_mt_s", "profiles")
    }
    named["most_mt_s"] = "not offered" if most is None else most
    named["smbios"] = ".".join(map(str, version)) if version else "not offered"
    named["number"] = module.text("part_number") or "none"
    named["number_mt_s"] = speed_by_number(module) or "not offered"
    return judged(
        outcome,
        Aspect.SPEED,
        wish.want,
        got,
        unit=Unit.MEGATRANSFERS,
        ending=ending,
        place=module.place,
        named=named,
    )


def _most_by_chip(module: Part) -> int | float | None:
    """Return the most that a module is made for by its own chip, whoever else speaks of it.

    The chip's source gives it only where every block of profiles on it is understood; a profile that it
    cannot read may be the one that was sold.
    """
    fact = module.fact("rated_speed_mt_s")
    if fact is None:
        return None
    words = [(fact.source, fact.value), *((w.source, w.value) for w in fact.witnesses)]
    return next((number_of(value) for source, value in words if is_by_spd(source)), None)


def _told(module: Part) -> tuple[int | float, ...]:
    """Return every speed that anything says the module can do."""
    names = ("rated_speed_mt_s", "firmware_speed_mt_s", "jedec_speed_mt_s", "profile_speed_mt_s")
    return tuple(speed for name in names if (speed := module.number(name)) is not None)


def _reaches(speed: float, sold: float) -> bool:
    return speed >= sold or same_rate(speed, sold)
