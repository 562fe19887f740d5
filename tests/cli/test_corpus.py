"""Every dump of the corpus, whole or broken, through every command: an answer, never a fault."""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.cli import sweep
from tests.cli.calling import Answer, environment
from tests.reports.schemas import validate

Answers = dict[tuple[str, ...], Answer]
SEEDS = {"1": 1, "2026": 5}  # and of how many calls one is made
CALLS = [tuple(call) for call in sweep.calls()]


def sweeping(seed: str, *options: str) -> Answers:
    """What every call gives under a hash seed, in a process of its own."""
    done = subprocess.run(
        [sys.executable, sweep.__file__, *options],
        env=environment(PYTHONHASHSEED=seed),
        stdout=subprocess.PIPE,
        check=True,
        timeout=3_600,  # of a busy machine
    )
    return {tuple(call): Answer(*rest) for call, *rest in json.loads(done.stdout)}


@pytest.fixture(scope="module")
def answers() -> dict[str, Answers]:
    return {seed: sweeping(seed, "--every", str(every)) for seed, every in SEEDS.items()}


@pytest.fixture(scope="module")
def first(answers: dict[str, Answers]) -> Answers:
    return answers["1"]


def test_the_corpus_has_dumps_plain_forms_and_broken_files() -> None:
    dumps = sweep.dumps()
    assert {"dipper.dump", "dipper.cfg", "broken/empty.dump"} <= set(dumps)
    reviewed = sum("/" not in dump for dump in dumps)  # in nine formats for review
    whole = {tuple(call) for call in sweep.calls(whole=True)}
    assert len(whole) == 10 * len(dumps) + 9 * reviewed + 4
    assert set(CALLS) < whole
    for command, forms in sweep.IN_TURN:  # each dump in some format, and each format with some dump
        taken = [call for call in CALLS if call[0] == command.split()[0] and call[-1] in forms]
        assert {call[-1] for call in taken} == set(forms)
        assert len(taken) >= (len(dumps) if len(forms) == 2 else reviewed)


def unread(first: Answers, dump: str) -> bool:
    """Whether no dialect knows a dump, or there is nothing in it."""
    (told,) = _strictly(first["check", dump, "--format", "json"].out)["dumps"]
    return told["dialect"] is None or not told["settings"]


@pytest.mark.parametrize("call", CALLS, ids=" ".join)
def test_a_call_answers_without_a_fault(first: Answers, call: tuple[str, ...]) -> None:
    answers_rightly(first, call)


@pytest.mark.long
def test_every_dump_in_every_format_is_answered_without_a_fault() -> None:
    made = sweeping("1", "--whole")
    for call in made:
        answers_rightly(made, call)
        if call[-1] == "json":
            validate(_strictly(made[call].out), call[0])


def answers_rightly(first: Answers, call: tuple[str, ...]) -> None:
    answer = first[call]
    # a fleet's folder holds dumps that no dialect knows
    refused = call[0] == "fleet" or (call[0] == "check" and unread(first, call[1]))
    assert answer.status in ((2,) if refused else (0, 1))
    assert "Traceback" not in answer.out + answer.err
    assert "internal fault" not in answer.err
    assert "The rule itself failed" not in answer.out
    assert answer.out.endswith("\n") or (call[-1] == "github" and not answer.out)


@pytest.mark.parametrize("call", CALLS[:: SEEDS["2026"]], ids=" ".join)
def test_a_call_gives_the_same_bytes_under_another_hash_seed(
    answers: dict[str, Answers], call: tuple[str, ...]
) -> None:
    assert answers["1"][call] == answers["2026"][call]


@pytest.mark.parametrize("call", [c for c in CALLS if c[-1] == "json"], ids=" ".join)
def test_machine_output_fits_its_schema(first: Answers, call: tuple[str, ...]) -> None:
    validate(_strictly(first[call].out), call[0])


@pytest.mark.parametrize("dump", sweep.dumps())
def test_check_exits_with_one_just_where_a_dump_that_was_audited_has_an_error(
    first: Answers, dump: str
) -> None:
    found = _strictly(first["check", dump, "--format", "json"].out)["dumps"][0]["findings"]
    errors = any(finding["level"] == "error" for finding in found)
    status = 2 if unread(first, dump) else int(errors)
    assert first["check", dump, "--format", "json"].status == status
    assert first["check", dump, "--format", "terminal"].status == status


def test_the_whole_craft_of_the_corpus_pass_and_an_unclosed_block_does_not(first: Answers) -> None:
    for dump in ("dipper.dump", "goosander.dump", "sandpiper.dump", "wagtail.dump"):
        assert first["check", dump, "--format", "terminal"].status == 0
    assert first["check", "broken/unclosed-block.dump", "--format", "terminal"].status == 1


def test_only_an_audit_gives_one_unasked(first: Answers) -> None:
    assert {call[0] for call, answer in first.items() if answer.status} == {"check", "fleet"}


@pytest.mark.parametrize("dump", sweep.dumps())
def test_no_verdict_says_that_a_craft_is_safe(first: Answers, dump: str) -> None:
    said = " ".join(first["check", dump, "--format", "terminal"].out.split())
    caution = "no proof that a craft is safe."
    assert not re.search(r"\bsafe\b", said.replace(caution, ""))
    assert said.endswith((caution, "The craft was not audited."))


@pytest.mark.parametrize("call", CALLS, ids=" ".join)
def test_no_control_or_bidirectional_character_comes_out(
    first: Answers, call: tuple[str, ...]
) -> None:
    out = first[call].out
    if "always" in call:  # our own colours are let through, and nothing else
        for colour in ("\x1b[1m", "\x1b[2m", "\x1b[0m", "\x1b[1;31m", "\x1b[1;33m", "\x1b[1;36m"):
            out = out.replace(colour, "")
    assert not [letter for letter in out if letter != "\n" and not letter.isprintable()]


@pytest.mark.parametrize("dump", ["dipper.dump", "goosander.dump", "wagtail.dump"])
def test_the_plain_form_of_a_dump_means_the_same_as_the_dump(
    first: Answers, dump: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tests.cli.calling import call

    plain = tmp_path / "plain.cfg"
    plain.write_text(first["plain", dump].out, encoding="utf-8")
    said = call(monkeypatch, ["diff", dump, str(plain), "--exit-code", "--format", "json"])
    assert _strictly(said.out)["changes"] == []
    assert said.status == 0


def _strictly(text: str) -> Any:
    """JSON as the standard has it: no NaN, no infinity, no key said twice."""

    def pairs(found: list[tuple[str, Any]]) -> dict[str, Any]:
        assert len({key for key, _ in found}) == len(found)
        return dict(found)

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    return json.loads(text, object_pairs_hook=pairs, parse_constant=refuse)
