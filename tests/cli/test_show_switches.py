"""`show DUMP switches`: what each position of each switch has on."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, call
from tests.reports.schemas import validate

DUMP = """
receiver.channels = 9
receiver.low = 1000 us
receiver.high = 2000 us
receiver.map.throttle = 3
receiver.map.spare1 = 5
switches.arm = 5: 900..1300 us
switches.buzzer = 6: 1700..2100 us, 10: 1700..2100 us
switches.self_level = 6: 1300..2100 us
switches.altitude_hold = 6: 1300..2100 us
switches.position_hold = 6: 1300..2100 us
switches.return_home = 6: 1300..2100 us
switches.overlay_off = 6: 1300..2100 us
switches.flight_log = 6: 1300..2100 us
arming.by = switch
failsafe.channels.5 = 1000 us
failsafe.channels.6 = 2050 us
failsafe.channels.10 = hold
"""

# Laid out by hand from the ranges above.
TABLE = """
what is on at each position of each switch
  channel   pulse, us   on
  5 spare1  1000..1300  arm                              ARMED, rest, link loss
            1301..2000  -
  6         1000..1299  -                                rest
            1300..1699  self_level, altitude_hold,
                        position_hold, return_home,
                        overlay_off, flight_log
            1700..2000  self_level, altitude_hold,
                        position_hold, return_home,
                        buzzer, overlay_off, flight_log
            2050        self_level, altitude_hold,       link loss
                        position_hold, return_home,
                        buzzer, overlay_off, flight_log
  10        1000..1699  -                                rest, not carried
            1700..2000  buzzer                           not carried

  rest: the channel's lowest pulse, where a switch left alone is taken to stand.
  link loss: the pulse that the channel takes when the link is lost.
  not carried: the receiver link has no such channel.
  Held at its last pulse on link loss: channel 10.
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "my.cfg").write_text(DUMP, encoding="utf-8")
    return tmp_path


def show(patch: pytest.MonkeyPatch, *arguments: str, cwd: Path | None = None) -> str:
    answer = call(patch, ["show", *arguments], cwd=cwd or CORPUS)
    assert answer.status == 0
    return answer.out


def table(patch: pytest.MonkeyPatch, *arguments: str, cwd: Path | None = None) -> dict[str, Any]:
    said = json.loads(show(patch, *arguments, "--format", "json", cwd=cwd))
    validate(said, "show")
    found: dict[str, Any] = said["switch_table"]
    return found


def test_the_table_stands_below_the_settings(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    out = show(monkeypatch, "my.cfg", "switches", cwd=folder)
    assert out.endswith(TABLE)
    assert "\nswitches\n  switches.altitude_hold  6: 1300..2100 us" in out
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize("paths", [(), ("switches.arm",), ("receiver", "switches.*")], ids=str)
def test_other_paths_bring_no_table(monkeypatch: pytest.MonkeyPatch, paths: tuple[str]) -> None:
    assert "what is on at each position" not in show(monkeypatch, "dipper.cfg", *paths)


def test_armed_stands_out_where_there_is_colour(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    out = show(monkeypatch, "my.cfg", "switches", "--color", "always", cwd=folder)
    assert "\x1b[1;33mARMED, rest, link loss\x1b[0m" in out


def test_where_the_sticks_arm_no_position_is_armed(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "my.cfg").write_text(DUMP.replace("= switch\n", "= sticks\n"), encoding="utf-8")
    out = show(monkeypatch, "my.cfg", "switches", cwd=folder)
    assert "ARMED" not in out
    assert "The sticks arm the craft" in out
    assert table(monkeypatch, "my.cfg", cwd=folder)["armed_by_switch"] is False


def test_what_can_not_be_tabulated_is_said(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    text = "switches.arm = 5: high\nswitches.buzzer = 8: 1700..2100 us\n"
    (folder / "my.cfg").write_text(text, encoding="utf-8")
    out = show(monkeypatch, "my.cfg", "switches", cwd=folder)
    assert "what is on at each position" not in out
    assert "  Not in the table, for what is stated can't be read: arm.\n" in out
    assert "  Channel 8 has no rows, for receiver.low is not stated.\n" in out
    assert table(monkeypatch, "my.cfg", cwd=folder) == {
        "channels": [],
        "not_tabulated": [{"channel": 8, "lacks": "receiver.low"}],
        "untrusted": ["arm"],
        "armed_by_switch": None,
    }


def test_the_machine_output_has_the_same_table(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    five, _, ten = table(monkeypatch, "my.cfg", "receiver", cwd=folder)["channels"]
    assert five == {
        "channel": 5,
        "control": "spare1",
        "carried": True,
        "rest": 1000,
        "link_loss": 1000,
        "active_on_link_loss": ["arm"],
        "positions": [
            {"low": 1000, "high": 1300, "active": ["arm"], "rest": True, "link_loss": True},
            {"low": 1301, "high": 2000, "active": [], "rest": False, "link_loss": False},
        ],
    }
    assert (ten["carried"], ten["link_loss"], ten["control"]) == (False, "hold", None)


@pytest.mark.parametrize("dump", ["dipper", "wagtail", "goosander", "sandpiper"])
def test_the_corpus_is_tabulated_in_eighty_columns(
    monkeypatch: pytest.MonkeyPatch, dump: str
) -> None:
    out = show(monkeypatch, f"{dump}.dump", "switches")
    made = out[out.index("what is on at each position") :]
    assert "\n  5" in made
    assert "ARMED" in made
    assert max(map(len, out.splitlines())) <= 80
    found = table(monkeypatch, f"{dump}.dump")
    assert (found["not_tabulated"], found["untrusted"]) == ([], [])
    assert {position["active"] == ["arm"] for position in found["channels"][0]["positions"]} == {
        True,
        False,
    }
