"""An internal fault is one line and exit status 2; the details come with --debug."""

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call, environment
from tests.cli.repository import new_repo
from tests.cli.sweep import EVERY_COMMAND, answer

COMMANDS = [
    ["check", "dipper.dump"],
    ["show", "dipper.dump"],
    ["plain", "dipper.dump"],
    ["diff", "dipper.dump", "dipper.cfg"],
    ["compare", "dipper.dump", "dipper.cfg"],
]


@pytest.fixture
def broken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Makes the opening of every dump fail in a way that nobody foresaw."""

    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a reed\nin the \x1b[31mgears")

    monkeypatch.setattr("cfgaudit.cli.inputs.open_dump", fail)


@pytest.mark.usefixtures("broken")
@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_fault_is_one_line_that_says_what_to_report(
    monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    answer = call(monkeypatch, command)
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.startswith("cfgaudit: internal fault (ZeroDivisionError)")
    assert answer.err.count("\n") == 1
    assert "reed" not in answer.err  # it could be what a dump holds
    assert "Please report this line" in answer.err
    assert "--debug" in answer.err


@pytest.mark.usefixtures("broken")
def test_debug_shows_the_details_and_the_status_stays_two(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["--debug", "check", "dipper.dump"])
    assert (answer.status, answer.out) == (2, "")
    assert "Traceback" in answer.err
    assert "ZeroDivisionError" in answer.err
    assert "in fail" in answer.err
    assert "a reed\nin the \\x1b[31mgears" in answer.err


def test_a_rule_that_fails_is_a_finding_and_the_others_still_speak(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from cfgaudit.cli import auditing
    from cfgaudit.rules.rule import Rule

    def book() -> tuple[Rule, ...]:

        from cfgaudit.rules import book as real

        def fail(*_: object) -> None:
            raise ZeroDivisionError("a reed")

        first, *others = real.book()
        return (first._replace(check=fail), *others)  # type: ignore[arg-type]

    before = call(monkeypatch, ["check", "broken/unclosed-block.dump"])
    monkeypatch.setattr(auditing, "book", book)
    after = call(monkeypatch, ["check", "broken/unclosed-block.dump"])
    assert "The rule itself failed (ZeroDivisionError)" in after.out
    assert "reed" not in after.out + after.err
    told = call(monkeypatch, ["--debug", "check", "broken/unclosed-block.dump"])
    assert "a reed" in told.err
    assert (told.status, "reed" in told.out) == (2, False)
    assert 0 < before.out.count("ERROR ") < after.out.count("ERROR ")
    assert (before.status, after.status) == (1, 2)
    assert after.out.rstrip().endswith("The craft was not audited.")


@pytest.mark.parametrize("form", ["json", "sarif", "junit", "github", "markdown"])
def test_no_format_and_no_level_lets_a_rule_fail_unseen(
    monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    from cfgaudit.audit import engine

    def fail(*_: object) -> None:
        raise ZeroDivisionError("a reed")

    asked = ["check", "dipper.dump", "--fail-on", "never", "--format", form]
    assert call(monkeypatch, asked).status == 0
    monkeypatch.setattr(engine, "well_formed", fail)  # whatever a rule yields, it fails
    assert call(monkeypatch, asked).status == 2


def test_a_picture_that_fails_costs_that_picture_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    from cfgaudit.pictures import album

    def fail(*_: object) -> None:
        raise ZeroDivisionError("a <reed>")

    whole = call(monkeypatch, ["report", "dipper.dump"]).out
    (name, title, _), *others = album.PICTURES
    monkeypatch.setattr(album, "PICTURES", ((name, title, fail), *others))
    page = call(monkeypatch, ["report", "dipper.dump"])
    assert page.status == 0
    assert page.out.count("<svg") == whole.count("<svg") - 1
    assert f"{title}: a fault of the program (ZeroDivisionError)" in page.out
    assert "reed" not in page.out


DIGITS = "1" * 4400  # more than Python reads as a number
ODD = {
    "digits without end": f"""ports.{DIGITS}.baud = 9600
