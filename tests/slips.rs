//! Planted slips: each is found, and only it; clean notes raise no alarm.

mod notes;

use brimline::findings::Severity;
use brimline::job::*;
use brimline::survey::reduce;
use notes::*;

/// A small generator of our own, so that every yard is the same on every machine.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        ((self.0 >> 33) as f64) / (1u64 << 31) as f64
    }
    fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * self.roll()
    }
    fn below(&mut self, n: usize) -> usize {
        (self.roll() * n as f64) as usize % n
    }
    /// Roughly normal, of deviation 1.
    fn noise(&mut self) -> f64 {
        (0..12).map(|_| self.roll()).sum::<f64>() - 6.0
    }
}

struct Yard {
    book: FieldBook,
    lines: Vec<Line>,
    /// Setup and sight of the shots with neighbours all round.
    inner: Vec<(usize, usize)>,
    unit: Unit,
}

#[derive(Clone, Copy, PartialEq)]
enum Step {
    None,
    /// A wall of 3 ft with top and foot a hand apart.
    Wall,
    /// A bank of 1 in 1.
    Bank,
}

fn rounded(unit: Unit, rod: f64) -> f64 {
    match unit {
        Unit::Foot => (rod / FT * 100.0).round() / 100.0 * FT,
        Unit::Metre => (rod * 1000.0).round() / 1000.0,
    }
}

/// About 80 shots over 24 × 18 m of sloping, gently rolling lawn, levelled in two setups that
/// close, and across it nothing, a wall or a bank, the latter two with breaklines.
fn yard(seed: u64, unit: Unit, step: Step) -> Yard {
    let mut dice = Dice(seed.wrapping_mul(7919) + 17);
    for _ in 0..5 {
        dice.roll();
    }
    let (sx, sy) = (dice.between(-0.06, 0.06), dice.between(-0.06, 0.06));
    let (phase, roll) = (dice.between(0.0, 6.0), dice.between(0.0, 0.12));
    let (rise, width) = match step {
        Step::None => (0.0, 1.0),
        Step::Wall => (0.9, 0.1),
        Step::Bank => (1.1, 1.1),
    };
    let wall = dice.between(10.0, 13.0);
    let ground = |x: f64, y: f64| {
        let base = 30.0 + sx * x + sy * y + roll * (x / 4.0 + phase).sin() * (y / 5.0).cos();
        base + rise * ((x - wall) / width).clamp(0.0, 1.0)
    };
    let mut plan: Vec<(String, [f64; 2], bool)> = Vec::new();
    for column in 0..10 {
        for row in 0..8 {
            let x = f64::from(column) * 2.6 + dice.between(-0.7, 0.7);
            let y = f64::from(row) * 2.5 + dice.between(-0.7, 0.7);
            // No one sets the rod half way up a wall.
            if step != Step::None && x > wall - 0.5 && x < wall + width + 0.5 {
                continue;
            }
            let inner = (2..8).contains(&column)
                && (2..6).contains(&row)
                && (step == Step::None || (x - wall).abs() > 4.0);
            plan.push((format!("{}", plan.len() + 1), [x, y], inner));
        }
    }
    let mut lines = Vec::new();
    if step != Step::None {
        for (name, x) in [("foot", wall), ("top", wall + width)] {
            let mut along = Vec::new();
            for row in 0..9 {
                let shot = format!("{name}{row}");
                plan.push((shot.clone(), [x, f64::from(row) * 2.4 - 0.6], false));
                along.push(At::Shot(shot));
            }
            lines.push(Line {
                name: name.into(),
                along,
            });
        }
    }
    let marks = [30.0, 29.4];
    let heights = [32.6, 32.9];
    let half = plan.len() / 2;
    let mut inner = Vec::new();
    let mut setups = Vec::new();
    let turn = 30.2;
    for (s, hi) in heights.into_iter().enumerate() {
        let range = if s == 0 { 0..half } else { half..plan.len() };
        let back = if s == 0 { marks[0] } else { turn };
        let backsight = sight(if s == 0 { "A" } else { "T1" }, rounded(unit, hi - back));
        let mut sights: Vec<Sight> = Vec::new();
        for (name, [x, y], is_inner) in &plan[range] {
            let rod = hi - ground(*x, *y) + 0.008 * dice.noise();
            if *is_inner {
                inner.push((s, sights.len()));
            }
            sights.push(at(name, rounded(unit, rod), *x, *y));
        }
        sights.push(match s {
            0 => turning("T1", rounded(unit, hi - turn)),
            _ => sight("B", rounded(unit, hi - marks[1])),
        });
        setups.push(setup(if s == 0 { "I" } else { "II" }, backsight, sights));
    }
    let mut book = book(vec![mark("A", marks[0]), mark("B", marks[1])], setups);
    book.allowed = Allowed::Total(0.01);
    book.rod_length = 5.0;
    Yard {
        book,
        lines,
        inner,
        unit,
    }
}

