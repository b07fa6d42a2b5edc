"""A burn-in's picture: what it shows, in any width, and that it takes back nothing but itself."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from shipworthy.cli import screen as screens
from shipworthy.cli.burn_in_screen import Picture, frame, rates_text, wants_pictures
from shipworthy.cli.screen import Screen, sink_for
from shipworthy.model.progress import Progress, progress

MATRIX = progress(
    "burn-in.load",
    load="matrix",
    unit="floating-point operations",
    targets=16,
    rate=1.55e12,
    limit=1.6e12,
    lowest_ratio=0.91,
    limit_ratio=0.97,
    highest_ratio=0.99,
)
MARCH = progress("burn-in.load-unmeasured", load="march", unit="bytes passed over", targets=1, rate=34.2e9)
HEAT = [
    progress(
        "burn-in.heat",
        label=label,
        place="cpu",
        found_c=found_c,
        limit_c=100.0,
        margin_c=100.0 - found_c,
        origin="device",
    )
    for label, found_c in (("Package id 0", 88.0), ("Core 3", 86.5), ("Core 1", 84.0))
]
BLIND = progress("burn-in.heat-no-limit", label="Composite", place="pci:0000:01:00.0", found_c=51.0)


def tick(wrong: int = 0, code: str = "burn-in.tick") -> Progress:
    return progress(
        code,
        plan="one-hour",
        step="together",
        number=14,
        steps=18,
        left_s=743,
        all_left_s=1343,
        checks=12_345_678_901,
        wrong=wrong,
        written_bytes=12_000_000_000,
    )


def drawn(columns: int, rows: int = 24, wrong: int = 0) -> list[str]:
    picture = Picture()
    for event in (MATRIX, MARCH, *HEAT, BLIND):
        picture.take(event)
    return frame(tick(wrong), picture, columns, rows)


@pytest.mark.parametrize("columns", [20, 40, 63, 64, 80, 200])
@pytest.mark.parametrize("rows", [4, 8, 24])
def test_it_fits_the_terminal_and_always_tells_the_step_and_what_was_wrong(columns: int, rows: int) -> None:
    lines = drawn(columns, rows, wrong=3)
    assert len(lines) < rows and max(map(len, lines)) < columns
    assert lines[0].startswith("Step 14 of 18") and "3 WRONG" in lines[-1]


def test_it_shows_each_load_beside_its_limit_with_its_slowest_and_fastest_core() -> None:
    text = "\n".join(drawn(80))
    assert "97 % of its limit" in text and "1.55 of 1.60 T/s" in text
    assert "each of 16: 91 % to 99 %" in text
    assert "limit not measured yet" in text and "34.2 GB/s passed over" in text


def test_it_shows_what_is_nearest_to_its_limit_by_how_much_and_who_set_it() -> None:
    lines = drawn(80)
    assert any("88.0 °C, 12.0 below 100 °C (device)" in line for line in lines)
    assert any("51.0 °C, no limit known" in line for line in lines)
    assert "0 wrong of 12,345,678,901 results checked; 12 GB written" in lines[-1]


def test_forty_columns_keep_shares_margins_and_the_count_of_wrong_results() -> None:
    text = "\n".join(drawn(40))
    assert (
        "97 % of its limit" in text and "91 % to 99 %" in text and "12.0 below" in text and "0 wrong" in text
    )
    assert "…" not in text


def test_where_the_terminal_is_low_temperatures_go_before_loads() -> None:
    lines = drawn(80, rows=6)
    assert any("matrix" in line for line in lines) and not any("Core 1" in line for line in lines)


def test_it_says_so_when_the_loads_stand_still() -> None:
    picture = Picture()
    picture.take(progress("loads.paused", why="sensor.silent", label="Tctl", place="cpu"))
    assert "PAUSED: Tctl is silent" in frame(tick(), picture, 80, 24)[1]
    picture.take(progress("loads.resumed", paused_s=3.0))
    assert not any("PAUSED" in line for line in frame(tick(), picture, 80, 24))


def test_rates_share_one_prefix() -> None:
    assert rates_text([950.0, 1250.0], "products") == "0.950 of 1.25 k/s products"
    assert rates_text([12.0], "marches") == "12.0 marches a second"
    assert rates_text([99.96, 732.4], "marches") == "100 of 732 marches a second"
    assert rates_text([17.8e9, 18.1e9], "bytes passed over") == "17.8 of 18.1 GB/s passed over"


class Terminal:
    """As much of a terminal as the picture asks of one: lines, going up, clearing from there on."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def show(self, text: str) -> None:
        while text:
            if text.startswith("\x1b["):
                code, text = text[2 : (end := _end(text)) + 1], text[end + 1 :]
                self._obey(code)
            elif text.startswith("\r"):
                text = text[1:]
            else:
                line, _, text = text.partition("\n")
                self.lines.append(line.replace("\x1b[1m", "").replace("\x1b[0m", ""))

    def _obey(self, code: str) -> None:
        if code.endswith("A"):
            del self.lines[-int(code[:-1]) :]
        else:
            assert code in ("J", "1m", "0m"), code


def _end(text: str) -> int:
    return next(i for i, sign in enumerate(text) if i > 1 and sign.isalpha())


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[[], str]:
    """What was written to standard error, as on a terminal of 80 columns."""
    monkeypatch.setattr(screens, "size", lambda: (80, 24))
    monkeypatch.setattr(screens, "wants_bold", lambda: False)
    return lambda: capsys.readouterr().err


