"""The usual cautions for a material family, as neutral sentences. They inform; they do not say that anything is safe.

Sources: laser class and fume, IEC 60825-1 (class 4), US 29 CFR 1910.1026 (hexavalent chromium from stainless steel),
AWS fact sheet 25 (metal fume fever from zinc), EIGA Doc 44/18 (nitrogen displaces oxygen); the wording is ours.
"""

ALWAYS = [
    "Class 4 laser: follow the machine's manual and your site's risk assessment; ask the laser safety officer.",
    "Parts and skeleton may be hot and sharp: wear gloves and eye protection.",
]

BY_FAMILY = {
    "mild": ["Cutting with oxygen: keep oil and grease away from oxygen, and watch for fire under the slats."],
    "galvanised": ["Galvanised: zinc fume. Confirm that extraction works before cutting."],
    "stainless": [
        "Stainless: fume may hold chromium(VI). Confirm that extraction works before cutting.",
        "Nitrogen pushes out air: confirm ventilation where gas can gather.",
    ],
    "aluminium": [
        "Aluminium: fine dust can burn. Keep filter and catch tray as the machine's manual says; it reflects."
    ],
    "copper": ["Copper and brass reflect the beam: check that the machine's manual allows it; fume needs extraction."],
    "other": ["Unusual material: check the supplier's data sheet for fume and coating before cutting."],
}

LIFT_FROM_KG = 23
"""Above this mass the page says to plan the lifting. Source: NIOSH lifting equation, ideal-case load constant 23 kg."""


def cautions_of(family: str) -> list[str]:
    """The cautions for a family; a family not listed is treated as unusual."""
    return BY_FAMILY.get(family, BY_FAMILY["other"]) + ALWAYS


def lifting_caution(mass_kg: float) -> str:
    """A sentence on lifting, or "" for a light load."""
    if mass_kg < LIFT_FROM_KG:
        return ""
    return f"Mass {mass_kg:.0f} kg: plan the lifting, use the lifting gear or a second person."
