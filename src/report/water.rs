//! What the water does, laid out for a person at the pump, in the job's unit.

use super::measure::number;
use super::{Columns, Measure, doubts, findings, hang, heading};
use crate::findings::{About, Finding};
use crate::job::{Job, Unit};
use crate::plan::{Brim, CascadeFlow, Closer, End, Plan, Spill, Storage};
use crate::units::{GALLON, INCH};

pub fn water(job: &Job, plan: &Plan, closer: &Closer, width: usize) -> String {
    let page = Page {
        m: Measure(job.unit),
        width,
    };
    let mut out = String::new();
    heading(&mut out, &format!("{}: water", job.name));
    out.push('\n');
    if plan.water.is_empty() {
        let designed = !job.design.basins.is_empty() || !job.design.cascades.is_empty();
        out.push_str(if designed {
            "No water of this job stands: see the findings.\n\n"
        } else {
            "There is no water in this job.\n\n"
        });
    }
    for spill in &plan.flow.spills {
        if job.design.basins.iter().any(|b| b.name == spill.water) {
            page.brim(
                &mut out,
                plan,
                spill,
                closer.brims.iter().find(|b| b.water == spill.water),
            );
        }
    }
    let basin = |s: &&Storage| job.design.basins.iter().any(|b| b.name == s.water);
    closer
        .storage
        .iter()
        .filter(basin)
        .for_each(|s| page.storage(&mut out, job, s));
    let pools: Vec<&Storage> = closer.storage.iter().filter(|s| !basin(s)).collect();
    page.pools(&mut out, &pools);
    for c in &plan.flow.cascades {
        page.cascade(&mut out, c);
    }
    for p in &plan.flow.pumps {
        page.pump(&mut out, job, p);
    }
    for o in &closer.overflows {
        page.overflow(&mut out, job, o);
    }
    // What is wrong with the ground or the works is wrong with their water.
    let wrong = doubts::doubts(plan, &[About::Pump]);
    let about: Vec<Finding> = plan
        .findings
        .iter()
        .chain(&closer.findings)
        .filter(|f| matches!(f.about, About::Water | About::Pump) || wrong.contains(f))
        .cloned()
        .collect();
    out.push_str(&findings(&about, job.unit, width));
    out
}

pub struct Page {
    pub m: Measure,
    pub width: usize,
}

impl Page {
    pub fn line(&self, out: &mut String, what: &str, text: &str) {
        hang(out, &format!("{what:<14}"), text, self.width);
    }

    /// Depths of water are spoken of in inches.
    pub fn thin(&self, metres: f64) -> String {
        match self.m.0 {
            Unit::Foot => format!("{} in", number(metres / INCH, 2)),
            Unit::Metre => format!("{} mm", number(metres * 1000.0, 0)),
        }
    }

    pub fn bore(&self, metres: f64) -> String {
        match self.m.0 {
            Unit::Foot => format!("{} in", number(metres / INCH, 2)),
            Unit::Metre => format!("{} mm", number(metres * 1000.0, 1)),
        }
    }

    pub fn amount(&self, m3: f64) -> String {
        format!("{} {}", self.m.bare_water(m3), self.m.water_unit())
    }

    pub fn bare_rate(&self, m3_s: f64) -> String {
        match self.m.0 {
            Unit::Foot => number(m3_s * 3600.0 / GALLON, 0),
            Unit::Metre => number(m3_s * 3.6e6, 0),
        }
    }

    pub fn rate(&self, m3_s: f64) -> String {
        format!("{} {}/h", self.bare_rate(m3_s), self.m.water_unit())
    }

    pub fn place(&self, p: [f64; 2]) -> String {
        format!("x {}, y {}", self.m.bare(p[0]), self.m.bare(p[1]))
    }

