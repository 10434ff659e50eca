"""Real terrain through the command's JSON, against numpy, scipy, shapely and matplotlib.

The elevations are those of `jacksboro_fault_dem.npz`, open data that matplotlib ships among its
sample data; the jobs around them are made here. Metres. The program is named by the environment
variable BRIMLINE (default: target/debug/brimline).
"""

import json
import os
import pathlib
import subprocess
import tempfile
import unittest

import matplotlib.tri
import numpy as np
import shapely
from matplotlib import cbook
from scipy.spatial import Delaunay
from shapely.geometry import LineString, Polygon

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = os.environ.get("BRIMLINE", str(ROOT / "target" / "debug" / "brimline"))


def elevations():
    """Every third cell of the model: x, y and elevation of each, metres."""
    data = cbook.get_sample_data("jacksboro_fault_dem.npz")
    z = data["elevation"][::3, ::3].astype(float)
    degree = 111_320.0
    dy = 3 * float(data["dy"]) * degree
    dx = 3 * float(data["dx"]) * degree * np.cos(np.radians(36.6))
    rows, columns = np.indices(z.shape)
    return columns.ravel() * dx, (z.shape[0] - 1 - rows).ravel() * dy, z.ravel(), dx, dy


def scattered():
    """Some of the cells, each moved by up to a third of a cell, so that no four corners lie on a
    circle and the Delaunay triangulation is the only one."""
    x, y, z, dx, dy = elevations()
    random = np.random.default_rng(20)
    some = random.permutation(len(x))[:4000]
    x = np.round(x[some] + dx / 3 * random.uniform(-1, 1, len(some)), 3)
    y = np.round(y[some] + dy / 3 * random.uniform(-1, 1, len(some)), 3)
    return np.column_stack([x, y, z[some]])


def gridded():
    """Cells as they lie: every square of them has its corners on a circle."""
    x, y, z, _, _ = elevations()
    return np.column_stack([np.round(x, 3), np.round(y, 3), z])


def job(points, design=""):
    listed = ",\n".join(
        f'("p{i}", {x!r}, {y!r}, {z!r})' for i, (x, y, z) in enumerate(points.tolist())
    )
    return (
        '(name: "Outside check", unit: Metre, '
        f"field_book: (points: [\n{listed}\n]),\n{design})"
    )


def figures(text, *more):
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "outside.ron"
        path.write_text(text)
        return run(path, *more)


def run(path, *more):
    out = subprocess.run(
        [PROGRAM, "figures", str(path), "--json", *more],
        capture_output=True,
        text=True,
        check=False,
    )
    if out.returncode != 0:
        raise AssertionError(f"exit status {out.returncode}\n{out.stdout[-2000:]}\n{out.stderr[-2000:]}")
    return json.loads(out.stdout)


def surface(found, which):
    made = found["surfaces"][which]
    return np.array(made["points"]), np.array(made["triangles"])


def above(corners, level):
    """Volume above and area above a level, of triangles [n, 3, 3]; exact for flat triangles."""
    corners = np.take_along_axis(corners, np.argsort(corners[:, :, 2], axis=1)[:, :, None], axis=1)
    low, mid, high = (corners[:, k, 2] - level for k in range(3))
    u, v = corners[:, 1, :2] - corners[:, 0, :2], corners[:, 2, :2] - corners[:, 0, :2]
    area = 0.5 * np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = (high / (high - low)) * (high / (high - mid))
        dip = (low / (low - high)) * (low / (low - mid))
    all_volume = area * (low + mid + high) / 3
    volume = np.select(
        [low >= 0, high <= 0, mid <= 0],
        [all_volume, 0 * area, area * tip * high / 3],
        all_volume - area * dip * low / 3,
    )
    wet = np.select([low >= 0, high <= 0, mid <= 0], [area, 0 * area, area * tip], area * (1 - dip))
    return volume.sum(), wet.sum()


