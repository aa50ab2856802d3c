"""Cautions, printed where the work can hurt.

Rule numbers are those of the United States (29 CFR, OSHA directives) and California Title 8 that were confirmed
against published copies; everything else is common practice, no source. fabplan claims no compliance with any of them.
"""

from __future__ import annotations

from collections.abc import Iterable

from fabplan.job.metals import MetalProfile
from fabplan.packet.model import Notice
from fabplan.units import Units

FIRST = "Local codes, makers' instructions and licensed practice come first."

EDGES = (
    "Sheared and snipped edges cut. Wear gloves and sleeves made for sheet metal; the employer chooses the hand "
    "protection (29 CFR 1910.138(a))."
)
SHEAR = (
    "Hands and body stay clear of the blade and the hold-downs. The point of operation is guarded "
    "(29 CFR 1910.212(a)(3)(ii)); no guard is taken off to make a cut on these pages.",
    "Nobody stands behind the shear while it cuts. Lock it out before clearing a jam.",
    "Metal too narrow for the hold-downs is never held by hand: it is gauged as the piece that drops, or snipped.",
)
BRAKE = (
    "Fingers stay out from under the clamp; stand clear of the swing of the apron and its weights. The point of "
    "operation is guarded (29 CFR 1910.212(a)(3)(ii)).",
    "A power press brake has its barriers or devices, or the safe distance and trained operator that OSHA directive "
    "CPL 02-01-025 sets out.",
)
LIFTING = (
    "Coils and long sheets are heavy and springy. Lift with enough people or a hoist, cut the bands standing to the "
    "side, and block a coil so it cannot roll."
)
FALLS = (
    "On a roof steeper than 4 in 12 and 6 ft or more up, everyone is held by guardrails with toeboards, nets "
    "or personal fall arrest (29 CFR 1926.501(b)(11)); on 4 in 12 or less 29 CFR 1926.501(b)(10) lists the ways, "
    "and 29 CFR 1926.501(b)(1) covers every open side and edge.",
    "Each anchorage holds 5,000 lb for each person tied to it (29 CFR 1926.502(d)(15)).",
    "In a boom lift, harness and lanyard are tied to the boom or basket (29 CFR 1926.453(b)(2)(v)); a body belt is not "
    "fall arrest (29 CFR 1926.502(d)). Test the lift's controls each day before use (29 CFR 1926.453(b)(2)(i)).",
    "Metal sheets sail in wind: tie them, and send nothing up in gusts. Wet or frosted metal is slick.",
)
METALS = (
    "Keep unlike metals apart, and never let water run from copper onto zinc, galvanised steel or aluminum: it eats "
    "them. Nails, cleats and screws are of the same metal as the sheet, or one its maker allows."
)
LEAD = (
    "Lead (lead-coated copper, 50/50 solder): exposure limit 50, action level 30 µg/m³ over 8 hours "
    "(29 CFR 1926.62 on site; 29 CFR 1910.1025 in the shop). No food or smoking at the bench; wash before leaving it."
)
SOLDER = (
    "Solder and flux: work in moving air with the fume drawn away from the face; local exhaust as Cal. Title 8 section "
    "1536 sets out where lead, zinc or fluoride fluxes are used. Zinc oxide fume limit: 5 mg/m³.",
    "Flux burns eyes and skin: goggles and gloves, rinse the work and the hands. Clear what can burn, keep water or an "
    "extinguisher at hand, and watch for fire after the iron is out.",
)


# For a packet in millimetres: the same duties without the numbers of another country's law. Common practice, no source.
METRIC = (
    "Sheared and snipped edges cut. Wear gloves and sleeves made for sheet metal.",
    "Hands and body stay clear of the blade and the hold-downs. The point of operation is guarded; no guard is "
    "taken off to make a cut on these pages.",
    *SHEAR[1:],
    "Fingers stay out from under the clamp; stand clear of the swing of the apron and its weights. The point of "
    "operation is guarded, on a power press brake by barriers, light curtains or two-hand control, and its "
    "operators are trained.",
    LIFTING,
    "On the roof, wherever a fall could hurt, everyone is held by guardrails with toeboards, nets or personal fall "
    "arrest on anchors made for it, as the law of the place sets out.",
    "In a boom lift, harness and lanyard are tied to the boom or basket; a body belt is not fall arrest. Test the "
    "lift's controls each day before use.",
    FALLS[-1],
    METALS,
    "Lead (lead-coated copper, 50/50 solder) poisons by dust and fume: keep under the exposure limit of the place. "
    "No food or smoking at the bench; wash before leaving it.",
    "Solder and flux: work in moving air with the fume drawn away from the face; more so where lead, zinc or "
    "fluoride fluxes are used.",
    SOLDER[-1],
)
INCH = (EDGES, *SHEAR, *BRAKE, LIFTING, *FALLS, METALS, LEAD, *SOLDER)
COUNTRY = "The rule numbers are those of the United States; where you work, the law of the place holds."
NO_CLAIM = "fabplan plans cutting and folding. It makes no claim that a roof meets a wind load or a code."


FACES = (
    "{} metal: the face is never scribed, chalked or struck. Points, names and fold marks go on the back, in pencil; a "
    "cut to points is brought to ticks at both edges. Soft cover on table, bed and leaf under the face, soft jaws on "
    "nose, seamer and clamps; no grit on either. All blanks lie one way to the rolling direction: pencil its arrow on "
    "the back of each. A film, if there is one, stays on until the piece is laid. On the roof, lines to trim to are "
    "drawn on tape."
)


def everything(metals: Iterable[MetalProfile], units: Units, finishes: Iterable[str] = ()) -> Notice:
    """The whole list, for the sheet to hang up, in the units of the job; how faces with these finishes are kept."""
    special = tuple(dict.fromkeys(line for metal in metals for line in metal.cautions))
    special += tuple(FACES.format(finish.capitalize()) for finish in finishes)
    items = (*INCH, *special, COUNTRY, NO_CLAIM) if units == "in" else (*METRIC, *special, NO_CLAIM)
    return Notice(title=FIRST, items=items, size=9.5, loud=True)


# One line for the foot of the pages that are used where the work hurts; the whole of it is on the caution sheet.
LAST = "Local codes, makers' instructions, licensed practice first."
AT_SHEAR = f"Hands clear of the blade, guards on; gloves. {LAST}"
AT_BRAKE = f"Fingers out of the clamp, clear of the swing; gloves. {LAST}"
AT_BENCH = f"Fold away from the body, eyes covered; gloves. {LAST}"
AT_SOLDER = f"If soldered: fume away, goggles, no food; gloves. {LAST}"
ON_ROOF = f"Falls kill: rails, nets or fall arrest; tied in the lift; gloves. {LAST}"
