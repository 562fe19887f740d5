from pathlib import Path

import pytest

from cfgaudit.dialects.checking import check_text
from cfgaudit.dialects.dialect import load_dialect
from cfgaudit.dialects.opening import open_dump
from cfgaudit.reading.text import read_text
from cfgaudit.teach.write import draft_dialect, read_draft
from tests.cli.calling import CORPUS

PACK = b"""# reed 1.2 on Sluice 2, built 2026-01-02
# hundredths of a volt
[battery]
full_cell = 420
warn_cell = 350
empty_cell = 330
cells = 4
tune = 17
[receiver]
channels = 16
deadband_us = 4
"""


def test_a_draft_loads_and_reads_its_dump(tmp_path: Path) -> None:
    draft = draft_dialect(["a.dump"], [read_text(PACK)])
    file = tmp_path / "reed.toml"
    file.write_text(draft.text, encoding="utf-8")
    opened = open_dump("a.dump", PACK, [load_dialect(file)])
    stated = {path: s.value for path, s in opened.settings.stated.items() if s.place}
    assert opened.dialect.name == "reed"
    assert stated["battery.full_cell"] == 4.2
    assert stated["battery.warn_cell"] == 3.5
    assert stated["battery.empty_cell"] == 3.3
    assert stated["firmware.version"] == "1.2"
    assert not opened.settings.troubles


def test_what_is_not_sure_stands_as_a_comment_with_its_values() -> None:
    text = draft_dialect(["a.dump"], [read_text(PACK)]).text
    assert '"tune' not in text
    assert any("tune" in line and "17" in line for line in text.splitlines() if "#" in line)


@pytest.mark.parametrize("name", ["sandpiper", "wagtail-esc"])
def test_nothing_is_wrong_with_a_draft_of_other_corpus_dumps(name: str) -> None:
    draft = draft_dialect([name], [read_text((CORPUS / f"{name}.dump").read_bytes())])
    read_draft(draft)
    assert check_text(draft.text) == ()


@pytest.mark.parametrize("file", sorted((CORPUS / "broken").iterdir()), ids=lambda f: f.name)
def test_a_draft_of_any_bytes_is_a_dialect(file: Path) -> None:
    draft = draft_dialect([file.name], [read_text(file.read_bytes())])
    read_draft(draft).root  # noqa: B018 (compiles the lines)


def test_text_of_a_dump_can_not_break_out_of_the_draft() -> None:
    hostile = b'k"]\\n[given] = 1\n{craft.name} = 2\n"""x = 3\nname = "a\\u0000b"\nx{y = "}"\n'
    draft = draft_dialect(["a"], [read_text(hostile)])
    assert read_draft(draft).given == {}


def test_two_dumps_of_one_firmware_tell_more_words_than_one() -> None:
    one = b"[motor fl]\nspin = clockwise\n[motor fr]\nspin = anticlockwise\n"
    two = one + b"[motor rl]\nspin = anticlockwise\n[motor rr]\nspin = clockwise\n"
    both = draft_dialect(["a", "b"], [read_text(one), read_text(two)])
    samples = [s.text for p in both.proposals for s in p.seen.samples]
    assert len(samples) == 6


@pytest.mark.parametrize("name", ["terminal-colours", "line-numbers", "forum-quote"])
def test_what_pasting_put_into_a_dump_is_no_part_of_the_draft(name: str) -> None:
    data = (CORPUS / "pasted" / f"{name}.dump").read_bytes()
    draft = draft_dialect([name], [read_text(data)])
    head = next(line for line in draft.text.splitlines() if line.startswith("head = "))
    assert head.startswith('head = ["# ')
    assert "\\u001b" not in draft.text
    assert "thorn@" not in draft.text
    assert draft.active > 30


def test_a_draft_tells_nothing_of_whose_the_dump_is() -> None:
    dump = (CORPUS / "pasted" / "with-secrets.dump").read_bytes()
    text = draft_dialect(["a"], [read_text(dump)]).text
    secrets = ("M. Thorn", "OW-0223", "53.4384", "three grey herons", "Alder Bridge", "1f:a2:03")
    assert [secret for secret in secrets if secret in text] == []
    assert '"plate {craft.serial}"' in text


def test_a_draft_hides_what_is_private_and_no_word_that_only_stands_beside_such_a_key() -> None:
    """A serial number has figures; a line that is called serial and says words says none."""
    lines = b"serial stork\nstilt serial = 0419-22-AB77\n"
    text = draft_dialect(["a.dump"], [read_text(lines)]).text
    assert "stork" in text
    assert "0419" not in text
