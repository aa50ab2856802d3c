"""The packet on disk, all or nothing: packet.pdf, templates.pdf, plan.json, plan.html, cutlist.csv, drawings/*.svg."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from fabplan.blanks.model import FlatPattern
from fabplan.errors import ProofError
from fabplan.job.model import Job
from fabplan.packet.check import check_packet
from fabplan.packet.model import STATIONS, Packet, Station
from fabplan.packet.output.files import cutlist_file, drawing_files, drawings_of, file_stem, plan_file
from fabplan.packet.output.folder import write_file, write_folder
from fabplan.packet.output.html import html_file
from fabplan.packet.pages.build import build_packet, build_packets, template_file, template_packet
from fabplan.packet.setting.fonts import check_job, font_folder
from fabplan.packet.setting.run_typst import press, warm
from fabplan.packet.setting.svg_cache import Ink
from fabplan.packet.setting.typeset import copy, finished, typeset
from fabplan.plan.file import plan_json
from fabplan.plan.model import Plan
from fabplan.workers import processes

PDF, TEMPLATES = "packet.pdf", "templates.pdf"
DATA, SCREEN, LIST = "plan.json", "plan.html", "cutlist.csv"


def packet_folder(job: Job, out: Path | None = None) -> Path:
    """Where the packet goes: `out`, or ``<number>-packet`` here."""
    return out if out is not None else Path(f"{file_stem(job.info.number, 'job')}-packet")


def quote_file(job: Job, out: Path | None = None) -> Path:
    """Where the quote goes: `out`, or ``<number>-quote.pdf`` here."""
    return out if out is not None else Path(f"{file_stem(job.info.number, 'job')}-quote.pdf")


def drawings_folder(job: Job, out: Path | None = None) -> Path:
    """Where the drawings go: `out`, or ``<number>-drawings`` here."""
    return out if out is not None else Path(f"{file_stem(job.info.number, 'job')}-drawings")


def packet_files(
    plan: Plan, *, paper: str = "letter", stations: Iterable[Station] = STATIONS, whole: Packet | None = None
) -> dict[str, bytes]:
    """Every file of the packet by name, as bytes; pages of the stations wanted, data and drawings of all.

    `whole` is the packet of all stations, where it is made already.

    Raises
    ------
    JobError
        Text of the job that cannot be printed.
    ProofError
        A printed number is not the plan's.
    FabplanError
        The font is missing.
    """
    check_job(plan.job)
    with processes(1) as other:  # the typesetter takes most of a run's memory, and a core to itself
        other.start(warm, str(font_folder()))
        wanted = tuple(stations)
        if whole is None or set(wanted) != set(STATIONS):
            whole, packet = build_packets(plan, (STATIONS, wanted), paper=paper)
        else:
            packet = whole
        faults = check_packet(whole, plan)
        if faults:
            raise ProofError("packet", faults)
        ink = Ink()
        set_ = other.start(press, *copy(packet, file=plan.job.file, ink=ink))
        tiles = template_file(plan, paper=paper)
        own = {} if tiles is None else {TEMPLATES: typeset(tiles, file=plan.job.file)}
        drawings = drawing_files((*drawings_of(packet), *(drawings_of(tiles) if tiles else ())), ink)
        data = plan_json(plan)
        screen = html_file(packet)
        pdf = finished(*set_.result())
    return {
        PDF: pdf,
        **own,
        DATA: plan_file(data),
        SCREEN: screen,
        LIST: cutlist_file(data),
        **{f"drawings/{name}": content for name, content in drawings.items()},
    }


def _a_packet(names: Sequence[str]) -> bool:
    return PDF in names and DATA in names


def _drawings(names: Sequence[str]) -> bool:
    return any(name.endswith(".svg") for name in names)


def write_packet(
    plan: Plan,
    out_dir: Path,
    *,
    paper: str = "letter",
    stations: Iterable[Station] = STATIONS,
    whole: Packet | None = None,
) -> Path:
    """Write the packet of a plan whose results are all proven.

    An earlier packet in the folder is replaced; a folder that holds anything else is left alone.

    Parameters
    ----------
    plan : Plan
    out_dir : Path
    paper : {"letter", "a4"}
    stations : iterable of Station
        Whose sheets packet.pdf and plan.html hold.
    whole : Packet, optional
        The packet of all stations, where it is made already.

    Returns
    -------
    Path
        The folder, absolute.

    Raises
    ------
    FabplanError
        Nothing was written.
    """
    return write_folder(out_dir, packet_files(plan, paper=paper, stations=stations, whole=whole), mine=_a_packet)


def write_drawings(plan: Plan, out_dir: Path) -> Path:
    """Write the drawings alone, as SVG files."""
    check_job(plan.job)
    return write_folder(out_dir, drawing_files(drawings_of(build_packet(plan))), mine=_drawings)


def write_template(job: Job, pattern: FlatPattern, out: Path | None = None, *, paper: str = "letter") -> Path:
    """Write the full-scale pattern of one blank as a PDF."""
    check_job(job)
    name = f"{file_stem(job.info.number, 'job')}-{file_stem(pattern.mark)}-template.pdf"
    content = typeset(template_packet(job, pattern, paper=paper), file=job.file)
    return write_file(out if out is not None else Path(name), content)
