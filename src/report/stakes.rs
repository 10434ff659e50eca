//! The setting-out list, work by work: what the person with the tape and the one with the rod need.

use super::measure::number;
use super::{Columns, Measure, doubts, findings, hang, heading};
use crate::job::{Job, Side, Unit};
use crate::plan::{Flaw, Plan, Reading, Stake, Stakes, TapeTie};
use crate::stakes::Instrument;
use crate::units::INCH;

/// Earlier works that change the ground by less than this are not told, metres.
const SAME: f64 = 0.03;

/// Ends with the errors of the plan that make it doubtful.
pub fn stakes(
    job: &Job,
    plan: &Plan,
    all: &Stakes,
    level: Option<&Instrument>,
    width: usize,
) -> String {
    let mut out = list(job, all, level, width);
    let doubts = doubts::doubts(plan, &[]);
    if !doubts.is_empty() {
        out.push_str("\nTHESE STAKES ARE DOUBTFUL: mend the plan before setting out by them.\n");
        out.push_str(&findings(&doubts, job.unit, width));
    }
    out
}

fn list(job: &Job, all: &Stakes, level: Option<&Instrument>, width: usize) -> String {
    let m = Measure(job.unit);
    let mut out = String::new();
    heading(
        &mut out,
        &format!(
            "{} · {} stakes, {}",
            job.name,
            all.list.len(),
            m.length_unit()
        ),
    );
    if all.list.is_empty() {
        out.push_str("Nothing to set out: the design is empty, or the ground is missing.\n");
        return out;
    }
    preamble(&mut out, job, all, level, width);
    let page = Page {
        m,
        all,
        hi: level.map(|l| l.height),
        width,
        one_baseline: baseline(all).is_some(),
    };
    for work in all.list.chunk_by(|a, b| a.work == b.work) {
        let (first, last) = (&work[0], &work[work.len() - 1]);
        out.push('\n');
        let stage = if first.stage.is_empty() {
            String::new()
        } else {
            format!(" · stage \"{}\"", first.stage)
        };
        let range = if work.len() == 1 {
            first.label.clone()
        } else {
            format!("{} to {}", first.label, last.label)
        };
        heading(&mut out, &format!("{range} · {}{stage}", first.work));
        for group in work.chunk_by(|a, b| a.name == b.name && a.part == b.part) {
            page.group(&mut out, group);
        }
    }
    out
}

fn preamble(out: &mut String, job: &Job, all: &Stakes, level: Option<&Instrument>, width: usize) {
    let m = Measure(job.unit);
    match level {
        Some(l) => {
            let text = format!(
                "on {} {}, backsight {}: height of instrument {}",
                l.benchmark,
                m.bare(l.elevation),
                m.bare(l.backsight),
                m.bare(l.height)
            );
            hang(out, "Level     ", &text, width);
            if !l.caution.is_empty() {
                hang(out, "          ", &format!("Mind: {}", l.caution), width);
            }
            hang(
                out,
                "Rod       ",
                "what the rod reads when its foot stands at that elevation",
                width,
            );
        }
        None => {
            let text = match job.field_book.benchmarks.first() {
                Some(b) => format!(
                    "not given, so there are no rod readings. Set up, read the rod on a benchmark, and give that backsight: {0}=READING (a command takes it as --backsight \"{0}=READING\")",
                    b.name
                ),
                None => "there are no rod readings: none is given, and the job has no benchmark to take it on. Book one (a nail in a post, a door sill) under `benchmarks` in the field book; until then any point with an elevation that has not moved since will do (a command takes it as --backsight \"NAME=READING\")".into(),
            };
            hang(out, "Level     ", &text, width);
        }
    }
    let tied = all.list.iter().any(|s| s.tie.is_some());
    let text = if tied {
        "held level, as in the survey. L, R: the stake is to the left or right, standing at the first point and looking to the second"
    } else if let Some(name) = baseline(all) {
        &format!(
            "held level, along baseline {name} from its zero and square off it. L, R: to the left or right, looking along it"
        )
    } else if all.list.iter().any(|s| s.offset.is_some()) {
        "held level, along the baseline from its zero and square off it. L, R: to the left or right, looking along it"
    } else {
        "there are neither two pegs nor a baseline to tape from; x and y are those of the job"
    };
    hang(out, "Tapes     ", text, width);
    let text = match job.unit {
        Unit::Foot => "from the ground as surveyed, to the nearest half inch",
        Unit::Metre => "from the ground as surveyed, to the nearest centimetre",
    };
    hang(out, "Dig, fill ", text, width);
    if all.list.iter().any(moved) {
        let text = "the same, from the ground as earlier stages leave it";
        hang(out, "By then   ", text, width);
    }
}

