//! Lengths, volumes and weights as people write them, and as reports print them.
//!
//! Everything inside the program is in metres, m³ and kg. `1 ft = 0.3048 m`, `1 US gallon =
//! 3.785411784 L`, `1 lb = 0.45359237 kg`, all exact (NIST SP 811). A bare number is in the job's
//! unit. Limits: anything longer than 100 km, or not finite, is refused.

use std::fmt;

use crate::job::Unit;

pub const FOOT: f64 = 0.3048;
pub const INCH: f64 = 0.0254;
pub const YARD: f64 = 3.0 * FOOT;
pub const CUBIC_FOOT: f64 = FOOT * FOOT * FOOT;
pub const CUBIC_YARD: f64 = YARD * YARD * YARD;
pub const GALLON: f64 = 0.003_785_411_784;
pub const POUND: f64 = 0.453_592_37;
/// Nothing in a back yard is longer than this, metres.
pub const LONGEST: f64 = 100_000.0;
/// Nothing carried out of a back yard in one go is larger (m³) or heavier (kg).
const LARGEST: f64 = 1e9;

/// What is wrong with a quantity; carries what was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum UnitError {
    Empty,
    /// Not a number where one must stand.
    NotANumber(String),
    /// A unit that is not known, or not of this kind of quantity.
    UnknownUnit(String),
    /// NaN or infinity.
    NotFinite(String),
    TooLarge(String),
    /// Twelve inches or more beside feet, or a fraction of one or more.
    TooManyInches(String),
    /// A fraction over nothing.
    ZeroDenominator(String),
}

impl fmt::Display for UnitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            UnitError::Empty => write!(f, "nothing is written here"),
            UnitError::NotANumber(s) if s.trim().is_empty() => {
                write!(f, "there is no number in it")
            }
            UnitError::NotANumber(s) => write!(f, "`{s}` is not a number"),
            UnitError::UnknownUnit(s) => write!(f, "`{s}` is not a unit known here"),
            UnitError::NotFinite(s) => write!(f, "`{s}` is not a finite number"),
            UnitError::TooLarge(s) => write!(f, "`{s}` is larger than anything in a yard"),
            UnitError::TooManyInches(s) => {
                write!(f, "`{s}`: the inches beside feet must be under 12")
            }
            UnitError::ZeroDenominator(s) => write!(f, "`{s}`: a fraction over zero"),
        }
    }
}

impl std::error::Error for UnitError {}

/// What may be written for a length; error messages show it.
pub const LENGTHS: &str = "a number in the job's unit, or text such as \"5'-3 1/2\", \"5.29 ft\", \"4 in\", \"1.61 m\", \"161 cm\", \"38 mm\"";
pub const VOLUMES: &str = "a number (yd³ in a job in feet, m³ in a job in metres), or text such as \"12 yd3\", \"9 m3\", \"6 cu ft\", \"300 gal\", \"80 L\"";
pub const WEIGHTS: &str = "a number (lb in a job in feet, kg in a job in metres), or text such as \"24000 lb\", \"12 ton\", \"9 t\", \"900 kg\"";
pub const DENSITIES: &str = "a number (lb/yd³ in a job in feet, kg/m³ in a job in metres), or text such as \"2100 lb/yd3\", \"80 lb/ft3\", \"1250 kg/m3\", \"1.25 t/m3\"";

impl Unit {
    /// Metres in one of this unit.
    pub fn metres(self) -> f64 {
        match self {
            Unit::Foot => FOOT,
            Unit::Metre => 1.0,
        }
    }

    fn cubic_metres(self) -> f64 {
        match self {
            Unit::Foot => CUBIC_YARD,
            Unit::Metre => 1.0,
        }
    }

    fn kilograms(self) -> f64 {
        match self {
            Unit::Foot => POUND,
            Unit::Metre => 1.0,
        }
    }
}

/// A bare number in the job's unit, in metres.
pub fn length_of_number(number: f64, unit: Unit) -> Result<f64, UnitError> {
    bounded(number * unit.metres(), number, LONGEST, &plain(number))
}

