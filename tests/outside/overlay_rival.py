"""The rival of benches/overlay.rs: cut and fill between two triangulated surfaces by general polygon
overlay (shapely: a tree for the pairs, then the intersection of each), on random points.

    python tests/outside/overlay_rival.py [triangles of each surface, default 10000]

Prints seconds, and what that comes to for 100,000 triangles each if time grows with the number of
cells (which it does at best: the tree adds a logarithm).
"""

import sys
import time

import numpy as np
import shapely
from scipy.spatial import Delaunay


def surface(count, seed, height):
    random = np.random.default_rng(seed)
    points = 100 * random.random((count // 2, 2))
    points[:4] = [[0, 0], [100, 0], [100, 100], [0, 100]]
    made = Delaunay(points).simplices
    return np.column_stack([points, height(*points.T)])[made]


def planes(corners):
    """Height at the origin of each triangle's plane, and its two slopes."""
    a = np.concatenate([corners[:, :, :2], np.ones((len(corners), 3, 1))], axis=2)
    return np.linalg.solve(a, corners[:, :, 2:])[:, :, 0]


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    one = surface(count, 7, lambda x, y: 10 + np.sin(0.2 * x) + np.cos(0.15 * y))
    two = surface(count, 8, lambda x, y: 10 + 0.3 * np.sin(0.3 * x + 0.1 * y))
    start = time.perf_counter()
    a, b = shapely.polygons(one[:, :, :2]), shapely.polygons(two[:, :, :2])
    tree = shapely.STRtree(b)
    i, j = tree.query(a, predicate="intersects")
    cells = shapely.intersection(a[i], b[j])
    kept = shapely.area(cells) > 0
    cells, i, j = cells[kept], i[kept], j[kept]
    overlaid = time.perf_counter()
    # Net volume by the cells' areas and middles; splitting the cells by sign would only add to it.
    over = planes(one)[i] - planes(two)[j]
    middle = shapely.get_coordinates(shapely.centroid(cells))
    volume = (shapely.area(cells) * (over[:, 0] * middle[:, 0] + over[:, 1] * middle[:, 1] + over[:, 2])).sum()
    done = time.perf_counter()
    seconds = done - start
    print(f"{len(one)} and {len(two)} triangles, {len(cells)} cells, cut - fill {volume:.6f}")
    print(f"polygon overlay: {overlaid - start:.3f} s, with the volume {seconds:.3f} s")
    print(f"for 100,000 triangles each, in proportion: {seconds * 100_000 / len(one):.1f} s (extrapolated)")


if __name__ == "__main__":
    main()
