"""What is on the desk: the job file in hand, what is known of it, and the plan made of it last."""

from __future__ import annotations

import threading
import tomllib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from fabplan.desk.board import Board, board, entry_name, without_faulty
from fabplan.desk.document import Document
from fabplan.desk.faults import PlacedFault, each, placed
from fabplan.desk.hand import Hand, Kind
from fabplan.desk.work import JobOverview, Planned, PlanStage
from fabplan.errors import FabplanError, JobError
from fabplan.job.edit_toml import add_entry, at, drop_entry, put_table_text, read_values, set_value
from fabplan.job.lines import Path
from fabplan.job.load import load_job_text
from fabplan.job.merge import ARRAYS
from fabplan.job.model import Job

MOST_WAITERS = 4  # requests that wait for news at a time
PATIENCE = 5.0  # seconds one of them waits at most


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedText:
    """A text looked at while it is typed: its faults at their places, and what stands beside the form.

    `job` is None while there are faults.
    """

    text: str
    faults: tuple[PlacedFault, ...]
    board: Board
    serial: int
    job: Job | None

    def sections(self) -> dict[str, int]:
        """How many faults each table has."""
        return dict(Counter(str(f.path[0]) for f in self.faults if f.path))


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What is known of a job looked at. `seen` grows with every news; `gone`: another job is looked at now."""

    known: JobOverview | None
    seen: int
    gone: bool


@dataclass(slots=True)
class PlanRun:
    """The plan under way, or the last one."""

    going: bool = False
    stopping: bool = False
    step: PlanStage = field(default_factory=lambda: PlanStage(stage=""))
    made: Planned | None = None
    failed: str = ""
    text: str = ""  # of the job it was made of


class Desk:
    """One job file, edited, looked at and planned.

    Parameters
    ----------
    document : Document
    seconds : float, optional
        Most seconds of a cut plan; none unless somebody sets them, as for `fabplan plan`.
    hand : callable
        Makes what does the slow work: ``hand(kind, heard)``.
    """

    def __init__(
        self,
        document: Document,
        seconds: float | None = None,
        hand: Callable[[Kind, Callable[[Any], None]], Hand] = Hand,
    ) -> None:
        self.document = document
        self.seconds = seconds
        self.run = PlanRun()
        self._lock = threading.Lock()
        self._news = threading.Condition(self._lock)
        self._waiters = threading.BoundedSemaphore(MOST_WAITERS)
        self._serial = self._seen = 0
        self._whole: JobOverview | None = None
        self._drawn: JobOverview | None = None
        self._asked: tuple[Job, Path] | None = None
        self._looker = hand("look", self._looked)
        self._slopes = hand("slope", self._sloped)
        self._planner = hand("plan", self._planned)

    def tend(self) -> None:
        """Begin the hands that are wanted; from the main thread, so that they do not hear Ctrl-C."""
        self._slopes.tend()
        self._looker.tend()
        self._planner.tend()

    def end(self) -> None:
        """End all hands; a plan under way is dropped, its packet not begun or whole."""
        self._looker.end()
        self._slopes.end()
        self._planner.end()

    # -- changes ------------------------------------------------------------------------------------------------------

    def with_value(self, path: Path, value: Any) -> str:
        """The text in hand with one key set or taken out."""
        return set_value(self._sound(), path, value)

    def with_entry(self, table: str, values: dict[str, Any], like: int | None = None) -> str:
        """The text with one more entry, `like` another one where that is given."""
        text = self._sound()
        if like is not None:
            old = at(read_values(text), (table, like))
            if not isinstance(old, dict):
                raise JobError("is not there", key=f"{table} {like + 1}")
            values = {**old, **values}
        return add_entry(text, table, values, after=like)

    def without_entry(self, table: str, index: int) -> str:
        """The text without an entry."""
        return drop_entry(self._sound(), table, index)

    def with_table(self, path: Path, new: str) -> str:
        """The text with the lines of a table as they were typed; with `path` (), the whole of it."""
        new = new.replace("\r\n", "\n")
        if not path:
            return new if new.endswith("\n") or not new else new + "\n"
        try:
            return put_table_text(self._sound(), path, new)
        except tomllib.TOMLDecodeError as fault:
            raise JobError(f"this is not valid TOML: {fault}", key=str(path[0])) from None

    def _sound(self) -> str:
        if self.document.data() is None:
            raise JobError("the file is not valid TOML", file=self.document.shown, write="it right as text first")
        return self.document.text

    # -- looking ------------------------------------------------------------------------------------------------------

    def check(self, text: str, here: Path) -> CheckedText:
        """Look at a text as `check` does, as far as that is quick; the rest is begun, and comes with `whole`."""
        path = self.document.shown
        data = _values(text)
        name = entry_name(str(here[0]), at(data, here[:2]) or {}) if len(here) > 1 and data is not None else ""
        try:
            job: Job | None = load_job_text(text, path)
            faults: tuple[PlacedFault, ...] = ()
        except FabplanError as fault:
            job = None
            faults = placed(each(fault), text, path)
        serial = self._ask(job, here, name)  # the slow work begins first: it is done beside what follows here
        drawn = job or without_faulty(text, path, (f.path for f in faults), here)
        layouts = self.run.made.layouts if self.run.made is not None else ()
        beside = Board() if drawn is None else board(drawn, here, name, layouts)
        if job is not None and beside.faults:
            more = placed((one for fault in beside.faults for one in each(fault)), text, path)
            faults = (*faults, *more)
        return CheckedText(text=text, faults=faults, board=beside, serial=serial, job=job)

    def _ask(self, job: Job | None, here: Path, name: str) -> int:
        with self._lock:
            key = here[:2] if here[:1] == ("slope",) else ()
            if job is not None and self._asked == (job, key):
                return self._serial
            self._serial += 1
            self._asked = None if job is None else (job, key)
            self._whole = self._drawn = None
            self._tell()
            serial = self._serial
        if job is None:
            return 0
        if key:
            self._slopes.order(serial, job, name)
        self._looker.order(serial, job, key, name)
        return serial

    def _tell(self) -> None:
        """There is news; with the lock held."""
        self._seen += 1
        self._news.notify_all()

    def _looked(self, answer: Any) -> None:
        with self._lock:
            if isinstance(answer, FabplanError):
                self._whole = JobOverview(serial=self._serial, faults=(answer,), done=True)
                self._asked = None
            elif answer.serial == self._serial:
                self._whole = answer
            self._tell()
        self._slopes.want()  # its turn comes when the first look has ended

    def _sloped(self, answer: Any) -> None:
        with self._lock:
            if isinstance(answer, JobOverview) and answer.serial == self._serial:
                self._drawn = answer
                self._tell()

    def whole(self, serial: int, seen: int = -1) -> News:
        """What is known of the job with this number, if it is the one looked at last.

        It is told at once when there is more than what was `seen`, and else when there is, or after a while.
        """
        if self._waiters.acquire(blocking=False):
            try:
                with self._news:
                    self._news.wait_for(lambda: self._serial != serial or self._seen != seen, PATIENCE)
            finally:
                self._waiters.release()
        with self._lock:
            if self._serial != serial:
                return News(known=None, seen=self._seen, gone=True)
            return News(known=self._known(), seen=self._seen, gone=False)

    def _known(self) -> JobOverview | None:
        known, drawn = self._whole, self._drawn
        if drawn is None or (known is not None and known.pictures is not None):
            return known
        return drawn if known is None else replace(known, pictures=drawn.pictures, faults=known.faults or drawn.faults)

    def whole_faults(self, known: JobOverview) -> tuple[PlacedFault, ...]:
        """Faults of the slower stages at their places."""
        faults = (one for fault in known.faults for one in each(fault))
        return placed(faults, self.document.text, self.document.shown)

    # -- planning -----------------------------------------------------------------------------------------------------

    def plan(self) -> None:
        """Begin a plan of the file as it is.

        Raises
        ------
        FabplanError
            The job has faults, or a plan is under way.
        """
        with self._lock:
            if self.run.going:
                raise FabplanError("A plan is under way.")
            job = load_job_text(self.document.text, self.document.shown)
            made = self.run.made
            self.run = PlanRun(going=True, step=PlanStage(stage="Begun"), text=self.document.text, made=made)
        self._planner.order(job, str(self.document.folder), self.seconds)

    def near_plan(self) -> None:
        """Somebody looks at the page of plans: have ready what makes one."""
        self._planner.want()

    def stop(self) -> None:
        """Have the search end with its best plan."""
        if self.run.going:
            self.run.stopping = True
            self._planner.stop()

    def _planned(self, answer: Any) -> None:
        with self._lock:
            if isinstance(answer, PlanStage):
                self.run.step = answer
                return
            self.run.going = self.run.stopping = False
            if isinstance(answer, FabplanError):
                self.run.failed = str(answer)
            else:
                self.run.made = answer


def _values(text: str) -> dict[str, Any] | None:
    try:
        return read_values(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return None


def entries(data: dict[str, Any] | None, table: str) -> list[dict[str, Any]]:
    """Entries of a table that may stand many times, as the file says them."""
    found = (data or {}).get(table)
    return [e for e in found if isinstance(e, dict)] if table in ARRAYS and isinstance(found, list) else []