def test_the_picture_is_drawn_over_itself_and_every_line_that_went_by_stays(
    written: Callable[[], str],
) -> None:
    show = Screen(terminal=True)
    for event in (
        progress("run.step", step="burn-in"),
        progress("burn-in.step", step="together", number=14, steps=18, step_s=1380.0, loads="matrix"),
        MATRIX,
        tick(),
        progress("load.died", load="march", target="memory", how="killed"),
        MATRIX,
        HEAT[0],
        tick(wrong=2),
    ):
        show(event)
    seen = Terminal()
    seen.show(written())
    text = "\n".join(seen.lines)
    assert text.count("Step 14 of 18: together ·") == 1 and text.count("matrix  ") == 1
    assert "The load march on memory died: killed." in text and "-> Look at the kernel's log" in text
    assert seen.lines[-1].strip().startswith("2 WRONG of")
    assert not any("0 wrong" in line for line in seen.lines)


def test_narrow_lines_are_broken_and_not_cut() -> None:
    picture = Picture()
    long = "random blocks read and compared"
    picture.take(progress("burn-in.load-unmeasured", load="storage", unit=long, targets=1, rate=41.4e3))
    told = {**{v.name: v.value for v in MATRIX.values}, "load": "storage", "unit": long, "targets": 1}
    picture.take(progress("burn-in.load", **told))
    lines = frame(tick(), picture, 40, 24)
    assert max(map(len, lines)) < 40 and "…" not in "".join(lines)
    assert " ".join(" ".join(lines).split()).count("random blocks read and compared") == 2


def test_loads_keep_their_lines_in_the_plans_order() -> None:
    picture = Picture()
    picture.take(progress("burn-in.step", step="all", number=1, steps=1, step_s=9.0, loads="matrix, march"))
    for event in (MARCH, MATRIX):
        picture.take(event)
    lines = [line.split()[0] for line in frame(tick(), picture, 100, 24)]
    assert lines.index("matrix") < lines.index("march")


def test_the_plans_end_is_told_apart_from_the_steps() -> None:
    assert drawn(80)[0] == "Step 14 of 18: together · 12 min 23 s left, 22 min 23 s left of the plan"
    assert drawn(40)[:2] == ["Step 14 of 18: together", "  12 min 23 s left, plan: 22 min 23 s"]


def test_cautions_are_marked_and_what_to_do_is_told_before_the_first_step_too(
    written: Callable[[], str],
) -> None:
    show = Screen(terminal=True)
    show(progress("caution.burn-in-leak"))
    show(progress("guard.no-temperature", silent_sensors=0))
    first, *rest = written().splitlines()
    assert first.startswith("  ! A custom liquid loop") and any(
        "-> Stay with the unit" in line for line in rest
    )


def test_elsewhere_too_the_end_says_how_many_results_were_checked(written: Callable[[], str]) -> None:
    show = Screen(terminal=False)
    show(progress("burn-in.step", step="together", number=14, steps=18, step_s=1380.0, loads="matrix"))
    show(tick())
    written()
    show(progress("run.step", step="reading after"))
    assert written().splitlines() == [
        "  0 wrong of 12,345,678,901 results checked; 12 GB written",
        "Step: reading after",
    ]


def test_what_follows_the_burn_in_leaves_its_count_of_results_standing(written: Callable[[], str]) -> None:
    show = Screen(terminal=True)
    show(progress("burn-in.step", step="together", number=14, steps=18, step_s=1380.0, loads="matrix"))
    show(tick())
    show(progress("run.step", step="reading after"))
    seen = Terminal()
    seen.show(written())
    assert any("0 wrong" in line for line in seen.lines[:-1]) and "reading after" in seen.lines[-1]
    assert not any("min left" in line for line in seen.lines), "no time is left when it is over"


def test_elsewhere_it_is_one_plain_line_a_minute(written: Callable[[], str]) -> None:
    show = Screen(terminal=False)
    for _ in range(5):
        for event in (MATRIX, HEAT[0], tick()):
            show(event)
    (line,) = written().splitlines()
    assert "\x1b" not in line
    assert (
        "12 min 23 s left" in line
        and "matrix: floating-point operations at 97 % of their limit." in line
        and "Package id 0: 88 °C" in line
    )


def test_as_json_every_record_has_its_values(written: Callable[[], str]) -> None:
    show = sink_for(json=True)
    for event in (MATRIX, HEAT[0], tick()):
        show(event)
    told = [json.loads(line) for line in written().splitlines()]
    assert [one["code"] for one in told] == ["burn-in.load", "burn-in.heat", "burn-in.tick"]
    assert {v["name"]: v["value"] for v in told[0]["values"]}["lowest_ratio"] == 0.91


def test_a_terminal_that_obeys_nothing_gets_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "dumb")
    assert not wants_pictures(True)
    monkeypatch.setenv("TERM", "xterm")
    assert wants_pictures(True) and not wants_pictures(False)


def test_no_color_is_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    from shipworthy.cli.burn_in_screen import wants_bold

    monkeypatch.setenv("NO_COLOR", "1")
    assert not wants_bold()
    monkeypatch.delenv("NO_COLOR")
    assert wants_bold()
