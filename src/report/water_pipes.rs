//! Pump and overflow pipes on the page of the water, in the job's unit.

use super::measure::number;
use super::water::Page;
use super::{Columns, hang, heading};
use crate::job::{Job, Unit};
use crate::plan::{Cover, End, FlowIs, OverflowPipe, PumpDuty};
use crate::units::INCH;

impl Page {
    pub fn pump(&self, out: &mut String, job: &Job, p: &PumpDuty) {
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
                match (d.duty, d.beyond) {
                    (Some(q), _) => self.bare_rate(q[0]),
                    (None, Some(end)) => format!("over\u{a0}{}", self.bare_rate(end[0])),
                    (None, None) => "–".into(),
                },
                d.duty.map_or("–".into(), |q| m.bare(q[1])),
                match (d.pipe == p.pipe, d.within_velocity) {
                    (true, true) => "lay".into(),
                    (true, false) => "lay,\u{a0}fast".into(),
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
                 curve meets the pipe's, {}/h at so much head{}. Lay: the one to lay{}. Fast: over the job's greatest \
                 speed, at the flow wanted or at what the pump gives.",
                m.water_unit(),
                if p.pipes.iter().any(|d| d.beyond.is_some()) {
                    "; over: its curve ends there, and it gives more"
                } else {
                    ""
                },
                if job
                    .plumbing
                    .pumps
                    .iter()
                    .any(|j| j.name == p.pump && j.pipe.is_empty())
                {
                    ", the narrowest that is not fast, or else the widest"
                } else {
                    ", as the job says"
                },
                u = m.length_unit()
            ),
            self.width,
        );
        let through = |d: Option<[f64; 2]>| {
            d.map_or(String::new(), |q| {
                format!(
                    "{} through {}, at {} of head",
                    self.rate(q[0]),
                    p.pipe,
                    m.length(q[1])
                )
            })
        };
        let laid = p.pipes.iter().find(|d| d.pipe == p.pipe);
        self.line(
            out,
            "Gives",
            &match p.flow_is {
                FlowIs::Duty => through(laid.and_then(|d| d.duty)),
                FlowIs::AtLeast => format!(
                    "at least {}, where its curve ends; all figures are for that",
                    through(laid.and_then(|d| d.beyond))
                ),
                FlowIs::Wanted => {
                    "not known: no curve tells it; all figures are for the flow wanted".into()
                }
                FlowIs::Nothing => {
                    "nothing that its curve shows, see the findings: no figures for a flow".into()
                }
            },
        );
        if p.flow_is == FlowIs::Nothing {
            out.push('\n');
            return;
        }
        let with = match p.beside.join(", ") {
            none if none.is_empty() => none,
            others => format!("with {others} as well, "),
        };
        let drop = p
            .start_drop_m
            .map_or("more than the basin holds".into(), |d| m.length(d));
        self.line(
            out,
            "Starting",
            &format!(
                "{with}lowers the basin by {drop}: {} go into pools, sills, sheets and {} of it into the pipe{}",
                self.amount(p.start_volume_m3.unwrap_or(0.0)),
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
                "{with}brings back {}{}{}",
                self.amount(p.stop_volume_m3.unwrap_or(0.0)),
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

    pub fn overflow(&self, out: &mut String, job: &Job, o: &OverflowPipe) {
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
        let mouth = o.cover.iter().take_while(|s| s.open).last();
        let mouth = mouth.map(|s| s.along_m).filter(|l| *l > 0.0);
        let end = o.cover.iter().rev().take_while(|s| s.open).last();
        let end = end.map(|s| o.length_m - s.along_m).filter(|l| *l > 0.0);
        let open = [
            mouth.map(|l| {
                format!(
                    "the first {} (in the basin, or so much from the inlet)",
                    m.length(l)
                )
            }),
            end.map(|l| format!("the last {}", m.length(l))),
        ];
        let open: Vec<String> = open.into_iter().flatten().collect();
        let covered = match o.cover_min_m {
            None => "nowhere: it lies open all along".into(),
            Some(c) if open.is_empty() => m.length(c),
            Some(c) => format!(
                "{}, not counting where it lies open: {}",
                m.length(c),
                open.join(" and ")
            ),
        };
        self.line(out, "Least cover", &covered);
        let step = o.cover.len().div_ceil(10).max(1);
        let mut table = Columns::new([">along", ">invert", ">ground", ">cover", ""]);
        // Every corner stands in it, whatever the steps between.
        let mut corners = Vec::new();
        let mut run = 0.0;
        for w in o.line.windows(2) {
            run += (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
            corners.push(run);
        }
        let corner = |s: &Cover| corners.iter().any(|c| (c - s.along_m).abs() < 1e-9);
        for (k, s) in o.cover.iter().enumerate() {
            if k % step == 0 || k + 1 == o.cover.len() || corner(s) {
                table.row([
                    m.bare(s.along_m),
                    m.bare(s.invert_m),
                    s.ground_m.map_or("–".into(), |g| m.bare(g)),
                    s.cover_m.map_or("–".into(), |c| m.bare(c)),
                    if s.open { "open" } else { "" }.into(),
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
                    "{} of water and {} of ground{}, traced in squares of {}; roofs and what lies outside the survey not counted",
                    m.area(c.water_m2),
                    m.area(c.ground_m2),
                    if c.level_m2 > 0.0 {
                        format!(
                            " ({} of it so level that it may as well run elsewhere)",
                            m.area(c.level_m2)
                        )
                    } else {
                        String::new()
                    },
                    m.length(c.resolution_m)
                ),
            );
        }
        if let (Some(ends), Some(last)) = (o.outlet_ends, o.outlet_path.last()) {
            let mut way = match ends {
                End::Survey => "leaves the survey".to_string(),
                End::Water if o.outlet_into.is_empty() => "runs into water".into(),
                End::Water => format!("runs into {}", o.outlet_into),
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
        let its = job.design.overflows.iter();
        let others = its.filter(|other| other.basin == o.basin).count() > 1;
        match (o.wanted_m3_s, job.plumbing.rain) {
            (Some(wanted), Some(rain)) => self.line(
                out,
                "Must carry",
                &format!(
                    "{}{} in a rain of {}{}",
                    self.rate(wanted),
                    if others { format!(", with the other pipes of {} together,", o.basin) } else { String::new() },
                    match m.0 {
                        Unit::Foot => format!("{} in/h", number(rain * 3600.0 / INCH, 2)),
                        Unit::Metre => format!("{} mm/h", number(rain * 3.6e6, if rain * 3.6e6 < 9.95 { 1 } else { 0 })),
                    },
                    o.diameter_wanted_m.map_or(String::new(), |d| format!(
                        ": at this fall, and with the water as deep over its mouth as it can get, {}a pipe of {} inside or more",
                        if others { "one alone would be " } else { "" },
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
