//! The way in, who carries what where, and the ramp, as sections of `brimline soil`.

use super::measure::number;
use super::{Columns, Measure, hang, heading};
use crate::plan::{
    AccessRoute, BESIDE, BY_HAND, Haul, Haulage, Plan, RampFigures, RampFound, STREET, Uncarried,
    WayIn,
};

/// Sections in their order; nothing where the job says nothing of it.
pub fn carrying(out: &mut String, plan: &Plan, haulage: &Haulage, m: Measure, width: usize) {
    if let Some(route) = &plan.access {
        access(out, route, &haulage.ways_in, m, width);
    }
    hauls(out, haulage, m, width);
    for ramp in &haulage.ramps {
        heading(out, &format!("Ramp: {}", ramp.name));
        ramp_figures(out, ramp, m, width);
        out.push('\n');
    }
    if let Some(found) = &haulage.found {
        ramp_found(out, found, !haulage.ramps.is_empty(), m, width);
    }
}

fn percent(gradient: f64) -> String {
    format!("{} %", number(100.0 * gradient, 0))
}

fn line(out: &mut String, what: &str, text: &str, width: usize) {
    hang(out, &format!("  {what:<12}"), text, width);
}

fn count(n: u32, one: &str, many: &str) -> String {
    let word = if n == 1 { one } else { many };
    format!("{} {word}", number(f64::from(n), 0))
}

fn access(out: &mut String, route: &AccessRoute, ways: &[WayIn], m: Measure, width: usize) {
    heading(out, "The way in, from the street");
    line(
        out,
        "Narrowest",
        &format!(
            "{}: {}, {} along its {}",
            m.length(route.narrowest_m),
            route.narrowest_name,
            m.length(route.narrowest_along_m),
            m.length(route.length_m)
        ),
        width,
    );
    let steepest = match route.gradient_max {
        Some(g) => format!(
            "{} at {} along, on the ground as it is",
            percent(g),
            m.length(route.gradient_along_m)
        ),
        None => "not known: it does not run over surveyed ground".into(),
    };
    line(out, "Steepest", &steepest, width);
    for steps in &route.steps {
        let planked = if steps.planked {
            format!("planked, {}", percent(steps.rise_m / steps.run_m))
        } else {
            "not planked".into()
        };
        let says = format!(
            "{}, {} along: {} high over {}, {planked}",
            steps.name,
            m.length(steps.along_m),
            m.length(steps.rise_m),
            m.length(steps.run_m)
        );
        line(out, "Steps", &says, width);
    }
    let paving = if route.boards > 0 {
        format!(
            "{} of it: {} of {} by {} in {}, over {} of fabric, {} each",
            m.length(route.over_paving_m),
            count(route.boards, "board", "boards"),
            m.length(route.board_length_m),
            m.length(route.board_width_m),
            count(route.tracks, "track", "tracks"),
            count(route.fabric_strips, "strip", "strips"),
            m.length(route.fabric_strip_m)
        )
    } else {
        "none crossed along it: no boards".into()
    };
    line(out, "Paving", &paving, width);
    for way in &route.machines {
        let says = if way.gets_in {
            format!("gets in (needs {})", m.length(way.needs_m))
        } else if way.why.is_empty() {
            format!(
                "not known: the ground along it is not surveyed (needs {})",
                m.length(way.needs_m)
            )
        } else {
            let round = match ways.iter().find(|w| w.by == way.name) {
                Some(WayIn {
                    to,
                    distance_m: Some(far),
                    gradient_max,
                    ..
                }) => format!(
                    "; as the ground lies it gets to {to} beside it: {} from the street, {} at most",
                    whole(*far, m),
                    percent(*gradient_max)
                ),
                Some(_) if way.shut_out && way.name == "barrow" => {
                    "; lifted in empty it serves within the yard".into()
                }
                Some(_) => "; and no other way for it was found".into(),
                None => String::new(),
            };
            format!("does not get in along it: {}{round}", way.why)
        };
        hang(out, &format!("  {}: ", way.name), &says, width);
    }
    out.push('\n');
}

/// Whole feet or metres: nobody paces a way closer.
fn whole(metres: f64, m: Measure) -> String {
    let each = match m.0 {
        crate::job::Unit::Foot => crate::units::FOOT,
        crate::job::Unit::Metre => 1.0,
    };
    format!("{} {}", number(metres / each, 0), m.length_unit())
}

/// "14 barrows", "9 loads".
fn counted(h: &Haul) -> String {
    match h.by.as_str() {
        "barrow" => count(h.loads, "barrow", "barrows"),
        BY_HAND => count(h.loads, "pair of buckets", "pairs of buckets"),
        _ => count(h.loads, "load", "loads"),
    }
}

/// "14 barrows of topsoil", "9 loads of common earth with the mini loader".
fn loads(h: &Haul) -> String {
    let (loads, soil) = (counted(h), &h.soil);
    match h.by.as_str() {
        "barrow" => format!("{loads} of {soil}"),
        BY_HAND => format!("{loads} of {soil} by hand"),
        by => format!("{loads} of {soil} with the {by}"),
    }
}