/// A bare number as a volume: yd³ or m³; the result in m³.
pub fn volume_of_number(number: f64, unit: Unit) -> Result<f64, UnitError> {
    bounded(
        number * unit.cubic_metres(),
        number,
        LARGEST,
        &plain(number),
    )
}

/// A bare number as a weight: lb or kg; the result in kg.
pub fn weight_of_number(number: f64, unit: Unit) -> Result<f64, UnitError> {
    bounded(number * unit.kilograms(), number, LARGEST, &plain(number))
}

/// A bare number as a density: lb/yd³ or kg/m³; the result in kg/m³.
pub fn density_of_number(number: f64, unit: Unit) -> Result<f64, UnitError> {
    let factor = unit.kilograms() / unit.cubic_metres();
    bounded(number * factor, number, LARGEST, &plain(number))
}

/// A number as it would be typed: large and tiny ones with an exponent.
pub fn plain(number: f64) -> String {
    let size = number.abs();
    if size.is_finite() && size != 0.0 && !(1e-6..1e15).contains(&size) {
        format!("{number:e}")
    } else {
        number.to_string()
    }
}

fn bounded(value: f64, typed: f64, most: f64, text: &str) -> Result<f64, UnitError> {
    if !typed.is_finite() {
        Err(UnitError::NotFinite(text.to_string()))
    } else if value.abs() > most {
        Err(UnitError::TooLarge(text.to_string()))
    } else {
        Ok(value)
    }
}

/// Reads a length; the result in metres.
///
/// ```
/// use brimline::{job::Unit, units::parse_length};
/// // 5 ft 3 1/2 in = 63.5 in = 1.6129 m
/// assert!((parse_length("5'-3 1/2\"", Unit::Foot).unwrap() - 1.6129).abs() < 1e-12);
/// assert_eq!(parse_length("161 cm", Unit::Foot).unwrap(), 1.61);
/// assert!(parse_length("5 miles", Unit::Foot).is_err());
/// ```
pub fn parse_length(text: &str, unit: Unit) -> Result<f64, UnitError> {
    let plain = normal_marks(text);
    let (sign, rest) = split_sign(plain.trim());
    if rest.is_empty() {
        return Err(UnitError::Empty);
    }
    let magnitude = match rest.split_once('\'') {
        Some((feet, inches)) => feet_and_inches(feet, inches, text)?,
        None => {
            let (number, suffix) = split_unit(rest, text)?;
            let factor = match suffix.as_str() {
                "" => unit.metres(),
                "ft" | "foot" | "feet" => FOOT,
                "\"" | "in" | "inch" | "inches" => {
                    return bounded(sign * inches(number), number, LONGEST, text);
                }
                "yd" | "yard" | "yards" => YARD,
                "m" | "metre" | "metres" | "meter" | "meters" => 1.0,
                "cm" => return bounded(sign * number / 100.0, number, LONGEST, text),
                "mm" => return bounded(sign * number / 1000.0, number, LONGEST, text),
                other => {
                    // "5 ft 3 1/2 in": the same as with marks.
                    if let Some(inches) = after_feet(rest) {
                        let feet = rest[..rest.len() - inches.len()]
                            .trim_end_matches(|c: char| c.is_alphabetic() || c.is_whitespace());
                        let value = feet_and_inches(feet, inches, text)?;
                        return bounded(sign * value, value, LONGEST, text);
                    }
                    return Err(UnitError::UnknownUnit(other.to_string()));
                }
            };
            bounded(number * factor, number, LONGEST, text)?
        }
    };
    bounded(sign * magnitude, magnitude, LONGEST, text)
}

/// True if the text is a number and nothing else: nobody can tell whether it is a name.
pub fn is_bare_number(text: &str) -> bool {
    text.trim().parse::<f64>().is_ok()
}

/// True if the text is figures and nothing else, a fraction included: nobody can tell the unit that
/// was meant, nor whether it is a name.
pub fn lacks_unit(text: &str) -> bool {
    let text = text.trim();
    text.contains(|c: char| c.is_ascii_digit())
        && text
            .chars()
            .all(|c| c.is_ascii_digit() || matches!(c, '.' | '/' | ' ' | '-' | '−' | '+' | '_'))
        || is_bare_number(text)
}

