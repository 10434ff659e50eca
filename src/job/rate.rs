//! Readers of rates: flow (m³/s), flow for each width (m²/s), rain and speed (m/s).
//!
//! Factors are exact: NIST SP 811 (US gallon, foot, inch).

use crate::job::Unit;
use crate::job::decode::{Context, Read};
use crate::job::form::Form;
use crate::job::tree::{Kind, Node};
use crate::units::{self, CUBIC_FOOT, FOOT, GALLON, INCH};

const HOUR: f64 = 3600.0;
const MINUTE: f64 = 60.0;

macro_rules! rate_reader {
    ($name:ident, $says:literal, $foot:literal, $metre:literal, $most:expr, $most_says:literal,
     $allowed:literal, { $( $unit:literal => $factor:expr ),* $(,)? }) => {
        pub struct $name;

        impl $name {
            fn factor(unit: &str) -> Option<f64> {
                match unit {
                    $( $unit => Some($factor), )*
                    _ => None,
                }
            }
        }

        impl Read for $name {
            type Out = f64;

            fn says() -> String {
                concat!($says, ", more than 0").to_string()
            }

            fn form() -> Form {
                Form::$name
            }

            fn read(node: &Node, cx: &mut Context) -> Option<f64> {
                let allowed = concat!(
                    "a number (", $foot, " in a job in feet, ", $metre,
                    " in a job in metres), or text such as ", $allowed, "; more than 0, at most ",
                    $most_says
                );
                let value = match &node.kind {
                    Kind::Number(n) => Self::factor(match cx.unit {
                        Unit::Foot => $foot,
                        Unit::Metre => $metre,
                    })
                    .map(|f| n * f),
                    Kind::Text(text) if units::lacks_unit(text) => None,
                    Kind::Text(text) => units::number_and_unit(text)
                        .ok()
                        .and_then(|(n, unit)| Some(n * Self::factor(&spoken(&unit))?)),
                    _ => None,
                };
                match value {
                    Some(v) if v > 0.0 && v <= $most => Some(v),
                    _ => cx.wrong(node, allowed),
                }
            }
        }
    };
}

/// The ways a unit is written become one.
fn spoken(unit: &str) -> String {
    unit.replace('³', "3")
        .replace(" per ", "/")
        .replace("inch", "in")
        .replace("hour", "h")
        .replace("hr", "h")
        .replace("gallons", "gal")
        .replace("litres", "l")
        .replace("liters", "l")
        .replace(' ', "")
}

rate_reader!(
    Flow, "flow", "gal/h", "l/h", 1.0, "1 m³/s",
    "\"3000 gal/h\", \"50 gal/min\", \"11000 L/h\", \"3 L/s\", \"12 m3/h\"",
    {
        "gal/h" => GALLON / HOUR,
        "gph" => GALLON / HOUR,
        "gal/min" => GALLON / MINUTE,
        "gpm" => GALLON / MINUTE,
        "ft3/s" => CUBIC_FOOT,
        "cfs" => CUBIC_FOOT,
        "l/h" => 0.001 / HOUR,
        "l/min" => 0.001 / MINUTE,
        "l/s" => 0.001,
        "m3/h" => 1.0 / HOUR,
        "m3/s" => 1.0,
    }
);
rate_reader!(
    LipFlow, "flow for each width", "gal/h/in", "l/h/cm", 1.0, "1 m³/s per m",
    "\"100 gal/h per in\", \"150 L/h per cm\"",
    {
        "gal/h/in" => GALLON / HOUR / INCH,
        "gph/in" => GALLON / HOUR / INCH,
        "gal/h/ft" => GALLON / HOUR / FOOT,
        "gph/ft" => GALLON / HOUR / FOOT,
        "l/h/cm" => 0.001 / HOUR / 0.01,
        "l/h/m" => 0.001 / HOUR,
        "l/s/m" => 0.001,
        "m3/h/m" => 1.0 / HOUR,
    }
);
rate_reader!(
    Rain, "rain", "in/h", "mm/h", 1.0 / HOUR, "1,000 mm/h",
    "\"4 in/h\", \"100 mm/h\"",
    {
        "in/h" => INCH / HOUR,
        "mm/h" => 0.001 / HOUR,
        "mm/min" => 0.001 / MINUTE,
        "cm/h" => 0.01 / HOUR,
    }
);
rate_reader!(
    Speed, "speed", "ft/s", "m/s", 20.0, "20 m/s",
    "\"5 ft/s\", \"1.5 m/s\"",
    {
        "ft/s" => FOOT,
        "fps" => FOOT,
        "m/s" => 1.0,
    }
);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::tree;

    fn read<R: Read<Out = f64>>(text: &str, unit: Unit) -> Option<f64> {
        let node = tree::read(text).expect("a value");
        let mut cx = Context {
            unit,
            ..Context::default()
        };
        let value = R::read(&node, &mut cx);
        assert_eq!(value.is_none(), !cx.problems.is_empty(), "{text}");
        value
    }

    #[test]
    fn rates_are_read_as_people_write_them() {
        let close = |a: Option<f64>, b: f64| (a.unwrap_or(f64::NAN) - b).abs() < 1e-12 * b;
        for text in [
            "3600",
            "\"3600 gal/h\"",
            "\"3600 GPH\"",
            "\"60 gpm\"",
            "\"60 gal per min\"",
        ] {
            let found = read::<Flow>(text, Unit::Foot);
            assert!(close(found, 0.003_785_411_784), "{text}: {found:?}");
        }
        assert!(close(read::<Flow>("7200", Unit::Metre), 0.002));
        assert!(close(read::<Rain>("4", Unit::Foot), 4.0 * 0.0254 / 3600.0));
        assert!(close(read::<Rain>("\"36 mm/h\"", Unit::Foot), 1e-5));
        assert!(close(read::<Speed>("\"5 ft/s\"", Unit::Metre), 1.524));
        // 100 gal/h per in: 378.5411784 L/h over 2.54 cm.
        let lip = read::<LipFlow>("\"100 gal/h per inch\"", Unit::Foot);
        assert!(close(lip, 0.378_541_178_4 / 3600.0 / 0.0254), "{lip:?}");
    }

    #[test]
    fn what_is_no_rate_is_refused() {
        for text in [
            "0",
            "-3",
            "\"3\"",
            "\"3 gal\"",
            "true",
            "\"\"",
            "\"9e9 m3/s\"",
            "\"nan l/h\"",
        ] {
            assert_eq!(read::<Flow>(text, Unit::Foot), None, "{text}");
        }
        assert_eq!(read::<Rain>("\"4 in\"", Unit::Foot), None);
        assert_eq!(read::<Speed>("\"5 mph\"", Unit::Foot), None);
    }
}
