//! Maps of figures over the yard: how deep is dug and placed, and the freeboard round the water.
//! Their tints are also those of `ground.wgsl`; legends are drawn in them.
//!
//! Every map goes from pale to dark, so that print without colour keeps its order; dug is hatched
//! and placed dotted, so that the two are never told apart by hue alone.

use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use bevy_egui::egui::{self, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke};
use rayon::prelude::*;

use crate::job::Unit;
use crate::measure::{Depths, depths, step};
use crate::plan::{Verdict, Water};
use crate::terrain::Probe;
use crate::water::{BrimPoint, brim};

use super::Look;
use super::drape::Drape;
use super::figures::Figures;
use super::labels::{Of, Written};
use super::mesh::{Batch, Frame};
use super::paper;
use super::raise::Finishes;
use super::scene::{Layer, Part, Showing, Yard};
use super::signs;
use super::stuff::Stuff;

/// Most steps on either side of a map of depths.
pub const STEPS: usize = 6;
/// How far outwards from the water the brim is looked for, m.
const BRIM_REACH: f64 = 2.0;

/// The maps made so far, and the scale of each.
#[derive(Resource, Default)]
pub struct Charts {
    depth: [Option<Scale>; 3],
}

/// Steps of a map of depths.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    /// m; `None` where nothing is dug or placed.
    step: Option<f64>,
    dig: f64,
    place: f64,
}

impl Scale {
    fn of(depths: &Depths, unit: Unit) -> Scale {
        Scale {
            step: step(depths.dig.max(depths.place), unit, STEPS),
            dig: depths.dig,
            place: depths.place,
        }
    }

    fn count(&self) -> usize {
        self.steps(self.dig).max(self.steps(self.place))
    }

    fn steps(&self, depth: f64) -> usize {
        self.step
            .map_or(0, |s| (depth / s - 1e-6).ceil().max(0.0) as usize)
    }
}

/// The map of depths of this look.
#[derive(Component)]
pub struct Chart(Look);

/// Makes the map of the look on show when it is first asked for, and anew where the plan has
/// changed what it is of.
pub fn keep(
    mut commands: Commands,
    (yard, showing): (Res<Yard>, Res<Showing>),
    finishes: Res<Finishes>,
    mut charts: ResMut<Charts>,
    mut meshes: ResMut<Assets<Mesh>>,
    standing: Query<(Entity, &Chart, &Mesh3d)>,
) {
    if yard.is_changed() {
        let news = &yard.news;
        for look in Look::ALL {
            if news.frame || news.ground(Look::Existing) || news.ground(look) {
                charts.depth[look.index()] = None;
            }
        }
    }
    for look in [Some(showing.look), showing.wipe].into_iter().flatten() {
        if !showing.depth || look == Look::Existing || charts.depth[look.index()].is_some() {
            continue;
        }
        let depths = depths(&yard.plan.existing, look.surface(&yard.plan));
        let scale = Scale::of(&depths, yard.unit);
        charts.depth[look.index()] = Some(scale);
        let batch = depth_map(&depths, &scale, yard.drape(look), &yard.frame);
        let mut old: Option<(Entity, AssetId<Mesh>)> = standing
            .iter()
            .find(|(_, chart, _)| chart.0 == look)
            .map(|(entity, _, mesh)| (entity, mesh.id()));
        for (class, mesh) in batch.into_meshes() {
            // In place of the old one, so that nothing is missing in between.
            if let Some((_, id)) = old.take() {
                let _ = meshes.insert(id, mesh);
                continue;
            }
            commands.spawn((
                Mesh3d(meshes.add(mesh)),
                MeshMaterial3d(finishes.0[class.index()].clone()),
                Transform::from_scale(Vec3::new(1.0, showing.stretch, 1.0)),
                // Until it is known whether it is wanted.
                Visibility::Hidden,
                NotShadowCaster,
                NotShadowReceiver,
                Part::of(Layer::Depth, &[look]),
                Chart(look),
            ));
        }
        if let Some((entity, _)) = old {
            commands.entity(entity).despawn();
        }
    }
}

