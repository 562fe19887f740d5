"""Merges by setting against git's own text merge, on random edits of the demo craft.

*Reference library*: git merge-file of the git that is installed; its exit status is the number of
conflicts, at most 127, negative on error. Where git merges without a conflict, both outcomes must
say the same settings; the other way round git conflicts on neighbouring lines where we need not.
"""

from pathlib import Path
from random import Random

import pytest

from cfgaudit.git.merge import Marks, merge_text
from tests.cli.calling import CORPUS
from tests.git.demo import merged_bytes, reading, says

DUMPS = ("dipper.dump", "wagtail.dump", "goosander.dump", "wagtail-esc.dump", "dipper.cfg")
DIGITS = "0123456789"


def edited(data: bytes, chance: Random) -> bytes:
    """A few values changed, lines of settings taken out, comments put in; heads left alone."""
    lines = data.decode().split("\n")
    stated = reading(data, None).settings
    places = [entry.place for entry in stated.stated.values()]
    places += [entry.place for entry in stated.raw.values()]
    rows = sorted({place.line - 1 for place in places if place and place.line > 5})
    for row in chance.sample(rows, 4 if len(rows) > 100 else 2):
        fate = chance.choice(("digit", "digit", "out", "comment"))
        if fate == "digit" and any(letter in DIGITS for letter in lines[row][3:]):
            spots = [n for n, letter in enumerate(lines[row]) if n > 2 and letter in DIGITS]
            spot = chance.choice(spots)
            lines[row] = lines[row][:spot] + chance.choice(DIGITS) + lines[row][spot + 1 :]
        elif fate == "out":
            lines[row] = ""
        elif fate == "comment":
            lines[row] = f"# looked at\n{lines[row]}"
    return "\n".join(lines).encode()


@pytest.mark.parametrize("name", DUMPS)
def test_where_git_merges_cleanly_the_settings_are_the_same(name: str) -> None:
    base = Path(CORPUS / name).read_bytes()
    compared = 0
    for seed in range(6):
        chance = Random(f"{name} {seed}")
        ours, theirs = edited(base, chance), edited(base, chance)
        by_git = merge_text(base, ours, theirs, Marks())
        by_setting = merged_bytes(base, ours, theirs)
        assert by_setting.why_text == ""
        if by_git.conflicts == 0:
            assert by_git.data is not None
            assert by_setting.data is not None
            assert by_setting.clashes == ()
            assert says(by_setting.data) == says(by_git.data)
            compared += 1
    assert compared >= 2


def test_git_conflicts_on_neighbouring_lines_where_a_merge_by_setting_need_not() -> None:
    base = b"[pack]\ncells = 4\nlow = 350\n"
    ours, theirs = base.replace(b"4", b"3"), base.replace(b"350", b"345")
    assert merge_text(base, ours, theirs, Marks()).conflicts == 1
    assert merged_bytes(base, ours, theirs).data == b"[pack]\ncells = 3\nlow = 345\n"
