//! What the parts of one question for a shortlist cost, in the pure part alone: `cargo bench -p winterfig-core --bench question`.
//!
//! Every cultivar has a belief of its own, as after a fit, so that none shares the work of another. `-- values` prints the numbers themselves
//! instead, a line each, so that two states of the program can be held against each other.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use winterfig_core::catalogue::{Catalogue, prior_table};
use winterfig_core::science::climate::kind::ClimateKind;
use winterfig_core::science::climate::season::{Origin, Season};
use winterfig_core::science::climate::winter_minimum::WinterMinimum;
use winterfig_core::science::fruiting::{FruitPriors, FruitTraits, SeasonDegreeDays};
use winterfig_core::science::hardiness::belief::HardinessBelief;
use winterfig_core::science::hardiness::scale::DamageScale;
use winterfig_core::science::numeric::Gaussian;
use winterfig_core::science::priors::Priors;
use winterfig_core::science::shortlist::{Change, Entry, RankBy, Row, SitePicture, YearSteps, Years, ranked};
use winterfig_core::science::site::{Culture, Protection, Setting, Settings, Site, YearsEstablished};
use winterfig_core::units::{Celsius, Interval, TemperatureDelta};

/// Rows for which a page tells everything.
const SHOWN: usize = 12;
/// Rounds of which the best counts: the machine's own noise only adds.
const ROUNDS: usize = 40;

struct Kinds {
    priors: Priors,
    fruit_priors: FruitPriors,
    scale: DamageScale,
    beliefs: Vec<HardinessBelief>,
    fruit: Vec<FruitTraits>,
}

impl Kinds {
    fn shipped() -> Self {
        let (priors, fruit_priors) = (prior_table::priors().unwrap(), prior_table::fruit_priors().unwrap());
        let catalogue = Catalogue::embedded().unwrap();
        let ranked: Vec<_> = catalogue.cultivars().iter().filter(|c| !c.fruit_traits().is_pollinator_only()).collect();
        // As reports would move them, each by another part of a kelvin.
        let moved = |n: usize| Gaussian::new(0.01 * n as f64 - 0.4, 0.0);
        let belief =
            |(n, c): (usize, &&winterfig_core::catalogue::Cultivar)| priors.belief(c.hardiness_class.known(), false).shifted(moved(n));
        Self {
            beliefs: ranked.iter().enumerate().map(belief).collect(),
            fruit: ranked.iter().map(|c| c.fruit_traits()).collect(),
            scale: priors.scale(),
            priors,
            fruit_priors,
        }
    }

    fn entries(&self) -> Vec<Entry<'_, usize>> {
        let of = |(key, (belief, fruit)): (usize, (_, &FruitTraits))| Entry { key, belief, fruit: *fruit, guessed: false };
        self.beliefs.iter().zip(&self.fruit).enumerate().map(of).collect()
    }

    fn picture(&self, site: &Site, heat: SeasonDegreeDays) -> SitePicture {
        SitePicture::new(site, &self.priors, &self.scale, heat, &self.beliefs)
    }
}

fn sites() -> Vec<(&'static str, Site)> {
    let c = Celsius::literal;
    let k = TemperatureDelta::literal;
    let wall = Site {
        winter: WinterMinimum::Normal { mean: c(-14.3), spread: k(3.0) },
        place_error_k: 0.0,
        hardening_counted: false,
        hardening_doubt_k: 0.0,
        winter_by_class: None,
        climate: ClimateKind::Inland,
        setting: Setting::Wall.into(),
        own_spot: None,
        culture: Culture::Ground,
        years: YearsEstablished::ESTABLISHED,
        wood_years: None,
        protection: Protection::None,
        store: None,
        season: Season::new(190.0, c(24.0), Origin::Assumed, Origin::Assumed).unwrap(),
    };
    let zone = WinterMinimum::Band { mean: Interval { low: c(-17.8), high: c(-15.0) }, spread: k(3.0) };
    let record = WinterMinimum::Gev { location: c(-13.0), scale: k(2.6), shape: -0.1 };
    vec![
        ("degrees, wall", wall.clone()),
        ("zone, open", Site { winter: zone, setting: Settings::OPEN, ..wall.clone() }),
        (
            "town, young, mulched",
            Site { place_error_k: 1.4, years: YearsEstablished::new(2).unwrap(), protection: Protection::Mulch, ..wall.clone() },
        ),
        ("pot, outdoors", Site { culture: Culture::Container(None), ..wall.clone() }),
        ("pot, carried in", Site { culture: Culture::Container(None), protection: Protection::CarriedIn, ..wall.clone() }),
        ("record", Site { winter: record, hardening_counted: true, winter_by_class: Some([record; 5]), ..wall }),
    ]
}

/// Best of several rounds, ms.
fn best<T>(mut work: impl FnMut() -> T) -> f64 {
    let once = || {
        let begun = Instant::now();
        black_box(work());
        begun.elapsed()
    };
    std::iter::repeat_with(once).take(ROUNDS).min().unwrap_or(Duration::ZERO).as_secs_f64() * 1e3
}

