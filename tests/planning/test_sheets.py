"""Rings, bays, panels and formed plates: closed forms, and full runs of several heats."""

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.planning.bays import BayHeat, Bays
from flamefe.planning.effect import HeatEffect, SheetEffect, line_effect, spot_effect
from flamefe.planning.elastic_sheet import ElasticSheet
from flamefe.planning.formed import FormedPlate, raised
from flamefe.planning.local_heats import in_plane, sheet_heat
from flamefe.planning.rings import Ring, strip_effect
from flamefe.planning.seats import SheetHeat, seated, sheet_lumps, together
from flamefe.straining.elastic import ElasticPart
from flamefe.straining.lumps import lumps_of
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import extruded
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.section_plated import stiffened_panel
from flamefe.workpiece.section_round import round_tube
from flamefe.workpiece.standard import material

STEEL = material("S355")


def flat(length, width, thickness, nx, ny):
    axes = (np.linspace(0, length, nx + 1), np.linspace(0, width, ny + 1), [0.0, thickness])
    return Body(mesh=box_mesh(*axes), materials=(STEEL,))


def line(length=0.3, thickness=0.01, *, shrinkage=1e-4, turn=0.01):
    return line_effect(
        length=length, thickness=thickness, transverse_shrinkage=shrinkage, angular_change=turn,
        source="made up",
    )  # fmt: skip


class TestRing:
    """A line across the wall of a thin ring, against the elastic solve of a meshed ring."""

    RADIUS, WALL, WIDTH = 0.5, 0.01, 0.02

    ANGLES = np.radians(np.arange(0, 360, 15)) + 0.1
    HEAT = 0.3
    MIDDLE = RADIUS + 0.5 * WALL

    def part(self, count):
        section = round_tube(
            outer_diameter=2 * self.RADIUS + self.WALL, thickness=self.WALL,
            size=np.pi * (2 * self.RADIUS + self.WALL) / count, thickness_layers=1,
        )  # fmt: skip
        body = Body(mesh=extruded(section, [0.0, self.WIDTH]).mesh, materials=(STEEL,))
        out = np.column_stack((0 * self.ANGLES, np.cos(self.ANGLES), np.sin(self.ANGLES)))
        places = np.array([0.5 * self.WIDTH, self.MIDDLE, self.MIDDLE]) + self.RADIUS * out
        return ElasticSheet(body, places, out, slack=self.WALL)

    def away(self, values):
        """Values a hex and more from the heat, the shift of the ring taken out."""
        kept = np.abs(self.ANGLES - self.HEAT) > 0.12
        modes = np.column_stack((np.cos(self.ANGLES), np.sin(self.ANGLES)))[kept]
        return values[kept] - modes @ np.linalg.lstsq(modes, values[kept], rcond=None)[0]

    @pytest.mark.parametrize(
        ("count", "shrinkage", "turn", "thickening", "allowed"),
        [
            (64, 0.0, 0.01, 1.0, 0.01),
            (128, 0.0, 0.01, 1.0, 0.003),
            (64, 1e-3, 0.0, 0.0, 0.015),
            (128, 1e-3, 0.0, 0.0, 0.003),
            (128, 1e-3, 0.0, 1.0, 0.01),
        ],
    )
    def test_line_against_thin_ring_theory(self, count, shrinkage, turn, thickening, allowed):
        """A kink, a slice that is cut out, and one of kept volume (thin ring theory, see
        `Ring.influence`). The last asks for more hexes: a shift by a hundredth of the wall's
        thickness out of its middle would bend as much as theory says altogether."""
        part = self.part(count)
        effect = line(self.WIDTH, self.WALL, shrinkage=shrinkage, turn=turn)
        normal = np.array([0.0, np.cos(self.HEAT), np.sin(self.HEAT)])
        heat = SheetHeat(
            name="l", effect=effect, along=np.array([1.0, 0, 0]), normal=normal,
            origin=np.array([0.5 * self.WIDTH, self.MIDDLE, self.MIDDLE]) + self.RADIUS * normal,
        )  # fmt: skip
        moved = part.influence([heat])[:, 0] if thickening else self.cut_out(part, heat)
        ring = Ring(radius=self.RADIUS, angles=self.ANGLES, thickness=self.WALL)
        one = ring.heat("l", strip_effect(effect, width=self.WIDTH), angle=self.HEAT)
        theory = ring.influence([one], thickening=thickening)[:, 0]
        off = self.away(moved) - self.away(theory)
        assert np.abs(off).max() < allowed * np.abs(theory).max()

    def cut_out(self, part, heat):
        """The same heat without thickening, put in the middle of the mesh's wall."""
        kept, cut = part.lumps(heat), sheet_lumps(heat, thickening=0.0)
        shown = type(kept)(places=kept.places, strains=cut.strains)
        field = part.part.carrier.spread(shown, normals=heat.axes[2], slack=1e-3)
        return part.at_places(part.part.movement_by(field))


