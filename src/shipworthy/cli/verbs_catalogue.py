"""`catalogue`: the shop's own part list, and the words that its parts go by."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from shipworthy.cli import options

if TYPE_CHECKING:
    from shipworthy.model.catalogue import CataloguePart
    from shipworthy.orders.catalogue.report import ImportReport

MOST_SHOWN = 10

category = click.option("--category", help="Look among the parts of this category only.")
of_category = click.option("--category", help="The category, where words stand for parts of several.")
by = click.option("--by", metavar="NAME", required=True, help="Who says so.")


@click.command("import", short_help="Bring lists or records of parts into the list.")
@click.argument("sources", type=options.PATH, nargs=-1, required=True)
@click.option("--into", type=options.PATH, help="The list to bring them into (default: the shop's own).")
@click.option("--replace", is_flag=True, help="Replace parts that are there under the same id.")
@options.json
def import_lists(sources: tuple[Path, ...], into: Path | None, replace: bool, json: bool) -> None:
    """Bring part lists (TOML, CSV, JSON lines) or open part records into the shop's list.

    Says what came in, what was left out and why. Exit code 1 if a record is wrong, or there with other words.

    Example: shipworthy catalogue import parts.csv
    """
    from shipworthy.cli.show import as_json
    from shipworthy.jobs.catalogue import import_into

    target, report = import_into(into, sources, replace=replace)
    if json:
        as_json(report)
    else:
        _say_report(report, target)
    raise SystemExit(1 if report.faults or report.kept else 0)


@click.command("find")
@click.argument("words", nargs=-1, required=True)
@category
@options.catalogue
@options.json
def find(words: tuple[str, ...], category: str | None, catalogue: Path | None, json: bool) -> None:
    """Look up a part number, a GTIN or a name. Exit code 1 unless one part is found beyond doubt.

    Example: shipworthy catalogue find Fennec Quiet 16GB DDR5-6000
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.catalogue import category_of, the_catalogue
    from shipworthy.jobs.catalogue import find as look_up
    from shipworthy.model.catalogue_used import Decided

    opened, _ = the_catalogue(catalogue)
    found = look_up(opened, " ".join(words), category_of(category))
    if json:
        as_json(found)
    else:
        heads = {
            Decided.ONE: f"By its {found.by.value} it is this part:",
            Decided.SEVERAL: f"By its {found.by.value} it may be, and more has to be said to tell:",
            Decided.NONE: "No part of the list. The nearest, which are others:",
        }
        say(heads[found.decided] if found.candidates else "No part of the list.")
        for candidate in found.candidates[:MOST_SHOWN]:
            say(f"  {_row(candidate.part)}")
    raise SystemExit(0 if found.decided is Decided.ONE else 1)