/// Everything that is told of a row: its chances with their ranges, what changes would do, and what is not known.
fn told(
    picture: &SitePicture,
    changes: &[(Change, SitePicture)],
    entries: &[Entry<'_, usize>],
    row: &Row<usize>,
    kinds: &Kinds,
) -> Vec<f64> {
    let Some(entry) = entries.get(row.key) else { return Vec::new() };
    let interval = picture.interval(entry.belief, &row.winter.chance);
    let range = picture.ripe_range(entry.belief, &entry.fruit, &kinds.fruit_priors);
    let mut values = vec![range.low, range.high, row.winter.alive_long_run];
    values.extend(interval.to_array().into_iter().flat_map(|i| [i.low, i.high]));
    values.extend(picture.thresholds(entry.belief).t50.map(Celsius::degrees));
    for (change, picture) in changes {
        let tried = change.tried(picture, entry, &kinds.fruit_priors);
        values.extend([tried.ripe_share, tried.loses_top]);
    }
    values
}

fn doubts(picture: &SitePicture, entries: &[Entry<'_, usize>], rows: &[Row<usize>], kinds: &Kinds) -> Vec<f64> {
    let first = rows.iter().take(SHOWN).filter_map(|row| entries.get(row.key));
    let shares = first.flat_map(|entry| picture.doubt_shares(entry, &kinds.fruit_priors));
    shares.flat_map(|d| [d.ripe_share.low, d.ripe_share.high, d.loses_top.low, d.loses_top.high, d.part]).collect()
}

fn values(kinds: &Kinds) {
    for (name, site) in sites() {
        let heat = SeasonDegreeDays::from_season(&site.season, &kinds.fruit_priors);
        let (entries, picture) = (kinds.entries(), kinds.picture(&site, heat));
        let changes = Change::pictures(&site, &kinds.priors, &kinds.scale, heat, &kinds.beliefs.iter());
        let rows = picture.rows(&entries, &kinds.fruit_priors);
        for row in &rows {
            let mut of_row = vec![row.ripe_share, row.sure.lower_quartile, row.sure.five_in_ten, row.sure.best];
            of_row.extend(row.winter.chance.to_array());
            of_row.extend(row.crop.expected.into_iter().chain(row.crop.low).chain(row.crop.high));
            of_row.extend(told(&picture, &changes, &entries, row, kinds));
            for (n, value) in of_row.into_iter().enumerate() {
                println!("{name} | fig {} | {n} | {value:.12}", row.key);
            }
        }
        for (n, value) in doubts(&picture, &entries, &rows, kinds).into_iter().enumerate() {
            println!("{name} | doubts | {n} | {value:.12}");
        }
        let years = Years::of(&picture, &entries, &kinds.fruit_priors, YearSteps::default());
        let all: Vec<usize> = (0..entries.len()).collect();
        let three = years.best(&[], &all, 3);
        println!("{name} | three | {:?} | {:.12}", three.figs, three.one_bears);
        for one in all {
            println!("{name} | one | {one} | {:.12}", years.one_bears(&[one]));
        }
    }
}

fn times(kinds: &Kinds) {
    println!("ms, best of {ROUNDS}; {} figs, {SHOWN} of them told", kinds.beliefs.len());
    println!(
        "{:<22}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}",
        "site", "heat", "picture", "rows", "years", "three", "changes", "told 12", "told all", "doubts"
    );
    for (name, site) in sites() {
        let heat = SeasonDegreeDays::from_season(&site.season, &kinds.fruit_priors);
        let (entries, picture) = (kinds.entries(), kinds.picture(&site, heat));
        let changes = || Change::pictures(&site, &kinds.priors, &kinds.scale, heat, &kinds.beliefs.iter());
        let changed = changes();
        let rows = ranked(picture.rows(&entries, &kinds.fruit_priors), RankBy::Fruit);
        let years = || Years::of(&picture, &entries, &kinds.fruit_priors, YearSteps::default());
        let (found, all) = (years(), (0..entries.len()).collect::<Vec<_>>());
        let tell = |most: usize| rows.iter().take(most).map(|row| told(&picture, &changed, &entries, row, kinds)).collect::<Vec<_>>();
        let measured = [
            best(|| SeasonDegreeDays::from_season(&site.season, &kinds.fruit_priors)),
            best(|| {
                let picture = kinds.picture(&site, heat);
                picture.response().luck_at(-12.0)
            }),
            best(|| picture.rows(&entries, &kinds.fruit_priors)),
            best(years),
            best(|| found.best(&[], &all, 3)),
            best(changes),
            best(|| tell(SHOWN)),
            best(|| tell(usize::MAX)),
            best(|| doubts(&picture, &entries, &rows, kinds)),
        ];
        println!("{name:<22}{}", measured.map(|ms| format!("{ms:>9.3}")).concat());
    }
}

fn main() {
    let kinds = Kinds::shipped();
    if std::env::args().any(|word| word == "values") { values(&kinds) } else { times(&kinds) }
}
