"""`fabplan plan` of several jobs: a packet of the shear run, and one of each job."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fabplan.packet.model import Station
    from fabplan.plan.together import Together

AT_THE_SHEAR = ("office", "shear")


def write_run(
    found: Together, out: Path | None, *, paper: str | None, stations: Sequence[Station], quiet: bool
) -> list[Path]:
    """Write the packet of the run, then one of each job, in folders of their own (in `out`); say which."""
    from fabplan.packet.output.write import packet_folder, write_packet
    from fabplan.screen.progress import stage_progress

    if out is not None:
        out.mkdir(parents=True, exist_ok=True)
    folders = []
    with stage_progress("Pages", quiet=quiet):
        for one in (found.run, *found.plans):
            own = packet_folder(one.job)
            shear = one is found.run
            if shear:
                own = own.with_name(own.name.removesuffix("-packet") + "-run")
            target = own if out is None else out / own.name
            where = [s for s in stations if (s in AT_THE_SHEAR if shear else s != "shear")]
            size = paper or one.job.info.paper
            folders.append(write_packet(one, target, paper=size, stations=where or ("office",)))
    return folders
