//! Steps that suit a rule: round in the job's unit. Common practice, no source.

use crate::job::Unit;

const FOOT: f64 = 0.3048;

/// The smallest round step (metres) that divides `range` into at most `most` parts; `None` for a
/// range that is not a positive number.
pub fn step(range: f64, unit: Unit, most: usize) -> Option<f64> {
    if !(range.is_finite() && range > 0.0) || most == 0 {
        return None;
    }
    let unit = match unit {
        Unit::Foot => FOOT,
        Unit::Metre => 1.0,
    };
    let wanted = range / unit / most as f64;
    let tens = 10f64.powf(wanted.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|f| f * tens)
        .find(|s| *s >= wanted * (1.0 - 1e-9))
        .map(|s| s * unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_in_the_unit() {
        let near = |a: Option<f64>, b: f64| a.is_some_and(|a| (a - b).abs() < 1e-12);
        assert!(near(step(0.9, Unit::Metre, 6), 0.2));
        assert!(near(step(1.0, Unit::Metre, 5), 0.2));
        assert!(near(step(4.0 * FOOT, Unit::Foot, 6), FOOT));
        assert!(near(step(2.8 * FOOT, Unit::Foot, 6), 0.5 * FOOT));
        assert_eq!(step(0.0, Unit::Foot, 6), None);
        assert_eq!(step(f64::NAN, Unit::Foot, 6), None);
    }
}
