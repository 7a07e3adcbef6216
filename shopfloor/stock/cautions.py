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

BARS = [
    "The bar turns by itself: keep hands, hair and clothes away from bar and chuck, and load and clear it only as the "
    "machine's manual says.",
    "Cut pieces fall hot and may roll: stand clear of where they drop.",
]
"""Common practice, no source."""

LONG_BAR_FROM_MM = 3000
"""From this length on a bar is said to be long: one person can no longer see to both of its ends. Common practice."""

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


def bar_cautions(length_mm: float) -> list[str]:
    """What to watch for when a bar of that length is loaded and turned."""
    if length_mm < LONG_BAR_FROM_MM:
        return BARS
    metres = f"{length_mm / 1000:.1f}".removesuffix(".0")
    long = f"Long bar, {metres} m: carry it with a second person or lifting gear, and keep its way and its swing clear."
    return [long, *BARS]


def handling_cautions(mass_kg: float, bar_length_mm: float | None) -> list[str]:
    """What to watch for when a sheet (no length) or a bar is lifted and loaded."""
    heavy = lifting_caution(mass_kg)
    return ([heavy] if heavy else []) + ([] if bar_length_mm is None else bar_cautions(bar_length_mm))
