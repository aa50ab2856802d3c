"""What several commands do: read the job, print, stop with the best so far, refuse what cannot be made."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fabplan.errors import JobError, PlanError
from fabplan.screen import output

if TYPE_CHECKING:
    from fabplan.job.model import Job


def say(text: str) -> None:
    """A message for the person, on standard error."""
    with suppress(OSError):  # closed or full: there is nobody to tell
        print(text, file=sys.stderr, flush=True)


def print_json(data: Any) -> None:
    """Nothing but JSON on standard output."""
    print(output.json_text(data))


def read(path: Path) -> Job:
    """Load the job, or leave with its faults."""
    from fabplan.job.load import load_job
    from fabplan.speech.renamed import renamed_words

    the_job = load_job(path)
    for words in renamed_words(the_job):
        say(words)
    return the_job


@contextmanager
def interruptible() -> Iterator[Callable[[], bool]]:
    """First Ctrl-C asks the nest to finish with its best plan so far; the second leaves at once."""
    asked: list[bool] = []

    def ask(signum: int, frame: Any) -> None:
        if asked and callable(before):
            before(signum, frame)  # as any Ctrl-C of the run
            return
        asked.append(True)
        say("Stopping with the best plan so far (Ctrl-C again to leave at once) ...")

    try:
        before = signal.signal(signal.SIGINT, ask)
    except ValueError:  # not the main thread
        yield lambda: False
        return
    try:
        yield lambda: bool(asked)
    finally:
        signal.signal(signal.SIGINT, before)


def offered(rack: Path | None, the_job: Job) -> Any:
    """What gives a plan the offcuts of a rack, or None."""
    if rack is None:
        return None
    from fabplan.shop.offer import offer
    from fabplan.shop.rack import damage_says, look

    damage = look(rack)[1]
    if damage is not None:
        say(damage_says(rack, damage))

    def found(pieces: Any) -> Any:
        from fabplan.speech.buying import hand_words

        lines = offer(rack, pieces.job, pieces.patterns, pieces.metals)
        for line in lines:
            if line.form != "offcut":
                coils = f" on {len(line.coils)} coils" if line.coils else ""
                say(f"{line.name}: {hand_words(line, the_job.show)} on hand{coils} by {rack}, whatever on_hand says.")
        return lines

    return found


MOST_SHORT = 12  # marks named in one message


def refuse_short(cut_plan: Any, allow_short: bool, job: Job, lacking: Sequence[Any] = ()) -> None:
    """Leave with exit 1 when stock runs out and no short packet is wanted."""
    if cut_plan is None or cut_plan.status != "short" or allow_short:
        return
    from fabplan.speech.buying import lacking_words
    from fabplan.speech.status import short_sentence

    missing = ", ".join(f"{n} of {mark}" for mark, n in cut_plan.short[:MOST_SHORT])
    if len(cut_plan.short) > MOST_SHORT:
        missing += f", and some of {len(cut_plan.short) - MOST_SHORT} more marks"
    why = short_sentence(cut_plan)
    more = "Add stock, write buy = true under the stock line that more of can be bought, or run again with "
    if cut_plan.stopped_early:
        more = "Run again and let it end, add stock, or run again with "
    raise PlanError(
        f"{why[0].upper()}{why[1:]}: missing {missing}. {lacking_words(lacking, job)}".strip(),
        help_=f"{more}--allow-short for a packet marked SHORT.",
    )


def refuse_unbent(unbent: Any) -> None:
    """Leave with exit 1 when there are pieces that cannot be folded; the others are planned."""
    if not unbent:
        return
    from fabplan.speech.folds import unbent_words

    raise PlanError("\n".join(unbent_words(u) for u in unbent))


def refuse_unplanned(the_plan: Any) -> None:
    """Leave with exit 1 when there are pieces that cannot be cut or folded; the others are planned."""
    if not the_plan.uncut:
        refuse_unbent(the_plan.unbent)
        return
    from fabplan.nesting.refused import uncut_words
    from fabplan.speech.folds import unbent_words

    words = [uncut_words(u, the_plan.job) for u in the_plan.uncut]
    said = [f"{what} It is NOT PLANNED." for what, _ in words] + [unbent_words(u) for u in the_plan.unbent]
    raise PlanError("\n".join(said), help_=" ".join(dict.fromkeys(help_ for _, help_ in words)))


def known_mark(marks: list[str], job: Path, mark: str | None) -> None:
    """Refuse a piece mark the job does not have."""
    if mark is not None and mark not in marks:
        raise JobError(
            "the job has no such piece",
            file=str(job),
            key="--piece",
            value=mark,
            write=" or ".join(marks[:12]),
        )