pub fn parse_volume(text: &str, unit: Unit) -> Result<f64, UnitError> {
    let (number, suffix) = number_and_unit(text)?;
    let factor = match suffix.replace('³', "3").as_str() {
        "" => unit.cubic_metres(),
        "yd3" | "cu yd" | "cubic yard" | "cubic yards" => CUBIC_YARD,
        "ft3" | "cu ft" | "cubic foot" | "cubic feet" => CUBIC_FOOT,
        "m3" | "cu m" => 1.0,
        "gal" | "gallon" | "gallons" => GALLON,
        "l" | "litre" | "litres" | "liter" | "liters" => 0.001,
        _ => return Err(UnitError::UnknownUnit(suffix)),
    };
    bounded(number * factor, number, LARGEST, text)
}

pub fn parse_weight(text: &str, unit: Unit) -> Result<f64, UnitError> {
    let (number, suffix) = number_and_unit(text)?;
    let factor = match suffix.as_str() {
        "" => unit.kilograms(),
        "lb" | "lbs" | "pound" | "pounds" => POUND,
        "kg" => 1.0,
        // The short ton of 2000 lb; the metric one is written t.
        "ton" | "tons" => 2000.0 * POUND,
        "t" | "tonne" | "tonnes" => 1000.0,
        _ => return Err(UnitError::UnknownUnit(suffix)),
    };
    bounded(number * factor, number, LARGEST, text)
}

pub fn parse_density(text: &str, unit: Unit) -> Result<f64, UnitError> {
    let (number, suffix) = number_and_unit(text)?;
    let factor = match suffix.replace('³', "3").replace(' ', "").as_str() {
        "" => unit.kilograms() / unit.cubic_metres(),
        "lb/yd3" | "lbs/yd3" => POUND / CUBIC_YARD,
        "lb/ft3" | "lbs/ft3" => POUND / CUBIC_FOOT,
        "kg/m3" => 1.0,
        "t/m3" => 1000.0,
        _ => return Err(UnitError::UnknownUnit(suffix)),
    };
    bounded(number * factor, number, LARGEST, text)
}

pub fn number_and_unit(text: &str) -> Result<(f64, String), UnitError> {
    let plain = normal_marks(text);
    let (sign, rest) = split_sign(plain.trim());
    if rest.is_empty() {
        return Err(UnitError::Empty);
    }
    let (number, suffix) = split_unit(rest, text)?;
    Ok((sign * number, suffix))
}

/// Typographic foot, inch and minus marks become the plain ones.
fn normal_marks(text: &str) -> String {
    text.replace(['’', '′', '‘'], "'")
        .replace("''", "\"")
        .replace(['”', '″', '“'], "\"")
        .replace('−', "-")
}

fn split_sign(text: &str) -> (f64, &str) {
    match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(text).trim_start()),
    }
}

/// The part after "5 ft", if more follows.
fn after_feet(text: &str) -> Option<&str> {
    ["feet", "foot", "ft"].iter().find_map(|word| {
        let at = text.find(word)?;
        let rest = &text[at + word.len()..];
        (!rest.trim().is_empty()).then_some(rest)
    })
}

/// So written, 12 in are exactly 1 ft.
fn inches(number: f64) -> f64 {
    number * FOOT / 12.0
}

fn feet_and_inches(feet: &str, inches: &str, text: &str) -> Result<f64, UnitError> {
    let feet = number(feet.trim())?;
    let inches = inches.trim();
    let inches = inches.strip_prefix('-').unwrap_or(inches).trim();
    let inches = ["\"", "inches", "inch", "in"]
        .iter()
        .find_map(|mark| inches.strip_suffix(mark))
        .unwrap_or(inches)
        .trim();
    if inches.is_empty() {
        return Ok(feet * FOOT);
    }
    let inches = mixed(inches)?;
    if inches >= 12.0 {
        return Err(UnitError::TooManyInches(text.to_string()));
    }
    Ok(self::inches(feet * 12.0 + inches))
}