fn depth_map(depths: &Depths, scale: &Scale, drape: &Drape, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let lift = (frame.reach * 0.0012).clamp(0.005, 0.05);
    let count = scale.count() as f32;
    for t in &depths.triangles {
        // The plane under the middle: a corner at an upright face would find its top.
        let middle = [0, 1].map(|k| t.iter().map(|(p, _)| p[k]).sum::<f64>() / 3.0);
        let Some(plane) = drape.plane(middle) else {
            continue;
        };
        let at = t.map(|(p, _)| frame.scene([p[0], p[1], plane.height(p) + lift]));
        let extra = t.map(|(_, change)| {
            let steps = scale.step.map_or(0.0, |s| change / s);
            [steps as f32, count]
        });
        batch.triangle(at, extra, Stuff::Depth);
    }
    batch
}

/// Upper bounds of the steps of freeboard but the last, m. Common practice, no source.
pub fn brim_bounds(unit: Unit) -> [f64; 4] {
    match unit {
        Unit::Foot => [2.0, 4.0, 6.0, 12.0].map(|inch| inch * 0.0254),
        Unit::Metre => [0.05, 0.10, 0.15, 0.30],
    }
}

fn brim_step(freeboard: f64, unit: Unit) -> usize {
    brim_bounds(unit)
        .iter()
        .position(|b| freeboard < *b)
        .unwrap_or(4)
}

/// The ribbon round all water that has an edge.
pub fn ribbon(yard: &Yard) -> Batch {
    let mut batch = Batch::default();
    let frame = &yard.frame;
    let spacing = (frame.reach / 150.0).clamp(0.03, 0.5);
    let probe = Probe::new(&yard.plan.finished);
    let profile = |body: &Water| {
        brim(
            &probe,
            &body.edge,
            &body.sheet,
            body.level_m,
            BRIM_REACH,
            spacing,
        )
    };
    let profiles: Vec<_> = yard.plan.water.par_iter().map(profile).collect();
    for (body, profile) in yard.plan.water.iter().zip(&profiles) {
        for piece in profile {
            for w in piece.windows(2) {
                band(&mut batch, yard, body.level_m, &w[0], &w[1]);
            }
        }
    }
    batch
}

fn band(batch: &mut Batch, yard: &Yard, level: f64, a: &BrimPoint, b: &BrimPoint) {
    let frame = &yard.frame;
    let wide = (frame.reach * 0.022).clamp(0.05, 1.0);
    let lift = (frame.reach * 0.002).clamp(0.01, 0.05);
    let drape = yard.drape(Look::Finished);
    let at = |p: &BrimPoint, k: f64| {
        let q = [p.at[0] + k * p.out[0], p.at[1] + k * p.out[1]];
        let ground = drape.height(q).unwrap_or(level);
        frame.scene([q[0], q[1], ground.max(level) + lift])
    };
    // One tint from place to place, that of the lower: a shallow spot must not be blended away.
    let step = brim_step(a.freeboard.min(b.freeboard), yard.unit) as f32 + 0.5;
    let extra = [[step, 5.0]; 4];
    let mut corners = [at(a, 0.0), at(b, 0.0), at(b, wide), at(a, wide)];
    let up = (corners[1] - corners[0]).cross(corners[2] - corners[0]);
    if up.y < 0.0 {
        corners.reverse();
    }
    batch.quad(corners, extra, Stuff::Brim);
}

fn mix(a: [u8; 3], b: [u8; 3], t: f32) -> Color32 {
    // As the shader mixes: in light, not in code values.
    let channel = |k: usize| {
        let light = |v: u8| (f32::from(v) / 255.0).powf(2.2);
        let l = light(a[k]) + (light(b[k]) - light(a[k])) * t;
        (l.powf(1.0 / 2.2) * 255.0).round() as u8
    };
    Color32::from_rgb(channel(0), channel(1), channel(2))
}

pub fn dig_tint(t: f32) -> Color32 {
    mix([246, 220, 176], [122, 44, 16], t)
}