    fn brim(&self, out: &mut String, plan: &Plan, s: &Spill, brim: Option<&Brim>) {
        let m = self.m;
        heading(out, &format!("Brim of {}", s.water));
        let Some(w) = plan.water.iter().find(|w| w.name == s.water) else {
            return;
        };
        if !w.held {
            self.line(
                out,
                "Not held",
                &format!(
                    "it runs away at {} ({}), under the {} asked for",
                    m.length(w.spill_m),
                    self.place(w.spill_at),
                    m.length(w.level_m)
                ),
            );
        } else {
            self.line(
                out,
                "Runs over",
                &format!(
                    "at elevation {}, {} over the water, first at {}",
                    m.length(s.spill_m),
                    m.length(s.spill_m - w.level_m),
                    self.place(s.at)
                ),
            );
        }
        if let Some(b) = brim {
            let short = if b.short.is_empty() {
                format!("nowhere under the {} wanted", m.length(b.wanted_m))
            } else {
                let places: Vec<String> = b
                    .short
                    .iter()
                    .map(|r| {
                        format!(
                            "from {} to {} along the edge, least {} at {}",
                            m.bare(r.from_m),
                            m.bare(r.to_m),
                            m.length(r.least_m),
                            self.place(r.at)
                        )
                    })
                    .collect();
                format!(
                    "under the {} wanted {}",
                    m.length(b.wanted_m),
                    places.join("; ")
                )
            };
            self.line(
                out,
                "Freeboard",
                &format!(
                    "{} round the water's edge, least {}, {short}",
                    m.length(b.round_m),
                    m.length(b.least_m)
                ),
            );
            if b.level_crest_m > 0.5 {
                self.line(
                    out,
                    "Level crest",
                    &format!(
                        "{} of the edge stand at the height where it runs over: there it goes over all along, not at one place",
                        m.length(b.level_crest_m)
                    ),
                );
            }
            // A profile of some twenty places, with the lowest of each stretch.
            let step = b.profile.len().div_ceil(20).max(1);
            let mut table = Columns::new([">along the edge", ">freeboard", ">x", ">y"]);
            for stretch in b.profile.chunks(step) {
                if let Some(p) = stretch
                    .iter()
                    .min_by(|a, b| a.freeboard_m.total_cmp(&b.freeboard_m))
                {
                    table.row([
                        m.bare(p.along_m),
                        m.bare(p.freeboard_m),
                        m.bare(p.at[0]),
                        m.bare(p.at[1]),
                    ]);
                }
            }
            table.write(out, self.width);
            out.push_str(&format!(
                "  The lowest place of each stretch; ground looked at {} out, lips of falls left out\n",
                m.length(b.reach_m)
            ));
        }
        if w.held && s.spill_m > w.level_m + 1e-6 {
            self.line(
                out,
                "Full to there",
                &format!(
                    "{} and {}, {} more than at its level",
                    m.area(s.area_m2),
                    self.amount(s.volume_m3),
                    self.amount(s.volume_m3 - w.volume_m3)
                ),
            );
            if !s.touches.is_empty() {
                self.line(out, "Then wets", &s.touches.join(", "));
            }
        }
        let mut way = format!("steepest way down, {}", m.length(s.length_m));
        for met in &s.meets {
            way.push_str(&format!(
                "; to {} after {}",
                met.name,
                m.length(met.along_m)
            ));
        }
        for p in &s.pockets {
            way.push_str(&format!(
                "; after {} a hollow fills, {} deep, {}",
                m.length(p.along_m),
                m.length(p.depth_m),
                self.amount(p.volume_m3)
            ));
        }
        let end = s
            .path
            .last()
            .map_or(String::new(), |p| self.place([p[0], p[1]]));
        way.push_str(&match s.ends {
            End::Survey => format!("; leaves the survey at {end}"),
            End::Water => format!("; into {}", s.into),
            End::Hollow => format!("; ends in a hollow at {end}"),
            End::Lost => format!("; followed to {end}"),
        });
        self.line(out, "Then runs", &way);
        let step = s.path.len().div_ceil(24).max(1);
        let mut table = Columns::new([">x", ">y", ">elevation"]);
        for (k, p) in s.path.iter().enumerate() {
            if k % step == 0 || k + 1 == s.path.len() {
                table.row([m.bare(p[0]), m.bare(p[1]), m.bare(p[2])]);
            }
        }
        table.write(out, self.width);
        out.push('\n');
    }

    fn pools(&self, out: &mut String, pools: &[&Storage]) {
        if pools.is_empty() {
            return;
        }
        let m = self.m;
        heading(out, "What the pools hold");
        let mut table = Columns::new([
            "pool",
            ">level",
            &format!(">{}", m.area_unit()),
            &format!(">{}", m.water_unit()),
            ">deepest",
            &format!(">stone, about {}", m.volume_unit()),
        ]);
        for s in pools {
            table.row([
                s.water.clone(),
                m.bare(s.level_m),
                m.bare_area(s.area_m2),
                m.bare_water(s.volume_m3),
                m.bare(s.depth_max_m),
                m.bare_volume(s.stone_m3),
            ]);
        }
        table.write(out, self.width);
        out.push('\n');
    }