def test_a_ring_that_is_too_thick_is_refused():
    with pytest.raises(OutOfRange, match="thin ring"):
        Ring(radius=0.1, angles=[0.0], thickness=0.05)


def test_even_spots_keep_their_symmetry_and_take_the_girth():
    ring = Ring(radius=0.4, angles=np.radians(np.arange(0, 360, 45)))
    spot = HeatEffect(kind="spot", rotation_y=1e-3, shortening=2e-4, source="made up")
    four = ring.even("s", spot, count=4, first=0.0)
    change = ring.influence(four).sum(axis=1)
    assert change[::2] == pytest.approx([change[0]] * 4)
    assert change[0] < change[1] < 0.0  # flatter where it shrinks outside
    assert ring.girth(four) == pytest.approx(8e-4)
    fine = Ring(radius=0.4, angles=np.linspace(0, 2 * np.pi, 721)[:-1])
    assert fine.influence(four).sum(axis=1).mean() == pytest.approx(-8e-4 / (2 * np.pi), rel=1e-4)


def test_area_of_a_dished_bay_and_the_spots_it_takes():
    """Area that a half wave needs more than its frame, by fine integration of the slope; a spot
    of 30 mm and 0.465 % takes 6.6 mm2 off (derived: dA = 2 e pi a^2), so 13 to 14 spots."""
    a, b, height = 0.6, 0.45, 0.006
    x, y = np.meshgrid(np.linspace(0, a, 401), np.linspace(0, b, 401), indexing="ij")
    w = height * np.sin(np.pi * x / a) * np.sin(np.pi * y / b)
    slope = np.gradient(w, x[:, 0], y[0])
    more = np.sqrt(1 + slope[0] ** 2 + slope[1] ** 2) - 1
    area = np.trapezoid(np.trapezoid(more, y[0], axis=1), x[:, 0])
    bays = Bays(names=["a", "b"], sides=[[a, b], [0.6, 0.6]], heights=[height, -0.006])
    assert bays.excess[0] == pytest.approx(area, rel=1e-3)
    spot = spot_effect(
        area_change=-2 * 4.65e-3 * np.pi * 0.015**2, thickness=0.004, source="made up"
    )
    assert 13 < bays.needed(spot)[1] < 14
    row = [BayHeat(name=f"s{i}", bay="b", effect=spot) for i in range(13)]
    change = bays.influence(row)
    assert np.abs(change[0]).max() == 0.0
    assert change[1].sum() == pytest.approx(0.006 * 13 / bays.needed(spot)[1])
    left = bays.after(row)
    assert -0.0015 < left[1] < 0.0  # still out the same way
    assert bays.after([*row, row[0]])[1] == 0.0
    with pytest.raises(OutOfRange, match="there are: a, b"):
        bays.influence([BayHeat(name="s", bay="c", effect=spot)])


def test_free_plate_loses_the_area_of_its_spots():
    """Change of area = int (e_x + e_y) dA of a free plate, whatever the mesh: by the mean
    movement of its edges (reciprocity with an even pull)."""
    spot = spot_effect(area_change=-8e-6, thickness=0.01, height=0.002, source="made up")
    for cells in (4, 9):
        body = flat(0.4, 0.4, 0.01, cells, cells)
        sheet = ElasticSheet(body, [[0.2, 0.2, 0.0]], (0, 0, 1))
        u = sheet.movement([seated(spot, "s", (0.13, 0.27), middle=0.005)])
        p = body.points
        growth = 0.0
        for axis in (0, 1):
            for end, sign in ((0.0, -1), (0.4, 1)):
                nodes = np.flatnonzero(np.isclose(p[:, axis], end))
                other = p[nodes, 1 - axis]
                weight = np.where(np.isclose(other, 0.0) | np.isclose(other, 0.4), 0.5, 1.0)
                growth += sign * 0.4 * (weight * u[nodes, axis]).sum() / weight.sum()
        assert growth == pytest.approx(-8e-6, rel=1e-6)