pub fn place_tint(t: f32) -> Color32 {
    mix([206, 228, 232], [16, 62, 92], t)
}

fn brim_tint(t: f32) -> Color32 {
    mix([120, 22, 8], [250, 240, 214], t)
}

pub enum Mark {
    Hatch,
    Dots,
    Plain,
    /// The sign of a shot.
    Sign(Verdict),
}

/// Of ground that is as it should be, or as it was.
pub const UNTOUCHED: Color32 = Color32::from_rgb(240, 236, 226);

/// One line of a legend.
pub struct Row {
    pub tint: Color32,
    pub mark: Mark,
    pub words: String,
}

/// Legends of the maps on show, from a lower left corner on; returns them with where they lie.
pub fn legends(
    painter: &Painter,
    mut corner: Pos2,
    charts: &Charts,
    yard: &Yard,
    showing: &Showing,
    figures: Figures,
) -> Vec<Written> {
    let mut out = Vec::new();
    let mut lay = |title: &str, corner: Pos2, rows: &[Row], of: Of| {
        let rect = sheet(painter, corner, title, rows);
        out.push(Written {
            words: title.to_owned(),
            rect,
            of,
        });
        rect
    };
    let scale = charts.depth[showing.look.index()].filter(|_| showing.depth && showing.is_look());
    if let Some(scale) = scale {
        let title = match showing.look {
            Look::Dug => "Existing to dug",
            _ => "Existing to finished",
        };
        let rows = depth_rows(&scale, figures);
        let rect = lay(title, corner, &rows, Of::Depths(showing.look));
        corner.x = rect.right() + 10.0;
    }
    if showing.brim
        && showing.is_look()
        && showing.look == Look::Finished
        && !yard.plan.water.is_empty()
    {
        lay("Freeboard", corner, &brim_rows(yard.unit), Of::Brim);
    }
    out
}

fn depth_rows(scale: &Scale, figures: Figures) -> Vec<Row> {
    let Some(step) = scale.step else {
        return vec![Row {
            tint: UNTOUCHED,
            mark: Mark::Plain,
            words: "nothing dug or placed".into(),
        }];
    };
    let last = (scale.count().max(2) - 1) as f32;
    let side = |depth: f64, dig: bool| {
        (0..scale.steps(depth)).map(move |k| {
            let t = k as f32 / last;
            let words = format!(
                "{} {}–{} {}",
                if dig { "dig" } else { "place" },
                figures.short(k as f64 * step),
                figures.short((k + 1) as f64 * step),
                figures.length_unit()
            );
            Row {
                tint: if dig { dig_tint(t) } else { place_tint(t) },
                mark: if dig { Mark::Hatch } else { Mark::Dots },
                words,
            }
        })
    };
    // The highest on top, as in the ground.
    let mut rows: Vec<Row> = side(scale.place, false).collect();
    rows.reverse();
    rows.push(Row {
        tint: UNTOUCHED,
        mark: Mark::Plain,
        words: "untouched".into(),
    });
    rows.extend(side(scale.dig, true));
    rows
}

fn brim_rows(unit: Unit) -> Vec<Row> {
    let words = match unit {
        Unit::Foot => ["under 2 in", "2–4 in", "4–6 in", "6–12 in", "12 in or more"],
        Unit::Metre => [
            "under 5 cm",
            "5–10 cm",
            "10–15 cm",
            "15–30 cm",
            "30 cm or more",
        ],
    };
    words
        .into_iter()
        .enumerate()
        .map(|(k, words)| Row {
            tint: brim_tint(k as f32 / 4.0),
            mark: Mark::Plain,
            words: words.into(),
        })
        .rev()
        .collect()
}