@click.command("show", short_help="Show all that the list knows of a part.")
@click.argument("part_id")
@options.catalogue
@options.json
def show(part_id: str, catalogue: Path | None, json: bool) -> None:
    """Show all that the list knows of a part, what it does not know, and the words that it goes by.

    Example: shipworthy catalogue show fennec-quiet-16
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.jobs.catalogue import aliases_beside, the_catalogue, the_part

    opened, path = the_catalogue(catalogue)
    part = the_part(opened, part_id)
    if json:
        as_json(part)
        return
    say(_row(part))
    rows = [("also named", "; ".join(part.names)), ("series", part.series), ("GTIN", ", ".join(part.gtins))]
    for name, text in (*rows, ("from", part.source)):
        if text:
            say(f"  {name}: {text}")
    for line in _facts(part):
        say(f"  {line}")
    for alias in aliases_beside(path):
        if alias.part_id == part.part_id and not alias.undone_by:
            state = f"reviewed by {alias.reviewed_by}" if alias.reviewed_by else "waits for a review"
            say(f'  goes by "{alias.said}" ({alias.by}; {state})')


@click.command("learn")
@click.argument("part_id")
@click.argument("words", nargs=-1, required=True)
@by
@click.option("--why", default="", help="From which order or unit it is known.")
@options.catalogue
def learn(part_id: str, words: tuple[str, ...], by: str, why: str, catalogue: Path | None) -> None:
    """Note words that a part goes by. They are used once somebody has reviewed them.

    Example: shipworthy catalogue learn fennec-quiet-16 "Fennec gaming kit, quiet" --by "Odile Marsh"
    """
    from shipworthy.cli.show import say
    from shipworthy.jobs.catalogue_words import learn as note
    from shipworthy.model.time import SystemClock

    taught = note(catalogue, part_id, " ".join(words), by=by, why=why, clock=SystemClock())
    say(
        f'"{taught.alias.said}" will stand for {part_id} when it is reviewed (`shipworthy catalogue review`).'
    )


@click.command("learn-from", short_help="Note the words of a record's accepted parts.")
@click.argument("record", type=options.PATH)
@by
@options.catalogue
def learn_from(record: Path, by: str, catalogue: Path | None) -> None:
    """Note the words of a record's accepted parts that the list would not find them by. Then review them.

    Example: shipworthy catalogue learn-from records/KD-0412-1/attempt-001 --by "Odile Marsh"
    """
    from shipworthy.cli.show import say
    from shipworthy.jobs.catalogue_words import learn_from as note
    from shipworthy.model.time import SystemClock

    learnt = note(catalogue, record, by=by, clock=SystemClock())
    for one in learnt.changed:
        say(f'"{one.alias.said}" for {one.alias.part_id} ({one.alias.why})')
    for refused in learnt.refused:
        say(f"not taken: {refused}")
    say(f"{len(learnt.changed)} noted. They are used once `shipworthy catalogue review` has accepted them.")


@click.command("review")
@click.argument("words", nargs=-1)
@click.option("--by", metavar="NAME", help="Who accepts it.")
@of_category
@options.catalogue
def review(words: tuple[str, ...], by: str | None, category: str | None, catalogue: Path | None) -> None:
    """Accept noted words; without words, list those that wait. Exit code 1 if some wait.

    Example: shipworthy catalogue review "Fennec gaming kit, quiet" --by "Tomas Reed"
    """
    from shipworthy.cli.show import say
    from shipworthy.jobs.catalogue import aliases_beside, category_of, the_catalogue
    from shipworthy.jobs.catalogue_words import review as accept
    from shipworthy.model.time import SystemClock
    from shipworthy.orders.catalogue.aliases import waiting

    if words:
        if not by:
            raise click.UsageError("Say who accepts it with --by.")
        taught = accept(
            catalogue, " ".join(words), by=by, clock=SystemClock(), category=category_of(category)
        )
        say(f'"{taught.alias.said}" stands for {taught.alias.part_id} from now on.')
        return
    wanted = category_of(category)
    open_ones = [
        alias
        for alias in waiting(aliases_beside(the_catalogue(catalogue)[1]))
        if wanted in (None, alias.category)
    ]
    for alias in open_ones:
        why = f" ({alias.why})" if alias.why else ""
        part = f"{alias.category.value} {alias.part_id}"
        say(f'"{alias.said}" for {part}, by {alias.by}, {alias.at.utc:%Y-%m-%d}{why}')
    if open_ones:
        say('  -> `shipworthy catalogue review "WORDS" --by NAME` accepts words, `undo` takes them back.')
    else:
        say("No words wait for a review.")
    raise SystemExit(1 if open_ones else 0)


@click.command("undo")
@click.argument("words", nargs=-1, required=True)
@by
@of_category
@options.catalogue
def undo(words: tuple[str, ...], by: str, category: str | None, catalogue: Path | None) -> None:
    """Take noted words back. Who learnt and who undid them stays on file.

    Example: shipworthy catalogue undo "Fennec gaming kit, quiet" --by "Tomas Reed"
    """
    from shipworthy.cli.show import say
    from shipworthy.jobs.catalogue import category_of
    from shipworthy.jobs.catalogue_words import undo as take_back
    from shipworthy.model.time import SystemClock

    taught = take_back(catalogue, " ".join(words), by=by, clock=SystemClock(), category=category_of(category))
    say(f'"{taught.alias.said}" no longer stands for {taught.alias.part_id}.')


def _row(part: CataloguePart) -> str:
    maker = "" if part.name.casefold().startswith(part.maker.casefold()) else f"{part.maker} "
    numbers = f"  [{', '.join(part.part_numbers)}]" if part.part_numbers else ""
    return f"{part.part_id}  {part.category.value}: {maker}{part.name}{numbers}"


def _facts(part: CataloguePart) -> list[str]:
    import msgspec

    if part.facts is None:
        return ["no facts"]
    told = msgspec.to_builtins(part.facts)
    known = [f"{n}: {_fact(n, v, part)}" for n, v in told.items() if _is_known(v) and n != "kind"]
    unknown = [name for name, value in told.items() if not _is_known(value)]
    return known + ([f"not known: {', '.join(unknown)}"] if unknown else [])


def _fact(name: str, value: object, part: CataloguePart) -> str:
    from shipworthy.messages import quantity_text
    from shipworthy.model.words import Category, Unit

    if name.endswith("_bytes") and isinstance(value, int):
        return quantity_text(value, Unit.BYTES, binary=part.category is not Category.STORAGE)
    return _text(value)


def _is_known(value: object) -> bool:
    return value is not None and value != "" and value != [] and value != ()


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return " ".join(_text(item) for item in value.values() if _is_known(item))
    if isinstance(value, list | tuple):
        return ", ".join(map(_text, value))
    return str(value)


def _say_report(report: ImportReport, target: Path) -> None:
    from shipworthy.cli.show import say, table, wrapped

    say(
        f"Records read: {report.records:,}. {report.new:,} new, {report.replaced:,} replaced, "
        f"{report.same:,} the same as before. The list is {target}."
    )
    rows = []
    for count in report.categories:
        facts = [f"{fact.name} {fact.count:,}" for fact in count.facts if fact.count]
        rows.append((count.category.value, f"{count.parts:,}", ", ".join(facts) or "no facts"))
    if rows:
        table(("category", "parts", "facts, and how many tell them"), rows)
    left_out = [f"{fault.where}: {fault.what}" for fault in report.faults]
    left_out += [f"{twin.part_id} {twin.why} as {twin.of}" for twin in report.twins if twin.left_out]
    left_out += [
        f"{part_id} is there already with other words; --replace takes the new" for part_id in report.kept
    ]
    alike = [f"{twin.part_id}: {twin.of} {twin.why}" for twin in report.twins if not twin.left_out]
    noted = [
        f"{note.count:,} x {note.category.value} {note.name}: {note.why}"
        + (f" ({note.example})" if note.example else "")
        for note in report.not_understood
    ]
    for title, lines in (
        ("left out", left_out),
        ("cannot be told apart by what they share", alike),
        ("values that became no fact", noted),
    ):
        if lines:
            say(f"{len(lines):,} {title}:")
            for line in lines[:MOST_SHOWN]:
                wrapped(f"  {line}", 4)
            if len(lines) > MOST_SHOWN:
                say(f"  … and {len(lines) - MOST_SHOWN:,} more; --json has them all.")
    for credit in report.credits:
        wrapped(credit)
