"""Pages for the tests: of the corpus, and of a craft that means ill."""

from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call, of_corpus

EVIL = '<script>alert(1)</script>"\u202e<b onmouseover=x>&amp;{{ 7*7 }}'
HOSTILE = f"""
[craft]
name = "{EVIL.replace('"', "'")}"
[frame]
layout = quad_x
[motors.front_left]
output = 1
spin = cw
[ports.uart1]
roles = position
baud = 9600
[position]
protocol = ubx
rate = 10 Hz
[video.plan]
x = 5800 MHz
[video.transmitter]
band = "<img src=x onerror=alert(1)>"
channel = 1
frequency = 5800 MHz
"""


def page(monkeypatch: pytest.MonkeyPatch, *arguments: str, cwd: Path = CORPUS) -> str:
    """What `cfgaudit report` prints."""
    asked = ["report", *arguments]
    answer = of_corpus(*asked) if cwd == CORPUS else call(monkeypatch, asked, cwd=cwd)
    assert answer.status == 0, answer.err
    return answer.out


def hostile(monkeypatch: pytest.MonkeyPatch, folder: Path) -> str:
    """The page of a craft whose name and words are markup."""
    (folder / "evil.cfg").write_text(HOSTILE, encoding="utf-8")
    return page(monkeypatch, "evil.cfg", cwd=folder)
