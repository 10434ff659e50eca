//! Liner and underlayment: one sheet for each basin, one for each cascade that runs on over the
//! basin's, and for comparison one over both. Metres, m².

use rayon::prelude::*;

use super::lined::{Lining, Part, Skin};
use super::lines::Say;
use super::sheet::{Margin, sheet, whole_lots};
use crate::job::{Basin, Cascade, Job, Layer, LayerOn, Stuff};
use crate::plan::{Item, Kind, Of, Order, Plan, Sheet, Takeoff, Trade};

/// The lining of a basin, with its pits, up to its edge; `None` where its water is not known.
pub fn of_basin<'a>(basin: &'a Basin, plan: &Plan) -> Option<Vec<Lining<'a>>> {
    let water = plan.water.iter().find(|w| w.name == basin.name)?;
    let edge = water.level_m + basin.edge_above;
    let mut list = vec![Lining {
        name: &basin.name,
        kind: Kind::Basin,
        edge,
    }];
    list.extend(basin.pits.iter().map(|p| Lining {
        name: &p.name,
        kind: Kind::Pit,
        edge,
    }));
    Some(list)
}

pub fn of_cascade<'a>(cascade: &'a Cascade, plan: &Plan) -> Option<Vec<Lining<'a>>> {
    let list: Vec<Lining> = cascade
        .pools
        .iter()
        .filter_map(|p| {
            let water = plan.water.iter().find(|w| w.name == p.name)?;
            Some(Lining {
                name: &p.name,
                kind: Kind::Cascade,
                edge: water.level_m + cascade.berm.freeboard,
            })
        })
        .collect();
    (list.len() == cascade.pools.len()).then_some(list)
}

pub fn of(job: &Job, plan: &Plan) -> Takeoff {
    let design = &job.design;
    let (basins, cascades): (Vec<Takeoff>, Vec<Takeoff>) = rayon::join(
        || {
            let basins = design.basins.par_iter();
            basins.map(|b| of_one_basin(job, plan, b)).collect()
        },
        || {
            let cascades = design.cascades.par_iter();
            cascades.map(|c| of_one_cascade(job, plan, c)).collect()
        },
    );
    let mut out = Takeoff::default();
    basins
        .into_iter()
        .chain(cascades)
        .for_each(|part| out.add(part));
    out
}

fn of_one_basin(job: &Job, plan: &Plan, basin: &Basin) -> Takeoff {
    let mut out = Takeoff::default();
    let Some(linings) = of_basin(basin, plan) else {
        out.notes.push(format!(
            "{}: its water is not known, so no lining is taken off.",
            basin.name
        ));
        return out;
    };
    let tuck = job.materials.liner.tuck;
    let margin = Margin {
        along: 2.0 * tuck,
        across: 2.0 * tuck,
        toward: None,
    };
    let own = || {
        let skin = Skin::of(&plan.dug, &plan.makers, &linings);
        let beyond = format!("{} tuck on every side", Say(job.unit).length(tuck));
        (!skin.is_empty()).then(|| {
            let (name, layers) = (&basin.name, &basin.lining);
            body(job, &skin, name, layers, &margin, &beyond)
        })
    };
    let (own, whole) = rayon::join(own, || compare(job, plan, basin, &linings, &margin));
    match own {
        None => out.notes.push(format!(
            "{}: nothing is dug under its lining's edge, so no lining is taken off.",
            basin.name
        )),
        Some(own) => {
            out.add(own);
            out.sheets.extend(whole);
        }
    }
    out
}

fn of_one_cascade(job: &Job, plan: &Plan, cascade: &Cascade) -> Takeoff {
    let mut out = Takeoff::default();
    let Some(linings) = of_cascade(cascade, plan) else {
        out.notes.push(format!(
            "{}: not all of its pools have water, so no lining is taken off.",
            cascade.name
        ));
        return out;
    };
    let skin = Skin::of(&plan.dug, &plan.makers, &linings);
    if skin.is_empty() {
        return out;
    }
    let ends: Option<Vec<[f64; 2]>> = [cascade.centreline.first(), cascade.centreline.last()]
        .into_iter()
        .map(|at| plan.survey.locate(at?, &job.field_book).ok())
        .collect();
    let stock = &job.materials.liner;
    let margin = Margin {
        along: stock.tuck + stock.overlap,
        across: 2.0 * stock.tuck,
        toward: ends.map(|e| [e[1][0] - e[0][0], e[1][1] - e[0][1]]),
    };
    let say = Say(job.unit);
    let beyond = format!(
        "{} tuck at the top and on both sides, {} overlap down into {}",
        say.length(stock.tuck),
        say.length(stock.overlap),
        cascade.into
    );
    let (name, layers) = (&cascade.name, &cascade.lining);
    body(job, &skin, name, layers, &margin, &beyond)
}

