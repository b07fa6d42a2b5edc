"""What the text of a customisation, or of a case, says for the eye alone: colours, lettering, finish."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect
from shipworthy.orders.expect.said import Said
from shipworthy.words.customised import find_finishes, find_letterings, find_paint
from shipworthy.words.phrases import Word


def of_customisation(line: OrderLine) -> Iterator[Said]:
    """Yield lettering, colours and finishes; of several colours, all in their order are what was sold."""
    letterings = find_letterings(line.text)
    if letterings:
        words = [one.words for one in letterings]
        yield Said(Aspect.TEXT, " / ".join(words), " / ".join(words))
    yield from _all_of(Aspect.COLOUR, find_paint(line.text))
    yield from _all_of(Aspect.FINISH, find_finishes(line.text))


def of_case(line: OrderLine) -> Iterator[Said]:
    """Yield the colour of a case where it stands apart from its name: after a comma, in brackets, last."""
    text = line.text
    apart = [
        word
        for word in find_paint(text)
        if text[word.end :].strip(" )].;") == "" or text[: word.start].rstrip()[-1:] in tuple(",(/-")
    ]
    yield from _all_of(Aspect.COLOUR, apart)


def _all_of(aspect: Aspect, found: Sequence[Word]) -> Iterator[Said]:
    if found:
        meanings, words = (
            tuple(dict.fromkeys(v)) for v in ((w.meaning for w in found), (w.words for w in found))
        )
        yield Said(aspect, ", ".join(meanings), ", ".join(words))
