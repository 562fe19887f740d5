"""`show DUMP link-loss`: the stages, wide and narrow, and as data."""

import json
from pathlib import Path

import pytest

from tests.cli.calling import call

FAULTY = "faulty/dipper-after-repair.dump"

# Times by hand: noticed after 0.4 s, 1 s of the channels' own values, so home at 1.4 s; 9.80665 / 2
# = 4.9 m; 0.4 s at 7 m/s = 2.8 m; 0.4 s / 14 ms = 28 whole frames; 40 m / 1.5 m/s = 26.67 s.
WIDE = """
what happens when the link is lost
  0 s on, for 0.4 s  The last inputs hold. Throttle held, arm held, sticks held.
                     28 frames of the sbus link are missed. 2.8 m flown blind at
                     7 m/s.
  0.4 s on, for 1 s  The channels' own values are flown. Throttle closed
                     (900 us), arm on, sticks centred.
  WRONG              It falls 4.9 m, to 9.81 m/s.
  WRONG              The arm channel arms.
  1.4 s on           It turns home. At 40 m with 7 m/s.
  then, for 40 s     It comes down. From 40 m with 1.5 m/s it needs 26.67 s.
  then               The motors stop.

  The channels' own values count until the action begins: reckoned, as the dump
  does not say until when.
"""


def test_the_stages_stand_below_one_another_with_what_is_wrong(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    out = call(monkeypatch, ["show", FAULTY, "link-loss"]).out
    assert out.endswith(WIDE)
    assert "failsafe.action" not in out  # no setting was asked for


def test_they_stand_on_a_narrow_screen_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cfgaudit.cli.output.screen_width", lambda: 40)
    out = call(monkeypatch, ["show", FAULTY, "link-loss"]).out
    own = out[out.index("what happens") :].splitlines()
    assert max(map(len, own)) <= 40
    assert " ".join(" ".join(own).split()) == " ".join(WIDE.split())


def test_settings_asked_for_beside_it_are_shown_too(monkeypatch: pytest.MonkeyPatch) -> None:
    out = call(monkeypatch, ["show", FAULTY, "failsafe.action", "link-loss"]).out
    assert "failsafe.action  return_home" in out
    assert "what happens when the link is lost" in out


def test_a_dump_without_an_action_says_what_is_not_stated(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.cfg").write_text("receiver.link = sbus\n", encoding="utf-8")
    out = call(monkeypatch, ["show", "a.cfg", "link-loss"], cwd=tmp_path).out
    assert "It can't be told: failsafe.action is not stated." in out
    said = call(monkeypatch, ["show", "a.cfg", "--format", "json"], cwd=tmp_path).out
    assert json.loads(said)["link_loss"] is None


def test_the_data_has_each_stage_with_its_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    said = json.loads(call(monkeypatch, ["show", FAULTY, "link-loss", "--format", "json"]).out)
    assert said["settings"] == {} or all(path.startswith("sheet") for path in said["settings"])
    stages = said["link_loss"]["stages"]
    assert [stage["what"] for stage in stages] == [
        "last_inputs", "channels", "return_home", "land", "motors_off",
    ]  # fmt: skip
    assert stages[1]["figures"]["fall_m"] == pytest.approx(4.903325)
    assert stages[1]["wrong"] == ["it falls 4.9 m, to 9.81 m/s", "the arm channel arms"]
    assert (stages[2]["begins"], stages[2]["throttle"]) == (pytest.approx(1.4), None)
