"""A redacted dump tells nothing private, and is read and audited as the dump was."""

import tomllib
from functools import cache
from pathlib import Path

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.dialect import build_dialect, load_dialect
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.redaction import redact
from cfgaudit.reports.secrets import masked_settings
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import HIDDEN
from tests.audit.seeding import dialects, faults, opened, seeded
from tests.dialects.demo import BROKEN, CORPUS, DUMPS, FACTORY

FILES = (*DUMPS, *FACTORY, *BROKEN, *sorted((CORPUS / "pasted").iterdir()))
# a redacted name is plain text, whatever stood in it
UNSAFE_NAME = {"bidi-name"}


def read(data: bytes) -> Opened:
    return open_dump("a.dump", data, dialects())


@cache
def of(path: Path) -> Opened:
    return read(path.read_bytes())


def found(settings: Settings) -> list[object]:
    """What the audit says, but for the rules that ask for a redaction, and a name that acts."""
    outcome = audit(settings)
    spoken = [
        (f.rule.id, f.level, f.paths, f.figures, f.fingerprint)
        for f in outcome.findings
        if f.rule.id
        not in ("dump/secret-present", "dump/unsafe-text")  # a name may act on a screen
    ]
    return [*spoken, *((entry.rule.id, entry.lacks) for entry in outcome.not_checked)]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_redacting_twice_changes_nothing_more(path: Path) -> None:
    once = redact(of(path)).data
    again = redact(read(once))
    assert again.data == once
    assert again.hidden == ()


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_audit_of_a_redacted_dump_finds_the_same(path: Path) -> None:
    if path.stem in UNSAFE_NAME:
        return
    before, after = of(path), read(redact(of(path)).data)
    assert after.dialect.name == before.dialect.name
    assert found(after.settings) == found(before.settings)
    rules = {f.rule.id for f in audit(after.settings).findings}
    assert "dump/secret-present" not in rules


@pytest.mark.parametrize("fault", faults()[::14], ids=lambda fault: f"{fault.dump}-{fault.rule}")
def test_a_seeded_fault_is_found_in_the_redacted_dump_too(fault: object) -> None:
    assert hasattr(fault, "dump")
    text = seeded(fault)  # type: ignore[arg-type]
    before = opened(fault.dump, text)
    after = read(redact(before).data)
    assert found(after.settings) == found(before.settings)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_other_byte_stays(path: Path) -> None:
    before = of(path)
    done = redact(before)
    lines = before.document.text.lines
    after = read(done.data).document.text
    assert after.ends == before.document.text.ends
    touched = {entry.line for entry in done.hidden}
    for number, (old, new) in enumerate(zip(lines, after.lines, strict=True), 1):
        if number not in touched:
            assert new == old
        else:
            head, _, tail = new.partition(HIDDEN)
            assert old.startswith(head)
            assert old.endswith(tail.rpartition(HIDDEN)[2])


SECRETS = (
    b"M. Thorn", b"Alder Bridge survey", b"OW-0223", b"53.43841", b"-2.52430", b"three grey herons",
    b"1f:a2:03", b"m.thorn@", b"960 961", b"26'18.3", b"5326.305", b"9C5VCFQG",
)  # fmt: skip


def test_nothing_private_is_left_in_a_dump_that_is_full_of_it() -> None:
    path = CORPUS / "pasted" / "with-secrets.dump"
    assert all(secret in path.read_bytes() for secret in SECRETS)
    done = redact(of(path))
    assert [secret for secret in SECRETS if secret in done.data] == []
    assert {"craft.owner", "craft.serial", "home.place", "bind_phrase", "radio_uid"} <= {
        entry.what for entry in done.hidden
    }


def test_a_secret_said_again_in_a_remark_or_a_free_text_is_hidden_there_too() -> None:
    text = (
        b"[craft]\nname = Dipper\nowner = weir-team\n[board]\nname = HB-7\n"
        b"# flown by WEIR-TEAM, not by weir-teams\nnote = ask weir-team\n"
    )
    data = redact(read(text)).data.decode()
    assert "# flown by (hidden), not by weir-teams\nnote = ask (hidden)\n" in data
    assert "[board]\nname = HB-7" in data


def test_a_word_that_states_a_setting_stays_though_it_is_also_the_owners() -> None:
    text = b"[craft]\nowner = spare\nname = inward\n[frame]\nrotation = inward\n"
    data = redact(read(text)).data.decode()
    assert data == "[craft]\nowner = (hidden)\nname = (hidden)\n[frame]\nrotation = inward\n"


def test_a_remark_that_names_the_owner_in_a_settings_manner_is_hidden() -> None:
    data = redact(read(b"# pilot: M. Thorn\n# flown by M. Thorn\nwarm = 1\n")).data
    assert data == b"# pilot: (hidden)\n# flown by (hidden)\nwarm = 1\n"