def cut_and_fill(corners, outline, level):
    """Volume above and below a level inside a convex outline: each triangle clipped by shapely, the
    clipped polygon cut into triangles on the same plane."""
    shapes = shapely.polygons(corners[:, :, :2])
    inside = shapely.intersection(shapes, outline)
    cut = fill = 0.0
    for triangle, part in zip(corners, inside):
        if part.is_empty or part.area == 0.0:
            continue
        ring = np.array(part.exterior.coords)[:-1]
        a = np.column_stack([triangle[:, :2] - triangle[0, :2], np.ones(3)])
        plane = np.linalg.solve(a, triangle[:, 2])
        z = np.column_stack([ring - triangle[0, :2], np.ones(len(ring))]) @ plane
        fan = np.array(
            [
                [(*ring[0], z[0]), (*ring[k], z[k]), (*ring[k + 1], z[k + 1])]
                for k in range(1, len(ring) - 1)
            ]
        )
        over, _ = above(fan, level)
        flipped = fan.copy()
        flipped[:, :, 2] *= -1
        under, _ = above(flipped, -level)
        cut += over
        fill += under
    return cut, fill


class Scattered(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.shots = scattered()
        cls.found = figures(job(cls.shots), "--surfaces", "--contours", "50")
        cls.points, cls.triangles = surface(cls.found, "existing")
        cls.corners = cls.points[cls.triangles]

    def near(self, what, found, expected, relative):
        self.assertLessEqual(
            abs(found - expected),
            relative * max(abs(expected), 1e-12),
            f"{what}: found {found}, expected {expected}",
        )

    def test_the_triangulation_is_scipys(self):
        theirs = Delaunay(self.shots[:, :2])

        def named(points, triangles):
            return {frozenset(map(tuple, np.round(points[t][:, :2], 4))) for t in triangles}

        ours, expected = named(self.points, self.triangles), named(self.shots, theirs.simplices)
        # scipy joins points on the hull with needles that rounding makes or breaks.
        differ = ours ^ expected
        self.assertLessEqual(len(differ), 0.001 * len(expected), f"{len(differ)} triangles differ")
        self.near("area", self.found["ground"]["area_m2"], theirs_area(self.shots, theirs), 1e-9)

    def test_volume_above_levels(self):
        theirs = self.shots[Delaunay(self.shots[:, :2]).simplices]
        for level in [240, 300, 400.5, 555, 700, 900]:
            ours, _ = above(self.corners, level)
            expected, _ = above(theirs, level)
            self.near(f"volume above {level} m", ours, expected, 1e-9)

    def test_area_inside_contours(self):
        outline = shapely.convex_hull(shapely.multipoints(self.points[:, :2]))
        for level in [300, 450, 600, 750]:
            lines = [
                LineString(c["line"] + (c["line"][:1] if c["closed"] else []))
                for c in self.found["contours"]
                if abs(c["elevation_m"] - level) < 1e-9
            ]
            self.assertTrue(lines, f"no contour at {level} m")
            tin = matplotlib.tri.Triangulation(*self.points[:, :2].T, self.triangles)
            expected = sum(
                np.hypot(*np.diff(line, axis=0).T).sum()
                for line in tricontour(tin, self.points[:, 2], level)
            )
            self.near(f"length of the {level} m contour", sum(l.length for l in lines), expected, 1e-6)
            # Cut the outline by the contours; every part lies wholly above or wholly below.
            # Ends on the outline are carried a centimetre over it, so that they do cut it.
            longer = [line if line.is_closed else carried_on(line, 0.01) for line in lines]
            net = shapely.node(shapely.union_all([outline.exterior, *longer]))
            parts = shapely.get_parts(shapely.polygonize(list(shapely.get_parts(net))))
            find = tin.get_trifinder()
            higher = 0.0
            for part in parts:
                p = part.representative_point()
                t = int(find(p.x, p.y))
                if t < 0:
                    continue
                c = self.corners[t]
                a = np.column_stack([c[:, :2] - c[0, :2], np.ones(3)])
                z = np.array([p.x - c[0, 0], p.y - c[0, 1], 1.0]) @ np.linalg.solve(a, c[:, 2])
                higher += part.area if z > level else 0.0
            _, expected = above(self.corners, level)
            self.near(f"area above {level} m", higher, expected, 1e-6)


def carried_on(line, by):
    at = np.array(line.coords)
    ends = []
    for end, before in ((at[0], at[1]), (at[-1], at[-2])):
        step = end - before
        ends.append(end + by * step / np.hypot(*step))
    return LineString([ends[0], *at, ends[1]])


def theirs_area(points, made):
    c = points[made.simplices][:, :, :2]
    u, v = c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]
    return 0.5 * np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum()


