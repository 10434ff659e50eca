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
use super::mosaic::bounds;

/// The envelope of `facets` for `act`. Each facet of it keeps plane, maker and base edge of the one
/// it is part of.
pub fn envelope(act: Act, facets: &[Facet]) -> Vec<Facet> {
    // One facet needs no settling; and pieces can only be told apart up to this many.
    if facets.len() < 2 || facets.len() >= usize::from(Maker::MAX) {
        return facets.to_vec();
    }
    let heights = facets
        .iter()
        .flat_map(|f| f.outline.iter().map(|&p| f.plane.at(p)));
    let level = match act {
        Act::Dig => heights.fold(f64::NEG_INFINITY, f64::max) + 1.0,
        Act::Place => heights.fold(f64::INFINITY, f64::min) - 1.0,
    };
    beyond(act, facets, level)
}

/// The envelope as far as it lies beyond a level: under it for digging, over it for placing. For
/// fewer facets than makers can be told apart; none for more, or for facets without extent.
pub fn beyond(act: Act, facets: &[Facet], level: f64) -> Vec<Facet> {
    let (lo, hi) = bounds(facets.iter().flat_map(|f| &f.outline).copied());
    let plain = lo[0] < hi[0] && lo[1] < hi[1] && level.is_finite();
    if !plain || facets.len() >= usize::from(Maker::MAX) {
        return Vec::new();
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
