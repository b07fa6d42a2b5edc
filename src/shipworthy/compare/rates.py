"""The speed of memory: what it runs at against what was sold, and why it may run slower.

Four speeds are told apart. What runs now is `configured_speed_mt_s`. What was sold stands in the order, and
nowhere else: the firmware's word for a module's speed (SMBIOS type 17, DSP0134 7.18.4) is often only the base
speed. What a module can do without a profile, and what its profile makes of it, its own chip tells
(`jedec_speed_mt_s`, `profile_speed_mt_s`), or its part number where its maker writes the speed there: so a
profile that is not switched on is told from a module that was never made for the speed sold.
"""

from __future__ import annotations

from shipworthy.compare.judgement import Judgement, judged, text_or_why
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
from shipworthy.model.words import Aspect, Outcome, Unit
from shipworthy.words.memory_codes import read_memory_code
from shipworthy.words.speeds import same_rate

_Found = tuple[Outcome, str]
_MOST_MT_S = 16_000
"""Twice the fastest step of DDR5 (JESD79-5C, 8,800 MT/s) and then some: no module runs faster."""
_STEPS = {
    "DDR2": (400, 533, 667, 800, 1066),
    "DDR3": (800, 1066, 1333, 1600, 1866, 2133),
    "DDR4": (1333, 1600, 1866, 2133, 2400, 2666, 2933, 3200),
    "DDR5": (3200, 3600, 4000, 4400, 4800, 5200, 5600, 6000, 6400),
}
"""Rates without a profile (JESD79-2 to JESD79-5, from memory; DDR4 boards also go down to 1333)."""
_OTHER_NUMBER = ("number-slower", "number-faster")
_ABOVE = ("above-sold", "module-faster")
"""So it is only if no module of which nobody says how fast it runs is slower."""
_OPEN: _Found = (Outcome.CANNOT_TELL, "")


def judge_speed(wish: Expectation, modules: Modules, reading: Reading) -> Judgement:
    """Compare the speed that the memory runs at with the one sold, to 1 %: the slowest module counts.

    Above the speed sold is a difference too: the modules run beyond their word, or are not those sold.
    Some firmware gives the clock, half the rate, in place of the rate: then nobody can tell.
    """
    sold = number_of(wish.want)
    running = [(speed, m) for m in modules if (speed := _running(m)) is not None]
    if sold is None or not modules:
        return unknown(wish, why_no_modules(reading))
    if not running:
        return _by_chip_alone(wish, sold, modules)
    running.sort(key=lambda pair: (pair[0], pair[1].place))
    found = [(_found(sold, speed, module), speed, module) for speed, module in running]
    # The slowest counts; but a part number that contradicts the order does so on whichever module.
    (outcome, ending), speed, module = next((one for one in found if one[0][1] in _OTHER_NUMBER), found[0])
    if (outcome is Outcome.CONFORMS or ending in _ABOVE) and len(running) < len(modules):
        return unknown(wish, why_modules_lack(modules, "configured_speed_mt_s"))
    return _judged(wish, speed, module, outcome, ending)


def _found(sold: float, slowest: float, module: Part) -> _Found:
    plain, by_number = module.number("jedec_speed_mt_s"), _by_number(module)
    explained = plain is not None and same_rate(slowest, plain)  # 1333 of a kit of 2666 without its profile
    if not explained and any(same_rate(slowest * 2, can) and same_rate(sold, can) for can in _told(module)):
        clock = not _is_step(slowest, module)
        return (Outcome.CONFORMS, "clock") if clock else (Outcome.CANNOT_TELL, "half-of-rated")
    if by_number is not None and not same_rate(by_number, sold) and _most_by_chip(module) is None:
        return Outcome.DIFFERS, "number-slower" if by_number < sold else "number-faster"
    if same_rate(slowest, sold):
        return Outcome.CONFORMS, ""
    if slowest > sold:
        return Outcome.DIFFERS, _why_above(sold, slowest, module)
    return Outcome.DIFFERS, _why_below(sold, module)


def _running(module: Part) -> int | float | None:
    """Return the speed that a module runs at; one that no memory reaches is none (34,699 MT/s in a table)."""
    speed = module.number("configured_speed_mt_s")
    return speed if speed is not None and speed <= _MOST_MT_S else None


def _by_number(module: Part) -> int | None:
    """Return the speed that stands in a module's part number, by its maker's grammar."""
    code = read_memory_code(module.text("part_number"))
    return None if code is None else code.speed_mt_s


def _is_step(rate: float, module: Part) -> bool:
    """Whether a rate is one that modules of this type run at without a profile. Where it is none and half of
    what the module is rated at, it is the clock: the field had that meaning before SMBIOS 3.1."""
    steps = _STEPS.get(module.text("type").removesuffix("L"))
    return steps is None or any(same_rate(rate, step) for step in steps)


def _why_above(sold: float, runs: float, module: Part) -> str:
    """Say whether the module was made for the speed that it runs at, by its own chip, or is run beyond its
    word; `above-sold` where nothing tells."""
    by_number = _by_number(module)
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
    if (by_number := _by_number(module)) is not None and same_rate(by_number, sold):
        return "not-set"
    return "profile-unread" if module.text("profiles") else "below-sold"


def _by_chip_alone(wish: Expectation, sold: float, modules: Modules) -> Judgement:
    """Without the speed that runs, a module can still be one that was never made for the speed sold."""
    known = [(most, m) for m in modules if (most := _most_by_chip(m)) is not None]
    if known:
        most, module = min(known, key=lambda pair: (pair[0], pair[1].place))
        if not _reaches(most, sold):
            return _judged(wish, None, module, Outcome.DIFFERS, "not-made-for")
    return unknown(wish, why_modules_lack(modules, "configured_speed_mt_s"))


def _judged(
    wish: Expectation, got: int | float | None, module: Part, outcome: Outcome, ending: str
) -> Judgement:
    most = _most_by_chip(module)
    named: dict[str, Scalar] = {
        name: text_or_why(module, name) for name in ("jedec_speed_mt_s", "profile_speed_mt_s", "profiles")
    }
    named["most_mt_s"] = "not offered" if most is None else most
    named["number"] = module.text("part_number") or "none"
    named["number_mt_s"] = _by_number(module) or "not offered"
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
