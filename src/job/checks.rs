//! The checks that need the whole file: names given twice, names that do not exist, backsights,
//! rods, ties, outlines, the order of the work. Metres.

use rustc_hash::{FxHashMap, FxHashSet};

use crate::job::decode::{Context, did_you_mean, spoken};
use crate::job::seen::{Seen, Space, Want};
use crate::job::tree::shorten;
use crate::job::{At, Place, Unit};
use crate::units::FOOT;

/// Two tapes that miss each other by less than this are a point on the line between their ends.
const TAPE_SLACK: f64 = 0.001;
/// Outlines with more points than this are not checked for crossing themselves here.
const RING_CHECKED: usize = 1000;
/// A field book with more sights or points than this is refused.
const MOST_SHOTS: usize = 1_000_000;
/// The longest common levelling rod, feet (common practice, no source).
const LONGEST_ROD_FEET: f64 = 25.0;

/// Runs all checks that need the whole file.
pub fn check(cx: &mut Context, source: &str) {
    let mut seen = std::mem::take(&mut cx.seen);
    let visits = std::mem::take(&mut seen.visits);
    if seen.sights.len() > MOST_SHOTS || seen.names.len() > MOST_SHOTS {
        cx.problem(
            0..1,
            format!(
                "{} shots and points",
                seen.sights.len().max(seen.names.len())
            ),
            format!("at most {MOST_SHOTS} in one job"),
        );
        return;
    }
    twice(&seen, cx);
    sights(&seen, cx);
    references(&seen, cx);
    rods(&seen, cx, source);
    let known = coordinates(&seen);
    ties(&seen, &known, cx);
    lines(&seen, &known, cx);
    stages(&seen, cx);
    for visit in &visits {
        if visit.sights.len() > MOST_SHOTS || visit.names.len() > MOST_SHOTS {
            continue;
        }
        twice(visit, cx);
        sights(visit, cx);
        references(visit, cx);
        rods(visit, cx, source);
        let known = coordinates(visit);
        ties(visit, &known, cx);
        lines(visit, &known, cx);
    }
}

/// Groups within which names must differ.
fn group(space: Space) -> (u8, &'static str) {
    match space {
        Space::Benchmark | Space::Peg | Space::Point => (0, "benchmark, peg or point"),
        Space::Baseline => (1, "baseline"),
        Space::Setup => (2, "setup"),
        Space::StandingWall
        | Space::NewWall
        | Space::Basin
        | Space::Feature
        | Space::Pit
        | Space::Pool
        | Space::Pile => (3, "wall or other feature"),
        Space::Service => (4, "service or tree"),
        Space::Stage => (5, "stage"),
    }
}

fn twice(seen: &Seen, cx: &mut Context) {
    let mut first: FxHashSet<(u8, &str)> = FxHashSet::default();
    for (i, named) in seen.names.iter().enumerate() {
        let (number, words) = group(named.space);
        // What a visit inherits was checked where it stands.
        if !first.insert((number, &named.name)) && i >= seen.inherited {
            cx.problem(
                named.span.clone(),
                format!("a second {words} is called \"{}\"", named.name),
                "every name once, so that it means one thing",
            );
        }
    }
    let points: FxHashSet<&str> = seen
        .names
        .iter()
        .filter(|n| group(n.space).0 == 0)
        .map(|n| n.name.as_str())
        .chain(seen.sights.iter().map(|s| s.name.as_str()))
        .collect();
    for (name, span) in &seen.placed_setups {
        if points.contains(name.as_str()) {
            cx.problem(
                span.clone(),
                format!("setup \"{name}\" has a place and the name of a shot or peg"),
                "a setup that is placed needs a name of its own, such as \"S1\"",
            );
        }
    }
}

