"""What fabplan understood, said back: rows of (what, value) for a table or JSON."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fabplan.job import defaults
from fabplan.job.kinds.base import size_said
from fabplan.job.metals import MetalProfile, load_metal
from fabplan.job.model import (
    Job,
    PieceBase,
    Stock,
)
from fabplan.job.values import OnHand, Spare
from fabplan.job.wording import listed
from fabplan.labour import TIME_KEYS, spans
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, Show, from_inches

Rows = list[tuple[str, str]]


def said_rows(job: Job) -> Rows:
    """Everything understood from a job, in the order of the file, then what was assumed."""
    show, info = job.show, job.info
    rows: Rows = [("job", f"{info.name}, number {info.number}")]
    if job.shop:
        rows.append(("shop file", job.shop))
    words = {"in": "inches", "mm": "millimeters"}[info.units]
    rows.append(("units", f"{words}, rounded to {show.exact(info.round_to)}"))
    rows.append(("spare", spare_said(info.spare)))
    rows.append(("batch", f"{info.batch} pieces"))
    if info.keep_at_least:
        rows.append(("offcuts kept", f"{size_said(show, *info.keep_at_least)} or bigger"))
    base = Path(job.file).parent if job.file else None
    names = [job.metal.use, *(x.metal for x in (*job.pieces, *job.stock) if x.metal)]
    for name in dict.fromkeys(names):
        rows.append(("metal", _metal_said(show, name, load_metal(name, base=base))))
    rows += [(f"piece {piece.mark}", piece_said(piece, show)) for piece in job.pieces]
    rows += [(f"stock {line.name}", stock_said(line, show)) for line in job.stock]
    rows += [(f"slope {slope.name}", f"{slope.shape}, laid with {slope.piece}") for slope in job.slopes]
    rows += _there_rows(job)
    rows.append(("shear", _shear_said(job)))
    brake = job.brake
    rows.append(
        (
            "brake",
            f"bends to {show.exact(brake.longest_bend)} long and {show.degrees(brake.largest_angle)} turned, "
            f"least flange {show.exact(brake.least_flange)}, overbent {show.degrees(brake.springback)}",
        )
    )
    rows.append(("hem tools", listed([tool.name for tool in job.hem_tools], "and")))
    rows.append(
        (
            "nest",
            f"search effort {job.nest.search_effort:g}, try {job.nest.try_again}, stops within "
            f"{show.percent(float(job.nest.good_enough), 3)} of the bound"
            + (
                f", counts metal on hand {show.percent(float(job.nest.prefer_on_hand))} less"
                if job.nest.prefer_on_hand
                else ""
            ),
        )
    )
    typed = [key for key in TIME_KEYS if key not in job.labour.assumed]
    rows.append(("labour", "; ".join(part for part in (hour_said(job), spans(job.labour, typed)) if part)))
    rows += assumed_rows(job)
    return rows


def hour_said(job: Job) -> str:
    """What an hour weighs: ``an hour counts as 60 USD``."""
    labour = job.labour
    if labour.free:
        return "rate = 0: the least metal"
    if labour.rate is not None:
        return f"an hour counts as {job.show.number(labour.rate)} {job.info.currency}".rstrip()
    if labour.rate_pounds is not None:
        return f"an hour counts as {job.show.weight(labour.rate_pounds)} of metal"
    base = Path(job.file).parent if job.file else None
    names = dict.fromkeys([job.metal.use, *(x.metal for x in job.pieces if x.metal)])
    metals = [load_metal(name, base=base) for name in names]
    worth = listed([f"{job.show.weight(metal.hour_weighs)} of {metal.name}" for metal in metals], "or")
    return f"an hour counts as {worth}"


def _there_rows(job: Job) -> Rows:
    """Of the rest of a job, what is there already."""
    rows: Rows = []
    for what, counts in (("there already", job.done.pieces), ("to fold of it", job.done.unfolded)):
        if counts:
            rows.append((what, ", ".join(f"{n:,} of {mark}" for mark, n in counts.items())))
    rows += [(f"laid {h.slope}", f"up to course {h.courses}, a {h.centre} on the centre line") for h in job.laid]
    return rows


def assumed_rows(job: Job) -> Rows:
    """What no file said, so that fabplan took its default."""
    rows: Rows = [("assumed", _assumed(job, where)) for where in job.assumed]
    if job.brake.assumed:
        keys = job.brake.assumed
        taken = ", ".join(f"{key} {_brake_size(job, key)}" for key in keys)
        rows.append(("assumed", f"brake (common practice, no source): {taken}"))
    labour = job.labour
    if labour.assumed and not labour.free:
        rate = [f"{hour_said(job)} (rate = 0 gives the least metal)"] if "rate" in labour.assumed else []
        taken = "; ".join([*rate, spans(labour, labour.assumed)])
        rows.append(("assumed", f"labour (common practice, no source): {taken}"))
    return rows


def _brake_size(job: Job, key: str) -> str:
    """A default of the brake in the units of the job; angles and thicknesses as they stand in the file."""
    default, value = defaults.BRAKE[key], getattr(job.brake, key)
    return job.show.exact(value) if str(default).endswith(" in") else str(default)


def _assumed(job: Job, where: str) -> str:
    if where == "hem_tool":
        return "hem tools (common practice, no source): " + listed([t["name"] for t in defaults.HEM_TOOLS], "and")
    table, key = where.split(" > ")
    length: Nm = getattr(job.info if table == "job" else job.shear, key)
    return f"{where}: {job.show.exact(length)}"


def spare_said(spare: Spare) -> str:
    """``5 % of every mark``, ``10 of every mark``, ``none``."""
    if spare.pieces:
        return f"{spare.pieces} of every mark"
    return f"{float(spare.share) * 100:g} % of every mark" if spare.share else "none"


def _metal_said(show: Show, name: str, metal: MetalProfile) -> str:
    per = "per sq ft" if show.unit == "in" else "per m²"
    weight = metal.weight if show.unit == "in" else metal.weight * 10.7639104167
    return f"{name}: {metal.title}; {show.fine(from_inches(metal.thickness))} thick, {show.weight(weight)} {per}"


def piece_said(piece: PieceBase, show: Show) -> str:
    """One piece in a line: how many, what, its sizes, its folds."""
    count = "counted by the slopes" if piece.count is None else f"{piece.count:,}"
    parts = [f"{count}: {getattr(piece, 'kind', 'piece')}", *piece.sizes_said(show)]
    if piece.metal:
        parts.append(f"of {piece.metal}")
    if piece.finish not in (None, "bare"):
        parts.append(str(piece.finish))
    if piece.grain != "any":
        parts.append(f"grain {piece.grain}")
    if piece.allowance == "plain":
        parts.append("plain allowance: a fold takes its width")
    return ", ".join(parts)


def stock_said(line: Stock, show: Show) -> str:
    """One stock line: form, size, how much, price."""
    if line.form == "coil":
        cut_off = line.longest_cut_off or defaults.longest_cut_off(show.unit)
        default = "" if line.longest_cut_off else " (default)"
        parts = [f"coil, {show.exact(line.width)} wide, cut off to {show.exact(cut_off)} at most{default}"]
    else:
        parts = [f"{line.form}, {size_said(show, line.width, line.length or Nm(0))}"]
    if line.trim_each_edge:
        parts.append(f"{show.exact(line.trim_each_edge)} trimmed off each edge")
    parts.append(_on_hand_said(line, show))
    if line.price:
        parts.append(f"{line.price.amount} per {line.price.per}")
    if line.coil_min or line.coil_step:
        least = f"from {show.run(int(line.coil_min))}" if line.coil_min else ""
        step = f"in steps of {show.run(int(line.coil_step))}" if line.coil_step else ""
        parts.append(f"sold {' '.join(part for part in (least, step) if part)}")
    if line.sheets_per_pack:
        parts.append(f"sold in packs of {line.sheets_per_pack}")
    if line.lead_time:
        parts.append(f"ordered {line.lead_time} days ahead")
    if line.metal:
        parts.append(f"of {line.metal}")
    if line.grain == "across":
        parts.append("grain across the length")
    return ", ".join(parts)


def _on_hand_said(line: Stock, show: Show) -> str:
    held: OnHand | None = line.on_hand
    if held is None:
        return "one" if line.form == "offcut" else "as much as needed"
    more = ", more to buy" if line.buy else ""
    if held.length is not None:
        return f"{show.run(int(held.length))} on hand{more}"
    if held.pounds is not None:
        return f"{show.weight(held.pounds)} on hand{more}"
    return f"{held.count} on hand{more}"


def _shear_said(job: Job) -> str:
    show, shear = job.show, job.shear
    cut_off = "by the gauge" if shear.coil_cut_off == "gauge" else "to a scribed line"
    text = (
        f"cuts to {show.exact(shear.longest_cut)}, back gauge to {show.exact(shear.back_gauge_reach)}, "
        f"holds {show.exact(shear.least_held)} or more, "
        f"angle stop {shear.angle_stop[0]:g}° to {shear.angle_stop[1]:g}°, "
        f"cut-offs {cut_off}, {shear.cutting}"
    )
    return text + (f", kerf {show.exact(shear.kerf)}" if shear.kerf else "")


_INCH = Show("in", NM_PER_INCH // 64)
_METRIC = Show("mm", 1)


def _both(length: float) -> str:
    return f"{_INCH.fine(from_inches(length))} ({_METRIC.fine(from_inches(length))})"


def metal_rows(metal: MetalProfile) -> list[tuple[str, str, str]]:
    """A metal profile as rows of (what, value, source)."""
    low, high = metal.expansion_range
    spread = "" if low == high else f" (published {low * 1e6:.1f} to {high * 1e6:.1f})"
    sizes = [_as_sold(width) for width in metal.coil_widths]
    sheets = [f"{_as_sold(w)} x {_as_sold(length)}" for w, length in metal.sheets]
    least = metal.thickness_minimum
    values = [
        ("metal", metal.title, "title"),
        ("temper", metal.temper or "not said", "temper"),
        ("thickness", _both(metal.thickness), "thickness"),
        ("least thickness", "not said" if least is None else _both(least), "least_thickness"),
        ("weight", f"{metal.weight:.3g} lb per sq ft ({metal.weight * 4.88242764:.3g} kg/m²)", "weight"),
        ("density", f"{metal.density:.4g} lb per cu in ({metal.density * 27.6799047:.3g} kg/dm³)", "density"),
        ("expansion", f"{metal.expansion * 1e6:.1f} millionths per °F{spread}", "expansion"),
        ("bend factor K", f"{metal.bend_factor:.3f} of the thickness from the inside", "bend_factor"),
        ("least inside radius", _both(metal.least_inside_radius), "least_inside_radius"),
        ("yield strength", f"{metal.yield_ksi[0]:.0f} to {metal.yield_ksi[1]:.0f} ksi", "yield_strength"),
        ("modulus", f"{round(metal.modulus_ksi, -2):,.0f} ksi", "modulus"),
        ("an hour of work", f"{metal.hour_weighs:.3g} lb ({metal.hour_weighs * 0.45359237:.3g} kg)", "hour_weighs"),
        ("coil widths sold", ", ".join(sizes) or "not said", "coil_widths"),
        ("sheets sold", ", ".join(sheets) or "not said", "sheets"),
    ]
    rows = [(what, value, metal.sources.get(key, "")) for what, value, key in values]
    if "expansion_range" in metal.sources and spread:
        rows.insert(7, ("expansion, spread", spread.strip(" ()"), metal.sources["expansion_range"]))
    return rows + [("caution", text, "") for text in metal.cautions]


def _as_sold(length: Nm, *, fine: bool = False) -> str:
    """A size as it is sold: round millimetres in mm, the rest in inches."""
    if length % (NM_PER_MM // 10 if fine else NM_PER_MM) == 0 and length % (NM_PER_INCH // 4):
        return _METRIC.exact(length)
    return _INCH.fine(int(length)) if fine else _INCH.exact(length)


def _widths(metal: MetalProfile) -> str:
    """``10, 12, 14 in``: the unit once."""
    sold = [_as_sold(width) for width in metal.coil_widths]
    units = {text.split()[-1] for text in sold}
    if len(units) != 1:
        return ", ".join(sold)
    return ", ".join(text.split()[0] for text in sold) + f" {units.pop()}"


def metal_list_rows(metals: tuple[MetalProfile, ...]) -> list[tuple[str, str, str, str, str]]:
    """Profiles as rows of (name, metal, thickness, weight, widths sold)."""
    return [
        (
            metal.name,
            metal.title.split(",")[0],
            _as_sold(from_inches(metal.thickness), fine=True),
            f"{metal.weight:.3g} lb/sq ft",
            _widths(metal),
        )
        for metal in metals
    ]


def metal_data(metal: MetalProfile) -> dict[str, Any]:
    """A metal profile as plain data: inches, pounds, degrees F, ksi; each number's source beside it."""
    return {
        "name": metal.name,
        "title": metal.title,
        "family": metal.family,
        "temper": metal.temper,
        "thickness_in": round(metal.thickness, 6),
        "least_thickness_in": None if metal.thickness_minimum is None else round(metal.thickness_minimum, 6),
        "weight_lb_per_sq_ft": round(metal.weight, 6),
        "density_lb_per_cu_in": round(metal.density, 6),
        "expansion_per_deg_f": float(f"{metal.expansion:.6g}"),
        "expansion_range_per_deg_f": [float(f"{end:.6g}") for end in metal.expansion_range],
        "bend_factor": metal.bend_factor,
        "least_inside_radius_in": round(metal.least_inside_radius, 6),
        "yield_ksi": [round(end, 3) for end in metal.yield_ksi],
        "modulus_ksi": round(metal.modulus_ksi, 1),
        "hour_weighs_lb": round(metal.hour_weighs, 6),
        "coil_widths_in": [round(width / NM_PER_INCH, 6) for width in metal.coil_widths],
        "sheets_in": [[round(w / NM_PER_INCH, 6), round(h / NM_PER_INCH, 6)] for w, h in metal.sheets],
        "sources": dict(metal.sources),
        "cautions": list(metal.cautions),
    }
