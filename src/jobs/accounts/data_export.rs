//! Everything the service keeps about a member, as one JSON document.

use std::sync::Arc;

use jiff::Timestamp;
use serde_json::{Value, json};

use crate::address;
use crate::records::{BatchOwner, HeldPoint, Member, Plant, ShelterReport};
use crate::science::site::{Culture, PotVolume};
use crate::store::{Store, StoreError};

/// Account, sessions, tokens, known devices, letters wished for, warnings chosen and told, the nursery and what was done to its stock, plants with exact places and what was
/// said of them before, reports with every version and decision, names of kept records with the address of each file.
pub async fn everything(store: &Arc<dyn Store>, member: &Member) -> Result<Value, StoreError> {
    let sessions = store.sessions_of(member.id).await?;
    let confirmed = store.mail_address(member.id).await?.and_then(|address| address.confirmed);
    let tokens = store.tokens_of(member.id).await?;
    let sites = store.sites_of(member.id).await?;
    let setups = store.setups_of(member.id).await?;
    let batches = store.batches_of(BatchOwner::Member(member.id)).await?;
    let letters = store.letter_wishes(member.id).await?;
    let seasons = store.told_seasons(member.id).await?;
    let reminders = json!({
        "address_made": store.reminder_address(member.id).await?.map(|address| address.made),
        "scale": store.first_scale(member.id).await?,
        "seasons_told": seasons.iter().map(|told| json!({"kind": told.kind, "season": told.season, "made": told.made})).collect::<Vec<_>>(),
    });
    let warnings = warnings(store, member).await?;
    let notices = store.notices_of(member.id, i64::MAX).await?;
    let devices = store.devices_of(member.id).await?;
    let mut plants = Vec::new();
    for kept in store.plants_of(member.id).await? {
        let earlier = store.earlier_of_plant(kept.id).await?;
        let earlier: Vec<Value> = earlier.iter().map(|state| json!({"until": state.until, "answers": state.answers})).collect();
        plants.push(plant(&kept, &earlier));
    }
    let mut reports = Vec::new();
    for report in store.reports_of(member.id).await? {
        let versions: Vec<Value> = store
            .versions(report.id)
            .await?
            .into_iter()
            .map(|v| json!({"version": v.version, "at": v.at, "why": v.why, "record": v.record}))
            .collect();
        let decisions: Vec<Value> = store
            .decisions(report.id)
            .await?
            .into_iter()
            .map(|d| json!({"version": d.version, "state": d.state, "reason": d.reason, "words": d.words, "at": d.at, "taken_back": d.undone}))
            .collect();
        reports.push(json!({
            "id": report.id, "plant": report.plant.id, "state": report.state, "flags": report.flags, "sent": report.sent,
            "versions": versions, "decisions": decisions,
        }));
    }
    let mut proposals = Vec::new();
    for proposal in store.proposals_of(member.id).await? {
        let steps = store.proposal_steps(proposal.id).await?;
        let steps: Vec<Value> = steps
            .iter()
            .map(|s| json!({"version": s.version, "at": s.at, "state": s.state, "words": s.words, "change": s.change}))
            .collect();
        proposals.push(json!({"id": proposal.id, "state": proposal.state, "sent": proposal.sent, "steps": steps}));
    }
    let nursery = nursery(store, member).await?;
    let mut shelters = Vec::new();
    for shelter in store.shelter_reports_of(member.id).await? {
        shelters.push(published_shelter(store, &shelter).await?);
    }
    Ok(json!({
        "member": {
            "id": member.id, "handle": member.handle, "email": member.email, "email_confirmed": confirmed, "role": member.role, "credit": member.credit, "joined": member.joined, "suspended": member.suspended,
        },
        "sessions": sessions.iter().map(|s| json!({"device": s.device, "started": s.started, "seen": s.seen, "ends": s.ends})).collect::<Vec<_>>(),
        "tokens": tokens.iter().map(|t| json!({"name": t.name, "scope": t.scope, "made": t.made})).collect::<Vec<_>>(),
        "known_devices": devices.iter().map(|since| json!({"since": since})).collect::<Vec<_>>(),
        "letters": {"wished": letters.kinds, "last_given_up": letters.trouble.map(|(why, at)| json!({"why": why, "at": at}))},
        "reminders": reminders,
        "warnings": warnings,
        "notices": notices.iter()
            .map(|n| json!({"kind": n.kind, "about": n.about, "words": n.words, "at": n.at, "seen": n.seen, "own": n.author == Some(member.id)}))
            .collect::<Vec<_>>(),
        "plants": plants,
        "reports": reports,
        "proposals": proposals,
        "setups": setups.iter().map(|s| json!({"kind": s.kind, "name": s.name, "made": s.made, "answers": s.answers})).collect::<Vec<_>>(),
        "batches": batches.iter().map(|b| json!({"id": b.id, "made": b.made, "off_the_list": b.gone, "batch": b.record})).collect::<Vec<_>>(),
        "shelters": shelters,
        "nursery": nursery,
        "sites": sites.iter().map(|s| json!({"id": s.id, "name": s.name, "made": s.made, "file": address::saved_record_file(s.id)})).collect::<Vec<_>>(),
    }))
}

