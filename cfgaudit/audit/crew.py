"""Who audits a fleet: this process, several of this machine, or a Dask cluster's.

Each is given parts, a few sources each, and gives back the records of each part, in any order.
Only some parts are under way at any time, so memory does not grow with the fleet.
"""

import gc
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from itertools import islice
from multiprocessing import connection, get_context, parent_process
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from cfgaudit.audit.record import Auditing, Record, digest_of, mark_of
from cfgaudit.audit.shelf import Shelf, ShelfError
from cfgaudit.audit.sources import Source, reason_of

PART = 32  # sources
_AHEAD = 3  # parts a worker that are under way or wait
ENDED = "reading it ended the process that read it"
SAME = "the same as before"  # the reason of what need not be audited again; it is never kept

Making = Callable[[], Auditing]
Batch = tuple[Source, ...]


class Progress(NamedTuple):
    """How far an audit of a fleet has come."""

    craft: int = 0  # audited now
    before: int = 0  # audited before, and the same
    failed: int = 0
    with_errors: int = 0  # of those audited now

    @property
    def seen(self) -> int:
        """How many sources were looked at."""
        return self.craft + self.before + self.failed


class Crew(Protocol):
    """Works on parts."""

    def work(self, making: Making, parts: Iterator[Batch]) -> Iterator[list[Record]]:
        """The records of each part, in any order. Closing it stops the work."""
        ...


def audit_all(
    found: Iterable[Source],
    making: Making,
    crew: Crew,
    shelf: Shelf,
    told: Callable[[Progress], None] = lambda _: None,
) -> Progress:
    """Audit every source and put its record on the shelf; what is there already is left there.

    `making` makes what audits, in each process anew. KeyboardInterrupt comes through once the
    work that is under way is put down and what was found so far is on the shelf.
    """
    now = Progress()
    made = crew.work(making, _parts(found, shelf))
    try:
        for records in made:
            fresh = [record for record in records if record.reason != SAME]
            shelf.put(fresh)
            failed = sum(bool(record.reason) for record in fresh)
            now = Progress(
                now.craft + len(fresh) - failed,
                now.before + len(records) - len(fresh),
                now.failed + failed,
                now.with_errors + sum(record.errors > 0 for record in fresh),
            )
            told(now)
    finally:
        close = getattr(made, "close", None)
        if close is not None:
            close()
    return now


def _parts(found: Iterable[Source], shelf: Shelf) -> Iterator[Batch]:
    """Sources in parts, each with the digest that it had when it was audited before."""
    every = iter(found)
    while part := tuple(islice(every, PART)):
        known = shelf.known([source.name for source in part])
        yield tuple(source._replace(known=known.get(source.name, "")) for source in part)


def audited_part(auditing: Auditing, part: Batch) -> list[Record]:
    """The records of a part, one a source. Never raises."""
    return [_audited(auditing, source) for source in part]


def _audited(auditing: Auditing, source: Source) -> Record:
    if source.reason:
        return Record(source.name, "", reason=source.reason)
    try:
        data = source.read()
    except (OSError, ValueError) as error:
        return Record(source.name, "", reason=reason_of(error))
    if source.known and source.known == mark_of(auditing.stamp(source.name), digest_of(data)):
        return Record(source.name, "", reason=SAME)
    return auditing.record(source.name, data)


class Alone:
    """Everything in this process."""

    def work(self, making: Making, parts: Iterator[Batch]) -> Iterator[list[Record]]:
        """As Crew does."""
        auditing = making()
        for part in parts:
            yield audited_part(auditing, part)


_own: list[Auditing] = []  # of a worker process: what audits there