motors.{DIGITS}.pad = 1
battery.warn_cell = {DIGITS}
[port {DIGITS}]
speed = {DIGITS}
[pad m{DIGITS}]
does = motor {DIGITS}
k[{DIGITS}] = {DIGITS}
lamp {DIGITS} {DIGITS}
a,{DIGITS},{DIGITS}
1.{DIGITS} = 1e{DIGITS}
""",
    "digits that no number is made of": """² = ²
ports.².baud = ²
[port ²]
speed = ²
[pad m²]
does = motor ²
m② ②
ports.٣.baud = 1
٣ ٣ ٣
""",
    "unusual blanks": """\u3000\u00a0 = \u2003
\x0b\x0c
\u2028
\x1c\x1d\x1e\x85 \u1680
a\u2003b = 1
\u00a0
[\u3000]
,\u00a0,
""",
    "letters for private use": """\ue000 = \ue001
\U000f0000 \ue000
"\ue000" = 1
[\ue0ff]
k = \ue000
""",
    "marks without their partners": """"
port u1 speed "
 x = "
'
 = '
{
}
[
]
[]
{}
begin
end
-
:
=
,
\x00 = \x7f
""",
}


KNOWN: dict[str, tuple[str, ...]] = {"alone": (), "beside": ("dipper.dump", "dipper.cfg")}
# both ways for each command, and one for each of its formats
WAYS = [
    (way, arguments)
    for number, arguments in enumerate(EVERY_COMMAND)
    for turn, way in enumerate(KNOWN)
    if number % 2 == turn or arguments[0] != EVERY_COMMAND[number - 1][0]
]


@pytest.fixture(scope="module")
def odd(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository of two dumps with every odd line: alone, or behind and before what is known."""
    known = [(CORPUS / file).read_text(encoding="utf-8") for file in KNOWN[request.param]] or [
        "",
        "a = 1\n",
    ]
    lines = "".join(ODD.values())
    repo = new_repo(tmp_path_factory.mktemp("odd"), install=False)
    (repo.top / "dipper.build.toml").write_bytes((CORPUS / "dipper.build.toml").read_bytes())
    repo.write(known[0] + lines, "craft.dump")
    repo.write(lines + known[1], "other.dump")
    repo.commit("odd lines")
    return repo.top


@pytest.mark.parametrize(
    ("odd", "arguments"),
    WAYS,
    indirect=["odd"],
    ids=lambda of: of if isinstance(of, str) else " ".join(of),
)
def test_no_command_fails_at_odd_lines(
    monkeypatch: pytest.MonkeyPatch, odd: Path, arguments: list[str]
) -> None:
    told = call(monkeypatch, arguments, cwd=odd)
    assert "fault of" not in told.out
    assert "internal fault" not in told.err


@pytest.mark.parametrize("said", ["x", "-5", "0", "²", "٣", "1e3", DIGITS])
def test_no_nonsense_about_the_terminal_makes_a_command_fail(
    monkeypatch: pytest.MonkeyPatch, said: str
) -> None:
    from cfgaudit.cli.output import screen_width
    from cfgaudit.reports.screen import Screen

    monkeypatch.setenv("COLUMNS", said)
    monkeypatch.setenv("LINES", said)
    assert 40 <= screen_width() <= 100
    screen = Screen(80)
    screen.line("reed")
    assert "reed" in screen.coloured()


def test_a_current_folder_that_is_gone_is_said_to_be(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    gone = tmp_path / "gone"
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"a = 1\n")))
    for arguments in [*EVERY_COMMAND, ["check", "-"]]:
        gone.mkdir()
        os.chdir(gone)
        gone.rmdir()
        _, status, _, err = answer(arguments)
        assert "internal fault" not in err
    assert (status, err) == (2, "Error: the current folder is gone; go to one that is there\n")


@pytest.mark.parametrize(
    "arguments", [["check", "dipper.dump"], ["--version"], ["--help"]], ids=str
)
def test_without_a_standard_output_it_says_so_in_a_line(arguments: list[str]) -> None:
    run = "import os, sys; os.close(1); os.execv(sys.executable, [sys.executable, *sys.argv[1:]])"
    done = subprocess.run(
        [sys.executable, "-c", run, "-m", "cfgaudit", *arguments],
        cwd=CORPUS, env=environment(), stderr=subprocess.PIPE, text=True, timeout=900, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == "Error: nothing can be told: standard output is closed\n"
