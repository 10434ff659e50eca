//! Readers of quantities: lengths, slopes, angles, factors, volumes, weights.

use crate::job::decode::{Context, Read};
use crate::job::form::Form;
use crate::job::tree::{Kind, Node, shorten};
use crate::units::{self, UnitError};

pub const ANY: u8 = 0;
pub const NOT_NEGATIVE: u8 = 1;
pub const POSITIVE: u8 = 2;

/// A length in metres; `SIGN` says which are allowed.
pub struct Length<const SIGN: u8 = ANY>;
/// Zero or more.
pub type Distance = Length<NOT_NEGATIVE>;
/// More than zero.
pub type Extent = Length<POSITIVE>;

impl<const SIGN: u8> Read for Length<SIGN> {
    type Out = f64;

    fn says() -> String {
        match SIGN {
            ANY => "length",
            NOT_NEGATIVE => "length, 0 or more",
            _ => "length, more than 0",
        }
        .to_string()
    }

    fn form() -> Form {
        Form::Length {
            least: (SIGN != ANY).then_some(0.0),
            above: SIGN == POSITIVE,
        }
    }

    fn read(node: &Node, cx: &mut Context) -> Option<f64> {
        let value = match &node.kind {
            Kind::Number(n) => units::length_of_number(*n, cx.unit),
            Kind::Text(text) if units::lacks_unit(text) => return unitless(node, cx),
            Kind::Text(text) => units::parse_length(text, cx.unit),
            _ => return cx.wrong(node, format!("a length: {}", units::LENGTHS)),
        };
        let value = quantity(value, node, cx, units::LENGTHS)?;
        let allowed = match SIGN {
            NOT_NEGATIVE if value < 0.0 => "a length of 0 or more",
            POSITIVE if value <= 0.0 => "a length of more than 0",
            _ => return Some(value),
        };
        cx.wrong(node, allowed)
    }
}

fn quantity(
    value: Result<f64, UnitError>,
    node: &Node,
    cx: &mut Context,
    allowed: &str,
) -> Option<f64> {
    match value {
        Ok(value) => Some(value),
        Err(error) => {
            let allowed = match error {
                UnitError::TooLarge(_) if matches!(cx.field, "x" | "y") => {
                    "allowed: up to 100 km; from coordinates of a larger net subtract the same \
                     round number everywhere, one from every x and one from every y"
                        .to_string()
                }
                UnitError::TooLarge(_) => format!("allowed: up to 100 km; {allowed}"),
                _ => format!("allowed: {allowed}"),
            };
            let what = format!("`{}`: {}", cx.field, shorten_error(&error));
            cx.problem(node.span.clone(), what, allowed);
            None
        }
    }
}

/// Figures in quotation marks without a unit: "24" may be feet or inches, or the name of a shot.
fn unitless(node: &Node, cx: &mut Context) -> Option<f64> {
    cx.wrong(
        node,
        "a number in the job's unit without quotation marks, or text with its unit, such as \"24 in\"",
    )
}

fn shorten_error(error: &UnitError) -> String {
    let text = error.to_string();
    if text.chars().count() > 120 {
        shorten(&text)
    } else {
        text
    }
}

macro_rules! quantity_reader {
    ($name:ident, $says:literal, $of_number:path, $parse:path, $allowed:path) => {
        pub struct $name;

        impl Read for $name {
            type Out = f64;

            fn says() -> String {
                $says.to_string()
            }

            fn form() -> Form {
                Form::$name
            }

            fn read(node: &Node, cx: &mut Context) -> Option<f64> {
                let value = match &node.kind {
                    Kind::Number(n) => $of_number(*n, cx.unit),
                    Kind::Text(text) if units::lacks_unit(text) => return unitless(node, cx),
                    Kind::Text(text) => $parse(text, cx.unit),
                    _ => return cx.wrong(node, $allowed),
                };
                let value = quantity(value, node, cx, $allowed)?;
                if value <= 0.0 {
                    return cx.wrong(node, "more than 0");
                }
                Some(value)
            }
        }
    };
}

