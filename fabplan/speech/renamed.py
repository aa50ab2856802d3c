"""Words for keys of earlier versions that a file still has."""

from __future__ import annotations

from fabplan.job.model import Job


def renamed_words(job: Job) -> list[str]:
    """A warning for each old name in the job's files, with what to write now."""
    return [
        f"Warning: {old.file}{f', line {old.line}' if old.line else ''}: {old.table} > {old.key} is an old name, "
        f"read for this version only. Write {old.write}."
        for old in job.renamed
    ]
