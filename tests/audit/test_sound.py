"""Sound craft, written without the rules in view, are left in peace but for what they own to."""

import tomllib
from pathlib import Path
from typing import Final

import pytest

from cfgaudit.audit.engine import Finding
from cfgaudit.rules.rule import Level
from tests.audit.sound import CRAFT, HARMLESS, edited_audit, is_about, owned, sound_audit, told

_LISTED: Final = tomllib.loads(
    (Path(__file__).parent / "reviewed.toml").read_text(encoding="utf-8")
)
# Craft of which a rule says what their builder does not own to, each with the reason.
DISPUTED: Final[dict[str, str]] = _LISTED["disputed"]


def unowned(craft: str) -> list[str]:
    """The errors and warnings that a sound craft does not own to."""
    own = owned(craft)
    return [
        f"{finding.rule.id}: {finding.message}"
        for finding in sound_audit(craft).findings
        if finding.level is not Level.NOTE and not _owned(finding, own)
    ]


def _owned(finding: Finding, own: dict[tuple[str, ...], str]) -> bool:
    return any(is_about(finding, paths) for paths in own)


@pytest.mark.parametrize("craft", CRAFT)
def test_a_sound_craft_has_no_error_and_no_warning_but_what_it_owns_to(craft: str) -> None:
    found = [said for said in unowned(craft) if f"{craft}: {said.split(': ')[0]}" not in DISPUTED]
    assert found == []


@pytest.mark.parametrize("craft", [craft for craft in CRAFT if owned(craft)])
def test_what_a_sound_craft_owns_to_is_found(craft: str) -> None:
    grave = [finding for finding in sound_audit(craft).findings if finding.level is not Level.NOTE]
    for paths in owned(craft):
        assert any(is_about(finding, paths) for finding in grave), paths


def test_no_dispute_is_listed_that_is_settled() -> None:
    still = {f"{craft}: {said.split(': ')[0]}" for craft in CRAFT for said in unowned(craft)}
    assert set(DISPUTED) <= still
    assert all(why.strip() for why in DISPUTED.values())


@pytest.mark.parametrize("edit", HARMLESS, ids=told)
def test_a_harmless_edit_brings_no_error_and_no_warning(edit: dict[str, object]) -> None:
    before = {(f.rule.id, f.paths, f.level) for f in sound_audit(str(edit["craft"])).findings}
    brought = [
        f"{f.rule.id}: {f.message}"
        for f in edited_audit(edit).findings
        if f.level is not Level.NOTE and (f.rule.id, f.paths, f.level) not in before
    ]
    assert brought == []
