"""`explain`: a rule with its limits, a limit, and the whole book."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token

from cfgaudit.audit.waivers import RULES as WAIVER_RULES
from cfgaudit.dialects.plain import stated_text
from cfgaudit.reports.explain import Explanation, book_markdown, rules_table
from cfgaudit.rules.book import book, every_rule
from cfgaudit.rules.rule import Doc, Level, Rule, usual_limits
from cfgaudit.settings import Stated
from cfgaudit.testing.examples import example_of
from cfgaudit.vocabulary.paths import declared_anywhere, sheet_vocabulary, vocabulary
from tests.cli.calling import call
from tests.reports.schemas import validate

MOVED = (
    '[limits]\nesc.idle_least = "3 %"\n\n[[limit]]\nsetting = "home.ceiling"\nat_most = "120 m"\n'
)
SETTINGS = (*vocabulary(), *sheet_vocabulary())
HOUSE = MOVED + 'because = "the *river* | authority says so"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "cfgaudit.toml").write_text(HOUSE, encoding="utf-8")
    return tmp_path


def screen(patch: pytest.MonkeyPatch, subject: str, cwd: Path) -> str:
    answer = call(patch, ["explain", subject], cwd=cwd)
    assert (answer.status, answer.err) == (0, "")
    return answer.out


def test_a_rule_is_explained_with_the_limits_that_it_takes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    limit = (
        "  Limit       esc.idle_least = 2 %: below this idle the motors may stop when the\n"
        "              throttle is closed (common practice)\n"
    )
    assert limit in screen(monkeypatch, "esc/idle-low", tmp_path)
    assert "Limit" not in screen(monkeypatch, "motor/output-twice", tmp_path)


def test_a_limit_that_the_folder_moved_is_shown_as_it_is_here(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    assert "esc.idle_least = 3 %: " in screen(monkeypatch, "esc/idle-low", folder)
    assert screen(monkeypatch, "esc.idle_least", folder) == (
        "esc.idle_least  3 %\n"
        "\n"
        "  Below this idle the motors may stop when the throttle is closed.\n"
        "  Origin      cfgaudit.toml:2\n"
        "  Usual       2 % (common practice)\n"
        "  Rule        esc/idle-low\n"
        "  To move it  below [limits] in cfgaudit.toml, with your own value:\n"
        '              esc.idle_least = "3 %"\n'
    )


def test_what_explain_says_of_moving_a_limit_moves_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for limit in usual_limits().values():
        (tmp_path / "cfgaudit.toml").unlink(missing_ok=True)
        said = screen(monkeypatch, limit.name, tmp_path).split()
        assert "Usual" not in said
        assert "Rule" in said, f"no rule takes {limit.name}"
        _, _, line = " ".join(said).rpartition("your own value: ")
        (tmp_path / "cfgaudit.toml").write_text(f"[limits]\n{line}\n", encoding="utf-8")
        assert "Origin cfgaudit.toml:2 Usual" in " ".join(
            screen(monkeypatch, limit.name, tmp_path).split()
        )


def test_no_limit_has_the_name_of_a_setting() -> None:
    assert [name for name in usual_limits() if declared_anywhere(name)] == []


def test_rules_over_several_craft_say_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert "Looks at    several craft together\n" in screen(
        monkeypatch, "fleet/same-name", tmp_path
    )
    assert "Looks at" not in screen(monkeypatch, "esc/idle-low", tmp_path)


@pytest.mark.parametrize(
    ("subject", "near"),
    [
        ("esc.idle_lest", "esc.idle_least"),
        ("esc/idle-lo", "esc/idle-low"),
        ("battery.warn_cel", "battery.warn_cell"),
    ],
)
def test_a_near_miss_is_suggested(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, subject: str, near: str
) -> None:
    answer = call(monkeypatch, ["explain", subject], cwd=tmp_path)
    assert (answer.status, answer.out) == (2, "")
    assert f"there is no rule, limit or setting '{subject}'. Did you mean {near}" in answer.err


@pytest.mark.parametrize(
    ("subject", "rules", "settings"),
    [
        ("failsafe", {"failsafe/none", "failsafe/throttle-held"}, {"failsafe.action"}),
        ("ports", set(), {"ports.ID.roles", "ports.ID.baud"}),
        ("ports.ID", set(), {"ports.ID.roles", "ports.ID.baud"}),
        ("pads", {"pads/used-twice"}, {"pads.ID.use"}),
        ("frame", {"frame/not-as-built"}, {"frame.layout"}),
    ],
)
def test_of_an_area_or_a_group_what_is_in_it_is_listed(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    subject: str,
    rules: set[str],
    settings: set[str],
) -> None:
    answer = call(monkeypatch, ["explain", subject, "--format", "json"], cwd=tmp_path)
    said = json.loads(answer.out)
    validate(said, "explain")
    assert {entry["rule"] for entry in said["rules"]} >= rules
    assert {entry["area"] for entry in said["rules"]} <= {subject}
    assert {entry["setting"] for entry in said["settings"]} >= settings
    text = screen(monkeypatch, subject, tmp_path)
    assert all(name in text for name in (*rules, *settings))


def test_a_rule_comes_with_an_example_wrong_and_right(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    answer = call(monkeypatch, ["explain", "esc/idle-low", "--format", "json"], cwd=tmp_path)
    said = json.loads(answer.out)
    names = [[line.split(" = ")[0] for line in said[side]] for side in ("wrong", "right")]
    assert "esc.idle" in names[0]
    assert said["wrong"] != said["right"]


def test_an_example_is_told_in_the_words_of_a_dump(monkeypatch: pytest.MonkeyPatch) -> None:
    arguments = ["explain", "failsafe/throttle-closes", "--for", "dipper.dump", "--format", "json"]
    said = json.loads(call(monkeypatch, arguments).out)
    # its fixture closes the throttle at 900 us for a second; the dump says us and ms
    assert {"gives = 900", "wait = 1000"} <= {*said["wrong"]}
    assert "gives = 900" not in said["right"]
    text = call(monkeypatch, [*arguments[:-2], "--color", "never"]).out
    assert "failsafe.channels.3 = 900 us" in text  # the line alone says no channel


def test_the_dump_of_an_example_is_read_in_the_dialect_that_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dialect = tmp_path / "rushes.toml"
    dialect.write_text('name = "rushes"\n[[lines]]\nmap = ["lowest spin {esc.idle: %}"]\n')
    (tmp_path / "a.dump").write_text("lowest spin 4\n")
    arguments = ["explain", "esc/idle-low", "--for", "a.dump", "--format", "json"]
    named = ["--dialect", str(dialect)]
    said = json.loads(call(monkeypatch, [*arguments, *named], cwd=tmp_path).out)
    assert all(any(line.startswith("lowest spin ") for line in said[s]) for s in ("wrong", "right"))


def test_what_one_line_of_a_dump_says_together_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    # the row and the column of an element stand on its line
    arguments = ["explain", "overlay/overlap", "--for", "goosander.dump", "--format", "json"]
    said = json.loads(call(monkeypatch, arguments).out)
    for side in ("wrong", "right"):
        assert len({line.split(",")[0] for line in said[side]}) == len({*said[side]})


@pytest.mark.parametrize(
    "rule_id", ["switch/armed-at-rest", "switch/always-armed", "failsafe/throttle-closes"]
)
def test_what_an_example_calls_right_differs_in_one_setting_and_hugs_no_limit(
    rule_id: str,
) -> None:
    (rule,) = (rule for rule in book() if rule.id == rule_id)
    example = example_of(rule)
    assert example is not None
    (path,) = (p for p, e in example.wrong.items() if text_of(e) != text_of(example.right[p]))
    # arm away from the end where a switch rests, or the throttle held: what their mends say
    assert text_of(example.right[path]) in {"5: 1700..2100 us", "hold"}


# What it finds is on a line of a dialect: no settings show it.
WITHOUT = "dump/words-not-understood"


def test_what_no_settings_show_has_no_example() -> None:
    (rule,) = (rule for rule in book() if rule.id == WITHOUT)
    assert example_of(rule) is None


@pytest.mark.parametrize(
    "rule", [rule for rule in book() if rule.id != WITHOUT], ids=lambda rule: rule.id
)
def test_every_rule_has_an_example_whose_two_sides_differ(rule: Rule) -> None:
    example = example_of(rule)
    assert example is not None
    assert example.wrong.keys() == example.right.keys()
    differing = [p for p, e in example.wrong.items() if text_of(e) != text_of(example.right[p])]
    assert differing


def text_of(entry: Stated | None) -> str:
    return "" if entry is None else stated_text(entry)


@pytest.mark.parametrize("arguments", [[], ["--all", "esc/idle-low"]], ids=str)
def test_explain_wants_one_subject_or_all(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    answer = call(monkeypatch, ["explain", *arguments])
    assert (answer.status, answer.out) == (2, "")
    assert "explain wants a rule, a limit, a setting, or --all instead" in answer.err


def whole(patch: pytest.MonkeyPatch, cwd: Path) -> str:
    answer = call(patch, ["explain", "--all"], cwd=cwd)
    assert (answer.status, answer.err) == (0, "")
    return answer.out


def rendered(text: str) -> list[Token]:
    """What a Markdown reader makes of it, tables as GitHub has them."""
    return MarkdownIt("commonmark").enable("table").parse(text)


def shown(tokens: list[Token], kind: str) -> list[str]:
    """The text of each part of a kind, as a reader sees it."""
    return [seen(tokens[n + 1]) for n, token in enumerate(tokens) if token.type == kind]


def seen(token: Token) -> str:
    return "".join(" " if part.type == "softbreak" else part.content for part in parts(token))


def parts(token: Token) -> Iterator[Token]:
    yield from token.children or ()


def test_the_whole_book_is_markdown_with_every_rule_below_its_area(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    tokens = rendered(whole(monkeypatch, tmp_path))
    heads = [
        (tokens[n].tag, seen(tokens[n + 1]))
        for n, token in enumerate(tokens)
        if token.type == "heading_open"
    ]
    rules = (*every_rule(), *WAIVER_RULES)
    areas = list(dict.fromkeys(rule.area for rule in rules))
    assert [text for tag, text in heads if tag == "h1"] == [heads[0][1]]
    assert [text for tag, text in heads if tag == "h2"] == [*areas, "Settings"]
    below: dict[str, list[str]] = {}
    area = ""
    for tag, text in heads:
        area = text if tag == "h2" else area
        if tag == "h3":
            below.setdefault(area, []).append(text)
    for area in areas:
        own = [f"{rule.id}: {rule.level.value}" for rule in rules if rule.area == area]
        assert below.pop(area) == own
    assert below == {}


def test_each_rule_in_the_markdown_reads_as_its_docstring_says(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    tokens = rendered(whole(monkeypatch, tmp_path))
    read = [seen(token) for token in tokens if token.type == "inline"]
    for rule in (*every_rule(), *WAIVER_RULES):
        at = read.index(f"{rule.id}: {rule.level.value}")
        doc = rule.doc
        expected = [
            doc.wrong,
            f"In the air: {doc.air}",
            f"Mend: {doc.mend}",
            f"Source: {doc.source}",
        ]
        assert read[at + 1 : at + 5] == expected
        following = read[at + 5 : at + 7 + len(rule.limits)]
        for name in rule.limits:
            assert any(text.startswith(f"Limit: {name} = ") for text in following)


def test_the_settings_are_one_table_with_a_row_each(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    tokens = rendered(whole(monkeypatch, tmp_path))
    assert [token.type for token in tokens].count("table_open") == 1
    assert len(shown(tokens, "tr_open")) == len(SETTINGS) + 1
    assert len(shown(tokens, "th_open")) == 5
    cells = shown(tokens, "td_open")
    assert len(cells) == 5 * len(SETTINGS)
    assert cells[0::5] == [entry.pattern for entry in SETTINGS]
    for entry, takes, says in zip(SETTINGS, cells[2::5], cells[3::5], strict=True):
        assert takes.startswith(entry.kind.says)
        assert says.casefold() == f"{entry.traits.says}.".casefold()


def test_a_folder_s_own_rules_and_moved_limits_stand_in_the_book(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    read = [seen(token) for token in rendered(whole(monkeypatch, folder)) if token.type == "inline"]
    assert "house/home-ceiling-at-most: warning" in read
    assert "Because: the *river* | authority says so." in read
    least = next(text for text in read if text.startswith("Limit: esc.idle_least = "))
    assert least.startswith("Limit: esc.idle_least = 3 %: ")
    assert least.endswith("(cfgaudit.toml:2)")


HOSTILE = [
    "a | b `c` *d* _e_ f_g <b>h</b> [i](j) ![k](l) ~~m~~ n\\o &amp; p",
    "# no heading",
    "- no list",
    "12. no list",
    "+ no list",
    "> no quotation",
    "--- no line",
    "=== no heading",
    "`` two ` ticks",
    "https://example.org/a_b_c",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_a_text_reads_as_it_is_whatever_is_in_it(text: str) -> None:
    rule = Rule("otter/x", Level.NOTE, Doc(text, text, text, text), lambda craft: iter(()))
    tokens = rendered(book_markdown(Explanation([rule])))
    read = [seen(token) for token in tokens if token.type == "inline"]
    assert read[4:8] == [text, f"In the air: {text}", f"Mend: {text}", f"Source: {text}"]
    assert not [token for token in tokens if token.type in ("html_block", "blockquote_open")]
    assert shown(rendered(rules_table([rule])), "td_open") == ["otter/x", "note", text]


def test_what_acts_on_a_terminal_is_shown_escaped() -> None:
    told = Doc("a\x1b[31mb\u202ec", "b", "c", "d")
    text = book_markdown(Explanation([Rule("otter/x", Level.NOTE, told, lambda craft: iter(()))]))
    assert "a\\\\x1b\\[31mb\\\\u202ec" in text


def test_the_json_of_the_book_is_the_same_book(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    said = json.loads(call(monkeypatch, ["explain", "--all", "--format", "json"], cwd=folder).out)
    validate(said, "explain")
    ids = [rule.id for rule in (*every_rule(), *WAIVER_RULES)]
    assert [entry["rule"] for entry in said["rules"]] == [*ids, "house/home-ceiling-at-most"]
    for entry, rule in zip(said["rules"], every_rule(), strict=False):
        told = (entry["wrong"], entry["in_the_air"], entry["mend"], entry["source"])
        assert told == tuple(rule.doc)
        assert (entry["level"], entry["limits"]) == (rule.level.value, list(rule.limits))
        assert entry["fleet"] == (rule.area == "fleet")
    assert {entry["limit"] for entry in said["limits"]} == set(usual_limits())
    (least,) = [entry for entry in said["limits"] if entry["limit"] == "esc.idle_least"]
    assert (least["value"], least["usual"], least["unit"]) == (3.0, 2.0, "%")
    assert [entry["setting"] for entry in said["settings"]] == [e.pattern for e in SETTINGS]


@pytest.mark.parametrize(
    ("subject", "counts"),
    [
        ("esc/idle-low", (1, 1, 0)),
        ("motor/output-twice", (1, 0, 0)),
        ("esc.idle_least", (0, 1, 0)),
        ("battery.warn_cell", (0, 0, 1)),
    ],
)
def test_the_json_of_one_subject_holds_that_and_its_limits(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, subject: str, counts: tuple[int, int, int]
) -> None:
    answer = call(monkeypatch, ["explain", subject, "--format", "json"], cwd=tmp_path)
    said = json.loads(answer.out)
    validate(said, "explain")
    assert tuple(len(said[part]) for part in ("rules", "limits", "settings")) == counts
