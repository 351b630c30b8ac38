//! Members, plants and reports for tests: invented, and nothing of them leaves the tests.
#![allow(dead_code, missing_docs)]

use jiff::Timestamp;
use jiff::civil::date;
use uuid::Uuid;
use winterfig::catalogue::Slug;
use winterfig::records::place::Publish;
use winterfig::records::spring_evidence::SpringEvidence;
use winterfig::records::words::{Cover, Credit, NameCertainty, Stage, Thermometer, TopKilled, TypedUnit, Vitality};
use winterfig::records::{
    AcceptedReport, Coldest, Decision, Handle, HeldPoint, Member, MemberId, Place, Plant, PlantId, Reason, Report, ReportId, ReviewState,
    Role, WinterRecord,
};
use winterfig::science::site::{Culture, Setting};
use winterfig::store::{Store, Submission, Submitted};
use winterfig::units::Celsius;

pub fn moment(seconds: i64) -> Timestamp {
    Timestamp::from_second(1_780_000_000 + seconds).unwrap()
}

pub fn member(handle: &str, role: Role) -> Member {
    Member {
        id: MemberId(Uuid::now_v7()),
        handle: Handle::new(handle).unwrap(),
        email: None,
        role,
        credit: Credit::Handle,
        joined: moment(0),
        suspended: None,
    }
}

pub async fn joined(store: &dyn Store, handle: &str, role: Role) -> Member {
    let member = member(handle, role);
    assert!(store.join(&member, "hash").await.unwrap());
    member
}

pub fn plant(owner: MemberId, cultivar: &str) -> Plant {
    Plant {
        id: PlantId(Uuid::now_v7()),
        owner: Some(owner),
        name_written: cultivar.to_owned(),
        cultivar: Slug::new(cultivar).ok(),
        certainty: NameCertainty::Label,
        planted: Some(2018),
        setting: Some(Setting::Wall),
        culture: Culture::Ground,
        place: Place { words: Some("by the mill".to_owned()), point: HeldPoint::new(44.17, -12.23).ok(), publish: Publish::Grid },
        mother: None,
    }
}

pub fn record(coldest_c: f64, top: TopKilled) -> WinterRecord {
    WinterRecord {
        winter: "2025/26".parse().unwrap(),
        looked: date(2026, 5, 20),
        judged_by: None,
        top,
        base: None,
        vitality: Vitality::Alive,
        regrew: None,
        first_growth: None,
        cause: None,
        coldest: Some(Coldest {
            celsius: Celsius::new(coldest_c).unwrap(),
            typed: coldest_c.to_string(),
            unit: TypedUnit::Celsius,
            thermometer: Thermometer::AtPlant,
        }),
        stage: Some(Stage::Hard),
        cover: Cover::None,
        store: None,
        wood_years: Some(3),
        shoot_cm: None,
        fruit: None,
        first_ripe: None,
        heat: None,
        note: Some("behind the shed".to_owned()),
        complete_list: false,
    }
}

pub fn submission(member: &Member, key: &str, plant: Plant, record: WinterRecord) -> Submission {
    Submission {
        member: member.id,
        key: key.to_owned(),
        digest: format!("{record:?}"),
        report: ReportId(Uuid::now_v7()),
        plant,
        plant_is_new: true,
        record,
        nursery: None,
        flags: Vec::new(),
        at: moment(10),
    }
}

pub async fn submitted(store: &dyn Store, member: &Member, cultivar: &str, record: WinterRecord) -> Report {
    let submission = submission(member, &Uuid::now_v7().to_string(), plant(member.id, cultivar), record);
    let Submitted::Fresh(id) = store.submit(&submission).await.unwrap() else { panic!("not fresh") };
    store.report(id).await.unwrap().unwrap()
}

pub async fn decided(store: &dyn Store, report: &Report, steward: &Member, state: ReviewState) {
    let words = Some("as agreed".to_owned());
    let reason = if state == ReviewState::Accepted { Reason::Plausible } else { Reason::Other };
    let decision = Decision::new(report, steward, state, reason, words, moment(20)).unwrap();
    assert!(store.decide(report.id, &decision).await.unwrap());
}

/// Reports that count, in the order of their ids.
pub async fn counting(store: &dyn Store) -> Vec<Report> {
    let all = store.reports_after(None, i64::MAX).await.unwrap();
    all.into_iter().filter(|report| report.state.counts()).collect()
}

/// What the model is given of every report that counts, in the order of their ids.
pub async fn evidence(store: &dyn Store) -> (Vec<AcceptedReport>, Vec<SpringEvidence>) {
    let all = counting(store).await;
    (all.iter().filter_map(AcceptedReport::from_report).collect(), all.iter().filter_map(SpringEvidence::from_report).collect())
}
