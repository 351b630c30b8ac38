//! What letters of the season say. Subjects hold nothing private: they show on locked screens.

use jiff::civil::Date;

use crate::address;
use crate::jobs::reminders::garden_year::GardenYear;
use crate::jobs::reminders::words::figs;
use crate::records::{FirstScale, Winter};
use crate::units::counted;

/// What a letter of spring tells.
#[derive(Debug, Clone)]
pub struct Spring<'a> {
    /// The winter to be told.
    pub winter: Winter,
    /// Living plants of the garden.
    pub plants: usize,
    /// Those of them that are not told yet, by their written names.
    pub untold: &'a [String],
    /// Before this day no silent fig is given up.
    pub wait_until: Option<Date>,
    /// From this day pots in leaf may stay out, where there are pots.
    pub pots_out: Option<Date>,
    /// The trial that would teach most, and where it says why.
    pub invitation: Option<&'a (String, String)>,
}

fn day(date: Date) -> String {
    date.strftime("%-d %B").to_string()
}

/// A letter of spring.
pub fn spring(told: &Spring<'_>, link: &dyn Fn(&str) -> String) -> String {
    let count = counted(told.untold.len(), "fig", "figs");
    let mut words = format!(
        "{count}, five minutes: what did winter {} do to {}? Buds are breaking about now where you grow them.\n\n{}\n\n",
        told.winter,
        if told.untold.len() == 1 { "it" } else { "them" },
        figs(told.untold),
    );
    if told.untold.len() < told.plants {
        words.push_str(&format!(
            "The other {} of your garden {} told already.\n\n",
            told.plants - told.untold.len(),
            if told.plants - told.untold.len() == 1 { "is" } else { "are" }
        ));
    }
    words.push_str(&format!("All on one page:\n{}", link(address::GARDEN_WINTER.as_str())));
    if let Some(date) = told.wait_until {
        words.push_str(&format!("\n\nA fig that shows nothing yet is told as such, and changed later: give none up before {}.", day(date)));
    }
    if let Some(date) = told.pots_out {
        words.push_str(&format!(" Pots in leaf may stay out from about {}.", day(date)));
    }
    if let Some((sentence, path)) = told.invitation {
        words.push_str(&format!("\n\nWhich trial next? {sentence} Why:\n{}", link(path)));
    }
    words
}

/// A letter of autumn, about these plants.
pub fn autumn(untold: &[String], winter: Winter, link: &dyn Fn(&str) -> String) -> String {
    format!(
        "The season is over where you grow them. What did {} bear after winter {winter}, and from when? Those that bore nothing teach as much.\n\n{}\n\nAll on one page:\n{}",
        if untold.len() == 1 { "your fig".to_owned() } else { format!("your {} figs", untold.len()) },
        figs(untold),
        link(address::GARDEN_FRUIT.as_str()),
    )
}

/// What the levels are called where plants are counted.
const LEVELS: [&str; 5] = ["unharmed", "with dead tips", "with dead wood", "killed to the ground", "dead"];

/// A letter of the year.
pub fn yearly(year: &GardenYear, scale: FirstScale, link: &dyn Fn(&str) -> String) -> String {
    let levels: Vec<String> =
        year.levels.iter().zip(LEVELS).filter(|(count, _)| **count > 0).map(|(count, level)| format!("{count} {level}")).collect();
    let mut words = match year.told {
        0 => format!("Of winter {} you told nothing; this is what your garden taught before.", year.winter),
        told if levels.is_empty() => format!("Of winter {} you told {}.", year.winter, counted(told, "fig", "figs")),
        told => format!("Of winter {} you told {}: {}.", year.winter, counted(told, "fig", "figs"), levels.join(", ")),
    };
    let (asked, ripened) = year.fruit;
    if asked > 0 {
        words.push_str(&format!(" In the season after it figs ripened on {ripened} of {asked}."));
    }
    let mut taught = Vec::new();
    if let Some(night) = year.coldest_unharmed {
        taught.push(format!("The coldest night that left one of your figs unharmed was {}.", scale.temperature(night)));
    }
    if let Some(night) = year.warmest_to_ground {
        taught.push(format!("The mildest that killed one to the ground was {}.", scale.temperature(night)));
    }
    if !taught.is_empty() {
        words.push_str(&format!("\n\n{}", taught.join(" ")));
    }
    let (all, counting) = year.reports;
    let kept = format!("{} of yours {} kept here", counted(all, "report", "reports"), if all == 1 { "is" } else { "are" });
    let count = match (counting, all - counting) {
        (0, _) => "none counts in everybody’s answers yet: a steward looks at each first".to_owned(),
        (1, 0) => "it counts in everybody’s answers".to_owned(),
        (_, 0) => "all of them count in everybody’s answers".to_owned(),
        (counting, _) => format!("{counting} of them count in everybody’s answers, the others wait for a steward or were set aside"),
    };
    words.push_str(&format!("\n\n{kept}; {count}.\n{}", link(address::GARDEN.as_str())));
    words
}

/// What the picture of a year shows.
pub fn picture(year: &GardenYear) -> String {
    format!(
        "Each dot a reported winter of one of your figs: how cold it got, and what became of it ({}).",
        counted(year.met.len(), "dot", "dots")
    )
}
