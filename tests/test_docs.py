"""The documents say what is there: every verb, option, source, load, file and code, and no other."""

from __future__ import annotations

import ast
import importlib.util
import re
import shlex
import string
import sys
import tomllib
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from shipworthy.cli.main import app
from shipworthy.inspection.items import items_for
from shipworthy.machine.join import FIELDS, PRECEDENCE
from shipworthy.machine.kinds import KINDS
from shipworthy.machine.sources import SOURCES
from shipworthy.messages import known_codes
from shipworthy.model.orders import Expectation, Order, OrderLine
from shipworthy.model.plan import LoadRequest, Plan
from shipworthy.model.policy import CoverageState, Policy
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, Aspect, Category, EvidenceKind, PartKind, RemarkKind
from shipworthy.record import layout
from shipworthy.record.faults import FaultKind
from shipworthy.stress.plans import shipped_names
from shipworthy.stress.registry import find_load, registered_names
from shipworthy.verdict.policies import parse_policy, shipped_policy
from tests.machine.recorded import build

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "shipworthy"
REFERENCE = ROOT / "docs" / "reference"
MESSAGES = resources.files("shipworthy.messages") / "en"
DOCUMENTS = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


def tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def page(name: str) -> str:
    return (REFERENCE / f"{name}.md").read_text("utf-8")