#[test]
fn clean_yards_raise_no_alarm() {
    for seed in 0..300 {
        for unit in [Unit::Foot, Unit::Metre] {
            for step in [Step::None, Step::Wall, Step::Bank] {
                let yard = yard(seed, unit, step);
                let (r, findings) = reduce(&yard.book, &yard.lines);
                assert!(
                    r.suspects.is_empty() && findings.is_empty(),
                    "yard {seed}: {:#?} {findings:#?}",
                    r.suspects
                );
            }
        }
    }
}

#[test]
fn planted_slips_are_found_and_only_they() {
    let (mut planted, mut named) = (0, 0);
    for seed in 0..200u64 {
        for step in [Step::None, Step::Wall, Step::Bank] {
            let slips: &[(Unit, f64, &str)] = &[
                (Unit::Foot, 1.0 * FT, "a whole foot"),
                (Unit::Foot, 2.0 * FT, "two whole feet"),
                (Unit::Foot, 5.0 * FT, "five whole feet"),
                (Unit::Metre, 0.1, "0.1 m"),
                (Unit::Metre, 1.0, "a whole metre"),
            ];
            for &(unit, by, words) in slips {
                let mut yard = yard(seed, unit, step);
                if yard.inner.is_empty() {
                    continue;
                }
                let mut dice = Dice(seed + 5);
                dice.roll();
                let (s, k) = yard.inner[dice.below(yard.inner.len())];
                let sight = &mut yard.book.setups[s].sights[k];
                let right = sight.rod;
                sight.rod += if right - by > 0.1 && dice.roll() < 0.5 {
                    -by
                } else {
                    by
                };
                let side = if sight.rod < right { "low" } else { "high" };
                let shot = sight.to.clone();
                let (r, _) = reduce(&yard.book, &yard.lines);
                planted += 1;
                let others: Vec<_> = r.suspects.iter().filter(|s| s.shot != shot).collect();
                assert!(
                    others.is_empty(),
                    "yard {seed}, {words} on {shot}: {others:#?}"
                );
                let found = r.suspects.iter().find(|s| s.shot == shot);
                let Some(found) = found else {
                    // A decimetre may drown in the roll of the lawn; whole feet may not.
                    assert!(by < 0.2, "yard {seed}: {words} on shot {shot} is not named");
                    continue;
                };
                // Once in a while two digits the other way round come as near as the step.
                if found.slip == format!("reads {words} {side}") {
                    named += 1;
                    near("likely rod", found.likely_rod.unwrap(), right);
                } else {
                    assert!(found.slip.contains("transposed"), "{found:?}");
                }
            }
        }
    }
    assert!(planted > 2000, "{planted} planted");
    assert!(named * 100 >= planted * 90, "{named} of {planted} named");
}

#[test]
fn transposed_digits_are_found() {
    let (mut planted, mut named) = (0, 0);
    for seed in 0..300u64 {
        let unit = if seed % 2 == 0 {
            Unit::Foot
        } else {
            Unit::Metre
        };
        let mut yard = yard(seed, unit, Step::None);
        let mut dice = Dice(seed + 9);
        dice.roll();
        let (s, k) = yard.inner[dice.below(yard.inner.len())];
        let sight = &mut yard.book.setups[s].sights[k];
        let right = sight.rod;
        // Change the first digit and the next: 5.42 becomes 4.52, 1.542 becomes 5.142.
        let (scale, ten) = match yard.unit {
            Unit::Foot => (100.0 / FT, 10),
            Unit::Metre => (1000.0, 100),
        };
        let digits = (right * scale).round() as u64;
        let (first, second, rest) = (digits / (10 * ten), digits / ten % 10, digits % ten);
        let wrong = (second * 10 * ten + first * ten + rest) as f64 / scale;
        // A step of nine tenths of a foot is told from a whole foot; equal digits are no slip;
        // two digits of feet are another case.
        if first > 9 || first.abs_diff(second) < 2 || wrong > 5.0 {
            continue;
        }
        sight.rod = wrong;
        let shot = sight.to.clone();
        let (r, _) = reduce(&yard.book, &yard.lines);
        planted += 1;
        assert_eq!(
            r.suspects.len(),
            1,
            "yard {seed}, {right} as {wrong}: {:#?}",
            r.suspects
        );
        assert_eq!(r.suspects[0].shot, shot);
        if r.suspects[0].slip.contains("transposed") {
            near("likely rod", r.suspects[0].likely_rod.unwrap(), right);
            named += 1;
        }
    }
    assert!(planted > 60, "{planted} planted");
    assert!(named * 100 >= planted * 90, "{named} of {planted} named");
}

