//! Claims about one fig, each by itself, and what members report of it, as the page shows them.

use crate::address;
use crate::catalogue::claims::{About, Claim, contradictions};
use crate::catalogue::found::Standing;
use crate::jobs::cultivars::outcomes::Outcome;
use crate::records::words::Cover;
use crate::units::{Celsius, counted};
use crate::web::frame::Frame;

/// What is said where a source does not tell.
const NOT_TOLD: &str = "not told";

/// Claims on one subject.
pub struct ClaimGroup {
    /// Subject in words.
    pub heading: &'static str,
    /// Whether they contradict each other.
    pub contradict: bool,
    /// The claims.
    pub claims: Vec<ClaimView>,
}

/// A claim.
pub struct ClaimView {
    /// Its figure in both scales.
    pub figure: Option<String>,
    /// What it says.
    pub says: String,
    /// Age, stage and protection, “not told” where they are not.
    pub told: [(&'static str, String); 3],
    /// Source with year and grade.
    pub source: String,
    /// Where it was read.
    pub address: String,
    /// Whether the calculation takes it, and why not.
    pub standing: String,
    /// Whether that stands out.
    pub stands_out: bool,
    /// Words of the source.
    pub note: String,
}

/// An outcome of a member's plant.
pub struct OutcomeView {
    /// Address of the report.
    pub address: String,
    /// Winter.
    pub winter: String,
    /// Coldest it met.
    pub coldest: String,
    /// Level of damage: its class in the stylesheet, and in words.
    pub damage: (&'static str, &'static str),
    /// Age, stage and protection.
    pub told: String,
}

/// Groups of claims, in the order of their subjects.
pub fn claim_groups(claims: &[Claim], frame: &Frame) -> Vec<ClaimGroup> {
    let apart: Vec<About> = contradictions(claims).into_iter().map(|(about, _)| about).collect();
    let group = |about: &About| {
        let of: Vec<ClaimView> = claims.iter().filter(|claim| claim.about == *about).map(|claim| view(claim, frame)).collect();
        (!of.is_empty()).then(|| ClaimGroup { heading: about.label(), contradict: apart.contains(about), claims: of })
    };
    About::ALL.iter().filter_map(group).collect()
}

fn view(claim: &Claim, frame: &Frame) -> ClaimView {
    let part = |text: &Option<String>| text.clone().unwrap_or_else(|| NOT_TOLD.to_owned());
    let mut source = claim.source.clone().unwrap_or_else(|| "No source".to_owned());
    if !claim.year.is_empty() {
        source = format!("{source}, {}", claim.year);
    } else if claim.source.is_some() {
        source = format!("{source}, year not shown");
    }
    if !claim.grade.is_empty() {
        source = format!("{source} ({})", claim.grade);
    }
    let standing =
        if claim.reason.is_empty() { claim.standing.label().to_owned() } else { format!("{}: {}", claim.standing.label(), claim.reason) };
    ClaimView {
        figure: claim.figure_c.and_then(|c| Celsius::new(c).ok()).map(|t| frame.temperature(t)),
        says: claim.says.clone(),
        told: [("Age", part(&claim.age)), ("State", part(&claim.stage)), ("Protection", part(&claim.protection))],
        source,
        address: claim.address.clone(),
        standing,
        stands_out: matches!(claim.standing, Standing::SetAside),
        note: claim.note.clone(),
    }
}

/// Outcomes in words.
pub fn outcome_views(outcomes: &[Outcome], frame: &Frame) -> Vec<OutcomeView> {
    outcomes.iter().map(|outcome| outcome_view(outcome, frame)).collect()
}

fn outcome_view(outcome: &Outcome, frame: &Frame) -> OutcomeView {
    let age =
        outcome.age_years.map_or_else(|| "age not told".to_owned(), |age| format!("{} planted", counted(age.into(), "year", "years")));
    let stage = outcome.stage.map_or_else(|| "state not told".to_owned(), |stage| stage.label().to_lowercase());
    let cover = if outcome.cover == Cover::None { "no protection".to_owned() } else { outcome.cover.label().to_lowercase() };
    let stands = if outcome.in_pot { "in a pot" } else { "in the ground" };
    OutcomeView {
        address: address::report(&outcome.report),
        winter: outcome.winter.clone(),
        coldest: outcome.coldest.map_or_else(|| "coldest not measured".to_owned(), |t| frame.temperature(t)),
        damage: outcome.damage.map_or(("", "not yet told"), |level| (level.word(), level.label())),
        told: format!("{age}, {stands}, {stage}, {cover}"),
    }
}
