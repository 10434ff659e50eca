//! Where each water runs over, what it wets on its way up, and where it runs from there. Metres.

use super::{DepthCurve, Scene};
use crate::findings::{About, Finding, Severity};
use crate::plan::{End, Kind, MarkKind, Met, Pocket, Spill};
use crate::terrain::Span;
use crate::terrain::predicates::{P2, from_line, in_ring};
use crate::water::{Stop, Way};

/// Hollows that fill to less than this on the way are only listed, not reported: 1 in.
const PUDDLE: f64 = 0.0254;
/// The way is looked at this often for what it meets.
const STRIDE: f64 = 0.1;

pub fn of(scene: &Scene, findings: &mut Vec<Finding>) -> Vec<Spill> {
    let mut list = Vec::new();
    for &(water, seed) in &scene.waters {
        // A pool spills over its lip.
        if !scene.job.design.basins.iter().any(|b| b.name == water.name) {
            continue;
        }
        let pools: Vec<&str> = scene
            .job
            .design
            .cascades
            .iter()
            .filter(|c| c.into == water.name)
            .flat_map(|c| c.pools.iter().map(|p| p.name.as_str()))
            .collect();
        let own = |t: u32| {
            let maker = scene
                .plan
                .finished
                .made_by
                .get(t as usize)
                .copied()
                .unwrap_or(0);
            let by = scene.plan.makers.get(maker as usize);
            by.is_some_and(|m| m.kind == Kind::Cascade && pools.contains(&m.name.as_str()))
        };
        let other = |t: u32, z: f64| scene.under(t, z).is_some_and(|w| w.name != water.name);
        let way = scene
            .terrain
            .way_from_pass(seed, water.level_m.min(water.spill_m), own, other);
        let (ends, into) = end(scene, &way);
        let risen = water.held.then(|| {
            let wet = scene.terrain.wet(seed, water.spill_m);
            let surface = &scene.plan.finished;
            let corners = wet.iter().map(|&t| surface.corners(t as usize));
            (DepthCurve::once(corners, water.spill_m), wet)
        });
        let runs = runs(&way.path);
        let spill = Spill {
            water: water.name.clone(),
            spill_m: water.spill_m,
            at: water.spill_at,
            area_m2: risen.as_ref().map_or(water.area_m2, |r| r.0.1),
            volume_m3: risen.as_ref().map_or(water.volume_m3, |r| r.0.0),
            touches: risen.map_or(Vec::new(), |r| {
                touches(scene, &water.name, seed, water.level_m, &r.1)
            }),
            length_m: runs.last().copied().unwrap_or(0.0),
            ends,
            into,
            meets: meets(scene, &way, &runs),
            pockets: pockets(scene, &way, &runs),
            path: way.path,
        };
        report(
            scene,
            &spill,
            &water.name,
            ["when it runs over, the water", "the spill"],
            findings,
        );
        list.push(spill);
    }
    list
}

/// How a way ends, and in which water.
fn end(scene: &Scene, way: &Way) -> (End, String) {
    let into = scene.under(way.last, way.path.last().map_or(f64::INFINITY, |p| p[2]));
    match way.stop {
        Stop::Survey => (End::Survey, String::new()),
        Stop::Reached => (End::Water, into.map_or(String::new(), |w| w.name.clone())),
        Stop::Hollow => (End::Hollow, String::new()),
        Stop::Lost => (End::Lost, String::new()),
    }
}

/// The way of the water from an outlet in plan; `None` outside the survey.
pub fn from_outlet(
    scene: &Scene,
    place: &str,
    at: P2,
    findings: &mut Vec<Finding>,
) -> Option<Spill> {
    let triangle = scene.terrain.find(at)?;
    let way = scene
        .terrain
        .way_from(at, triangle, |t, z| scene.under(t, z).is_some());
    let (ends, into) = end(scene, &way);
    let runs = runs(&way.path);
    let spill = Spill {
        water: place.into(),
        spill_m: way.path.first().map_or(0.0, |p| p[2]),
        at,
        area_m2: 0.0,
        volume_m3: 0.0,
        touches: Vec::new(),
        length_m: runs.last().copied().unwrap_or(0.0),
        ends,
        into,
        meets: meets(scene, &way, &runs),
        pockets: pockets(scene, &way, &runs),
        path: way.path,
    };
    report(
        scene,
        &spill,
        place,
        ["the water from it", "its outlet"],
        findings,
    );
    Some(spill)
}

/// Distance in plan along the way, at each of its points.
fn runs(path: &[[f64; 3]]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = Vec::with_capacity(path.len());
    for (k, p) in path.iter().enumerate() {
        if k > 0 {
            sum += (p[0] - path[k - 1][0]).hypot(p[1] - path[k - 1][1]);
        }
        out.push(sum);
    }
    out
}

fn touches(scene: &Scene, own: &str, seed: u32, level: f64, risen: &[u32]) -> Vec<String> {
    let before = scene.terrain.wet(seed, level);
    let surface = &scene.plan.finished;
    let mut names: Vec<String> = Vec::new();
    let mut name = |n: String| {
        if !names.contains(&n) {
            names.push(n);
        }
    };
    let kinds = [MarkKind::Paving, MarkKind::KeepOut, MarkKind::House];
    let marks = scene.plan.marks.iter().filter(|m| kinds.contains(&m.kind));
    let marks: Vec<_> = marks
        .map(|m| (m, Span::of(m.line.iter().copied())))
        .collect();
    for &t in risen {
        // Only what was dry before; of the rest only the upper part is new.
        let maker = surface.made_by.get(t as usize).copied().unwrap_or(0);
        if let Some(by) = scene.plan.makers.get(maker as usize)
            && by.name != own
            && before.binary_search(&t).is_err()
        {
            name(match by.kind {
                Kind::Ground => "ground as surveyed".into(),
                kind => format!("{} ({})", by.name, kind.word()),
            });
        }
        let c = surface.corners(t as usize);
        let low = c.iter().copied().min_by(|a, b| a[2].total_cmp(&b[2]));
        let Some([x, y, _]) = low else { continue };
        for (mark, span) in &marks {
            if span.holds([x, y]) && in_ring(&mark.line, [x, y]) {
                name(mark.name.clone());
            }
        }
    }
    names
}

