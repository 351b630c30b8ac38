//! What is asked of a record beside its climate: cold nights below a threshold of one's own, carrying, heating, periods. The same parameters for
//! page, API and command.

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::science::climate::periods::{MOST, Period};
use crate::science::climate::record::RecordError;
use crate::science::climate::site_climate::{ClimateError, Question};
use crate::science::climate::spells::{HeatedShelter, SpellQuestion};
use crate::units::Celsius;

use super::read::{ReadError, Reading};

/// Names of the parameters: temperatures in °C, heat loss in W/K, periods as `1961-1990,1991-2020`.
pub const PARAMETERS: [&str; 5] = ["below_c", "carry_below_c", "hold_c", "heat_loss_w_k", "periods"];

/// Reads those parameters; others are left alone.
pub fn question(pairs: &[(String, String)]) -> Result<Question, FieldErrors> {
    let value = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, text)| text.trim()).filter(|text| !text.is_empty());
    let mut errors = FieldErrors::default();
    let mut temperature = |name: &str| {
        let text = value(name)?;
        let read = decimal(text).and_then(|degrees| Celsius::new(degrees).map_err(|error| error.to_string()));
        errors.keep(name, text, read)
    };
    let (threshold, carry_below, hold) = (temperature("below_c"), temperature("carry_below_c"), temperature("hold_c"));
    let loss = value("heat_loss_w_k").and_then(|text| errors.keep("heat_loss_w_k", text, decimal(text)).map(|loss| (text, loss)));
    let shelter = match (hold, loss) {
        (Some(hold), Some((text, loss))) => errors.keep("heat_loss_w_k", text, HeatedShelter::new(hold, loss)),
        (Some(_), None) if value("heat_loss_w_k").is_none() => {
            errors.add(
                "heat_loss_w_k",
                "",
                "heating needs the shelter’s loss in W/K beside the temperature held; the page of the shelter works it out",
            );
            None
        }
        (None, Some(_)) if value("hold_c").is_none() => {
            errors.add("hold_c", "", "heating needs the temperature held, °C, beside the loss");
            None
        }
        _ => None,
    };
    let text = value("periods").unwrap_or_default();
    let parts = text.split(',').filter(|part| !part.trim().is_empty()).map(str::parse::<Period>);
    let periods = errors.keep("periods", text, parts.collect::<Result<Vec<Period>, _>>());
    let periods = periods.unwrap_or_default();
    if periods.len() > MOST {
        errors.add("periods", text, format!("at most {MOST} periods are compared, for example 1961-1990,1991-2020"));
    }
    errors.into_result()?;
    Ok(Question { spells: SpellQuestion { threshold, carry_below, shelter }, periods })
}

/// A reading with what else was asked worked out.
pub fn answered(reading: Reading, question: &Question) -> Result<Reading, ReadError> {
    let climate = reading.climate.answered(&reading.record, question)?;
    Ok(Reading { climate, ..reading })
}

/// What could not be read, at the field where it can be put right.
pub fn refused(why: &ReadError) -> FieldErrors {
    let field = match why {
        ReadError::Record(RecordError::UnitsUnclear { .. } | RecordError::UnitsDoubtful { .. } | RecordError::MixedColumns { .. }) => {
            "units"
        }
        ReadError::Record(RecordError::SecondStation { .. } | RecordError::StationMissing { .. }) => "station",
        ReadError::Climate(ClimateError::Period(_)) => "periods",
        _ => "record",
    };
    let mut errors = FieldErrors::default();
    errors.add(field, "", why);
    errors
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(pairs: &[(&str, &str)]) -> Result<Question, FieldErrors> {
        question(&pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect::<Vec<_>>())
    }

    #[test]
    fn half_of_a_heating_question_names_the_other_half() {
        assert!(asked(&[("hold_c", "2")]).unwrap_err().of("heat_loss_w_k").is_some());
        assert!(asked(&[("heat_loss_w_k", "120")]).unwrap_err().of("hold_c").is_some());
        assert!(asked(&[("hold_c", "2"), ("heat_loss_w_k", "120")]).unwrap().spells.shelter.is_some());
        assert_eq!(asked(&[]).unwrap(), Question::default());
    }

    #[test]
    fn periods_beyond_two_and_words_are_refused_by_name() {
        assert_eq!(asked(&[("periods", "1961-1990, 1991-2020")]).unwrap().periods.len(), 2);
        for bad in ["1961-1990,1991-2000,2001-2010", "sixties"] {
            assert!(asked(&[("periods", bad)]).unwrap_err().of("periods").is_some(), "{bad}");
        }
    }
}
