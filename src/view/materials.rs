//! The two materials: the model's surfaces, and water. Their shaders stand beside this file.

use bevy::asset::uuid_handle;
use bevy::image::{Image, ImageSampler};
use bevy::math::Vec4;
use bevy::mesh::MeshVertexBufferLayoutRef;
use bevy::pbr::{
    ExtendedMaterial, MaterialExtension, MaterialExtensionKey, MaterialExtensionPipeline,
    MaterialPlugin,
};
use bevy::prelude::*;
use bevy::render::render_resource::{
    AsBindGroup, Extent3d, RenderPipelineDescriptor, ShaderType, SpecializedMeshPipelineError,
    TextureDimension, TextureFormat,
};
use bevy::shader::ShaderRef;
use rayon::prelude::*;

use crate::plan::{Mark, MarkKind};

use super::mesh::Frame;
use super::stuff::Class;

const GROUND: Handle<Shader> = uuid_handle!("5a0c9a7e-6f0e-4c8f-9a53-0f2a3c7b1d01");
const WATER: Handle<Shader> = uuid_handle!("5a0c9a7e-6f0e-4c8f-9a53-0f2a3c7b1d02");

pub type GroundMaterial = ExtendedMaterial<StandardMaterial, GroundFinish>;
pub type WaterMaterial = ExtendedMaterial<StandardMaterial, WaterFinish>;

#[derive(Asset, AsBindGroup, TypePath, Debug, Clone)]
#[bind_group_data(GroundKey)]
pub struct GroundFinish {
    /// Which patterns the shader holds: it is compiled once for each class, because a software
    /// driver works through every branch at every pixel.
    class: Class,
    #[uniform(100)]
    yard: Yard,
    /// Signed distance into existing paving, so that its edge is crisp at every zoom.
    #[texture(101)]
    #[sampler(102)]
    paving: Handle<Image>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(C)]
pub struct GroundKey {
    class: Class,
}

impl From<&GroundFinish> for GroundKey {
    fn from(finish: &GroundFinish) -> Self {
        GroundKey {
            class: finish.class,
        }
    }
}

#[derive(ShaderType, Debug, Clone, Copy)]
struct Yard {
    paving: Vec4,
    range: Vec4,
}

#[derive(Asset, AsBindGroup, TypePath, Debug, Clone)]
pub struct WaterFinish {
    #[uniform(100)]
    tints: Tints,
    /// What stands beside the water, by its height and tint; nothing for the crew.
    #[texture(101)]
    #[sampler(102)]
    garden: Option<Handle<Image>>,
}

impl WaterFinish {
    /// The water mirrors what this map shows; where it lies and how high it goes is as in
    /// [`crate::view::client`].
    pub fn beside(&mut self, map: Handle<Image>, place: Vec4, heights: Vec4) {
        self.garden = Some(map);
        self.tints.garden = place;
        self.tints.heights = heights;
    }
}

/// Colour of the water where it is shallow and where it is deep, linear.
#[derive(ShaderType, Debug, Clone, Copy)]
struct Tints {
    shallow: Vec4,
    deep: Vec4,
    /// x: 1 as the client sees it, 0 as the crew does; y: how many faces are mirrored.
    mood: Vec4,
    /// The map of the garden: x and z of its corner, and shares of it to a metre along each.
    garden: Vec4,
    /// x: its lowest height; y: how far it goes up from there, 0 without a map.
    heights: Vec4,
    /// Upright faces that the water mirrors: x and z of both ends.
    faces: [Vec4; FACES],
    /// x: their upper edge; y: their lower one; z: what they are of, as in [`Made`]; w: light.
    tops: [Vec4; FACES],
}

/// Most faces that water mirrors.
const FACES: usize = 48;

/// An upright face in the scene: its ends in plan, and its lower and upper edge.
#[derive(Debug, Clone, Copy)]
pub struct Face {
    pub ends: [Vec3; 2],
    pub low: f32,
    pub top: f32,
    pub made: Made,
    /// How the sun lights it, 0 to 1; of a house.
    pub light: f32,
}

/// What a mirrored face is of.
#[derive(Debug, Clone, Copy)]
pub enum Made {
    /// A wall under its cap.
    Block,
    House,
    Roof,
}

impl MaterialExtension for GroundFinish {
    fn fragment_shader() -> ShaderRef {
        ShaderRef::Handle(GROUND)
    }

    fn specialize(
        _: &MaterialExtensionPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        _: &MeshVertexBufferLayoutRef,
        key: MaterialExtensionKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        if let Some(fragment) = &mut descriptor.fragment {
            fragment
                .shader_defs
                .push(key.bind_group_data.class.name().into());
        }
        Ok(())
    }
}

impl MaterialExtension for WaterFinish {
    fn fragment_shader() -> ShaderRef {
        ShaderRef::Handle(WATER)
    }

    fn alpha_mode() -> Option<AlphaMode> {
        Some(AlphaMode::Premultiplied)
    }

    fn enable_shadows() -> bool {
        false
    }
}

pub struct MaterialsPlugin;

impl Plugin for MaterialsPlugin {
    fn build(&self, app: &mut App) {
        let mut shaders = app.world_mut().resource_mut::<Assets<Shader>>();
        for (handle, source, name) in [
            (GROUND, include_str!("ground.wgsl"), "view/ground.wgsl"),
            (WATER, include_str!("water.wgsl"), "view/water.wgsl"),
        ] {
            // Inserting under a fixed id cannot meet a dropped generation.
            let _ = shaders.insert(handle.id(), Shader::from_wgsl(source, name));
        }
        app.add_plugins((
            MaterialPlugin::<GroundMaterial>::default(),
            MaterialPlugin::<WaterMaterial>::default(),
        ));
    }
}

