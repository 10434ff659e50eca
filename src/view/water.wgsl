// Clear water: tinted by its depth along the sight line, reflecting the sky by Schlick's rule
// (0.02 at right angles, for a refractive index of 1.33). `uv.x` is the depth in metres.

#import bevy_pbr::{
    pbr_fragment::pbr_input_from_standard_material,
    pbr_functions::{apply_pbr_lighting, main_pass_post_lighting_processing},
    forward_io::{VertexOutput, FragmentOutput},
}

struct Tints { shallow: vec4<f32>, deep: vec4<f32> }
@group(#{MATERIAL_BIND_GROUP}) @binding(100) var<uniform> tints: Tints;

fn wave(p: vec2<f32>) -> vec2<f32> {
    // Slope of a few sine ripples; small, so that the sheet stays clear.
    var s = vec2(0.0);
    var d = vec2(0.8, 0.6);
    var k = 5.0;
    for (var i = 0; i < 4; i++) {
        s += d * cos(dot(d, p) * k + f32(i) * 2.4);
        d = vec2(d.x * 0.28 - d.y * 0.96, d.x * 0.96 + d.y * 0.28);
        k *= 1.63;
    }
    return s;
}

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    var pbr = pbr_input_from_standard_material(in, is_front);
    let depth = max(in.uv.x, 0.0);
    let pixel = length(fwidth(in.world_position.xz));
    let slope = wave(in.world_position.xz) * 0.012 * (1.0 - smoothstep(0.05, 0.3, pixel));
    pbr.N = normalize(vec3(-slope.x, 1.0, -slope.y));
    let facing = clamp(dot(pbr.N, pbr.V), 0.0, 1.0);

    // Sight line under water, bent by refraction.
    let below = sqrt(1.0 - (1.0 - facing * facing) / (1.33 * 1.33));
    let path = depth / max(below, 0.2);
    let murk = 1.0 - exp(-1.5 * path);
    let tint = mix(tints.shallow.rgb, tints.deep.rgb, murk);
    let alpha = 0.30 + 0.62 * murk;
    pbr.material.base_color = vec4(tint * alpha, 1.0);
    pbr.material.perceptual_roughness = 0.12;
    pbr.material.reflectance = vec3(0.4);

    var lit = apply_pbr_lighting(pbr);
    let back = reflect(-pbr.V, pbr.N);
    let mirror = 0.02 + 0.98 * pow(1.0 - facing, 5.0);
    let sky = mix(vec3(0.95, 0.90, 0.80), vec3(0.46, 0.62, 0.78), smoothstep(0.0, 0.7, back.y));
    lit = vec4(lit.rgb + sky * mirror, 1.0);
    lit.a = alpha + mirror * (1.0 - alpha);

    var out: FragmentOutput;
    out.color = main_pass_post_lighting_processing(pbr, lit);
    return out;
}
