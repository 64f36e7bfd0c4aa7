//! Exact unit factors: NIST SP 811 (1 in = 2.54 cm exactly; t/°C = (t/°F − 32)/1.8; 1 oz = 28.349523125 g).

coded_enum! {
    /// A unit that a length, temperature or mass is given in.
    Unit, "unit" {
        Inch = "in", "inches";
        Centimetre = "cm", "cm";
        Millimetre = "mm", "mm";
        Fahrenheit = "f", "°F";
        Celsius = "c", "°C";
        Ounce = "oz", "oz";
        Gram = "g", "g";
    }
}

/// Why a value was not converted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum UnitError {
    /// The two units measure different things.
    #[error("{0} cannot be converted to {1}")]
    NotConvertible(Unit, Unit),
    /// Infinite, or not a number.
    #[error("the value is not a number")]
    NotANumber,
}

/// A value in another unit.
///
/// # Errors
/// Units of different quantities, and values that are not finite.
pub fn convert(value: f64, from: Unit, to: Unit) -> Result<f64, UnitError> {
    use Unit::{Celsius, Centimetre, Fahrenheit, Gram, Inch, Millimetre, Ounce};
    if !value.is_finite() {
        return Err(UnitError::NotANumber);
    }
    Ok(match (from, to) {
        _ if from == to => value,
        (Inch, Centimetre) => value * 2.54,
        (Inch, Millimetre) => value * 25.4,
        (Centimetre, Inch) => value / 2.54,
        (Millimetre, Inch) => value / 25.4,
        (Centimetre, Millimetre) => value * 10.0,
        (Millimetre, Centimetre) => value / 10.0,
        (Fahrenheit, Celsius) => (value - 32.0) / 1.8,
        (Celsius, Fahrenheit) => value * 1.8 + 32.0,
        (Ounce, Gram) => value * 28.349_523_125,
        (Gram, Ounce) => value / 28.349_523_125,
        _ => return Err(UnitError::NotConvertible(from, to)),
    })
}