/// A legend with its lower left corner there; returns where it lies.
pub fn sheet(painter: &Painter, corner: Pos2, title: &str, rows: &[Row]) -> Rect {
    const LINE: f32 = 18.0;
    let font = FontId::monospace(12.0);
    let heading = FontId::proportional(13.0);
    let texts: Vec<_> = rows
        .iter()
        .map(|r| painter.layout_no_wrap(r.words.clone(), font.clone(), paper::INK))
        .collect();
    let head = painter.layout_no_wrap(title.to_owned(), heading, paper::ACCENT);
    let widest = texts
        .iter()
        .map(|t| t.size().x + 36.0)
        .fold(head.size().x, f32::max);
    let size = egui::vec2(widest + 18.0, LINE * (rows.len() + 1) as f32 + 12.0);
    let rect = Rect::from_min_size(corner - egui::vec2(0.0, size.y), size);
    painter.rect(
        rect,
        2.0,
        paper::PAPER,
        Stroke::new(1.0, paper::RULE),
        egui::StrokeKind::Inside,
    );
    let mut at = rect.min + egui::vec2(9.0, 6.0);
    painter.galley(at, head, paper::ACCENT);
    for (row, text) in rows.iter().zip(texts) {
        at.y += LINE;
        let patch = Rect::from_min_size(at + egui::vec2(0.0, 1.0), egui::vec2(28.0, LINE));
        if let Mark::Sign(verdict) = row.mark {
            signs::shot(painter, patch.center(), 13.0, verdict);
        } else {
            painter.rect_filled(patch, 0.0, row.tint);
            marks(painter, patch, &row.mark, row.tint);
            painter.rect_stroke(
                patch,
                0.0,
                Stroke::new(0.6, paper::INK),
                egui::StrokeKind::Inside,
            );
        }
        let y = patch.center().y - text.size().y / 2.0;
        painter.galley(Pos2::new(patch.right() + 8.0, y), text, paper::INK);
    }
    rect
}

fn marks(painter: &Painter, patch: Rect, mark: &Mark, tint: Color32) {
    let darker = |k: f32| {
        let f = |v: u8| ((f32::from(v) / 255.0).powf(2.2) * k).powf(1.0 / 2.2) * 255.0;
        Color32::from_rgb(f(tint.r()) as u8, f(tint.g()) as u8, f(tint.b()) as u8)
    };
    let painter = painter.with_clip_rect(patch.intersect(painter.clip_rect()));
    match mark {
        Mark::Hatch => {
            let mut x = patch.left() - patch.height();
            while x < patch.right() {
                painter.line_segment(
                    [
                        Pos2::new(x, patch.bottom()),
                        Pos2::new(x + patch.height(), patch.top()),
                    ],
                    Stroke::new(1.2, darker(0.55)),
                );
                x += 7.0;
            }
        }
        Mark::Dots => {
            for (i, y) in [5.0, 12.0].into_iter().enumerate() {
                let mut x = patch.left() + 3.5 + 3.5 * i as f32;
                while x < patch.right() {
                    painter.add(Shape::circle_filled(
                        Pos2::new(x, patch.top() + y),
                        1.4,
                        darker(0.45),
                    ));
                    x += 7.0;
                }
            }
        }
        Mark::Plain | Mark::Sign(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, IEC 61966-2-1 weights on a plain power of 2.2.
    fn light(c: Color32) -> f32 {
        let l = |v: u8| (f32::from(v) / 255.0).powf(2.2);
        0.2126 * l(c.r()) + 0.7152 * l(c.g()) + 0.0722 * l(c.b())
    }

    #[test]
    fn every_scale_keeps_its_order_without_colour() {
        for tint in [dig_tint, place_tint] {
            let steps: Vec<f32> = (0..STEPS)
                .map(|k| light(tint(k as f32 / (STEPS - 1) as f32)))
                .collect();
            assert!(
                steps.windows(2).all(|w| w[1] < w[0] - 0.02),
                "deeper must be darker: {steps:?}"
            );
        }
        let brim: Vec<f32> = (0..5).map(|k| light(brim_tint(k as f32 / 4.0))).collect();
        assert!(brim.windows(2).all(|w| w[1] > w[0] + 0.05), "{brim:?}");
    }

    #[test]
    fn freeboard_falls_into_its_step() {
        let steps = [0.0, 0.06, 0.149, 0.2, 3.0].map(|f| brim_step(f, Unit::Metre));
        assert_eq!(steps, [0, 1, 2, 3, 4]);
    }
}
