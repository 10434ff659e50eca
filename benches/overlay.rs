//! Exact cut and fill between two surfaces of about 100,000 triangles each, against the time that
//! `delaunator` takes for both point sets in the same run. (The polygon-overlay rival, shapely, runs
//! from `tests/outside/overlay_rival.py`.)

mod race;

use brimline::terrain::Surface;
use brimline::terrain::constrained::Triangulation;
use brimline::terrain::overlay::{Overlay, cut_fill};
use race::{Race, Random, bare_delaunator};

const POINTS: usize = 50_000;

fn points(seed: u64) -> Vec<[f64; 2]> {
    let mut r = Random(seed);
    let corners = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]];
    corners
        .into_iter()
        .chain((4..POINTS).map(|_| [100.0 * r.unit(), 100.0 * r.unit()]))
        .collect()
}

fn surface(points: &[[f64; 2]], z: impl Fn(f64, f64) -> f64) -> Surface {
    let Ok(made) = Triangulation::new(points.to_vec()) else {
        return Surface::default();
    };
    Surface {
        points: points.iter().map(|p| [p[0], p[1], z(p[0], p[1])]).collect(),
        triangles: (0..made.triangles() as u32)
            .map(|t| made.corners(t))
            .collect(),
        made_by: vec![0; made.triangles()],
    }
}

fn main() {
    let (one, two) = (points(7), points(1234567));
    let existing = surface(&one, |x, y| 10.0 + (0.2 * x).sin() + (0.15 * y).cos());
    let designed = surface(&two, |x, y| 10.0 + 0.3 * (0.3 * x + 0.1 * y).sin());
    let mut race = Race::new();
    race.run("delaunator on both point sets", || {
        bare_delaunator(&one) + bare_delaunator(&two)
    });
    race.run("exact cut and fill", || cut_fill(&existing, &designed));
    race.run("of it, making ready", || {
        Overlay::new(&existing, &designed).origin
    });
    let found = cut_fill(&existing, &designed);
    println!();
    println!(
        "{} and {} triangles, {} cells; cut {:.6} m³, fill {:.6} m³, common area {:.9} m²",
        existing.triangles.len(),
        designed.triangles.len(),
        found.cells,
        found.cut,
        found.fill,
        found.area
    );
    race.compare(
        "exact cut and fill",
        "delaunator on both point sets",
        "as near to 1 × as can be",
    );
    race.finish();
}
