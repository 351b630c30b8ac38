//! What is asked of a record beside its climate: cold nights below a threshold of one's own, carrying, heating, periods. The same parameters for
//! page, API and command.

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::science::climate::periods::{MOST, Period};
use crate::science::climate::record::RecordError;
use crate::science::climate::site_climate::{ClimateError, Question};
use crate::science::climate::spells::{HeatedShelter, SpellQuestion};
use crate::units::{Celsius, FAHRENHEIT_DEGREES_PER_KELVIN};

use super::read::{ReadError, Reading};

/// Names of the parameters: temperatures in °C, heat loss in W/K, periods as `1961-1990,1991-2020`.
pub const PARAMETERS: [&str; 5] = ["below_c", "carry_below_c", "hold_c", "heat_loss_w_k", "periods"];

/// Temperatures among them, without the letter of their scale.
const TEMPERATURES: [&str; 3] = ["below", "carry_below", "hold"];

/// What forms send beside them: temperatures in °F, heat loss in W for each °F, and the two periods in a field each.
pub const OF_FORMS: [&str; 6] = ["below_f", "carry_below_f", "hold_f", "heat_loss_w_f", "period_1", "period_2"];
/// The heat loss by the scale of its degree.
const LOSS: [&str; 2] = ["heat_loss_w_k", "heat_loss_w_f"];

/// The same question with its temperatures in one scale, so that a form in that scale shows them; what is no number stays as typed.
pub fn in_scale(pairs: Vec<(String, String)>, fahrenheit: bool) -> Vec<(String, String)> {
    let (from, to) = if fahrenheit { ("_c", "_f") } else { ("_f", "_c") };
    let (loss_from, loss_to, per) = if fahrenheit {
        (LOSS[0], LOSS[1], 1.0 / FAHRENHEIT_DEGREES_PER_KELVIN)
    } else {
        (LOSS[1], LOSS[0], FAHRENHEIT_DEGREES_PER_KELVIN)
    };
    let taken: Vec<String> = pairs.iter().filter(|(_, text)| !text.trim().is_empty()).map(|(name, _)| name.clone()).collect();
    let turned = |(name, text): (String, String)| {
        if name == loss_from {
            return match decimal(&text) {
                Ok(loss) => (loss_to.to_owned(), format!("{}", (loss * per * 100.0).round() / 100.0 + 0.0)),
                Err(_) => (name, text),
            };
        }
        let stem = name.strip_suffix(from).filter(|stem| TEMPERATURES.contains(stem));
        let degrees = stem.and_then(|stem| Some((format!("{stem}{to}"), decimal(&text).ok()?)));
        match degrees {
            Some((name, degrees)) => {
                let other = if fahrenheit { degrees * 9.0 / 5.0 + 32.0 } else { (degrees - 32.0) * 5.0 / 9.0 };
                // Two decimals: there and back again is the same number to a hundredth of a degree.
                (name, format!("{}", (other * 100.0).round() / 100.0 + 0.0))
            }
            None => (name, text),
        }
    };
    let is_clear = |name: &str| {
        if name == loss_from {
            return !taken.iter().any(|other| other == loss_to);
        }
        name.strip_suffix(from).is_none_or(|stem| !taken.iter().any(|other| *other == format!("{stem}{to}")))
    };
    pairs.into_iter().map(|pair| if is_clear(&pair.0) { turned(pair) } else { pair }).collect()
}

/// Reads those parameters; others are left alone.
pub fn question(pairs: &[(String, String)]) -> Result<Question, FieldErrors> {
    let value = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, text)| text.trim()).filter(|text| !text.is_empty());
    let mut errors = FieldErrors::default();
    let mut temperature = |name: &str| {
        let (in_c, in_f) = (format!("{name}_c"), format!("{name}_f"));
        let (field, text, make): (_, _, fn(f64) -> _) = match (value(&in_c), value(&in_f)) {
            (Some(_), Some(text)) => {
                errors.add(in_f.clone(), text, format!("{in_c} and {in_f} are the same temperature in two scales; give one of them"));
                return None;
            }
            (Some(text), None) => (in_c, text, Celsius::new),
            (None, Some(text)) => (in_f, text, Celsius::from_fahrenheit),
            (None, None) => return None,
        };
        let read = decimal(text).and_then(|degrees| make(degrees).map_err(|error| error.to_string()));
        errors.keep(&field, text, read)
    };
    let (threshold, carry_below, hold) = (temperature("below"), temperature("carry_below"), temperature("hold"));
    let hold_typed = value("hold_c").or(value("hold_f")).is_some();
    let [in_k, in_f] = LOSS;
    let (loss_field, per_k) = if value(in_f).is_some() { (in_f, FAHRENHEIT_DEGREES_PER_KELVIN) } else { (in_k, 1.0) };
    if let (Some(_), Some(text)) = (value(in_k), value(in_f)) {
        errors.add(in_f, text, format!("{in_k} and {in_f} are the same loss for a degree of two scales; give one of them"));
    }
    let loss = value(loss_field).and_then(|text| errors.keep(loss_field, text, decimal(text)).map(|loss| (text, loss * per_k)));
    let shelter = match (hold, loss) {
        (Some(hold), Some((text, loss))) => errors.keep(loss_field, text, HeatedShelter::new(hold, loss)),
        (Some(_), None) if value(loss_field).is_none() => {
            let (field, unit) = if sent(pairs, in_f, in_k) == in_f { (in_f, "W for each °F") } else { (in_k, "W/K") };
            let needs =
                format!("heating needs the shelter’s loss in {unit} beside the temperature held; the page of the shelter works it out");
            errors.add(field, "", needs);
            None
        }
        (None, Some(_)) if !hold_typed => {
            errors.add(sent(pairs, "hold_f", "hold_c"), "", "heating needs the temperature held beside the loss");
            None
        }
        _ => None,
    };
    let text = value("periods").unwrap_or_default();
    let parts = text.split(',').filter(|part| !part.trim().is_empty()).map(str::parse::<Period>);
    let mut periods = errors.keep("periods", text, parts.collect::<Result<Vec<Period>, _>>()).unwrap_or_default();
    for field in ["period_1", "period_2"] {
        periods.extend(value(field).and_then(|text| errors.keep(field, text, text.parse::<Period>())));
    }
    if periods.len() > MOST {
        errors.add(
            sent(pairs, "period_1", "periods"),
            text,
            format!("at most {MOST} periods are compared, for example 1961-1990,1991-2020"),
        );
    }
    errors.into_result()?;
    Ok(Question { spells: SpellQuestion { threshold, carry_below, shelter }, periods })
}

