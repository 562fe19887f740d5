"""The page as text: whole, quiet, small, the same every time."""

import json
import re
from base64 import b64encode
from datetime import date
from hashlib import sha256
from html.parser import HTMLParser
from pathlib import Path

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.audit.waivers import Waiver, waive
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reading.text import Place
from cfgaudit.reports import html
from cfgaudit.reports.html import TickedStep, WorkingList, craft_html, list_html
from tests.cli.calling import CORPUS, call
from tests.reports.pages import hostile, page

DUMPS = ["dipper.dump", "goosander.dump", "sandpiper.dump", "wagtail.dump"]
FAULTY = "faulty/dipper-after-repair.dump"
_VOID = {"meta", "link", "input", "br", "img", "hr"}


class Checker(HTMLParser):
    """Sees that every element is closed where it should be, and notes ids, links and elements."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.hrefs: list[str] = []
        self.tags: list[str] = []
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in _VOID:
            self.open.append(tag)
        for name, value in attrs:
            self.attributes.add(name)
            if name == "id":
                self.ids.append(value or "")
            if name == "href":
                self.hrefs.append(value or "")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def checked(text: str) -> Checker:
    found = Checker()
    found.feed(text)
    found.close()
    assert found.open == []
    return found


def _themes() -> list[dict[str, str]]:
    """The colours of the light and of the dark theme, by name."""
    style = (Path(html.__file__).parent / "page" / "style.css").read_text(encoding="utf-8")
    light, dark = re.findall(r":root\{color-scheme:(?:light|dark);([^}]*)\}", style)
    made = [dict(re.findall(r"--([a-z-]+):(#[0-9a-f]{3,6})", theme)) for theme in (light, dark)]
    return [made[0], {**made[0], **made[1]}]


def _brightness(colour: str) -> float:
    """Relative luminance. Published: W3C WCAG 2.2, its definition."""
    digits = colour.lstrip("#")
    digits = "".join(d * 2 for d in digits) if len(digits) == 3 else digits
    parts = [int(digits[n : n + 2], 16) / 255 for n in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((_brightness(one), _brightness(other)))
    return (light + 0.05) / (dark + 0.05)


def test_black_on_white_has_the_published_contrast() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("number", [0, 1], ids=["light", "dark"])
def test_text_stands_out_from_what_it_is_written_on(number: int) -> None:
    # Published: W3C WCAG 2.2, 1.4.3: 4.5 to 1 for text, 1.4.11: 3 to 1 for what a picture needs.
    theme = _themes()[number]
    for ground in ("paper", "card"):
        for ink in ("ink", "soft", "blue", "red", "amber"):
            assert contrast(theme[ink], theme[ground]) >= 4.5, (ink, ground)
        for line in ("green", "violet"):
            assert contrast(theme[line], theme[ground]) >= 3, (line, ground)
    for ink, ground in (
        ("on", "blue"), ("on", "green"), ("ink", "blue-soft"), ("soft", "blue-soft"),
        ("soft", "amber-soft"), ("soft", "faint"), ("screen-ink", "screen"),
    ):  # fmt: skip
        assert contrast(theme[ink], theme[ground]) >= 4.5, (ink, ground)


@pytest.mark.parametrize("dump", DUMPS)
def test_a_page_is_whole_small_and_the_same_every_time(
    monkeypatch: pytest.MonkeyPatch, dump: str
) -> None:
    text = page(monkeypatch, dump)
    assert text == call(monkeypatch, ["report", dump]).out  # `page` has asked before
    assert len(text.encode()) <= 400_000
    found = checked(text)
    assert len(found.ids) == len(set(found.ids))
    assert found.tags.count("svg") == 12  # eleven pictures and the patterns
    local = {href[1:] for href in found.hrefs if href.startswith("#")}
    assert local <= set(found.ids)


@pytest.mark.parametrize("arguments", [[DUMPS[0]], [DUMPS[0], FAULTY]], ids=["craft", "change"])
def test_a_page_names_nothing_to_load_and_has_no_handler_or_style_of_its_own(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    text = page(monkeypatch, *arguments)
    found = checked(text)
    assert not re.search(r"https?:|//[a-z]|@import|url\((?!#)", text)
    assert {href for href in found.hrefs if not href.startswith("#")} == {"data:,"}
    assert not [name for name in found.attributes if name.startswith("on") or name == "style"]
    assert not found.attributes & {"src", "srcset", "action", "xlink:href"}


def test_the_policy_allows_this_style_and_this_script_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = page(monkeypatch, DUMPS[0])
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]*)"', text)
    assert "unsafe" not in policy
    assert policy.startswith("default-src &#39;none&#39;")
    for tag in ("style", "script"):
        (inside,) = re.findall(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        wanted = b64encode(sha256(inside.encode()).digest()).decode()
        assert f"{tag}-src &#39;sha256-{wanted}&#39;" in policy


def test_a_craft_named_as_markup_stays_text(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    text = hostile(monkeypatch, tmp_path)
    found = checked(text)
    assert found.tags.count("script") == 1
    assert not {"b", "img"} & set(found.tags)
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert "\u202e" not in text
    assert "\\u202e" in text
    assert "{{ 7*7 }}" in text


def test_every_finding_has_its_rule_for_an_address(monkeypatch: pytest.MonkeyPatch) -> None:
    found = checked(page(monkeypatch, FAULTY))
    for rule in ("failsafe/throttle-closes", "serial/wired-elsewhere", "switch/armed-at-rest"):
        assert rule in found.ids
        assert f"#{rule}" in found.hrefs


def test_findings_come_by_level_with_place_figures_and_mend(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = page(monkeypatch, FAULTY)
    assert text.index('id="level-error"') < text.index('id="level-note"')
    article = text[text.index('id="failsafe/throttle-closes"') :]
    article = article[: article.index("</article>")]
    assert "faulty/dipper-after-repair.dump:320" in article
    assert "failsafe.channels.3 = hold" in article
    assert "In the air" in article


def test_the_page_never_says_that_a_craft_is_safe(monkeypatch: pytest.MonkeyPatch) -> None:
    for dump in DUMPS:
        text = page(monkeypatch, dump)
        said = re.sub(r"no proof that a craft is safe", "", text)
        assert not re.search(r"\b(is|are) safe\b", said)
        assert "A clean audit is no proof that a craft is safe." in text


def test_secrets_are_not_on_a_page(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name, owner in (("old", "Hopkins"), ("new", "Marchbanks")):
        text = f'[craft]\nname = "Dipper"\nowner = "{owner}"\nserial = "S-{owner}"\n'
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    for arguments in (["old.cfg"], ["old.cfg", "new.cfg", "--everything"]):
        text = page(monkeypatch, *arguments, cwd=tmp_path)
        assert "Hopkins" not in text
        assert "Marchbanks" not in text


def test_what_lacks_a_picture_and_what_could_not_be_checked_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "short.cfg").write_text("[battery]\ncells = 4\n", encoding="utf-8")
    text = page(monkeypatch, "short.cfg", cwd=tmp_path)
    assert "The craft from above: it lacks frame.layout." in text
    assert "The supply rails and their loads: it lacks the build sheet." in text
    assert "telemetry/enabled-unassigned" in checked(text).ids


def test_a_waived_finding_stands_apart_with_its_reason() -> None:
    settings = read_plain("[failsafe]\nchannels.3 = hold\n[receiver]\nmap.throttle = 3\n")
    made = audit(settings)
    rule = made.findings[0].rule.id
    waiver = Waiver(rule, "looked at on the bench", date(2030, 1, 1), Place("w.toml", 1, 1))
    (told,) = waive([made], [waiver], date(2026, 1, 1))
    text = craft_html(told, [])
    after = text[text.index('id="waived"') :]
    assert "until 2030-01-01: looked at on the bench" in after
    assert rule in after


def test_a_working_list_prints_its_steps_with_boxes() -> None:
    steps = (TickedStep("Take the propellers off", done=True), TickedStep("Spin motor 1", "slowly"))
    work = WorkingList("Dipper", "At the bench", steps, "Propellers off.")
    text = list_html(work)
    found = checked(text)
    assert "list" in found.ids
    assert text.count('class="tick-box') == 2
    assert 'aria-label="done"' in text
    assert 'aria-label="to do"' in text


def test_a_change_shows_what_differs_before_and_after(monkeypatch: pytest.MonkeyPatch) -> None:
    text = page(monkeypatch, "dipper.dump", FAULTY)
    found = checked(text)
    assert len(found.ids) == len(set(found.ids))
    assert {"before-frame-title", "after-frame-title"} <= set(found.ids)
    assert "before-rates-title" not in found.ids
    alike = text[text.index("Alike before and after") :]
    assert "From stick to turn rate" in alike
    assert "switches.arm" in text
    assert "(--everything)" not in text


def test_verdict_and_coverage_come_before_the_causes_and_those_before_the_findings(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = page(monkeypatch, FAULTY)
    places = [
        text.index(mark)
        for mark in ("DO NOT FLY", "rules that apply", 'id="causes"', 'id="findings"')
    ]
    assert places == sorted(places)


def test_the_page_of_a_change_tells_what_stands_then_what_changed_then_its_causes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = page(monkeypatch, "dipper.dump", FAULTY)
    places = [text.index(mark) for mark in ("As it is now:", 'id="changes"', 'id="causes"')]
    assert places == sorted(places)
    assert "as it was before." in text


def test_the_pictures_of_a_change_show_the_rows_that_differ_and_name_the_rest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text = page(monkeypatch, "dipper.dump", FAULTY)
    pictures = text[text.index('id="picture-switches"') :].partition("</h3>")[2]
    pictures = pictures[: pictures.index('id="picture-')]
    left_out = "; ".join(f"channel {number}" for number in range(6, 12))
    assert f"Alike and left out: {left_out}." in pictures
    assert pictures.count("channel 6") == 1  # there alone
    assert pictures.count(">channel 5<") == 4  # of two pictures and two tables


def test_each_side_of_a_change_has_its_own_build_sheet(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    sheet = (CORPUS / "dipper.build.toml").read_text(encoding="utf-8")
    assert sheet.count("\nkv = ") == 1
    slower = re.sub(r"(?m)^kv = .*$", "kv = 1200", sheet)
    (tmp_path / "as-it-was.toml").write_text(slower, encoding="utf-8")
    own = ("--build", f"dipper.dump={tmp_path / 'as-it-was.toml'}")
    text = page(monkeypatch, "dipper.dump", FAULTY, *own, "--build", f"{FAULTY}=dipper.build.toml")
    assert f"Build sheet: {tmp_path / 'as-it-was.toml'}" in text
    assert "Build sheet: dipper.build.toml" in text
    assert "before-filters-title" in text  # the motors' band is another, though no filter is


def test_what_stands_after_a_change_is_judged_by_its_own_build_sheet(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, dump in (("old", "dipper.dump"), ("new", FAULTY)):
        (tmp_path / f"{name}.dump").write_bytes((CORPUS / dump).read_bytes())
    dialects = json.dumps(str(CORPUS / "dialects"))
    (tmp_path / "cfgaudit.toml").write_text(f"[cfgaudit]\ndialects = [{dialects}]\n")
    build = ("--build", f"new.dump={CORPUS / 'dipper.build.toml'}")
    text = page(monkeypatch, "old.dump", "new.dump", *build, cwd=tmp_path)
    answer = call(monkeypatch, ["check", "new.dump", *build, "--format", "json"], cwd=tmp_path)
    errors = [f for f in json.loads(answer.out)["dumps"][0]["findings"] if f["level"] == "error"]
    without = call(monkeypatch, ["check", "new.dump", "--format", "json"], cwd=tmp_path)
    fewer = [f for f in json.loads(without.out)["dumps"][0]["findings"] if f["level"] == "error"]
    assert len(fewer) < len(errors)
    assert f"As it is now: {len(errors)} errors" in text


def test_a_change_to_itself_is_no_change(monkeypatch: pytest.MonkeyPatch) -> None:
    text = page(monkeypatch, "dipper.dump", "dipper.dump")
    assert "No setting changed." in text
    assert "The change brings no finding." in text
    assert "before-" not in text


def test_each_printed_sheet_says_of_which_craft_file_and_day_it_is_and_its_number(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # published (CSS Paged Media, Level 3): margin boxes and the counters page and pages
    made = page(monkeypatch, "dipper.dump", FAULTY, "--today", "2026-07-01")
    above = re.search(r'@top-left\{content:"([^"]*)"', made)
    assert above is not None
    text = re.sub(r"\\([0-9a-f]+) ", lambda found: chr(int(found[1], 16)), above[1])
    assert text == f"dipper · dipper.dump to {FAULTY} · 2026-07-01"
    assert 'counter(page) " of " counter(pages)' in made


def test_a_name_that_means_ill_can_t_leave_the_line_of_a_sheet(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    made = hostile(monkeypatch, tmp_path)
    style = made[made.index("<style>") : made.index("</style>")]
    line = style[style.index("@top-left{content:") :]
    assert re.fullmatch(r'@top-left\{content:"[\w .\\\\-]*"\}\}', line)
