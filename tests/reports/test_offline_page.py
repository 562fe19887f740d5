"""The bench page in a real browser: it says what the command line says, and asks for nothing."""

import json
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from cfgaudit.dialects.plain import read_plain
from cfgaudit.settings import Settings
from cfgaudit.teach.asking import Question, answer_from
from cfgaudit.work.record import read_record
from tests.cli.calling import CORPUS, call
from tests.reports.bench_pages import page_for, team_folder
from tests.reports.browser import browser
from tests.reports.pages import HOSTILE
from tests.reports.test_page_in_a_browser import AXE

MOST_BYTES: Final = 12_000_000  # what a file may have that is sent to a telephone
PATIENCE: Final = 90_000  # ms; how quick it is is printed, and nothing hangs on it
DUMPS: Final = sorted(file for file in CORPUS.rglob("*") if file.suffix in (".dump", ".cfg"))
FAULTY: Final = CORPUS / "faulty" / "dipper-after-repair.dump"
DIPPER: Final = CORPUS / "dipper.dump"
STARWORT: Final = Path(__file__).parents[1] / "teach" / "unknown" / "starwort"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as made:
        yield made


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return team_folder(tmp_path_factory.mktemp("team"), DUMPS)


@pytest.fixture(scope="module")
def file(folder: Path, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return page_for(folder, tmp_path_factory.mktemp("page") / "bench.html")


class Shown:
    """The page in the browser, what it put on the console and what it asked for."""

    def __init__(self, chromium: Browser, file: Path, width: int = 1280, **more: Any) -> None:
        self.page: Page = chromium.new_page(viewport={"width": width, "height": 900}, **more)
        self.console: list[str] = []
        self.requests: list[str] = []
        self.rounds = 0
        self.page.set_default_timeout(PATIENCE)
        self.page.on("console", lambda message: self.console.append(message.text))
        self.page.on("pageerror", lambda error: self.console.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.begun = time.monotonic()
        self.page.goto(file.as_uri())

    def give(self, *files: Path) -> None:
        """Give files one after the other, and wait for each one's answers."""
        for one in files:
            self.page.set_input_files("#b-files", one)
            self.answered()

    def answered(self) -> None:
        self.rounds += 1
        self.page.locator(f"#b-result[data-round='{self.rounds}']").wait_for()

    def saved(self, button: str) -> bytes:
        """What a button saves."""
        with self.page.expect_download() as download:
            self.page.get_by_role("button", name=button).click()
        return Path(download.value.path()).read_bytes()

    def text(self, of: str) -> str:
        return self.page.locator(of).inner_text()


@pytest.fixture(scope="module")
def worked(chromium: Browser, file: Path) -> Iterator[Shown]:
    """The page with a dump and the one before it."""
    made = Shown(chromium, file)
    made.give(DIPPER, FAULTY)
    yield made
    made.page.close()


def test_it_is_one_file_of_a_size_that_can_be_sent(file: Path) -> None:
    size = file.stat().st_size
    print(f"\nthe bench page has {size:,} bytes")
    assert size <= MOST_BYTES


class Both(NamedTuple):
    """One output, by the page and by the command line."""

    name: str
    page: bytes
    terminal: bytes


@pytest.mark.parametrize("width", [pytest.param(1280, marks=pytest.mark.long), 390])
def test_page_and_command_line_say_the_same_to_the_byte(
    chromium: Browser, file: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """Check value: the command line's own output, for every dump, and for it and the one before."""
    made = Shown(chromium, file, width)
    compared: list[Both] = []
    before = ""
    dumps = DUMPS if width == 1280 else DUMPS[::6]  # the output hangs on no width
    for dump in dumps:
        made.give(dump)
        check = made.saved("Save the audit as JSON")
        said = call(monkeypatch, ["check", "--format", "json", dump.name], cwd=folder)
        compared.append(Both(dump.name, check, said.out.encode()))
        if before:
            change = made.saved("Save the changes as JSON")
            said = call(monkeypatch, ["diff", "--format", "json", before, dump.name], cwd=folder)
            compared.append(Both(f"{before} to {dump.name}", change, said.out.encode()))
        before = dump.name
    assert len(compared) == 2 * len(dumps) - 1
    assert len(DUMPS) > 30
    assert [one.name for one in compared if one.page != one.terminal] == []
    assert made.page.evaluate("document.documentElement.scrollWidth") <= width
    assert made.console == []
    assert _asked(made) == [file.as_uri()]
    made.page.close()


def _asked(made: Shown) -> list[str]:
    """What was asked for, but for what the page has made itself: its thread, what it saves."""
    return [url for url in made.requests if not url.startswith("blob:")]


def test_what_is_given_before_it_is_ready_is_answered_and_how_soon_is_told(
    chromium: Browser, file: Path
) -> None:
    made = Shown(chromium, file)
    made.page.set_input_files("#b-files", FAULTY)
    made.page.locator("#b-result .verdict").first.wait_for()
    first = time.monotonic() - made.begun
    made.answered()
    made.give(DIPPER)
    later = made.page.locator("#b-result").get_attribute("data-last")
    print(f"\nfirst result after {first:.2f} s, a later check in {later} s")
    assert made.console == []
    made.page.close()


def test_a_finding_has_the_dump_s_own_line_beside_its_place(worked: Shown) -> None:
    # by hand, from the dump: its line 320 is `gives = 900`
    assert FAULTY.read_text(encoding="utf-8").splitlines()[319].strip() == "gives = 900"
    place = worked.page.locator("#findings .finding li", has_text=f"{FAULTY.name}:320").first
    assert "gives = 900" in place.inner_text()


def test_the_lines_beside_places_hide_what_is_private(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.give(DIPPER)
    place = made.page.locator("[id='dump/secret-present'] li", has_text=f"{DIPPER.name}:9:").first
    shown = place.locator(".own-line").inner_text()
    _, _, private = DIPPER.read_text(encoding="utf-8").splitlines()[8].partition("= ")
    assert private.strip()
    assert "hidden" in shown
    assert private.strip() not in made.page.content()
    made.page.close()


def test_a_second_dump_shows_what_changed_and_what_that_brings(worked: Shown) -> None:
    told = worked.text("#b-changes")
    assert f"What changed from {DIPPER.name} to {FAULTY.name}" in told
    assert "battery.capacity" in told
    link = worked.page.locator("#b-changes .told a", has_text="failsafe/throttle-closes").first
    assert link.get_attribute("href") == "#failsafe/throttle-closes"
    causes = worked.page.locator("#b-changes .cause a")
    assert causes.count() > 3
    leads = causes.evaluate_all("all => all.map((one) => one.getAttribute('href').slice(1))")
    assert [one for one in leads if not worked.page.locator(f"[id='{one}']").count()] == []


def test_the_lines_of_a_mend_can_be_copied(worked: Shown) -> None:
    # README shows the first four; the others by hand, from the dump's lines 161 and 318 to 320
    lines = worked.text("#b-mends .copied >> nth=0").split("\n")
    motors = ["[arm bow_port]", "turns = sunwise", "[arm bow_starboard]", "turns = widdershins"]
    throttle = ["[lost channel 3]", "freezes = yes"]
    assert lines == ["[port brook2]", "jobs = 2", *motors, *throttle]
    worked.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    worked.page.get_by_role("button", name="Copy the change").click()
    worked.page.get_by_text("Copied.").wait_for()
    assert worked.page.evaluate("navigator.clipboard.readText()").split("\n") == lines


def test_roles_can_be_changed_about(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.give(DIPPER, FAULTY)
    made.page.get_by_label(f"What {DIPPER.name} is").select_option("now")
    made.answered()
    assert f"What changed from {FAULTY.name} to {DIPPER.name}" in made.text("#b-changes")
    made.page.get_by_label(f"What {FAULTY.name} is").select_option("aside")
    made.answered()
    assert made.page.locator("#b-changes").count() == 0
    made.page.close()


def test_the_report_s_filter_and_keys_work_and_leave_the_page_s_fields_alone(
    chromium: Browser, file: Path
) -> None:
    made = Shown(chromium, file)
    made.give(FAULTY)
    made.page.locator("#b-text").press_sequentially("n/p")
    assert made.page.locator("#b-text").input_value() == "n/p"
    made.page.locator("#search").fill("throttle-closes")
    assert made.page.locator("#findings .finding:visible").count() == 1
    made.page.locator("#search").fill("")
    made.page.locator("#keys").focus()
    made.page.keyboard.press("n")
    first = made.page.locator("#findings .finding").first.get_attribute("id")
    assert made.page.evaluate("document.activeElement.id") == first
    made.page.close()


def test_the_list_is_recorded_saved_and_gone_on_with_in_another_page(
    chromium: Browser, file: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    made = Shown(chromium, file)
    made.give(DIPPER)
    made.page.get_by_role("button", name="It is so (propellers-off)").click()
    made.page.locator("[data-step=propellers-off].done").wait_for()
    made.page.get_by_role("button", name="It is not so (joints)").click()
    made.page.locator("[data-step=joints].failed").wait_for()
    record = tmp_path / "dipper.bench.toml"
    record.write_bytes(made.saved("Save the record"))
    made.page.close()
    found = [(entry.step, entry.outcome.value) for entry in read_record(record.read_text())]
    assert found == [("propellers-off", "done"), ("joints", "failed")]
    again = Shown(chromium, file)
    again.give(DIPPER)
    again.give(record)
    assert again.page.locator("[data-step=joints].failed").count() == 1
    again.page.get_by_role("button", name="Take back (joints)").click()
    again.page.locator("[data-step=joints].open").wait_for()
    again.page.close()
    # the command line reads the same record to the same end
    work = tmp_path / "work"
    shutil.copytree(folder, work)
    shutil.copy(record, work)
    said = call(
        monkeypatch, ["bench", "--format", "json", "dipper.build.toml", "dipper.dump"], cwd=work
    )
    assert '"failed": 1' in said.out


# What comes before the first step that asks for a value, the voltage of a switched rail.
OPENING: Final = (
    "propellers-off", "joints", "antenna-video", "antenna-receiver", "bridge-video", "polarity",
    "continuity", "motor-screws", "bells", "propeller-balance",
)  # fmt: skip


def test_a_measured_value_is_asked_for_and_judged(
    chromium: Browser, file: Path, folder: Path, tmp_path: Path
) -> None:
    record = tmp_path / "dipper.bench.toml"
    with pytest.MonkeyPatch.context() as patch:
        work = tmp_path / "work"
        shutil.copytree(folder, work)
        for step in OPENING:
            done = ["bench", "dipper.build.toml", "dipper.dump", "--done", step]
            assert call(patch, done, cwd=work).status == 0
        shutil.copy(work / record.name, record)
    made = Shown(chromium, file)
    made.give(DIPPER)
    made.give(record)
    asks = made.page.locator(".bench li.open", has=made.page.locator("input[type=text]")).first
    asks.locator("input").fill("no idea")
    asks.get_by_role("button", name="Record").click()
    asks.get_by_role("alert").filter(has_text="no idea").wait_for()
    asks.locator("input").fill("-99999")
    id_of = asks.get_attribute("data-step")
    asks.get_by_role("button", name="Record").click()
    made.page.locator(f"[data-step='{id_of}'].failed").wait_for()
    made.page.close()


def test_what_is_private_is_hidden_before_a_dump_is_passed_on(
    worked: Shown, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked.page.get_by_role("button", name="Hide what is private").click()
    data = worked.saved("Save the redacted dump")
    said = call(monkeypatch, ["redact", FAULTY.name], cwd=folder)
    assert data == said.out.encode()
    assert data != FAULTY.read_bytes()


def test_a_dropped_dialect_and_sheet_are_used(
    chromium: Browser, tmp_path: Path, folder: Path
) -> None:
    """A page made for an empty folder learns both from what it is given."""
    (tmp_path / "empty").mkdir()
    page = page_for(tmp_path / "empty", tmp_path / "bench.html")
    with pytest.MonkeyPatch.context() as patch:
        wanted = call(patch, ["check", "--format", "json", FAULTY.name], cwd=folder).out
    made = Shown(chromium, page)
    made.give(FAULTY)
    assert "No dialect" in made.text("#b-report")
    made.give(CORPUS / "dialects" / "sedge.toml")
    assert "sedge 2.4.1" in made.text("#b-report")
    assert "No build sheet" in made.text("#b-report")
    made.give(CORPUS / "dipper.build.toml")
    assert made.saved("Save the audit as JSON").decode() == wanted
    made.page.close()


class Bench(NamedTuple):
    """A dump that no dialect knows, and a folder for what is saved of it."""

    dump: Path
    folder: Path


@pytest.fixture
def unknown(tmp_path: Path) -> Bench:
    shutil.copy(STARWORT / "redshank.dump", tmp_path)
    return Bench(tmp_path / "redshank.dump", tmp_path)


def _answered(made: Shown, known: Settings) -> None:
    """One question of the page answered, as a builder would who knows some settings."""
    form = made.page.locator("form.question")
    path = form.get_attribute("data-path") or ""
    number = int(form.locator("h3").inner_text().split()[1].rstrip(","))
    told = answer_from(known, Question(path, "", "", (), 0, 0))
    if told.value:
        made.page.get_by_label(f"{path}:").fill(told.value)
        made.page.get_by_role("button", name="See what that makes of it").click()
        made.page.get_by_role("button", name="That is right").click()
    else:
        made.page.get_by_role("button", name="I don't know it").click()
    made.page.locator(".question h3", has_text=f"Question {number + 1},").wait_for()


def test_a_dump_that_no_dialect_knows_is_taught_audited_mended_and_its_dialect_saved(
    chromium: Browser, file: Path, unknown: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Check value: the command line, with the dialect that the page saved."""
    known = read_plain((STARWORT / "known.cfg").read_text(encoding="utf-8"), "known.cfg")
    made = Shown(chromium, file)
    made.give(unknown.dump)
    assert "was not audited" in made.text("#b-report .verdict")
    from_here = time.monotonic()
    made.page.get_by_role("button", name="Ask me what is missing").click()
    made.page.locator("form.question").wait_for()
    print(f"\nfirst question after {time.monotonic() - from_here:.2f} s")
    could = [int(made.page.locator(".running progress").get_attribute("value") or 0)]
    from_here = time.monotonic()
    for _ in range(10):
        _answered(made, known)
        could.append(int(made.page.locator(".running progress").get_attribute("value") or 0))
    print(f"ten answers in {time.monotonic() - from_here:.2f} s, rules that can run: {could}")
    assert could == sorted(could)
    assert could[-1] > could[0]
    made.page.get_by_role("button", name="Check the dump with it").click()
    made.answered()
    (unknown.folder / "starwort.toml").write_bytes(made.saved("Save the dialect"))
    (unknown.folder / "cfgaudit.toml").write_text(
        '[cfgaudit]\ndialects = ["starwort.toml"]\n', encoding="utf-8"
    )
    audit = made.saved("Save the audit as JSON").decode("utf-8")
    said = call(monkeypatch, ["check", "--format", "json", "redshank.dump"], cwd=unknown.folder)
    assert json.loads(said.out)["dumps"][0]["dialect"] == "starwort"
    assert audit == said.out
    mend = call(monkeypatch, ["mend", "--format", "json", "redshank.dump"], cwd=unknown.folder)
    (change,) = json.loads(mend.out)["files"]
    lines = made.text("#b-mends .copied >> nth=0").split("\n")
    assert lines == change["change"]["lines"] != []
    assert made.console == []
    assert _asked(made) == [file.as_uri()]
    made.page.close()


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_teaching_is_worked_by_keys_by_thumbs_and_by_ear(
    chromium: Browser, file: Path, unknown: Bench, width: int, scheme: str
) -> None:
    made = Shown(chromium, file, width, color_scheme=scheme)
    made.give(unknown.dump)
    made.page.get_by_role("button", name="Ask me what is missing").press("Enter")
    made.page.locator("form.question").wait_for()
    path = made.page.locator("form.question").get_attribute("data-path")
    assert made.page.evaluate("document.activeElement.name") == "value"
    made.page.keyboard.type("quad_x")
    made.page.keyboard.press("Tab")  # to the lines
    assert made.page.evaluate("document.activeElement.type") == "radio"
    made.page.keyboard.press("ArrowUp")  # round to the last one
    assert made.page.evaluate("document.activeElement.value") == "other"
    made.page.keyboard.press("Tab")
    made.page.keyboard.type("85")  # by hand, from the dump: the frame's shape
    lines = made.page.get_by_role("listbox", name="The dump's lines")
    assert lines.input_value() == "85"
    made.page.get_by_label(f"{path}:").focus()
    made.page.keyboard.press("Enter")
    made.page.locator(".effect li").first.wait_for()
    assert made.page.evaluate("document.activeElement.textContent") == "That is right"
    targets = made.page.locator("#b-teach button, #b-teach input[type=text], #b-teach .choice")
    boxes = [one.bounding_box() for one in targets.all()]
    assert len(boxes) > 8
    assert [box for box in boxes if box is None or min(box["height"], box["width"]) < 44] == []
    assert made.page.evaluate("document.documentElement.scrollWidth") <= width
    assert _axe(made.page) == []
    made.page.keyboard.press("Enter")
    made.page.locator(".question h3", has_text="Question 2,").wait_for()
    assert made.page.evaluate("document.activeElement.name") == "value"
    made.page.get_by_role("button", name="Back to the question before").press("Enter")
    made.page.locator(".question h3", has_text="Question 1,").wait_for()
    assert made.console == []
    made.page.close()


def test_the_causes_come_first_with_their_own_lines(worked: Shown) -> None:
    # by hand, from the dump: the four lines to change are 37, 150 with 161, 245 or 326, and 320
    first = worked.page.locator("#b-report section").first
    assert first.get_attribute("id") == "causes"
    text = FAULTY.read_text(encoding="utf-8").splitlines()
    for line in (150, 161, 326, 320, 37):
        quoted = worked.page.locator("#causes .lines li", has_text=f"line {line} ").first
        assert quoted.locator("code").inner_text() == text[line - 1].strip()
        # laid out as in the report: number, line and meaning beside each other
        assert quoted.evaluate("one => getComputedStyle(one.parentElement).whiteSpace") == "normal"
    assert worked.text("#b-state").count("9 errors") == 1
    assert "could be checked" not in worked.text("#b-state")


def test_each_dump_of_a_paste_can_be_chosen(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.give(CORPUS / "pasted" / "several.dump")
    made.page.get_by_label("What several.dump#2 is").select_option("now")
    made.answered()
    assert "this is number 2" in made.text("#b-report")
    made.page.close()


def test_pasted_text_is_checked(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.page.locator("#b-text").fill(FAULTY.read_text(encoding="utf-8"))
    made.page.get_by_role("button", name="Check the pasted text").click()
    made.answered()
    assert "9 errors" in made.text("#b-report .verdict >> nth=0")
    made.page.close()


def test_hostile_text_stays_text(chromium: Browser, file: Path, tmp_path: Path) -> None:
    evil = tmp_path / "<img src=x onerror=alert(1)>.cfg"
    evil.write_text(HOSTILE, encoding="utf-8")
    made = Shown(chromium, file)
    made.page.on("dialog", lambda dialog: made.console.append(f"dialog: {dialog.message}"))
    made.give(evil, DIPPER)
    assert made.page.locator("#b-result script, #b-result img, #b-given img").count() == 0
    assert made.page.locator("#b-result b[onmouseover]").count() == 0
    assert "<img src=x onerror=alert(1)>" in made.text("#b-given")
    assert made.console == []
    assert _asked(made) == [file.as_uri()]
    made.page.close()


def test_the_policy_forbids_the_network_even_to_the_page_s_own_script(worked: Shown) -> None:
    tried = """async () => {
      const told = new Promise((done) => addEventListener("securitypolicyviolation", done));
      const answer = await fetch("https://example.com/").catch(() => "refused");
      return [answer, (await told).effectiveDirective];
    }"""
    before = len(worked.console)
    assert worked.page.evaluate(tried) == ["refused", "connect-src"]
    del worked.console[before:]  # the browser's own word on this try
    assert not [url for url in worked.requests if url.startswith("http")]


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_finds_no_fault(chromium: Browser, file: Path, width: int, scheme: str) -> None:
    """Reference library: axe-core, as axe-playwright-python brings it."""
    made = Shown(chromium, file, width, color_scheme=scheme)
    made.give(DIPPER, FAULTY)
    made.page.get_by_role("button", name="It is not so (propellers-off)").click()
    made.page.locator("[data-step=propellers-off].failed").wait_for()
    opened = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"
    made.page.evaluate(opened)
    made.page.locator("#b-licences details").first.wait_for()
    assert _axe(made.page) == []
    assert made.page.evaluate("document.documentElement.scrollWidth") <= width
    made.page.close()


def _axe(page: Page) -> list[tuple[str, ...]]:
    """What axe-core finds wrong, which looked at more than a few things."""
    answer = Axe().run(page, options=AXE)
    assert len(answer.response["passes"]) > 20
    return [
        (one["impact"], one["id"], one["nodes"][0]["html"][:160])
        for one in answer.response["violations"]
    ]


def test_it_can_be_worked_by_keys_alone(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.page.keyboard.press("Tab")
    made.page.keyboard.press("Enter")  # the link past the head
    made.page.keyboard.press("Tab")
    assert made.page.evaluate("document.activeElement.id") == "b-files"
    made.page.keyboard.press("Tab")
    made.page.keyboard.insert_text("[battery]\ncells = 4\n")
    made.page.keyboard.press("Tab")
    made.page.keyboard.press("Enter")
    made.answered()
    assert "pasted.dump" in made.text("#b-given")
    made.page.close()


def test_it_prints_the_report_and_not_the_ways_to_give_files(worked: Shown) -> None:
    worked.page.emulate_media(media="print", color_scheme="dark")
    assert worked.page.locator("#b-give").is_hidden()
    assert worked.page.locator("#findings").is_visible()
    colour = "getComputedStyle(document.body).backgroundColor"
    assert worked.page.evaluate(colour) == "rgb(255, 255, 255)"
    worked.page.emulate_media(media="screen", color_scheme="light")
