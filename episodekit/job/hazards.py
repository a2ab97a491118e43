"""What can hurt someone on a bench, and the usual caution. Local codes and licensed practice decide.

A caution here is the reminder that the shot list and the draft carry; it is not a procedure, and no
number in it replaces the meter or the maker's own sheet.
"""

from __future__ import annotations

from dataclasses import dataclass

DEFER = "Local codes and licensed practice come first."


@dataclass(frozen=True)
class Hazard:
    """A kind of hazard: `caution` is what the screen says, `name` its short form, `source` where it comes from."""

    kind: str
    name: str
    caution: str
    source: str


HAZARDS: dict[str, Hazard] = {
    hazard.kind: hazard
    for hazard in (
        Hazard(
            "blade",
            "Blade",
            "Blade: cut away from the hand, eye protection on",
            "common practice, no source",
        ),
        Hazard(
            "capacitor",
            "Stored charge",
            "Stored charge: discharge through a resistor, then measure; the meter decides",
            "IEC 60204-1, 6.2.4 (quoted): 60 V or less; common practice for the meter",
        ),
        Hazard(
            "cell",
            "Lithium cell",
            "Lithium cell: plastic tools only; stop if it swells, smells or warms",
            "USFA battery page (stop at smell, swelling, heat); common practice for the tools",
        ),
        Hazard("fume", "Fume", "Fume: extraction on", "HSE SIM 03/2002/26 (rosin fume)"),
        Hazard(
            "heat",
            "Hot surface",
            "Hot: mind hands, cables and what lies near",
            "ISO 13732-1 (from memory): skin burns at 51 C within a minute",
        ),
        Hazard(
            "live",
            "Live mains",
            "Live mains: covers on, residual-current device in line, one hand; licensed practice only",
            "common practice, no source",
        ),
        Hazard(
            "mains",
            "Mains",
            "Mains: unplugged and locked off before the cover opens",
            "common practice, no source",
        ),
        Hazard(
            "rotating",
            "Rotating parts",
            "Rotating parts: no gloves, sleeves or loose straps",
            "common practice, no source",
        ),
        Hazard(
            "solvent",
            "Flammable solvent",
            "Flammable solvent: no flame, no spark, air moving",
            "NIOSH Pocket Guide (IPA)",
        ),
        Hazard("static", "Static", "Static: wrist strap on", "ANSI/ESD S20.20; EN 61340-5-1"),
        Hazard(
            "swarf", "Swarf", "Swarf: eye protection on, brush, never fingers", "common practice, no source"
        ),
    )
}
