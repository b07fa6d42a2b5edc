"""Sources are asked side by side: one that hangs, raises or gives rubbish is named, and costs no other."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from importlib import metadata
from pathlib import Path

import pytest

from shipworthy.machine.asking import ask_all, sound_replies
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.reading import INDEX, reread, take_reading
from shipworthy.machine.root import Root
from shipworthy.machine.sources import Capture, Source
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Reading, SourceOutcome
from shipworthy.model.time import PretendClock
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.recorded import build
from tests.machine.test_machine_reading import Kept, row_of

NOWHERE = Root(Path("/no/such/machine"))
GENEROUS_S = 8.0


def nothing(replies: tuple[Reply, ...]) -> Parsed:
    del replies
    return Parsed()


def hangs(root: Root) -> list[Reply]:
    del root
    threading.Event().wait()
    return []


def telling(name: str) -> Capture:
    return lambda root: [Reply(name, "/asked", SourceOutcome.READ, name.encode())]


def asked(*sources: Source) -> list[tuple[str, tuple[Reply, ...]]]:
    return [(s.name, replies) for s, replies in ask_all([(s, s.capture) for s in sources], NOWHERE)]


def test_a_source_that_hangs_is_given_up_at_its_own_limit_and_named_and_the_rest_stands() -> None:
    began_s = time.monotonic()
    told = asked(
        Source("first", telling("first"), nothing),
        Source("dead", hangs, nothing, limit_s=0.3),
        Source("last", telling("last"), nothing, limit_s=60.0),
    )
    took_s = time.monotonic() - began_s
    assert 0.3 <= took_s < GENEROUS_S
    assert [name for name, _ in told] == ["first", "dead", "last"]
    assert [replies[0].data for _, replies in told] == [b"first", b"", b"last"]
    (dead,) = told[1][1]
    assert (dead.id, dead.outcome, dead.error) == ("dead", SourceOutcome.FAILED, "no answer within 0.3 s")


def test_hanging_sources_are_waited_for_together_and_not_one_by_one() -> None:
    began_s = time.monotonic()
    told = asked(*(Source(f"dead-{n}", hangs, nothing, limit_s=0.4) for n in range(20)))
    assert time.monotonic() - began_s < 20 * 0.4
    assert {replies[0].outcome for _, replies in told} == {SourceOutcome.FAILED}


def test_what_a_source_brings_after_its_time_is_not_taken() -> None:
    late = threading.Event()

    def capture(root: Root) -> list[Reply]:
        late.wait()
        return telling("late")(root)  # type: ignore[return-value]

    (_, replies), *_ = asked(Source("late", capture, nothing, limit_s=0.2))
    late.set()
    time.sleep(0.1)
    assert [reply.outcome for reply in replies] == [SourceOutcome.FAILED]


@pytest.mark.parametrize("error", [RuntimeError("spoiled"), SystemExit(3), MemoryError(), OSError(5, "I/O")])
def test_a_source_that_raises_is_named_with_its_own_word(error: BaseException) -> None:
    def capture(root: Root) -> list[Reply]:
        raise error

    told = asked(Source("bad", capture, nothing), Source("good", telling("good"), nothing))
    assert told[0][1][0].outcome is SourceOutcome.FAILED
    assert told[0][1][0].error.startswith(type(error).__name__)
    assert told[1][1][0].read


def test_a_word_that_is_no_utf8_or_without_end_is_kept_as_far_as_it_can_be() -> None:
    def capture(root: Root) -> list[Reply]:
        raise ValueError("\udcff" * 10_000)

    error = asked(Source("bad", capture, nothing))[0][1][0].error
    assert error.startswith("ValueError: ???") and len(error) == 200


SOUND = Reply("odd.a", "/a", SourceOutcome.READ, b"1")


@pytest.mark.parametrize(
    ("reply", "word"),
    [
        (replace(SOUND, id="odd.ü"), "no name"),
        (replace(SOUND, id="odd.a/../../b"), "no name"),
        (replace(SOUND, id="odd.eth0:1"), "no name"),
        (replace(SOUND, id="other.b"), "does not begin"),
        (replace(SOUND, id="odder"), "does not begin"),
        (replace(SOUND, suffix="../x"), "no name"),
        (replace(SOUND, suffix=""), "no name"),
        (replace(SOUND, id="odd.origin"), "two replies"),
        (SOUND, "two replies"),
        (replace(SOUND, data="text"), "no reply of bytes"),  # type: ignore[arg-type]
        ("words", "no reply of bytes"),
    ],
)
def test_a_reply_that_cannot_be_kept_costs_itself_alone(reply: Reply, word: str) -> None:
    source = Source("odd", telling("odd"), nothing)
    good = replace(SOUND, id="odd.lan_0")
    first, bad, last = sound_replies(source, (SOUND, reply, good))
    assert (first, last) == (SOUND, good)
    assert (bad.id, bad.outcome, bad.data) == ("odd.refused-2", SourceOutcome.FAILED, b"")
    assert word in bad.error


def test_a_place_with_no_utf8_in_its_name_is_asked_all_the_same() -> None:
    (reply,) = sound_replies(
        Source("odd", telling("odd"), nothing), (replace(SOUND, locator="/\udcff.txt", error="\udcfe"),)
    )
    assert (reply.locator, reply.error, reply.data) == ("/?.txt", "?", b"1")


def test_the_thread_that_is_left_behind_does_not_keep_the_process_from_ending() -> None:
    code = (
        "import threading\n"
        "from pathlib import Path\n"
        "from shipworthy.machine.asking import ask_all\n"
        "from shipworthy.machine.raw import Parsed\n"
        "from shipworthy.machine.root import Root\n"
        "from shipworthy.machine.sources import Source\n"
        "dead = Source('dead', lambda root: threading.Event().wait(), lambda r: Parsed(), limit_s=0.2)\n"
        "print(ask_all([(dead, dead.capture)], Root(Path('/nowhere')))[0][1][0].error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=30)
    assert (done.returncode, done.stdout, done.stderr) == (0, "no answer within 0.2 s\n", "")


# A whole reading, with sources of another package


def lights_hang(root: Root) -> Sequence[Reply]:
    return hangs(root)


def lights_rubbish(root: Root) -> Sequence[Reply]:
    del root
    good = Reply("rubbish.good", "/good", SourceOutcome.READ, b"good")
    return [good, replace(good, id="rubbish.é"), replace(good), replace(good, suffix="/etc")]


def lights_parse_rubbish(replies: tuple[Reply, ...]) -> Parsed:
    del replies
    return None  # type: ignore[return-value]


def lights_parse_odd(replies: tuple[Reply, ...]) -> Parsed:
    """A number without end, and one that is none: neither may stand in a record."""
    said = (Said(name="lux", value=float("inf")), Said(name="hours", value=float("nan")))
    return Parsed((Sighting(kind=PartKind.CHASSIS, place="chassis", source="odd", said=said),))


def lights_parse_surrogate(replies: tuple[Reply, ...]) -> Parsed:
    said = (Said(name="colour", value="\ud800"),)
    return Parsed((Sighting(kind=PartKind.CHASSIS, place="chassis", source="torn", said=said),))


HANGS = Source("hangs", lights_hang, nothing, limit_s=0.3)
RUBBISH = Source("rubbish", lights_rubbish, lights_parse_rubbish)
ODD = Source("odd", telling("odd"), lights_parse_odd)
TORN = Source("torn", telling("torn"), lights_parse_surrogate)


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    info = tmp_path / "site" / "lamps-1.0.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: lamps\nVersion: 1.0\n")
    rows = "".join(f"{name} = {__name__}:{name.upper()}\n" for name in ("hangs", "rubbish", "odd", "torn"))
    (info / "entry_points.txt").write_text(f"[shipworthy.sources]\n{rows}")
    monkeypatch.syspath_prepend(str(tmp_path / "site"))
    assert metadata.version("lamps") == "1.0"
    yield


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return build(tmp_path / "machine")


def read(machine: Path, folder: Path, *also: str) -> Reading:
    return take_reading(Root(machine), Kept(folder), nonce=None, clock=PretendClock(), also=also)


@pytest.mark.usefixtures("installed")
def test_another_packages_source_that_hangs_keeps_the_row_that_says_whose_it_is(
    machine: Path, tmp_path: Path
) -> None:
    reading = read(machine, tmp_path / "kept", "hangs")
    assert row_of(reading, "hangs").error == "no answer within 0.3 s"
    assert row_of(reading, "hangs.origin").outcome is SourceOutcome.READ
    origin = json.loads((tmp_path / "kept/raw/hangs.origin.json").read_bytes())
    assert (origin["package"], origin["version"]) == ("lamps", "1.0")
    assert reading.parts == read(machine, tmp_path / "without").parts
    assert reread(tmp_path / "kept") == reading


@pytest.mark.usefixtures("installed")
def test_another_packages_rubbish_is_named_reply_by_reply(machine: Path, tmp_path: Path) -> None:
    reading = read(machine, tmp_path / "kept", "rubbish")
    rows = {row.id: (row.outcome, row.file) for row in reading.sources if row.source == "rubbish"}
    failed = (SourceOutcome.FAILED, None)
    assert rows == {
        "rubbish.origin": (SourceOutcome.READ, "raw/rubbish.origin.json"),
        "rubbish.good": (SourceOutcome.READ, "raw/rubbish.good.txt"),
        "rubbish.refused-2": failed,
        "rubbish.refused-3": failed,
        "rubbish.refused-4": failed,
    }
    (remark,) = [remark for remark in reading.remarks if remark.source == "rubbish"]
    assert (remark.kind, remark.detail) == (RemarkKind.DECODER_FAILED, "TypeError: it gave a NoneType")
    assert reread(tmp_path / "kept") == reading


@pytest.mark.usefixtures("installed")
def test_what_another_packages_decoder_makes_is_fit_to_be_stored(machine: Path, tmp_path: Path) -> None:
    reading = read(machine, tmp_path / "kept", "odd", "torn")
    chassis = reading.at("chassis")
    assert chassis is not None
    assert [chassis.why_absent(name) for name in ("lux", "hours")] == [Absent.IMPLAUSIBLE] * 2
    assert chassis.fact("colour") is None
    (remark,) = [remark for remark in reading.remarks if remark.source == "torn"]
    assert remark.kind is RemarkKind.DECODER_FAILED and "UnicodeEncodeError" in remark.detail
    assert (tmp_path / "kept" / INDEX).is_file()
    assert reread(tmp_path / "kept") == reading


@pytest.mark.usefixtures("installed")
def test_another_packages_source_moves_no_configuration(machine: Path, tmp_path: Path) -> None:
    """A quick reading does not ask it, so what it says cannot be of the configuration."""
    with_it = read(machine, tmp_path / "kept", "odd")
    assert with_it.configuration == read(machine, tmp_path / "without").configuration
