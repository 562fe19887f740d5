"""fleet over many craft: told together on one screen, kept in a file, taken up again."""

import json
import tomllib
from pathlib import Path

import pytest

from cfgaudit.cli.inputs import Inputs, open_sheet
from cfgaudit.settings import Settings
from tests.benchmarks.fleets import fleet, written_to_archive, written_to_folder
from tests.cli.calling import call
from tests.reports.schemas import validate

ONE = ["--workers", "1"]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a fleet in it, and the same fleet as an archive beside it."""
    top = tmp_path_factory.mktemp("fleets")
    written_to_folder(top / "craft", fleet(60, 4))
    (top / "craft" / "photo.dump").write_bytes(bytes(range(256)))
    settings = (top / "craft" / "cfgaudit.toml").read_text("utf-8")
    (top / "cfgaudit.toml").write_text(settings, "utf-8")
    written_to_archive(top / "craft.zip", fleet(60, 4))
    return top


def test_more_than_fifty_craft_are_told_together(
    monkeypatch: pytest.MonkeyPatch, place: Path
) -> None:
    answer = call(monkeypatch, ["fleet", "craft"], cwd=place)
    assert answer.status == 2  # photo.dump is named as the others are, and is no dump it knows
    assert answer.out.startswith("61 dumps: 60 craft audited\n")
    assert "no dialect knows this dump" in answer.out
    assert len(answer.out.splitlines()) <= 60
    said = " ".join(answer.out.splitlines()[-3:])
    assert "to one another was not looked at." in said
    assert said.endswith("A clean audit is no proof that a craft is safe.")


def test_the_json_of_a_folder_is_as_its_schema_says_its_limits_tables_its_archive_s_the_same(
    monkeypatch: pytest.MonkeyPatch, place: Path, tmp_path: Path
) -> None:
    file, asked = tmp_path / "learnt.toml", ["--format", "json", *ONE]
    limited = ["fleet", "craft", *asked, "--limits", str(file)]
    told = json.loads(call(monkeypatch, limited, cwd=place).out)
    validate(told, "fleet")
    archive = json.loads(call(monkeypatch, ["fleet", "craft.zip", *asked], cwd=place).out)
    assert told["rules"] == archive["rules"]
    assert told["craft"] == archive["craft"] == 60
    limits = tomllib.loads(file.read_text("utf-8"))["limit"]
    assert {entry["setting"] for entry in limits} == {r["paths"][0] for r in told["relations"]}


def test_paths_come_from_a_list(
    monkeypatch: pytest.MonkeyPatch, place: Path, tmp_path: Path
) -> None:
    names = sorted((place / "craft").glob("craft-00000*.dump"))
    listed = tmp_path / "list.txt"
    listed.write_text("\n".join(str(name) for name in [*names, names[0]]) + "\n", "utf-8")
    arguments = ["fleet", "--list", str(listed), "--format", "json", *ONE]
    assert json.loads(call(monkeypatch, arguments, cwd=place).out)["craft"] == 10


def test_a_shelf_is_gone_on_from_and_answers_sql(
    monkeypatch: pytest.MonkeyPatch, place: Path, tmp_path: Path
) -> None:
    pytest.importorskip("duckdb")
    shelf = ["--shelf", str(tmp_path / "kept.duckdb")]
    first = call(monkeypatch, ["fleet", "craft", *shelf, *ONE], cwd=place)
    again = call(monkeypatch, ["fleet", "craft", *shelf, *ONE], cwd=place)
    assert again.out == first.out
    assert "61 dumps are as they were audited before" in again.err
    sql = "SELECT count(*) AS craft FROM craft WHERE reason = ''"
    asked = call(monkeypatch, ["fleet", *shelf, "--query", sql, "--format", "json"], cwd=place)
    told = json.loads(asked.out)
    validate(told, "fleet")
    assert told["rows"] == [{"craft": 60}]


def test_a_build_sheet_that_many_craft_share_is_read_once(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.toml").write_text("", "utf-8")
    (tmp_path / "cfgaudit.toml").write_text('[craft]\nbuild = "a.toml"\n', "utf-8")
    read: list[str] = []

    def counted(file: str, *, tell: bool = True) -> Settings:
        read.append(file)
        return open_sheet(file, tell=tell)

    monkeypatch.setattr("cfgaudit.cli.inputs.open_sheet", counted)
    inputs = Inputs()
    for number in range(3):
        dump = str(tmp_path / f"heron-{number}.dump")
        (sheet,) = inputs.sheets([dump], [Settings()], [], tell=False)
        assert sheet == open_sheet(read[0])
    assert len(read) == 1


@pytest.mark.parametrize("packed", [False, True], ids=["folder", "archive"])
def test_a_misspelt_table_of_a_craft_is_told_once_and_the_others_are_not(
    monkeypatch: pytest.MonkeyPatch, place: Path, tmp_path: Path, packed: bool
) -> None:
    settings = (place / "cfgaudit.toml").read_text("utf-8")
    tables = "".join(f'[craft.{name}]\nbuild = "a.toml"\n' for name in ("craft-000x07", "heron"))
    tables += '[craft."craft 000009"]\nbuild = "a.toml"\n'
    (tmp_path / "cfgaudit.toml").write_text(settings + tables, "utf-8")
    (tmp_path / "a.toml").write_text("", "utf-8")
    if packed:
        written_to_archive(tmp_path / "craft.zip", fleet(52, 4))
    else:
        for number, craft in enumerate(fleet(52, 4)):
            (tmp_path / f"craft-{number:06}.dump").write_text(craft.text, "utf-8")
    asked = "craft.zip" if packed else "."
    answer = call(monkeypatch, ["fleet", asked, "--match", "*.dump", *ONE], cwd=tmp_path)
    told = [line for line in answer.err.splitlines() if "is of no craft here" in line]
    assert len(told) == 2
    assert "[craft.craft-000x07] is of no craft here; did you mean craft-0000" in told[0]
    assert "[craft.heron] is of no craft here" in told[1]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["fleet"], "Missing argument"),
        (["fleet", "craft", "--query", "SELECT 1"], "want a --shelf FILE"),
        (["fleet", "craft", "--engine", "dask"], "wants the --scheduler ADDRESS"),
        (["fleet", "craft", "--scheduler", "x:1"], "goes with --engine dask"),
        (["fleet", "craft", "--long", "--with", "a=b"], "one by one"),
        (["fleet", "--list", "nothing.txt"], "can't be read"),
    ],
)
def test_what_cannot_be_done_is_told(
    monkeypatch: pytest.MonkeyPatch, place: Path, arguments: list[str], said: str
) -> None:
    answer = call(monkeypatch, arguments, cwd=place)
    assert answer.status == 2
    assert said in answer.err


def test_a_shelf_that_is_not_there_is_asked_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    answer = call(
        monkeypatch, ["fleet", "--shelf", "typo.duckdb", "--query", "SELECT 1"], cwd=tmp_path
    )
    assert answer.status == 2
    assert "there is no shelf typo.duckdb" in answer.err
    assert not (tmp_path / "typo.duckdb").exists()