/// As the crew sees it.
pub fn water() -> WaterMaterial {
    water_with(0.0, &[])
}

/// As the client sees it; it mirrors the first of these faces.
pub fn mirror(faces: &[Face]) -> WaterMaterial {
    water_with(1.0, &faces[..faces.len().min(FACES)])
}

fn water_with(client: f32, mirrored: &[Face]) -> WaterMaterial {
    let mood = Vec4::new(client, mirrored.len() as f32, 0.0, 0.0);
    let mut faces = [Vec4::ZERO; FACES];
    let mut tops = [Vec4::ZERO; FACES];
    for (k, face) in mirrored.iter().enumerate() {
        let [a, b] = face.ends;
        faces[k] = Vec4::new(a.x, a.z, b.x, b.z);
        // What reaches down without end, down to where no water is.
        let low = face.low.max(-1e4);
        tops[k] = Vec4::new(face.top, low, f32::from(face.made as u8), face.light);
    }
    ExtendedMaterial {
        base: StandardMaterial {
            alpha_mode: AlphaMode::Premultiplied,
            ..default()
        },
        extension: WaterFinish {
            tints: Tints {
                shallow: Vec4::new(0.24, 0.46, 0.50, 1.0),
                deep: Vec4::new(0.03, 0.155, 0.21, 1.0),
                mood,
                garden: Vec4::ZERO,
                heights: Vec4::ZERO,
                faces,
                tops,
            },
            garden: None,
        },
    }
}

/// The outlines of the paving among these marks.
pub fn paving(marks: &[Mark]) -> Vec<&[[f64; 2]]> {
    marks
        .iter()
        .filter(|m| m.kind == MarkKind::Paving && m.closed && m.line.len() >= 3)
        .map(|m| m.line.as_slice())
        .collect()
}

/// The finishes of the ground with paving inside these rings.
pub fn ground(
    images: &mut Assets<Image>,
    rings: &[&[[f64; 2]]],
    frame: &Frame,
) -> [GroundMaterial; 5] {
    const SIDE: usize = 384;
    /// Distance that the map's full range stands for, m.
    const RANGE: f64 = 1.0;
    let points = || rings.iter().flat_map(|r| r.iter());
    let low = [0, 1].map(|k| points().fold(f64::MAX, |m, p| m.min(p[k])) - RANGE);
    let high = [0, 1].map(|k| points().fold(f64::MIN, |m, p| m.max(p[k])) + RANGE);
    let (data, side, place) = if rings.is_empty() {
        (vec![0u8], 1, Vec4::new(1e9, 1e9, 1.0, 1.0))
    } else {
        let size = [high[0] - low[0], high[1] - low[1]];
        let at = |pixel: usize| {
            let (row, column) = (pixel / SIDE, pixel % SIDE);
            // Rows run along the scene's z, which is minus the plan's y.
            let p = [
                low[0] + (column as f64 + 0.5) / SIDE as f64 * size[0],
                high[1] - (row as f64 + 0.5) / SIDE as f64 * size[1],
            ];
            let inside = rings
                .iter()
                .map(|r| depth_inside(r, p))
                .fold(f64::MIN, f64::max);
            ((0.5 + inside / RANGE).clamp(0.0, 1.0) * 255.0).round() as u8
        };
        let data: Vec<u8> = (0..SIDE * SIDE).into_par_iter().map(at).collect();
        let corner = frame.scene([low[0], high[1], 0.0]);
        let scale = [1.0 / size[0] as f32, 1.0 / size[1] as f32];
        (
            data,
            SIDE,
            Vec4::new(corner.x, corner.z, scale[0], scale[1]),
        )
    };
    let mut map = Image::new(
        Extent3d {
            width: side as u32,
            height: side as u32,
            depth_or_array_layers: 1,
        },
        TextureDimension::D2,
        data,
        TextureFormat::R8Unorm,
        default(),
    );
    map.sampler = ImageSampler::linear();
    let paving = images.add(map);
    Class::ALL.map(|class| ExtendedMaterial {
        base: StandardMaterial {
            reflectance: 0.25,
            double_sided: true,
            cull_mode: None,
            ..default()
        },
        extension: GroundFinish {
            class,
            yard: Yard {
                paving: place,
                range: Vec4::new(RANGE as f32, frame.reach as f32, 0.0, 0.0),
            },
            paving: paving.clone(),
        },
    })
}

/// Distance to the ring's edge, positive inside.
fn depth_inside(ring: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let mut nearest = f64::MAX;
    let mut inside = false;
    for i in 0..ring.len() {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let d = [b[0] - a[0], b[1] - a[1]];
        let e = [p[0] - a[0], p[1] - a[1]];
        let f =
            ((e[0] * d[0] + e[1] * d[1]) / (d[0] * d[0] + d[1] * d[1]).max(1e-18)).clamp(0.0, 1.0);
        nearest = nearest.min((e[0] - f * d[0]).hypot(e[1] - f * d[1]));
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / d[1] * d[0] {
            inside = !inside;
        }
    }
    if inside { nearest } else { -nearest }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_inside_a_square_is_signed() {
        let ring = [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]];
        assert!((depth_inside(&ring, [1.0, 0.25]) - 0.25).abs() < 1e-12);
        assert!((depth_inside(&ring, [3.0, 1.0]) + 1.0).abs() < 1e-12);
    }
}
