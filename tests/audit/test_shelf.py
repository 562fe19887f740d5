"""Whole fleets: the same whoever works on them, in whatever order, however often it is stopped."""

import io
import json
import os
import pickle
import re
import tarfile
import zipfile
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from cfgaudit.audit.crew import (
    ENDED,
    SAME,
    Alone,
    Batch,
    Crew,
    Processes,
    Progress,
    _work_far,
    audit_all,
)
from cfgaudit.audit.engine import audit
from cfgaudit.audit.overview import UNKNOWN_DUMP, overview
from cfgaudit.audit.record import NO_DIALECT, KeptFinding, Record, since, size_of
from cfgaudit.audit.shelf import FileShelf, MemoryShelf, Shelf, ShelfError
from cfgaudit.audit.sources import Source, sources
from cfgaudit.dialects.opening import open_dump
from cfgaudit.reports.fleet import LINES, overview_json, overview_screen
from tests.audit.fleet_desks import Single, desk, fragile_desk, later_desk, no_desk
from tests.benchmarks.fleets import dialects, fleet, written_to_archive, written_to_folder
from tests.reports.schemas import validate

COUNT = 45


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fleet of whole dumps, with files among them that are none."""
    place = tmp_path_factory.mktemp("fleet")
    written_to_folder(place, fleet(COUNT, 5))
    (place / "empty.dump").write_bytes(b"")
    (place / "noise.dump").write_bytes(bytes(range(256)) * 40)
    return place


def _shelf(records: Iterable[Record]) -> MemoryShelf:
    shelf = MemoryShelf()
    shelf.put(records)
    return shelf


def _kept(shelf: Shelf) -> list[Record]:
    return sorted(shelf.records())


def _audited(folder: Path, crew: Crew, shelf: Shelf) -> Progress:
    return audit_all(sources([str(folder)]), desk, crew, shelf)


@pytest.fixture(scope="module")
def alone(folder: Path) -> list[Record]:
    """The records that one process makes in memory."""
    shelf = MemoryShelf()
    done = _audited(folder, Alone(), shelf)
    assert (done.craft, done.failed) == (COUNT, 2)
    return _kept(shelf)


def test_the_findings_of_a_record_are_those_of_a_plain_audit(alone: list[Record]) -> None:
    for record in alone:
        if record.reason:
            continue
        data = Path(record.source).read_bytes()
        plain = audit(open_dump("", data, dialects()).settings)
        told = [(f.rule.id, str(f.level), f.paths, f.fingerprint) for f in plain.findings]
        assert [found[:4] for found in record.findings] == told
        assert record.unchecked == len(plain.not_checked)


def test_a_file_that_is_no_dump_is_told_with_the_reason(alone: list[Record]) -> None:
    told = {Path(record.source).name: record.reason for record in alone if record.reason}
    assert told == {"empty.dump": NO_DIALECT, "noise.dump": NO_DIALECT}


def test_nothing_secret_is_kept(alone: list[Record]) -> None:
    paths = {path for record in alone for path in record.paths}
    assert "home.ceiling" in paths
    assert not paths & {"craft.owner", "craft.serial"}


def test_several_processes_make_what_one_makes(folder: Path, alone: list[Record]) -> None:
    shelf = MemoryShelf()
    _audited(folder, Processes(2), shelf)
    assert _kept(shelf) == alone


def test_the_order_of_the_sources_changes_nothing(folder: Path, alone: list[Record]) -> None:
    shelf = MemoryShelf()
    backwards = sorted(sources([str(folder)]), reverse=True)
    audit_all(backwards, desk, Alone(), shelf)
    assert _kept(shelf) == alone
    assert overview(shelf) == overview(_shelf(alone))


@pytest.mark.parametrize("name", ["fleet.zip", "fleet.tar", "fleet.tar.gz"])
def test_an_archive_is_read_as_its_folder_is(
    name: str, tmp_path: Path, alone: list[Record]
) -> None:
    file = tmp_path / name
    written_to_archive(file, fleet(COUNT, 5))
    shelf = MemoryShelf()
    audit_all(sources([str(file)]), desk, Alone(), shelf)
    plain = [record for record in alone if not record.reason]
    assert [r._replace(source="") for r in _kept(shelf)] == [r._replace(source="") for r in plain]


def test_broken_archives_and_missing_files_are_told_and_stop_nothing(tmp_path: Path) -> None:
    whole = tmp_path / "whole.tar"
    with tarfile.open(whole, "w") as tape:
        for craft in fleet(3, 1):
            entry = tarfile.TarInfo(craft.name)
            entry.size = len(craft.text)
            tape.addfile(entry, io.BytesIO(craft.text.encode()))
    cut = tmp_path / "cut.tar"
    cut.write_bytes(whole.read_bytes()[:30_000])
    noise = tmp_path / "noise.zip"
    noise.write_bytes(b"no archive at all")
    shelf = MemoryShelf()
    places = [str(noise), str(cut), str(tmp_path / "missing.dump"), str(whole)]
    done = audit_all(sources(places), desk, Alone(), shelf)
    assert done.craft >= 4  # the whole one's three, and the first of the one that was cut
    reasons = {record.source: record.reason for record in shelf.records() if record.reason}
    assert reasons[str(tmp_path / "missing.dump")] == "can't be read: no such file or directory"
    assert str(noise) in reasons


def test_a_member_that_unpacks_to_very_much_is_not_read_whole(tmp_path: Path) -> None:
    file = tmp_path / "large.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("large.dump", b"\0" * 200_000_000)
    (source,) = sources([str(file)])
    assert source.data is not None
    assert len(source.data) < 100_000_000
    assert "no dump" in desk().record(source.name, source.data).reason


def test_a_dump_that_ends_its_process_is_told_and_nothing_else_is_lost(tmp_path: Path) -> None:
    written_to_folder(tmp_path, fleet(40, 5))
    (tmp_path / "deadly.dump").write_bytes(b"end the process, please")
    shelf = MemoryShelf()
    done = audit_all(sources([str(tmp_path)]), fragile_desk, Processes(2), shelf)
    assert (done.craft, done.failed) == (40, 1)
    told = [record for record in _kept(shelf) if record.reason]
    assert [(Path(r.source).name, r.reason) for r in told] == [("deadly.dump", ENDED)]


def test_workers_that_can_t_begin_are_told_and_no_dump_is_blamed(folder: Path) -> None:
    shelf = MemoryShelf()
    with pytest.raises(ShelfError, match="no worker process"):
        audit_all(sources([str(folder)]), no_desk, Processes(2), shelf)
    assert _kept(shelf) == []


def test_memory_holds_ten_thousand_craft_and_says_so() -> None:
    shelf = MemoryShelf()
    shelf.put(Record(f"craft {n}", "") for n in range(10_000))
    with pytest.raises(ShelfError, match="10,000"):
        shelf.put([Record("one more", "")])


class _Stopping:
    """A crew that somebody stops after some parts."""

    def __init__(self, parts: int) -> None:
        self.parts = parts

    def work(self, making: object, parts: Iterator[Batch]) -> Iterator[list[Record]]:
        """As Crew does, up to a point."""
        for number, records in enumerate(Alone().work(desk, parts)):
            if number == self.parts:
                raise KeyboardInterrupt
            yield records


class TestFile:
    """The shelf in a file."""

    @pytest.fixture(autouse=True)
    def _wants_duckdb(self) -> None:
        pytest.importorskip("duckdb")

    def test_a_file_gives_back_what_was_put_into_it(
        self, folder: Path, tmp_path: Path, alone: list[Record]
    ) -> None:
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        _audited(folder, Processes(2), shelf)
        assert _kept(shelf) == alone
        shelf.close()
        again = FileShelf(tmp_path / "fleet.duckdb")
        assert _kept(again) == alone
        assert sorted(r.source for r in again.records(settings=False)) == [r.source for r in alone]
        some = [record.source for record in alone[3:40:2]]
        held: Shelf
        for held in (again, _shelf(alone)):
            asked = sorted(held.records([*some, "none.dump"], findings=False))
            assert [r._replace(findings=()) for r in asked] == [
                r._replace(findings=()) for r in alone[3:40:2]
            ]
        again.close()

    def test_what_was_stopped_is_taken_up_where_it_was_left(
        self, folder: Path, tmp_path: Path, alone: list[Record]
    ) -> None:
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        with pytest.raises(KeyboardInterrupt):
            _audited(folder, _Stopping(1), shelf)
        shelf.close()
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        done = _audited(folder, Alone(), shelf)
        assert done.before == 32
        assert done.seen == COUNT + 2
        assert _kept(shelf) == alone
        shelf.close()

    def test_only_what_changed_is_audited_again(self, tmp_path: Path) -> None:
        place = tmp_path / "fleet"
        written_to_folder(place, fleet(10, 2))
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        audit_all(sources([str(place)]), desk, Alone(), shelf)
        file = place / "craft-000004.dump"
        file.write_text(file.read_text("utf-8") + "\n# seen by Ines\n", "utf-8")
        done = audit_all(sources([str(place)]), desk, Alone(), shelf)
        assert (done.craft, done.before) == (1, 9)
        assert len(_kept(shelf)) == 10
        later = audit_all(sources([str(place)]), later_desk, Alone(), shelf)
        assert (later.craft, later.before) == (10, 0)
        assert SAME not in {record.reason for record in shelf.records()}
        shelf.close()

    def test_what_a_change_brought_is_told_of_a_shelf_that_knew_the_craft(
        self, tmp_path: Path
    ) -> None:
        place = tmp_path / "fleet"
        written_to_folder(place, fleet(10, 2))
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        audit_all(sources([str(place)]), desk, Alone(), shelf)
        idles = []
        for file in sorted(place.glob("*.dump"))[:4]:
            text = file.read_text("utf-8")
            idles += [
                f"{int(tenths) / 10:g} %" for tenths in re.findall(r"(?m)^idle[ ,](\d+)", text)
            ]
            file.write_text(re.sub(r"(?m)^(idle[ ,])\d+", r"\g<1>2", text), "utf-8")
        shelf.close()
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        audit_all(sources([str(place)]), desk, Alone(), shelf)
        brought = [f for record in shelf.records() for f in record.findings if f.was]
        assert {f.paths for f in brought} == {("esc.idle",)}
        assert sorted(f.was[0] for f in brought) == sorted(idles)
        shelf.close()

    def test_what_is_kept_of_new_craft_is_written_without_going_through_the_others(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        gone_through: list[FileShelf] = []
        records = FileShelf._records

        def noted(shelf: FileShelf, *asked: Any, **more: Any) -> Iterator[Record]:
            gone_through.append(shelf)
            return records(shelf, *asked, **more)

        monkeypatch.setattr(FileShelf, "_records", noted)
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        for part in range(3):
            names = [f"{part}/{n}" for n in range(600)]
            assert shelf.known(names) == {}
            shelf.put(_told(name, "6 %") for name in names)
        assert not gone_through
        shelf.put([_told("0/7", "1 %", "motor/stops")])  # a source that was there twice
        shelf.close()
        assert len(gone_through) == 1
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        assert shelf.known(["0/6", "0/7", "3/0"]).keys() == {"0/6", "0/7"}
        assert len(_kept(shelf)) == 1_800
        (changed,) = (record for record in _kept(shelf) if record.findings)
        assert (changed.source, changed.texts) == ("0/7", ("1 %",))
        assert changed.findings[0].was == ("6 %",)
        shelf.close()

    def test_sql_is_answered_and_changes_nothing(self, folder: Path, tmp_path: Path) -> None:
        shelf = FileShelf(tmp_path / "fleet.duckdb")
        _audited(folder, Alone(), shelf)
        told = shelf.query("SELECT count(*) AS craft FROM craft WHERE reason = ''")
        assert (told.columns, told.rows) == (("craft",), ((COUNT,),))
        told = shelf.query("SELECT DISTINCT value FROM setting WHERE path = 'frame.layout'")
        assert told.rows == (("quad_x",),)
        file = tmp_path / "written.csv"
        for deed in (
            "DELETE FROM craft_kept",
            f"COPY craft TO '{file}'",
            "SELECT 1; DROP VIEW craft",
        ):
            with pytest.raises(ShelfError, match="one question"):
                shelf.query(deed)
        assert len(_kept(shelf)) == COUNT + 2
        assert not file.exists()
        assert shelf.query("SELECT source FROM craft", most=COUNT).more
        assert not shelf.query("SELECT source FROM craft", most=COUNT + 2).more
        with pytest.raises(ShelfError, match="nothing_so_named"):
            shelf.query("SELECT * FROM nothing_so_named")
        shelf.close()

    def test_parquet_is_the_same_byte_for_byte_in_whatever_order(
        self, folder: Path, tmp_path: Path
    ) -> None:
        written: list[list[bytes]] = []
        for number, backwards in enumerate((False, True)):
            shelf = FileShelf(tmp_path / f"{number}.duckdb")
            every = sorted(sources([str(folder)]), reverse=backwards)
            audit_all(every, desk, Alone(), shelf)
            files = shelf.to_parquet(tmp_path / str(number))
            written.append([file.read_bytes() for file in files])
            shelf.close()
        assert written[0] == written[1]
        assert len(written[0]) == 3

    def test_a_file_that_is_no_shelf_is_told(self, tmp_path: Path) -> None:
        file = tmp_path / "notes.txt"
        file.write_text("this is no shelf " * 1_000)
        with pytest.raises(ShelfError, match="can't be opened"):
            FileShelf(file)


def test_one_killed_worker_of_two_loses_nothing_and_doubles_nothing(
    folder: Path, alone: list[Record], monkeypatch: pytest.MonkeyPatch
) -> None:
    distributed = pytest.importorskip("distributed")
    from cfgaudit.audit.crew import DaskCrew

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        killed: list[int] = []

        def kill_one(_: Progress) -> None:
            if not killed:
                worker = next(iter(cluster.workers.values()))
                killed.append(worker.pid)
                os.kill(worker.pid, 9)

        shelf = MemoryShelf()
        monkeypatch.chdir(folder.parent)  # where no worker stands
        found = sources([folder.name])
        done = audit_all(found, desk, DaskCrew(cluster.scheduler_address), shelf, kill_one)
    assert killed
    assert done.seen == COUNT + 2
    named = [record._replace(source=str(Path(record.source).absolute())) for record in _kept(shelf)]
    assert named == alone


def test_the_threads_of_a_cluster_s_worker_audit_one_after_the_other() -> None:
    parts = [(Source(f"{number}", b""),) for number in range(8)]
    with ThreadPoolExecutor(4) as threads:
        made = list(threads.map(partial(_work_far, pickle.dumps(Single)), parts))
    assert {record.reason for records in made for record in records} == {"free"}


def test_a_fleet_s_screen_has_at_most_sixty_lines(alone: list[Record]) -> None:
    many = [r._replace(source=f"{n} {r.source}") for n in range(8) for r in alone]
    found = overview(_shelf(many))
    for width in (60, 80, 200):
        assert len(overview_screen(found, width).plain().splitlines()) <= LINES
        longer = overview_screen(found, width, long=True).plain()
        assert found.rules[-1].rule in longer or found.rules[-1].level == "note"


def test_the_overview_counts_what_the_records_say(alone: list[Record]) -> None:
    found = overview(_shelf(alone))
    assert found.craft == COUNT
    assert [(entry.reason, entry.sources) for entry in found.refused] == [(UNKNOWN_DUMP, 2)]
    assert sum(group.craft for group in found.groups) == COUNT
    assert sum(tally.craft for tally in found.shares["firmware"]) == COUNT
    for entry in found.rules:
        has = [r for r in alone if any(f.rule == entry.rule for f in r.findings)]
        assert entry.craft <= len(has)


def test_the_json_of_a_fleet_is_bounded_and_says_how_much_there_is() -> None:
    def lettered(number: int) -> str:
        return "".join("abcdefghij"[int(digit)] for digit in str(number))

    def differing(count: int) -> list[Record]:
        """Craft of which no two have anything in common but for one finding."""
        return [
            Record(
                f"{n:06}", "d", reason="" if n % 3 else f"reason {n}", firmware=f"fw {n}",
                board=f"board {n}", layout=f"layout {n}", built=f"{1000 + n}-01", warnings=1,
                findings=tuple(
                    KeptFinding(f"rule/{lettered(each)}", "warning", (), f"{each}")
                    for each in (n // 6, n // 4)
                ),
            )
            for n in range(count)
        ]  # fmt: skip

    one, other = (
        json.loads(json.dumps(overview_json(overview(_shelf(differing(count))))))
        for count in (1_200, 4_800)
    )
    for told, count in ((one, 1_200), (other, 4_800)):
        validate(told, "fleet")
        assert told["sources"] == count
        assert told["craft"] == count * 2 // 3
        assert told["of"]["board"] == count * 2 // 3
        assert told["of"]["refused"] == count // 3
        assert {len(told[sort]) for sort in ("refused", "rules", "groups", "causes")} == {200}
    assert len(json.dumps(other)) < 1.1 * len(json.dumps(one))


def test_of_more_groups_and_causes_than_are_held_the_largest_are_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("cfgaudit.audit.overview._HELD", 20)
    records = [
        Record(
            f"{size:02} {number:02}", "d", warnings=1,
            findings=(KeptFinding(f"area/rule-{size}", "warning", (), f"print {size}"),),
        )
        for size in range(1, 61)
        for number in range(size)
    ]  # fmt: skip
    found = overview(_shelf(records))
    assert [group.craft for group in found.groups][:10] == list(range(60, 50, -1))
    assert [cause.craft for cause in found.causes][:10] == list(range(60, 50, -1))
    assert len(found.groups) < 40
    assert all(group.rules == (f"area/rule-{group.craft}",) for group in found.groups)


def test_the_class_of_size_is_by_the_motors_that_are_farthest_apart() -> None:
    arms = {
        "frame.arms.front_left.x": "78 mm",
        "frame.arms.front_left.y": "-78 mm",
        "frame.arms.rear_right.x": "-0.078 m",
        "frame.arms.rear_right.y": "0.078 m",
    }
    assert size_of(arms) == "160 to 260 mm"  # 2 x 78 x sqrt 2 = 220.6
    assert size_of({}) == ""


def test_a_source_that_is_not_to_be_read_is_a_record() -> None:
    shelf = MemoryShelf()
    done = audit_all([Source("x", reason="can't be read: no")], desk, Alone(), shelf)
    assert done == Progress(0, 0, 1, 0)


def _told(source: str, idle: str, *rules: str) -> Record:
    """A record of a craft with one setting, and of findings about it."""
    found = tuple(KeptFinding(r, "error", ("motors.idle",), f"{r} {idle}") for r in rules)
    return Record(source, f"digest {idle}", findings=found, paths=("motors.idle",), texts=(idle,))


def test_what_a_change_brought_is_known_as_long_as_it_stands() -> None:
    before = _told("heron.dump", "6 %", "esc/other")
    now = since(before, _told("heron.dump", "1 %", "esc/other", "motor/stops"))
    assert [found.was for found in now.findings] == [(), ("6 %",)]  # of one it was told before
    later = since(now, now._replace(stamp="a later version"))
    assert [found.was for found in later.findings] == [(), ("6 %",)]
    nothing = since(before, before._replace(findings=now.findings))  # the same value
    assert [found.was for found in nothing.findings] == [(), ()]


def test_craft_that_have_a_cause_since_the_same_change_are_counted() -> None:
    was = ["6 %", "6 %", "6 %", "7 %", "", "1 %"]
    records = [
        since(_told(str(n), old), _told(str(n), "1 %", "motor/stops")) for n, old in enumerate(was)
    ]
    (cause,) = overview(_shelf(records)).causes
    assert (cause.craft, cause.since, cause.was) == (6, 3, ("6 %",))
    assert overview(_shelf(records[::-1])).causes == (cause,)
    (apart,) = overview(_shelf(records[2:])).causes
    assert (apart.craft, apart.since, apart.was) == (4, 0, ())  # each by a change of its own
