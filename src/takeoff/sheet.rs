//! The rectangular sheet that covers a skin, turned through all directions, and how it is cut from
//! rolls. Metres, m².

use std::f64::consts::FRAC_PI_2;

use rayon::prelude::*;

use super::lined::Skin;
use super::tape::{Cuts, Longest, Taped};
use crate::job::Unit;
use crate::job::materials::LinerStock;
use crate::plan::Sheet;
use crate::terrain::predicates::P2;

/// Directions tried first, degrees apart; then halved about the best so many times.
const COARSE: usize = 10;
const HALVINGS: usize = 4;
/// What rounds in measuring, with room to spare: metres, and m².
const NEARLY: f64 = 1e-6;
/// Places nearer to each other than this are the same.
const SAME: f64 = 1e-8;
/// Of the places known so many are looked at for a direction that is new.
const NEWEST: usize = 12;
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

/// A direction in which the sheet may be laid, with what the cuts made so far tell of it: along it, and
/// square to it.
struct Open<'a> {
    degrees: f64,
    cuts: [Cuts<'a>; 2],
    longest: [Longest; 2],
    /// So many of the places known were cut through; `None`: all cuts are made.
    through: [Option<usize>; 2],
    /// The least that the sheet's sides and its cut from the roll can be.
    sides: [f64; 2],
    cut: Cut,
}

/// What is tried for one sheet.
struct Trial<'a> {
    skin: &'a Skin,
    margin: &'a Margin,
    stock: &'a LinerStock,
    unit: Unit,
    tried: Vec<Rect>,
    open: Vec<Open<'a>>,
    /// Only directions near the best are left: both sides of nearly all of them have to be known.
    close: bool,
    /// Places in plan that the longest cuts go past, along a sheet and square to it.
    places: [Vec<P2>; 2],
}

impl<'a> Trial<'a> {
    /// The sides of a sheet laid in a direction, by what the tape shows along it and square to it.
    fn sides(&self, angle: f64, taped: [f64; 2]) -> [f64; 2] {
        let Margin {
            along,
            across,
            toward,
        } = *self.margin;
        let first_along = toward.is_none_or(|d| {
            let (sin, cos) = angle.sin_cos();
            (d[0] * cos + d[1] * sin).abs() >= (d[1] * cos - d[0] * sin).abs()
        });
        let more = if first_along {
            [along, across]
        } else {
            [across, along]
        };
        [taped[0] + more[0], taped[1] + more[1]]
    }

    fn cuts(&self, degrees: f64) -> Option<[Cuts<'a>; 2]> {
        let angle = degrees.to_radians();
        Some([
            Cuts::new(self.skin, angle)?,
            Cuts::new(self.skin, angle + FRAC_PI_2)?,
        ])
    }

    /// The least that the sheet can be where the tape shows no less than this.
    fn least(&self, degrees: f64, longest: &[Longest; 2]) -> ([f64; 2], Cut) {
        let taped = [0, 1].map(|k| longest[k].taped().map_or(0.0, |t| t.side) - NEARLY);
        let sides = self.sides(degrees.to_radians(), taped);
        (sides, cut(sides, self.stock, self.unit))
    }