quantity_reader!(
    Volume,
    "volume, more than 0",
    units::volume_of_number,
    units::parse_volume,
    units::VOLUMES
);
quantity_reader!(
    Weight,
    "weight, more than 0",
    units::weight_of_number,
    units::parse_weight,
    units::WEIGHTS
);
quantity_reader!(
    Density,
    "density, more than 0",
    units::density_of_number,
    units::parse_density,
    units::DENSITIES
);

macro_rules! number_reader {
    ($name:ident, $least:literal ..= $most:literal, $says:literal) => {
        pub struct $name;

        impl Read for $name {
            type Out = f64;

            fn says() -> String {
                format!("{}, {} to {}", $says, $least, $most)
            }

            fn form() -> Form {
                Form::Number {
                    least: $least,
                    most: $most,
                }
            }

            fn read(node: &Node, cx: &mut Context) -> Option<f64> {
                match node.kind {
                    // A NaN is in no range.
                    Kind::Number(n) if ($least..=$most).contains(&n) => Some(n),
                    _ => cx.wrong(node, format!("{}, from {} to {}", $says, $least, $most)),
                }
            }
        }
    };
}
pub(crate) use number_reader;

number_reader!(Degrees, -360.0..=360.0, "degrees");
number_reader!(Repose, 1.0..=89.0, "degrees");
number_reader!(Percent, 0.0..=100.0, "percent");
number_reader!(Factor, 0.2..=5.0, "factor");
number_reader!(Seconds, 0.0..=3600.0, "seconds");
number_reader!(Minutes, 0.0..=1440.0, "minutes");
number_reader!(Hours, 0.0..=10000.0, "hours");
number_reader!(Rate, 0.01..=1000.0, "ratio");
number_reader!(Tracks, 1.0..=8.0, "number");
number_reader!(Count, -100000.0..=100000.0, "number");

/// Horizontal run per unit of rise: `2` or `"2:1"`; 0 is vertical.
pub struct Slope;

impl Read for Slope {
    type Out = f64;

    fn says() -> String {
        "batter, 0 to 100".to_string()
    }

    fn form() -> Form {
        Form::Batter
    }

    fn read(node: &Node, cx: &mut Context) -> Option<f64> {
        let value = match &node.kind {
            Kind::Number(n) => Some(*n),
            Kind::Text(text) => ratio(text, ":"),
            _ => None,
        };
        match value {
            Some(v) if (0.0..=100.0).contains(&v) => Some(v),
            _ => cx.wrong(
                node,
                "a batter as run over rise from 0 (vertical) to 100, such as 2 or \"2:1\"",
            ),
        }
    }
}

/// Rise over run: `0.25`, `"1 in 4"` or `"25%"`.
pub struct Gradient;

impl Read for Gradient {
    type Out = f64;

    fn says() -> String {
        "gradient, more than 0 to 2".to_string()
    }

    fn form() -> Form {
        Form::Gradient
    }

    fn read(node: &Node, cx: &mut Context) -> Option<f64> {
        let value = match &node.kind {
            Kind::Number(n) => Some(*n),
            Kind::Text(text) => match text.trim().strip_suffix('%') {
                Some(percent) => percent.trim().parse::<f64>().ok().map(|p| p / 100.0),
                None => ratio(text, "in"),
            },
            _ => None,
        };
        match value {
            Some(v) if v > 0.0 && v <= 2.0 => Some(v),
            _ => cx.wrong(
                node,
                "a gradient as rise over run, more than 0 and at most 2, such as 0.25, \"1 in 4\" or \"25%\"",
            ),
        }
    }
}

fn ratio(text: &str, mark: &str) -> Option<f64> {
    let (a, b) = text.split_once(mark)?;
    let (a, b) = (a.trim().parse::<f64>().ok()?, b.trim().parse::<f64>().ok()?);
    (b > 0.0).then_some(a / b)
}
