import json
import shutil
import sys
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, Answer, call, run


def test_new_writes_a_file_that_try_then_reads(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "draft.toml"
    made = call(monkeypatch, ["dialect", "new", "dipper.dump", "--output", str(file)])
    assert made.status == 0
    assert "lines at work" in made.err
    tried = call(
        monkeypatch, ["dialect", "try", "dipper.dump", "--dialect", str(file), "--format", "json"]
    )
    told = json.loads(tried.out)
    assert told["settings"] > 150
    assert told["failed"] == []
    assert told["wanted"]


def test_new_needs_nothing_extra_and_names_the_next_step(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "rapidfuzz", None)
    answer = call(monkeypatch, ["dialect", "new", "dipper.dump"])
    assert answer.status == 0
    assert "cfgaudit dialect teach dipper.dump" in answer.err


def test_new_tells_for_each_field_what_it_may_be(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dump = tmp_path / "toy.dump"
    dump.write_text(
        "pack {\n  warn cell 3500\n  full cell 4200\n  empty cell 3300\n  cells 4\n}\n",
        encoding="utf-8",
    )
    told = json.loads(call(monkeypatch, ["dialect", "new", str(dump), "--format", "json"]).out)
    (field,) = [one for one in told["fields"] if one["text"] == "3500"]
    assert (field["line"], field["column"]) == (2, 13)
    assert field["candidates"][0]["path"] == "battery.warn_cell"


TOY = (
    "firmware name reed\nfailsafe action 2\nfailsafe throttle 1300\nreceiver link 3\n"
    "receiver low 1000\nreceiver high 2000\n"
)


def test_a_draft_is_found_again_and_taken_up_by_teach(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "toy.dump").write_text(TOY, encoding="utf-8")
    known = "failsafe.action = land\nreceiver.link = sbus\n"
    (tmp_path / "known.cfg").write_text(known, encoding="utf-8")
    new = ["dialect", "new", "toy.dump", "--output", "reed.toml", "--remember"]
    assert call(monkeypatch, new, cwd=tmp_path).status == 0
    teach = ["dialect", "teach", "toy.dump", "--answers", "known.cfg", "--output", "reed.toml"]
    assert call(monkeypatch, teach, cwd=tmp_path).status == 0
    shown = call(monkeypatch, ["show", "toy.dump", "--format", "json"], cwd=tmp_path)
    assert json.loads(shown.out)["settings"]["failsafe.action"]["value"] == "land"


def test_teach_leaves_a_file_alone_that_somebody_wrote_in(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "toy.dump").write_text(TOY, encoding="utf-8")
    call(monkeypatch, ["dialect", "new", "toy.dump", "--output", "reed.toml"], cwd=tmp_path)
    own = (tmp_path / "reed.toml").read_text(encoding="utf-8") + "# mine\n"
    (tmp_path / "reed.toml").write_text(own, encoding="utf-8")
    teach = ["dialect", "teach", "toy.dump", "--most", "0", "--output", "reed.toml"]
    assert call(monkeypatch, teach, cwd=tmp_path).status == 2
    assert (tmp_path / "reed.toml").read_text(encoding="utf-8") == own


def test_diff_reads_each_side_in_a_dialect_of_its_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.dump").write_text("low 35\n", encoding="utf-8")
    (tmp_path / "b.dump").write_text("low 350\n", encoding="utf-8")
    for name, step in (("a", "0.1"), ("b", "0.01")):
        mapped = f"low {{battery.warn_cell: {step} V}}"
        text = f'name = "{name}"\n[[lines]]\nmap = ["{mapped}"]\n'
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    asked = ["diff", "a.dump", "b.dump", "--format", "json", "--dialect", "a.toml"]
    alike = call(monkeypatch, [*asked, "--dialect-of", "b.dump=b.toml"], cwd=tmp_path)
    assert json.loads(alike.out)["changes"] == []  # 3.5 V on either side
    other = call(monkeypatch, asked, cwd=tmp_path)
    assert [change["path"] for change in json.loads(other.out)["changes"]] == ["battery.warn_cell"]


SEDGE, OSIER = "dialects/sedge.toml", "dialects/osier.toml"


@pytest.mark.parametrize("command", ["diff", "compare"])
def test_two_dialects_for_two_dumps_are_each_for_a_dump_that_is_named(
    monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """corpus/dipper.dump is of sedge, corpus/wagtail.dump of osier."""
    pair = [command, "dipper.dump", "wagtail.dump"]
    both = call(monkeypatch, [*pair, "--dialect", SEDGE, "--dialect", OSIER])
    assert (both.status, both.out) == (2, "")
    assert "--dialect-of DUMP=NAME|FILE" in both.err
    same = call(monkeypatch, [*pair[:2], "dipper.dump", "--dialect", SEDGE, "--dialect", SEDGE])
    assert same.status == 0
    own = call(monkeypatch, [*pair, "--dialect", SEDGE, "--dialect-of", f"wagtail.dump={OSIER}"])
    assert own.out == call(monkeypatch, pair).out
    stray = call(monkeypatch, [*pair, "--dialect-of", f"old={SEDGE}"])
    assert (stray.status, stray.out) == (2, "")
    assert "none of the dumps, which are dipper.dump and wagtail.dump" in stray.err
    foreign = call(monkeypatch, [*pair, "--dialect", OSIER])
    assert (foreign.status, foreign.out) == (2, "")
    assert "dipper.dump is not of this dialect" in foreign.err


def test_a_dump_is_read_in_one_dialect(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = call(monkeypatch, ["show", "dipper.dump", "--dialect", SEDGE, "--dialect", OSIER])
    assert (asked.status, asked.out) == (2, "")
    assert "give one" in asked.err


def test_learn_leaves_a_dialect_alone_for_a_part_of_a_range(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "reed.toml").write_text('name = "reed"\n', encoding="utf-8")
    asked = lesson(tmp_path, "[levers]\narm 4 1750 2100\n", "[levers]\narm 4 1600 2100\n")
    into = ["--into", "reed.toml"]
    part = call(monkeypatch, [*asked, "--set", "switches.arm.low=1600 us", *into], cwd=tmp_path)
    assert part.status == 0
    assert "with --set switches.arm=VALUE all of it is learnt" in part.err
    assert (tmp_path / "reed.toml").read_text(encoding="utf-8") == 'name = "reed"\n'
    call(monkeypatch, [*asked, "--set", "switches.arm=5: 1600..2100 us", *into], cwd=tmp_path)
    shown = ["show", "b", "--dialect", "reed.toml", "--format", "json"]
    told = json.loads(call(monkeypatch, shown, cwd=tmp_path).out)["settings"]
    assert told["switches.arm"]["value"] == [{"channel": 5, "low": 1600.0, "high": 2100.0}]


def test_teach_answers_from_a_file_and_goes_on_where_it_stopped(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dump, known = tmp_path / "toy.dump", tmp_path / "known.cfg"
    dump.write_text(
        "firmware name reed\nfailsafe action 2\nfailsafe throttle 1300\nreceiver link 3\n"
        "receiver low 1000\nreceiver high 2000\n",
        encoding="utf-8",
    )
    known.write_text("failsafe.action = land\nreceiver.link = sbus\n", encoding="utf-8")
    file = tmp_path / "reed.toml"
    asked = ["dialect", "teach", str(dump), "--answers", str(known), "--output", str(file)]
    one = call(monkeypatch, [*asked, "--most", "1"])
    assert one.status == 0
    assert file.read_text(encoding="utf-8").count("# told: ") == 1
    both = call(monkeypatch, [*asked, "--remember"])
    assert both.status == 0
    shown = call(monkeypatch, ["show", str(dump), "--format", "json"])
    settings = json.loads(shown.out)["settings"]
    assert settings["failsafe.action"]["value"] == "land"
    assert settings["receiver.link"]["value"] == "sbus"


def test_a_taught_dialect_tells_no_name_and_is_gone_on_with_all_the_same(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dump, known = tmp_path / "toy.dump", tmp_path / "known.cfg"
    dump.write_text(
        "firmware name reed\ncall Grebe\nnumber CB3-7719-0042\nphrase reeds-in-the-mist\n"
        "failsafe action 2\nfailsafe throttle 1300\nreceiver link 3\nreceiver low 1000\n",
        encoding="utf-8",
    )
    known.write_text("craft.name = Grebe\nfailsafe.action = land\n", encoding="utf-8")
    file = tmp_path / "reed.toml"
    asked = ["dialect", "teach", str(dump), "--answers", str(known), "--output", str(file)]
    for _ in range(2):  # the second time it takes up what the file keeps
        assert call(monkeypatch, [*asked, "--no-remember"]).status == 0
        text = file.read_text(encoding="utf-8")
        assert "{craft.name}" in text
        assert '"(hidden)", "path": "craft.name"' in text
        assert not [word for word in ("Grebe", "7719", "in-the-mist") if word in text]


def test_try_lists_what_to_map_next(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    dump = tmp_path / "small.dump"
    dump.write_text("[pack]\ncell_low = 350\nfeathers = 3\n", encoding="utf-8")
    dialect = str(CORPUS / "dialects" / "sedge.toml")
    answer = call(monkeypatch, ["dialect", "try", str(dump), "--dialect", dialect])
    assert answer.status == 0
    assert "pack/feathers" in answer.out
    assert "Map next" in answer.out
    assert all(len(line) <= 80 for line in answer.out.splitlines()[1:])


def lesson(folder: Path, before: str, after: str) -> list[str]:
    """The call that learns from two dumps, which are written."""
    (folder / "a").write_text(before, encoding="utf-8")
    (folder / "b").write_text(after, encoding="utf-8")
    return ["dialect", "learn", "a", "b"]


def test_learn_adds_its_line_to_a_dialect(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    dialect = tmp_path / "reed.toml"
    dialect.write_text('name = "reed"\n', encoding="utf-8")
    asked = lesson(tmp_path, "[pack]\nlow = 350\n", "[pack]\nlow = 345\n")
    asked += ["--set", "battery.warn_cell=3.45 V"]
    answer = call(monkeypatch, [*asked, "--into", "reed.toml"], cwd=tmp_path)
    assert answer.status == 0
    assert "low = {battery.warn_cell: 0.01 V}" in answer.out
    shown = call(
        monkeypatch,
        ["show", "b", "--dialect", "reed.toml", "--format", "json"],
        cwd=tmp_path,
    )
    assert json.loads(shown.out)["settings"]["battery.warn_cell"]["value"] == 3.45


def test_learn_leaves_a_dialect_alone_where_two_keys_are_equal(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dialect = tmp_path / "reed.toml"
    dialect.write_text('name = "reed"\n', encoding="utf-8")
    (tmp_path / "a").write_text("one = 350\ntwo = 350\n", encoding="utf-8")
    (tmp_path / "b").write_text("one = 345\ntwo = 345\n", encoding="utf-8")
    asked = ["dialect", "learn", "a", "b", "--set", "battery.warn_cell=3.45 V"]
    answer = call(monkeypatch, [*asked, "--into", "reed.toml"], cwd=tmp_path)
    assert answer.status == 1
    assert "2 keys explain" in answer.out
    assert dialect.read_text(encoding="utf-8") == 'name = "reed"\n'


def test_learn_refuses_a_dialect_that_it_would_spoil(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shutil.copy(CORPUS / "dialects" / "sedge.toml", tmp_path / "sedge.toml")
    before = (tmp_path / "sedge.toml").read_bytes()
    (tmp_path / "a").write_text("[pack]\nlow = 350\n", encoding="utf-8")
    (tmp_path / "b").write_text("[pack]\nlow = 345\n", encoding="utf-8")
    asked = ["dialect", "learn", "a", "b", "--set", "battery.warn_cell=3.45 V"]
    answer = call(monkeypatch, [*asked, "--into", "sedge.toml"], cwd=tmp_path)
    assert answer.status == 2
    assert "battery.warn_cell is stated by 'cell_low = " in answer.err
    assert "add by hand: low = {battery.warn_cell: 0.01 V} under [pack]" in answer.err
    assert (tmp_path / "sedge.toml").read_bytes() == before


def test_learn_says_with_file_and_line_what_it_can_not_change(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    text = (
        'name = "reed"\nwords = { ports = { b2 = "uart2" } }\n'
        'lines = [{ under = "[port {ID: words ports}]", map = ["pace = {ports.ID.baud: Bd}"] }]\n'
    )
    (tmp_path / "reed.toml").write_text(text, encoding="utf-8")
    before = "[port b2]\nspeed = 96\n[port b3]\nspeed = 96\n"
    asked = lesson(tmp_path, before, before.replace("96", "192").replace("192", "96", 1))
    asked += ["--set", "ports.uart3.baud=19200 Bd"]
    answer = call(monkeypatch, [*asked, "--into", "reed.toml"], cwd=tmp_path)
    assert answer.status == 2
    assert 'reed.toml:2: put b3 = "uart3" into ports of words there' in answer.err
    assert (tmp_path / "reed.toml").read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b'name = "reed"\nlines = [\n', "reed.toml: "),
        (b'name = "r\xe9ed"\n', "reed.toml: is not UTF-8"),
        (b"nam = 1\n", "reed.toml: nam is no key of a dialect"),
    ],
)
def test_learn_does_not_touch_a_file_that_is_no_dialect(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: bytes, said: str
) -> None:
    (tmp_path / "reed.toml").write_bytes(text)
    (tmp_path / "a").write_text("low = 350\n", encoding="utf-8")
    (tmp_path / "b").write_text("low = 345\n", encoding="utf-8")
    asked = ["dialect", "learn", "a", "b", "--set", "battery.warn_cell=3.45 V"]
    answer = call(monkeypatch, [*asked, "--into", "reed.toml"], cwd=tmp_path)
    assert answer.status == 2
    assert said in answer.err
    assert (tmp_path / "reed.toml").read_bytes() == text


def test_check_tells_every_fault_and_exits_with_one(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "reed.toml"
    file.write_text('nam = "reed"\n[[lines]]\nmap = ["a = {esc.idl}"]\n', encoding="utf-8")
    answer = call(monkeypatch, ["dialect", "check", str(file), "--format", "json"])
    assert answer.status == 1
    assert [one["line"] for one in json.loads(answer.out)["problems"]] == [1, 1, 3]


def test_check_says_so_where_nothing_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["dialect", "check", "dialects/osier.toml"])
    assert (answer.status, answer.out) == (
        0,
        "dialects/osier.toml: nothing wrong was found\n",
    )


def test_list_tells_the_dialects_of_the_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    told = json.loads(call(monkeypatch, ["dialect", "list", "--format", "json"]).out)
    assert {"sedge", "osier", "marl", "plain"} <= {one["name"] for one in told["dialects"]}
    assert all(0 < one["mapped"] <= told["vocabulary"] for one in told["dialects"])


def taught_by_hand(tmp_path: Path, dump: str, typed: str) -> Answer:
    """The talk on a dump, with what is typed at its prompts."""
    (tmp_path / "toy.dump").write_text(dump, encoding="utf-8")
    asked = ["dialect", "teach", "toy.dump", "--output", "reed.toml", "--no-remember"]
    return run(*asked, cwd=tmp_path, stdin=typed.encode())


def test_a_bare_number_is_a_value_and_a_line_is_told_as_one(tmp_path: Path) -> None:
    """The receiver's link is a number, as are the places of the lines that may say it."""
    lines = "failsafe action 2\nfailsafe throttle 1300\nreceiver link 3\nreceiver deadzone 1\n"
    answer = taught_by_hand(tmp_path, lines, "1\n")
    assert "What is it set to now?" not in answer.out
    assert "'1' is" in answer.out or "expected" in answer.out
    answer = taught_by_hand(tmp_path, lines, "=1\n")
    assert "What is it set to now?" in answer.out


@pytest.mark.parametrize("typed", ["q", "=1\nq", "land\nq"], ids=["question", "value", "right"])
def test_q_stops_at_every_question_and_tells_what_came_of_it(tmp_path: Path, typed: str) -> None:
    answer = taught_by_hand(tmp_path, TOY, f"{typed}\n=1\n")
    assert answer.status == 0
    assert answer.out.count("Question ") == 1
    assert "after 0 answers" in answer.out
    assert "'q'" not in answer.out


@pytest.mark.parametrize("typed", ["?", "=1\n?"], ids=["question", "value"])
def test_a_question_mark_says_that_it_is_not_known_and_the_next_one_is_asked(
    tmp_path: Path, typed: str
) -> None:
    answer = taught_by_hand(tmp_path, TOY, f"{typed}\nq\n")
    assert "after 1 answer." in answer.out
    assert "Question 2" in answer.out
    assert "'?'" not in answer.out


def test_what_a_first_flight_hangs_on_and_is_not_read_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """What the craft then does is told; of pads and ports nothing is; one line nobody knows."""
    dump = TOY.replace("action 2", "action land") + "stilt heron 7\n"
    (tmp_path / "toy.dump").write_text(dump, encoding="utf-8")
    new = ["dialect", "new", "toy.dump", "--format", "json"]
    made = json.loads(call(monkeypatch, new, cwd=tmp_path).out)
    assert {"what the pads are for", "what the ports carry"} <= set(made["not_told"])
    assert "what happens when the link is lost" not in made["not_told"]
    said = " ".join(taught_by_hand(tmp_path, dump, "q\n").out.split())
    assert "NOT READ, and a first flight hangs on it: " in said
    checked = ["check", "toy.dump", "--dialect", "reed.toml", "--format", "json"]
    [one] = json.loads(call(monkeypatch, checked, cwd=tmp_path).out)["dumps"]
    assert one["blind"]["not_told"] == made["not_told"]


def test_stopped_at_the_first_question_it_is_taken_up_again(tmp_path: Path) -> None:
    """What looks like somebody's own in the dump doesn't make it another's file."""
    dump = f"{TOY}pilot name R. Hallam\nserial number 4C003177AB\n"
    for _ in range(2):
        assert taught_by_hand(tmp_path, dump, "q\n").status == 0


def test_a_dump_that_states_nothing_teaches_nothing(tmp_path: Path) -> None:
    answer = taught_by_hand(tmp_path, "", "q\n")
    assert answer.status == 2
    assert "no line states anything" in answer.err
    assert not (tmp_path / "reed.toml").exists()


def test_what_a_builder_knows_is_used_whether_it_was_asked_or_not_and_the_rest_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "toy.dump").write_text(f"{TOY}stick expo 30\n", encoding="utf-8")
    known = "failsafe.action = land\nhome.altitude = 37 m\nbanks.1.rates.roll.expo = 0.3\n"
    (tmp_path / "known.cfg").write_text(known, encoding="utf-8")
    teach = ["dialect", "teach", "toy.dump", "--answers", "known.cfg", "--output", "reed.toml"]
    answer = call(monkeypatch, teach, cwd=tmp_path)
    assert answer.status == 0
    kept = (tmp_path / "reed.toml").read_text(encoding="utf-8")
    assert '"banks.1.rates.roll.expo"' in kept
    told = " ".join(answer.out.split())
    assert "Not used, since no line fits it:" in told
    assert "home.altitude" in told


# Words that no setting's words speak of, and so many values that they are asked for first.
STRANGE = f"stork 42 12000{' 7' * 20}\nheron 9\n"
SAID = "battery.full_cell = 4.2 V; home.ceiling = 120 m"


def test_a_line_is_told_what_it_states_and_its_effect_is_shown_before_it_is_taken(
    tmp_path: Path,
) -> None:
    answer = taught_by_hand(tmp_path, STRANGE, f"h\nhome = 3\n{SAID}\nmaybe\nn\n{SAID}\ny\nq\n")
    assert answer.status == 0
    assert "What does line 1 say?" in answer.out
    assert "home is no setting of the vocabulary; perhaps: " in " ".join(answer.out.split())
    assert answer.out.count("battery.full_cell = 4.2 V (line 1)") == 2
    assert answer.out.count("Is that right?") == 3  # `maybe` is neither
    assert "after 1 answer." in answer.out
    shown = run("show", "toy.dump", "--dialect", "reed.toml", "--format", "json", cwd=tmp_path).out
    assert {"battery.full_cell", "home.ceiling"} <= set(json.loads(shown)["settings"])


def test_b_takes_back_all_that_a_line_was_told(tmp_path: Path) -> None:
    answer = taught_by_hand(tmp_path, STRANGE, f"{SAID}\ny\nb\nq\n")
    assert "after 0 answers." in answer.out
    assert "# told:" not in (tmp_path / "reed.toml").read_text(encoding="utf-8")


def test_a_setting_that_another_line_states_is_not_taken_without_a_word(tmp_path: Path) -> None:
    dump = f"return home height 35 m\n{STRANGE}"
    answer = taught_by_hand(tmp_path, dump, "home.altitude = 42 m\nn\nq\n")
    assert "home.altitude = 42 m" in answer.out
    assert "not 35 m (line 1) any more" in " ".join(answer.out.split())


def test_what_was_changed_by_hand_stays_through_further_answers(tmp_path: Path) -> None:
    taught_by_hand(tmp_path, STRANGE, f"{SAID}\ny\nq\n")
    file = tmp_path / "reed.toml"
    mine = file.read_text(encoding="utf-8").replace("[look]", 'volatile = ["heron"]\n\n[look]')
    mine = mine.replace("map = [\n", 'map = [\n  "wren {receiver.channels}",\n', 1)
    file.write_text(mine, encoding="utf-8")
    answer = taught_by_hand(tmp_path, STRANGE, "q\n")
    assert "changed by hand; what was changed stays" in answer.err
    assert file.read_text(encoding="utf-8") == mine
    again = taught_by_hand(tmp_path, STRANGE, "receiver.link = crsf\nline 1\ncrsf\nn\nq\n")
    assert again.status == 0
    kept = file.read_text(encoding="utf-8")
    assert '"wren {receiver.channels}"' in kept
    assert 'volatile = ["heron"]' in kept


def test_what_does_not_go_with_the_new_text_is_kept_beside_the_file(tmp_path: Path) -> None:
    taught_by_hand(tmp_path, STRANGE, f"{SAID}\ny\nq\n")
    file = tmp_path / "reed.toml"
    mine = file.read_text(encoding="utf-8").replace("map = [\n", 'map = [\n  "{no.setting}",\n', 1)
    file.write_text(mine, encoding="utf-8")
    answer = taught_by_hand(tmp_path, STRANGE, "q\n")
    assert "does not go with the new text" in answer.err
    assert (tmp_path / "reed.toml.before").read_text(encoding="utf-8") == mine
    assert "no.setting" not in file.read_text(encoding="utf-8")


def test_answers_about_lines_go_with_them_and_never_to_others(tmp_path: Path) -> None:
    taught_by_hand(tmp_path, STRANGE, f"{SAID}\ny\nq\n")
    moved = taught_by_hand(tmp_path, f"heron 9\n{STRANGE}", "q\n")
    assert moved.status == 0
    assert '"line": 2' in (tmp_path / "reed.toml").read_text(encoding="utf-8")
    other = taught_by_hand(tmp_path, STRANGE.replace("stork", "crane"), "q\n")
    assert "no line any more that says so" in other.err
    assert "# told:" not in (tmp_path / "reed.toml").read_text(encoding="utf-8")


def test_a_dump_that_was_mended_is_taken_up_as_it_says_now(tmp_path: Path) -> None:
    assert taught_by_hand(tmp_path, STRANGE, f"{SAID}\ny\nq\n").status == 0
    mended = STRANGE.replace("stork 42 12000", "stork 41 11000")
    answer = taught_by_hand(tmp_path, f"robin 3\n{mended}", "q\n")
    assert answer.status == 0
    kept = (tmp_path / "reed.toml").read_text(encoding="utf-8")
    assert '"value": "4.1 V", "path": "battery.full_cell", "line": 2' in kept
    assert '"value": "110 m", "path": "home.ceiling", "line": 2' in kept
    gone = taught_by_hand(tmp_path, "robin 3\nheron 9\n", "q\n")
    assert "no line any more that says so" in gone.err
    assert "battery.full_cell = 4.1 V" in gone.err
    assert (tmp_path / "reed.toml.before").read_text(encoding="utf-8") == kept


def test_words_that_a_mended_dump_has_no_more_stay_known(tmp_path: Path) -> None:
    dump = f"{STRANGE}[LINK LOSS]\nfailsafe action: {{}}\nfailsafe throttle: 1300 us\n"
    for action, typed in (("hold", f"{SAID}\ny\nq\n"), ("land", "q\n")):
        assert taught_by_hand(tmp_path, dump.format(action), typed).status == 0
    (tmp_path / "old.dump").write_text(dump.format("hold"), encoding="utf-8")
    shown = ("show", "old.dump", "--dialect", "reed.toml", "--format", "json")
    found = json.loads(run(*shown, cwd=tmp_path).out)["settings"]["failsafe.action"]
    assert found["value"] == "hold_inputs"


def test_lines_of_what_is_known_that_can_t_be_taken_are_told(tmp_path: Path) -> None:
    (tmp_path / "toy.dump").write_text(TOY, encoding="utf-8")
    known = "failsafe.action = land\nnonsense.path = 4\nbattery.cells = six\n"
    (tmp_path / "known.cfg").write_text(known, encoding="utf-8")
    teach = ["dialect", "teach", "toy.dump", "--answers", "known.cfg", "--output", "reed.toml"]
    answer = run(*teach, cwd=tmp_path)
    assert "known.cfg:2: nonsense.path is no setting of the vocabulary" in answer.err
    assert "known.cfg:3: " in answer.err


def test_a_line_that_is_not_there_is_refused_where_an_answer_fits_none(tmp_path: Path) -> None:
    dump = "motor signal: digital 600\nspeed notches: 3 per motor\nbattery cells: 4\nspeaks: reed\n"
    replies = "esc.protocol = dshot600\nline 999\nbanana\n\ny\nq\n"
    answer = taught_by_hand(tmp_path, dump, replies)
    assert answer.status == 0
    assert "there is no such line: line 999" in answer.out + answer.err
    assert "there is no such line: banana" in answer.out + answer.err


def test_what_is_somebodys_own_is_not_in_a_taught_dialect(tmp_path: Path) -> None:
    dump = tmp_path / "a.dump"
    dump.write_text("pilot .... M. Thorn, +44 1632 960114\nkind .... quad, crossed\ncells .... 4\n")
    run("dialect", "teach", str(dump), "--most", "0", "--output", str(tmp_path / "a.toml"))
    made = (tmp_path / "a.toml").read_text()
    assert "960114" not in made
    assert "Thorn" not in made


def test_an_answer_may_tell_several_settings_and_none_of_them_is_dropped(tmp_path: Path) -> None:
    dump = "rx kind crsf\nrx channels 12\npack cells 4\npack size 1300 mAh\nheron 9\n"
    said = "receiver.link = crsf; .channels = 12; battery.cells = 4\ny\nq\n"
    answer = taught_by_hand(tmp_path, dump, said)
    assert answer.status == 0
    shown = run("show", "toy.dump", "--dialect", "reed.toml", "--format", "json", cwd=tmp_path).out
    found = json.loads(shown)["settings"]
    assert found["receiver.channels"]["value"] == 12
    assert found["battery.cells"]["value"] == 4


def test_a_file_of_what_is_known_of_another_craft_teaches_nothing(tmp_path: Path) -> None:
    held = Path(__file__).parents[1] / "teach" / "held"
    dump, other = held / "harebell" / "harebell.dump", held / "cowslip" / "cowslip.cfg"
    teach = ["dialect", "teach", str(dump), "--output", "a.toml", "--no-remember"]
    answer = run(*teach, "--answers", str(other), cwd=tmp_path)
    assert answer.status == 2
    assert "hardly of this dump's craft" in answer.err
    assert not (tmp_path / "a.toml").exists()
