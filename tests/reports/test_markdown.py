"""Markdown, looked at as a renderer shows it.

Reference library: markdown-it-py, CommonMark with tables, with and without links made of bare
addresses.
"""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as trials
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from cfgaudit.reading.safe import safe
from cfgaudit.reports.markdown_text import code, marked, table
from tests.reports.reviewed import CALLS, DUMP, FAULTY, WAIVER, folder, told

OURS = {"h3", "h4", "p", "ul", "li", "strong", "em", "code", "br"}
OURS |= {"details", "summary"}
OURS |= {"table", "thead", "tbody", "tr", "th", "td"}


class Page(HTMLParser):
    """A rendered page: its tags, and the text of each cell, paragraph or item."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.cells: list[str] = []
        self.rows: list[int] = []
        self.feed(MarkdownIt("commonmark").enable("table").render(source))
        self.cells = [cell.strip() for cell in self.cells]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        assert attrs == []
        if tag == "tr":
            self.rows.append(0)
        if tag in ("td", "th"):
            self.rows[-1] += 1
        if tag in ("td", "th", "p", "li", "h3", "h4", "summary"):
            self.cells.append("")
        if tag == "br":
            self.cells[-1] += "\n"

    def handle_data(self, data: str) -> None:
        if self.cells:
            self.cells[-1] += data


@pytest.mark.parametrize("arguments", CALLS, ids=" ".join)
def test_a_report_renders_to_our_own_marks_alone(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    more = ["--unchecked", "--waived"] if arguments[0] == "check" else []
    page = Page(told(monkeypatch, "markdown", [*arguments, *more]))
    assert set(page.tags) <= OURS
    assert "h3" in page.tags


def test_a_finding_is_a_row_with_level_rule_message_place_and_mend(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    page = Page(told(monkeypatch, "markdown", ["check", FAULTY]))
    assert set(page.rows) == {4}
    at = next(n for n, cell in enumerate(page.cells) if "failsafe/throttle-closes" in cell)
    level, what, where, mend = page.cells[at - 1 : at + 3]
    assert level == "error"
    assert what.split("\n")[1].startswith("On link loss the throttle channel 3 goes to 900 us, ")
    assert re.match("line [0-9]+\n", where)  # the file stands in the heading
    assert mend == "failsafe.channels.3 = hold"


def test_the_verdict_stands_first_and_never_says_that_a_craft_is_safe(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    page = Page(told(monkeypatch, "markdown", ["check", "dipper.dump"]))
    assert page.cells[0] == "cfgaudit: dipper.dump"
    assert page.cells[1].endswith("A clean audit is no proof that a craft is safe.")


def test_a_diff_has_a_table_a_class_in_order_of_risk(monkeypatch: pytest.MonkeyPatch) -> None:
    page = Page(told(monkeypatch, "markdown", ["diff", "dipper.dump", FAULTY]))
    safety = page.cells.index("safety: can make the craft fly away, flip or not stop")
    power = page.cells.index("power: battery and its warnings")
    assert safety < power
    at = page.cells.index("battery.capacity")
    assert page.cells[at : at + 3] == ["battery.capacity", "1550 mAh", "1300 mAh"]
    assert re.fullmatch("line [0-9]+", page.cells[at + 3])
    assert any(cell.startswith("The change brings 9 errors") for cell in page.cells)


def test_a_change_has_what_it_brings_below_it(monkeypatch: pytest.MonkeyPatch) -> None:
    text = told(monkeypatch, "markdown", ["diff", "dipper.dump", FAULTY])
    arm = text.index("`failsafe.channels.5` and `switches.arm` together bring:")
    assert text.index("| `switches.arm` |") < arm < text.index("#### power")
    below = text[arm:].split("\n\n")[1]
    assert "**error** `switch/armed-at-failsafe-value`" in below
    # each finding is told once
    page = Page(text)
    found = [cell for cell in page.cells if "In the air:" in cell]
    assert len(found) == len({cell.partition(" In the air:")[0] for cell in found})
    brought = re.search(r"The change brings (\d+) errors", text)
    assert brought is not None
    assert text.count("- **error** ") == int(brought[1])


def test_the_path_stands_once_and_lines_are_links_where_the_files_can_be_seen(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = told(monkeypatch, "markdown", ["diff", "dipper.dump", FAULTY])
    assert text.count(FAULTY) == 1
    asked = ["diff", "dipper.dump", FAULTY, "--links", "https://forge.example/boats/blob/1a2b"]
    linked = told(monkeypatch, "markdown", asked)
    here = r"https://forge.example/boats/blob/1a2b/(?:corpus/)?"  # where that is a repository
    line = re.search(rf"\[line (\d+)\]\({here}{FAULTY}#L(\d+)\)", linked)
    assert line is not None
    assert line[1] == line[2]


def test_notes_are_folded(monkeypatch: pytest.MonkeyPatch) -> None:
    text = told(monkeypatch, "markdown", ["check", FAULTY])
    folded = text.partition("<details>")[2].partition("</details>")[0]
    assert "3 notes" in folded
    assert text.count("**note**") == folded.count("**note**") == 3


def test_a_diff_that_mends_lists_what_it_clears(monkeypatch: pytest.MonkeyPatch) -> None:
    page = Page(told(monkeypatch, "markdown", ["diff", FAULTY, "dipper.dump"]))
    assert "The change clears:" in page.cells
    assert any(cell.startswith("error failsafe/throttle-closes:") for cell in page.cells)


def test_waivers_are_counted_and_listed_on_request(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    where = folder(tmp_path, waiver=WAIVER, dipper=DUMP)
    brief = told(monkeypatch, "markdown", ["check", "dipper.cfg"], where)
    assert "1 waived" in brief
    assert "threshold-order" not in brief
    page = Page(told(monkeypatch, "markdown", ["check", "dipper.cfg", "--waived"], where))
    assert "until 2026-12-31: old packs, for the bench alone" in page.cells


def test_a_report_too_long_for_a_comment_is_cut_and_says_so(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    raw = "".join(f"odd_key_{n} = {n}{'x' * 60}\n" for n in range(2000))
    where = folder(tmp_path, a="odd = 4\n", b=f"odd = 4\n{raw}")
    said = told(monkeypatch, "markdown", ["diff", "a.cfg", "b.cfg"], where)
    assert 50_000 < len(said) < 65_536
    left = re.search(r"\*(\d+) more lines are not shown here\.\*\n\Z", said)
    assert left is not None
    assert said.count("odd_key_") + int(left[1]) == 2000


NASTY = st.text(
    st.sampled_from(list("a1 \\`*_[]()<>&!|~$#@:/.-+=\"'{}^\n\t\x1b\u202eé")), max_size=24
)


def shown(text: str) -> str:
    """What a reader should see: escapes for what acts, blanks as one."""
    return " ".join(safe(text).split())


@trials(max_examples=400)
@given(text=NASTY)
def test_any_text_is_seen_as_it_is_and_is_no_markup(text: str) -> None:
    source = "\n".join(table(("one", "two"), [(f"x {marked(text)} y", f"x {code(text)} y")]))
    page = Page(source)
    assert set(page.tags) <= {"table", "thead", "tbody", "tr", "th", "td", "code"}
    assert page.rows == [2, 2]
    # a renderer trims and may join blanks in code
    cells = [" ".join(cell.split()) for cell in page.cells[2:]]
    assert cells == [" ".join(f"x {shown(text)} y".split())] * 2


@pytest.mark.parametrize(
    "text",
    ["https://a.example", "www.a.example", "@someone", "a@b.example", "#12", "GH-12", ":bird:"],
)
def test_no_forge_makes_a_link_or_a_mention_of_a_text(text: str) -> None:
    made = MarkdownIt("gfm-like", {"html": True}).render(f"x {marked(text)} y")
    assert "<a" not in made
    assert text not in re.sub(r"\\(.)", r"\1", marked(text))  # its two parts are held apart
    assert Page(f"x {marked(text)} y").cells == [f"x {text} y"]
