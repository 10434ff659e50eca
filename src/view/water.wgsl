// Clear water: tinted by its depth along the sight line, reflecting the sky by Schlick's rule
// (0.02 at right angles, for a refractive index of 1.33).
// Still: `uv.x` is the depth in metres, `uv.y` 0. Falling: `uv.x` metres across, `uv.y` 1 and more
// down the sheet, less before the brink. Foam: `uv.x` its strength, `uv.y` −1.

#import bevy_pbr::{
    pbr_fragment::pbr_input_from_standard_material,
    pbr_functions::{apply_pbr_lighting, main_pass_post_lighting_processing},
    forward_io::{VertexOutput, FragmentOutput},
}

struct Tints {
    shallow: vec4<f32>,
    deep: vec4<f32>,
    mood: vec4<f32>,
    garden: vec4<f32>,
    heights: vec4<f32>,
    faces: array<vec4<f32>, 48>,
    tops: array<vec4<f32>, 48>,
}
@group(#{MATERIAL_BIND_GROUP}) @binding(100) var<uniform> tints: Tints;
@group(#{MATERIAL_BIND_GROUP}) @binding(101) var garden_map: texture_2d<f32>;
@group(#{MATERIAL_BIND_GROUP}) @binding(102) var garden_sampler: sampler;

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

fn lot(p: vec2<f32>) -> f32 {
    // Integer hash: the same on every card.
    var v = vec2<u32>(bitcast<u32>(i32(p.x)), bitcast<u32>(i32(p.y)));
    v = v * 1664525u + 1013904223u;
    v.x += v.y * 1664525u;
    v.y += v.x * 1664525u;
    v = v ^ (v >> vec2<u32>(16u));
    v.x += v.y * 1664525u;
    return f32((v.x ^ (v.x >> 16u)) & 0xffffu) / 65535.0;
}

fn noise(p: vec2<f32>) -> f32 {
    let i = floor(p);
    let f = p - i;
    let w = f * f * (3.0 - 2.0 * f);
    return mix(mix(lot(i), lot(i + vec2(1.0, 0.0)), w.x),
        mix(lot(i + vec2(0.0, 1.0)), lot(i + vec2(1.0, 1.0)), w.x), w.y);
}

// The sky that water shows, by how far up the reflected line goes.
fn sky(up: f32) -> vec3<f32> {
    let haze = mix(vec3(0.95, 0.90, 0.80), vec3(0.80, 0.76, 0.66), tints.mood.x);
    return mix(haze, vec3(0.46, 0.62, 0.78), smoothstep(0.0, 0.7, up));
}

// Ripples too small to be drawn blur what is mirrored from afar, most of all up and down: radians.
const BLUR: vec2<f32> = vec2(0.012, 0.035);

// What a reflected line meets: the sky, the face of a wall, its cap lighter, or the house; before
// them the banks and what grows there. Walls and house are those of the plan; the line is followed
// exactly, only its light is a guess.
fn mirrored(place: vec3<f32>, way: vec3<f32>) -> vec3<f32> {
    var seen = sky(way.y);
    var nearest = 1e9;
    // How much of the line what was met so far takes up.
    var taken = 0.0;
    for (var k = 0; k < i32(tints.mood.y); k++) {
        let a = tints.faces[k].xy;
        let d = tints.faces[k].zw - a;
        let turn = way.x * d.y - way.z * d.x;
        if abs(turn) < 1e-6 {
            continue;
        }
        let e = a - place.xz;
        let t = (e.x * d.y - e.y * d.x) / turn;
        if t < 0.01 {
            continue;
        }
        let wide = length(d);
        let along = (e.x * way.z - e.y * way.x) / turn * wide;
        let top = tints.tops[k].x;
        let low = tints.tops[k].y;
        let made = tints.tops[k].z;
        let high = place.y + t * way.y;
        let soft = 0.003 + t * BLUR;
        let met = smoothstep(-soft.x, soft.x, min(along, wide - along))
            * smoothstep(-soft.y, soft.y, top - high) * smoothstep(-soft.y, soft.y, high - low);
        if met < 0.003 {
            continue;
        }
        var face = vec3(0.05, 0.04, 0.03);
        if made < 0.5 {
            let course = 0.92 + 0.08 * noise(vec2(along * 3.0, high * 9.0));
            face = mix(vec3(0.30, 0.26, 0.21) * course, vec3(0.62, 0.57, 0.47),
                smoothstep(-soft.y, soft.y, high - top + 0.07));
        } else if made < 1.5 {
            face = mix(vec3(0.32, 0.26, 0.21), vec3(0.80, 0.61, 0.41), tints.tops[k].w);
        }
        // Before what was met already, or behind what that leaves free.
        seen = mix(seen, face, select(met * (1.0 - taken), met, t < nearest));
        taken += met * (1.0 - taken);
        if met > 0.5 {
            nearest = min(nearest, t);
        }
    }
    return beside(place, way, nearest, seen);
}

// What stands beside the water before so far a distance, over what is seen there.
fn beside(place: vec3<f32>, way: vec3<f32>, far: f32, seen: vec3<f32>) -> vec3<f32> {
    let top = tints.heights.x + tints.heights.y;
    if tints.heights.y <= 0.0 || place.y > top {
        return seen;
    }
    var light = vec3(0.0);
    var left = 1.0;
    var t = 0.05;
    for (var k = 0; k < 22; k++) {
        let p = place + t * way;
        let at = (p.xz - tints.garden.xy) * tints.garden.zw;
        let inside = all(at > vec2(0.0)) && all(at < vec2(1.0));
        if t > far || p.y > top || left < 0.03 || !inside {
            break;
        }
        let there = textureSampleLevel(garden_map, garden_sampler, at, 0.0);
        let high = tints.heights.x + tints.heights.y * there.a;
        let soft = 0.015 + t * BLUR.y;
        let met = smoothstep(-soft, soft, high - p.y) * step(0.01, there.a);
        // In the shade under what hangs over, lighter towards the top.
        let lit = there.rgb * (0.7 + 0.6 * smoothstep(0.4, 0.0, high - p.y));
        light += left * met * lit;
        left *= 1.0 - met;
        t *= 1.24;
    }
    return light + left * seen;
}

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    var pbr = pbr_input_from_standard_material(in, is_front);
    let pixel = length(fwidth(in.world_position.xyz));
    var out: FragmentOutput;
    if in.uv.y < -0.5 {
        let p = in.world_position.xz;
        let bubbles = noise(p * 21.0) * 0.5 + noise(p * 53.0) * 0.5;
        let white = smoothstep(0.75, 0.2, bubbles - in.uv.x * 0.9 + 0.35) * smoothstep(0.0, 0.35, in.uv.x);
        let alpha = 0.8 * white;
        pbr.N = vec3(0.0, 1.0, 0.0);
        pbr.material.base_color = vec4(vec3(0.86, 0.90, 0.92), 1.0);
        pbr.material.perceptual_roughness = 0.9;
        let lit = apply_pbr_lighting(pbr);
        out.color = main_pass_post_lighting_processing(pbr, vec4(lit.rgb * alpha, alpha));
        return out;
    }
    if in.uv.y > 0.2 {
        let down = in.uv.y - 1.0;
        // Threads that gather as the water falls.
        let drawn = max(down, 0.0);
        let threads = noise(vec2(in.uv.x * 55.0, drawn * 3.0)) * 0.55
            + noise(vec2(in.uv.x * 130.0 + 7.0, drawn * 7.0)) * 0.45;
        let broken = smoothstep(-0.02, 0.22, down);
        let white = mix(0.10, clamp(0.25 + 1.15 * (threads - 0.25), 0.0, 1.0), broken);
        let alpha = mix(0.42, 0.50 + 0.45 * white, broken);
        pbr.N = normalize(pbr.N + vec3(0.0, 0.35, 0.0));
        pbr.material.base_color = vec4(mix(vec3(0.30, 0.50, 0.55), vec3(0.88, 0.93, 0.95), white), 1.0);
        pbr.material.perceptual_roughness = 0.25;
        let lit = apply_pbr_lighting(pbr);
        out.color = main_pass_post_lighting_processing(pbr, vec4(lit.rgb * alpha, alpha));
        return out;
    }
    let client = tints.mood.x;
    let depth = max(in.uv.x, 0.0);
    let ripple = mix(0.012, 0.016, client);
    let slope = wave(in.world_position.xz) * ripple * (1.0 - smoothstep(0.05, 0.3, pixel));
    pbr.N = normalize(vec3(-slope.x, 1.0, -slope.y));
    let facing = clamp(dot(pbr.N, pbr.V), 0.0, 1.0);

    // Sight line under water, bent by refraction.
    let below = sqrt(1.0 - (1.0 - facing * facing) / (1.33 * 1.33));
    let path = depth / max(below, 0.2);
    let murk = 1.0 - exp(-mix(1.5, 2.3, client) * path);
    let tint = mix(tints.shallow.rgb, tints.deep.rgb, murk) * mix(1.0, 0.62, client);
    // No hard rim where the water thins out.
    let shore = mix(1.0, smoothstep(-0.01, 0.09, depth), client);
    let alpha = (0.30 + mix(0.62, 0.66, client) * murk) * shore;
    pbr.material.base_color = vec4(tint * alpha, 1.0);
    pbr.material.perceptual_roughness = 0.12;
    // The client's water reflects the sky below, once.
    pbr.material.reflectance = vec3(mix(0.4, 0.12, client));

    var lit = apply_pbr_lighting(pbr);
    let back = reflect(-pbr.V, pbr.N);
    let mirror = (0.02 + 0.98 * pow(1.0 - facing, 5.0)) * mix(1.0, 0.35 + 0.65 * shore, client);
    var seen = sky(back.y);
    if client > 0.5 {
        seen = mirrored(in.world_position.xyz, back);
    }
    lit = vec4(lit.rgb + seen * mirror, 1.0);
    lit.a = alpha + mirror * (1.0 - alpha);
    out.color = main_pass_post_lighting_processing(pbr, lit);
    return out;
}