/// Splits `3 1/2 in` into 3.5 and `in`.
fn split_unit(rest: &str, text: &str) -> Result<(f64, String), UnitError> {
    if ["nan", "inf", "infinity"].contains(&rest.to_ascii_lowercase().as_str()) {
        return Err(UnitError::NotFinite(text.to_string()));
    }
    let end = rest
        .char_indices()
        .find(|&(i, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && rest[..i].ends_with(|d: char| d.is_ascii_digit())
                && rest[i + 1..].starts_with(|d: char| d.is_ascii_digit() || d == '+' || d == '-');
            !(c.is_ascii_digit() || matches!(c, '.' | '/' | ' ' | '+' | '-' | '_') || exponent)
        })
        .map_or(rest.len(), |(i, _)| i);
    let number = mixed(rest[..end].trim().trim_end_matches('-').trim())?;
    Ok((number, rest[end..].trim().to_lowercase()))
}

/// A number, a fraction, or both: `3`, `3.25`, `1/2`, `3 1/2`, `3-1/2`.
fn mixed(text: &str) -> Result<f64, UnitError> {
    let Some((before, denominator)) = text.split_once('/') else {
        return number(text);
    };
    let before = before.trim();
    let (whole, numerator) = match before.rsplit_once([' ', '-']) {
        Some((whole, numerator)) => (number(whole.trim())?, number(numerator)?),
        None => (0.0, number(before)?),
    };
    let denominator = number(denominator.trim())?;
    if denominator == 0.0 {
        return Err(UnitError::ZeroDenominator(text.to_string()));
    }
    Ok(whole + numerator / denominator)
}

/// An unsigned number; the sign has been taken off before.
fn number(text: &str) -> Result<f64, UnitError> {
    if !text.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
        return Err(UnitError::NotANumber(text.to_string()));
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(UnitError::NotFinite(text.to_string())),
        Err(_) => Err(UnitError::NotANumber(text.to_string())),
    }
}

// ---------------------------------------------------------------- for reports

/// `5.29 ft` or `1.612 m`.
pub fn format_length(metres: f64, unit: Unit) -> String {
    match unit {
        Unit::Foot => format!("{} ft", decimals(metres / FOOT, 2)),
        Unit::Metre => format!("{} m", decimals(metres, 3)),
    }
}

/// A length that a rule gives in whole feet: `2 ft`, or `0.61 m (2 ft)` where the job is metric.
pub fn of_rule(feet: u16, unit: Unit) -> String {
    match unit {
        Unit::Foot => format!("{feet} ft"),
        Unit::Metre => format!("{} m ({feet} ft)", decimals(f64::from(feet) * FOOT, 2)),
    }
}

/// Feet, inches and eighths, `5'-3 1/2"`, to the nearest eighth of an inch.
///
/// ```
/// assert_eq!(brimline::units::format_feet_inches(1.6129), "5'-3 1/2\"");
/// ```
pub fn format_feet_inches(metres: f64) -> String {
    if !metres.is_finite() {
        return "?".to_string();
    }
    let eighths = (metres.abs() / INCH * 8.0).round();
    let sign = if metres < 0.0 && eighths > 0.0 {
        "−"
    } else {
        ""
    };
    let (feet, rest) = ((eighths / 96.0).floor(), eighths % 96.0);
    let (inches, part) = ((rest / 8.0).floor(), (rest % 8.0) as u32);
    let fraction = match part {
        0 => "",
        1 => " 1/8",
        2 => " 1/4",
        3 => " 3/8",
        4 => " 1/2",
        5 => " 5/8",
        6 => " 3/4",
        _ => " 7/8",
    };
    format!("{sign}{feet:.0}'-{inches:.0}{fraction}\"")
}

/// `12.3 yd³` or `9.41 m³`.
pub fn format_volume(cubic_metres: f64, unit: Unit) -> String {
    match unit {
        Unit::Foot => format!("{} yd³", decimals(cubic_metres / CUBIC_YARD, 1)),
        Unit::Metre => format!("{} m³", decimals(cubic_metres, 2)),
    }
}