/// A slip against the steps that the yard allows for is found as well where the rod stood on a
/// breakline.
#[test]
fn a_foot_on_a_breakline_is_found() {
    for seed in 0..100u64 {
        for step in [Step::Wall, Step::Bank] {
            let mut yard = yard(seed, Unit::Foot, step);
            let sight = yard.book.setups[1]
                .sights
                .iter_mut()
                .find(|s| s.to == "foot4")
                .unwrap();
            sight.rod += FT;
            let (r, _) = reduce(&yard.book, &yard.lines);
            let names: Vec<&str> = r.suspects.iter().map(|s| s.shot.as_str()).collect();
            assert_eq!(names, ["foot4"], "yard {seed}: {:#?}", r.suspects);
        }
    }
}

/// Three setups between benchmarks; the readings of one change columns.
#[test]
fn swapped_backsight_and_foresight_are_found() {
    for seed in 0..200u64 {
        let mut dice = Dice(seed + 3);
        for _ in 0..4 {
            dice.roll();
        }
        let differences = [
            dice.between(0.2, 0.5),
            -dice.between(0.7, 1.0),
            dice.between(1.1, 1.4),
        ];
        let mut level = 10.0;
        let mut setups = Vec::new();
        for (s, d) in differences.iter().enumerate() {
            let back = rounded(Unit::Metre, dice.between(1.6, 2.4));
            let fore = rounded(Unit::Metre, back - d);
            let from = if s == 0 { "A".into() } else { format!("T{s}") };
            let to = if s == 2 {
                "B".into()
            } else {
                format!("T{}", s + 1)
            };
            level += back - fore;
            setups.push(setup(
                &format!("S{s}"),
                sight(&from, back),
                vec![turning(&to, fore)],
            ));
        }
        let mut notes = book(vec![mark("A", 10.0), mark("B", level)], setups);
        assert!(reduce(&notes, &[]).1.is_empty());
        let wrong = dice.below(3);
        let s = &mut notes.setups[wrong];
        std::mem::swap(&mut s.backsight.rod, &mut s.sights[0].rod);
        let (r, findings) = reduce(&notes, &[]);
        assert_eq!(r.suspects.len(), 1, "yard {seed}: {:#?}", r.suspects);
        assert!(
            r.suspects[0]
                .slip
                .contains(&format!("setup S{wrong} are likely swapped"))
        );
        has(&findings, Severity::Error, "level run A to B", "misses by");
    }
}

/// A swap on the turning point lifts every shot of its setup; none of them is blamed for it.
#[test]
fn a_swap_does_not_make_its_shots_suspect() {
    for seed in 0..100u64 {
        for wrong in 0..2 {
            let mut yard = yard(seed, Unit::Metre, Step::None);
            let s = &mut yard.book.setups[wrong];
            let end = s.sights.len() - 1;
            std::mem::swap(&mut s.backsight.rod, &mut s.sights[end].rod);
            let name = s.name.clone();
            let (r, _) = reduce(&yard.book, &yard.lines);
            assert_eq!(r.suspects.len(), 1, "yard {seed}: {:#?}", r.suspects);
            let slip = &r.suspects[0].slip;
            assert!(
                slip.contains(&format!("setup {name} are likely swapped")),
                "{slip}"
            );
        }
    }
}

/// 1.62 on a turning point booked as 1.26: the run misses by 0.36, and no swap explains that.
#[test]
fn digits_transposed_on_a_turning_point_are_found() {
    let leg = |name: &str, from: &str, back: f64, to: &str, fore: f64| {
        setup(name, sight(from, back), vec![turning(to, fore)])
    };
    let right = 1.620;
    let notes = |fore: f64| {
        book(
            vec![
                mark("A", 10.0),
                mark("B", 10.0 + 1.911 - right + 2.337 - 1.115),
            ],
            vec![
                leg("I", "A", 1.911, "T1", fore),
                leg("II", "T1", 2.337, "B", 1.115),
            ],
        )
    };
    let (r, findings) = reduce(&notes(right), &[]);
    assert!(
        r.suspects.is_empty() && findings.is_empty(),
        "{findings:#?}"
    );
    let (r, findings) = reduce(&notes(1.260), &[]);
    has(&findings, Severity::Error, "level run A to B", "0.3600 m");
    assert_eq!(r.suspects.len(), 1, "{:#?}", r.suspects);
    assert_eq!(r.suspects[0].shot, "T1");
    near("likely rod", r.suspects[0].likely_rod.unwrap(), right);
}
