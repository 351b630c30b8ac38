//! A sheet ready to be written, alone on its page or among those of a whole stock.

use jiff::civil::Date;

use crate::address;
use crate::jobs::bench::answer::{EARLY_WAYS, EarlyWinter, Sheet};
use crate::jobs::bench::verdicts::{Verdict, headline, verdicts};
use crate::jobs::compare::words::crop_words;
use crate::jobs::cultivars::page::{SourceLine, source_line};
use crate::jobs::season::first_winter::Step;
use crate::jobs::season::words::{Calendar, StepWords, told};
use crate::jobs::shortlist::page::title;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::reasons::{evidence_words, percent};
use crate::model::snapshot::Snapshot;
use crate::records::Nursery;
use crate::science::climate::winters::Hemisphere;
use crate::science::fruiting::year::RipeDays;
use crate::science::site::{Culture, PotVolume, Protection};
use crate::units::Celsius;
use crate::web::cells::tied;
use crate::web::charts::axis::{TemperatureAxis, Tick};
use crate::web::charts::drops::{Drop, drops};
use crate::web::charts::ladder::Ladder;
use crate::web::charts::winters::Winters;
use crate::web::frame::Frame;
use crate::web::square::square;

/// Sources printed: the sheet has one page.
const SOURCES: usize = 3;