/// The baseline that every stake is measured from, if none is taped from pegs.
fn baseline(all: &Stakes) -> Option<&str> {
    let name = |s: &'_ Stake| s.offset.as_ref().map(|o| o.baseline.clone());
    let first = all.list.first()?;
    let one = all
        .list
        .iter()
        .all(|s| s.tie.is_none() && s.offset.is_some() && name(s) == name(first));
    first
        .offset
        .as_ref()
        .filter(|_| one)
        .map(|o| o.baseline.as_str())
}

/// Whether earlier works change the ground at a stake.
fn moved(stake: &Stake) -> bool {
    matches!((stake.place.existing, stake.place.before), (Some(a), Some(b)) if (a - b).abs() > SAME)
}

/// How the stakes of a group are taped.
#[derive(Clone, Copy, PartialEq)]
enum Taped {
    /// All from the same two points.
    Same,
    Each,
    Offsets,
    Coordinates,
}

struct Page<'a> {
    m: Measure,
    all: &'a Stakes,
    hi: Option<f64>,
    width: usize,
    /// Every stake is measured from the same baseline, named above.
    one_baseline: bool,
}

impl Page<'_> {
    fn group(&self, out: &mut String, group: &[Stake]) {
        let m = self.m;
        let first = &group[0];
        let title = if first.name == first.work {
            first.part.clone()
        } else {
            format!("{}: {}", first.name, first.part)
        };
        let level = group.iter().all(|s| same(s, first));
        let taped = taped(group);
        let mut words = title;
        if level {
            words.push_str(&self.levels(first));
        }
        if taped == Taped::Offsets
            && !self.one_baseline
            && let Some(o) = &first.offset
        {
            words.push_str(&format!(" · along and off baseline {}", o.baseline));
        }
        hang(out, "", &words, self.width);

        let pair = first.tie.as_ref().map(|t| (t.a.clone(), t.b.clone()));
        let (head_a, head_b) = match (taped, &pair) {
            (Taped::Same, Some((a, b))) => (format!(">{a}"), format!(">{b}")),
            (Taped::Offsets, _) => (">along".into(), ">off".into()),
            (Taped::Coordinates, _) => (">x".into(), ">y".into()),
            _ => (">tape".into(), ">tape ".into()),
        };
        let mut table = Columns::new([
            // A label broken in two would be another stake's.
            ">",
            "> ",
            &head_a,
            &head_b,
            ">L/R",
            ">ground",
            ">dig, fill",
            ">by then",
            ">dig to",
            ">rod",
            ">base",
            ">rod ",
            ">finish",
            ">rod  ",
        ]);
        let bare = |z: Option<f64>| z.map(|z| m.bare(z)).unwrap_or_default();
        for s in group {
            let p = &s.place;
            let (a, b, side) = self.tapes(s, taped);
            let by_then = p.before.zip(p.dig.or(p.finish)).filter(|_| moved(s));
            table.row([
                s.label.clone(),
                p.note.to_string(),
                a,
                b,
                side.into(),
                bare(p.existing),
                p.cut()
                    .map(|c| change(m, c, p.dig.is_some()))
                    .unwrap_or("no ground".into()),
                by_then
                    .map(|(z, to)| change(m, z - to, p.dig.is_some()))
                    .unwrap_or_default(),
                bare(p.dig),
                self.rod(p.dig),
                bare(p.base),
                self.rod(p.base),
                bare(p.finish),
                self.rod(p.finish),
            ]);
        }
        let none = |f: &dyn Fn(&Stake) -> bool| !group.iter().any(f);
        if none(&|s| !s.place.note.is_empty()) {
            table.drop("> ");
        }
        if none(&moved) {
            table.drop(">by then");
        }
        if none(&|s| s.place.dig.or(s.place.finish).is_some()) {
            table.drop(">dig, fill");
        }
        for (head, rod, has) in [
            (
                ">dig to",
                ">rod",
                group.iter().any(|s| s.place.dig.is_some()),
            ),
            (
                ">base",
                ">rod ",
                group.iter().any(|s| s.place.base.is_some()),
            ),
            (
                ">finish",
                ">rod  ",
                group.iter().any(|s| s.place.finish.is_some()),
            ),
        ] {
            if level || !has {
                table.drop(head);
            }
            if level || !has || self.hi.is_none() {
                table.drop(rod);
            }
        }
        if taped == Taped::Coordinates {
            table.drop("L/R");
        }
        table.write(out, self.width);
        self.poor(out, group, taped);
        self.out_of_reach(out, group, level);
    }

    /// The elevations that all stakes of a group share.
    fn levels(&self, s: &Stake) -> String {
        let p = &s.place;
        let mut words = String::new();
        let built = p.dig.is_none();
        // Without a build-up the two are one.
        let one = matches!((p.dig, p.finish), (Some(a), Some(b)) if (a - b).abs() < 1e-6);
        let marks = [
            ("dig to", p.dig),
            ("base course", p.base),
            (
                if built { "build to" } else { "finished" },
                p.finish.filter(|_| !one),
            ),
        ];
        for (word, z) in marks {
            let Some(z) = z else { continue };
            words.push_str(&format!(" · {word} {}", self.m.bare(z)));
            if self.hi.is_some() {
                words.push_str(&format!(" (rod {})", self.rod(Some(z))));
            }
        }
        words
    }

    fn tapes(&self, s: &Stake, taped: Taped) -> (String, String, &'static str) {
        let m = self.m;
        let letter = |side: Side| match side {
            Side::Left => "L",
            Side::Right => "R",
        };
        match (taped, &s.tie, &s.offset) {
            (Taped::Same, Some(t), _) => (m.bare(t.from_a), m.bare(t.from_b), letter(t.side)),
            (Taped::Each, Some(t), _) => (
                format!("{} {}", t.a, m.bare(t.from_a)),
                format!("{} {}", t.b, m.bare(t.from_b)),
                letter(t.side),
            ),
            (Taped::Offsets, _, Some(o)) => (
                m.bare(o.along),
                m.bare(o.offset.abs()),
                if o.offset > 0.0 { "R" } else { "L" },
            ),
            _ => (m.bare(s.place.at[0]), m.bare(s.place.at[1]), ""),
        }
    }

    fn rod(&self, z: Option<f64>) -> String {
        let (Some(hi), Some(z)) = (self.hi, z) else {
            return String::new();
        };
        match self.all.reading(hi, z) {
            Reading::Reads(rod) => self.m.bare(rod),
            Reading::AboveSight(_) => "too high".into(),
            Reading::BeyondRod(_) => "too low".into(),
        }
    }

    /// Ties that are not to be trusted: one by one where there is another way to measure, else a line for all.
    fn poor(&self, out: &mut String, group: &[Stake], taped: Taped) {
        let m = self.m;
        if !matches!(taped, Taped::Same | Taped::Each) {
            return;
        }
        let mut without: [Vec<(&Stake, &TapeTie)>; 2] = Default::default();
        for s in group {
            let Some((t, flaw)) = s.tie.as_ref().and_then(|t| Some((t, t.flaw?))) else {
                continue;
            };
            let Some(o) = &s.offset else {
                without[usize::from(flaw == Flaw::Reach)].push((s, t));
                continue;
            };
            let instead = format!(
                "; better along baseline {} {}, off it {} {}",
                o.baseline,
                m.bare(o.along),
                m.bare(o.offset.abs()),
                if o.offset > 0.0 { "right" } else { "left" }
            );
            let why = self.flawed(flaw, &[(s, t)]);
            hang(
                out,
                &format!("  ! {}: ", s.label),
                &format!("{why}{instead}"),
                self.width,
            );
        }
        for (list, flaw) in without.iter().zip([Flaw::Angle, Flaw::Reach]) {
            let labels: Vec<&str> = list.iter().map(|(s, _)| s.label.as_str()).collect();
            match labels.as_slice() {
                [] => {}
                [one] => {
                    let text = self.flawed(flaw, list);
                    hang(out, &format!("  ! {one}: "), &text, self.width);
                }
                all => {
                    let text = format!("{}: {}", self.flawed(flaw, list), all.join(", "));
                    hang(
                        out,
                        &format!("  ! {} of them: ", all.len()),
                        &text,
                        self.width,
                    );
                }
            }
        }
    }

    /// What is wrong with some ties, all in the same way.
    fn flawed(&self, flaw: Flaw, ties: &[(&Stake, &TapeTie)]) -> String {
        let m = self.m;
        if flaw == Flaw::Reach {
            return format!(
                "beyond the end of a {} tape",
                m.length(self.all.tape_length)
            );
        }
        let over = |of: fn(&TapeTie) -> f64| {
            let each = ties.iter().map(|(_, t)| of(t));
            each.fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], v| {
                [l.min(v), h.max(v)]
            })
        };
        let [least, most] = over(|t| t.angle).map(|a| format!("{a:.0}"));
        let off = m.length(over(|t| t.error)[1]);
        if least == most {
            format!("the tapes meet at {least}°: it may stand up to {off} off")
        } else {
            format!("the tapes meet at {least}° to {most}°: they may stand up to {off} off")
        }
    }

    fn out_of_reach(&self, out: &mut String, group: &[Stake], level: bool) {
        let Some(hi) = self.hi else { return };
        let (mut high, mut low) = (0.0f64, 0.0f64);
        let shown = if level { &group[..1] } else { group };
        for s in shown {
            let p = &s.place;
            for z in [p.dig, p.base, p.finish].into_iter().flatten() {
                match self.all.reading(hi, z) {
                    Reading::AboveSight(by) => high = high.max(by),
                    Reading::BeyondRod(by) => low = low.max(by),
                    Reading::Reads(_) => {}
                }
            }
        }
        let m = self.m;
        if high > 0.0 {
            let text = format!(
                "out of reach from this setup: up to {} over the line of sight. Set the level up higher, or carry the elevation there with a turning point",
                m.length(high)
            );
            hang(out, "  ! too high: ", &text, self.width);
        }
        if low > 0.0 {
            let text = format!(
                "out of reach from this setup: up to {} more than the {} rod. Set the level up lower, or carry the elevation down with a turning point",
                m.length(low),
                m.length(self.all.rod_length)
            );
            hang(out, "  ! too low: ", &text, self.width);
        }
    }
}