fn sights(seen: &Seen, cx: &mut Context) {
    let names_of = |wanted: &[Space]| -> FxHashSet<&str> {
        seen.names
            .iter()
            .filter(|n| wanted.contains(&n.space))
            .map(|n| n.name.as_str())
            .collect()
    };
    let benchmarks = names_of(&[Space::Benchmark]);
    let placed_already = names_of(&[Space::Peg, Space::Point]);
    let benchmarks_missing = seen.setups > 0 && benchmarks.is_empty();
    if benchmarks_missing {
        let span = seen.sights.first().map_or(0..1, |s| s.span.clone());
        cx.problem(
            span,
            format!(
                "the notes have {} setup{} and no benchmark",
                seen.setups,
                if seen.setups == 1 { "" } else { "s" }
            ),
            "give at least one of `benchmarks` an elevation, if only an assumed one: (name: \"BM\", elevation: 100, assumed: true)",
        );
    }
    // The first setup in which each name was sighted, and whether it has been placed.
    let mut earlier: FxHashMap<&str, usize> = FxHashMap::default();
    let mut placed: FxHashSet<&str> = FxHashSet::default();
    let mut here: FxHashSet<&str> = FxHashSet::default();
    let mut setup = 0;
    for sight in &seen.sights {
        if sight.setup != setup {
            setup = sight.setup;
            here.clear();
        }
        let name = sight.name.as_str();
        if sight.backsight {
            let known = benchmarks.contains(name) || earlier.get(name).is_some_and(|&s| s < setup);
            if !known && !benchmarks_missing {
                let hint = did_you_mean(
                    name,
                    benchmarks.iter().copied().chain(earlier.keys().copied()),
                );
                cx.problem(
                    sight.span.clone(),
                    format!(
                        "backsight to \"{name}\", whose elevation is not known at this setup{hint}"
                    ),
                    "a backsight goes to a benchmark, or to a point sighted from an earlier setup",
                );
            }
        }
        let again = !sight.backsight && !here.insert(name) && !benchmarks.contains(name);
        let again_placed =
            sight.placed == Some(true) && (!placed.insert(name) || placed_already.contains(name));
        if again {
            cx.problem(
                sight.span.clone(),
                format!("shot \"{name}\" is sighted twice from this setup"),
                "every shot has a name of its own; a second placing goes into `check`",
            );
        } else if again_placed {
            cx.problem(
                sight.span.clone(),
                format!("\"{name}\" is placed a second time here"),
                "give `at` once; a second placing goes into `check`",
            );
        }
        earlier.entry(name).or_insert(setup);
    }
}

fn references(seen: &Seen, cx: &mut Context) {
    let mut placed: FxHashSet<&str> = seen.places.iter().map(|(n, _)| n.as_str()).collect();
    let mut levelled: FxHashSet<&str> = FxHashSet::default();
    for sight in &seen.sights {
        levelled.insert(&sight.name);
        if sight.placed.is_none() {
            // It could not be read whole; its own error is enough.
            placed.insert(&sight.name);
        }
    }
    let mut of: FxHashMap<u8, FxHashSet<&str>> = FxHashMap::default();
    for named in &seen.names {
        of.entry(named.space as u8).or_default().insert(&named.name);
        match named.space {
            Space::Benchmark => {
                levelled.insert(&named.name);
                if !seen.benchmarks.contains(&named.name) {
                    placed.insert(&named.name);
                }
            }
            Space::Point => {
                levelled.insert(&named.name);
                placed.insert(&named.name);
            }
            Space::Peg => {
                placed.insert(&named.name);
            }
            _ => {}
        }
    }
    let nothing = FxHashSet::default();
    let names = |space: Space| of.get(&(space as u8)).unwrap_or(&nothing);
    for reference in &seen.references {
        let name = reference.name.as_str();
        let (sets, wanted): (Vec<&FxHashSet<&str>>, &str) = match reference.want {
            Want::Place => (vec![&placed], "a shot, peg or benchmark that has a place"),
            Want::Elevation => (
                vec![&levelled],
                "a shot, benchmark or point that has an elevation",
            ),
            Want::Baseline => (vec![names(Space::Baseline)], "one of `baselines`"),
            Want::Wall => (
                vec![names(Space::StandingWall), names(Space::NewWall)],
                "a wall of `site` or `design`",
            ),
            Want::Basin => (vec![names(Space::Basin)], "one of `basins`"),
            Want::Sump => (
                vec![names(Space::Pit), names(Space::Basin)],
                "a pit or a basin",
            ),
            Want::Work | Want::TakeBack => (
                vec![
                    names(Space::Basin),
                    names(Space::NewWall),
                    names(Space::Feature),
                ],
                "a feature of `design`",
            ),
            Want::Stage => (vec![names(Space::Stage)], "a stage of `sequence`"),
        };
        if sets.iter().any(|set| set.contains(name)) {
            continue;
        }
        let exists = levelled.contains(name) || placed.contains(name) || {
            matches!(reference.want, Want::Place) && names(Space::Setup).contains(name)
        };
        let what = match reference.want {
            Want::Place if exists => {
                format!("`{}`: \"{name}\" has no place in plan", reference.field)
            }
            Want::Elevation if exists => {
                format!("`{}`: \"{name}\" has no elevation", reference.field)
            }
            _ => {
                let known = sets.iter().flat_map(|set| set.iter().copied());
                format!(
                    "`{}`: nothing here is called \"{}\"{}",
                    reference.field,
                    shorten(name),
                    did_you_mean(name, known)
                )
            }
        };
        cx.problem(reference.span.clone(), what, format!("allowed: {wanted}"));
    }
}