def test_resultants_of_a_placed_heat_are_exact_on_any_panel():
    """Forces and moments of a turned line on meshes of all sizes, 1e-12."""
    effect = line(0.2)
    way = np.array([np.cos(0.4), np.sin(0.4), 0.0])
    heat = SheetHeat(
        name="l", effect=effect, origin=(0.31, 0.22, 0.005), along=way, normal=(0, 0, 1)
    )
    asked = sheet_lumps(heat)
    for cells in ((2, 2), (6, 4), (15, 11)):
        body = flat(0.6, 0.4, 0.01, *cells)
        sheet = ElasticSheet(body, [[0.3, 0.2, 0.0]], (0, 0, 1))
        field = sheet.inherent_strain([heat])
        got = lumps_of(body.mesh, field.T.reshape(-1, 8, 6))
        size = np.abs(asked.total).max()
        assert np.abs(got.total - asked.total).max() < 1e-12 * size
        for axis in range(3):
            lever = np.eye(3)[axis]
            off = got.moment(lever, heat.origin) - asked.moment(lever, heat.origin)
            assert np.abs(off).max() < 1e-12 * size


def test_shape_of_a_stiffened_panel_agrees_over_mesh_sizes():
    """Two lines under the plate of a panel with two stiffeners, coarse against fine hexes."""
    found = []
    marks = np.array([[x, y, 0.0] for x in (0.0, 0.3, 0.9, 1.2) for y in (0.0, 0.2, 0.4, 0.6, 0.8)])
    for size, slices in ((0.07, 18), (0.05, 24), (0.034, 36)):
        section = stiffened_panel(
            width=0.8, plate_thickness=0.008, stiffeners=2, stiffener_height=0.08,
            stiffener_thickness=0.008, size=size, thickness_layers=1,
        )  # fmt: skip
        body = Body(
            mesh=extruded(section, np.linspace(0, 1.2, slices + 1)).mesh, materials=(STEEL,)
        )
        sheet = ElasticSheet(body, marks, (0, 0, 1))
        rows = [
            SheetHeat(
                name=f"l{i}", effect=line(0.6, 0.008), origin=(0.6, y, 0.004), along=(1, 0, 0),
                normal=(0, 0, -1),
            )
            for i, y in enumerate((0.2, 0.6))
        ]  # fmt: skip
        change = sheet.after(rows)
        modes = np.column_stack((np.ones(len(marks)), marks[:, :2]))
        found.append(change - modes @ np.linalg.lstsq(modes, change, rcond=None)[0])
    size = np.linalg.norm(found[-1])
    assert np.linalg.norm(found[1] - found[2]) < 0.03 * size
    assert np.linalg.norm(found[0] - found[2]) < 0.07 * size


def test_shrunk_edges_dish_a_rolled_plate_as_gauss_asks():
    """Shallow shell with curvature 1/R along y: strain e_x = -c (y - y0)^2 without stress in the
    middle surface bends it by 2 c R along x (compatibility, Donnell-Mushtari-Vlasov). Thin plate,
    where bending costs little."""
    radius, shrink = 2.0, 1e-4
    mesh = raised(
        box_mesh(np.linspace(0, 2, 21), np.linspace(0, 1, 21), [-0.0015, 0.0015]),
        lambda x, y: (y - 0.5) ** 2 / (2 * radius) + 0 * x, 1e-5,
    )  # fmt: skip
    part = ElasticPart(Body(mesh=mesh, materials=(STEEL,)))
    where = lumps_of(mesh, np.ones((mesh.t.shape[1], 8, 6))).places
    strain = np.zeros((6, len(where)))
    strain[0] = -shrink * (where[:, 1] - 0.5) ** 2
    u = part.movement_by(strain)
    p = part.body.points
    ridge = np.flatnonzero(np.isclose(p[:, 1], 0.5) & (p[:, 2] < 0) & (abs(p[:, 0] - 1) < 0.5))
    bend = 2 * np.polyfit(p[ridge, 0], u[ridge, 2], 2)[0]
    assert bend == pytest.approx(2 * shrink * radius, rel=5e-3)


