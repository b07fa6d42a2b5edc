"""The speed of memory: what it runs at against what was sold, and why it may run slower.

Four speeds are told apart. What runs now is `configured_speed_mt_s`. What was sold stands in the order, and
nowhere else: the firmware's word for a module's speed (SMBIOS type 17, DSP0134 7.18.4) is often only the base
speed. What a module can do without a profile, and what its profile makes of it, its own chip tells
(`jedec_speed_mt_s`, `profile_speed_mt_s`): so a profile that is not switched on is told from a module that
was never made for the speed sold.
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
from shipworthy.words.speeds import same_rate

_Found = tuple[Outcome, str]
_OPEN: _Found = (Outcome.CANNOT_TELL, "")


def judge_speed(wish: Expectation, modules: Modules, reading: Reading) -> Judgement:
    """Compare the speed that the memory runs at with the one sold, to 1 %: the slowest module counts.

    Above the speed sold is a difference too: the modules run beyond their word, or are not those sold.
    Some firmware gives the clock, half the rate, in place of the rate: then nobody can tell.
    """
    sold = number_of(wish.want)
    running = [(speed, m) for m in modules if (speed := m.number("configured_speed_mt_s")) is not None]
    if sold is None or not modules:
        return unknown(wish, why_no_modules(reading))
    if not running:
        return _by_chip_alone(wish, sold, modules)
    slowest, module = min(running, key=lambda pair: (pair[0], pair[1].place))
    outcome, ending = _found(sold, slowest, module)
    if (outcome, ending) == (Outcome.CONFORMS, "") and len(running) < len(modules):
        return unknown(wish, why_modules_lack(modules, "configured_speed_mt_s"))
    if ending == "above-sold" and len(running) < len(modules):
        return unknown(wish, why_modules_lack(modules, "configured_speed_mt_s"))
    return _judged(wish, slowest, module, outcome, ending)


def _found(sold: float, slowest: float, module: Part) -> _Found:
    plain = module.number("jedec_speed_mt_s")
    explained = plain is not None and same_rate(slowest, plain)  # 1333 of a kit of 2666 without its profile
    if not explained and any(same_rate(slowest * 2, can) and same_rate(sold, can) for can in _told(module)):
        return Outcome.CANNOT_TELL, "half-of-rated"
    if same_rate(slowest, sold):
        return Outcome.CONFORMS, ""
    if slowest > sold:
        return Outcome.DIFFERS, "above-sold"
    return Outcome.DIFFERS, _why_below(sold, module)


def _why_below(sold: float, module: Part) -> str:
    """Say what the module's own chip knows of the speed sold; `below-sold` where it tells nothing of it."""
    profile, plain = module.number("profile_speed_mt_s"), module.number("jedec_speed_mt_s")
    if plain is not None and _reaches(plain, sold):
        return "below-module"
    if profile is not None and _reaches(profile, sold):
        return "profile-off"
    if _most_by_chip(module) is not None:
        return "module-slower"
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