/// `dig 1'-4 1/2"`, `fill 0'-3"`; in metres to the centimetre.
pub(super) fn change(m: Measure, cut: f64, digs: bool) -> String {
    let (size, text) = match m.0 {
        Unit::Foot => {
            let halves = (cut.abs() / INCH * 2.0).round();
            let (feet, rest) = ((halves / 24.0).floor(), halves % 24.0);
            let half = if rest % 2.0 > 0.5 { " 1/2" } else { "" };
            (
                halves,
                format!("{feet:.0}'-{:.0}{half}\"", (rest / 2.0).floor()),
            )
        }
        Unit::Metre => {
            let cm = (cut.abs() * 100.0).round();
            (cm, number(cm / 100.0, 2))
        }
    };
    if size < 0.5 {
        "even".into()
    } else if cut > 0.0 && !digs {
        // Nothing is dug for what is only placed.
        "no fill".into()
    } else if cut > 0.0 {
        format!("dig {text}")
    } else {
        format!("fill {text}")
    }
}

fn same(a: &Stake, b: &Stake) -> bool {
    let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < 1e-6,
        (a, b) => a.is_none() && b.is_none(),
    };
    near(a.place.dig, b.place.dig)
        && near(a.place.base, b.place.base)
        && near(a.place.finish, b.place.finish)
}

fn taped(group: &[Stake]) -> Taped {
    let pair = |s: &Stake| s.tie.as_ref().map(|t| (t.a.clone(), t.b.clone()));
    let first = pair(&group[0]);
    if group.iter().all(|s| s.tie.is_some()) {
        if group.iter().all(|s| pair(s) == first) {
            Taped::Same
        } else {
            Taped::Each
        }
    } else {
        let line = |s: &Stake| s.offset.as_ref().map(|o| o.baseline.clone());
        let first = line(&group[0]);
        if first.is_some() && group.iter().all(|s| line(s) == first) {
            Taped::Offsets
        } else {
            Taped::Coordinates
        }
    }
}
