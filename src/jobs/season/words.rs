//! What a first winter asks for, in sentences.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::jobs::season::dates::{days, turn_before};
use crate::jobs::season::first_winter::{Effect, FirstWinter, Step};
use crate::science::climate::season::{CREST_DAY_NORTH, YEAR_DAYS};
use crate::science::climate::winters::Hemisphere;
use crate::science::site::Protection;
use crate::units::Celsius;

/// Plants in a hundred that a measure has to save to be asked for. DESIGN.
const WORTH_ASKING: f64 = 0.01;

/// One thing to do: when, and what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepWords {
    /// By a date, from a date, or below a temperature.
    pub when: String,
    /// What, and what it does.
    pub what: String,
    /// Both in a few words.
    pub brief: String,
    /// Whether it is about a pot in its store, on which there is advice.
    pub in_store: bool,
}

/// The calendar of a reader: a day, the half of the Earth, and how temperatures are written.
pub struct Calendar<'a> {
    /// Today.
    pub today: Date,
    /// Half of the Earth.
    pub hemisphere: Hemisphere,
    /// Writes a temperature.
    pub cold: &'a dyn Fn(Celsius) -> String,
}

impl Calendar<'_> {
    /// A day counted from the turn of the year before today, as people write it.
    pub fn date(&self, day: f64) -> String {
        let turn = turn_before(self.hemisphere, self.today);
        turn.checked_add((day.round() as i64).days()).unwrap_or(turn).strftime("%-d\u{a0}%b").to_string()
    }

    /// Today, counted from the crest of the summer before: the winter is one stretch.
    fn today(&self) -> f64 {
        let day = days(turn_before(self.hemisphere, self.today), self.today);
        if day < CREST_DAY_NORTH { day + YEAR_DAYS } else { day }
    }
}

/// All steps in one line: `Mulch by 12 Nov; cover below −7 °C; covers off from 2 May.`
pub fn in_one_line(steps: &[StepWords]) -> String {
    let line = steps.iter().map(|step| step.brief.as_str()).collect::<Vec<_>>().join("; ");
    let mut letters = line.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).chain(['.']).collect())
}

fn hundred(p: f64) -> String {
    match 100.0 * p {
        x if x < 0.5 => "hardly one".to_owned(),
        x if x > 99.5 => "nearly all".to_owned(),
        x => format!("{x:.0}"),
    }
}

/// `of a hundred young plants 30 die in their first winter without it, 12 with it`.
fn saves(effect: Effect, without: &str, with: &str) -> Option<String> {
    let told = |(before, after): (f64, f64), harm: &str| {
        (before - after >= WORTH_ASKING)
            .then(|| format!("Of a hundred young plants {} {harm} {without}, {} {with}.", hundred(before), hundred(after)))
    };
    told(effect.dead, "die in their first winter").or_else(|| told(effect.loses_top, "lose their top in their first winter"))
}

/// The steps as said to a reader. A measure that saves hardly anything is left out.
pub fn steps(first: &FirstWinter, calendar: &Calendar<'_>) -> Vec<StepWords> {
    told(first, calendar).into_iter().map(|(_, words)| words).collect()
}

/// The same beside what is said.
pub(crate) fn told(first: &FirstWinter, calendar: &Calendar<'_>) -> Vec<(Step, StepWords)> {
    let mut told: Vec<(Step, StepWords)> = first.steps.iter().filter_map(|step| Some((*step, said(step, first, calendar)?))).collect();
    let covered = told.iter().any(|(step, _)| matches!(step, Step::PutOn { .. } | Step::CoverNights { .. }));
    if let Some(uncover) = told.iter_mut().find(|(step, _)| matches!(step, Step::Uncover(_))).filter(|_| !covered)
        && let Some(words) = said(&Step::NoCover, first, calendar)
    {
        *uncover = (Step::NoCover, words);
    }
    told
}

