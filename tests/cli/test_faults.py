"""An internal fault is one line and exit status 2; the details come with --debug."""

import pytest

from tests.cli.calling import call

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
    assert answer.err.startswith("cfgaudit: internal fault (ZeroDivisionError: a reed")
    assert answer.err.count("\n") == 1
    assert r"a reed\x0ain the \x1b[31mgears" in answer.err
    assert "Please report this line" in answer.err
    assert "--debug" in answer.err


@pytest.mark.usefixtures("broken")
def test_debug_shows_the_details_and_the_status_stays_two(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["--debug", "check", "dipper.dump"])
    assert (answer.status, answer.out) == (2, "")
    assert "Traceback" in answer.err
    assert "ZeroDivisionError" in answer.err
    assert "in fail" in answer.err


def test_a_rule_that_fails_is_a_finding_and_the_others_still_speak(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from cfgaudit.cli import auditing
    from cfgaudit.rules.rule import Rule

    def book() -> tuple[Rule, ...]:

        from cfgaudit.rules import book as real

        def fail(craft: object) -> None:
            raise ZeroDivisionError("a reed")

        first, *others = real.book()
        return (first._replace(check=fail), *others)  # type: ignore[arg-type]

    before = call(monkeypatch, ["check", "broken/unclosed-block.dump"])
    monkeypatch.setattr(auditing, "book", book)
    after = call(monkeypatch, ["check", "broken/unclosed-block.dump"])
    assert "The rule itself failed (ZeroDivisionError: a reed)" in after.out
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
    assert f"{title}: a fault of the program (ZeroDivisionError: a &lt;reed&gt;)" in page.out
