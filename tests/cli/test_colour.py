"""When output is coloured: the flag first, then the environment, then the terminal."""

import os
import subprocess
import sys

import pytest

from tests.cli.calling import CORPUS, environment, run

CALL = ("check", "wagtail-esc.dump", "--long")
ESCAPE = "\x1b["


@pytest.mark.parametrize("variables", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}], ids=str)
def test_always_colours_whatever_else_is_said(variables: dict[str, str]) -> None:
    assert ESCAPE in run(*CALL, "--color", "always", env=environment(**variables)).out


def test_never_stays_plain_whatever_else_is_said() -> None:
    env = environment(FORCE_COLOR="1", CLICOLOR_FORCE="1")
    assert ESCAPE not in run(*CALL, "--color", "never", env=env).out


@pytest.mark.parametrize(
    ("variables", "coloured"),
    [
        ({}, False),
        ({"FORCE_COLOR": "1"}, True),
        ({"CLICOLOR_FORCE": "1"}, True),
        ({"CLICOLOR_FORCE": "0"}, False),
        ({"FORCE_COLOR": "1", "TERM": "dumb"}, True),
        ({"FORCE_COLOR": "1", "NO_COLOR": "1"}, False),
        ({"FORCE_COLOR": "1", "NO_COLOR": ""}, True),  # no-color.org: only if not empty
    ],
    ids=str,
)
def test_a_pipe_is_coloured_only_on_request(variables: dict[str, str], coloured: bool) -> None:
    assert (ESCAPE in run(*CALL, env=environment(**variables)).out) == coloured


@pytest.mark.parametrize(
    ("variables", "coloured"),
    [
        ({"TERM": "xterm"}, True),
        ({"TERM": "dumb"}, False),
        ({"TERM": "xterm", "NO_COLOR": "1"}, False),
    ],
    ids=str,
)
def test_a_terminal_is_coloured_unless_it_can_not_or_shall_not(
    variables: dict[str, str], coloured: bool
) -> None:
    assert (ESCAPE in _on_a_terminal(environment(**variables))) == coloured


def test_colour_adds_nothing_but_colour() -> None:
    plain, coloured = run(*CALL).out, run(*CALL, "--color", "always").out
    for colour in ("\x1b[1m", "\x1b[2m", "\x1b[0m", "\x1b[1;36m"):
        coloured = coloured.replace(colour, "")
    assert coloured == plain


def test_machine_output_is_never_coloured() -> None:
    assert ESCAPE not in run(*CALL, "--format", "json", "--color", "always").out


def _on_a_terminal(env: dict[str, str]) -> str:
    pty = pytest.importorskip("pty")
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "cfgaudit", *CALL], cwd=CORPUS, env=env, stdout=slave
    )
    os.close(slave)
    chunks: list[bytes] = []
    try:
        while chunk := os.read(master, 65536):
            chunks.append(chunk)
    except OSError:  # how the other end says that it is done
        pass
    os.close(master)
    assert process.wait(timeout=900) == 0
    return b"".join(chunks).decode("utf-8")
