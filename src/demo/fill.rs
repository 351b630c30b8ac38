//! Fills an empty database with the demonstration: the invented Fennmere Fig Society, whose district lies where charts show open sea.
//!
//! Reports and gardens are about invented cultivars; the real ones stand on sources alone.
//!
//! Everything goes through the store's own questions, so that a demonstration has nothing a real database could not have; the database is
//! marked as simulated first, and for good.

use jiff::Timestamp;
use uuid::Uuid;

use crate::catalogue::CatalogueRecords;
use crate::demo::shelters::demo_shelters;
use crate::demo::society::{Demo, GARDENERS, demo_reports};
use crate::ids::Ids;
use crate::places::invented::INVENTED;
use crate::places::town::marked_invented;
use crate::records::place::Publish;
use crate::records::words::{Credit, NameCertainty};
use crate::records::{
    Decision, Handle, HeldPoint, Member, MemberId, Place, Plant, PlantId, Reason, ReportId, ReviewState, Role, ShelterReport,
    ShelterReportId,
};
use crate::science::fruiting::FruitPriors;
use crate::science::priors::Priors;
use crate::science::site::Setting;
use crate::store::{Simulation, Store, StoreError, Submission};

/// Seed of the demonstration: the same society every time.
const SEED: u64 = 20_261;
/// South-west corner of the invented district, degrees: open sea, so that no real place is taken for it.
const DISTRICT: (f64, f64) = (55.80, 3.00);
/// Gardens stand this far apart, degrees; several share a cell of the public grid.
const SPACING_DEG: f64 = 0.03;
/// No passphrase hashes to this, so nobody signs in as an invented member.
const NO_PASSPHRASE: &str = "!";
/// Every so many reports one is left waiting, so that the review desk has something on it.
const LEFT_WAITING: usize = 40;

/// Why a demonstration was not laid out.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// The database holds members who are not invented.
    #[error("--demo fills an empty database only, and this one has members; give another --database")]
    NotEmpty,
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Something invented is not acceptable to the house: a defect.
    #[error("the demonstration cannot be laid out: {0}")]
    Invented(String),
}

/// Lays the demonstration out unless it stands already; gives the number of reports written.
pub async fn fill(store: &dyn Store, priors: &Priors, fruit: &FruitPriors, now: Timestamp) -> Result<usize, DemoError> {
    let nobody = store.members().await?.is_empty();
    match store.simulation().await? {
        Some(Simulation::Whole) if !nobody => return Ok(0),
        None if !nobody => return Err(DemoError::NotEmpty),
        // What a filling left that was cut short is taken out again.
        _ => store.begin_simulation().await?,
    }
    let ids = Ids::seeded(SEED);
    // The last winter whose outcome can be known by now began in the calendar year before.
    let last_winter = jiff::tz::TimeZone::UTC.to_datetime(now).year() - 1;
    let records = CatalogueRecords::with_invented().map_err(|error| DemoError::Invented(error.to_string()))?;
    store.plant_catalogue(&records, &CatalogueRecords::version_with_invented()).await?;
    let catalogue = store.catalogue().await?;
    let demo = demo_reports(SEED, &catalogue, priors, fruit, last_winter);
    let steward = invented("Fennmere reviewer", Role::Steward, &ids, now)?;
    store.join(&steward, NO_PASSPHRASE).await?;
    let gardeners = (0..demo.gardeners)
        .map(|i| invented(&format!("Fennmere garden {}", i + 1), if i == 0 { Role::Nursery } else { Role::Member }, &ids, now))
        .collect::<Result<Vec<_>, _>>()?;
    for gardener in &gardeners {
        store.join(gardener, NO_PASSPHRASE).await?;
    }
    let reports = send(store, &demo, &gardeners, &steward, &ids, now).await?;
    publish_shelters(store, last_winter + 1, &gardeners, &steward, &ids, now).await?;
    store.mark_simulated().await?;
    Ok(reports)
}