/// `120 ft²` or `11.1 m²`.
pub fn format_area(square_metres: f64, unit: Unit) -> String {
    match unit {
        Unit::Foot => format!("{} ft²", decimals(square_metres / (FOOT * FOOT), 0)),
        Unit::Metre => format!("{} m²", decimals(square_metres, 1)),
    }
}

/// Never prints `−0.00`; what is not finite prints as `?`.
fn decimals(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "?".to_string();
    }
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_string(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn length(text: &str) -> f64 {
        parse_length(text, Unit::Foot).unwrap_or_else(|e| panic!("{text}: {e}"))
    }

    #[track_caller]
    fn near(found: f64, expected: f64) {
        let off = (found - expected).abs();
        assert!(
            off <= 1e-12 * expected.abs().max(1.0),
            "{found}, not {expected}"
        );
    }

    #[test]
    fn constants_are_those_of_nist_sp_811() {
        // NIST SP 811, appendix B: exact by definition.
        near(FOOT, 0.3048);
        near(CUBIC_YARD, 0.764_554_857_984);
        near(GALLON * 1000.0, 3.785_411_784);
        near(POUND, 0.453_592_37);
    }

    #[test]
    fn lengths_as_people_write_them() {
        // Inches times 0.0254, feet times 0.3048.
        for (text, metres) in [
            ("5'-3 1/2\"", 1.6129),
            ("5' 3 1/2\"", 1.6129),
            ("5'-3 1/2", 1.6129),
            ("5'3 1/2\"", 1.6129),
            ("5'-3-1/2\"", 1.6129),
            ("5' - 3 1/2 in", 1.6129),
            ("5 ft 3 1/2 in", 1.6129),
            ("5ft 3.5in", 1.6129),
            ("5 feet 3 1/2 inches", 1.6129),
            ("5’-3 1/2”", 1.6129),
            ("5′-3 1/2″", 1.6129),
            ("3 1/2\"", 0.0889),
            ("3-1/2 in", 0.0889),
            ("1/2\"", 0.0127),
            ("0'-6", 0.1524),
            ("5.29 ft", 1.612_392),
            ("5.29ft", 1.612_392),
            ("5.29'", 1.612_392),
            ("5'", 1.524),
            ("4 in", 0.1016),
            ("2 yd", 1.8288),
            ("1.61 m", 1.61),
            ("161 cm", 1.61),
            ("38 mm", 0.038),
            ("1e2 ft", 30.48),
            ("-3'-6\"", -1.0668),
            ("−3'-6\"", -1.0668),
            ("- 4 in", -0.1016),
            ("+4 in", 0.1016),
            ("10", 3.048),
            (" 10 ", 3.048),
            (".5", 0.1524),
        ] {
            let found = length(text);
            assert!(
                (found - metres).abs() < 1e-12,
                "{text}: {found}, not {metres}"
            );
        }
        near(parse_length("10", Unit::Metre).expect("10 m"), 10.0);
        near(
            length_of_number(5.29, Unit::Foot).expect("5.29 ft"),
            1.612_392,
        );
    }

    #[test]
    fn twelve_inches_are_a_foot() {
        assert_eq!(length("12 in"), length("1 ft"));
        assert_eq!(length("12 in"), length("1'-0\""));
        assert_eq!(length("24 in"), length("2"));
    }

    #[test]
    fn lengths_that_are_none() {
        use UnitError::*;
        let s = |text: &str| text.to_string();
        for (text, error) in [
            ("", Empty),
            ("  ", Empty),
            ("-", Empty),
            ("ft", NotANumber(s(""))),
            ("five ft", NotANumber(s(""))),
            ("5 furlong", UnknownUnit(s("furlong"))),
            ("5 lb", UnknownUnit(s("lb"))),
            ("5'-12\"", TooManyInches(s("5'-12\""))),
            ("5'-x", NotANumber(s("x"))),
            ("x'-5", NotANumber(s("x"))),
            ("1/0 in", ZeroDenominator(s("1/0"))),
            ("1/2/3 in", NotANumber(s("2/3"))),
            ("NaN", NotFinite(s("NaN"))),
            ("inf", NotFinite(s("inf"))),
            ("1e999 ft", NotFinite(s("1e999"))),
            ("1e308", TooLarge(s("1e308"))),
            ("101 km", UnknownUnit(s("km"))),
            ("100001 m", TooLarge(s("100001 m"))),
            ("--5", NotANumber(s("-5"))),
            ("5 5 ft", NotANumber(s("5 5"))),
            ("1.2.3", NotANumber(s("1.2.3"))),
        ] {
            assert_eq!(parse_length(text, Unit::Foot), Err(error), "{text}");
        }
        assert!(length_of_number(f64::NAN, Unit::Foot).is_err());
        assert!(length_of_number(f64::NEG_INFINITY, Unit::Metre).is_err());
        assert!(length_of_number(1e308, Unit::Metre).is_err());
        assert!(length_of_number(-100_001.0, Unit::Metre).is_err());
        assert!(length_of_number(100_000.0, Unit::Metre).is_ok());
    }

    #[test]
    fn volumes_weights_densities() {
        let volume = |text| parse_volume(text, Unit::Foot).expect(text);
        near(volume("10"), 7.645_548_579_84);
        near(volume("10 yd3"), 7.645_548_579_84);
        near(volume("10 yd³"), 7.645_548_579_84);
        near(volume("27 cu ft"), CUBIC_YARD);
        near(volume("2 m3"), 2.0);
        near(volume("100 gal"), 0.378_541_178_4);
        near(volume("80 L"), 0.08);
        assert!(parse_volume("3 ft", Unit::Foot).is_err());
        near(parse_volume("2", Unit::Metre).expect("2"), 2.0);
        let weight = |text| parse_weight(text, Unit::Foot).expect(text);
        near(weight("2000"), 907.184_74);
        near(weight("1 ton"), 907.184_74);
        near(weight("1 t"), 1000.0);
        near(weight("5 kg"), 5.0);
        assert!(parse_weight("5 ft", Unit::Foot).is_err());
        let density = |text| parse_density(text, Unit::Foot).expect(text);
        // 1 lb/yd³ = 0.59327642 kg/m³ (NIST SP 811 gives 0.5932764).
        assert!((density("1") - 0.593_276_4).abs() < 1e-7);
        near(density("27 lb/yd3"), density("1 lb/ft3"));
        near(density("1.25 t/m3"), 1250.0);
        assert!(parse_density("5 lb", Unit::Foot).is_err());
    }

    #[test]
    fn reports() {
        assert_eq!(format_length(1.612_392, Unit::Foot), "5.29 ft");
        assert_eq!(format_length(1.612_392, Unit::Metre), "1.612 m");
        assert_eq!(format_length(-0.001, Unit::Foot), "0.00 ft");
        assert_eq!(format_length(-1.2345, Unit::Metre), "−1.234 m");
        assert_eq!(format_length(f64::NAN, Unit::Foot), "? ft");
        assert_eq!(format_volume(CUBIC_YARD * 12.34, Unit::Foot), "12.3 yd³");
        assert_eq!(format_volume(9.414, Unit::Metre), "9.41 m³");
        assert_eq!(format_area(FOOT * FOOT * 120.4, Unit::Foot), "120 ft²");
        assert_eq!(format_area(11.14, Unit::Metre), "11.1 m²");
        for (metres, text) in [
            (1.6129, "5'-3 1/2\""),
            (0.0, "0'-0\""),
            (FOOT * 5.999_999, "6'-0\""),
            (INCH * 11.99, "1'-0\""),
            (-INCH * 6.125, "−0'-6 1/8\""),
            (INCH * 0.01, "0'-0\""),
            (-INCH * 0.01, "0'-0\""),
            (f64::INFINITY, "?"),
        ] {
            assert_eq!(format_feet_inches(metres), text, "{metres}");
        }
        // What is printed can be typed again: within a sixteenth of an inch.
        for i in -400..400 {
            let metres = f64::from(i) * 0.0137;
            let again = length(&format_feet_inches(metres));
            assert!((again - metres).abs() <= INCH / 16.0 + 1e-12, "{metres}");
        }
    }
}
