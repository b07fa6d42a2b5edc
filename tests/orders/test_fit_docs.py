"""The page of the rules says what the rules are, and every code that a rule can give has a sentence."""

from __future__ import annotations

import ast
import string
from pathlib import Path
from typing import Any

import msgspec

from shipworthy.messages import known_codes, sentence
from shipworthy.model.catalogue import FACTS_OF
from shipworthy.model.fit import FitWeight
from shipworthy.orders.fit import fit_of
from shipworthy.orders.fit.build import Build
from shipworthy.orders.fit.rules import Rule
from shipworthy.orders.fit.runner import rules
from tests.orders.fitting import OPEN, build, line
from tests.orders.test_fit_rules import EXAMPLES

ROOT = Path(__file__).resolve().parent.parent.parent
PAGE = ROOT / "docs" / "reference" / "fit.md"
FIT = ROOT / "src" / "shipworthy" / "orders" / "fit"
WEIGHTS = {FitWeight.MUST: "does not fit", FitWeight.SHOULD: "warning"}


def blanked(of: Build) -> list[Build]:
    """Return the build once for each fact, without it; and once without any."""
    found = [without_facts(of)]
    for position, one in enumerate(of.lines):
        if one.facts is None:
            continue
        for name in one.facts.__struct_fields__:
            blank = msgspec.structs.replace(one.facts, **{name: getattr(type(one.facts)(), name)})
            lines = list(of.lines)
            lines[position] = msgspec.structs.replace(one, facts=blank)
            found.append(Build(tuple(lines)))
    return found


def without_facts(of: Build) -> Build:
    return Build(
        tuple(line(o.line, o.category, o.text, type(o.facts)(), o.quantity) for o in of.lines if o.facts)
    )


def facts_of(rule: Rule, builds: list[Build]) -> list[str]:
    """Return the facts without which a rule cannot tell."""
    missing = {m.fact for of in builds for f in rule.check(rule, of) if f.outcome is OPEN for m in f.missing}
    return sorted(missing)


def rows() -> list[str]:
    """Return the rows of the page's table, as the rules are."""
    seen: list[tuple[str, Any, Any]] = []
    for name, _, changes, with_lines in EXAMPLES:
        seen.append((name, changes, with_lines))
    found = []
    for rule in rules():
        of_rule = [build(changes, **lines) for name, changes, lines in seen if name == rule.name]
        facts = facts_of(rule, [*of_rule, *(b for of in of_rule for b in blanked(of))])
        told = ", ".join(f"`{fact}`" for fact in facts) or "none"
        asks = sentence(f"fit.{rule.name}.asks").say
        found.append(f"| `{rule.name}` | {asks} | {WEIGHTS[rule.weight]} | {told} | {rule.source} |")
    return found


def test_the_page_has_a_row_for_each_rule_as_it_is() -> None:
    told = [
        row for row in PAGE.read_text("utf-8").splitlines() if row.startswith("| `") and row.count("|") == 6
    ]
    assert told == rows()


def test_every_rule_names_its_source() -> None:
    for rule in rules():
        assert len(rule.source) > 15, rule.name
        assert all(word not in rule.source for word in ("TODO", "?")), rule.name


def test_every_fact_has_words_and_no_other() -> None:
    """Any of them can be missing, in doubt, or both; what M.2 places switch off is a fact of the places."""
    kinds = dict.fromkeys(FACTS_OF.values())
    wanted = {
        f"fit.fact.{str(kind.__struct_config__.tag).replace(' ', '-')}.{name.replace('_', '-')}"
        for kind in kinds
        for name in kind.__struct_fields__
    }
    assert {c for c in known_codes() if c.startswith("fit.fact.")} == wanted | SUMS


SUMS = {"fit.fact.board.m2-shares-with", "fit.fact.memory.total-bytes", "fit.fact.fan.pieces"}


def endings() -> set[tuple[str, str]]:
    """Return the endings of codes that stand in the rules' modules, with the name of the module."""
    found = set()
    for file in FIT.glob("*.py"):
        for call in ast.walk(ast.parse(file.read_text("utf-8"))):
            if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute) and call.args):
                continue
            for node in ast.walk(call.args[0]) if call.func.attr in ("differs", "cannot_tell") else ():
                if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
                    found.add((file.stem, node.value))
    return found


def test_every_ending_of_a_code_has_a_sentence_and_every_sentence_an_ending() -> None:
    modules = {rule.check.__module__.rsplit(".", 1)[1]: set[str]() for rule in rules()}
    for rule in rules():
        module = rule.check.__module__.rsplit(".", 1)[1]
        modules[module] |= {c.rsplit(".", 1)[1] for c in known_codes() if c.startswith(f"fit.{rule.name}.")}
    for module, ending in endings():
        assert ending in modules[module], (module, ending)
    used = endings() | {(module, word) for module in modules for word in ("asks", "differs")}
    left = {(module, ending) for module, known in modules.items() for ending in known} - used
    assert left == set()


def test_what_a_rule_finds_fills_its_sentence() -> None:
    """No name of a value stays in braces, in any finding of any example."""
    seen = set()
    for _, _, changes, with_lines in EXAMPLES:
        for finding in fit_of(build(changes, **with_lines)).findings:
            if finding.code in ("fit.conforms", "fit.cannot-tell", "fit.not-checked"):
                continue
            words = sentence(finding.code, finding.values)
            for text in (words.say, words.do):
                fields = [name for _, name, _, _ in string.Formatter().parse(text) if name]
                assert fields == [], (finding.code, text)
            assert finding.code in known_codes()
            seen.add(finding.code)
    assert len(seen) > 80
