"""From the text as sold to what must be true, and to what has to be asked: what is open stays open."""

from shipworthy.orders.expect.derive import (
    derived_expectations,
    line_with_expectations,
    with_expectations,
)
from shipworthy.orders.expect.questions import line_questions, questions_of

__all__ = [
    "derived_expectations",
    "line_questions",
    "line_with_expectations",
    "questions_of",
    "with_expectations",
]