fn rods(seen: &Seen, cx: &mut Context, source: &str) {
    let Some(length) = seen.rod_length else {
        return;
    };
    let unit = cx.unit;
    let full = shown(length / unit.metres());
    let word = if unit.metres() == FOOT { "ft" } else { "m" };
    for (reading, span) in seen.rods.iter().filter(|(r, _)| *r > length + 1e-9) {
        let typed = source.get(span.clone()).unwrap_or_default();
        let hint = likely(typed, length / unit.metres())
            .map_or(String::new(), |v| format!("; did you mean {v}?"));
        // Too long in metres, but a common reading in feet.
        let doubt = if unit == Unit::Metre && *reading <= LONGEST_ROD_FEET {
            "; is `unit: Metre` right?"
        } else {
            ""
        };
        cx.problem(
            span.clone(),
            format!(
                "rod reading {:.2} {word} is longer than the {full} {word} rod{hint}",
                reading / unit.metres()
            ),
            format!("readings from 0 to {full} {word}; a longer rod is given as `rod_length` in `field_book`{doubt}"),
        );
    }
}

fn shown(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// The reading that was likely meant: a digit too many in front, or the point in the wrong place.
fn likely(typed: &str, longest: f64) -> Option<String> {
    let plain = typed.chars().all(|c| c.is_ascii_digit() || c == '.');
    if !plain || !typed.is_ascii() {
        return None;
    }
    let fits = |text: &str| text.parse::<f64>().is_ok_and(|v| v > 0.0 && v <= longest);
    let whole = typed.split('.').next().unwrap_or_default();
    let without_first = typed.get(1..).unwrap_or_default();
    if typed.contains('.') && whole.len() > 1 && fits(without_first) {
        return Some(without_first.to_string());
    }
    let digits: String = typed.chars().filter(char::is_ascii_digit).collect();
    (1..digits.len())
        .rev()
        .map(|i| format!("{}.{}", &digits[..i], &digits[i..]))
        .find(|text| fits(text))
}

/// Coordinates of all names whose placing needs nothing but arithmetic.
fn coordinates(seen: &Seen) -> FxHashMap<&str, [f64; 2]> {
    seen.places
        .iter()
        .filter_map(|(name, place)| Some((name.as_str(), literal(place, seen)?)))
        .collect()
}

fn literal(place: &Place, seen: &Seen) -> Option<[f64; 2]> {
    let off = |baseline: &str, along: f64, offset: f64| {
        let [from, to] = *seen.baselines.get(baseline)?;
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let length = dx.hypot(dy);
        let (ux, uy) = (dx / length, dy / length);
        Some([
            from[0] + ux * along + uy * offset,
            from[1] + uy * along - ux * offset,
        ])
    };
    match place {
        Place::Xy(x, y) => Some([*x, *y]),
        Place::Offset {
            baseline,
            along,
            offset,
        } => off(baseline, *along, *offset),
        Place::Grid {
            baseline,
            spacing,
            column,
            row,
        } => off(baseline, column * spacing, row * spacing),
        Place::Tie { .. } | Place::Ray { .. } => None,
    }
}

fn ties(seen: &Seen, known: &FxHashMap<&str, [f64; 2]>, cx: &mut Context) {
    let unit = cx.unit;
    let word = if unit.metres() == FOOT { "ft" } else { "m" };
    for tie in &seen.ties {
        if tie.a == tie.b {
            cx.problem(
                tie.span.clone(),
                format!("this tie measures twice from \"{}\"", tie.a),
                "two tapes from two different points",
            );
            continue;
        }
        let (Some(a), Some(b)) = (known.get(tie.a.as_str()), known.get(tie.b.as_str())) else {
            continue;
        };
        let apart = (a[0] - b[0]).hypot(a[1] - b[1]);
        let allowed = "each distance is at most the sum of the other two";
        let measure = |v: f64| format!("{:.2} {word}", v / unit.metres());
        if apart <= TAPE_SLACK {
            cx.problem(
                tie.span.clone(),
                format!("\"{}\" and \"{}\" are at the same place", tie.a, tie.b),
                "two tapes from two different places",
            );
        } else if tie.from_a + tie.from_b < apart - TAPE_SLACK {
            cx.problem(
                tie.span.clone(),
                format!(
                    "this tie cannot close: \"{}\" and \"{}\" are {} apart, and the tapes reach only {} + {}",
                    tie.a,
                    tie.b,
                    measure(apart),
                    measure(tie.from_a),
                    measure(tie.from_b)
                ),
                allowed,
            );
        } else if (tie.from_a - tie.from_b).abs() > apart + TAPE_SLACK {
            cx.problem(
                tie.span.clone(),
                format!(
                    "this tie cannot close: \"{}\" and \"{}\" are only {} apart, and the tapes differ by {}",
                    tie.a,
                    tie.b,
                    measure(apart),
                    measure((tie.from_a - tie.from_b).abs())
                ),
                allowed,
            );
        }
    }
}

fn lines(seen: &Seen, known: &FxHashMap<&str, [f64; 2]>, cx: &mut Context) {
    for line in &seen.lines {
        let points: Option<Vec<[f64; 2]>> = line
            .points
            .iter()
            .map(|at| match at {
                At::Shot(name) => known.get(name.as_str()).copied(),
                At::Placed(place) => literal(place, seen),
            })
            .collect();
        let Some(points) = points else {
            continue;
        };
        let length: f64 = points
            .windows(2)
            .map(|p| (p[0][0] - p[1][0]).hypot(p[0][1] - p[1][1]))
            .sum();
        if length < 0.001 {
            cx.problem(
                line.span.clone(),
                format!(
                    "`{}` of this {} has no length",
                    line.field,
                    spoken(line.record)
                ),
                "points that are apart from each other",
            );
        } else if line.closed
            && points.len() <= RING_CHECKED
            && let Some((i, j)) = crossing(&points)
        {
            cx.problem(
                line.span.clone(),
                format!(
                    "`{}` of this {} crosses itself: the edge after point {} crosses the edge after point {}",
                    line.field,
                    spoken(line.record),
                    i + 1,
                    j + 1
                ),
                "the corners in order, walking once round it",
            );
        }
    }
}

/// Two edges of a ring that cross, by the numbers of their first points.
fn crossing(ring: &[[f64; 2]]) -> Option<(usize, usize)> {
    let n = ring.len();
    let side = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        let coord = |p: [f64; 2]| robust::Coord { x: p[0], y: p[1] };
        robust::orient2d(coord(a), coord(b), coord(c))
    };
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        // Neighbouring edges share a point and are left out.
        for j in i + 2..n {
            if i == 0 && j == n - 1 {
                continue;
            }
            let (c, d) = (ring[j], ring[(j + 1) % n]);
            let across = side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0;
            if across {
                return Some((i, j));
            }
        }
    }
    None
}