def _begin(making: Making) -> None:
    """Make a worker ready: it leaves Ctrl-C to the first process, and ends when that one does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        watch = threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True)
        watch.start()
    _own[:] = [making()]
    gc.collect()
    gc.freeze()  # rules and dialects stay: they need not be gone through again and again
    gc.set_threshold(20_000, 20, 50)


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


def _work_on(part: Batch) -> list[Record]:
    return audited_part(_own[0], part)  # _begin came first


class Processes:
    """Several processes of this machine.

    One that is ended from outside, or by the dump that it reads, takes nothing with it: the parts
    under way are done again, source by source, and the dump that ends a process twice is told.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def work(self, making: Making, parts: Iterator[Batch]) -> Iterator[list[Record]]:
        """As Crew does."""
        with _importing_as_we_do():  # workers are begun at any time while there is work
            yield from self._work(making, parts)

    def _work(self, making: Making, parts: Iterator[Batch]) -> Iterator[list[Record]]:
        under_way: dict[Future[list[Record]], Batch] = {}
        pool = self._pool(making, self.workers)
        try:
            more = True
            while True:
                while more and len(under_way) < self.workers * _AHEAD:
                    part = next(parts, None)
                    more = part is not None
                    if part is not None:
                        under_way[pool.submit(_work_on, part)] = part
                if not under_way:
                    return
                done, _ = wait(under_way, return_when=FIRST_COMPLETED)
                lost: list[Batch] = []
                for future in done:
                    part = under_way.pop(future)
                    if isinstance(future.exception(), BrokenProcessPool):
                        lost.append(part)
                    else:
                        yield future.result()
                if lost:
                    pool.shutdown(wait=True, cancel_futures=True)
                    lost += under_way.values()
                    under_way.clear()
                    yield from self._one_by_one(making, lost)
                    pool = self._pool(making, self.workers)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)

    def _one_by_one(self, making: Making, lost: list[Batch]) -> Iterator[list[Record]]:
        """Each source by itself, so that it is known which one ends a process."""
        pool = self._pool(making, 1)
        try:
            for source in [source for part in lost for source in part]:
                try:
                    yield pool.submit(_work_on, (source,)).result()
                except BrokenProcessPool:
                    pool.shutdown(wait=True, cancel_futures=True)
                    pool = self._pool(making, 1)
                    yield [Record(source.name, "", reason=ENDED)]
        finally:
            pool.shutdown(wait=True, cancel_futures=True)

    def _pool(self, making: Making, workers: int) -> ProcessPoolExecutor:
        """Workers, of which one is at work. Raises ShelfError where none begins."""
        pool = ProcessPoolExecutor(workers, get_context("spawn"), _begin, (making,))
        try:
            pool.submit(_work_on, ()).result()
        except BrokenProcessPool:
            pool.shutdown(wait=True, cancel_futures=True)
            raise ShelfError("no worker process could be begun; --workers 1 does without") from None
        return pool


@contextmanager
def _importing_as_we_do() -> Iterator[None]:
    """Processes that are begun meanwhile import from the folders that we import from, and no other.

    Python puts the folder that a process stands in first on its path, and so do an empty entry and
    a dot in PYTHONPATH; but that folder may hold a stranger's files, and the command line takes it
    off. So they are told the whole path. Last on it comes the folder that this very package lies
    in, as that may be the one that was taken off; there it stands in for nothing that is installed.
    """
    before, environment = sys.path[:], dict(os.environ)
    own = str(Path(__file__).resolve().parents[2])
    if own not in sys.path:
        sys.path.append(own)
    os.environ["PYTHONSAFEPATH"] = "1"
    os.environ["PYTHONPATH"] = os.pathsep.join(sys.path)
    try:
        yield
    finally:
        sys.path[:] = before
        for name in ("PYTHONSAFEPATH", "PYTHONPATH"):
            os.environ.pop(name)
            if name in environment:
                os.environ[name] = environment[name]


_made: dict[bytes, Auditing] = {}  # of a Dask worker, by how it is made
_one_at_a_time = threading.Lock()  # a worker may have several threads, and what audits remembers


def _work_far(recipe: bytes, part: Batch) -> list[Record]:
    """A part, in a worker of a cluster, which keeps what audits for the parts that follow."""
    import pickle

    with _one_at_a_time:
        auditing = _made.get(recipe)
        if auditing is None:
            _made.clear()
            auditing = _made[recipe] = pickle.loads(recipe)()
        return audited_part(auditing, part)


class DaskCrew:
    """The workers of a Dask cluster, whose scheduler has an address.

    The cluster does a part again that was under way, or whose records were, on a worker that is
    lost; each part gives its records once.
    """

    def __init__(self, scheduler: str) -> None:
        self.scheduler = scheduler

    def work(self, making: Making, parts: Iterator[Batch]) -> Iterator[list[Record]]:
        """As Crew does. Raises ShelfError where Dask or its scheduler is not there."""
        import pickle

        client = self._client()
        recipe = pickle.dumps(making)
        under_way: dict[Any, Batch] = {}
        try:
            from distributed import as_completed

            finished = as_completed(loop=client.loop)
            threads = sum(client.nthreads().values()) or 1
            for part in islice(parts, threads * _AHEAD):
                under_way[self._submitted(client, recipe, part, finished)] = part
            for future in finished:
                part_done = under_way.pop(future)
                if future.status == "error":  # it took several workers down
                    yield [Record(source.name, "", reason=ENDED) for source in part_done]
                else:
                    made = zip(future.result(), part_done, strict=True)
                    yield [record._replace(source=source.name) for record, source in made]
                future.release()
                following = next(parts, None)
                if following is not None:
                    under_way[self._submitted(client, recipe, following, finished)] = following
        finally:
            client.cancel(list(under_way))
            client.close()

    def _submitted(self, client: Any, recipe: bytes, part: Batch, finished: Any) -> Any:
        """The future of a part, its files by their whole paths: workers may stand elsewhere."""
        far = tuple(source._replace(name=str(Path(source.name).absolute())) for source in part)
        future = client.submit(_work_far, recipe, far, pure=False)
        finished.add(future)
        return future

    def _client(self) -> Any:
        try:
            from distributed import Client
        except ImportError:
            raise ShelfError("this engine wants Dask: pip install 'cfgaudit[dask]'") from None
        try:
            return Client(self.scheduler, timeout=20, set_as_default=False)
        except OSError as error:
            raise ShelfError(f"no scheduler answers at {self.scheduler}: {error}") from None
