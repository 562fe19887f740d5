"""The line that says how far long work has come."""

import io

import pytest

from cfgaudit.cli.output import how_far, watched


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def gone_through(patch: pytest.MonkeyPatch, stream: io.StringIO, seconds: float) -> list[int]:
    """Goes through a hundred items with a clock that each of them moves on."""
    now = [0.0]
    patch.setattr("cfgaudit.cli.output.time.monotonic", lambda: now[0])
    patch.setattr("sys.stderr", stream)
    patch.setenv("TERM", "xterm")
    seen: list[int] = []
    for item in watched(range(100), "auditing", lambda: f"{len(seen)} errors so far"):
        seen.append(item)
        now[0] += seconds
    return seen


def test_work_of_over_a_second_says_how_far_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    assert gone_through(monkeypatch, stream, 0.1) == list(range(100))
    assert "of 100, " in stream.getvalue()
    assert "errors so far" in stream.getvalue()


def test_work_of_less_than_a_second_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    gone_through(monkeypatch, stream, 0.009)
    assert stream.getvalue() == ""


def test_into_a_file_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    gone_through(monkeypatch, stream, 1.0)
    assert stream.getvalue() == ""


@pytest.mark.parametrize(
    ("done", "total", "taken", "said"),
    [
        # 731 in 73.1 s are ten a second: 1,269 more take 126.9 s, two minutes
        (731, 2000, 73.1, "auditing 731 of 2,000, 9 errors so far, about 2 min left"),
        # a quarter in 10 s: three quarters take 30 s
        (5, 20, 10.0, "auditing 5 of 20, 9 errors so far, about 30 s left"),
        (0, 20, 2.0, "auditing 0 of 20, 9 errors so far"),
    ],
)
def test_how_long_it_takes_yet_is_reckoned_by_the_pace(
    done: int, total: int, taken: float, said: str
) -> None:
    assert how_far("auditing", done, total, taken, "9 errors so far") == said