/// A line of the list in so few words that they fit over the yard: "14 barrows, pond → haul ramp,
/// 36 ft". `with_soil`: of which soil as well.
pub fn carried(h: &Haul, with_soil: bool, m: Measure) -> String {
    let soil = if with_soil {
        format!(" of {}", h.soil)
    } else {
        String::new()
    };
    let loads = if h.by == BESIDE {
        format!("{}{soil} within reach", m.volume(h.loose_m3))
    } else {
        counted(h) + &soil
    };
    // Parts of one work need not name it twice.
    let to = match (h.from.split_once(": "), h.to.split_once(": ")) {
        (Some((a, _)), Some((b, part))) if a == b => part,
        _ => &h.to,
    };
    let far = match h.distance_m {
        Some(_) if h.by == BESIDE => String::new(),
        Some(d) => format!(", {}", whole(d, m)),
        None => ", how far is not known".into(),
    };
    format!("{loads}, {} → {to}{far}", h.from)
}

/// "pond → berm, 36 ft away: 14 loads of common earth with the mini loader; ..."
fn carried_line(h: &Haul, m: Measure) -> String {
    let place = |name: &str, street: &str| {
        if name == STREET {
            street.to_string()
        } else {
            name.to_string()
        }
    };
    if h.by == BESIDE {
        return format!(
            "{} → {}: straight across, within reach; {} loose ({} bank)",
            h.from,
            h.to,
            m.volume(h.loose_m3),
            m.volume(h.bank_m3)
        );
    }
    let far = match h.distance_m {
        Some(d) if d >= 0.5 => format!(" {} away", whole(d, m)),
        Some(_) => " close by".into(),
        None => " how far is not known".into(),
    };
    format!(
        "{} → {},{far}: {}; {} loose ({} bank){}",
        place(&h.from, "the street (brought in)"),
        place(&h.to, "the street and the truck"),
        loads(h),
        m.volume(h.loose_m3),
        m.volume(h.bank_m3),
        if h.hours.is_finite() {
            format!(", {} h", number(h.hours, 1))
        } else {
            String::new()
        }
    )
}

/// What nobody carries, as the list says it beside its `!`:
/// "pond: nobody can take away 12 yd³ loose (9.6 yd³ bank) of common earth".
pub fn uncarried(u: &Uncarried, m: Measure) -> String {
    let (place, lack) = if u.from.is_empty() {
        (&u.to, "nobody can bring")
    } else {
        (&u.from, "nobody can take away")
    };
    format!(
        "{place}: {lack} {} loose ({} bank) of {}",
        m.volume(u.loose_m3),
        m.volume(u.bank_m3),
        u.soil
    )
}

fn hauls(out: &mut String, haulage: &Haulage, m: Measure, width: usize) {
    if haulage.hauls.is_empty() && haulage.uncarried.is_empty() {
        return;
    }
    heading(out, "Who carries what where");
    let stages = haulage.models.first().map_or(&[][..], |m| &m.stages);
    for stage in stages {
        let carried: Vec<&Haul> = haulage.hauls.iter().filter(|h| h.stage == *stage).collect();
        let left = haulage.uncarried.iter().filter(|u| u.stage == *stage);
        let left: Vec<&Uncarried> = left.collect();
        if carried.is_empty() && left.is_empty() {
            continue;
        }
        let name = if stage.is_empty() { "All works" } else { stage };
        out.push_str(&format!("{name}\n"));
        for h in carried {
            hang(out, "  · ", &carried_line(h, m), width);
        }
        for u in left {
            hang(out, "  ! ", &uncarried(u, m), width);
        }
    }
    out.push('\n');
    let mut table = Columns::new([
        "carried by",
        ">loads",
        ">hours",
        &format!(">{} loose", m.volume_unit()),
    ]);
    for c in &haulage.carriers {
        table.row([
            c.by.clone(),
            number(f64::from(c.loads), 0),
            match (c.all_known, c.hours > 0.0) {
                (true, _) => number(c.hours, 1),
                (false, true) => number(c.hours, 1) + " +",
                (false, false) => "not known".into(),
            },
            m.bare_volume(c.loose_m3),
        ]);
    }
    for (what, stays) in [("not taken away", true), ("not brought", false)] {
        let its = haulage
            .uncarried
            .iter()
            .filter(|u| u.to.is_empty() == stays);
        let loose: f64 = its.map(|u| u.loose_m3).sum();
        if loose > 0.0 {
            let none = String::new;
            table.row([what.into(), none(), none(), m.bare_volume(loose)]);
        }
    }
    table.write(out, width);
    if !haulage.uncarried.is_empty() {
        let says = "Not all is carried, so these sums are not of the whole job.";
        hang(out, "  ", says, width);
    }
    if haulage
        .carriers
        .iter()
        .any(|c| !c.all_known && c.hours > 0.0)
    {
        let says = "+: and the hours of the ways whose length is not known.";
        hang(out, "  ", says, width);
    }
    hang(
        out,
        "  ",
        &format!(
            "Hours fill, carry, empty and come back; digging and placing are not in them. Ways are the shortest over squares of {}, round walls, houses, keep-outs, piles and the dug pond, no steeper than each takes; a passage that is not a square wider than what is to go through may be missed.",
            m.length(haulage.cell_m)
        ),
        width,
    );
    out.push('\n');
}

