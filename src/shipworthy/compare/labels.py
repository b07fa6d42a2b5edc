"""A part number that no witness shows, of a part whose name is the one ordered: the label's to show.

Firmware tells the name of a board, and hardly ever the number under which its maker sells it. That is no
doubt about the part; nobody has looked yet.
"""

from __future__ import annotations

from dataclasses import replace

from shipworthy.compare.pieces import Verdicts
from shipworthy.model.words import Aspect, Outcome

_NOT_SHOWN = "part-number.not-shown"


def with_numbers_for_the_label(verdicts: Verdicts) -> Verdicts:
    """Return a line's judgements: a number not shown is *not checked* where the same part has the name."""
    named = {
        place
        for place, judgement in verdicts.judgements
        if judgement.aspect is Aspect.MODEL and judgement.outcome is Outcome.CONFORMS
    }
    return replace(
        verdicts,
        judgements=tuple(
            (place, replace(judgement, outcome=Outcome.NOT_CHECKED))
            if place in named and judgement.code == _NOT_SHOWN
            else (place, judgement)
            for place, judgement in verdicts.judgements
        ),
    )
