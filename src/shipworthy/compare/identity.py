"""Judging what names a part: maker, part number, PCI ids. Shared by the matchers."""

from __future__ import annotations

from shipworthy.compare.judgement import OF_LIKENESS, Judge, Judgement, cannot_tell, judged
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Aspect, Outcome
from shipworthy.words.counts import find_pci_ids
from shipworthy.words.likeness import best_of, code_likeness
from shipworthy.words.makers import is_known_maker, leading_maker, maker_key, without_maker


def judge_maker(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare makers. An unknown one is no difference; only two makers that we know can differ.

    Where no fact names the maker, the device's model often begins with its name.
    """
    want = maker_key(str(wish.want))
    said = part.text("maker")
    got = maker_key(said)
    model = part.text("model")
    if want and want in (got, maker_key(model)):
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, said if got == want else model)
    got = got if is_known_maker(got) else leading_maker(model)
    if got and is_known_maker(want) and is_known_maker(got):
        return judged(Outcome.DIFFERS, Aspect.MAKER, wish.want, said or model)
    if said:
        return judged(Outcome.CANNOT_TELL, Aspect.MAKER, wish.want, said, ending="unknown")
    return cannot_tell(wish, part.why_absent("maker"))


def judge_part_number_by(fact: str) -> Judge:
    """Return a judge of part numbers for parts that show theirs, if at all, in that fact.

    Of several numbers that a part goes by one is enough, and it is another part only if it is by all of them.
    """

    def judge(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
        said = part.text(fact)
        if not said:
            return cannot_tell(wish, part.why_absent(fact))
        outcome = OF_LIKENESS[best_of([code_likeness(str(want), said) for want in wish.wants])]
        ending = "not-shown" if outcome is Outcome.CANNOT_TELL else ""
        return judged(outcome, Aspect.PART_NUMBER, wish.want, said, ending=ending)

    return judge


def judge_ids(wish: Expectation, part: Part) -> Judgement | None:
    """Compare PCI ids, where the order gives the model as such (`8086:15f3`); None where it does not."""
    want = find_pci_ids(str(wish.want))
    if len(want) != 1 or want[0].words != str(wish.want).strip():
        return None
    got = ids_of(part)
    if not got:
        return cannot_tell(wish, part.why_absent("device_id"))
    same = got == f"{want[0].vendor}:{want[0].device}"
    return judged(Outcome.CONFORMS if same else Outcome.DIFFERS, Aspect.MODEL, wish.want, got)


def ids_of(part: Part) -> str:
    """Return a part's PCI ids as `8086:15f3`; empty if it has none."""
    vendor, device = part.text("vendor_id"), part.text("device_id")
    return f"{vendor.removeprefix('0x')}:{device.removeprefix('0x')}".lower() if vendor and device else ""


def bare(model: str, line: OrderLine, part: Part) -> str:
    """Return a model without the maker's name before it, the one sold or the one that the part gives."""
    return without_maker(model, line.maker, part.text("maker"))