fn meets(scene: &Scene, way: &Way, runs: &[f64]) -> Vec<Met> {
    let mut met: Vec<Met> = Vec::new();
    for mark in &scene.plan.marks {
        let along_house = || {
            way.along_closed.iter().copied().find(|&k| {
                way.path
                    .get(k)
                    .or(way.path.last())
                    .is_some_and(|p| nearest(&mark.line, [p[0], p[1]]) < 0.05)
            })
        };
        let found = match mark.kind {
            MarkKind::House => along_house()
                .map(|k| k.min(way.path.len() - 1))
                .map(|k| (way.path[k], runs[k])),
            MarkKind::Paving | MarkKind::KeepOut => first_inside(&way.path, runs, &mark.line),
            _ => None,
        };
        if let Some((at, along_m)) = found {
            met.push(Met {
                name: mark.name.clone(),
                kind: mark.kind,
                at,
                along_m,
            });
        }
    }
    met.sort_by(|a, b| a.along_m.total_cmp(&b.along_m));
    met
}

fn first_inside(path: &[[f64; 3]], runs: &[f64], ring: &[P2]) -> Option<([f64; 3], f64)> {
    for (k, w) in path.windows(2).enumerate() {
        let l = runs[k + 1] - runs[k];
        let steps = (l / STRIDE).ceil().clamp(1.0, 10_000.0) as usize;
        for s in 0..=steps {
            let f = s as f64 / steps as f64;
            let p = [0, 1, 2].map(|i| w[0][i] + f * (w[1][i] - w[0][i]));
            if in_ring(ring, [p[0], p[1]]) {
                return Some((p, runs[k] + f * l));
            }
        }
    }
    None
}

fn nearest(ring: &[P2], p: P2) -> f64 {
    (0..ring.len())
        .map(|k| from_line(p, ring[k], ring[(k + 1) % ring.len()]))
        .fold(f64::INFINITY, f64::min)
}

fn pockets(scene: &Scene, way: &Way, runs: &[f64]) -> Vec<Pocket> {
    let mut list = Vec::new();
    for h in &way.hollows {
        let depth = h.pass - h.at[2];
        // A hair under its pass, so that it is closed.
        if let Some(full) = scene.terrain.stand_from(h.seed, h.pass, |_| false)
            && depth > 1e-3
        {
            list.push(Pocket {
                at: h.at,
                depth_m: full.depth,
                area_m2: full.area,
                volume_m3: full.volume,
                along_m: runs.get(h.index).copied().unwrap_or(0.0),
            });
        }
    }
    list
}

/// What is to be said of a way: `words` for the water, and for where it comes from.
fn report(
    scene: &Scene,
    spill: &Spill,
    place: &str,
    words: [&str; 2],
    findings: &mut Vec<Finding>,
) {
    let [it, source] = words;
    let mut say = |severity, at: [f64; 3], what: String, remedy: &str| {
        findings.push(
            Finding::new(severity, place, what, remedy)
                .about(About::Water)
                .at(at[0], at[1], at[2]),
        );
    };
    for met in &spill.meets {
        let along = scene.length(met.along_m);
        match met.kind {
            MarkKind::House => say(
                Severity::Warning,
                met.at,
                format!("{it} goes to {}, {along} from {source}", met.name),
                "make the lowest place of the brim where water may run, or lead it off with an overflow pipe",
            ),
            MarkKind::Paving => say(
                Severity::Warning,
                met.at,
                format!("{it} goes onto {}, {along} from {source}", met.name),
                "make the lowest place of the brim elsewhere, or lead it off: wet paving freezes",
            ),
            _ => say(
                Severity::Note,
                met.at,
                format!("{it} goes through {}, {along} from {source}", met.name),
                "see that running water does no harm there",
            ),
        }
    }
    for pocket in spill.pockets.iter().filter(|p| p.depth_m > PUDDLE) {
        say(
            Severity::Note,
            pocket.at,
            format!(
                "{it} stands {} deep in a low pocket, {} from {source}, before it goes on",
                scene.length(pocket.depth_m),
                scene.length(pocket.along_m)
            ),
            "grade it out, or lead the overflow past it",
        );
    }
    let Some(&end) = spill.path.last() else {
        return;
    };
    match spill.ends {
        End::Survey => say(
            Severity::Caution,
            end,
            format!(
                "{it} leaves the surveyed ground {} from {source}; what lies beyond is not known",
                scene.length(spill.length_m)
            ),
            "see where it goes from there: water led onto a neighbour's ground is a matter of local code",
        ),
        End::Hollow => say(
            Severity::Warning,
            end,
            format!("{it} ends in a low pocket that nothing leads out of"),
            "lead it off with a pipe or a swale, or grade the pocket out",
        ),
        End::Lost => say(
            Severity::Note,
            end,
            format!("{it} could be followed from {source} only up to here"),
            "look at the ground from here on by eye",
        ),
        End::Water => {}
    }
}
