// The model's surfaces: procedural, so that nothing is loaded and every scale is crisp.
// `uv_b.x` is the code of `Stuff` in stuff.rs; `uv` is (topsoil shown, depth below the top) on sides.
// Patterns are in metres and fade to their mean before they become smaller than a pixel.

#import bevy_pbr::{
    pbr_fragment::pbr_input_from_standard_material,
    pbr_functions::{apply_pbr_lighting, main_pass_post_lighting_processing},
    forward_io::{VertexOutput, FragmentOutput},
}

struct Yard {
    // Smallest x and z of the paving map, and one over its size.
    paving: vec4<f32>,
    // x: metres that the map's full range stands for; y: half the diagonal of the yard.
    range: vec4<f32>,
}
@group(#{MATERIAL_BIND_GROUP}) @binding(100) var<uniform> yard: Yard;
@group(#{MATERIAL_BIND_GROUP}) @binding(101) var paving_map: texture_2d<f32>;
@group(#{MATERIAL_BIND_GROUP}) @binding(102) var paving_sampler: sampler;

fn hash2(p: vec2<f32>) -> vec2<f32> {
    // Integer hash: the same on every card, no sine.
    var v = vec2<u32>(bitcast<u32>(i32(p.x)), bitcast<u32>(i32(p.y)));
    v = v * 1664525u + 1013904223u;
    v.x += v.y * 1664525u;
    v.y += v.x * 1664525u;
    v = v ^ (v >> vec2<u32>(16u));
    v.x += v.y * 1664525u;
    v.y += v.x * 1664525u;
    v = v ^ (v >> vec2<u32>(16u));
    return vec2<f32>(v & vec2<u32>(0xffffu)) / 65535.0;
}

fn noise(p: vec2<f32>) -> f32 {
    let i = floor(p);
    let f = p - i;
    let w = f * f * (3.0 - 2.0 * f);
    let a = hash2(i).x;
    let b = hash2(i + vec2(1.0, 0.0)).x;
    let c = hash2(i + vec2(0.0, 1.0)).x;
    let d = hash2(i + vec2(1.0, 1.0)).x;
    return mix(mix(a, b, w.x), mix(c, d, w.x), w.y);
}

// How much of a pattern of this size still shows at this pixel size.
fn seen(size: f32, pixel: f32) -> f32 {
    return 1.0 - smoothstep(0.25, 0.8, pixel / size);
}

struct Cells { toward: vec2<f32>, edge: f32, id: vec2<f32> }

// Rounded stones: nearest and second-nearest of jittered points.
fn cells(p: vec2<f32>) -> Cells {
    let base = floor(p);
    var best = 9.0;
    var second = 9.0;
    var out: Cells;
    for (var j = -1; j <= 1; j++) {
        for (var i = -1; i <= 1; i++) {
            let cell = base + vec2(f32(i), f32(j));
            let h = hash2(cell);
            let d = cell + 0.15 + 0.7 * h - p;
            let r = dot(d, d);
            if r < best {
                second = best;
                best = r;
                out.toward = d;
                out.id = hash2(cell + 17.0);
            } else if r < second {
                second = r;
            }
        }
    }
    out.edge = sqrt(second) - sqrt(best);
    return out;
}

// Units in staggered rows; x: distance to the nearest joint, y: tone of the unit.
fn units(p: vec2<f32>, size: vec2<f32>) -> vec2<f32> {
    let row = floor(p.y / size.y);
    let shift = p.x / size.x + 0.5 * (row - 2.0 * floor(row / 2.0));
    let column = floor(shift);
    let f = vec2(shift - column, p.y / size.y - row);
    let e = min(f, 1.0 - f) * size;
    return vec2(min(e.x, e.y), hash2(vec2(column, row)).x);
}

struct Finish { color: vec3<f32>, rough: f32, bump: vec2<f32> }

fn srgb(r: f32, g: f32, b: f32) -> vec3<f32> {
    return pow(vec3(r, g, b) / 255.0, vec3(2.2));
}

fn grass(p: vec2<f32>, pixel: f32) -> Finish {
    let broad = noise(p * 0.45) * 0.6 + noise(p * 1.7 + 9.0) * 0.4;
    let blades = noise(p * vec2(46.0, 17.0)) * 0.5 + noise(p.yx * vec2(38.0, 15.0) + 3.0) * 0.5;
    let tuft = noise(p * 7.0);
    var c = mix(srgb(98.0, 112.0, 70.0), srgb(128.0, 136.0, 88.0), broad);
    c *= mix(1.0, 0.62 + 0.76 * blades, 0.75 * seen(0.05, pixel));
    c *= mix(1.0, 0.86 + 0.28 * tuft, seen(0.2, pixel));
    return Finish(c, 0.95, vec2((blades - 0.5) * 0.25 * seen(0.05, pixel)));
}

fn soil(p: vec2<f32>, pixel: f32, tone: vec3<f32>) -> Finish {
    let broad = noise(p * 0.8);
    let clods = noise(p * 6.0) * 0.5 + noise(p * 17.0) * 0.3 + noise(p * 43.0) * 0.2;
    let c = tone * (0.9 + 0.2 * broad) * mix(1.0, 0.7 + 0.6 * clods, seen(0.12, pixel));
    return Finish(c, 0.95, vec2((clods - 0.5) * 0.5 * seen(0.12, pixel)));
}

fn cobble(p: vec2<f32>, pixel: f32, size: f32) -> Finish {
    let k = cells(p / size);
    let show = seen(size, pixel);
    let warm = mix(srgb(150.0, 142.0, 128.0), srgb(186.0, 176.0, 158.0), k.id.x);
    let tone = mix(warm, srgb(128.0, 128.0, 126.0), step(0.72, k.id.y));
    let joint = smoothstep(0.02, 0.22, k.edge);
    let grain = noise(p * 60.0);
    var c = mix(srgb(84.0, 76.0, 64.0), tone * (0.92 + 0.16 * grain), joint);
    c = mix(srgb(142.0, 134.0, 119.0), c, show);
    // Domed: leans away from its middle.
    return Finish(c, 0.8, -k.toward * 1.1 * show * joint);
}

fn flag(p: vec2<f32>, pixel: f32) -> Finish {
    let k = cells(p / 0.62 + 0.12 * vec2(noise(p * 4.0), noise(p * 4.0 + 5.0)));
    let show = seen(0.4, pixel);
    let tone = mix(srgb(132.0, 128.0, 122.0), srgb(168.0, 161.0, 149.0), k.id.x);
    let joint = smoothstep(0.015, 0.06, k.edge);
    let grain = noise(p * vec2(9.0, 23.0));
    var c = mix(srgb(86.0, 80.0, 70.0), tone * (0.88 + 0.24 * grain), joint);
    c = mix(srgb(143.0, 138.0, 129.0), c, show);
    return Finish(c, 0.7, vec2((grain - 0.5) * 0.15 * show));
}

fn paving(p: vec2<f32>, pixel: f32) -> Finish {
    let u = units(p, vec2(0.6, 0.4));
    let joint = smoothstep(0.003, 0.010 + pixel, u.x);
    let grain = noise(p * 40.0);
    var c = mix(srgb(176.0, 160.0, 140.0), srgb(200.0, 186.0, 166.0), u.y);
    c *= mix(1.0, 0.94 + 0.12 * grain, seen(0.05, pixel));
    c = mix(mix(c, srgb(120.0, 108.0, 94.0), 0.8 * seen(0.15, pixel)), c, joint);
    return Finish(c, 0.85, vec2(0.0));
}

fn block(p: vec2<f32>, pixel: f32) -> Finish {
    let u = units(p, vec2(0.45, 0.2));
    let joint = smoothstep(0.004, 0.012 + pixel, u.x);
    let grain = noise(p * 28.0) * 0.6 + noise(p * 75.0) * 0.4;
    var c = mix(srgb(158.0, 146.0, 130.0), srgb(184.0, 171.0, 153.0), u.y);
    c *= mix(1.0, 0.86 + 0.28 * grain, seen(0.06, pixel));
    c = mix(mix(c, srgb(104.0, 94.0, 82.0), 0.75 * seen(0.1, pixel)), c, joint);
    return Finish(c, 0.9, vec2((grain - 0.5) * 0.3 * seen(0.06, pixel)));
}

fn coping(p: vec2<f32>, pixel: f32) -> Finish {
    let grain = noise(p * 34.0);
    let c = srgb(214.0, 205.0, 189.0) * mix(1.0, 0.95 + 0.1 * grain, seen(0.05, pixel));
    return Finish(c, 0.8, vec2(0.0));
}

// Drawn for looks: no layer here was surveyed.
fn strata(p: vec2<f32>, topsoil: f32, depth: f32, pixel: f32) -> Finish {
    let wave = 0.05 * (noise(vec2(p.x * 1.3, 0.5)) - 0.5) + 0.02 * (noise(vec2(p.x * 6.0, 2.5)) - 0.5);
    let d = depth + wave;
    let stones = cells(p * vec2(7.0, 9.0));
    let grain = noise(p * 21.0) * 0.6 + noise(p * 55.0) * 0.4;
    let bands = noise(vec2(p.x * 0.35, d * 5.5)) * 0.7 + noise(vec2(p.x * 0.9, d * 15.0)) * 0.3;
    var c = mix(srgb(158.0, 122.0, 86.0), srgb(190.0, 156.0, 115.0), bands);
    let deep = smoothstep(0.55, 0.7, d + 0.15 * (noise(vec2(p.x * 0.7, 7.0)) - 0.5));
    c = mix(c, mix(srgb(168.0, 148.0, 122.0), srgb(196.0, 178.0, 150.0), bands), deep);
    let stone = step(0.8, stones.id.x) * smoothstep(0.1, 0.2, stones.edge)
        * (1.0 - smoothstep(0.2, 0.3, length(stones.toward)));
    c = mix(c, srgb(176.0, 168.0, 154.0), stone * 0.8 * seen(0.08, pixel));
    let dark = (1.0 - smoothstep(0.13, 0.17, d)) * topsoil;
    c = mix(c, srgb(92.0, 68.0, 48.0), dark);
    c *= mix(1.0, 0.84 + 0.32 * grain, seen(0.06, pixel));
    let turf = (1.0 - smoothstep(0.02, 0.045, depth + 0.4 * wave)) * topsoil;
    c = mix(c, srgb(104.0, 122.0, 66.0), turf);
    return Finish(c, 0.95, vec2((grain - 0.5) * 0.2));
}

// Leaves by their tone (from 2 on a flower), darker towards the foot or the middle.
fn leaf(tone: f32, up: f32) -> Finish {
    var c = mix(srgb(122.0, 138.0, 74.0), srgb(84.0, 112.0, 62.0), clamp(tone * 2.5, 0.0, 1.0));
    c = mix(c, srgb(120.0, 128.0, 98.0), smoothstep(0.55, 0.9, tone));
    c *= 0.6 + 0.6 * up;
    c = mix(c, srgb(226.0, 206.0, 196.0), step(1.5, tone));
    return Finish(c, 0.9, vec2(0.0));
}

fn rock(w: vec3<f32>, tone: f32, pixel: f32) -> Finish {
    let warm = mix(srgb(132.0, 124.0, 112.0), srgb(184.0, 174.0, 156.0), tone);
    let grain = noise(w.xz * 31.0 + w.y * 17.0) * 0.6 + noise(w.xy * 77.0 + w.z * 29.0) * 0.4;
    let c = warm * mix(1.0, 0.78 + 0.44 * grain, seen(0.05, pixel));
    return Finish(c, 0.85, vec2((grain - 0.5) * 0.25 * seen(0.05, pixel)));
}

// Planted soil: ground cover with mulch between.
fn bed(p: vec2<f32>, pixel: f32) -> Finish {
    var f = soil(p, pixel, srgb(108.0, 84.0, 60.0));
    let bark = noise(p * vec2(34.0, 90.0)) * 0.5 + noise(p.yx * vec2(34.0, 90.0) + 4.0) * 0.5;
    f.color *= mix(1.0, 0.6 + 0.8 * bark, seen(0.05, pixel));
    let plants = smoothstep(0.25, 0.6, noise(p * 3.1) * 0.5 + noise(p * 8.0) * 0.3 + noise(p * 21.0) * 0.2);
    let g = grass(p * 1.3, pixel);
    f.color = mix(f.color, g.color * 0.86, plants * 0.45);
    return f;
}

// Maps of figures: the tints and marks of charts.rs, where the legend is. Both sides go from pale to
// dark; dug is hatched, placed dotted.
fn depth_map(change: f32, count: f32, p: vec2<f32>, pixel: f32) -> vec3<f32> {
    let depth = abs(change);
    if depth < 1e-4 { return srgb(240.0, 236.0, 226.0); }
    let t = clamp((ceil(depth) - 1.0) / max(count - 1.0, 1.0), 0.0, 1.0);
    let size = max(yard.range.y * 0.03, pixel * 7.0);
    var c: vec3<f32>;
    if change < 0.0 {
        c = mix(srgb(246.0, 220.0, 176.0), srgb(122.0, 44.0, 16.0), t);
        let line = abs(fract((p.x + p.y) / size) - 0.5) * size;
        c *= mix(1.0, 0.62, 1.0 - smoothstep(0.05 * size, 0.05 * size + pixel, line));
    } else {
        c = mix(srgb(206.0, 228.0, 232.0), srgb(16.0, 62.0, 92.0), t);
        let row = floor(p.y / size);
        let q = fract(vec2(p.x / size + 0.5 * (row - 2.0 * floor(row / 2.0)), p.y / size)) - 0.5;
        c *= mix(1.0, 0.55, 1.0 - smoothstep(0.13 * size, 0.13 * size + pixel, length(q) * size));
    }
    // A line where one step goes over into the next.
    let near = abs(fract(depth - 0.5) - 0.5) / max(fwidth(depth), 1e-5);
    return c * mix(0.5, 1.0, smoothstep(0.5, 1.3, near));
}

// As built over the design: what is high is hatched like what is dug, what is low dotted like what is
// placed. `packed` is the count of steps and, after the point, half of what is still right, in steps.
fn built_map(off: f32, packed: f32, p: vec2<f32>, pixel: f32) -> vec3<f32> {
    let beyond = max(abs(off) - 2.0 * fract(packed), 0.0);
    return depth_map(-sign(off) * beyond, floor(packed), p, pixel);
}

fn brim_map(step_: f32, count: f32) -> vec3<f32> {
    let t = clamp(floor(step_) / max(count - 1.0, 1.0), 0.0, 1.0);
    return mix(srgb(120.0, 22.0, 8.0), srgb(250.0, 240.0, 214.0), t);
}

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    var pbr = pbr_input_from_standard_material(in, is_front);
    let n = pbr.world_normal;
    // The pattern lies in the plan where the ground does, and in the face where it is steep.
    var t = vec3(1.0, 0.0, 0.0);
    var b = vec3(0.0, 0.0, 1.0);
    let flatness = abs(n.y);
    if flatness < 0.6 {
        t = normalize(vec3(-n.z, 0.0, n.x));
        // Faces looking opposite ways must not mirror the courses.
        b = vec3(0.0, 1.0, 0.0);
    }
    let w = in.world_position.xyz;
    let p = vec2(dot(w, t), dot(w, b));
    let pixel = max(length(fwidth(w)), 1e-4);

    let code = i32(round(in.uv_b.x));
#ifdef CHART
    var flat: FragmentOutput;
    var tint: vec3<f32>;
    if code == 13 {
        tint = depth_map(in.uv.x, in.uv.y, w.xz, pixel);
    } else if code == 17 {
        tint = built_map(in.uv.x, in.uv.y, w.xz, pixel);
    } else {
        tint = brim_map(in.uv.x, in.uv.y);
    }
    flat.color = main_pass_post_lighting_processing(pbr, vec4(tint, 1.0));
    return flat;
#else
    var f: Finish;
#ifdef TURF
    f = grass(p, pixel);
        let at = (w.xz - yard.paving.xy) * yard.paving.zw;
        if all(at > vec2(0.0)) && all(at < vec2(1.0)) && flatness > 0.35 {
            let inside = (textureSampleLevel(paving_map, paving_sampler, at, 0.0).x - 0.5)
                * yard.range.x;
            let stone = smoothstep(-0.004 - pixel, 0.004 + pixel, inside);
            var slab = paving(p, pixel);
            slab.color = mix(srgb(120.0, 108.0, 94.0), slab.color,
                smoothstep(0.008, 0.02 + pixel, inside));
            f.color = mix(f.color, slab.color, stone);
            f.bump *= 1.0 - stone;
        }
#endif
#ifdef EARTH
    switch code {
        case 1: {
            f = soil(p, pixel, srgb(128.0, 95.0, 66.0));
            let line = abs(fract((w.x + w.z + 0.6 * w.y) / 0.30) - 0.5) * 0.30;
            f.color *= mix(1.0, 0.66, (1.0 - smoothstep(0.012, 0.020 + pixel, line)) * seen(0.15, pixel));
        
        }
        case 2: {
            f = soil(p, pixel, srgb(196.0, 164.0, 122.0));
            let row = floor(p.y / 0.18);
            let q = fract(vec2(p.x / 0.18 + 0.5 * (row - 2.0 * floor(row / 2.0)), p.y / 0.18)) - 0.5;
            let dot = length(q) * 0.18;
            f.color *= mix(1.0, 0.62, (1.0 - smoothstep(0.018, 0.026 + pixel, dot)) * seen(0.12, pixel));
        
        }
        case 10: { f = bed(p, pixel); }
        case 15: { f = leaf(in.uv.x, in.uv.y); }
        default: { f = soil(p, pixel, srgb(158.0, 124.0, 88.0)); }
    }
#endif
#ifdef STONE
    switch code {
        case 5: { f = flag(p, pixel); }
        case 6: { f = paving(p, pixel); }
        case 16: { f = rock(w, in.uv.x, pixel); }
        default: { f = cobble(p, pixel, 0.17); }
    }
#endif
#ifdef BUILT
    switch code {
        case 7: { f = block(p, pixel); }
        case 8: { f = coping(p, pixel); }
        case 9: { f = strata(p, in.uv.x, in.uv.y, pixel); }
        case 11: { f = Finish(srgb(196.0, 187.0, 172.0), 0.9, vec2(0.0)); }
        case 18: {
            let head = smoothstep(0.78, 0.80, in.uv.x);
            f = Finish(mix(srgb(206.0, 176.0, 128.0), srgb(166.0, 60.0, 30.0), head), 0.8, vec2(0.0));
        }
        default: { f = Finish(srgb(58.0, 50.0, 44.0), 0.6, vec2(0.0)); }
    }
#endif
    pbr.material.base_color = vec4(f.color, 1.0);
    pbr.material.perceptual_roughness = f.rough;
    pbr.N = normalize(pbr.N + t * f.bump.x + b * f.bump.y);
#ifdef EARTH
    // Light comes through leaves: both sides are lit as the plant is.
    if code == 15 { pbr.N = normalize(in.world_normal); }
#endif

    var out: FragmentOutput;
    out.color = apply_pbr_lighting(pbr);
    out.color = main_pass_post_lighting_processing(pbr, out.color);
    return out;
#endif
}