/// A reading with what else was asked worked out.
pub fn answered(reading: Reading, question: &Question) -> Result<Reading, ReadError> {
    let climate = reading.climate.answered(&reading.record, question)?;
    Ok(Reading { climate, ..reading })
}

/// The field of a form where it was sent, filled in or not, and that of programs where not.
fn sent<'n>(pairs: &[(String, String)], of_form: &'n str, of_programs: &'n str) -> &'n str {
    if pairs.iter().any(|(name, _)| name == of_form) { of_form } else { of_programs }
}

/// What could not be read, at the field among `pairs` where it can be put right.
pub fn refused(why: &ReadError, pairs: &[(String, String)]) -> FieldErrors {
    let field = match why {
        ReadError::Record(RecordError::UnitsUnclear { .. } | RecordError::UnitsDoubtful { .. } | RecordError::MixedColumns { .. }) => {
            "units"
        }
        ReadError::Record(RecordError::SecondStation { .. } | RecordError::StationMissing { .. }) => "station",
        ReadError::Climate(ClimateError::Period(_)) => sent(pairs, "period_1", "periods"),
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
    fn what_is_missing_is_named_by_a_field_that_the_form_has() {
        let in_f = [("hold_f", ""), ("heat_loss_w_k", "120"), ("period_1", ""), ("period_2", "")];
        let errors = asked(&in_f).unwrap_err();
        assert!(errors.of("hold_f").is_some() && errors.of("hold_c").is_none());
        let three = [("period_1", "1961-1970"), ("period_2", "1971-1980"), ("periods", "1981-1990")];
        assert!(asked(&three).unwrap_err().of("period_1").is_some());
    }

    #[test]
    fn a_form_in_fahrenheit_with_its_periods_apart_asks_the_same() {
        let (form, api) = (
            asked(&[("below_f", "23"), ("carry_below_f", "32"), ("period_1", "1961-1990"), ("period_2", "1991-2020")]).unwrap(),
            asked(&[("below_c", "-5"), ("carry_below_c", "0"), ("periods", "1961-1990,1991-2020")]).unwrap(),
        );
        assert_eq!(form, api);
        assert!(asked(&[("below_f", "23"), ("below_c", "-5")]).unwrap_err().of("below_f").is_some());
        assert!(asked(&[("period_2", "sixties")]).unwrap_err().of("period_2").is_some());
    }

    #[test]
    fn a_question_turned_to_another_scale_asks_the_same_and_keeps_what_is_no_number() {
        let typed: Vec<(String, String)> =
            [("below_f", "23"), ("hold_f", "warm"), ("heat_loss_w_f", "50"), ("years", "3"), ("carry_below_f", "")]
                .map(|(k, v)| (k.to_owned(), v.to_owned()))
                .into();
        let turned = in_scale(typed.clone(), false);
        assert!(
            turned.contains(&("below_c".to_owned(), "-5".to_owned())) && turned.contains(&("hold_f".to_owned(), "warm".to_owned())),
            "{turned:?}"
        );
        assert_eq!(in_scale(turned, true), typed);
        let both: Vec<(String, String)> = [("below_f", "23"), ("below_c", "-5")].map(|(k, v)| (k.to_owned(), v.to_owned())).into();
        assert_eq!(in_scale(both.clone(), true), both);
    }

    #[test]
    fn a_loss_is_one_loss_for_each_degree_of_either_scale() {
        let in_k = asked(&[("hold_c", "5"), ("heat_loss_w_k", "90")]).unwrap();
        let in_f = asked(&[("hold_f", "41"), ("heat_loss_w_f", "50")]).unwrap();
        assert_eq!(in_k.spells.shelter, in_f.spells.shelter);
        let twice = asked(&[("hold_c", "5"), ("heat_loss_w_k", "90"), ("heat_loss_w_f", "50")]).unwrap_err();
        assert!(twice.of("heat_loss_w_f").is_some());
        assert!(asked(&[("hold_f", "41"), ("heat_loss_w_f", "")]).unwrap_err().of("heat_loss_w_f").is_some());
    }

    #[test]
    fn periods_beyond_two_and_words_are_refused_by_name() {
        assert_eq!(asked(&[("periods", "1961-1990, 1991-2020")]).unwrap().periods.len(), 2);
        for bad in ["1961-1990,1991-2000,2001-2010", "sixties"] {
            assert!(asked(&[("periods", bad)]).unwrap_err().of("periods").is_some(), "{bad}");
        }
    }
}
