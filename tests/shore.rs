//! The water's edge as it is drawn: one closed line round each water, which holds exactly the area
//! that the plan gives for it. Area of a polygon by the shoelace formula; no other source.

use std::path::Path;

use brimline::job::Document;
use brimline::plan::Plan;

#[test]
fn the_edge_of_each_water_encloses_its_area() {
    let mut seen = 0;
    for name in ["demo", "terrace-metric", "handbook-dugout"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("surveys/{name}.ron"));
        let (_, job) = Document::load(&path).unwrap_or_else(|e| panic!("{e}"));
        for water in Plan::of(&job).water {
            seen += 1;
            let what = format!("{name}, {}", water.name);
            assert_eq!(water.edge.len(), 1, "{what}: lines of its edge");
            let ring = &water.edge[0];
            let o = ring[0];
            let twice: f64 = (0..ring.len())
                .map(|k| {
                    let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                    (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])
                })
                .sum();
            let area = 0.5 * twice.abs();
            let off = (area - water.area_m2).abs() / water.area_m2;
            assert!(
                off < 1e-7,
                "{what}: its edge encloses {area} m², the plan says {} m², {off:e} of it apart",
                water.area_m2
            );
        }
    }
    assert!(seen >= 8, "only {seen} waters looked at");
}