def test_a_line_that_cannot_be_read_hides_what_its_key_promises() -> None:
    text = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
    broken = text.replace("keeper = weir-team", 'keeper = "weir-team')
    done = redact(read(broken.encode()))
    assert b"weir-team" not in done.data


def test_a_value_over_several_lines_is_hidden_in_each_of_them() -> None:
    head = "# sedge 2.4.1 on HB-7 rev C, built 2026-03-18\n[craft]\n"
    done = redact(read(f"{head}keeper = weir \\\n    team\ncalled = a1\n".encode()))
    assert b"weir" not in done.data
    assert b"team" not in done.data


def test_the_name_can_be_kept() -> None:
    done = redact(of(CORPUS / "dipper.dump"), names=False)
    assert b"called = dipper" in done.data
    assert b"weir-team" not in done.data


def test_what_was_hidden_is_listed_in_order_and_never_with_its_value() -> None:
    done = redact(of(CORPUS / "pasted" / "with-secrets.dump"))
    assert list(done.hidden) == sorted(done.hidden)
    said = " ".join(f"{entry.what} {entry.why}" for entry in done.hidden).encode()
    assert [secret for secret in SECRETS if secret in said] == []


def test_a_fingerprint_does_not_depend_on_a_secrets_value() -> None:
    marks = set()
    for owner in ("weir-team", "ferry-team"):
        outcome = audit(read(f"[craft]\nowner = {owner}\n".encode()).settings)
        (one,) = [f for f in outcome.findings if f.rule.id == "dump/secret-present"]
        marks.add(one.fingerprint)
    assert len(marks) == 1


def test_a_line_of_words_is_private_by_its_second_word_too() -> None:
    data = redact(read(b"home lat 53.1\nhome height 40\ncraft serial X-1\nlamp serial\n")).data
    assert data == b"home lat (hidden)\nhome height 40\ncraft (hidden)\nlamp serial\n"
    said = (
        b'craft name Dipper\ncraft owner "Ann Heron"\nset craft serial to X-1\nset esc idle to 4\n'
    )
    said += b"pilot Owner Wren\n"
    assert redact(read(said)).data.split(b"\n")[1:3] == [
        b'craft (hidden) "(hidden)"',
        b"set craft (hidden)",
    ]
    assert b'craft owner "(hidden)"' in redact(read(said[: said.rindex(b"pilot")])).data


_HEAD = 'name = "rushes"\n[look]\nhead = ["; rushes {firmware.version} on board {board.name}"]\n'
_READS = {
    "nothing of it": "",
    "a secret of one word": '"craft keeper: {craft.owner}",',
    "another text": '"craft keeper: {board.name}",',
    "a number": '"craft keeper: {loop.rate: Hz}",',
}


@pytest.mark.parametrize("owner", ["north", "north team", "Anna of the north"])
@pytest.mark.parametrize("line", _READS.values(), ids=_READS)
def test_what_a_key_says_is_private_is_hidden_whatever_a_dialect_makes_of_it(
    line: str, owner: str, tmp_path: Path
) -> None:
    dialect = tmp_path / "rushes.toml"
    dialect.write_text(f'{_HEAD}[[lines]]\nmap = [{line} "craft name: {{craft.name}}"]\n')
    dump = f"; rushes 3.1 on board Fen 2\ncraft name: Teal\ncraft keeper: {owner}\nmotors 4\n"
    for known in ((), (load_dialect(dialect),)):
        opened = open_dump("a.dump", dump.encode(), known)
        assert b"craft keeper: (hidden)\nmotors 4\n" in redact(opened).data
        told = (*masked_settings(opened.settings).stated.values(), *opened.settings.troubles)
        shown = [*map(str, told), *map(str, masked_settings(opened.settings).raw.values())]
        assert not any("north" in text.lower() for text in shown)


@pytest.mark.parametrize("name", ["Teal", "Blue Teal", "Teal of the north"])
@pytest.mark.parametrize("line", ["craft called: {}", "called = {}", "craft, called, {}"])
def test_a_line_that_a_dialect_has_for_a_secret_is_hidden_though_its_value_is_none_for_it(
    line: str, name: str, tmp_path: Path
) -> None:
    dialect = tmp_path / "rushes.toml"
    mapped = f'"{line.format("{craft.name}")}"'
    dialect.write_text(f"{_HEAD}[[lines]]\nmap = [{mapped}]\n")
    dump = f"; rushes 3.1 on board Fen 2\n{line.format(name)}\nmotors 4\n"
    done = redact(open_dump("a.dump", dump.encode(), (load_dialect(dialect),)))
    assert done.data.decode().splitlines()[1] == line.format("(hidden)")


