"""Checking an order before anything is unpacked: what it asks for, what is open, and what fits."""

from __future__ import annotations

from pathlib import Path

from shipworthy.jobs.catalogue import held_against
from shipworthy.messages import sentence
from shipworthy.model.base import Value, values
from shipworthy.model.fit import FitQuestion, OrderCheck
from shipworthy.orders.expect import questions_of, with_expectations
from shipworthy.orders.files import read_order
from shipworthy.orders.fit import check_fit


def check_order(path: Path, catalogue: Path | None = None) -> OrderCheck:
    """Return what the order in a file asks for, the questions that it leaves, and whether its parts fit.

    catalogue: a part list; without one the facts are those that the texts state.
    """
    order = with_expectations(read_order(path))
    looked_up = held_against(order, catalogue)
    parts = {line.line: line.part for line in looked_up.used.lines} if looked_up else {}
    fit = check_fit(order, lambda line: parts.get(line.line_id))
    questions = [FitQuestion(code=q.code, line=q.line, values=q.values) for q in questions_of(order)]
    if looked_up:
        used = looked_up.used.questions
        questions += [FitQuestion(code=q.code, line=q.line, values=q.values) for q in used]
    return OrderCheck(
        order=looked_up.order if looked_up else order,
        questions=(*questions, *fit.questions),
        fit=fit,
        list_name=looked_up.used.list_name if looked_up else "",
        credits=looked_up.used.credits if looked_up else (),
    )


def told(given: tuple[Value, ...], line: str = "") -> tuple[Value, ...]:
    """Return the values of a finding or a question as its sentence takes them: a fact's name in words.

    line: the order line, for a sentence that names it.
    """
    named = [Value(name="fact", value=fact_words(str(v.value))) if v.name == "fact" else v for v in given]
    return (*named, *(values(line=line) if line and all(v.name != "line" for v in given) else ()))


def fact_words(fact: str) -> str:
    """Return the name of a fact in words: `its rating` for `power-supply.watts`."""
    return sentence(f"fit.fact.{fact.replace('_', '-').replace(' ', '-')}").say
