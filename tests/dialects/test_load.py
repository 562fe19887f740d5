"""A dialect file that can't be used is refused, and the message says where and why."""

from pathlib import Path

import pytest

from cfgaudit.dialects.dialect import DialectError, load_dialect
from cfgaudit.vocabulary.kinds import version_numbers
from tests.dialects.demo import FILES, dialects


def refusal(folder: Path, text: str) -> str:
    file = folder / "reed.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DialectError) as caught:
        assert load_dialect(file).root  # the lines are read when they are first asked for
    assert str(caught.value).startswith(str(file))
    return str(caught.value)


def mapping(line: str) -> str:
    return f"name = 'reed'\n[[lines]]\nmap = ['{line}']\n"


def test_an_unknown_key_is_refused_with_the_nearest_one(tmp_path: Path) -> None:
    assert "faktory is no key of a dialect; did you mean factory?" in refusal(
        tmp_path, 'name = "reed"\n[faktory."1"]\n'
    )
    assert "look.prompt is no key of a dialect; did you mean prompts?" in refusal(
        tmp_path, 'name = "reed"\n[look]\nprompt = ["> "]\n'
    )
    assert "lines.maps is no key" in refusal(tmp_path, 'name = "reed"\n[[lines]]\nmaps = []\n')
    assert "versions.since is no key" in refusal(
        tmp_path, 'name = "reed"\n[[versions]]\nbefore = "3"\nsince = "2"\n'
    )


def test_a_file_without_a_name_is_refused(tmp_path: Path) -> None:
    assert 'name = "..." is expected' in refusal(tmp_path, 'about = "of a reed"\n')


def test_a_fault_of_the_file_form_is_told_with_its_line(tmp_path: Path) -> None:
    assert "reed.toml:2:9: " in refusal(tmp_path, 'name = "reed"\nabout = \n')


def test_a_file_that_is_missing_or_no_text_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DialectError, match="No such file"):
        load_dialect(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes(b'name = "r\xe9ed"\n')
    with pytest.raises(DialectError, match="is not UTF-8"):
        load_dialect(tmp_path / "latin.toml")


def test_a_specification_that_means_nothing_is_refused(tmp_path: Path) -> None:
    assert ":3:35: 'low = {battery.warn_cell: furlong V}': unknown unit 'furlong'" in refusal(
        tmp_path, mapping("low = {battery.warn_cell: furlong V}")
    )
    behind = "words NAME, flags NAME, not, from N, list, bit N, over N, below N, N/PATH, N/n or +"
    assert f"a number, a unit, {behind}" in refusal(
        tmp_path, mapping("low = {battery.warn_cell: = V}")
    )
    assert "a scale and a unit are expected" in refusal(
        tmp_path, mapping("low = {battery.warn_cell: 0 V}")
    )
    assert "an offset in the same unit" in refusal(
        tmp_path, mapping("low = {esc.pulse_min: 5 us + 3 V}")
    )


def test_a_placeholder_without_a_path_or_a_brace_is_refused(tmp_path: Path) -> None:
    wanted = "a setting's path or an index in capitals is expected"
    assert wanted in refusal(tmp_path, mapping("low = {: V}"))
    assert "a brace without its partner" in refusal(tmp_path, mapping("low = {battery.warn_cell"))


def test_tables_of_the_wrong_form_are_refused(tmp_path: Path) -> None:
    assert "flags.jobs.horn: a positive number is expected" in refusal(
        tmp_path, 'name = "reed"\n[flags.jobs]\nhorn = "loud"\n'
    )
    assert "words: a table is expected" in refusal(tmp_path, 'name = "reed"\nwords = 3\n')
    assert "off: a list of texts is expected" in refusal(
        tmp_path, 'name = "reed"\n[look]\noff = "nil"\n'
    )
    assert 'before = "a version" is expected' in refusal(
        tmp_path, 'name = "reed"\n[[versions]]\nrenames = {}\n'
    )


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_dialect_file_stays_short(file: Path) -> None:
    """The recorded factory values are left out: they are a list, and grow with each version."""
    mapping = file.read_text(encoding="utf-8").partition("\n[factory.")[0]
    assert len(mapping.splitlines()) <= 250


def test_a_dialect_is_named_as_its_file_and_says_what_it_is_about() -> None:
    assert [entry.name for entry in dialects()] == [file.stem for file in FILES]
    assert all(entry.about for entry in dialects())


def test_versions_are_ordered_by_their_numbers() -> None:
    assert version_numbers("2.10.1") > version_numbers("2.9")
    assert version_numbers("v3.1-reed") == (3, 1)
    assert version_numbers("reed") == ()
