//! The pools of a cascade along its centreline: where each begins and ends, and what it means to
//! drag a lip, a whole pool, or the width of a lip. Metres.
//!
//! The pools together stay as long as they are: what one gains its neighbour gives.

use crate::edit::{Address, Edit};
use crate::job::Cascade;

use super::snap::dist;

/// No pool is dragged shorter than this, m.
const SHORTEST: f64 = 0.3;
/// No lip is dragged narrower than this, m.
const NARROWEST: f64 = 0.1;

/// What of a cascade is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Between this pool and the next.
    Lip(usize),
    /// This pool, between two others.
    Pool(usize),
    /// The width of this pool's lip.
    Width(usize),
}

/// A cascade as it lies.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    line: Vec<[f64; 2]>,
    /// Lengths as written, and the widths of the lips.
    lengths: Vec<f64>,
    widths: Vec<f64>,
    /// How wide each lip may be dragged, m: as wide as its pool.
    widest: Vec<f64>,
    /// How short each may be dragged, m: a sill that took more than half of its pool would be cut.
    shortest: Vec<f64>,
    /// Lengths are shared out over the line: metres in the yard for each as written.
    stretch: f64,
}

impl Run {
    pub fn of(cascade: &Cascade, line: &[[f64; 2]]) -> Option<Run> {
        let stretch = crate::design::cascade::stretch(cascade, line);
        let pools = &cascade.pools;
        let sound = stretch.is_finite() && stretch > 1e-6 && pools.iter().all(|p| p.length > 0.0);
        sound.then(|| Run {
            line: line.to_vec(),
            lengths: pools.iter().map(|p| p.length).collect(),
            widths: pools.iter().map(|p| p.lip_width).collect(),
            widest: pools.iter().map(|p| p.width.max(NARROWEST)).collect(),
            shortest: pools.iter().map(|p| SHORTEST.max(2.0 * p.sill)).collect(),
            stretch,
        })
    }

    /// Everything that can be held.
    pub fn parts(&self) -> Vec<Part> {
        let n = self.lengths.len();
        let lips = (0..n.saturating_sub(1)).map(Part::Lip);
        let pools = (1..n.saturating_sub(1)).map(Part::Pool);
        lips.chain(pools).chain((0..n).map(Part::Width)).collect()
    }

    /// The pool whose water is at its level.
    pub fn pool(part: Part) -> usize {
        match part {
            Part::Lip(k) | Part::Pool(k) | Part::Width(k) => k,
        }
    }

    fn end(&self, k: usize) -> f64 {
        self.lengths[..=k].iter().sum::<f64>() * self.stretch
    }

    /// Where a part is held, in plan.
    pub fn place(&self, part: Part) -> [f64; 2] {
        match part {
            Part::Lip(k) => self.at(self.end(k)).0,
            Part::Pool(k) => {
                self.at(self.end(k) - 0.5 * self.lengths[k] * self.stretch)
                    .0
            }
            Part::Width(k) => self.side(k, self.widths[k]),
        }
    }

    /// Two places at the part, one after the other down the falls.
    pub fn way(&self, part: Part) -> [[f64; 2]; 2] {
        let s = match part {
            Part::Pool(k) => self.end(k) - 0.5 * self.lengths[k] * self.stretch,
            Part::Lip(k) | Part::Width(k) => self.end(k),
        };
        let (p, way) = self.at(s);
        [p, [p[0] + 0.2 * way[0], p[1] + 0.2 * way[1]]]
    }

    /// The end of a lip so wide.
    fn side(&self, k: usize, width: f64) -> [f64; 2] {
        let (p, way) = self.at(self.end(k));
        [p[0] - way[1] * width / 2.0, p[1] + way[0] * width / 2.0]
    }

    /// The place and the direction so far along the line.
    fn at(&self, s: f64) -> ([f64; 2], [f64; 2]) {
        let mut run = 0.0;
        let mut found = ([0.0; 2], [1.0, 0.0]);
        for w in self.line.windows(2) {
            let long = dist(w[0], w[1]);
            if long < 1e-9 {
                continue;
            }
            let way = [(w[1][0] - w[0][0]) / long, (w[1][1] - w[0][1]) / long];
            let t = (s - run).min(long);
            found = ([w[0][0] + way[0] * t, w[0][1] + way[1] * t], way);
            if s <= run + long {
                break;
            }
            run += long;
        }
        found
    }

    /// How far along the line the place nearest to `p` lies.
    fn along(&self, p: [f64; 2]) -> f64 {
        let Some((_, k, f)) = super::snap::nearest(p, &self.line) else {
            return 0.0;
        };
        let before: f64 = self.line[..=k].windows(2).map(|w| dist(w[0], w[1])).sum();
        before + f * dist(self.line[k], self.line[k + 1])
    }