    /// A direction of which little is known yet.
    fn open(&self, degrees: f64) -> Option<Open<'a>> {
        let cuts = self.cuts(degrees)?;
        let longest = [cuts[0].few(), cuts[1].few()];
        let (sides, cut) = self.least(degrees, &longest);
        // Of the places known the latest tell most: they are of a direction near by.
        let known = |k: usize| self.places[k].len().saturating_sub(NEWEST);
        Some(Open {
            degrees,
            cuts,
            longest,
            through: [Some(known(0)), Some(known(1))],
            sides,
            cut,
        })
    }

    /// Looks closer at directions, the first that matters first, until none that is open matters.
    fn settle(&mut self) {
        while let Some(k) = self.open.iter().position(|open| self.matters(open)) {
            let mut open = self.open.remove(k);
            let news = |k: usize| open.through[k].is_some_and(|n| n < self.places[k].len());
            if news(0) || news(1) {
                // What was learned in other directions may be enough to tell.
                for (k, places) in self.places.iter().enumerate() {
                    if let Some(n) = &mut open.through[k] {
                        open.cuts[k].through(&places[*n..], &mut open.longest[k]);
                        *n = places.len();
                    }
                }
            } else if self.close && open.through.iter().all(Option::is_some) {
                let [along, across] = &open.cuts;
                let (along, across) = rayon::join(|| along.all(), || across.all());
                self.learn(&mut open, 0, along);
                self.learn(&mut open, 1, across);
            } else if let Some(k) = open.through.iter().position(Option::is_some) {
                let longest = open.cuts[k].all();
                self.learn(&mut open, k, longest);
            } else {
                self.tried.extend(self.rect(&open));
                continue;
            }
            (open.sides, open.cut) = self.least(open.degrees, &open.longest);
            self.open.insert(k, open);
        }
    }

    /// Takes up the longest of all cuts along a direction, or square to it.
    fn learn(&mut self, open: &mut Open, k: usize, longest: Longest) {
        for p in open.cuts[k].places_of(&longest) {
            let same = |q: &P2| (0..2).all(|i| (p[i] - q[i]).abs() < SAME);
            if !self.places[k].iter().any(same) {
                self.places[k].push(p);
            }
        }
        open.longest[k] = longest;
        open.through[k] = None;
    }

    /// Whether a direction may be picked, or keep another from being picked.
    fn matters(&self, Open { sides, cut, .. }: &Open) -> bool {
        let Some(best) = self.pick() else { return true };
        if cut.widths != best.cut.widths {
            return cut.widths < best.cut.widths;
        }
        let few = self.tried.iter().filter(|r| r.cut.widths == cut.widths);
        let least = few.map(|r| r.cut.area()).fold(f64::INFINITY, f64::min);
        cut.area() < least + NEARLY
            || cut.area() <= HARDLY_MORE * least + NEARLY
                && sides[0] * sides[1] <= best.sides[0] * best.sides[1]
    }

    /// The sheet in a direction in which all cuts are made.
    fn rect(&self, open: &Open) -> Option<Rect> {
        let taped = [open.longest[0].taped()?, open.longest[1].taped()?];
        let sides = self.sides(open.degrees.to_radians(), taped.map(|t| t.side));
        Some(Rect {
            angle: open.degrees,
            sides,
            taped,
            cut: cut(sides, self.stock, self.unit),
        })
    }

    /// Fewest pieces; then, of what takes hardly more from the roll than the least, the smallest.
    fn pick(&self) -> Option<Rect> {
        let widths = self.tried.iter().map(|r| r.cut.widths).min()?;
        let few = || self.tried.iter().filter(|r| r.cut.widths == widths);
        let least = few().map(|r| r.cut.area()).min_by(f64::total_cmp)?;
        let order = |a: &&Rect, b: &&Rect| {
            let area = |r: &Rect| r.sides[0] * r.sides[1];
            area(a)
                .total_cmp(&area(b))
                .then(a.angle.total_cmp(&b.angle))
        };
        few()
            .filter(|r| r.cut.area() <= HARDLY_MORE * least)
            .min_by(order)
            .copied()
    }
}

