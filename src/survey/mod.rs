//! Level notes and tape positions → spots, closure, suspect shots.
//!
//! [`reduce`] does it all; [`levels`] the elevations, [`places`] the plan, [`suspects`] the slips.
//! Metres in and out; findings are worded in the unit the notes were kept in.

mod fences;
mod levels;
mod places;
mod reduced;
mod suspects;
mod written;

use rustc_hash::FxHashMap;

pub use reduced::*;

use crate::findings::{Finding, Severity};
use crate::job::{At, FieldBook, Height, Line};
use levels::Levels;
use places::{Placed, Wanted};
use suspects::Shots;

/// Reduces a field book. Breaklines explain steps in the ground to the search for slips.
///
/// ```
/// use brimline::job::*;
/// let sight = |to: &str, rod: f64, x: f64| Sight {
///     to: to.into(), rod, turning: false, inverted: false, ground: true, distance: None,
///     at: Some(Place::Xy(x, 0.0)), check: None, remark: String::new(),
/// };
/// let book = FieldBook {
///     benchmarks: vec![Benchmark { name: "nail".into(), elevation: 30.0, assumed: true, at: None }],
///     baselines: vec![], pegs: vec![], rod_length: 4.0, allowed: Allowed::PerRootKm(0.012),
///     setups: vec![Setup { name: "I".into(), at: None, backsight: sight("nail", 1.5, 0.0),
///                          sights: vec![sight("1", 2.1, 5.0)] }],
///     points: vec![],
/// };
/// let (reduced, _) = brimline::survey::reduce(&book, &[]);
/// assert!((reduced.spots[0].z - 29.4).abs() < 1e-12); // 30.0 + 1.5 − 2.1
/// assert_eq!(reduced.locate(&At::Shot("1".into()), &book), Ok([5.0, 0.0]));
/// ```
pub fn reduce(book: &FieldBook, breaklines: &[Line]) -> (Reduced, Vec<Finding>) {
    reduce_beside(book, breaklines, |_| ()).0
}

/// The same, and what `then` makes of the survey, which knows of no slips yet: they are searched for beside it.
pub fn reduce_beside<R: Send>(
    book: &FieldBook,
    breaklines: &[Line],
    then: impl FnOnce(&Reduced) -> R + Send,
) -> ((Reduced, Vec<Finding>), R) {
    let (mut reduced, mut findings, shots) = reduced(book);
    let placed = |at: &At| reduced.locate(at, book).ok();
    let lines: Vec<Vec<[f64; 2]>> = breaklines
        .iter()
        .map(|line| line.along.iter().filter_map(placed).collect())
        .collect();
    let ((suspects, found), made) = rayon::join(
        || suspects::search(book, &shots, &reduced.spots, &lines),
        || then(&reduced),
    );
    findings.extend(found);
    reduced.suspects = suspects;
    ((reduced, findings), made)
}

/// The same without the search for slips: on a dug floor every step is meant.
pub fn reduce_as_dug(book: &FieldBook) -> (Reduced, Vec<Finding>) {
    let (reduced, findings, _) = reduced(book);
    (reduced, findings)
}