fn said(step: &Step, first: &FirstWinter, calendar: &Calendar<'_>) -> Option<StepWords> {
    let cold = calendar.cold;
    // From leaf-fall on, what should have been done by a day that is past is done now.
    let by = |day: f64| {
        let today = calendar.today();
        if today >= first.leaf_fall && day <= today && today < YEAR_DAYS + CREST_DAY_NORTH / 2.0 {
            "now".to_owned()
        } else {
            format!("by {}", calendar.date(day))
        }
    };
    let first_comes = |day: f64| format!("In one year of ten the first comes by {}.", calendar.date(day));
    let (when, what, brief) = match *step {
        Step::Nothing { below, share } => {
            let often = if share < 0.01 { "under 1".to_owned() } else { format!("{:.0}", 100.0 * share) };
            let what = format!(
                "Nothing needs doing for the cold: a night of {} or below, which would harm a young plant, comes in {often} of a hundred winters.",
                cold(below)
            );
            ("in winter".to_owned(), what, "nothing needs doing for the cold".to_owned())
        }
        Step::PutOn { protection, by: day, effect } => {
            let gain = saves(effect, "without it", "with it");
            let (what, brief) = match protection {
                Protection::Mulch => ("Mulch the crown before the soil freezes.", "mulch"),
                Protection::Wrap => ("Wrap it in cloth once its leaves are down.", "wrap it"),
                Protection::CoverToGround => {
                    ("Have the cover ready that reaches the soil all round; put it on before cold nights.", "have the cover ready")
                }
                Protection::FilledCage => {
                    ("Set the cage round it and fill it with dry leaves or straw once its own are down.", "set and fill the cage")
                }
                Protection::UnheatedHouse => ("Have it in the unheated house.", "into the unheated house"),
                Protection::None | Protection::CarriedIn => return None,
            };
            if protection == Protection::Mulch && gain.is_none() {
                return None;
            }
            let brief = format!("{brief} {}", by(day));
            (by(day), [Some(what.to_owned()), gain].into_iter().flatten().collect::<Vec<_>>().join(" "), brief)
        }
        Step::CoverNights { below, from, effect } => {
            let what = match effect {
                Some(effect) => {
                    let gain = saves(effect, "uncovered", "covered")?;
                    format!("Cover it down to the soil before such a night, off again by noon. {gain} {}", first_comes(from))
                }
                None => format!("Add a cover down to the soil: such a night harms it even so. {}", first_comes(from)),
            };
            (format!("below {}", cold(below)), what, format!("cover below {}", cold(below)))
        }
        Step::CarryIn { below, from, effect } => {
            let gain = saves(effect, "left outside", "carried in").map(|gain| format!(" {gain}")).unwrap_or_default();
            let what = format!("Carry the pot in before the first such night.{gain} {}", first_comes(from));
            let brief = format!("carry in below {}", cold(below));
            return Some(StepWords { when: format!("below {}", cold(below)), what, brief, in_store: true });
        }
        Step::OutAgain { asleep, in_leaf } => {
            let what = format!("Out again while it is leafless; once in leaf, not before {}.", calendar.date(in_leaf));
            let from = format!("from {}", calendar.date(asleep));
            (from.clone(), what, format!("out again {from}"))
        }
        Step::Uncover(day) => {
            let from = format!("from {}", calendar.date(day));
            let what = "Covers off for good: in nine years of ten no harmful night comes after.".to_owned();
            (from.clone(), what, format!("covers off {from}"))
        }
        Step::NoCover => {
            let what = "A cover saves hardly a young plant in its first winter here: none is needed.".to_owned();
            ("in winter".to_owned(), what, "no cover needed".to_owned())
        }
        Step::DoNotDig(day) => (
            format!("until {}", calendar.date(day)),
            "Looks dead? Do not dig: by then nine in ten of those killed to the ground have shoots again.".to_owned(),
            format!("do not dig before {}", calendar.date(day)),
        ),
    };
    Some(StepWords { when, what, brief, in_store: false })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::shortlist::question::Question;
    use crate::model::snapshot::Snapshot;

    fn said_for(query: &[(&str, &str)], today: Date) -> Vec<StepWords> {
        let snapshot = Snapshot::from_seed().unwrap();
        let pairs: Vec<(String, String)> = query.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        let site = Question::parse(&pairs, true).unwrap().site(&snapshot.priors);
        let celeste = snapshot.standings.iter().zip(snapshot.catalogue.cultivars()).find(|(_, c)| c.slug.as_str() == "celeste").unwrap().0;
        let first = snapshot.first_winter(&site, &[&celeste.belief]).unwrap();
        let cold = |t: Celsius| t.to_string();
        steps(&first, &Calendar { today, hemisphere: Hemisphere::North, cold: &cold })
    }

    #[test]
    fn a_pot_on_a_balcony_is_carried_in_by_temperature_and_out_again_by_date() {
        let pot = [("zone", "6b"), ("culture", "container"), ("container_l", "25")];
        let said = said_for(&pot, jiff::civil::date(2026, 9, 1));
        assert!(said[0].when.starts_with("below −") && said[0].what.starts_with("Carry the pot in"), "{said:?}");
        assert!(said[0].in_store && said[1].when.starts_with("from ") && said[1].what.contains("leafless"), "{said:?}");
        assert!(said.iter().all(|step| !step.what.contains("ground")), "{said:?}");
    }

    #[test]
    fn the_open_ground_is_mulched_by_a_date_and_that_is_now_once_the_date_is_past() {
        let ground = [("zone", "6b")];
        let (early, late) = (said_for(&ground, jiff::civil::date(2026, 9, 1)), said_for(&ground, jiff::civil::date(2027, 1, 10)));
        assert!(early[0].when.starts_with("by ") && early[0].what.starts_with("Mulch the crown"), "{early:?}");
        assert_eq!(late[0].when, "now");
        assert!(early.last().unwrap().what.contains("Do not dig"));
    }

    #[test]
    fn covers_come_off_only_where_one_was_put_on() {
        let said = said_for(&[("place", "Osaka, Japan")], jiff::civil::date(2026, 9, 1));
        let line = in_one_line(&said);
        assert!(line.starts_with("No cover needed") && !line.contains("covers off"), "{line}");
        let cold = in_one_line(&said_for(&[("zone", "6b")], jiff::civil::date(2026, 9, 1)));
        assert!(cold.contains("covers off") && !cold.contains("needed"), "{cold}");
    }

    #[test]
    fn where_no_winter_harms_a_young_plant_nothing_is_asked_for() {
        let said = said_for(&[("zone", "11a"), ("climate", "coast")], jiff::civil::date(2026, 9, 1));
        assert!(said.len() == 1 && said[0].what.starts_with("Nothing needs doing"), "{said:?}");
    }
}