def tricontour(tin, z, level):
    """matplotlib's own contour lines at one level."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots()
    lines = axes.tricontour(tin, z, levels=[level])
    found = [seg for seg in lines.allsegs[0] if len(seg) > 1]
    pyplot.close(figure)
    return found


class Gridded(unittest.TestCase):
    """A pad cut into the model's hills: the command's cut and fill against clipping by shapely."""

    def test_pad(self):
        shots = gridded()
        x0, y0 = shots[:, :2].min(axis=0)
        x1, y1 = shots[:, :2].max(axis=0)
        at = lambda fx, fy: (round(x0 + fx * (x1 - x0), 2), round(y0 + fy * (y1 - y0), 2))
        ring = [at(0.31, 0.33), at(0.58, 0.29), at(0.63, 0.52), at(0.44, 0.66), at(0.29, 0.55)]
        level = 452.5
        listed = ", ".join(f"({x}, {y})" for x, y in ring)
        design = (
            f'design: (pads: [(name: "pad", outline: [{listed}], elevation: {level}, '
            "build_up: 0, batter: 0)])"
        )
        found = figures(job(shots, design), "--surfaces")
        points, triangles = surface(found, "existing")
        cut, fill = cut_and_fill(points[triangles], Polygon(ring), level)
        volumes = found["volumes"]
        self.assertGreater(min(cut, fill), 1e6, "the pad both cuts and fills")
        for what, ours, expected in [
            ("cut", volumes["cut_bank_m3"], cut),
            ("fill", volumes["fill_compacted_m3"], fill),
            ("existing to dug, cut", volumes["existing_to_dug_cut_m3"], cut),
            ("existing to dug, fill", volumes["existing_to_dug_fill_m3"], fill),
        ]:
            self.assertLessEqual(abs(ours - expected), 1e-9 * (cut + fill), f"{what}: {ours}, {expected}")
        before, _ = above(points[triangles], 0.0)
        points, triangles = surface(found, "dug")
        after, _ = above(points[triangles], 0.0)
        self.assertLessEqual(abs(before - after - (cut - fill)), 1e-9 * before, "volume that is left")


class Jobs(unittest.TestCase):
    """The dugout's surfaces overlaid by shapely."""

    def test_dugout(self):
        found = run(ROOT / "surveys" / "handbook-dugout.ron", "--surfaces")
        before, after = (np.array(surface(found, w)[0])[surface(found, w)[1]] for w in ("existing", "dug"))
        volume = lambda corners: above(corners, -1000.0)[0]
        moved = volume(before) - volume(after)
        cut = found["volumes"]["existing_to_dug_cut_m3"]
        self.assertLessEqual(abs(moved - cut), 1e-9 * volume(before))
        # USDA NRCS, Agriculture Handbook 590 (from memory): 53,952 × 2 ft³ = 3,996.44 yd³.
        self.assertAlmostEqual(cut / 0.9144**3, 53_952 * 2 / 27, places=5)


if __name__ == "__main__":
    unittest.main()
