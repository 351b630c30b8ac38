//! A report in words, for its page, the garden and the review.

use crate::jobs::reports::questions::{Part, of_part};
use crate::model::snapshot::Snapshot;
use crate::records::Place;
use crate::records::place::{Cell, Publish};
use crate::records::{FirstGrowth, Report, ReviewState, WinterRecord};
use crate::science::site::Culture;
use crate::units::TemperatureDelta;
use crate::units::customary::METRES_PER_FOOT;
use crate::web::frame::{Frame, day};

/// A line of a report.
pub struct Fact {
    /// What.
    pub what: &'static str,
    /// The answer.
    pub answer: String,
}

/// A report in words.
pub struct ReportView {
    /// Id.
    pub id: String,
    /// The plant's name as written.
    pub name: String,
    /// Slug and name of the cultivar, where it is in the catalogue.
    pub cultivar: Option<(String, String)>,
    /// Winter.
    pub winter: String,
    /// Top growth, in words.
    pub top: &'static str,
    /// Class of the damage, the worst that the answers leave possible; empty where they tell nothing of cold.
    pub level: &'static str,
    /// Whole plant, in words.
    pub vitality: &'static str,
    /// Coldest, in the reader's scale.
    pub coldest: Option<String>,
    /// State of review, in words.
    pub state: &'static str,
    /// Whether it waits.
    pub waits: bool,
    /// Whether it was withdrawn.
    pub withdrawn: bool,
    /// Number of the newest version.
    pub version: i64,
    /// Day it was sent.
    pub sent: String,
    /// Every answer that was given.
    pub facts: Vec<Fact>,
    /// Flags in words.
    pub flags: Vec<String>,
    /// The private note.
    pub note: Option<String>,
    /// The private place.
    pub place: Option<String>,
}

impl ReportView {
    /// In the reader's words; private parts are for the owner and stewards only and are the caller's to leave out.
    pub fn new(report: &Report, snapshot: &Snapshot, frame: &Frame) -> Self {
        let (plant, record) = (&report.plant, &report.record);
        let cultivar = plant.cultivar.as_ref().and_then(|slug| snapshot.catalogue.get(slug.as_str()));
        Self {
            id: report.id.to_string(),
            name: plant.name_written.clone(),
            cultivar: cultivar.map(|c| (c.slug.to_string(), c.name.clone())),
            winter: record.winter.to_string(),
            top: record.top.label(),
            level: record.damage().map_or("", |damage| damage.high().word()),
            vitality: record.vitality.label(),
            coldest: record.coldest.as_ref().map(|c| frame.temperature(c.celsius)),
            state: report.state.label(),
            waits: report.state == ReviewState::Waiting,
            withdrawn: report.state == ReviewState::Withdrawn,
            version: report.version,
            sent: day(report.sent),
            facts: facts(report, frame),
            flags: report.flags.iter().map(|f| format!("{} ({}): {}", f.flag.label(), f.flag.word(), f.detail)).collect(),
            note: record.note.clone(),
            place: plant.place.words.clone(),
        }
    }
}

/// What was answered of the winter, the private note left out.
pub fn answers(record: &WinterRecord, frame: &Frame) -> Vec<Fact> {
    let mut facts = Vec::new();
    let mut add = |what, answer: Option<String>| facts.extend(answer.map(|answer| Fact { what, answer }));
    let asked = |part| of_part(part).map(|q| (q.told, (q.answer)(record).map(|(_, label)| label.to_owned())));
    asked(Part::Damage).for_each(|(what, answer)| add(what, answer));
    add("Looked at on", Some(record.looked.to_string()));
    asked(Part::Regrowth).for_each(|(what, answer)| add(what, answer));
    add(
        "First growth",
        record.first_growth.map(|growth| match growth {
            FirstGrowth::On(day) => day.to_string(),
            FirstGrowth::NotBy(day) => format!("none by {day}"),
        }),
    );
    asked(Part::Circumstances).for_each(|(what, answer)| add(what, answer));
    add(
        "Coldest met",
        record
            .coldest
            .as_ref()
            .map(|c| format!("{} (typed {} {}; {})", frame.temperature(c.celsius), c.typed, c.unit.label(), c.thermometer.label())),
    );
    add("Its wood", record.wood_years.map(wood_words));
    asked(Part::Care).chain(asked(Part::Fruit)).for_each(|(what, answer)| add(what, answer));
    add("Longest new shoot", record.shoot_cm.map(|cm| format!("{cm} cm ({:.0} in)", f64::from(cm) / (100.0 * METRES_PER_FOOT / 12.0))));
    add("First ripe fig", record.first_ripe.map(|day| day.to_string()));
    if let Some(heat) = record.heat {
        let sums = [
            (heat.to_growth, "growth"),
            (heat.to_ripe, "the first ripe fig"),
            (heat.to_frost, "the first night of −1 °C, before any was ripe"),
        ];
        let said: Vec<String> =
            sums.iter().filter_map(|(sum, what)| sum.map(|sum| format!("{sum:.0} degree-days above 8 °C to {what}"))).collect();
        add("Heat", Some(said.join(", ")).filter(|said| !said.is_empty()));
        add(
            "Hardened",
            heat.harder_k.map(|k| {
                let than = if k < 0.0 { "less hard" } else { "harder" };
                format!(
                    "{} {than} on its coldest night than figs usually are then, by the daily record",
                    frame.difference(TemperatureDelta::literal(k.abs()))
                )
            }),
        );
    }
    if record.complete_list {
        add("Garden", Some("every fig of the garden is reported for this winter".to_owned()));
    }
    facts
}

fn wood_words(years: u8) -> String {
    match years {
        0 => "killed back the winter before".to_owned(),
        1 => "1 year since it was last killed back".to_owned(),
        years => format!("{years} years since it was last killed back"),
    }
}

fn facts(report: &Report, frame: &Frame) -> Vec<Fact> {
    let plant = &report.plant;
    let mut facts = answers(&report.record, frame);
    let mut add = |what, answer: Option<String>| facts.extend(answer.map(|answer| Fact { what, answer }));
    add("Stands", Some(stands(plant.culture)));
    add("In the garden", plant.setting.map(|s| s.label().to_owned()));
    add("Planted", plant.planted.map(|year| year.to_string()));
    add("Name by", Some(plant.certainty.label().to_owned()));
    facts
}

fn stands(culture: Culture) -> String {
    match culture {
        Culture::Ground => "in the ground".to_owned(),
        Culture::Container(None) => "in a pot".to_owned(),
        Culture::Container(Some(volume)) => format!("in a pot of {:.0} L", volume.litres()),
    }
}

/// What the public sees of a place, in words.
pub fn public_words(place: &Place) -> String {
    let Some(point) = place.point.filter(|_| !place.is_withheld()) else { return "no place is published".to_owned() };
    let within_km = |cell: Cell| f64::from(cell.uncertainty_m()) / 1000.0;
    let (fine, coarse) = (point.cell(), point.cell().coarser());
    match place.publish {
        Publish::Grid => format!(
            "others see the square of 0.1° around {fine} (within {:.0} km) once a release found three members there who chose the same, and \
             else the square of 0.5° around {coarse}",
            within_km(fine)
        ),
        Publish::AsPublished => format!("others see the square of 0.1° around {fine} (within {:.0} km)", within_km(fine)),
        _ => format!("others see the square of 0.5° around {coarse} (within {:.0} km)", within_km(coarse)),
    }
}