/// What a member wishes to be warned of, and what was told.
async fn warnings(store: &Arc<dyn Store>, member: &Member) -> Result<Value, StoreError> {
    let chosen = store.warning_choice(member.id).await?.map(|choice| {
        json!({
            "measure": choice.measure, "threshold": choice.threshold, "quiet_hours": choice.quiet.map(|quiet| [quiet.from, quiet.until]),
            "paused_until": choice.paused_until, "first_freeze": choice.first_freeze, "morning": choice.morning, "stage": choice.stage,
            "plants_left_out": choice.left_out,
        })
    });
    let told = store.warnings_of(member.id, Timestamp::UNIX_EPOCH).await?;
    let told: Vec<Value> = told
        .iter()
        .map(|w| json!({"id": w.id, "at": w.made, "night": w.night, "kind": w.kind, "harm": w.harm, "lowest_c": w.minimum_c, "words": w.words}))
        .collect();
    Ok(json!({"chosen": chosen, "told": told}))
}

/// The nursery that a member belongs to, with the stock that all of its members share, and what this one did to stock anywhere.
async fn nursery(store: &Arc<dyn Store>, member: &Member) -> Result<Value, StoreError> {
    let belongs = match store.nursery_of(member.id).await? {
        Some(nursery) => {
            let since = store.nursery_members(nursery.id).await?.into_iter().find(|(other, _)| other.id == member.id).map(|(_, at)| at);
            let stock = store.stock(nursery.id).await?;
            json!({
                "name": nursery.name, "code": nursery.code.as_str(), "place": nursery.place, "since": since,
                "stock": stock.iter().map(|line| json!({"id": line.id, "item": line.item, "count": line.count})).collect::<Vec<_>>(),
            })
        }
        None => Value::Null,
    };
    let changes = store.stock_changes_of(member.id).await?;
    let changes: Vec<Value> = changes
        .iter()
        .map(|c| json!({"at": c.at, "act": c.act.word(), "line": c.line, "before": c.before, "after": c.after, "undone": c.undone}))
        .collect();
    Ok(json!({"belongs": belongs, "changes": changes}))
}

async fn published_shelter(store: &Arc<dyn Store>, shelter: &ShelterReport) -> Result<Value, StoreError> {
    let versions = store.shelter_versions(shelter.id).await?;
    let decisions = store.shelter_decisions(shelter.id).await?;
    Ok(json!({
        "id": shelter.id, "state": shelter.state, "sent": shelter.sent,
        "place": {
            "words": shelter.place.words, "latitude": shelter.place.point.map(HeldPoint::latitude),
            "longitude": shelter.place.point.map(HeldPoint::longitude), "publish": shelter.place.publish,
        },
        "versions": versions.iter().map(|(version, content, at)| json!({"version": version, "at": at, "content": content})).collect::<Vec<_>>(),
        "decisions": decisions.iter()
            .map(|d| json!({"version": d.version, "state": d.state, "reason": d.reason, "words": d.words, "at": d.at}))
            .collect::<Vec<_>>(),
    }))
}

fn plant(plant: &Plant, earlier: &[Value]) -> Value {
    let litres = match plant.culture {
        Culture::Container(volume) => volume.map(PotVolume::litres),
        Culture::Ground => None,
    };
    json!({
        "id": plant.id, "name_written": plant.name_written, "cultivar": plant.cultivar, "certainty": plant.certainty, "planted": plant.planted,
        "earlier": earlier, "setting": plant.setting, "culture": plant.culture.code(), "container_l": litres, "mother": plant.mother,
        "place": {
            "words": plant.place.words, "latitude": plant.place.point.map(HeldPoint::latitude),
            "longitude": plant.place.point.map(HeldPoint::longitude), "publish": plant.place.publish,
        },
    })
}
