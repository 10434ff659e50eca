//! Pumps and pipes against a textbook's examples and the customary formulas of handbooks: another way to
//! the figures than PyPI `fluids`, which `tests/outside` uses. All from memory: nobody here has had the
//! books open; each figure was kept only where its arithmetic holds together.

mod common;

use brimline::flow::formulas as f;
use brimline::job::Document;
use brimline::plan::Plan;
use common::{close, close_to};

const DEMO: &str = include_str!("../surveys/demo.ron");
const FOOT: f64 = 0.3048;
const INCH: f64 = 0.0254;
const GALLON: f64 = 0.003_785_411_784;

/// The demo with another pump.
fn pump(changes: &[(&str, &str)]) -> brimline::plan::PumpDuty {
    let mut text = DEMO.to_string();
    for (from, to) in changes {
        assert!(text.contains(from), "the demo has no {from:?}");
        text = text.replacen(from, to, 1);
    }
    let (_, job) = Document::parse("pump.ron", &text).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&job);
    plan.flow.pumps.first().expect("a pump").clone()
}

/// "Fluid Mechanics" (a textbook), chapter on viscous flow in ducts, example of a pump between two reservoirs
/// (from memory): 0.2 ft³/s of water through 400 ft of 2 in pipe, roughness 0.001 of its diameter, losses in
/// fittings of 12.2 velocity heads, the outlet's own among them, from a level of 20 ft to one of 120 ft. The
/// book: V = 9.17 ft/s, Reynolds 139,000, f = 0.0216, pump head 100 + 84 = 184 ft, 4.2 horsepower.
#[test]
fn a_pump_between_two_reservoirs() {
    let flow = 0.2 * FOOT.powi(3);
    let d = 2.0 * INCH;
    let v = f::velocity(d, flow);
    close_to("velocity", v / FOOT, 9.17, 0.005);
    // The book's water: 1.1e-5 ft²/s.
    let reynolds = v * d / (1.1e-5 * FOOT * FOOT);
    close("Reynolds", reynolds, 139_000.0, 0.003);
    close_to("f", f::friction_factor(reynolds, 0.001), 0.0216, 1e-4);
    // The same pipe and fittings as the demo's pump. Water at 20 °C is a fiftieth thinner than the book's:
    // a thousandth in f.
    let gpm = 0.2 * 60.0 * FOOT.powi(3) / GALLON;
    let wanted = format!(
        "fittings: [(\"all of the example\", 1, 11.2)], pipes: [(\"2 in\", \"2 in\")], velocity: \"12 ft/s\", \
         roughness: \"0.002 in\", flow: \"{gpm} gal/min\""
    );
    let duty = pump(&[(
        "fittings: [(\"elbow, 90°\", 5, 0.9), (\"ball valve\", 1, 0.1)]",
        &wanted,
    )]);
    let pipe = &duty.pipes[0];
    close("velocity", pipe.velocity_m_s, v, 1e-9);
    close("velocity heads", duty.k, 12.2, 1e-12);
    let friction = pipe.darcy_weisbach_m / duty.length_m * 400.0;
    let losses = friction + pipe.fittings_m / FOOT;
    // The book's arithmetic before it rounds: V² / 2g (f L / d + ΣK).
    let book = 9.17 * 9.17 / 64.4 * (0.0216 * 400.0 / (2.0 / 12.0) + 12.2);
    close_to("the book's losses, ft", book, 84.0, 0.5);
    close("losses, ft", losses, book, 0.005);
    // 62.4 lb/ft³, 550 ft lb/s to a horsepower.
    close_to(
        "horsepower",
        62.4 * 0.2 * (100.0 + losses) / 550.0,
        4.2,
        0.05,
    );
}

/// The same book, examples of head loss and of flow (from memory): oil of 1e-5 m²/s, 0.2 m³/s through 500 m of
/// 200 mm cast iron (roughness 0.0013 of it): f = 0.0225, 117 m. And oil of 2e-5 m²/s in 100 m of 0.3 m pipe,
/// roughness 0.0002 of it, that loses 8 m: 0.342 m³/s.
#[test]
fn loss_and_flow_in_rough_pipes() {
    let v = f::velocity(0.2, 0.2);
    let factor = f::friction_factor(v * 0.2 / 1e-5, 0.0013);
    // The book reads its f off a chart.
    close_to("f", factor, 0.0225, 3e-4);
    close(
        "loss, m",
        factor * 500.0 / 0.2 * v * v / (2.0 * f::G),
        117.0,
        0.005,
    );
    let loses = |q: f64| {
        let v = f::velocity(0.3, q);
        f::friction_factor(v * 0.3 / 2e-5, 0.0002) * 100.0 / 0.3 * v * v / (2.0 * f::G)
    };
    let q = f::root(0.0, 1.0, |q| loses(q) - 8.0);
    close_to("flow, m³/s", q, 0.342, 0.001);
}

/// Total dynamic head as irrigation handbooks reckon it for plastic pipe (formulas from memory): loss in psi for
/// each foot = 4.52 Q^1.85 / (C^1.85 d^4.87), Q in gal/min, d in inches, C = 150; 2.31 ft to a psi; velocity
/// 0.4085 Q / d² ft/s; velocity head V² / 64.4. Four sizes and three flows. Their rounded exponents leave
/// some 2 % between the two forms of Hazen-Williams.
#[test]
fn total_dynamic_head_by_the_customary_formulas() {
    let sizes = [1.380, 1.610, 2.067, 3.068];
    for gpm in [20.0, 40.0, 60.0] {
        let duty = pump(&[(
            "fittings: [",
            &format!("flow: \"{gpm} gal/min\", fittings: ["),
        )]);
        // Five elbows of 0.9, a valve of 0.1, and what is lost at the outlet.
        close("velocity heads", duty.k, 5.0 * 0.9 + 0.1 + 1.0, 1e-12);
        let length = duty.length_m / FOOT;
        assert_eq!(duty.pipes.len(), sizes.len());
        for (pipe, d) in duty.pipes.iter().zip(sizes) {
            let what = format!("{gpm} gal/min in {d} in");
            close("inside", pipe.diameter_m / INCH, d, 1e-9);
            let v = 0.4085 * gpm / (d * d);
            close(
                &format!("{what}: velocity"),
                pipe.velocity_m_s / FOOT,
                v,
                1e-3,
            );
            let psi = 4.52 * f64::powf(gpm, 1.85) / (150f64.powf(1.85) * f64::powf(d, 4.87));
            let per_100_ft = 100.0 * psi * 2.31;
            let ours = pipe.hazen_williams_m / duty.length_m * 100.0;
            close(&format!("{what}: ft in 100 ft"), ours, per_100_ft, 0.02);
            let head =
                duty.static_head_m / FOOT + per_100_ft * length / 100.0 + duty.k * v * v / 64.4;
            close(
                &format!("{what}: total dynamic head"),
                pipe.head_m / FOOT,
                head,
                0.02,
            );
        }
    }
}
