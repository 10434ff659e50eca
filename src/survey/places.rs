//! Where shots lie in plan: offsets from a baseline, two-tape ties, rays, grids. Metres, degrees.
//!
//! A placing may lean on pegs, benchmarks and other shots, booked earlier or later; each is placed
//! as soon as everything it leans on is. What leans on itself, or on a name nobody placed, is an
//! error. Plane geometry; no source.

use rustc_hash::FxHashMap;

use super::written;
use crate::findings::{Finding, Severity};
use crate::job::{Baseline, FieldBook, Place, Side, Unit};

/// Why a placing comes to nothing.
#[derive(Debug, Clone, PartialEq)]
pub enum Misplaced {
    NoBaseline(String),
    /// The baseline's ends, or the two points leaned on, lie at the same place.
    NoDirection(String, String),
    Unknown(String),
    /// The two tapes are too short to meet, by so much.
    Short(f64),
    /// The tape from the first point is longer than the second tape and the gap together.
    Long {
        longer: String,
        by: f64,
    },
    Negative(f64),
    NotFinite,
}

impl Misplaced {
    pub fn text(&self, unit: Unit) -> String {
        match self {
            Misplaced::NoBaseline(name) => format!("there is no baseline \"{name}\""),
            Misplaced::NoDirection(a, b) => {
                format!("\"{a}\" and \"{b}\" lie at the same place, so they give no direction")
            }
            Misplaced::Unknown(name) => {
                format!("\"{name}\" is not a peg, benchmark or shot with a place in plan")
            }
            Misplaced::Short(by) => format!(
                "the two tapes do not meet: together they are {} too short",
                written::length(unit, *by)
            ),
            Misplaced::Long { longer, by } => format!(
                "the two tapes do not meet: the one from \"{longer}\" is {} too long for the other",
                written::length(unit, *by)
            ),
            Misplaced::Negative(d) => {
                format!(
                    "a taped distance of {} is negative",
                    written::length(unit, *d)
                )
            }
            Misplaced::NotFinite => "the figures do not come to a place".into(),
        }
    }
}

/// A place, and how well the tapes cross there if it is a tie: the angle between them, degrees.
pub struct Fixed {
    pub at: [f64; 2],
    pub crossing: Option<f64>,
}

/// Names that a placing leans on.
pub fn leans_on(place: &Place) -> [Option<&str>; 2] {
    match place {
        Place::Tie { a, b, .. } => [Some(a), Some(b)],
        Place::Ray { at, toward, .. } => [Some(at), Some(toward)],
        _ => [None, None],
    }
}

pub fn fix(
    place: &Place,
    baselines: &[Baseline],
    find: impl Fn(&str) -> Option<[f64; 2]>,
) -> Result<Fixed, Misplaced> {
    let find = |name: &String| find(name).ok_or_else(|| Misplaced::Unknown(name.clone()));
    let offset = |name: &String, along: f64, offset: f64| {
        let line = baselines
            .iter()
            .find(|b| b.name == *name)
            .ok_or_else(|| Misplaced::NoBaseline(name.clone()))?;
        let [dx, dy] = direction(line.from, line.to)
            .ok_or_else(|| Misplaced::NoDirection(name.clone(), name.clone()))?;
        Ok([
            line.from[0] + along * dx + offset * dy,
            line.from[1] + along * dy - offset * dx,
        ])
    };
    let mut crossing = None;
    let at = match place {
        Place::Xy(x, y) => [*x, *y],
        Place::Offset {
            baseline,
            along,
            offset: off,
        } => offset(baseline, *along, *off)?,
        Place::Grid {
            baseline,
            spacing,
            column,
            row,
        } => offset(baseline, column * spacing, row * spacing)?,
        Place::Tie {
            a,
            from_a,
            b,
            from_b,
            side,
        } => {
            let (pa, pb) = (find(a)?, find(b)?);
            let (at, angle) = tie(a, pa, *from_a, b, pb, *from_b, *side)?;
            crossing = angle;
            at
        }
        Place::Ray {
            at,
            toward,
            angle,
            distance,
        } => {
            let (from, to) = (find(at)?, find(toward)?);
            let [dx, dy] = direction(from, to)
                .ok_or_else(|| Misplaced::NoDirection(at.clone(), toward.clone()))?;
            let (sin, cos) = angle.to_radians().sin_cos();
            // Clockwise seen from above, as the horizontal circle of a level counts.
            [
                from[0] + distance * (dx * cos + dy * sin),
                from[1] + distance * (dy * cos - dx * sin),
            ]
        }
    };
    if at.iter().all(|c| c.is_finite()) {
        Ok(Fixed { at, crossing })
    } else {
        Err(Misplaced::NotFinite)
    }
}

fn direction(from: [f64; 2], to: [f64; 2]) -> Option<[f64; 2]> {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let length = dx.hypot(dy);
    (length > 1e-9 && length.is_finite()).then(|| [dx / length, dy / length])
}