fn ramp_figures(out: &mut String, r: &RampFigures, m: Measure, width: usize) {
    let on_ground = if r.on_ground_m > 0.05 {
        format!(
            ", {} of it over the ground as it lies",
            m.length(r.on_ground_m)
        )
    } else {
        String::new()
    };
    line(
        out,
        "Length",
        &format!(
            "{}{on_ground}, {} wide",
            m.length(r.length_m),
            m.length(r.width_m)
        ),
        width,
    );
    line(
        out,
        "Gradient",
        &format!(
            "{} at its steepest, {} allowed; {} in the wheel tracks{}",
            percent(r.gradient_max),
            percent(r.gradient_allowed),
            percent(r.track_gradient_max),
            if r.track_gradient_max > r.gradient_allowed + 0.005 {
                ", over rough ground: level them there before a machine uses it"
            } else {
                ""
            }
        ),
        width,
    );
    let cut = if r.cut_bank_m3 > 0.0005 {
        format!(", {} bank dug for it", m.volume(r.cut_bank_m3))
    } else {
        String::new()
    };
    line(
        out,
        "Soil",
        &format!("{} compacted{cut}", m.volume(r.compacted_m3)),
        width,
    );
    let crown = if r.crown_over_m > 0.005 {
        format!(
            "the ground stands up to {} over its top",
            m.length(r.crown_over_m)
        )
    } else {
        "its top clears the ground all along".into()
    };
    line(out, "Crown", &crown, width);
    let bend = match r.bend_radius_m {
        Some(b) if b > 10.0 * r.radius_needed_m.max(r.width_m) => "nearly straight".into(),
        Some(b) => format!(
            "room for a radius of {} in its sharpest bend; {} needed",
            m.length(b),
            m.length(r.radius_needed_m)
        ),
        None => "straight".into(),
    };
    line(out, "Turning", &bend, width);
}

/// `others`: the design has ramps.
fn ramp_found(out: &mut String, f: &RampFound, others: bool, m: Measure, width: usize) {
    heading(out, "Ramp found: the line that needs least soil");
    ramp_figures(out, &f.found, m, width);
    let mut way = String::new();
    for (k, p) in f.found.line.iter().enumerate() {
        let on_ground = k > 0 && f.found.on_ground.get(k - 1).copied().unwrap_or(false);
        way.push_str(match (k, on_ground) {
            (0, _) => "from ",
            (_, true) => ", over the ground to ",
            (_, false) => ", built to ",
        });
        way.push_str(&format!(
            "({}, {}) at {}",
            m.bare(p[0]),
            m.bare(p[1]),
            m.bare(p[2])
        ));
    }
    line(out, "Line", &way, width);
    if let (Some(own), Some(saving)) = (&f.own, f.saving_m3) {
        let says = if saving > 0.005 {
            format!(
                "{} less than {}, which moves {}",
                m.volume(saving),
                own.name,
                m.volume(own.compacted_m3 + own.cut_bank_m3)
            )
        } else {
            format!("nothing better than {} was found", own.name)
        };
        line(out, "Saving", &says, width);
    } else if others && !f.not_compared.is_empty() {
        let says = format!("not told: {}", f.not_compared);
        line(out, "Saving", &says, width);
    }
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Unit;

    #[test]
    fn a_haul_in_few_words() {
        let mut h = Haul {
            stage: "dig".into(),
            from: "pond".into(),
            to: "haul ramp".into(),
            soil: "common earth".into(),
            bank_m3: 1.0,
            loose_m3: 1.25,
            by: "barrow".into(),
            loads: 14,
            // 36 ft.
            distance_m: Some(10.97),
            hours: 0.5,
            gradient_max: 0.0,
            path: Vec::new(),
        };
        let feet = Measure(Unit::Foot);
        assert_eq!(
            carried(&h, false, feet),
            "14 barrows, pond → haul ramp, 36 ft"
        );
        h.by = "mini loader".into();
        h.loads = 1;
        h.distance_m = None;
        let not_known = "1 load of common earth, pond → haul ramp, how far is not known";
        assert_eq!(carried(&h, true, feet), not_known);
        h.by = BESIDE.into();
        h.distance_m = Some(0.4);
        h.from = "wall: base trench".into();
        h.to = "wall: refill".into();
        assert_eq!(
            carried(&h, true, Measure(Unit::Metre)),
            "1.25 m³ of common earth within reach, wall: base trench → refill"
        );
    }
}
