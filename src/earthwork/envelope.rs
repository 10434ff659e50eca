//! Facets that overlap in plan, turned into facets that do not: the lowest of them at each place for
//! digging, the highest for placing.
//!
//! The ground is dug to the lowest of a work's facets whatever their order. Settling among the few
//! facets first which one is lowest where spares the many pieces of the ground the question. Metres.

use crate::terrain::convex::Polygon;
use crate::terrain::predicates::P2;
use crate::terrain::{GROUND, Maker};

use super::Mosaic;
use super::facet::{Act, Facet};

/// The envelope of `facets` for `act`. Each facet of it keeps plane, maker and base edge of the one
/// it is part of.
pub fn envelope(act: Act, facets: &[Facet]) -> Vec<Facet> {
    // One facet needs no settling; and pieces can only be told apart up to this many.
    if facets.len() < 2 || facets.len() >= usize::from(Maker::MAX) {
        return facets.to_vec();
    }
    let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let (mut bottom, mut top) = (f64::INFINITY, f64::NEG_INFINITY);
    for facet in facets {
        for &p in &facet.outline {
            lo = [lo[0].min(p[0]), lo[1].min(p[1])];
            hi = [hi[0].max(p[0]), hi[1].max(p[1])];
            let z = facet.plane.at(p);
            bottom = bottom.min(z);
            top = top.max(z);
        }
    }
    let level = if act == Act::Dig {
        top + 1.0
    } else {
        bottom - 1.0
    };
    if !(lo[0] < hi[0] && lo[1] < hi[1] && level.is_finite()) {
        return facets.to_vec();
    }
    let outline: [P2; 4] = [lo, [hi[0], lo[1]], hi, [lo[0], hi[1]]];
    let mut sheet = Mosaic::sheet(&outline, level, facets.len());
    sheet.begin(false);
    for (k, facet) in facets.iter().enumerate() {
        sheet.apply(
            act,
            &Facet {
                maker: GROUND + 1 + k as Maker,
                ..facet.clone()
            },
        );
    }
    sheet
        .worked()
        .filter(|(_, _, k)| *k != GROUND)
        .map(|(outline, plane, k)| Facet {
            outline: Polygon::from_slice(outline),
            plane,
            ..facets[usize::from(k - GROUND - 1)].clone()
        })
        .collect()
}
