"""The loads of a burn-in on a page: each rate beside its limit, what was checked, and the shares drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shipworthy.handover.kept import Kept
from shipworthy.handover.naming import maker_and_model, part_anywhere
from shipworthy.handover.phrases import say
from shipworthy.handover.view import Bar, Bars, Block, Pair, Plot, Prose, table
from shipworthy.messages import quantity_text
from shipworthy.model.runlog import LoadSummary
from shipworthy.model.words import Unit

_MOST_BARS = 12
_MOST_CORES = 3
"""Cores that have a row of their own; of more, those without a wrong result share one."""
_LETTERS = "ABCDEFGHIJKL"
_WRITTEN = "bytes written"
_BYTES = ("B", "byte", "bytes")
_WORDS = ((1e12, "trillion"), (1e9, "billion"), (1e6, "million"), (1e3, "thousand"))
_PREFIXES = ((1e12, "T"), (1e9, "G"), (1e6, "M"), (1e3, "k"))


@dataclass(frozen=True)
class _Row:
    """What stands in one row: a load on one target, or on many cores."""

    name: str
    loads: tuple[LoadSummary, ...]

    @property
    def unit_of_work(self) -> str:
        return self.loads[0].unit_of_work


def load_blocks(kept: Kept, loads: Sequence[LoadSummary]) -> Iterator[Block]:
    """Return the table of loads, what its shares mean, and the shares drawn; nothing if no load ran."""
    if not loads:
        return
    labels = ("load", "rate", "share", "checks", "wrong", "written")
    rows = tuple(_cells(row) for row in _rows(kept, loads))
    yield table(say("table.loads"), tuple(say(f"label.{label}") for label in labels), rows)
    if any(share_of(load) is not None for load in loads):
        yield Prose(say("loads.limit"))
    yield from _shares_drawn(kept, loads)


def load_name(kept: Kept, load: str, target: str) -> str:
    """Return a load with what it worked on, the maker's name of a drive before its place."""
    part = part_anywhere(kept, target)
    name = maker_and_model(part) if part else ""
    return say("load.on", load=load, target=say("brackets", what=name, text=target) if name else target)


def share_of(load: LoadSummary) -> float | None:
    """Return the rate as a share of its limit; None where one of them is not known."""
    return load.rate / load.limit if load.rate is not None and load.limit else None


def rates_text(rates: Sequence[float], unit_of_work: str) -> str:
    """Return rates in one unit, with what they count: bytes with a prefix, other work in words.

    `1.34 of 1.62 GB/s read and compared`; `13.4 of 20.6 billion floating-point operations a second`.
    """
    most = max(map(abs, rates))
    first, _, rest = unit_of_work.partition(" ")
    in_bytes = first in _BYTES
    factor, word = next(((f, w) for f, w in (_PREFIXES if in_bytes else _WORDS) if most >= f), (1.0, ""))
    amounts = f" {say('of')} ".join(_three_digits(rate / factor) for rate in rates)
    if in_bytes:
        return f"{amounts} {word}B/s {rest}".rstrip()
    return say(f"rate.{word or 'plain'}", amount=amounts, work=unit_of_work)


def _three_digits(number: float) -> str:
    return f"{number:,.0f}" if abs(number) >= 99.95 else f"{number:#.3g}"


def _rows(kept: Kept, loads: Sequence[LoadSummary]) -> Iterator[_Row]:
    """Yield the rows in the loads' order. A core with a wrong result always stands for itself."""
    alike: dict[tuple[str, str], list[LoadSummary]] = {}
    for load in loads:
        if load.target.startswith("cpu:") and not load.wrong:
            alike.setdefault((load.load, load.unit_of_work), []).append(load)
    many = {key: tuple(cores) for key, cores in alike.items() if len(cores) > _MOST_CORES}
    told = set[tuple[str, str]]()
    for load in loads:
        key = (load.load, load.unit_of_work)
        if load not in many.get(key, ()):
            yield _Row(load_name(kept, load.load, load.target), (load,))
        elif key not in told:
            told.add(key)
            yield _Row(say("load.on-cores", load=load.load, count=len(many[key])), many[key])


def _cells(row: _Row) -> tuple[str, ...]:
    checks, wrong, written = (
        sum(getattr(load, name) for load in row.loads) for name in ("checks", "wrong", "written_bytes")
    )
    only_written = row.unit_of_work == _WRITTEN and not checks and not wrong  # is checked as it is read
    return (
        row.name,
        _rate_beside_limit(row),
        _shares_text([share_of(load) for load in row.loads]),
        "" if only_written else quantity_text(checks, Unit.COUNT),
        "" if only_written else quantity_text(wrong, Unit.COUNT),
        quantity_text(written, Unit.BYTES) if written else "",
    )


def _rate_beside_limit(row: _Row) -> str:
    """Return the rate of all targets beside their limit; without it where one of them has none."""
    rates = [load.rate for load in row.loads if load.rate is not None]
    limits = [load.limit for load in row.loads if load.limit]
    if len(rates) < len(row.loads):
        return say("silent")
    both = [sum(rates)] if len(limits) < len(row.loads) else [sum(rates), sum(limits)]
    return rates_text(both, row.unit_of_work)


def _shares_text(shares: Sequence[float | None]) -> str:
    known = sorted(share for share in shares if share is not None)
    if not known or len(known) < len(shares):
        return ""
    lowest, highest = f"{known[0] * 100:.0f} %", f"{known[-1] * 100:.0f} %"
    return lowest if lowest == highest else say("share.range", lowest=lowest, highest=highest)


def _shares_drawn(kept: Kept, loads: Sequence[LoadSummary]) -> Iterator[Plot]:
    known = [(load, share) for load in loads if (share := share_of(load)) is not None]
    drawn = sorted(known, key=lambda pair: pair[1])[:_MOST_BARS] if len(known) > _MOST_BARS else known
    if not drawn:
        return
    kinds = {(load.load, load.target): 0 for load in loads}
    for load in loads:
        kinds[load.load, load.target] += 1
    named = [
        (letter, _bar_name(kept, load, kinds[load.load, load.target] > 1), _shares_text([share]), share)
        for letter, (load, share) in zip(_LETTERS, drawn, strict=False)
    ]
    told = " ".join(say("plot.bar", letter=a, label=name, share=share) for a, name, share, _ in named)
    yield Plot(
        name="rates",
        title=say("plot.rates"),
        description=told,
        key=tuple(Pair(a, say("colon", what=name, text=share)) for a, name, share, _ in named),
        notes=(say("plot.some-loads", drawn=len(drawn), all=len(known)),) if len(drawn) < len(known) else (),
        drawing=Bars(tuple(Bar(a, share) for a, _, _, share in named)),
    )


def _bar_name(kept: Kept, load: LoadSummary, several: bool) -> str:
    """Return a bar's name, with the kind of work where a load does several on that target."""
    name = load_name(kept, load.load, load.target)
    return say("load.kind", name=name, work=load.unit_of_work) if several else name
