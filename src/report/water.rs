//! What the water does, laid out for a person at the pump, in the job's unit.

use super::measure::number;
use super::{Columns, Measure, findings, hang, heading};
use crate::findings::Finding;
use crate::flow::Brim;
use crate::job::{Job, Unit};
use crate::plan::{CascadeFlow, End, OverflowPipe, Plan, PumpDuty, Spill, Storage};
use crate::units::{GALLON, INCH};

pub fn water(job: &Job, plan: &Plan, brims: &[Brim], width: usize) -> String {
    let page = Page {
        m: Measure(job.unit),
        width,
    };
    let mut out = String::new();
    heading(&mut out, &format!("{}: water", job.name));
    out.push('\n');
    if plan.water.is_empty() {
        out.push_str("There is no water in this job.\n");
        return out;
    }
    for spill in &plan.flow.spills {
        if job.design.basins.iter().any(|b| b.name == spill.water) {
            page.brim(
                &mut out,
                plan,
                spill,
                brims.iter().find(|b| b.water == spill.water),
            );
        }
    }
    let basin = |s: &&Storage| job.design.basins.iter().any(|b| b.name == s.water);
    plan.flow
        .storage
        .iter()
        .filter(basin)
        .for_each(|s| page.storage(&mut out, s));
    let pools: Vec<&Storage> = plan.flow.storage.iter().filter(|s| !basin(s)).collect();
    page.pools(&mut out, &pools);
    for c in &plan.flow.cascades {
        page.cascade(&mut out, c);
    }
    for p in &plan.flow.pumps {
        page.pump(&mut out, p);
    }
    for o in &plan.flow.overflows {
        page.overflow(&mut out, job, o);
    }
    let about: Vec<Finding> = plan
        .findings
        .iter()
        .filter(|f| concerns(job, &f.place))
        .cloned()
        .collect();
    out.push_str(&findings(&about, job.unit, width));
    out
}

/// Findings that are about water.
fn concerns(job: &Job, place: &str) -> bool {
    let d = &job.design;
    let bare = ["pool ", "pump ", "overflow ", "basin ", "cascade "]
        .iter()
        .find_map(|p| place.strip_prefix(p))
        .unwrap_or(place);
    place == "electricity"
        || d.basins.iter().any(|b| b.name == bare)
        || d.cascades
            .iter()
            .any(|c| c.name == bare || c.pools.iter().any(|p| p.name == bare))
        || d.overflows.iter().any(|o| o.name == bare)
        || job.plumbing.pumps.iter().any(|p| p.name == bare)
}

struct Page {
    m: Measure,
    width: usize,
}

impl Page {
    fn line(&self, out: &mut String, what: &str, text: &str) {
        hang(out, &format!("{what:<14}"), text, self.width);
    }

    /// Depths of water are spoken of in inches.
    fn thin(&self, metres: f64) -> String {
        match self.m.0 {
            Unit::Foot => format!("{} in", number(metres / INCH, 2)),
            Unit::Metre => format!("{} mm", number(metres * 1000.0, 0)),
        }
    }

    fn bore(&self, metres: f64) -> String {
        match self.m.0 {
            Unit::Foot => format!("{} in", number(metres / INCH, 2)),
            Unit::Metre => format!("{} mm", number(metres * 1000.0, 1)),
        }
    }

    fn amount(&self, m3: f64) -> String {
        format!("{} {}", self.m.bare_water(m3), self.m.water_unit())
    }

    fn bare_rate(&self, m3_s: f64) -> String {
        match self.m.0 {
            Unit::Foot => number(m3_s * 3600.0 / GALLON, 0),
            Unit::Metre => number(m3_s * 3.6e6, 0),
        }
    }

    fn rate(&self, m3_s: f64) -> String {
        format!("{} {}/h", self.bare_rate(m3_s), self.m.water_unit())
    }

