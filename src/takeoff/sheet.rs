//! The rectangular sheet that covers a skin, turned through all directions, and how it is cut from
//! rolls. Metres, m².

use rayon::prelude::*;

use super::lined::Skin;
use super::tape::{Taped, tape};
use crate::job::Unit;
use crate::job::materials::LinerStock;
use crate::plan::Sheet;
use crate::terrain::predicates::P2;

/// Directions tried first, degrees apart; then halved about the best so many times.
const COARSE: usize = 10;
const HALVINGS: usize = 4;
/// A sheet is not turned askew to save less than this of the roll.
const HARDLY_MORE: f64 = 1.05;

/// What goes on beyond the lining's edge: at the two ends of the sheet that lie along `toward` (a
/// direction in plan, in which the sheet is laid), together, and at the two other sides together.
/// Without `toward` the same all round, and the sheet may lie in any direction.
pub struct Margin {
    pub along: f64,
    pub across: f64,
    pub toward: Option<P2>,
}

#[derive(Clone, Copy)]
struct Rect {
    angle: f64,
    /// Side along `angle`, and square to it, margins included.
    sides: [f64; 2],
    taped: [Taped; 2],
    cut: Cut,
}

#[derive(Clone, Copy)]
pub struct Cut {
    pub widths: u32,
    pub roll: f64,
    pub length: f64,
    pub seams: f64,
}

impl Cut {
    fn area(&self) -> f64 {
        f64::from(self.widths) * self.roll * self.length
    }
}

/// A whole number of lots that is enough; rounding does not make it one more.
pub fn whole_lots(amount: f64, lot: f64) -> f64 {
    (amount / lot - 1e-6).ceil().max(0.0) * lot
}

/// How a sheet of these sides is cut from the rolls there are: as few pieces as can be, then as
/// little as can be.
pub fn cut(sides: [f64; 2], stock: &LinerStock, unit: Unit) -> Cut {
    let mut best: Option<Cut> = None;
    for roll in stock.widths(unit) {
        for (across, along) in [(sides[0], sides[1]), (sides[1], sides[0])] {
            let widths = if across <= roll + 1e-6 {
                1.0
            } else {
                ((across - stock.seam) / (roll - stock.seam).max(1e-3) - 1e-6).ceil()
            };
            let length = whole_lots(along, stock.cut);
            let cut = Cut {
                widths: widths as u32,
                roll,
                length,
                seams: (widths - 1.0) * along,
            };
            let less = |b: &Cut| (cut.widths, cut.area()) < (b.widths, b.area() - 1e-9);
            if best.as_ref().is_none_or(less) {
                best = Some(cut);
            }
        }
    }
    best.unwrap_or(Cut {
        widths: 1,
        roll: sides[0],
        length: sides[1],
        seams: 0.0,
    })
}

/// The smallest sheet, unless another direction saves a good deal of the roll.
pub fn sheet(
    skin: &Skin,
    place: &str,
    margin: &Margin,
    stock: &LinerStock,
    unit: Unit,
) -> Option<Sheet> {
    let rect = |degrees: f64| -> Option<Rect> {
        let angle = degrees.to_radians();
        let taped = [
            tape(skin, angle)?,
            tape(skin, angle + std::f64::consts::FRAC_PI_2)?,
        ];
        let first_along = margin.toward.is_none_or(|d| {
            let (sin, cos) = angle.sin_cos();
            (d[0] * cos + d[1] * sin).abs() >= (d[1] * cos - d[0] * sin).abs()
        });
        let more = if first_along {
            [margin.along, margin.across]
        } else {
            [margin.across, margin.along]
        };
        let sides = [taped[0].side + more[0], taped[1].side + more[1]];
        Some(Rect {
            angle: degrees,
            sides,
            taped,
            cut: cut(sides, stock, unit),
        })
    };
    // Fewest pieces; then, of what takes hardly more from the roll than the least, the smallest.
    let pick = |tried: &[Rect]| -> Option<Rect> {
        let widths = tried.iter().map(|r| r.cut.widths).min()?;
        let few = || tried.iter().filter(|r| r.cut.widths == widths);
        let least = few().map(|r| r.cut.area()).min_by(f64::total_cmp)?;
        few()
            .filter(|r| r.cut.area() <= HARDLY_MORE * least)
            .min_by(|a, b| (a.sides[0] * a.sides[1]).total_cmp(&(b.sides[0] * b.sides[1])))
            .copied()
    };
    // What runs along a line is laid along it; what lies in a hollow is turned until it fits best.
    let step = 90.0 / COARSE as f64;
    let mut tried: Vec<Rect> = match margin.toward {
        Some(d) => rect(d[1].atan2(d[0]).to_degrees().rem_euclid(180.0))
            .into_iter()
            .collect(),
        None => (0..COARSE)
            .into_par_iter()
            .filter_map(|k| rect(k as f64 * step))
            .collect(),
    };
    let mut half = step / 2.0;
    let halvings = if margin.toward.is_some() { 0 } else { HALVINGS };
    for _ in 0..halvings {
        let best = pick(&tried)?;
        let more: Vec<Rect> = [best.angle - half, best.angle + half]
            .into_par_iter()
            .filter_map(rect)
            .collect();
        tried.extend(more);
        half /= 2.0;
    }
    let best = pick(&tried)?;
    let (long, short) = if best.sides[0] >= best.sides[1] {
        (0, 1)
    } else {
        (1, 0)
    };
    Some(Sheet {
        place: place.into(),
        ordered: true,
        long_m: best.sides[long],
        short_m: best.sides[short],
        angle: (best.angle + if long == 0 { 0.0 } else { 90.0 }).rem_euclid(180.0),
        long_section_m: best.taped[long].longest,
        short_section_m: best.taped[short].longest,
        surface_m2: skin.area(|_| true),
        widths: best.cut.widths,
        roll_m: best.cut.roll,
        cut_m: best.cut.length,
        seams_m: best.cut.seams,
    })
}