/// Without the search for slips, but with what that starts from.
fn reduced(book: &FieldBook) -> (Reduced, Vec<Finding>, Shots) {
    let mut findings = Vec::new();
    let unit = written::unit_of(book);
    let levels = levels::solve(book, unit, &mut findings);
    let (wanted, sights) = wanted(book);
    let before = findings.len();
    let placed = places::place_all(book, &wanted, unit, &mut findings);

    let mut reduced = Reduced {
        residuals: residuals(book, &placed, unit, &mut findings),
        names: names(book, &levels, &placed),
        ..Reduced::default()
    };
    let mut origins = Vec::new();
    for (i, origin) in sights.iter().enumerate() {
        let &Some((s, k)) = origin else { continue };
        let sight = &book.setups[s].sights[k];
        let elevation = levels.booked[s][k].map(|b| b + levels.correction[s]);
        if let (Some([x, y]), Some(z)) = (placed.at[i], elevation) {
            reduced.spots.push(Spot {
                name: sight.to.clone(),
                x,
                y,
                z,
                ground: sight.ground,
                remark: sight.remark.clone(),
            });
            origins.push((s, k));
        }
    }
    for finding in &mut findings[before..] {
        if let Some(at) = &mut finding.at
            && at[2].is_nan()
        {
            let name = ["shot ", "benchmark "]
                .iter()
                .find_map(|word| finding.place.strip_prefix(word));
            let z = name.and_then(|n| reduced.names.get(n)).and_then(|n| n.z);
            finding.at = z.map(|z| [at[0], at[1], z]);
        }
    }
    reduced.spots.extend(book.points.iter().map(|p| Spot {
        name: p.name.clone(),
        x: p.x,
        y: p.y,
        z: p.z,
        ground: true,
        remark: String::new(),
    }));
    reduced.places = named_places(book, &reduced.names);
    let worst = levels
        .closures
        .iter()
        .max_by(|a, b| a.misclosure.abs().total_cmp(&b.misclosure.abs()));
    reduced.misclosure = worst.map(|c| c.misclosure);
    reduced.allowed = worst.map(|c| c.allowed);
    reduced.rows = levels.rows;
    reduced.closures = levels.closures;
    reduced.arithmetic = levels.arithmetic;
    let shots = Shots {
        origins,
        runs: levels.runs,
        doubtful: levels.doubtful,
        unit,
    };
    (reduced, findings, shots)
}

/// Setup and sight, if it is a sight.
type Origin = Option<(usize, usize)>;

/// Everything with a placing of its own, and the sight it belongs to.
fn wanted(book: &FieldBook) -> (Vec<Wanted<'_>>, Vec<Origin>) {
    let mut origins: Vec<Origin> = Vec::new();
    let mut out = Vec::new();
    for mark in &book.benchmarks {
        if let Some(place) = &mark.at {
            out.push(Wanted {
                label: format!("benchmark {}", mark.name),
                name: &mark.name,
                place,
            });
            origins.push(None);
        }
    }
    for (s, setup) in book.setups.iter().enumerate() {
        for (k, sight) in setup.sights.iter().enumerate() {
            if let Some(place) = &sight.at {
                out.push(Wanted {
                    label: format!("shot {}", sight.to),
                    name: &sight.to,
                    place,
                });
                origins.push(Some((s, k)));
            }
        }
    }
    // Last, so that a shot called as its setup is the one that the name stands for.
    for setup in &book.setups {
        if let Some(place) = &setup.at {
            out.push(Wanted {
                label: format!("setup {}", setup.name),
                name: &setup.name,
                place,
            });
            origins.push(None);
        }
    }
    (out, origins)
}

/// The largest distance between two placings of one shot that tapes on rough ground explain.
/// Common practice, no source: a tape held by one person on a slope is good to a few centimetres,
/// so two placings agree within 0.1 m unless one of them is a slip.
const RESIDUAL_ALLOWED: f64 = 0.1;

