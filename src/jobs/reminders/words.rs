//! What calendar and feed say.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::jobs::reminders::dates::{DateKind, DueDate};
use crate::records::FirstScale;
use crate::units::counted;

/// Plants named in one entry; the others are counted. DESIGN.
const NAMED: usize = 30;
/// Said with every date of a usual year.
const USUAL: &str = "Worked out for a usual year at your place; look at the plant and at the forecast before you act.";

fn day(date: Date) -> String {
    date.strftime("%-d %B").to_string()
}

/// Plants by name, alike ones counted: `2 × Celeste, Olympian`.
pub fn figs(names: &[String]) -> String {
    let mut counted: BTreeMap<&str, usize> = BTreeMap::new();
    for name in names {
        *counted.entry(name.as_str()).or_default() += 1;
    }
    let others = counted.len().saturating_sub(NAMED);
    let mut said: Vec<String> = counted
        .into_iter()
        .take(NAMED)
        .map(|(name, times)| if times == 1 { name.to_owned() } else { format!("{times} × {name}") })
        .collect();
    if others > 0 {
        said.push(format!("and {}", crate::units::counted(others, "other", "others")));
    }
    said.join(", ")
}

/// The line of an entry.
pub fn title(due: &DueDate) -> String {
    let count = counted(due.figs.len(), "fig", "figs");
    match (due.kind, due.winter) {
        (DateKind::Roots | DateKind::Ready, _) => format!("{}: {}", due.kind.label(), figs(&due.figs)),
        (DateKind::ReportWinter, Some(winter)) => format!("Tell how winter {winter} went: {count}"),
        (DateKind::StickCuttings, _) => due.kind.label().to_owned(),
        _ => format!("{}: {count}", due.kind.label()),
    }
}

/// What goes with what is done in spring.
const fn advice(kind: DateKind) -> &'static str {
    match kind {
        DateKind::MoveOutAsleep => "Shade and shelter for the first week. Once its buds break it goes by the date of pots in leaf.",
        DateKind::Uncover => {
            "Open it on mild days before, so that it does not wake under the cover, and keep the cover at hand until the later day."
        }
        _ => "Out by day and in by night until then. A week in shade first: leaves grown inside burn in the sun.",
    }
}

/// What an entry says below its line.
pub fn words(due: &DueDate, scale: FirstScale) -> String {
    let night = due.night.map(|night| scale.temperature(night)).unwrap_or_default();
    let mut said: Vec<String> = Vec::new();
    match due.kind {
        DateKind::MoveOutAsleep | DateKind::Uncover | DateKind::MoveOutInLeaf => {
            said.push(format!(
                "After today a night of {night} or colder in the open, which hurts them where they stand, comes in one year in ten; after {} in one in fifty.",
                due.then.map(day).unwrap_or_default()
            ));
            said.push(advice(due.kind).to_owned());
        }
        DateKind::WaitUntil => said.push(
            "A fig that has shown nothing yet may still come from its roots. From today on one that stays silent may be given up; scratch it and look at its base first."
                .to_owned(),
        ),
        DateKind::ReportWinter => {
            said.push("Unharmed figs show growth by now, so that what the winter took can be told: a few minutes for the whole garden.".to_owned());
        }
        DateKind::ReportFruit => {
            said.push("The season is over. Tell whether they bore, and from when; plants that bore nothing count as much.".to_owned());
        }
        DateKind::HardFrost => {
            let until = due.until.map(day).unwrap_or_default();
            said.push(format!(
                "The first night of {night} or colder in the open, which ends leaves and green figs, comes before {} in one year in ten and before {until} in nine of ten. Have covers and a place for the pots ready.",
                day(due.from)
            ));
        }
        DateKind::StickCuttings => {
            let until = due.then.map(|then| format!(" until about {}, when buds begin to move", day(then))).unwrap_or_default();
            said.push(format!("By today leaves are down in most years: wood at rest can be cut and stuck{until}."));
        }
        DateKind::Roots | DateKind::Ready => {}
    }
    said.extend(due.said.iter().cloned());
    if !matches!(due.kind, DateKind::Roots | DateKind::Ready) {
        said.push(format!("At {}: {}.", due.place, figs(&due.figs)));
        said.push(USUAL.to_owned());
    }
    said.join("\n")
}

/// What stands where nothing is due: why.
pub fn nothing_due(without_town: &[String]) -> (String, String) {
    if without_town.is_empty() {
        let title = "No dates yet: your garden has no plant";
        return (
            title.to_owned(),
            "Once plants stand in your garden, with the town they stand in, their dates come here by themselves.".to_owned(),
        );
    }
    (
        "No dates yet: where do your figs stand?".to_owned(),
        format!(
            "No town can be looked up for {}. Write a town with its country on a plant’s page, and the dates come here by themselves.",
            figs(without_town)
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plants_of_one_name_are_counted_and_many_names_cut_short() {
        let of = |names: &[&str]| figs(&names.iter().map(|&name| name.to_owned()).collect::<Vec<_>>());
        assert_eq!(of(&["Olympian", "Celeste", "Celeste"]), "2 × Celeste, Olympian");
        let many: Vec<String> = (0..33).map(|n| format!("Seedling {n:02}")).collect();
        assert!(figs(&many).ends_with("Seedling 29, and 3 others"), "{}", figs(&many));
    }
}
