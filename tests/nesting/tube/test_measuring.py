import math

import numpy as np
import pytest
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from scipy.integrate import dblquad, quad

from nesting.errors import BadValue
from nesting.model.section import Section
from nesting.tube import measuring
from nesting.tube.measuring import measure
from nesting.tube.solid import Surface
from nesting.tube.tube_solids import Cope, Hole, Mitre, Placement, Slot, Tube, tube_solid
from tests import other_solids

TUBES = [
    Tube(Section.box(60, 40, 3, 6), 300, openings=(Hole(100, 12, both_walls=True), Slot(200, 40, 10, 0))),
    Tube(Section.round(48.3, 3), 300, start=Mitre(45), end=Cope(60.3), openings=(Hole(150, 12),)),
]


def volume_by_formulas(tube):
    """Source: derivation for the two tubes of TUBES, walls cut by planes, cylinders and prisms."""
    section = tube.section
    if section.corner_radius:
        return section.metal_area * 300 - 3 * (2 * math.pi * 36 + 30 * 10 + math.pi * 25)
    big, small, mating, drill = 24.15, 21.15, 30.15, 6.0
    # A mitre of 45 degrees ends at big - q cos t, a cope at its centre less sqrt(R² - (q cos t)²), q the radius there.
    centre = 300 + math.sqrt(mating**2 - big**2)
    length, _ = dblquad(
        lambda t, q: q * (centre - math.sqrt(mating**2 - (q * math.cos(t)) ** 2) - (big - q * math.cos(t))),
        small, big, 0, 2 * math.pi, epsabs=1e-4,
    )  # fmt: skip
    # Over the disc of the drill the wall is sqrt(R² - y²) - sqrt(r² - y²) deep.
    lost, _ = quad(
        lambda y: 2 * math.sqrt(drill**2 - y**2) * (math.sqrt(big**2 - y**2) - math.sqrt(small**2 - y**2)),
        -drill, drill,
    )  # fmt: skip
    return length - lost


@pytest.mark.parametrize("tube", TUBES, ids=lambda tube: str(tube.section))
def test_the_volume_is_that_of_the_formulas_and_near_that_of_the_kernel_at_its_usual_precision(tube):
    shape = tube_solid(tube)
    solid = measure(shape)
    assert solid.volume == pytest.approx(volume_by_formulas(tube), rel=1e-6)
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties)
    assert solid.volume == pytest.approx(properties.Mass(), rel=1e-4)  # it is up to 2e-5 off on saddles
    assert solid.is_closed
    assert solid.is_sound


def test_the_flat_faces_of_a_closed_solid_cancel_out():
    # Source: closed surface: the directed areas of flat faces that face one way and the other cancel out
    solid = measure(tube_solid(TUBES[0]))
    flats = [face.area * face.direction for face in solid.faces if face.surface is Surface.PLANE]
    assert np.abs(np.sum(flats, axis=0)).max() < 1e-6


def test_a_ball_has_the_volume_area_and_extent_of_the_formulas():
    solid = measure(other_solids.ball())
    assert solid.volume == pytest.approx(4 / 3 * math.pi * 25**3, rel=1e-9)  # Source: 4/3 pi r³
    assert solid.faces[0].area == pytest.approx(4 * math.pi * 25**2, rel=1e-9)  # Source: 4 pi r²
    assert (solid.faces[0].surface, solid.faces[0].radius, solid.faces[0].is_hollow) == (Surface.SPHERE, 25, False)


def test_bores_are_hollow_and_shafts_are_not():
    solid = measure(tube_solid(Tube(Section.round(50, 4), 100)))
    found = {face.radius: face.is_hollow for face in solid.faces if face.surface is Surface.CYLINDER}
    assert found == {25.0: False, 21.0: True}
    assert all(face.turn == pytest.approx(1.0) for face in solid.faces if face.surface is Surface.CYLINDER)


@pytest.mark.parametrize("change", [other_solids.mirrored, lambda solid: solid.Reversed()])
def test_normals_point_out_however_the_solid_is_written(change):
    solid = measure(change(tube_solid(TUBES[0])))
    assert solid.volume > 0
    middle = np.mean(solid.extent(np.array([0.0, 0, 1]))), np.mean(solid.extent(np.array([0.0, 1, 0])))
    assert np.isfinite(middle).all()
    hollow = [face for face in solid.faces if face.surface is Surface.CYLINDER and face.is_hollow]
    assert {round(face.radius, 6) for face in hollow} == {3.0, 6.0, 5.0}  # inner corners, hole, ends of the slot


def test_free_form_surfaces_become_the_planes_and_cylinders_that_they_are():
    solid = measure(other_solids.free_form(tube_solid(TUBES[0])))
    assert {face.surface for face in solid.faces} == {Surface.PLANE, Surface.CYLINDER}
    assert measure(other_solids.oval_tube()).faces[0].surface in (Surface.FREE, Surface.PLANE)


def test_edges_have_their_length_and_their_two_faces():
    solid = measure(tube_solid(Tube(Section.round(50, 4), 100, placement=Placement((1, 1, 0), 33, (5, 6, 7)))))
    circles = sorted(edge.length for edge in solid.edges if edge.conic is not None)
    assert circles == pytest.approx([2 * math.pi * 21] * 2 + [2 * math.pi * 25] * 2)
    assert sum(edge.is_seam for edge in solid.edges) == 2
    assert all(len(edge.faces) == 2 for edge in solid.edges if not edge.is_seam)


def test_more_faces_than_are_looked_at_are_refused(monkeypatch):
    monkeypatch.setattr(measuring, "MOST_FACES", 9)
    with pytest.raises(BadValue, match="It has 10 faces; at most 9 are looked at"):
        measure(tube_solid(Tube(Section.box(40, 40, 3, 0), 100)))


def test_a_solid_further_out_than_a_kilometre_is_refused():
    far = other_solids.turned(other_solids.block(), (0, 0, 1), 0, (2e6, 0, 0))
    with pytest.raises(BadValue, match="further out than a kilometre"):
        measure(far)


def test_a_failure_of_the_kernel_is_a_bad_value(monkeypatch):
    def fail(*_):
        raise measuring.Standard_Failure("no such curve")

    monkeypatch.setattr(measuring, "_edge", fail)
    with pytest.raises(BadValue, match="The geometry kernel failed on it"):
        measure(other_solids.block())
