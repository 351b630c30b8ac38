//! How long the longest new shoot became, as a person writes it: a number with its unit.

use crate::input::fields::{Fields, decimal};
use crate::records::WinterRecord;
use crate::units::customary::METRES_PER_FOOT;

/// Length of the longest new shoot, cm, as a person writes it with its unit.
pub(super) fn read(fields: &mut Fields<'_>) -> Option<u16> {
    let typed = fields.value("shoot_length")?;
    fields.errors.keep("shoot_length", typed, centimetres(typed))
}

fn centimetres(typed: &str) -> Result<u16, String> {
    let at = typed.find(|c: char| c.is_alphabetic() || matches!(c, '"' | '\'' | '″' | '′')).unwrap_or(typed.len());
    let (number, unit) = typed.split_at(at);
    let of_unit = match unit.trim().to_lowercase().as_str() {
        "cm" => 1.0,
        "m" => 100.0,
        "ft" | "feet" | "foot" | "'" | "′" => 100.0 * METRES_PER_FOOT,
        "in" | "inch" | "inches" | "\"" | "″" => 100.0 * METRES_PER_FOOT / 12.0,
        _ => return Err("write the length with its unit: 150 cm, 1.5 m, 5 ft or 60 in".to_owned()),
    };
    let cm = (decimal(number)? * of_unit).round();
    if (1.0..=f64::from(WinterRecord::LONGEST_SHOOT_CM)).contains(&cm) {
        return Ok(cm as u16);
    }
    Err(format!("a length from 1 cm to {} cm (about 20 ft) is accepted", WinterRecord::LONGEST_SHOOT_CM))
}

#[cfg(test)]
mod tests {
    use super::*;

    // 5 ft are 152.4 cm, 60 in the same.
    #[test]
    fn a_length_is_read_in_any_of_four_units_and_never_without_one() {
        for (typed, cm) in [("150 cm", 150), ("1,5 m", 150), ("5 ft", 152), ("5'", 152), ("60 in", 152), ("60\"", 152)] {
            assert_eq!(centimetres(typed), Ok(cm), "{typed}");
        }
        for typed in ["150", "7 m", "0 cm", "-2 m", "long", "m", "2 miles"] {
            assert!(centimetres(typed).is_err(), "{typed}");
        }
    }
}
