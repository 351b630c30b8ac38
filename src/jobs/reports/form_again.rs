//! A kept report as the form would have sent it, so that it can be shown, changed and read again.

use jiff::civil::Date;

use crate::jobs::reports::questions::QUESTIONS;
use crate::records::flag_rules;
use crate::records::{FirstGrowth, Report};

/// The three boxes of a day.
fn day(name: &str, day: Date) -> [(String, String); 3] {
    [("day", day.day().to_string()), ("month", day.month().to_string()), ("year", day.year().to_string())]
        .map(|(part, number)| (format!("{name}_{part}"), number))
}

/// A report as the form would have sent it.
pub fn pairs_of(report: &Report) -> Vec<(String, String)> {
    let record = &report.record;
    let mut pairs = vec![("winter".to_owned(), record.winter.to_string())];
    pairs.extend(
        QUESTIONS
            .iter()
            .filter_map(|question| Some((question.name.to_owned(), (question.answer)(record).map(|(word, _)| word.to_owned())?))),
    );
    pairs.extend(day("looked", record.looked));
    match record.first_growth {
        Some(FirstGrowth::On(first)) => pairs.extend(day("first_growth", first)),
        Some(FirstGrowth::NotBy(_)) => pairs.push(("no_growth_yet".to_owned(), "yes".to_owned())),
        None => {}
    }
    pairs.extend(record.first_ripe.map(|ripe| day("first_ripe", ripe)).into_iter().flatten());
    let mut add = |name: &str, value: Option<String>| pairs.extend(value.map(|value| (name.to_owned(), value)));
    if let Some(coldest) = &record.coldest {
        add("coldest", Some(coldest.typed.clone()));
        add("coldest_unit", Some(coldest.unit.to_string()));
        add("thermometer", Some(coldest.thermometer.to_string()));
        // What was said to be right before is not asked again.
        add("coldest_sure", (!flag_rules::is_likely(coldest.celsius)).then(|| "yes".to_owned()));
    }
    add("wood_years", record.wood_years.map(|years| years.to_string()));
    add("shoot_length", record.shoot_cm.map(|cm| format!("{cm} cm")));
    add("heat_site", record.heat.and_then(|heat| heat.site).map(|site| site.to_string()));
    add("note", record.note.clone());
    add("complete_list", record.complete_list.then(|| "yes".to_owned()));
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::form::read_known;
    use crate::records::sample;
    use crate::units::Celsius;
    use jiff::civil::date;

    #[test]
    fn a_report_sent_again_unchanged_says_what_it_said_before() {
        let mut report = sample::report();
        report.record.wood_years = Some(0);
        report.record.shoot_cm = Some(150);
        report.record.first_growth = Some(FirstGrowth::NotBy(report.record.looked));
        report.record.note = Some("behind the shed".to_owned());
        if let Some(coldest) = &mut report.record.coldest {
            coldest.celsius = Celsius::new(-9.0).unwrap();
            coldest.typed = "-9".to_owned();
            coldest.unit = crate::records::words::TypedUnit::Celsius;
        }
        let mut again = read_known(&pairs_of(&report), &report.plant, date(2030, 1, 1)).unwrap();
        again.heat = report.record.heat;
        assert_eq!(again, report.record);
    }
}