    fn storage(&self, out: &mut String, job: &Job, s: &Storage) {
        let m = self.m;
        heading(out, &format!("What {} holds", s.water));
        self.line(
            out,
            "At its level",
            &format!(
                "{}: {}, {}, {} deep",
                m.length(s.level_m),
                self.amount(s.volume_m3),
                m.area(s.area_m2),
                m.length(s.depth_max_m)
            ),
        );
        let (small, large): (Vec<_>, Vec<_>) = s
            .over
            .iter()
            .partition(|p| p.volume_m3 < 0.01 * s.volume_m3);
        let mut over: Vec<String> = large
            .iter()
            .map(|p| {
                format!(
                    "{} {} ({})",
                    p.part,
                    self.amount(p.volume_m3),
                    m.area(p.area_m2)
                )
            })
            .collect();
        let rest: f64 = small.iter().map(|p| p.volume_m3).sum();
        if rest > 0.0 {
            over.push(format!("elsewhere {}", self.amount(rest)));
        }
        self.line(out, "Standing over", &over.join(", "));
        if s.stone_m3 > 0.0 {
            self.line(
                out,
                "Stone",
                &format!(
                    "{} of stone lies between liner and finished bed and is not counted as water; the water in its voids, often a third of it (common practice), comes on top",
                    m.volume(s.stone_m3)
                ),
            );
        }
        let of = |amount: Option<String>| amount.map_or(String::new(), |a| format!(" ({a})"));
        if let Some(t) = s.fill_s {
            self.line(
                out,
                "To fill",
                &format!(
                    "{} with the hose{}",
                    hours(t),
                    of(job.plumbing.hose.map(|hose| self.rate(hose)))
                ),
            );
        }
        if let Some(d) = s.loss_drop_m {
            self.line(
                out,
                "Loss",
                &format!(
                    "what may be lost before anyone tops it up{} lowers it by {}",
                    of(job.plumbing.loss.map(|loss| self.amount(loss))),
                    m.length(d)
                ),
            );
        }
        let mut table = Columns::new([
            ">below level",
            ">elevation",
            &format!(">{}", m.area_unit()),
            &format!(">{}", m.water_unit()),
            "share",
        ]);
        for p in &s.curve {
            let share = p.volume_m3 / s.volume_m3.max(1e-12);
            table.row([
                m.bare(p.below_m),
                m.bare(p.elevation_m),
                m.bare_area(p.area_m2),
                m.bare_water(p.volume_m3),
                "█".repeat((share * 24.0).round() as usize),
            ]);
        }
        table.write(out, self.width);
        out.push('\n');
    }

    fn cascade(&self, out: &mut String, c: &CascadeFlow) {
        let m = self.m;
        heading(out, &format!("Flow over {}", c.cascade));
        self.line(
            out,
            "Flow",
            &format!(
                "{}{}, {}",
                if c.at_least { "at least " } else { "" },
                self.rate(c.flow_m3_s),
                c.flow_from
            ),
        );
        let mut table = Columns::new([
            "lip of", ">width", ">drop", ">wanted", ">Francis", ">crest", ">sheet", ">drowned",
        ]);
        let dash = || "–".to_string();
        let thin = |v: Option<f64>| v.map_or_else(dash, |v| self.thin(v));
        for l in &c.lips {
            table.row([
                l.pool.clone(),
                m.bare(l.width_m),
                m.bare(l.drop_m),
                self.bare_rate(l.wanted_m3_s),
                thin(l.francis_m),
                thin(l.sill_m),
                thin(l.brink_m),
                thin(l.drowned_m),
            ]);
        }
        let drowned = c.lips.iter().any(|l| l.drowned_m.is_some());
        if !drowned {
            table.drop(">drowned");
        }
        table.write(out, self.width);
        let mut table = Columns::new([
            "pool",
            ">speed in it",
            ">at the brink",
            ">freeboard left",
            ">beside the sheet",
        ]);
        for l in &c.lips {
            table.row([
                l.pool.clone(),
                format!("{}/s", m.length(l.pool_velocity_m_s)),
                l.brink_velocity_m_s
                    .map_or_else(dash, |v| format!("{}/s", m.length(v))),
                m.bare(l.freeboard_m),
                l.splash_room_m.map_or("–".into(), |r| m.bare(r)),
            ]);
        }
        table.write(out, self.width);
        hang(
            out,
            "  ",
            &format!(
                "Wanted by the lip's width, {}/h. Height of the pool over its lip: as a sharp lip (Francis, USBR Water \
                 Measurement Manual, ch. 7) and as a level crest with friction along the sill (Manning); the greater \
                 counts for the freeboard left. Sheet: its thickness at the brink. Beside the sheet: water to either \
                 side of it where it lands.{}{}",
                m.water_unit(),
                if drowned {
                    " Drowned: the water below stands so far over the lip; nothing falls there, and its pool stands as high as Villemonte's reduction of the weir (from memory) asks for."
                } else {
                    ""
                },
                if c.lips.iter().any(|l| !l.in_range && l.drowned_m.is_none()) {
                    " Under 0.2 ft (61 mm) of head the weir formula was not measured: take the heights as near, and set the lip dead level."
                } else {
                    ""
                }
            ),
            self.width,
        );
        self.line(
            out,
            "On its way",
            &format!(
                "{} over the lips' level in the pools, {} on the sills, {} in the air",
                self.amount(c.in_pools_m3),
                self.amount(c.on_sills_m3),
                self.amount(c.in_air_m3)
            ),
        );
        out.push('\n');
    }
}

fn hours(seconds: f64) -> String {
    if seconds < 5400.0 {
        format!("{} minutes", number(seconds / 60.0, 0))
    } else {
        format!("{} hours", number(seconds / 3600.0, 1))
    }
}