def test_an_owner_of_the_firmware_s_name_leaves_the_dump_known_by_its_head() -> None:
    dump = (CORPUS / "dipper.dump").read_bytes()
    keeper = b"keeper = weir-team"
    assert keeper in dump
    assert b"\n# sedge 2.4.1 on HB-7 " in dump
    once = redact(read(dump.replace(keeper, b"keeper = Sedge, HB-7"))).data
    assert b"\n# sedge 2.4.1 on (hidden) " in once  # the board's name is no word of the firmware's
    assert b"keeper = (hidden)\n" in once
    assert read(once).dialect.name == "sedge"
    assert redact(read(once)).data == once


@pytest.mark.parametrize(
    ("name", "head"),
    [("Teal", "; rushes 3.1 of (hidden), printed"), ("rushes", "; rushes 3.1 of rushes, printed")],
)
def test_a_name_in_a_head_that_was_made_of_this_dump_is_hidden_unless_it_is_the_firmware_s(
    name: str, head: str, tmp_path: Path
) -> None:
    dialect = tmp_path / "rushes.toml"
    look = f'[look]\nhead = ["; rushes {{firmware.version}} of {name}, printed"]\n'
    dialect.write_text(f'name = "rushes"\n{look}[[lines]]\nmap = ["craft name: {{craft.name}}"]\n')
    dump = f"; rushes 3.1 of {name}, printed\ncraft name: {name}\n".encode()
    done = redact(open_dump("a.dump", dump, (load_dialect(dialect),)))
    assert done.data.decode().splitlines() == [head, "craft name: (hidden)"]


def test_what_is_hidden_cell_by_cell_is_not_hidden_again() -> None:
    head = "# marl 1.12.0 upon Weir 2, issue D, laid down 2026-05-11\nitem,value,unit,step\n"
    dump = f'{head}called,"(hidden)",-,-\n'.encode()
    assert redact(read(dump)).data == dump


def test_the_firmwares_own_words_stay_in_a_head_line_below_a_pasted_prompt() -> None:
    # the keeper has the firmware's name; hidden there, the dump would be read as none it knows
    text = 'osier> tell all\n# alder tells of four drives\nkeeper "Alder Bridge survey"\n'
    before = read(text.encode())
    once = redact(before).data
    assert b"# alder tells of four drives" in once
    assert b"Bridge" not in once
    assert redact(read(once)).data == once


def test_a_name_in_a_row_outside_its_block_is_hidden_though_a_dash_stands_last() -> None:
    # without `begin craft` no mapping takes the rows, and the cells that tell them apart are key
    head = "# marl 1.12.0 upon Weir 2, issue D, laid down 2026-05-11\nitem,value,unit,step\n"
    rows = 'called,"Teal",e,x\ncalled,"Teal",-,-\ncalled,"Smew",-,-\n'
    done = redact(read(f"{head}{rows}".encode()))
    assert b"Teal" not in done.data
    assert b"Smew" not in done.data
    assert redact(read(done.data)).data == done.data


def test_an_owner_with_a_word_of_the_end_mark_leaves_the_mark_as_it_is() -> None:
    # hidden there, the dump would have no end, and what stands behind it would be read with it
    text = '# alder tells of four drives\nkeeper "Alder Bridge survey"\nalder has spoken\n'
    before = read(text.encode())
    once = redact(before).data
    assert b"\nalder has spoken\n" in once
    assert b"Bridge" not in once
    assert redact(read(once)).data == once


@pytest.mark.parametrize("owner", ["M. Thorn, +44 1632 960114", "M. Thorn"])
def test_dots_that_lead_to_a_hidden_value_stay(owner: str) -> None:
    text = "craft\n  pilot ........ {}\n  weight ....... 610 g\n"
    once = redact(read(text.format(owner).encode())).data
    assert once.decode() == text.format("(hidden)")
    assert redact(read(once)).data == once


@pytest.mark.parametrize("sign", ["=", ":"])
def test_what_a_further_key_on_a_line_says_of_somebody_is_hidden(sign: str) -> None:
    text = f'craft cells{sign}4 pilot{sign}"J. Reed" phone{sign}0123456789\nmotors 4\n'
    once = redact(read(text.encode())).data
    assert (
        once.decode() == f'craft cells{sign}4 pilot{sign}"(hidden)" phone{sign}(hidden)\nmotors 4\n'
    )
    assert redact(read(once)).data == once


_CRESS = """
name = "cress"
[[lines]]
map = ["The craft * name:{craft.name} and belongs to owner:* with serial:{craft.serial}"]
[[lines]]
under = ["[who]"]
map = ["call {craft.name}"]
"""


def by_cress(text: str) -> Opened:
    dialect = build_dialect(tomllib.loads(_CRESS), "cress.toml")
    return open_dump("a.dump", text.encode(), [], dialect)


