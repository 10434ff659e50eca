//! Facets that overlap in plan, turned into facets that do not: the lowest of them at each place for
//! digging, the highest for placing.
//!
//! The ground is dug to the lowest of a work's facets whatever their order. Settling among the few
//! facets first which one is lowest where spares the many pieces of the ground the question. Metres.

use crate::terrain::convex::{self, Polygon};
use crate::terrain::predicates::P2;
use crate::terrain::{GROUND, Maker, Span};

use super::Mosaic;
use super::facet::{Act, Facet};
use super::mosaic::bounds;

/// Heights are the same to within this, from all that rounds in laying facets out.
const ROUNDING: f64 = 1e-6;

/// The envelope of `facets` for `act`. Each facet of it keeps plane, maker and base edge of the one
/// it is part of.
pub fn envelope(act: Act, facets: &[Facet]) -> Vec<Facet> {
    // One facet needs no settling; and pieces can only be told apart up to this many.
    if facets.len() < 2 || facets.len() >= usize::from(Maker::MAX) {
        return facets.to_vec();
    }
    let heights = facets.iter().flat_map(heights);
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
    work(&mut sheet, act, facets, 0);
    worked(&sheet, |k| &facets[k])
}

/// Facets to dig to so that nothing placed is dug away again: the lowest of `dug`, or the highest of
/// `placed` where that is higher. As they are where that is nowhere so, or for more facets than makers can
/// be told apart.
pub fn clear_of(dug: Vec<Facet>, placed: &[Facet]) -> Vec<Facet> {
    let count = dug.len() + placed.len();
    if count >= usize::from(Maker::MAX) || !undercut(&dug, placed) {
        return dug;
    }
    let (lo, hi) = bounds(dug.iter().flat_map(|f| &f.outline).copied());
    let heights = dug.iter().chain(placed).flat_map(heights);
    let level = heights.fold(f64::NEG_INFINITY, f64::max) + 1.0;
    let outline: [P2; 4] = [lo, [hi[0], lo[1]], hi, [lo[0], hi[1]]];
    let mut sheet = Mosaic::sheet(&outline, level, count);
    sheet.begin(false);
    work(&mut sheet, Act::Dig, &dug, 0);
    work(&mut sheet, Act::Place, placed, dug.len());
    worked(&sheet, |k| {
        dug.get(k).unwrap_or_else(|| &placed[k - dug.len()])
    })
}

/// Elevations of a facet's corners.
fn heights(f: &Facet) -> impl Iterator<Item = f64> + '_ {
    f.outline.iter().map(|&p| f.plane.at(p))
}

/// Whether digging to the ones takes away of what is placed to the others, by more than rounding.
fn undercut(dug: &[Facet], placed: &[Facet]) -> bool {
    let boxed = |f: &Facet| Span::of(f.outline.iter().copied());
    let dug: Vec<(Span, f64, &Facet)> = dug
        .iter()
        .map(|f| (boxed(f), heights(f).fold(f64::INFINITY, f64::min), f))
        .collect();
    placed.iter().any(|p| {
        let (span, highest) = (boxed(p), heights(p).fold(f64::NEG_INFINITY, f64::max));
        dug.iter().any(|(its, lowest, d)| {
            let over = |q: &P2| p.plane.at(*q) - d.plane.at(*q) > ROUNDING;
            // One plane is nowhere over another without being so at a corner of what they share.
            highest > lowest + ROUNDING
                && span.meets(its)
                && p.outline.iter().chain(&d.outline).any(over)
                && {
                    let both = convex::shared(&p.outline, &d.outline);
                    convex::area2(&both) > convex::SPECK && both.iter().any(over)
                }
        })
    })
}

/// Works facets into a sheet, each under a maker of its own from the one after `first` on.
fn work(sheet: &mut Mosaic, act: Act, facets: &[Facet], first: usize) {
    for (k, facet) in facets.iter().enumerate() {
        sheet.apply(
            act,
            &Facet {
                maker: GROUND + 1 + (first + k) as Maker,
                ..facet.clone()
            },
        );
    }
}

/// What became of a sheet, given which facet each maker stands for.
fn worked<'a>(sheet: &Mosaic, facet: impl Fn(usize) -> &'a Facet) -> Vec<Facet> {
    sheet
        .worked()
        .filter(|(_, _, k)| *k != GROUND)
        .map(|(outline, plane, k)| Facet {
            outline: Polygon::from_slice(outline),
            plane,
            ..facet(usize::from(k - GROUND - 1)).clone()
        })
        .collect()
}
