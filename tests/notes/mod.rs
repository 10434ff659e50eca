//! Pieces that field books of the tests are made of, and checks that say what broke.

// Each test file uses some of these.
#![allow(dead_code)]

use brimline::findings::{Finding, Severity};
use brimline::job::*;

pub const FT: f64 = 0.3048;

pub fn sight(to: &str, rod: f64) -> Sight {
    Sight {
        to: to.into(),
        rod,
        turning: false,
        inverted: false,
        ground: true,
        distance: None,
        at: None,
        check: None,
        remark: String::new(),
    }
}

pub fn at(to: &str, rod: f64, x: f64, y: f64) -> Sight {
    Sight {
        at: Some(Place::Xy(x, y)),
        ..sight(to, rod)
    }
}

pub fn turning(to: &str, rod: f64) -> Sight {
    Sight {
        turning: true,
        ..sight(to, rod)
    }
}

pub fn setup(name: &str, backsight: Sight, sights: Vec<Sight>) -> Setup {
    Setup {
        name: name.into(),
        at: None,
        backsight,
        sights,
    }
}

pub fn mark(name: &str, elevation: f64) -> Benchmark {
    Benchmark {
        name: name.into(),
        elevation,
        assumed: false,
        at: None,
    }
}

pub fn book(benchmarks: Vec<Benchmark>, setups: Vec<Setup>) -> FieldBook {
    FieldBook {
        benchmarks,
        baselines: vec![],
        pegs: vec![],
        rod_length: 13.0 * FT,
        allowed: Allowed::PerRootKm(0.012),
        setups,
        points: vec![],
    }
}

#[track_caller]
pub fn near(what: &str, got: f64, want: f64) {
    assert!(
        (got - want).abs() < 1e-9,
        "{what}: {got}, expected {want}, off by {:e}",
        got - want
    );
}

#[track_caller]
pub fn has(findings: &[Finding], severity: Severity, place: &str, words: &str) {
    assert!(
        findings
            .iter()
            .any(|f| f.severity == severity && f.place == place && f.what.contains(words)),
        "no {severity:?} for {place:?} saying {words:?} in {findings:#?}"
    );
}
