use brimline::plan::*;
use brimline::survey::Spot;
use brimline::terrain::Surface;

fn grid(n: usize, f: impl Fn(f64, f64) -> (f64, u16)) -> Surface {
    let mut s = Surface::default();
    let at = |i: usize| i as f64 / n as f64;
    for j in 0..=n { for i in 0..=n {
        let (x, y) = (at(i) * 16.0, at(j) * 12.0);
        s.points.push([x, y, f(x, y).0]);
    } }
    let id = |i: usize, j: usize| (j * (n + 1) + i) as u32;
    for j in 0..n { for i in 0..n {
        let m = f(at(i) * 16.0 + 8.0 / n as f64, at(j) * 12.0 + 6.0 / n as f64).1;
        s.triangles.push([id(i, j), id(i + 1, j), id(i + 1, j + 1)]);
        s.triangles.push([id(i, j), id(i + 1, j + 1), id(i, j + 1)]);
        s.made_by.push(m); s.made_by.push(m);
    } }
    s
}
fn ground(x: f64, y: f64) -> f64 { 30.0 + 0.08 * y + 0.02 * x + 0.15 * (x * 0.5).sin() + if y > 8.0 { 0.25 * (y - 8.0) } else { 0.0 } }
fn bowl(x: f64, y: f64, raise: f64) -> (f64, u16) {
    let r = ((x - 7.0) / 1.5).hypot(y - 4.5);
    let level = 30.25;
    let z = level - 0.9 + raise + (r - 1.8).max(0.0) * 0.5;
    let z = if r < 2.4 { z } else if r < 2.9 { level - 0.3 + raise } else { level - 0.3 + raise + (r - 2.9) * 0.5 };
    let g = ground(x, y);
    if r < 4.5 && z < g { (z, 1) } else if (x - 12.5).abs() < 1.6 && (y - 7.5).abs() < 2.2 { (g.max(30.9 - ((x-12.5).abs() - 0.8).max(0.0)), 2) } else { (g, 0) }
}
pub fn plan() -> Plan {
    let mut p = Plan { existing: grid(24, |x, y| (ground(x, y), 0)), dug: grid(120, |x, y| bowl(x, y, -0.12)), finished: grid(120, |x, y| bowl(x, y, 0.0)), ..Plan::default() };
    let mk = |n: &str, kind, part: &str| MadeBy { name: n.into(), kind, part: part.into() };
    p.makers = vec![mk("ground", Kind::Ground, ""), mk("pond", Kind::Basin, "floor"), mk("berm", Kind::Berm, "crest")];
    p.solids.push(Solid { name: "back wall".into(), footprint: vec![[2.0, 7.6], [11.0, 7.6], [11.0, 8.0], [2.0, 8.0]], base: 29.5, cap: 31.6, new: false });
    let level = 30.25;
    let mut w = Water { name: "pond".into(), level_m: level, area_m2: 20.0, volume_m3: 9.0, depth_max_m: 0.9, freeboard_min_m: 0.1, freeboard_at: [4.0, 4.0], spill_m: 30.35, spill_at: [4.0, 2.0], held: true, edge: vec![], sheet: vec![] };
    for t in 0..p.finished.triangles.len() {
        let c = p.finished.corners(t);
        if c.iter().all(|q| q[2] < level) && ((c[0][0] - 7.0) / 1.5).hypot(c[0][1] - 4.5) < 4.6 { w.sheet.push(c.map(|q| [q[0], q[1]])); }
    }
    w.edge.push((0..90).map(|k| { let a = k as f64 * std::f64::consts::TAU / 90.0; [7.0 + 1.5 * 3.5 * a.cos(), 4.5 + 3.5 * a.sin()] }).collect());
    p.water.push(w);
    p.marks.push(Mark { name: "patio".into(), kind: MarkKind::Paving, line: vec![[10.0, 1.0], [15.0, 1.0], [15.0, 4.0], [12.0, 4.2]], closed: true });
    p.marks.push(Mark { name: "gas".into(), kind: MarkKind::Service, line: vec![[0.5, 11.0], [15.5, 10.0]], closed: false });
    for k in 0..30 { let (x, y) = ((k % 6) as f64 * 3.0 + 0.4, (k / 6) as f64 * 2.7 + 0.4); p.survey.spots.push(Spot { name: (k + 1).to_string(), x, y, z: ground(x, y), ground: true, remark: String::new() }); }
    p
}