    /// What a part dragged to `p` comes to: where it lies then, and what is written.
    pub fn drag(&self, part: Part, p: [f64; 2], cascade: &Address) -> ([f64; 2], Edit) {
        let pool = |k: usize| cascade.field("pools").item(k);
        let length = |k: usize, metres: f64| Edit::Length {
            at: pool(k).field("length"),
            metres,
        };
        if let Part::Width(k) = part {
            let (lip, way) = self.at(self.end(k));
            let off = ((p[0] - lip[0]) * -way[1] + (p[1] - lip[1]) * way[0]).abs();
            let width = (2.0 * off).clamp(NARROWEST, self.widest[k]);
            let edit = Edit::Length {
                at: pool(k).field("lip_width"),
                metres: width,
            };
            return (self.side(k, width), edit);
        }
        // What lies before the part grows by as much as what lies after it shrinks.
        let (k, (before, after)) = match part {
            Part::Pool(k) => (k, (k - 1, k + 1)),
            Part::Lip(k) | Part::Width(k) => (k, (k, k + 1)),
        };
        let was = match part {
            Part::Pool(k) => self.end(k) - 0.5 * self.lengths[k] * self.stretch,
            _ => self.end(k),
        };
        let (least, most) = (
            (self.shortest[before] - self.lengths[before]).min(0.0),
            (self.lengths[after] - self.shortest[after]).max(0.0),
        );
        let by = ((self.along(p) - was) / self.stretch).clamp(least, most);
        let edit = Edit::All {
            label: match part {
                Part::Pool(_) => "moved a pool".to_owned(),
                _ => "moved a lip".to_owned(),
            },
            edits: vec![
                length(before, self.lengths[before] + by),
                length(after, self.lengths[after] - by),
            ],
        };
        (self.at(was + by * self.stretch).0, edit)
    }

    /// The part in words.
    pub fn words(part: Part, cascade: &Cascade) -> String {
        let name = |k: usize| cascade.pools.get(k).map_or("", |p| p.name.as_str());
        match part {
            Part::Lip(k) => format!("lip of {}: drag along the falls", name(k)),
            Part::Pool(k) => format!("{}: drag along the falls", name(k)),
            Part::Width(k) => format!("lip of {}: drag for its width", name(k)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::Editor;

    fn demo() -> (Editor, Run) {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let editor = Editor::open(&path).unwrap_or_else(|e| panic!("{e}"));
        let job = editor.job().expect("a good job").clone();
        // (57, 60) (52, 51) (48.3, 44.4) ft.
        let line = [[57.0, 60.0], [52.0, 51.0], [48.3, 44.4]].map(|p| p.map(|v| v * 0.3048));
        let run = Run::of(&job.design.cascades[0], &line).expect("a run");
        (editor, run)
    }

    fn lengths(editor: &Editor) -> Vec<f64> {
        let job = editor.job().expect("a job");
        job.design.cascades[0]
            .pools
            .iter()
            .map(|p| p.length)
            .collect()
    }

    #[test]
    fn a_lip_gives_to_one_pool_what_it_takes_from_the_next() {
        let (mut editor, run) = demo();
        let cascade = Address::of("design.cascades[0]").expect("an address");
        let before = lengths(&editor);
        let held = run.place(Part::Lip(0));
        let way = run.at(run.end(0)).1;
        let to = [
            held[0] + 0.3 * way[0] - 0.05 * way[1],
            held[1] + 0.3 * way[1] + 0.05 * way[0],
        ];
        let (now, edit) = run.drag(Part::Lip(0), to, &cascade);
        assert!(
            (dist(now, held) - 0.3).abs() < 0.02,
            "{now:?} from {held:?}"
        );
        editor.apply(&edit).unwrap_or_else(|e| panic!("{e}"));
        let after = lengths(&editor);
        let gained = after[0] - before[0];
        assert!((gained * run.stretch - 0.3).abs() < 0.02, "{gained}");
        // Each is rounded to the hundredth of a foot as written.
        assert!((after[1] - before[1] + gained).abs() < 0.004, "{after:?}");
        assert_eq!(after[2], before[2]);
    }

    #[test]
    fn nothing_is_dragged_to_nothing() {
        let (mut editor, run) = demo();
        let cascade = Address::of("design.cascades[0]").expect("an address");
        for part in run.parts() {
            for far in [-50.0, 50.0] {
                let (_, edit) = run.drag(part, [far, far], &cascade);
                editor
                    .apply(&edit)
                    .unwrap_or_else(|e| panic!("{part:?}: {e}"));
                assert!(editor.is_good(), "{part:?}: {:?}", editor.problems());
                assert!(lengths(&editor).iter().all(|l| *l > 0.25), "{part:?}");
                editor.undo();
            }
        }
    }

    #[test]
    fn the_width_is_twice_the_way_from_the_middle() {
        let (mut editor, run) = demo();
        let cascade = Address::of("design.cascades[0]").expect("an address");
        let to = run.side(1, 1.0);
        let (now, edit) = run.drag(Part::Width(1), to, &cascade);
        assert!(dist(now, to) < 1e-9);
        editor.apply(&edit).unwrap_or_else(|e| panic!("{e}"));
        let width = editor.job().expect("a job").design.cascades[0].pools[1].lip_width;
        assert!((width - 1.0).abs() < 0.005, "{width} m, dragged to 1 m");
    }
}