def sections(text: str) -> dict[str, str]:
    """Return the second-level sections of a document by their heading."""
    parts = re.split(r"^## (.+)$", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def named(text: str) -> set[str]:
    """Return what stands between backticks."""
    return set(re.findall(r"`([^`\n]+)`", text))


def verbs(command: Any = None, path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield every verb of the command line that does something, by its words."""
    command = command or app
    inner = getattr(command, "commands", {})
    for name, one in inner.items():
        yield from verbs(one, f"{path} {name}".strip())
    if not inner:
        yield path, command


VERBS = dict(verbs())


def options(command: Any) -> set[str]:
    return {o for p in command.params if p.param_type_name == "option" for o in p.opts} - {"--help"}


# The command line


def test_every_verb_has_a_section_and_every_section_is_a_verb() -> None:
    assert set(sections(page("commands"))) - {"Common to all"} == set(VERBS)


@pytest.mark.parametrize("verb", VERBS)
def test_a_verbs_section_names_its_options_and_no_others(verb: str) -> None:
    section = sections(page("commands"))[verb]
    rows = [line for line in section.splitlines() if line.startswith("| `-")]
    told = {word.split()[0] for row in rows for word in named(row.split("|")[1])}
    assert told == options(VERBS[verb])


@pytest.mark.parametrize("verb", VERBS)
def test_a_verbs_help_shows_an_example_of_that_verb(verb: str) -> None:
    assert f"Example: shipworthy {verb}" in VERBS[verb].help


def commands_in(document: Path) -> Iterator[str]:
    for block in re.findall(r"^ *```sh\n(.*?)^ *```", document.read_text("utf-8"), re.MULTILINE | re.DOTALL):
        for line in block.splitlines():
            if re.match(r" *(sudo )?shipworthy ", line):
                yield line.strip().removeprefix("sudo ").split(" > ")[0].split(" < ")[0]


EXAMPLES = [(d.relative_to(ROOT).as_posix(), line) for d in DOCUMENTS for line in commands_in(d)]


@pytest.mark.parametrize(("document", "line"), EXAMPLES)
def test_every_example_command_is_one_that_the_tool_takes(document: str, line: str) -> None:
    words = shlex.split(line, comments=True)[1:]
    command: Any = app
    while inner := getattr(command, "commands", {}):
        assert words and words[0] in inner, f"{document}: {line}"
        command, words = inner[words[0]], words[1:]
    command.make_context(line, list(words))  # raises a usage error for anything that does not fit


def test_the_documents_hold_examples_at_all() -> None:
    assert len(EXAMPLES) > 30


# Sources, facts, loads


def first_cells(section: str) -> list[str]:
    rows = [line for line in section.splitlines() if line.startswith("| `")]
    return [cell for row in rows for cell in named(row.split("|")[1])]


def cells(section: str) -> list[list[str]]:
    """Return the cells of each row of a table whose first cell is between backticks."""
    rows = [line for line in section.splitlines() if line.startswith("| `")]
    return [[cell.strip() for cell in row.strip("|").split(" | ")] for row in rows]


def test_the_page_of_sources_has_a_row_for_each_in_their_order() -> None:
    table = page("sources").split("\n## ")[0]
    assert first_cells(table) == [source.name for source in SOURCES]


def test_the_page_of_sources_tells_all_of_each_with_its_platform_and_its_time_limit() -> None:
    rows = {row[0].strip("`"): row for row in cells(page("sources").split("\n## ")[0])}
    for source in SOURCES:
        row = rows[source.name]
        assert len(row) == 7, source.name
        assert all(row), source.name
        assert row[5] == source.platform.capitalize(), source.name
        assert row[6].rstrip(" |") == f"{source.limit_s:g} s", source.name


def test_the_page_of_sources_has_a_row_for_each_kind_of_file_and_says_which_tell_themselves() -> None:
    told = cells(sections(page("sources"))["Kinds of file"])
    assert [row[0].strip("`") for row in told] == [kind.name for kind in KINDS]
    assert [row[4] for row in told] == ["yes" if kind.recognises else "no" for kind in KINDS]


def test_the_page_of_sources_has_a_row_for_each_remark() -> None:
    told = sections(page("sources"))["What a decoder does with bad bytes"]
    assert first_cells(told) == [kind.value for kind in RemarkKind]


def test_every_remark_has_a_sentence() -> None:
    made = {f"reading.{kind.value.replace(' ', '-')}" for kind in RemarkKind}
    assert made - known_codes() == set()


def facts_by_kind() -> dict[str, str]:
    """Return the section of each kind of part on the page of facts."""
    parts = re.split(r"^### (.+)$", sections(page("facts"))["Facts by kind"], flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def orders(section: str) -> dict[str, list[str]]:
    """Return the sources, in their order, by what stands in the first cell of each row."""
    return {
        key.strip(): re.findall(r"`([^`]+)`", row.split("|")[2])
        for row in section.splitlines()
        if row.startswith("| ") and "`" in row
        for key in row.split("|")[1].split(",")
    }


def test_the_page_of_facts_tells_all_reasons_and_kinds() -> None:
    told = sections(page("facts"))
    assert set(first_cells(told["Why a value is absent"])) == {reason.value for reason in Absent}
    assert list(facts_by_kind()) == [kind.value for kind in PartKind]


def test_every_fact_has_a_unit_a_meaning_and_a_source() -> None:
    rows = [(kind, row) for kind, section in facts_by_kind().items() for row in cells(section)]
    assert len(rows) > 400
    assert [(kind, row[0]) for kind, row in rows if len(row) != 4 or not all(row)] == []


def test_the_page_of_facts_tells_who_is_believed() -> None:
    of_kinds, of_fields = sections(page("facts"))["Who is believed"].split("These fields have an order")
    assert {kind.value: list(order) for kind, (_, order) in PRECEDENCE.items()} == orders(of_kinds)
    rules = {rule for rule, _ in (*PRECEDENCE.values(), *FIELDS.values())}
    assert {rule for rule in rules if f"| {rule} |" not in page("facts")} == set()
    found = {}
    for row in (line for line in of_fields.splitlines() if line.startswith("| ") and "`" in line):
        kind, names = row.split("|")[1].split(":")
        found |= {(kind.strip(), name): re.findall(r"`([^`]+)`", row.split("|")[2]) for name in named(names)}
    assert {(kind.value, name): list(order) for (kind, name), (_, order) in FIELDS.items()} == found


def test_every_source_that_is_believed_or_told_of_is_one_and_each_tells_some_fact() -> None:
    known = {source.name for source in SOURCES} | {kind.name for kind in KINDS}
    believed = {name for _, order in (*PRECEDENCE.values(), *FIELDS.values()) for name in order}
    told = {
        name
        for section in facts_by_kind().values()
        for row in cells(section)
        for name in named(row[-1].rstrip(" |"))
    }
    assert {name for name in believed | told if name.split(".", 1)[0] not in known} == set()
    tells = {source.name for source in SOURCES} | {kind.name for kind in KINDS if kind.suffix != "bin"}
    assert tells - told == set()


def facts_written_in_parsers() -> set[str]:
    """Return the names of facts that stand as literals in `said("name", …)` calls of the parsers."""
    found = set()
    for file in (SOURCE / "machine" / "parse").rglob("*.py"):
        for call in calls(file):
            if called(call) == "said" and call.args and isinstance(call.args[0], ast.Constant):
                found.add(str(call.args[0].value))
    return found


def test_every_fact_that_a_parser_writes_is_in_the_vocabulary() -> None:
    found = facts_written_in_parsers()
    assert len(found) > 300
    assert found - named(sections(page("facts"))["Facts by kind"]) == set()


def test_every_fact_of_a_whole_reading_is_in_the_table_of_its_kind(tmp_path: Path) -> None:
    """Names that are made at run time too, and each under its own kind; those of channels by pattern."""
    from shipworthy.machine.reading import take_reading
    from shipworthy.machine.root import Root
    from shipworthy.model.time import PretendClock

    build(tmp_path)
    reading = take_reading(Root(tmp_path), lambda name, data: None, nonce=None, clock=PretendClock())
    tables = {kind: named(section) for kind, section in facts_by_kind().items()}
    for kind in ("graphics", "network", "sound"):
        tables[kind] |= tables["pci device"]
    channel = re.compile(r"^(temp|fan|in|power|curr)[0-9]*_")
    found = {(part.kind.value, fact.name) for part in reading.parts for fact in part.facts}
    written = {(k, channel.sub("<channel>_", name) if k == "sensor chip" else name) for k, name in found}
    missing = {(kind, name) for kind, name in written if name not in tables[kind]}
    assert len(reading.parts) > 20
    assert missing == set()


def test_the_page_of_loads_has_a_section_for_each() -> None:
    assert set(registered_names()) <= set(sections(page("loads")))


def test_the_numbers_on_the_page_of_loads_are_those_of_the_code() -> None:
    from shipworthy.stress.loads import marching, matrix, storage

    told = sections(page("loads"))
    assert f"at most {matrix.BOUND_FACTOR:g}·ε·n^1.5" in told["matrix"]
    assert f"default {matrix.DEFAULT_SIZE})" in told["matrix"]
    assert f"for {matrix.VECTORS} random vectors" in told["matrix"]
    assert f"at most once in {2**matrix.VECTORS}" in told["matrix"]
    assert f"with {len(marching.backgrounds())} data backgrounds" in told["march"]
    assert f"At most {storage.FILE_MOST_BYTES >> 30} GiB" in told["storage"]
    plan = (ROOT / "docs" / "how-to" / "write-a-plan.md").read_text("utf-8")
    assert f"{matrix.SIZE_LEAST} to {matrix.SIZE_MOST}; {matrix.DEFAULT_SIZE}" in plan


def test_the_page_of_loads_says_in_its_own_words_what_slips_through() -> None:
    """Each load's own account of what it cannot see has its share of words on the page."""
    for name in registered_names():
        account = find_load(name).load.about.slips_through
        words = set(re.findall(r"[a-z]{5,}", account.lower()))
        told = set(re.findall(r"[a-z]{5,}", sections(page("loads"))[name].lower()))
        assert len(words & told) > 0.6 * len(words), (name, words - told)


def test_the_pages_on_plans_name_every_key_and_every_plan_is_named_somewhere() -> None:
    text = (ROOT / "docs" / "how-to" / "write-a-plan.md").read_text("utf-8")
    keys = {*Plan.__struct_fields__, *LoadRequest.__struct_fields__} - {"schema"}
    assert {key for key in keys if key not in text} == set()
    assert {name for name in shipped_names() if not name.startswith("demo") and name not in text} == set()


def test_the_pages_of_order_and_policy_name_every_key_and_category() -> None:
    order, policy = page("order"), page("policy")
    for kind in (Order, OrderLine, Expectation):
        assert {field for field in kind.__struct_fields__ if f"`{field}`" not in order} == set()
    assert {c.value for c in Category if c is not Category.UNIT and f"`{c.value}`" not in order} == set()
    assert {field for field in Policy.__struct_fields__ if f"`{field}`" not in policy} == set()


def test_the_policy_page_names_every_quantity_that_the_shipped_policy_limits() -> None:
    limits = parse_policy(shipped_policy(), "shipped").limits
    assert {limit.quantity for limit in limits} <= named(page("policy"))


def test_the_order_and_answers_in_the_pages_are_read_as_what_they_are(tmp_path: Path) -> None:
    from shipworthy.inspection import read_answers
    from shipworthy.orders.files import read_order

    blocks = re.findall(r"^```toml\n(.*?)^```", page("order"), re.MULTILINE | re.DOTALL)
    (tmp_path / "order.toml").write_text(blocks[0], "utf-8")
    assert read_order(tmp_path / "order.toml").order_id == "KD-0412"
    blocks = re.findall(r"^```toml\n(.*?)^```", page("inspection"), re.MULTILINE | re.DOTALL)
    (tmp_path / "answers.toml").write_text(blocks[0], "utf-8")
    assert read_answers(tmp_path / "answers.toml").by == "Odile Marsh"


def test_the_plan_in_the_pages_can_be_run(tmp_path: Path) -> None:
    from shipworthy.stress.plans import check_plan, read_plan

    text = (ROOT / "docs" / "how-to" / "write-a-plan.md").read_text("utf-8")
    blocks = re.findall(r"^```toml\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    (tmp_path / "plan.toml").write_text(blocks[0], "utf-8")
    check_plan(read_plan(tmp_path / "plan.toml"))


# The record

_STORED = re.compile(r"(?:[a-z-]+/)*[a-z-]+\.(?:json|jsonl|toml|jws|html|pdf)")


def stored_names() -> set[str]:
    """Return the file names that the rooms which write records and packs have as literals."""
    found = {layout.BAGIT, layout.INFO, layout.MANIFEST, layout.TAG_MANIFEST, layout.SEAL}
    files = [
        *(SOURCE / "jobs").glob("*.py"),
        SOURCE / "record" / "layout.py",
        SOURCE / "handover" / "pack.py",
    ]
    files += [SOURCE / "machine" / "reading.py"]
    for file in files:
        if file.name == "demo.py":  # names its own order and answers
            continue
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                name = node.value.lstrip("/").removeprefix("data/")
                if _STORED.fullmatch(name):
                    found.add(name)
    return found


def test_every_file_of_record_and_pack_is_on_the_page() -> None:
    text = page("record")
    found = stored_names()
    assert {"attempt.json", "comparison.json", "inspection/items.json", "pack.jws"} <= found
    assert {name for name in found if name not in text} == set()


def test_every_kind_of_fault_is_on_the_page() -> None:
    told = sections(page("record"))["What verify can find"]
    assert {kind.value for kind in FaultKind if kind.value not in told} == set()


def test_every_schema_is_linked_from_the_page_of_the_record() -> None:
    text = page("record")
    assert {p.name for p in (ROOT / "schemas").glob("*.json") if p.name not in text} == {
        "answers.schema.json"
    }
    assert "answers.schema.json" in page("inspection")


# Codes and sentences

_CODE = re.compile(r"[a-z][a-z-]*(\.[a-z0-9]+(-[a-z0-9]+)*)+")
_PHRASE = re.compile(r"[a-z][a-z-]*(\.[a-z-]*[a-z])*")
_TAKES_A_CODE = frozenset(
    {
        "_finding",
        "progress",
        "Progress",
        "Complaint",
        "Skipped",
        "sentence",
        "event",
        "_say",
        "Said",
        "Note",
        "give_up",
    }
)


def calls(file: Path) -> Iterator[ast.Call]:
    return (n for n in ast.walk(ast.parse(file.read_text("utf-8"))) if isinstance(n, ast.Call))


def called(call: ast.Call) -> str:
    function = call.func
    if isinstance(function, ast.Attribute):
        return function.attr
    return function.id if isinstance(function, ast.Name) else ""


def choices(node: ast.expr) -> Iterator[ast.expr]:
    """Yield what an expression can be: itself, or each side of a choice."""
    if isinstance(node, ast.IfExp):
        yield from choices(node.body)
        yield from choices(node.orelse)
    else:
        yield node


def code_literals() -> Iterator[tuple[str, str]]:
    """Yield (file, code) for every literal that is handed on as a code: by keyword, or as first argument."""
    for file in sorted(SOURCE.rglob("*.py")):
        for call in calls(file):
            places = [k.value for k in call.keywords if k.arg in ("code", "ask", "caution")]
            if called(call) in _TAKES_A_CODE and call.args:
                places.append(call.args[0])
            for place in places:
                for node in ast.walk(place):
                    value = node.value if isinstance(node, ast.Constant) else None
                    if isinstance(value, str) and _CODE.fullmatch(value):
                        yield file.relative_to(ROOT).as_posix(), value


def test_every_code_in_the_source_has_a_sentence() -> None:
    found = set(code_literals())
    assert len(found) > 60
    assert {(file, code) for file, code in found if code not in known_codes()} == set()


def phrases_said(folder: str) -> set[str]:
    """Return what the files of a folder say by `say`, whose codes have the folder's last name before them."""
    return {
        f"{folder.rpartition('/')[2]}.{node.value}"
        for file in (SOURCE / folder).glob("*.py")
        for call in calls(file)
        if called(call) == "say" and call.args
        for node in choices(call.args[0])
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and _PHRASE.fullmatch(node.value)
    }


@pytest.mark.parametrize(("folder", "least"), [("handover", 60), ("orders/sheet", 30)])
def test_every_phrase_of_a_page_has_a_sentence(folder: str, least: int) -> None:
    found = phrases_said(folder)
    assert len(found) > least
    assert found - known_codes() == set()


def test_every_code_that_is_made_of_a_word_has_a_sentence() -> None:
    made = {
        f"doctor.source-{outcome.value}" for outcome in SourceOutcome if outcome is not SourceOutcome.READ
    }
    made |= {f"record.fault.{kind.value.replace(' ', '-')}" for kind in FaultKind}
    open_states = (CoverageState.CANNOT_TELL, CoverageState.NOT_CHECKED, CoverageState.STALE)
    made |= {f"coverage.{state.value.replace(' ', '-')}" for state in open_states}
    assert made - known_codes() == set()


def test_every_item_that_the_shipped_policy_can_ask_has_a_question() -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    lines = {
        category: OrderLine(line_id=category.value.replace(" ", "-"), category=category, text="one of these")
        for category in Category
        if category is not Category.UNIT
    }
    order = Order(order_id="O-1", shop="S", units=("U-1",), lines=tuple(lines.values()))
    keys = [
        (
            "" if rule.category is Category.UNIT else lines[rule.category].line_id,
            rule.category,
            rule.aspect,
            rule.by,
        )
        for rule in policy.coverage
        if EvidenceKind.INSPECTION in rule.by
    ]
    asked = items_for(order, keys, ())
    assert len(asked.items) == len(keys) > 30
    assert {item.ask for item in asked.items} - known_codes() == set()
    assert {item.caution for item in asked.items if item.caution} - known_codes() == set()


def test_every_expectation_that_an_order_can_give_has_a_question() -> None:
    of_the_unit_or_of_runs = {
        *(Aspect.NEWNESS, Aspect.LOAD, Aspect.HEAT, Aspect.FANS, Aspect.PORTS),
        *(Aspect.CONFIGURATION, Aspect.IDENTITY, Aspect.ENDING, Aspect.HEALTH),
    }
    wanted = {f"inspect.{aspect.value.replace(' ', '-')}" for aspect in set(Aspect) - of_the_unit_or_of_runs}
    assert wanted - known_codes() == set()


def message_rows() -> Iterator[tuple[str, str, dict[str, str]]]:
    for file in sorted(MESSAGES.iterdir(), key=lambda entry: entry.name):
        for code, words in tomllib.loads(file.read_text("utf-8")).items():
            yield file.name, code, words


def test_every_code_says_something_in_plain_words() -> None:
    for file, code, words in message_rows():
        where = f"{file}: {code}"
        assert set(words) <= {"say", "do"}, where
        assert words.get("say", "").strip(), where
        for text in words.values():
            fields = [name for _, name, _, _ in string.Formatter().parse(text) if name is not None]
            assert all(name.isidentifier() for name in fields), where
            assert "\n" not in text, where


def test_every_room_with_codes_is_on_the_page_of_codes_but_the_words_of_pages() -> None:
    rooms = {file.removesuffix(".toml") for file, _, _ in message_rows()}
    assert rooms - {"handover", "sheet"} == set(tool("write_codes").ROOMS)


def test_the_page_of_codes_is_as_the_message_files_are() -> None:
    codes = tool("write_codes")
    assert page("codes") == codes.page(), "run python tools/write_codes.py"


def test_codes_that_the_shipped_policy_bars_exist() -> None:
    policy = parse_policy(shipped_policy(), "shipped")
    assert set(policy.never_conceded) <= known_codes()


# Links, and what must not be there


def test_every_relative_link_leads_somewhere() -> None:
    assert tool("check_links").faults() == []


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("[a](there.md)", ""),
        ("[a](there.md#a-heading-of-two-words)", ""),
        ("[a](#here)\n\n## Here", ""),
        ("![a](gone.png)", "there is no such file"),
        ("[a](there.md#gone)", "there is no such heading"),
        ("[a](#gone)", "there is no such heading"),
        ("[a][b]\n\n[b]: gone.md", "there is no such file"),
        ('<img src="gone.png">', "there is no such file"),
        ("[a](../../outside.md)", "leads out of the repository"),
        ("[a](/etc/passwd)", "an absolute path means another place on each machine"),
        ("`[a](gone.md)`", ""),
        ("```\n[a](gone.md)\n```", ""),
        ("[a](https://example.org/gone)", ""),
    ],
)
def test_the_link_checker_sees_each_fault_and_no_other(text: str, fault: str, tmp_path: Path) -> None:
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs" / "there.md").write_text("# There\n\n## A *heading* of two words\n")
    (tmp_path / "docs" / "page.md").write_text(text)
    found = tool("check_links").faults(tmp_path)
    assert [line.rsplit(": ", 1)[-1] for line in found] == ([fault] if fault else [])


def test_decisions_are_numbered_without_a_gap_and_each_tells_its_cost() -> None:
    files = sorted((ROOT / "docs" / "decisions").glob("[0-9]*.md"))
    assert [file.name[:4] for file in files] == [f"{n:04d}" for n in range(1, len(files) + 1)]
    for file in files:
        text = file.read_text("utf-8")
        assert re.match(rf"# {file.name[:4]} ", text), file.name
        assert list(sections(text)) == ["Context", "Decision", "Cost"], file.name
        assert file.name in (file.parent / "README.md").read_text("utf-8")


def test_every_decision_that_the_source_refers_to_is_there() -> None:
    there = {file.name[:4] for file in (ROOT / "docs" / "decisions").glob("[0-9]*.md")}
    cited = {
        number
        for file in SOURCE.rglob("*.py")
        for number in re.findall(r"ADR\s+(\d{4})", file.read_text("utf-8"))
    }
    assert len(cited) > 8
    assert cited <= there


def test_every_page_that_the_source_refers_to_is_there() -> None:
    cited = {
        name
        for file in SOURCE.rglob("*.py")
        for name in re.findall(r"docs/[a-z0-9/-]+\.md", file.read_text("utf-8"))
    }
    assert {name for name in cited if not (ROOT / name).is_file()} == set()


def test_the_version_of_the_changelog_is_the_tools() -> None:
    from shipworthy import __version__

    assert f"## {__version__}" in (ROOT / "CHANGELOG.md").read_text("utf-8")
    assert f'version = "{__version__}"' in (ROOT / "pyproject.toml").read_text("utf-8")