/// A sheet.
pub(crate) struct SheetView {
    pub name: String,
    pub title: String,
    pub headline: String,
    pub verdicts: [Verdict; 4],
    pub reasons: Vec<String>,
    pub drops: Vec<Drop>,
    pub range: String,
    pub ladder: Ladder,
    pub ticks_c: Vec<Tick>,
    pub ticks_f: Vec<Tick>,
    pub marks: Vec<(&'static str, String)>,
    pub first: Vec<(&'static str, String, String, String)>,
    /// What its first winter asks for.
    pub steps: Vec<StepWords>,
    /// Whether its dates assume the northern half of the Earth.
    pub north_assumed: bool,
    /// When to expect figs: crop, and dates.
    pub crops: Vec<(&'static str, String)>,
    /// What to do when it dies back.
    pub dies_back: String,
    /// Number of the winter, and for each way its chances of a killed top and of death.
    pub early: Vec<(&'static str, Vec<(String, String)>)>,
    pub early_ways: Vec<&'static str>,
    pub evidence: String,
    pub thin: bool,
    pub sources: Vec<SourceLine>,
    /// Sources that the sheet has no room for.
    pub more_sources: usize,
    pub slug: String,
    pub date: String,
    pub version: String,
    pub address: String,
    pub safe_dates: String,
    pub square: Option<String>,
    /// Where the buyer tells how it did, and the square that leads there; none on a sheet that only its member can open.
    pub tell: Option<String>,
    pub tell_square: Option<String>,
    /// The nursery that hands it out.
    pub nursery: Option<String>,
    /// Whether it is the only one of its page.
    pub alone: bool,
    /// Where another plant for the same place is asked for.
    pub again: Option<String>,
}

/// What only a printed sheet carries.
pub(crate) struct Printed {
    pub today: Date,
    pub date: String,
    pub address: String,
    pub square: Option<String>,
    /// The place in an address.
    pub place: String,
    pub tell: Option<String>,
    pub tell_square: Option<String>,
    pub nursery: Option<String>,
    pub alone: bool,
}

/// The form of a report with what the sheet knows of the plant.
fn tell_address(name: &str, question: &Question, nursery: Option<&Nursery>) -> String {
    let mut pairs = vec![("name", name.to_owned())];
    if let Some(nursery) = nursery {
        pairs.push(("nursery", nursery.code.to_string()));
    }
    if let Some(spot) = question.said.as_ref().and_then(|said| said.spot.as_ref()) {
        pairs.push(("place", spot.town.label()));
    }
    if let Culture::Container(volume) = question.culture {
        pairs.push(("culture", "container".to_owned()));
        pairs.extend(volume.map(PotVolume::litres).map(|litres| ("container_l", litres.to_string())));
    }
    address::NEW_REPORT.with(pairs)
}

impl Printed {
    /// Of a sheet whose address anybody can open.
    pub(crate) fn open(frame: &Frame, today: Date, (slug, name): (&str, &str), question: &Question, nursery: Option<&Nursery>) -> Self {
        let place = question.to_query();
        let from = nursery.map(|nursery| format!("&nursery={}", nursery.code)).unwrap_or_default();
        // The host of the request will do where no public address was set.
        let address = frame.whole(&address::BENCH.with_query(&format!("cultivar={slug}&{place}{from}")));
        let tell = frame.whole(&tell_address(name, question, nursery));
        let drawn = |address: &str| frame.knows_its_host().then(|| square(address)).flatten();
        Self {
            today,
            date: dated(today),
            square: drawn(&address),
            tell_square: drawn(&tell),
            address,
            place,
            tell: Some(tell),
            nursery: nursery.map(|nursery| nursery.name.clone()),
            alone: true,
        }
    }

    /// Of one by a daily record, which is its member's alone: nobody else can open its address.
    pub(crate) fn by_record(today: Date, name: &str, place: String) -> Self {
        let address = format!("by the daily record “{name}”");
        Self { today, date: dated(today), address, square: None, place, tell: None, tell_square: None, nursery: None, alone: true }
    }
}

fn dated(today: Date) -> String {
    today.strftime("%-d %B %Y").to_string()
}

fn protection_words(protection: Protection) -> &'static str {
    match protection {
        Protection::None => "left as it is",
        Protection::Mulch => "mulched, 15 to 30 cm (6 to 12 in)",
        Protection::FilledCage => "in a cage filled with leaves",
        Protection::CarriedIn => "in a pot, carried into a shed",
        other => other.label(),
    }
}

/// What the first winter asks for; how long to wait in spring stands further down, for a winter of any year.
fn first_steps(sheet: &Sheet<'_>, calendar: &Calendar<'_>) -> Vec<StepWords> {
    let steps = sheet.steps.as_ref().map(|first| told(first, calendar)).unwrap_or_default();
    steps.into_iter().filter(|(step, _)| !matches!(step, Step::DoNotDig(_))).map(|(_, words)| words).collect()
}

/// When each crop first ripens.
fn crops(sheet: &Sheet<'_>, hemisphere: Hemisphere) -> Vec<(&'static str, String)> {
    let of = |what: &'static str, days: Option<RipeDays>| days.map(|_| (what, crop_words(days, hemisphere)));
    let crops = sheet.crops;
    [of("early crop", crops.early), of("main crop", crops.main), of("on shoots from the roots", crops.regrown)]
        .into_iter()
        .flatten()
        .collect()
}

/// What to do with a plant that shows nothing in spring, and what to expect of it then.
fn dies_back(sheet: &Sheet<'_>, calendar: &Calendar<'_>) -> String {
    let wait = match sheet.wait.nine_in_ten {
        Some(day) => format!(
            "Do not dig before {}: nine in ten that died back had shown growth by about {}.",
            calendar.date(sheet.wait.not_dead_before),
            calendar.date(day)
        ),
        None => format!("Do not dig before {}: the whole season may have to pass.", calendar.date(sheet.wait.not_dead_before)),
    };
    let then = match (sheet.standing.fruit.fruits_on_regrowth, sheet.after_ground_kill) {
        (Some(false), _) => "It bears nothing on shoots from the roots: figs come with older wood.".to_owned(),
        (Some(true), share) => format!("It bears on shoots from the roots: figs ripen that year in {} of cases here.", percent(share)),
        (None, share) => format!(
            "Nobody has recorded whether it bears on shoots from the roots; with that doubt figs ripen that year in {} of cases here.",
            percent(share)
        ),
    };
    format!("{wait} {then}")
}

const fn way_words(protection: Protection) -> &'static str {
    match protection {
        Protection::None => "Out, as it is",
        Protection::Mulch => "Out, mulched",
        _ => "In a pot, carried in",
    }
}

fn early_line(winter: &EarlyWinter) -> (&'static str, Vec<(String, String)>) {
    let nth = match winter.nth {
        1 => "First",
        2 => "Second",
        3 => "Third",
        4 => "Fourth",
        _ => "Fifth",
    };
    (nth, winter.ways.iter().map(|way| (percent(way.loses_top), percent(way.dies))).collect())
}

/// Writes a sheet out.
pub(crate) fn sheet_view(frame: &Frame, snapshot: &Snapshot, sheet: &Sheet<'_>, question: &Question, printed: Printed) -> SheetView {
    let axis = TemperatureAxis::for_site(&sheet.site.one_winter());
    let winters = Winters::new(&sheet.site.one_winter(), axis, frame);
    let (evidence, thin) = evidence_words(sheet.standing);
    let whole = |share: f64| (10.0 * share).round() as u32;
    let hemisphere = question.hemisphere();
    let cold = |t: Celsius| tied(&frame.temperature(t));
    let calendar = Calendar { today: printed.today, hemisphere: hemisphere.unwrap_or(Hemisphere::North), cold: &cold };
    let sources = &sheet.cultivar.sources;
    SheetView {
        name: sheet.cultivar.name.clone(),
        title: title(question, frame).replacen("Figs for", "in", 1),
        headline: headline(sheet),
        verdicts: verdicts(sheet),
        reasons: sheet.reasons.iter().map(|r| r.sentence.clone()).collect(),
        drops: drops(sheet.row.ripe_share),
        range: format!("{} to {}", whole(sheet.ripe_range.low), whole(sheet.ripe_range.high)),
        ladder: Ladder::new(&sheet.thresholds, axis, &winters, frame),
        ticks_c: axis.ticks_c(),
        ticks_f: axis.ticks_f(),
        marks: winters.marks.iter().map(|m| (m.words, m.temperature.clone())).collect(),
        first: sheet
            .first_winter
            .iter()
            .map(|w| {
                let (low, high) = (percent(w.dies_interval.low), percent(w.dies_interval.high));
                let range = if low == high { low } else { format!("{low} to {high}") };
                (protection_words(w.protection), percent(w.loses_top), percent(w.dies), range)
            })
            .collect(),
        steps: first_steps(sheet, &calendar),
        north_assumed: hemisphere.is_none(),
        crops: crops(sheet, calendar.hemisphere),
        dies_back: dies_back(sheet, &calendar),
        early: sheet.early_winters.iter().map(early_line).collect(),
        early_ways: EARLY_WAYS.into_iter().map(way_words).collect(),
        evidence,
        thin,
        sources: sources.iter().filter_map(|key| snapshot.catalogue.source(key)).take(SOURCES).map(source_line).collect(),
        more_sources: sources.len().saturating_sub(SOURCES),
        slug: sheet.cultivar.slug.to_string(),
        version: snapshot.model.version.clone(),
        safe_dates: address::SAFE_DATES.with_query(&printed.place),
        date: printed.date,
        address: printed.address,
        square: printed.square,
        tell: printed.tell,
        tell_square: printed.tell_square,
        nursery: printed.nursery,
        alone: printed.alone,
        again: None,
    }
}