/// The smallest sheet, unless another direction saves a good deal of the roll. Directions of which a few
/// cuts tell that they come to more are not taped.
pub fn sheet(
    skin: &Skin,
    place: &str,
    margin: &Margin,
    stock: &LinerStock,
    unit: Unit,
) -> Option<Sheet> {
    let mut trial = Trial {
        skin,
        margin,
        stock,
        unit,
        tried: Vec::new(),
        open: Vec::new(),
        close: false,
        places: Default::default(),
    };
    // What runs along a line is laid along it; what lies in a hollow is turned until it fits best.
    if let Some(d) = margin.toward {
        let degrees = d[1].atan2(d[0]).to_degrees().rem_euclid(180.0);
        trial.open = trial.open(degrees).into_iter().collect();
        trial.settle();
    } else {
        let step = 90.0 / COARSE as f64;
        let coarse = (0..COARSE).into_par_iter().map(|k| k as f64 * step);
        trial.open = coarse.filter_map(|degrees| trial.open(degrees)).collect();
        // The likeliest first: then most of the others need not be taped.
        trial.open.sort_by(|a, b| {
            let area = |o: &Open| o.sides[0] * o.sides[1];
            let widths = a.cut.widths.cmp(&b.cut.widths);
            widths.then(area(a).total_cmp(&area(b)))
        });
        trial.settle();
        trial.close = true;
        let mut half = step / 2.0;
        for _ in 0..HALVINGS {
            let best = trial.pick()?;
            for degrees in [best.angle - half, best.angle + half] {
                let open = trial.open(degrees);
                trial.open.extend(open);
            }
            trial.settle();
            half /= 2.0;
        }
    }
    let best = trial.pick()?;
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

#[cfg(test)]
mod tests {
    use super::super::tape::tape;
    use super::*;
    use crate::job::Document;
    use crate::plan::Plan;
    use crate::takeoff::lining;

    /// Every direction taped, and the rule as it is written down.
    fn by_taping_all(skin: &Skin, margin: f64, stock: &LinerStock) -> (f64, [f64; 2]) {
        let rect = |degrees: f64| {
            let angle = degrees.to_radians();
            let side = |a| tape(skin, a).map_or(0.0, |t| t.side) + margin;
            let sides = [side(angle), side(angle + FRAC_PI_2)];
            (degrees, sides, cut(sides, stock, Unit::Foot))
        };
        let pick = |tried: &[(f64, [f64; 2], Cut)]| {
            let widths = tried.iter().map(|r| r.2.widths).min().unwrap_or(0);
            let few = || tried.iter().filter(|r| r.2.widths == widths);
            let least = few().map(|r| r.2.area()).fold(f64::INFINITY, f64::min);
            let near = few().filter(|r| r.2.area() <= HARDLY_MORE * least);
            let best = near.min_by(|a, b| (a.1[0] * a.1[1]).total_cmp(&(b.1[0] * b.1[1])));
            best.map_or((0.0, [0.0; 2]), |r| (r.0, r.1))
        };
        let mut half = 90.0 / COARSE as f64;
        let mut tried: Vec<_> = (0..COARSE).map(|k| rect(k as f64 * half)).collect();
        for _ in 0..HALVINGS {
            half /= 2.0;
            let (best, _) = pick(&tried);
            tried.extend([rect(best - half), rect(best + half)]);
        }
        pick(&tried)
    }

    #[test]
    fn directions_left_out_are_none_that_would_be_picked() {
        for path in ["surveys/demo.ron", "tests/whole.ron"] {
            let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
            let (_, job) = Document::load(&path).unwrap_or_else(|e| panic!("{e}"));
            let plan = Plan::of(&job);
            let mut bodies: Vec<Vec<_>> = Vec::new();
            for basin in &job.design.basins {
                bodies.extend(lining::of_basin(basin, &plan));
            }
            for cascade in &job.design.cascades {
                bodies.extend(lining::of_cascade(cascade, &plan));
            }
            bodies.push(bodies.concat());
            for rolls in [vec![], vec![2.0], vec![3.0, 5.0, 9.2]] {
                let stock = LinerStock {
                    rolls,
                    ..job.materials.liner.clone()
                };
                for body in &bodies {
                    let skin = Skin::of(&plan.dug, &plan.makers, body);
                    let (along, across) = (0.6, 0.6);
                    let margin = Margin {
                        along,
                        across,
                        toward: None,
                    };
                    let sheet = sheet(&skin, "", &margin, &stock, Unit::Foot);
                    let sheet = sheet.unwrap_or_else(|| panic!("{} is lined", body[0].name));
                    let (angle, sides) = by_taping_all(&skin, along, &stock);
                    let (long, short) = (sides[0].max(sides[1]), sides[0].min(sides[1]));
                    assert_eq!(
                        [sheet.long_m, sheet.short_m],
                        [long, short],
                        "sheet over {} and {} more, rolls {:?}: {}°, by taping all {angle}°",
                        body[0].name,
                        body.len() - 1,
                        stock.rolls,
                        sheet.angle
                    );
                }
            }
        }
    }

    proptest::proptest! {
        /// Whatever the yard, with bare upright faces between its linings: the sheet is the one that taping
        /// every direction gives.
        #[test]
        fn no_yard_is_given_another_sheet(
            skin in super::super::tape::tests::yards(),
            roll in 2.0f64..6.0,
        ) {
            let stock = LinerStock {
                tuck: 0.3,
                overlap: 0.3,
                rolls: vec![roll, 9.0],
                seam: 0.1,
                cut: 0.3,
                underlayment: None,
            };
            let margin = Margin { along: 0.6, across: 0.6, toward: None };
            let Some(sheet) = sheet(&skin, "", &margin, &stock, Unit::Foot) else {
                return Ok(());
            };
            let (_, sides) = by_taping_all(&skin, 0.6, &stock);
            let (long, short) = (sides[0].max(sides[1]), sides[0].min(sides[1]));
            proptest::prop_assert_eq!([sheet.long_m, sheet.short_m], [long, short]);
        }
    }
}