fn residuals(
    book: &FieldBook,
    placed: &Placed,
    unit: crate::job::Unit,
    findings: &mut Vec<Finding>,
) -> Vec<Residual> {
    let mut out = Vec::new();
    for sight in book.setups.iter().flat_map(|s| &s.sights) {
        let Some(check) = &sight.check else { continue };
        let label = format!("shot {}", sight.to);
        let find = |n: &str| placed.by_name.get(n).copied();
        match (places::fix(check, &book.baselines, find), find(&sight.to)) {
            (Err(why), _) => findings.push(Finding::new(
                Severity::Error,
                label,
                format!("has a check that gives no place: {}", why.text(unit)),
                "Check the taped distances and the names against the notes.",
            )),
            (Ok(_), None) => findings.push(Finding::new(
                Severity::Warning,
                label,
                "has a check but no place to check",
                "Give its first placing as well.",
            )),
            (Ok(second), Some(first)) => {
                let distance = (second.at[0] - first[0]).hypot(second.at[1] - first[1]);
                out.push(Residual {
                    shot: sight.to.clone(),
                    distance,
                });
                if distance > RESIDUAL_ALLOWED {
                    findings.push(Finding::new(
                        Severity::Warning,
                        label,
                        format!(
                            "is placed twice, and the two places lie {} apart",
                            written::length(unit, distance)
                        ),
                        "Tape it again, or find the slip in one of the two.",
                    ));
                }
            }
        }
    }
    out
}

fn names(book: &FieldBook, levels: &Levels, placed: &Placed) -> FxHashMap<String, Known> {
    let mut names: FxHashMap<String, Known> = FxHashMap::default();
    names.reserve(placed.by_name.len() + levels.by_name.len());
    for (name, at) in &placed.by_name {
        names.entry((*name).to_string()).or_default().at = Some(*at);
    }
    for (name, z) in &levels.by_name {
        names.entry((*name).to_string()).or_default().z = Some(*z);
    }
    for point in book.points.iter().filter(|p| !p.name.is_empty()) {
        names
            .entry(point.name.clone())
            .or_default()
            .z
            .get_or_insert(point.z);
    }
    names
}

/// In the order of the book: pegs, benchmarks, setups' sights, points.
fn named_places(book: &FieldBook, names: &FxHashMap<String, Known>) -> Vec<Named> {
    let mut seen = rustc_hash::FxHashSet::default();
    let pegs = book.pegs.iter().map(|p| p.name.as_str());
    let marks = book.benchmarks.iter().map(|b| b.name.as_str());
    let setups = book.setups.iter().flat_map(|s| {
        std::iter::once(s.name.as_str()).chain(s.sights.iter().map(|g| g.to.as_str()))
    });
    let points = book.points.iter().map(|p| p.name.as_str());
    pegs.chain(marks)
        .chain(setups)
        .chain(points.filter(|n| !n.is_empty()))
        .filter(|name| seen.insert(*name))
        .filter_map(|name| {
            let known = names.get(name)?;
            let [x, y] = known.at?;
            Some(Named {
                name: name.to_string(),
                x,
                y,
                z: known.z,
            })
        })
        .collect()
}

impl Reduced {
    /// Where a point lies in plan.
    pub fn locate(&self, at: &At, book: &FieldBook) -> Result<[f64; 2], String> {
        let find = |name: &str| self.names.get(name).and_then(|n| n.at);
        match at {
            At::Shot(name) => find(name).ok_or_else(|| match self.names.get(name.as_str()) {
                Some(_) => format!("shot \"{name}\" has no place in plan"),
                None => format!("there is no shot, peg or benchmark \"{name}\""),
            }),
            At::Placed(place) => places::fix(place, &book.baselines, find)
                .map(|fixed| fixed.at)
                .map_err(|why| why.text(written::unit_of(book))),
        }
    }

    /// Where all points of a line lie in plan; why not, if one of them has no place.
    pub fn line(&self, along: &[At], book: &FieldBook) -> Result<Vec<[f64; 2]>, String> {
        along.iter().map(|at| self.locate(at, book)).collect()
    }

    /// An elevation, or that of a shot.
    pub fn elevation(&self, height: &Height) -> Result<f64, String> {
        match height {
            Height::Elevation(z) => Ok(*z),
            Height::Shot(name) => match self.names.get(name.as_str()) {
                Some(Known { z: Some(z), .. }) => Ok(*z),
                Some(_) => Err(format!("\"{name}\" has no elevation")),
                None => Err(format!("there is no shot or benchmark \"{name}\"")),
            },
        }
    }
}