    fn place(&self, p: [f64; 2]) -> String {
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
            out.push_str("  The lowest place of each stretch; ground looked at 6.6 ft (2 m) out\n");
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
            &format!(">stone {}", m.volume_unit()),
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

    fn storage(&self, out: &mut String, s: &Storage) {
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
        if let Some(t) = s.fill_s {
            self.line(
                out,
                "To fill",
                &format!("{} with the hose of the job file", hours(t)),
            );
        }
        if let Some(d) = s.loss_drop_m {
            self.line(
                out,
                "Loss",
                &format!("the loss of the job file lowers it by {}", m.length(d)),
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
            &format!("{}, {}", self.rate(c.flow_m3_s), c.flow_from),
        );
        let mut table = Columns::new([
            "lip of", ">width", ">drop", ">wanted", ">Francis", ">crest", ">sheet",
        ]);
        for l in &c.lips {
            table.row([
                l.pool.clone(),
                m.bare(l.width_m),
                m.bare(l.drop_m),
                self.bare_rate(l.wanted_m3_s),
                self.thin(l.francis_m),
                self.thin(l.sill_m),
                self.thin(l.brink_m),
            ]);
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
                format!("{}/s", m.length(l.brink_velocity_m_s)),
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
                 side of it where it lands.{}",
                m.water_unit(),
                if c.lips.iter().any(|l| !l.in_range) {
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

    fn pump(&self, out: &mut String, p: &PumpDuty) {
        let m = self.m;
        heading(out, &format!("Pump: {}", p.pump));
        self.line(out, "Wanted", &self.rate(p.flow_wanted_m3_s));
        self.line(
            out,
            "Lift",
            &format!(
                "{} from the running level {} to {}",
                m.length(p.static_head_m),
                m.length(p.running_level_m),
                m.length(p.discharge_m)
            ),
        );
        self.line(
            out,
            "Pipe",
            &format!(
                "{} along the slope; fittings and outlet {} velocity heads{}",
                m.length(p.length_m),
                number(p.k, 1),
                if p.equivalent_m > 0.0 {
                    format!(" and {} of pipe", m.length(p.equivalent_m))
                } else {
                    String::new()
                }
            ),
        );
        let mut table = Columns::new([
            "pipe",
            ">bore",
            ">speed",
            ">H-W",
            ">D-W",
            ">fittings",
            ">total",
            ">gives",
            ">at",
            "",
        ]);
        for d in &p.pipes {
            table.row([
                // A size is one word.
                d.pipe.replace(' ', "\u{a0}"),
                self.bore(d.diameter_m),
                m.bare(d.velocity_m_s),
                m.bare(d.hazen_williams_m),
                m.bare(d.darcy_weisbach_m),
                m.bare(d.fittings_m),
                m.bare(d.head_m),
                d.duty.map_or("–".into(), |q| self.bare_rate(q[0])),
                d.duty.map_or("–".into(), |q| m.bare(q[1])),
                match (d.pipe == p.pipe, d.within_velocity) {
                    (true, true) => "lay".into(),
                    (true, false) => "lay!".into(),
                    (false, false) => "fast".into(),
                    _ => String::new(),
                },
            ]);
        }
        table.write(out, self.width);
        hang(
            out,
            "  ",
            &format!(
                "At the flow wanted, in {u}: speed ({u}/s), friction by Hazen-Williams (H-W), a second opinion by \
                 Darcy-Weisbach with Colebrook (D-W), fittings with the outlet, total with the lift. Gives: where the pump's \
                 curve meets the pipe's, {}/h at so much head.",
                m.water_unit(),
                u = m.length_unit()
            ),
            self.width,
        );
        let drop = p
            .start_drop_m
            .map_or("more than the basin holds".into(), |d| m.length(d));
        self.line(
            out,
            "Starting",
            &format!(
                "lowers the basin by {drop}: {} go into pools, sills, sheets and {} of it into the pipe{}",
                self.amount(p.start_volume_m3),
                self.amount(p.pipe_volume_m3),
                p.water_over_intake_m.map_or(String::new(), |o| format!(
                    "; then {} over the intake at {}",
                    m.length(o),
                    m.length(p.intake_m)
                ))
            ),
        );
        self.line(
            out,
            "Stopping",
            &format!(
                "brings back {}{}{}",
                self.amount(p.stop_volume_m3),
                p.stop_rise_m
                    .map_or(String::new(), |r| format!(", a rise of {}", m.length(r))),
                match p.topped_up_m {
                    Some(z) => format!(
                        "; topped up while running, it stands at {} afterwards",
                        m.length(z)
                    ),
                    None => "; topped up while running, it RUNS OVER".into(),
                }
            ),
        );
        out.push('\n');
    }

    fn overflow(&self, out: &mut String, job: &Job, o: &OverflowPipe) {
        let m = self.m;
        heading(out, &format!("Overflow pipe: {}", o.overflow));
        self.line(
            out,
            "Pipe",
            &format!(
                "{} inside, {} in plan, from invert {} to {}",
                self.bore(o.diameter_m),
                m.length(o.length_m),
                m.length(o.inlet_m),
                m.length(o.outlet_m)
            ),
        );
        let none = || "none: see the findings".to_string();
        self.line(
            out,
            "Fall",
            &o.gradient.map_or_else(none, |g| {
                format!("{}, {} in 100", m.length(o.fall_m), number(100.0 * g, 1))
            }),
        );
        if let Some(c) = o.cover_min_m {
            self.line(out, "Least cover", &m.length(c));
        }
        let step = o.cover.len().div_ceil(10).max(1);
        let mut table = Columns::new([">along", ">invert", ">ground", ">cover"]);
        for (k, s) in o.cover.iter().enumerate() {
            if k % step == 0 || k + 1 == o.cover.len() {
                table.row([
                    m.bare(s.along_m),
                    m.bare(s.invert_m),
                    s.ground_m.map_or("–".into(), |g| m.bare(g)),
                    s.cover_m.map_or("–".into(), |c| m.bare(c)),
                ]);
            }
        }
        table.write(out, self.width);
        if let (Some(full), Some(mouth), Some(capacity)) =
            (o.full_m3_s, o.orifice_m3_s, o.capacity_m3_s)
        {
            self.line(
                out,
                "Carries",
                &format!(
                    "{}: {} running full (Manning), {} into its mouth with the basin at the point of running over (orifice, {})",
                    self.rate(capacity),
                    self.rate(full),
                    self.rate(mouth),
                    crate::flow::formulas::ORIFICE
                ),
            );
        }
        if let Some(c) = o.catchment {
            self.line(
                out,
                "Drains",
                &format!(
                    "{} of water and {} of ground, traced in squares of {}; roofs and what lies outside the survey not counted",
                    m.area(c.water_m2),
                    m.area(c.ground_m2),
                    m.length(c.resolution_m)
                ),
            );
        }
        if let (Some(ends), Some(last)) = (o.outlet_ends, o.outlet_path.last()) {
            let mut way = match ends {
                End::Survey => "leaves the survey".to_string(),
                End::Water => "runs into another water".into(),
                End::Hollow => "ends in a hollow".into(),
                End::Lost => "was followed to here".into(),
            };
            way.push_str(&format!(" at {}", self.place([last[0], last[1]])));
            for met in &o.outlet_meets {
                way.push_str(&format!(
                    "; meets {} after {}",
                    met.name,
                    m.length(met.along_m)
                ));
            }
            self.line(out, "From outlet", &way);
        }
        match (o.wanted_m3_s, job.plumbing.rain) {
            (Some(wanted), Some(rain)) => self.line(
                out,
                "Must carry",
                &format!(
                    "{} in a rain of {}{}",
                    self.rate(wanted),
                    match m.0 {
                        Unit::Foot => format!("{} in/h", number(rain * 3600.0 / INCH, 2)),
                        Unit::Metre => format!("{} mm/h", number(rain * 3.6e6, 0)),
                    },
                    o.diameter_wanted_m.map_or(String::new(), |d| format!(
                        ": at this fall a pipe of {} inside or more",
                        self.bore(d)
                    ))
                ),
            ),
            _ => self.line(
                out,
                "Must carry",
                "not known: give `rain` in `plumbing` (inches or millimetres an hour), from the local code or weather service",
            ),
        }
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