fn tie(
    a: &str,
    pa: [f64; 2],
    ra: f64,
    b: &str,
    pb: [f64; 2],
    rb: f64,
    side: Side,
) -> Result<([f64; 2], Option<f64>), Misplaced> {
    if let Some(&d) = [ra, rb].iter().find(|d| **d < 0.0) {
        return Err(Misplaced::Negative(d));
    }
    let [dx, dy] = direction(pa, pb).ok_or_else(|| Misplaced::NoDirection(a.into(), b.into()))?;
    let gap = (pb[0] - pa[0]).hypot(pb[1] - pa[1]);
    // A tape stretched exactly along the line must not fail for the last bit.
    let slack = 1e-9 * (gap + ra + rb);
    if ra + rb < gap - slack {
        return Err(Misplaced::Short(gap - ra - rb));
    }
    if (ra - rb).abs() > gap + slack {
        let (longer, by) = if ra > rb {
            (a, ra - rb - gap)
        } else {
            (b, rb - ra - gap)
        };
        return Err(Misplaced::Long {
            longer: longer.into(),
            by,
        });
    }
    let along = (ra * ra - rb * rb + gap * gap) / (2.0 * gap);
    let across = (ra * ra - along * along).max(0.0).sqrt();
    let left = match side {
        Side::Left => across,
        Side::Right => -across,
    };
    let crossing = (ra > 0.0 && rb > 0.0).then(|| {
        ((ra * ra + rb * rb - gap * gap) / (2.0 * ra * rb))
            .clamp(-1.0, 1.0)
            .acos()
            .to_degrees()
    });
    Ok((
        [
            pa[0] + along * dx - left * dy,
            pa[1] + along * dy + left * dx,
        ],
        crossing,
    ))
}

/// Something to be placed: its name as printed, the name others know it by, and its placing.
pub struct Wanted<'a> {
    pub label: String,
    pub name: &'a str,
    pub place: &'a Place,
}

pub struct Placed<'a> {
    /// For each wanted, where it lies.
    pub at: Vec<Option<[f64; 2]>>,
    /// By name; the first placing of a name counts.
    pub by_name: FxHashMap<&'a str, [f64; 2]>,
}

/// Places everything that can be placed.
pub fn place_all<'a>(
    book: &'a FieldBook,
    wanted: &[Wanted<'a>],
    unit: Unit,
    findings: &mut Vec<Finding>,
) -> Placed<'a> {
    let mut by_name: FxHashMap<&str, [f64; 2]> = FxHashMap::default();
    for peg in &book.pegs {
        by_name.entry(&peg.name).or_insert(peg.at);
    }
    for point in book.points.iter().filter(|p| !p.name.is_empty()) {
        by_name.entry(&point.name).or_insert([point.x, point.y]);
    }
    // The first wanted of a name is the one that others wait for.
    let mut owner: FxHashMap<&str, usize> = FxHashMap::default();
    for (i, w) in wanted.iter().enumerate() {
        if !by_name.contains_key(w.name) {
            owner.entry(w.name).or_insert(i);
        }
    }
    let mut waiting_for: Vec<u8> = vec![0; wanted.len()];
    let mut waiters: FxHashMap<&str, Vec<usize>> = FxHashMap::default();
    let mut ready: Vec<usize> = Vec::new();
    for (i, w) in wanted.iter().enumerate() {
        for name in leans_on(w.place).into_iter().flatten() {
            if !by_name.contains_key(name) && owner.contains_key(name) {
                waiting_for[i] += 1;
                waiters.entry(name).or_default().push(i);
            }
        }
        if waiting_for[i] == 0 {
            ready.push(i);
        }
    }
    let mut at = vec![None; wanted.len()];
    let mut done = vec![false; wanted.len()];
    ready.reverse();
    while let Some(i) = ready.pop() {
        let w = &wanted[i];
        done[i] = true;
        match fix(w.place, &book.baselines, |n| by_name.get(n).copied()) {
            Ok(fixed) => {
                at[i] = Some(fixed.at);
                if let Some(angle) = fixed.crossing.filter(|a| !(30.0..=150.0).contains(a)) {
                    findings.push(weak_tie(w, angle, fixed.at));
                }
            }
            Err(why) => findings.push(Finding::new(
                Severity::Error,
                w.label.clone(),
                format!("has no place in plan: {}", why.text(unit)),
                "Check the taped distances and the names against the notes.",
            )),
        }
        if owner.get(w.name) == Some(&i) {
            if let Some(place) = at[i] {
                by_name.insert(w.name, place);
            }
            // Those that wait are let go either way: without a place they say whom they miss.
            for &k in waiters.get(w.name).into_iter().flatten() {
                waiting_for[k] -= 1;
                if waiting_for[k] == 0 {
                    ready.push(k);
                }
            }
        }
    }
    for (_, w) in wanted.iter().enumerate().filter(|(i, _)| !done[*i]) {
        let names: Vec<String> = leans_on(w.place)
            .into_iter()
            .flatten()
            .filter(|n| owner.get(n).is_some_and(|&o| !done[o]))
            .map(|n| format!("\"{n}\""))
            .collect();
        findings.push(Finding::new(
            Severity::Error,
            w.label.clone(),
            format!(
                "has no place in plan: it is placed from {}, which in turn waits for this one or \
                 for another that does",
                names.join(" and ")
            ),
            "Place one of them from pegs or a baseline.",
        ));
    }
    Placed { at, by_name }
}

fn weak_tie(w: &Wanted, angle: f64, at: [f64; 2]) -> Finding {
    let mut finding = Finding::new(
        Severity::Warning,
        w.label.clone(),
        format!(
            "is tied by two tapes that cross at {angle:.0} degrees, so a small error in either \
             moves it far along the other"
        ),
        "Tie it from a third point, or book a check.",
    );
    // No elevation is known yet; reduce() fills it in.
    finding.at = Some([at[0], at[1], f64::NAN]);
    finding
}
