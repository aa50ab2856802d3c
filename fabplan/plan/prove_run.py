"""Prove a saved shear run against the jobs it cuts for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from fabplan.errors import JobError
from fabplan.job.model import Job
from fabplan.plan.check_shares import check_shares
from fabplan.plan.file import PlanFile, read_plan, saved
from fabplan.plan.forms import Data
from fabplan.plan.make import make_bends, make_pieces, uncut_blanks
from fabplan.plan.prove import Given, Proof, prove, shaped
from fabplan.plan.together import refuse_unlike, run_of


def run_job(jobs: Sequence[Job], said: PlanFile) -> Given:
    """The run as the jobs give it, with the pieces that cannot be bent when the saved plan of it has them."""
    refuse_unlike(jobs)
    both = []
    pieces = [make_pieces(job) for job in jobs]
    for p in pieces:
        uncut = {u.mark for u in uncut_blanks(p.job, p)}
        unbent = uncut | {u.mark for u in make_bends(p.job, p.without(uncut)).unbent}
        both.append([tuple(q for q in p.patterns if q.mark not in lost) for lost in (uncut, unbent)])
    marks = [b.mark for b in said.blanks]
    for cut in ([b[0] for b in both], [b[1] for b in both]):
        job, made = run_of([p.job for p in pieces], cut, [p.metals for p in pieces])
        if [q.mark for q in made.patterns] == marks:
            break
    return Given(job, made)


def prove_run_file(path: Path, jobs: Sequence[Job]) -> Proof:
    """Prove a saved run with its jobs, in the order it was planned.

    Raises
    ------
    JobError
        Not a readable plan of a run of these jobs.
    """
    data = read_plan(path)
    return prove_run(data, jobs, shown=str(path))


def prove_run(data: Data, jobs: Sequence[Job], *, shown: str = "") -> Proof:
    """Prove a saved run's data with its jobs."""
    said = saved(data)
    numbers = tuple(j.info.number for j in jobs)
    if tuple(s.number for s in said.shares) != numbers:
        raise JobError(
            "is not the run of these jobs", file=shown, key="--job", value=", ".join(numbers),
            write=", ".join(s.number for s in said.shares) or "one job: the plan is of one",
        )  # fmt: skip
    given = run_job(jobs, said)
    proof = prove(data, given.job, given)
    if said.nesting is None:
        return proof
    nesting = said.nesting
    faults = shaped(lambda: check_shares(said.shares, nesting, numbers))
    return replace(proof, stages=(*proof.stages, ("shares", tuple(faults))))