def test_formed_plate_is_measured_square_to_itself():
    plate = FormedPlate(
        length=1.0, width=0.6, thickness=0.01, metal=STEEL, size=0.1,
        shape=lambda x, y: 0.1 * x, places=[[0.2, 0.3], [0.8, 0.3]],
    )  # fmt: skip
    turned = plate.sheet.directions[0]
    assert turned == pytest.approx(np.array([-0.1, 0, 1]) / np.sqrt(1.01))
    heat = plate.heat("l", line(0.3), at=(0.5, 0.3), along="y", face="bottom")
    assert heat.normal == pytest.approx(-turned)
    assert heat.origin[2] == pytest.approx(0.05)
    change = plate.influence([heat])[:, 0]
    assert change.shape == (2,)
    with pytest.raises(OutOfRange, match="off the plate"):
        plate.heat("l", line(0.3), at=(1.5, 0.3))


def test_a_local_run_is_read_in_the_heats_own_frame():
    """Turned heats on both faces: sums by hand. A grid keeps sums and first moments."""
    mesh = box_mesh(np.linspace(0, 0.2, 9), np.linspace(0, 0.2, 9), [0.0, 0.004, 0.01])
    random = np.random.default_rng(3)
    strain = random.normal(0, 1e-4, (mesh.t.shape[1], 8, 6))
    effect = sheet_heat(
        mesh, [strain], middle=(0.08, 0.11), along=(0.6, 0.8), face="bottom", kind="k", source="s"
    )
    lumps = lumps_of(mesh, strain)
    axes = np.array([[0.6, 0.8], [0.8, -0.6]])  # seen from below, left of u
    own = in_plane(lumps.strains, axes)
    assert effect.membrane.sum(axis=0) == pytest.approx(own.sum(axis=0), rel=1e-9)
    lever = 0.005 - lumps.places[:, 2]
    assert effect.bending.sum(axis=0) == pytest.approx((lever[:, None] * own).sum(axis=0), rel=1e-9)
    u = (lumps.places[:, :2] - (0.08, 0.11)) @ axes.T
    assert effect.places.T @ effect.membrane == pytest.approx(u.T @ own, rel=1e-9, abs=1e-18)


def test_overlaps_and_repeats_give_less_and_say_so():
    spot = SheetEffect(
        kind="spot", places=[[-0.01, 0], [0.01, 0], [0, 0.01], [0, -0.01]],
        membrane=[[-1e-8, -1e-8, 0]] * 4, bending=[[0, 0, 0]] * 4, thickness=0.005,
        repeats=(1.0, 0.4, 0.1), source="three runs",
    )  # fmt: skip
    row = [
        seated(spot, "a", (0.1, 0.1)),
        seated(spot, "b", (0.3, 0.1)),
        seated(spot, "c", (0.1, 0.1)),
        seated(spot, "d", (0.11, 0.1)),
        seated(spot, "e", (0.1, 0.1), face="bottom"),
    ]
    found = together(row, [0, 2, 0, 0, 0])
    assert found.shares[:3] == pytest.approx((1.0, 0.1, 0.4))
    assert 0.1 < found.shares[3] < 1.0
    assert found.shares[4] < 0.2
    assert len(found.notes) == 7
    assert "three runs" in found.notes[0]
    with pytest.raises(OutOfRange, match="2 numbers of earlier heats"):
        together(row, [0, 1])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"repeats": ()}, "repeats are"),
        ({"uncertain": 0.9}, "uncertain is 0.9"),
        ({"source": " "}, "source is empty"),
        ({"rotation_y": 4.0}, "mrad"),
        ({"shortening": float("nan")}, "shortening is nan"),
    ],
)
def test_impossible_effects_are_refused(change, words):
    with pytest.raises(OutOfRange, match=words):
        HeatEffect(**{"kind": "k", "source": "s", **change})