fn stages(seen: &Seen, cx: &mut Context) {
    if seen.stages.is_empty() {
        return;
    }
    let mut built: FxHashSet<&str> = FxHashSet::default();
    let mut gone: FxHashSet<&str> = FxHashSet::default();
    for stage in &seen.stages {
        for (name, span) in &stage.works {
            if !built.insert(name) {
                cx.problem(
                    span.clone(),
                    format!("\"{name}\" is built a second time here"),
                    "each feature in one stage, once",
                );
            }
        }
        for (name, span) in &stage.take_back {
            let known = seen.names.iter().any(|n| n.name == *name);
            if !built.contains(name.as_str()) {
                // A name that nothing has is an error of its own.
                if !known {
                    continue;
                }
                cx.problem(
                    span.clone(),
                    format!("\"{name}\" is taken back before it is built"),
                    "a feature that this stage or an earlier one builds",
                );
            } else if !gone.insert(name) {
                cx.problem(
                    span.clone(),
                    format!("\"{name}\" is taken back a second time"),
                    "each feature once",
                );
            }
        }
    }
    for named in &seen.names {
        let works = matches!(named.space, Space::NewWall | Space::Basin | Space::Feature);
        if works && !built.contains(named.name.as_str()) {
            cx.problem(
                named.span.clone(),
                format!("\"{}\" is in no stage of `sequence`", named.name),
                "with a `sequence`, every feature of `design` is in the `works` of one stage",
            );
        }
    }
}