/// One sheet over a basin and all that falls into it, for comparison.
fn compare(
    job: &Job,
    plan: &Plan,
    basin: &Basin,
    linings: &[Lining],
    margin: &Margin,
) -> Option<Sheet> {
    let falls: Vec<&Cascade> = job
        .design
        .cascades
        .iter()
        .filter(|c| c.into == basin.name)
        .collect();
    let lined = |layers: &[Layer]| {
        layers
            .iter()
            .any(|l| job.materials.stuff(&l.name) == Stuff::Liner)
    };
    if falls.is_empty() || !lined(&basin.lining) || !falls.iter().all(|c| lined(&c.lining)) {
        return None;
    }
    let mut linings = linings.to_vec();
    for cascade in &falls {
        linings.extend(of_cascade(cascade, plan).unwrap_or_default());
    }
    let skin = Skin::of(&plan.dug, &plan.makers, &linings);
    let names: Vec<&str> = std::iter::once(basin.name.as_str())
        .chain(falls.iter().map(|c| c.name.as_str()))
        .collect();
    let stock = &job.materials.liner;
    let whole = sheet(&skin, &names.join(" and "), margin, stock, job.unit)?;
    Some(Sheet {
        ordered: false,
        ..whole
    })
}

fn body(
    job: &Job,
    skin: &Skin,
    name: &str,
    layers: &[Layer],
    margin: &Margin,
    beyond: &str,
) -> Takeoff {
    let mut out = Takeoff::default();
    let m = &job.materials;
    let say = Say(job.unit);
    let liner_at = layers.iter().position(|l| m.stuff(&l.name) == Stuff::Liner);
    if liner_at.is_none() {
        out.notes.push(format!(
            "{name}: no layer of its lining is a liner, so no sheet is taken off. If it is lined, name the layer in `lining`."
        ));
    }
    for (k, layer) in layers.iter().enumerate() {
        let takes = |part: Part| match layer.on {
            LayerOn::All => true,
            LayerOn::Level => part != Part::Side,
            LayerOn::Floor => part == Part::Floor,
        };
        match m.stuff(&layer.name) {
            Stuff::Liner => {
                let Some(sheet) = sheet(skin, name, margin, &m.liner, job.unit) else {
                    continue;
                };
                let item = liner(&sheet, &layer.name, beyond, m.waste.liner, say);
                out.items.push(item);
                out.sheets.push(sheet);
            }
            Stuff::Underlayment => {
                let area = skin.area(takes);
                let width = m.liner.underlayment_width(job.unit);
                let where_ = match liner_at {
                    Some(at) if k < at => "under the liner",
                    Some(_) => "over the liner",
                    None => "on the soil",
                };
                let item = Item::new(Trade::Lining, format!("{}, {where_}", layer.name), name).net(
                    Of::Area,
                    area,
                    m.waste.underlayment,
                );
                let gross = item.gross.map_or(area, |g| g.value);
                let length = whole_lots(gross / width, m.liner.cut);
                let mut item = item.how(format!(
                    "area along the dug surface up to the lining's edge {}, {} off a roll {} wide",
                    say.area(area),
                    say.length(length),
                    say.length(width)
                ));
                item.order = Some(Order {
                    of: Of::Area,
                    least: length * width,
                    most: length * width,
                    lot: m.liner.cut * width,
                });
                out.items.push(item);
            }
            Stuff::Stone => {}
        }
    }
    out
}

fn liner(sheet: &Sheet, layer: &str, beyond: &str, waste: f64, say: Say) -> Item {
    let area = sheet.long_m * sheet.short_m;
    let roll = if sheet.widths == 1 {
        format!(
            "one piece, {} off a roll {} wide, no seam",
            say.length(sheet.cut_m),
            say.length(sheet.roll_m)
        )
    } else {
        format!(
            "{} widths of {}, each {} long, {} of seam",
            sheet.widths,
            say.length(sheet.roll_m),
            say.length(sheet.cut_m),
            say.length(sheet.seams_m)
        )
    };
    let item = Item::new(
        Trade::Lining,
        format!(
            "{layer}, sheet {} × {}",
            say.length(sheet.long_m),
            say.length(sheet.short_m)
        ),
        &sheet.place,
    )
    .net(Of::Area, area, waste)
    .how(format!(
        "taped along the dug surface with its upright faces up to the lining's edge: longest section \
         {} one way, {} the other; {beyond}; {roll}. Long side at {:.0}° from the x axis, \
         counter-clockwise. It covers {}, so {:.0} % of the sheet lies in folds, corners and tuck",
        say.length(sheet.long_section_m),
        say.length(sheet.short_section_m),
        sheet.angle,
        say.area(sheet.surface_m2),
        100.0 * (1.0 - sheet.surface_m2 / area)
    ));
    let rolls = f64::from(sheet.widths) * sheet.roll_m * sheet.cut_m;
    let order = rolls * (1.0 + waste / 100.0);
    Item {
        order: Some(Order {
            of: Of::Area,
            least: order,
            most: order,
            lot: sheet.roll_m,
        }),
        ..item
    }
}