def test_of_a_line_that_is_read_only_its_private_words_are_hidden() -> None:
    dump = "The craft is name:Grebe and belongs to owner:Ann_Reed with serial:WY-00418-2231\n"
    once = redact(by_cress(dump)).data
    assert once == (
        b"The craft is name:(hidden) and belongs to owner:(hidden) with serial:(hidden)\n"
    )
    again = by_cress(once.decode())
    assert again.settings.stated.keys() == by_cress(dump).settings.stated.keys()
    assert redact(again).data == once


def test_where_a_text_stands_is_no_name_though_its_key_is_a_name_s() -> None:
    found = redact(by_cress("[who]\ncall Grebe\n[text]\ncall 1 1 1\ncall Grebe\n"))
    assert found.data == b"[who]\ncall (hidden)\n[text]\ncall 1 1 1\ncall (hidden)\n"


def test_words_that_no_key_calls_private_are_told_where_no_dialect_knows_them() -> None:
    text = "call Grebe\nnumber CB3-7719-0042\nboard HB-7\ncall 1 1 1\nphrase reeds-in-mist\n"
    found = redact(open_dump("a.dump", text.encode(), []))
    assert found.left == (1, 2)
    assert found.data.endswith(b"phrase (hidden)\n")


def test_what_redact_hides_in_a_sentence_no_report_shows() -> None:
    text = "The craft belongs to owner:Ann_Reed with serial:WY-00418-2231\nserial:WY-00418-2231 x\n"
    opened = open_dump("a.dump", text.encode(), [])
    shown = masked_settings(opened.settings).raw
    told = " ".join(f"{key} {raw.value}" for key, raw in shown.items())
    assert "Reed" not in told
    assert "2231" not in told
    assert b"2231" not in redact(opened).data


def test_the_rest_of_a_private_word_that_a_wrap_cut_is_hidden_too() -> None:
    lines = [f"Socket {n} talks bauds:115200 with the link:handset" for n in range(9)]
    whole = ["The craft is Grebe and has the serial:WY-00418-2231", *lines, "Talk link:no it:is"]
    text = "\n".join(piece for line in whole for piece in (line[:47], line[47:]) if piece)
    assert "\n2231\n" in text
    hidden = redact(open_dump("a.dump", text.encode(), [])).data
    assert hidden.startswith(b"The craft is Grebe and has the serial:(hidden)\n(hidden)\nSocket 0 ")


@pytest.mark.parametrize(
    ("line", "own"),
    [
        ('[CRAFT] name="Dunlin", serial="SM-0088", owner="Weir team, lower reach"', "Weir team"),
        ('craft name="Dunlin", serial="SM-0088", owner="Weir team, lower reach"', "SM-0088"),
        ("Craft owner is Weir team, lower reach.", "Weir team"),
        ('receiver(bind "lower reach otter 71")', "otter"),
    ],
)
def test_pairs_in_cells_and_sentences_with_commas_hide_what_is_somebody_s(
    line: str, own: str
) -> None:
    rows = [f"[PORT s{n}] role=receiver, baud=115200" for n in range(1, 6)]
    text = "\n".join([line, *(rows if line.startswith("[") else [])])
    hidden = redact(open_dump("a.dump", text.encode(), ())).data.decode()
    assert own not in hidden
    assert "lower reach" not in hidden


LINES = (
    "<param name=\"craft_owner\" value=\"{}\"/>", "<owner>{}</owner>", "craft_owner({})",
    "set('craft.owner', '{}');", "owner | {} | note", "port one; craft owner {}; cells 4",
    "craft --owner {} --cells 4", "craft (cells=4, owner={})", "{}      craft_owner",
    "s\" {}\" craft-owner", "UPDATE x SET value='{}' WHERE name='craft_owner';",
    "key=owner value={}", "craft has owner {}, cells 4", "00120 HEADER OPERATOR-INITIALS  {}",
)  # fmt: skip


@pytest.mark.parametrize("line", LINES)
def test_an_owner_is_hidden_in_a_line_of_any_look_and_its_key_stays(line: str) -> None:
    data = "\n".join(["unknown 1 2", line.format("Thornbeck"), "unknown 3 4", ""]).encode()
    done = redact(read(data))
    assert b"Thornbeck" not in done.data
    key = "operator" if "OPERATOR" in line else "owner"
    first = line.startswith("{}")  # what stands there is a key for whoever reads it again
    assert first or key in done.data.decode().lower()
    assert redact(read(done.data)).data == done.data


@pytest.mark.parametrize(
    "line",
    [
        "serial.1.job = console",
        "serial 2 receiver",
        "control = serial",
        "camera keys  serial",
        "plate off",
        "pilot: none",
        'b = "Reed Plate"',
    ],
)
def test_a_word_that_only_looks_like_a_key_hides_nothing(line: str) -> None:
    data = f"unknown 1 2\n{line}\nunknown 3 4\n".encode()
    assert redact(read(data)).data == data
