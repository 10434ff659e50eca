//! The banks and what grows on them as a map from above, each place with its height and tint: the
//! client's water follows its mirrored lines over it. Walls are left out, they are mirrored as what
//! they are. Drawn for looks.

use bevy::image::{Image, ImageSampler};
use bevy::math::Vec4;
use bevy::prelude::default;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};
use rayon::prelude::*;

use crate::plan::Kind;
use crate::view::Look;
use crate::view::scene::Yard;
use crate::view::stuff::Stuff;

use super::planting::Clump;

const SIDE: usize = 256;
/// How far about the water it goes, m.
const ABOUT: f64 = 4.0;
/// What stands higher over the lowest water is mirrored as if it stood so high, m.
const TALL: f64 = 3.0;

/// The map, and where it lies in the scene.
pub struct Garden {
    pub map: Image,
    /// x and z of its corner, and shares of it to a metre along each.
    pub place: Vec4,
    /// Scene height of its lowest step, and how far it goes up from there.
    pub heights: Vec4,
}

/// `None` without water.
pub fn garden(yard: &Yard, clumps: &[Clump]) -> Option<Garden> {
    let plan = &yard.plan;
    let edge = || plan.water.iter().flat_map(|w| w.edge.iter().flatten());
    let ends = |k: usize| {
        edge().fold([f64::INFINITY, f64::NEG_INFINITY], |[lo, hi], p| {
            [lo.min(p[k]), hi.max(p[k])]
        })
    };
    let [[west, east], [south, north]] =
        [ends(0), ends(1)].map(|[lo, hi]| [lo - ABOUT, hi + ABOUT]);
    let level = plan.water.iter().map(|w| w.level_m);
    let low = level.fold(f64::INFINITY, f64::min) - 0.02;
    if !(low.is_finite() && west.is_finite() && east.is_finite()) {
        return None;
    }
    let size = [east - west, north - south];
    let step = size.map(|s| s / SIDE as f64);
    let share = |z: f64| (((z - low) / TALL).clamp(0.0, 1.0) * 255.0).round() as u8;
    let drape = yard.drape(Look::Finished);
    let ground = |cell: usize| {
        // Rows run along the scene's z, which is minus the plan's y.
        let p = [
            west + ((cell % SIDE) as f64 + 0.5) * step[0],
            north - ((cell / SIDE) as f64 + 0.5) * step[1],
        ];
        let Some(t) = drape.triangle(p) else {
            return [0; 4];
        };
        let by = plan.finished.made_by.get(t).copied().unwrap_or(0);
        let made = plan.makers.get(usize::from(by));
        if made.is_some_and(|m| matches!(m.kind, Kind::Wall | Kind::StandingWall)) {
            return [0; 4];
        }
        let [r, g, b] = match Stuff::of(made, Look::Finished) {
            Stuff::Grass => [112, 122, 78],
            Stuff::Bed | Stuff::Soil => [104, 84, 62],
            _ => [150, 142, 128],
        };
        [r, g, b, share(drape.height(p).unwrap_or(low))]
    };
    let mut cells: Vec<[u8; 4]> = (0..SIDE * SIDE).into_par_iter().map(ground).collect();
    for clump in clumps {
        let at = yard.frame.plan(clump.foot);
        let wide = f64::from(clump.wide);
        let cells_of = |from: f64, to: f64, step: f64| {
            let cell = |d: f64| (d / step).clamp(0.0, SIDE as f64 - 1.0) as usize;
            cell(from)..=cell(to)
        };
        let (x, y) = (at[0] - west, north - at[1]);
        if x < 0.0 || y < 0.0 || x > size[0] || y > size[1] {
            continue;
        }
        for row in cells_of(y - wide, y + wide, step[1]) {
            for column in cells_of(x - wide, x + wide, step[0]) {
                let dx = (column as f64 + 0.5) * step[0] - x;
                let dy = (row as f64 + 0.5) * step[1] - y;
                let off = dx.hypot(dy) / wide.max(0.5 * step[0].max(step[1]));
                if off < 1.0 {
                    let top = share(at[2] + f64::from(clump.tall) * (1.0 - off * off).sqrt());
                    let cell = &mut cells[row * SIDE + column];
                    if top > cell[3] {
                        let [r, g, b] = clump.tint;
                        *cell = [r, g, b, top];
                    }
                }
            }
        }
    }
    let corner = yard.frame.scene([west, north, low]);
    let mut map = Image::new(
        Extent3d {
            width: SIDE as u32,
            height: SIDE as u32,
            depth_or_array_layers: 1,
        },
        TextureDimension::D2,
        cells.into_iter().flatten().collect(),
        TextureFormat::Rgba8UnormSrgb,
        default(),
    );
    map.sampler = ImageSampler::linear();
    let [across, along] = size.map(|s| (1.0 / s) as f32);
    Some(Garden {
        map,
        place: Vec4::new(corner.x, corner.z, across, along),
        heights: Vec4::new(corner.y, TALL as f32, 0.0, 0.0),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::Editor;
    use crate::plan::Plan;
    use bevy::math::Vec3;

    /// A clump stands in the map where it stands in the yard, as high as it is; the water's own bed
    /// is lower than the water.
    #[test]
    fn a_clump_stands_over_its_bank_and_the_bed_under_its_water() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let editor = Editor::open(&path).unwrap_or_else(|e| panic!("{e}"));
        let job = editor.job().expect("a good job").clone();
        let yard = Yard::new(Plan::of(&job), job.unit);
        let pond = yard.plan.water.iter().find(|w| w.name == "pond");
        let pond = pond.expect("a pond");
        let shore = pond.edge[0][0];
        let foot = yard.frame.scene([shore[0], shore[1], pond.level_m]);
        let clump = Clump {
            foot,
            wide: 0.3,
            tall: 0.9,
            tint: [1, 2, 3],
        };
        let garden = garden(&yard, &[clump]).expect("a map");
        let data = garden.map.data.as_ref().expect("pixels");
        let height = |at: Vec3| {
            let u = (at.x - garden.place.x) * garden.place.z;
            let v = (at.z - garden.place.y) * garden.place.w;
            let cell = (v * SIDE as f32) as usize * SIDE + (u * SIDE as f32) as usize;
            garden.heights.x + garden.heights.y * f32::from(data[4 * cell + 3]) / 255.0
        };
        let stands = height(foot) - foot.y;
        assert!((0.75..=0.92).contains(&stands), "it stands {stands} m high");
        let t = pond.sheet[pond.sheet.len() / 2];
        let middle = [0, 1].map(|k| t.iter().map(|p| p[k]).sum::<f64>() / 3.0);
        let at = yard.frame.scene([middle[0], middle[1], pond.level_m]);
        assert!(height(at) < at.y, "the bed is mirrored");
    }
}