fn invented(name: &str, role: Role, ids: &Ids, now: Timestamp) -> Result<Member, DemoError> {
    let handle = Handle::new(name).map_err(|error| DemoError::Invented(error.to_string()))?;
    Ok(Member { id: MemberId(ids.fresh(now)), handle, email: None, role, credit: Credit::Handle, joined: now, suspended: None })
}

async fn send(
    store: &dyn Store,
    demo: &Demo,
    gardeners: &[Member],
    steward: &Member,
    ids: &Ids,
    now: Timestamp,
) -> Result<usize, DemoError> {
    let plants: Vec<Plant> = demo.plants.iter().map(|p| plant(p, gardeners, ids.fresh(now))).collect();
    let mut planted = vec![false; plants.len()];
    for (nth, drawn) in demo.reports.iter().enumerate() {
        let (Some(plant), Some(is_planted)) = (plants.get(drawn.plant), planted.get_mut(drawn.plant)) else { continue };
        let Some(member) = plant.owner else { continue };
        let report = ReportId(ids.fresh(now));
        let submission = Submission {
            member,
            key: format!("demo-{nth}"),
            digest: format!("demo-{nth}"),
            report,
            plant: plant.clone(),
            plant_is_new: !std::mem::replace(is_planted, true),
            record: drawn.record.clone(),
            nursery: None,
            flags: Vec::new(),
            at: now,
        };
        store.submit(&submission).await?;
        if nth % LEFT_WAITING == LEFT_WAITING - 1 {
            continue;
        }
        let Some(kept) = store.report(report).await? else { continue };
        let decision = Decision::new(&kept, steward, ReviewState::Accepted, Reason::Plausible, None, now)
            .map_err(|error| DemoError::Invented(error.to_string()))?;
        store.decide(report, &decision).await?;
    }
    Ok(demo.reports.len())
}

async fn publish_shelters(
    store: &dyn Store,
    year: i16,
    gardeners: &[Member],
    steward: &Member,
    ids: &Ids,
    now: Timestamp,
) -> Result<(), DemoError> {
    for drawn in demo_shelters(SEED, year).map_err(DemoError::Invented)? {
        let Some(member) = gardeners.get(drawn.gardener as usize) else { continue };
        let shelter = ShelterReport {
            id: ShelterReportId(ids.fresh(now)),
            setup: None,
            reporter: Some(member.id),
            place: Place { words: Some(town_of(drawn.gardener)), point: garden_at(drawn.gardener), publish: Publish::Grid },
            content: drawn.content,
            version: 1,
            state: ReviewState::Waiting,
            sent: now,
            changed: now,
            credited: None,
        };
        store.publish_shelter(&shelter).await?;
        let decision = Decision::on(shelter.judged(), steward, ReviewState::Accepted, Reason::Plausible, None, now)
            .map_err(|error| DemoError::Invented(error.to_string()))?;
        store.decide_on_shelter(shelter.id, &decision, None).await?;
    }
    Ok(())
}

fn garden_at(gardener: u32) -> Option<HeldPoint> {
    let row = f64::from(gardener);
    HeldPoint::new(DISTRICT.0 + SPACING_DEG * (row % 6.0), DISTRICT.1 + SPACING_DEG * (row / 6.0).floor()).ok()
}

fn plant(drawn: &crate::demo::society::DemoPlant, gardeners: &[Member], id: Uuid) -> Plant {
    Plant {
        id: PlantId(id),
        owner: gardeners.get(drawn.gardener as usize).map(|m| m.id),
        name_written: drawn.name.clone(),
        cultivar: Some(drawn.cultivar.clone()),
        certainty: NameCertainty::Label,
        planted: Some(drawn.planted),
        setting: Some(Setting::Open),
        culture: drawn.culture,
        place: Place { words: Some(town_of(drawn.gardener)), point: garden_at(drawn.gardener), publish: Publish::Grid },
        mother: None,
    }
}

/// The invented town that a garden names: those that share a part of the district share a town.
fn town_of(gardener: u32) -> String {
    let town = (gardener as usize * INVENTED.len() / GARDENERS as usize).min(INVENTED.len() - 1);
    marked_invented(INVENTED[town].0)
}
