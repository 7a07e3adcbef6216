"""People, materials, machines, sections and stock of the demo shop. Everything here is invented, prices apart."""

from decimal import Decimal

from django.contrib.auth.models import Group

from shopfloor.accounts.models import User
from shopfloor.accounts.pin_sign_in import set_pin
from shopfloor.base.roles import INSPECTOR, MANAGER, OFFICE, OPERATOR
from shopfloor.orders.models import Customer
from shopfloor.planning.rule import planning_rule
from shopfloor.stock.choices import LoadingSide, Turns
from shopfloor.stock.models import CuttingRule, Family, Kind, Machine, Material, StockItem, TubeSection

PASSWORD = "quillmarsh-demo"  # noqa: S105 - the demo's own, printed on start
PEOPLE = (
    ("hetty", "Hetty", "Marlowe", (OFFICE,), "2580"),
    ("jonas", "Jonas", "Pell", (OPERATOR,), "4711"),
    ("imke", "Imke", "Rowan", (INSPECTOR, OPERATOR), "8642"),
    ("edda", "Edda", "Thorne", (MANAGER,), "1973"),
)
"""Name to sign in, first and last name, roles, PIN."""

# Densities. Source: steel 7850, EN 1991-1-1 table A.4 by a reference page; 1.4301 7900, EN 10088-1 by a copy of a
# trade association's table; EN AW-5754 2660 from memory.
MATERIALS = (
    ("Mild steel S235", "S235JR", Family.MILD, 7850),
    ("Galvanised DX51", "DX51D+Z275", Family.GALVANISED, 7850),
    ("Stainless 1.4301", "1.4301", Family.STAINLESS, 7900),
    ("Aluminium 5754", "EN AW-5754", Family.ALUMINIUM, 2660),
)

# Stock sizes are common practice, no source.
SHEETS = (
    ("Mild steel S235", "2.00", 2500, 1250, 6, "H7731"),
    ("Mild steel S235", "3.00", 2500, 1250, 8, "H7754"),
    ("Mild steel S235", "3.00", 3000, 1500, 3, "H7755"),
    ("Mild steel S235", "6.00", 2000, 1000, 4, "H7702"),
    ("Galvanised DX51", "1.50", 2000, 1000, 10, "G2209"),
    ("Stainless 1.4301", "2.00", 2000, 1000, 3, "N5518"),
    ("Aluminium 5754", "3.00", 2500, 1250, 2, "A1140"),
)
REMNANTS = (("Mild steel S235", "3.00", 900, 610, "H7688"), ("Mild steel S235", "6.00", 640, 480, "H7702"))
BARS = (
    ("square", 40, 40, 3, 6, 6000, 12, "T3301"),
    ("square", 50, 50, 3, 6, 6000, 8, "T3302"),
    ("rectangular", 60, 40, 3, 6, 6000, 6, "T3310"),
    ("round", "48.3", "48.3", 3, 0, 6000, 10, "T3340"),
    ("round", "33.7", "33.7", 3, 0, 6000, 10, "T3341"),
)

CUSTOMERS = (
    ("Saltway Market Stalls", "Bo Saltway, orders by post"),
    ("Fennel Row Allotments", "the committee, on Thursdays"),
    ("Two Wheel Trailers", "Ada in the workshop"),
    ("Greenlip Planters", "Mr Lind, by mail"),
    ("Harrow Lane Gates", "ring after four"),
)


def set_up() -> dict[str, User]:
    """Fills the tables a shop fills once; the people by the name they sign in with."""
    people = {}
    for name, first, last, roles, pin in PEOPLE:
        person = User.objects.create_user(name, password=PASSWORD, first_name=first, last_name=last)
        person.groups.set(Group.objects.filter(name__in=roles))
        set_pin(person, pin)
        if MANAGER in roles:
            person.is_staff = True
            person.save(update_fields=["is_staff"])
        people[name] = person
    materials = {}
    for name, grade, family, density in MATERIALS:
        materials[name] = Material.objects.create(name=name, grade=grade, family=family, density_kg_m3=density)
        CuttingRule.objects.create(material=materials[name], kind=Kind.SHEET, gap_mm=5, margin_mm=10)
        CuttingRule.objects.create(material=materials[name], kind=Kind.TUBE, gap_mm=5)
    _notes(materials)
    Machine.objects.create(
        name="Laser, sheet table", table_length_mm=3050, table_width_mm=1525, note="Slats every 70 mm."
    )
    Machine.objects.create(
        name="Laser, tube chuck",
        longest_bar_mm=6500,
        chuck_dead_mm=250,
        front_trim_mm=10,
        loading_side=LoadingSide.LEFT,
        note="Supports every 1.5 m; check that none is worn.",
    )
    _stock(materials)
    for name, contact in CUSTOMERS:
        Customer.objects.create(name=name, contact=contact)
    rule = planning_rule()
    rule.budget_s = 10
    rule.save(update_fields=["budget_s"])
    return people


def _notes(materials: dict[str, Material]) -> None:
    """Settings notes as an operator would write them; figures are for the demo and belong to no machine."""
    steel = materials["Mild steel S235"]
    for thickness, gap, note in (
        ("2.00", 5, "Oxygen set B, nozzle 1.2; check focus after the first pierce."),
        ("3.00", 5, "Oxygen set C, nozzle 1.2. Watch small holes near the skeleton edge."),
        ("6.00", 8, "Oxygen set F, nozzle 1.5; pierce slowly, wait for the sheet to cool in the middle."),
    ):
        CuttingRule.objects.create(
            material=steel,
            kind=Kind.SHEET,
            thickness_mm=Decimal(thickness),
            gap_mm=gap,
            margin_mm=10,
            settings_note=note,
        )
    CuttingRule.objects.filter(material=materials["Stainless 1.4301"], kind=Kind.SHEET).update(
        settings_note="Nitrogen, film side up; brushed sheets: keep the grain.", turns=Turns.HALF
    )
    CuttingRule.objects.filter(material=steel, kind=Kind.TUBE).update(
        settings_note="Check centring on every bar; keep the seam off the drilled face."
    )


def _stock(materials: dict[str, Material]) -> None:
    for material, thickness, length, width, count, heat in SHEETS:
        StockItem.objects.create(
            kind=Kind.SHEET,
            material=materials[material],
            thickness_mm=Decimal(thickness),
            length_mm=length,
            width_mm=width,
            on_hand=count,
            heat_no=heat,
            place=f"rack {material[0]}{thickness[0]}",
        )
    for material, thickness, length, width, heat in REMNANTS:
        StockItem.objects.create(
            kind=Kind.SHEET,
            material=materials[material],
            thickness_mm=Decimal(thickness),
            length_mm=length,
            width_mm=width,
            on_hand=1,
            heat_no=heat,
            place="remnant shelf",
            is_remnant=True,
        )
    for shape, height, width, wall, radius, length, count, heat in BARS:
        section = TubeSection.objects.create(
            shape=shape,
            height_mm=Decimal(height),
            width_mm=Decimal(width),
            wall_mm=wall,
            corner_radius_mm=radius,
            standard="EN 10219-2",
        )
        StockItem.objects.create(
            kind=Kind.TUBE,
            material=materials["Mild steel S235"],
            section=section,
            length_mm=length,
            on_hand=count,
            heat_no=heat,
            place="bar rack",
        )
