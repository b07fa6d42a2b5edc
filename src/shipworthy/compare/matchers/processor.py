"""Processors: the model with every suffix, and whether all cores that are fitted work."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from shipworthy.compare.identity import bare, judge_maker
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.modules import number_of
from shipworthy.compare.pieces import PieceMatcher, Scene
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind, Unit
from shipworthy.words.core_counts import find_core_counts
from shipworthy.words.models import model_text
from shipworthy.words.processor_names import is_cut_short, is_sample, processor_likeness, tells_no_model


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the model. Kernels give a processor's full name, so what it lacks was not fitted.

    An engineering sample differs from whatever was sold; zeros in place of a number tell nothing, nor does
    what a firmware's table has cut off.
    """
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"))
    if is_sample(said):
        return judged(Outcome.DIFFERS, Aspect.MODEL, wish.want, said, ending="sample")
    if tells_no_model(said):
        return judged(Outcome.CANNOT_TELL, Aspect.MODEL, wish.want, said, ending="no-number")
    if not _is_kernels(part) and is_cut_short(said):
        return judged(Outcome.CANNOT_TELL, Aspect.MODEL, wish.want, said)
    want = bare(model_text(str(wish.want), Category.PROCESSOR), line, part)
    got = bare(model_text(said, Category.PROCESSOR), line, part)
    likeness = processor_likeness(want, got, line.text if wish.words else "")
    return judged(OF_LIKENESS[likeness], Aspect.MODEL, wish.want, said)


def judge_cores(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Compare cores fitted with cores sold, and threads online with threads fitted.

    What firmware has switched off the kernel does not count. The firmware's table still does: of 658 machines
    (reference data, bsd-joined-machines) it told more cores than ran in 5, of which one ran 7 of 8, one 6 of
    10. Who sells fewer says so in the order, and is believed.
    """
    yield from _judge_counts(line, part)
    wish = line.wanted(Aspect.CORES)
    want = find_core_counts(line.text).cores if wish is None else wish.want
    cores = part.number("cores")
    threads, online = _threads(scene)
    more_cores = None if want is not None else _told_more(part, "cores")
    more_threads = _told_more(part, "threads") if want is None or _told_more(part, "cores") is None else None
    if want is not None and cores is not None and cores != want:
        yield judged(Outcome.DIFFERS, Aspect.CORES, want, cores, unit=Unit.COUNT)
    elif threads is not None and online is not None and online < threads:
        yield judged(Outcome.DIFFERS, Aspect.CORES, threads, online, unit=Unit.COUNT, ending="offline")
    elif more_threads is not None:
        running = part.number("threads")
        yield judged(Outcome.DIFFERS, Aspect.CORES, more_threads, running, unit=Unit.COUNT, ending="offline")
    elif more_cores is not None:
        named = {"why": Absent.IMPLAUSIBLE.value}
        yield judged(Outcome.CANNOT_TELL, Aspect.CORES, more_cores, cores, unit=Unit.COUNT, named=named)
    elif cores is None or threads is None or online is None:
        missing = "cores" if cores is None else "threads" if threads is None else "online_cpus"
        why = part.why_absent(missing).value
        yield judged(Outcome.CANNOT_TELL, Aspect.CORES, want, cores, unit=Unit.COUNT, named={"why": why})
    else:
        yield judged(
            Outcome.CONFORMS, Aspect.CORES, cores, cores, unit=Unit.COUNT, named={"threads": threads}
        )


def _judge_counts(line: OrderLine, part: Part) -> Iterable[Judgement]:
    """Compare what the line's text says of kinds of cores (`8P+16E`) and of threads (`12C/20T`)."""
    sold = find_core_counts(line.text)
    for fact, kind, want in (
        ("performance_cores", "performance", sold.performance),
        ("efficiency_cores", "efficiency", sold.efficiency),
    ):
        if want is not None:
            yield _judge_count(part, fact, want, "kind", {"kind": kind})
    if sold.threads is not None:
        yield _judge_count(part, "threads", sold.threads, "threads", {})


def _judge_count(part: Part, fact: str, want: int, ending: str, named: Mapping[str, str]) -> Judgement:
    got = part.number(fact)
    if got is None:
        ending, outcome = f"{ending}-open", Outcome.CANNOT_TELL
        named = {**named, "why": part.why_absent(fact).value}
    elif got == want:
        outcome = Outcome.CONFORMS
    else:
        ending, outcome = f"{ending}-differs", Outcome.DIFFERS
    return judged(outcome, Aspect.CORES, want, got, unit=Unit.COUNT, ending=ending, named=named)


def _told_more(part: Part, name: str) -> int | float | None:
    """Return the most that another witness tells of a count, where it is more than the one believed."""
    fact, believed = part.fact(name), part.number(name)
    said = [] if fact is None or believed is None else [number_of(w.value) for w in fact.witnesses]
    return max((n for n in said if n is not None and believed is not None and n > believed), default=None)


def _threads(scene: Scene) -> tuple[int | None, int | None]:
    """Return threads fitted and threads online, of all processors together; None where one does not say.

    The kernel's own list of offline processors is of no use: it holds places that were never fitted.
    """
    parts = scene.reading.of_kind(PartKind.PROCESSOR)
    fitted = [
        _threads_of(part for part in parts if _is_kernels(part) is kernels) for kernels in (True, False)
    ]
    online = [_numbers(part.text("online_cpus")) for part in parts if part.text("online_cpus")]
    return (
        max((count for count in fitted if count is not None), default=None),
        len(frozenset().union(*online)) if online else None,
    )


def _is_kernels(part: Part) -> bool:
    """Whether the kernel knows a processor. Where the firmware tells of more, those of either are told apart
    and not paired: one that runs is then there twice, and counts once."""
    return part.place.startswith("socket:")


def _that_run(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    """Return the processors that the kernel runs, where it tells of any: firmware has a structure for each
    core, or for a socket that is empty, and none of these stands for a processor that was sold."""
    return tuple(part for part in parts if _is_kernels(part)) or parts


def _threads_of(parts: Iterable[Part]) -> int | None:
    """Return the threads of all parts together; None where there is none, or one does not say."""
    counts = [part.number("threads") for part in parts]
    known = [int(count) for count in counts if count is not None]
    return sum(known) if known and len(known) == len(counts) else None


def _numbers(text: str) -> frozenset[int]:
    """Return the numbers of a kernel list (`0-3,8`)."""
    found: set[int] = set()
    for span in text.split(","):
        first, _, last = span.strip().partition("-")
        if first.isdecimal() and (last.isdecimal() or not last):
            found.update(range(int(first), min(int(last or first), int(first) + 65_536) + 1))
    return frozenset(found)


MATCHER = PieceMatcher(
    Category.PROCESSOR,
    PartKind.PROCESSOR,
    judges={Aspect.MODEL: judge_model, Aspect.MAKER: judge_maker},
    besides=judge_cores,
    judged_besides=frozenset({Aspect.CORES}),
    there=_that_run,
)
