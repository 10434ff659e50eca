//! New walls: block by face area and courses, caps, base, drainage; grid where the wall is high.
//! The foot is level, as the plan builds it, so every course runs the whole length. Metres, m², m³.

use super::layers::weighed;
use super::lines::Say;
use crate::earthwork::facet;
use crate::job::{Job, NewWall, Side};
use crate::plan::{Item, Of, Plan, Takeoff, Trade};
use crate::terrain::predicates::P2;
use crate::terrain::{Probe, line};

/// A wall that lacks this share of a course is not built a course higher for it.
const HARDLY: f64 = 0.15;
/// How far in front of the face the ground is read, metres.
const IN_FRONT: f64 = 0.002;

pub fn of(job: &Job, plan: &Plan, out: &mut Takeoff) {
    if job.design.walls.is_empty() {
        return;
    }
    let probe = Probe::new(&plan.finished);
    for wall in &job.design.walls {
        let solid = plan.solids.iter().find(|s| s.new && s.name == wall.name);
        let line = plan.survey.line(&wall.line, &job.field_book);
        let (Some(solid), Ok(mut line)) = (solid, line) else {
            out.notes
                .push(format!("{}: it is not built, so not taken off.", wall.name));
            continue;
        };
        line.dedup_by(|a, b| (a[0] - b[0]).hypot(a[1] - b[1]) <= 1e-6);
        one(job, plan, &probe, wall, &line, [solid.base, solid.cap], out);
    }
}

/// Face area above the ground in front, m².
fn visible(probe: &Probe, wall: &NewWall, line: &[P2], cap: f64) -> f64 {
    let (right, left) = facet::edges_of(line, IN_FRONT, IN_FRONT);
    let front = if wall.back == Side::Left { right } else { left };
    front
        .windows(2)
        .map(|w| {
            probe
                .section(w[0], w[1])
                .windows(2)
                .map(|s| (s[1][0] - s[0][0]) * (cap - 0.5 * (s[0][1] + s[1][1])).max(0.0))
                .sum::<f64>()
        })
        .sum()
}

fn one(
    job: &Job,
    plan: &Plan,
    probe: &Probe,
    wall: &NewWall,
    line: &[P2],
    [foot, cap]: [f64; 2],
    out: &mut Takeoff,
) {
    let say = Say(job.unit);
    let m = &job.materials;
    let (stock, waste) = (&m.block, &m.waste);
    let name = wall.name.as_str();
    let height = cap - foot;
    let front = line::length(line);
    let across = |d: f64| {
        let (right, left) = facet::edges_of(line, d, d);
        if wall.back == Side::Left { left } else { right }
    };
    let back = line::length(&across(wall.thickness));
    let middle = line::length(&across(0.5 * wall.thickness));
    let face = front * height;
    let seen = visible(probe, wall, line, cap).min(face);

    let courses = (height - stock.cap_height) / stock.height;
    let whole = (courses - HARDLY).ceil().max(1.0);
    let left_over = whole * stock.height + stock.cap_height - height;
    let fit = if left_over.abs() < 0.02 * stock.height {
        "which fits".to_string()
    } else if left_over > 0.0 {
        format!(
            "which is {} too high: set the foot that much deeper, or the cap higher",
            say.length(left_over)
        )
    } else {
        format!(
            "which is {} short: set the foot that much higher",
            say.length(-left_over)
        )
    };
    let blocks_in_course: f64 = (front / stock.length - 1e-6).ceil();
    let caps = if stock.cap_height > 0.0 {
        format!(" and a cap of {}", say.size(stock.cap_height))
    } else {
        String::new()
    };
    out.items.push(
        Item::new(
            Trade::Wall,
            format!("block, {} × {}", say.size(stock.length), say.size(stock.height)),
            name,
        )
        .net(Of::Pieces, whole * blocks_in_course, waste.block)
        .by_lot(1.0)
        .how(format!(
            "face {} long and {} from foot to cap: {}, of it {} to be seen and {} in the ground; {} \
             courses of {}{caps}, {fit}; {} blocks to a course",
            say.length(front),
            say.length(height),
            say.area(face),
            say.area(seen),
            say.area(face - seen),
            whole,
            say.size(stock.height),
            blocks_in_course,
        )),
    );
    if stock.cap_height > 0.0 {
        out.items.push(
            Item::new(
                Trade::Wall,
                format!("cap, {} long", say.size(stock.cap_length)),
                name,
            )
            .net(
                Of::Pieces,
                (middle / stock.cap_length - 1e-6).ceil(),
                waste.block,
            )
            .by_lot(1.0)
            .how(format!("middle of the wall {} long", say.length(middle))),
        );
    }
    let placed = |part: &str| -> f64 {
        let courses = plan.volumes.base_courses.iter();
        let its = courses.filter(|c| c.wall == name && c.part == part);
        its.map(|c| c.compacted_m3).sum()
    };
    let base = placed("base course");
    if base > 0.0 {
        out.items.push(weighed(
            Item::new(Trade::Wall, "base stone, compacted", name),
            base,
            &format!(
                "volume placed by the plan in the base trench, {} wide and {} thick: {}",
                say.size(wall.base_width),
                say.size(wall.base_thickness),
                say.volume(base)
            ),
            job,
        ));
    }
    if let Some(backfill) = &wall.backfill {
        if stock.drain {
            let length = m.pipe.stock_length(job.unit);
            out.items.push(
                Item::new(Trade::Wall, "drain pipe, perforated", name)
                    .net(Of::Length, back, waste.pipe)
                    .by_lot(length)
                    .how(format!(
                        "along the foot of the back, {} long, in lengths of {}; its outlet to lower \
                         ground is not in it",
                        say.length(back),
                        say.length(length)
                    )),
            );
        }
        let thick = stock.drain_stone.min(backfill.width);
        let volume = placed("drainage stone");
        if thick > 0.0 && volume > 0.0 {
            out.items.push(weighed(
                Item::new(Trade::Wall, "drainage stone", name),
                volume,
                &format!(
                    "volume placed by the plan behind the wall, {} thick, from the base course up: {}, \
                     which is not in the backfill",
                    say.size(thick),
                    say.volume(volume)
                ),
                job,
            ));
        }
    }
    // A wall that is 4 ft on paper may come out a few digits less.
    if height > stock.grid_from - 1e-6 {
        out.items.push(Item::new(Trade::Wall, "reinforcing grid", name).how(format!(
            "{} from foot to cap, over {}: whether, how long and at which courses is for a licensed \
             professional (many local codes; from memory); nothing is counted here",
            say.length(height),
            say.length(stock.grid_from)
        )));
    }
}
