//! `/cultivars/{slug}`: what is known of one cultivar, how sure it is and where it was read.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::catalogue::claims;
use crate::catalogue::{Cultivar, Provenance, ProvenanceKind, Source, SourceKey};
use crate::jobs::cultivars::outcomes::{Outcome, outcomes};
use crate::jobs::cultivars::page_claims::{ClaimGroup, OutcomeView, claim_groups, outcome_views};
use crate::jobs::cultivars::page_found::{FoundLine, found_lines};
use crate::jobs::cultivars::page_ladder::{own_axis, own_thresholds};
use crate::jobs::cultivars::page_list::{NOT_KNOWN, class_words};
use crate::jobs::shortlist::reasons::evidence_words;
use crate::jobs::spring::words::tens;
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::model::trained::FittedFruiting;
use crate::science::cultivar::{CropHabit, FruitKind};
use crate::science::numeric::Gaussian;
use crate::web::charts::axis::{TemperatureAxis, Tick};
use crate::web::charts::damage_curves::{Believed, DamageCurves};
use crate::web::charts::ladder::Ladder;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::root_limits::{RootLimit, root_limits};
use crate::web::state::AppState;

/// The page of a cultivar.
#[derive(Template, WebTemplate)]
#[template(path = "cultivars/cultivar.html")]
pub struct CultivarPage {
    frame: Frame,
    slug: String,
    name: String,
    invented: bool,
    /// Slug and name of the family that it belongs to.
    family: Option<(String, String)>,
    /// Reports of others of its family, where it has one or is one.
    family_reports: Option<usize>,
    /// Slugs and names of those that belong to it, where it is a family.
    strains: Option<Vec<(String, String)>>,
    /// Names of it that nobody should rely on, with the reason.
    dubious: Vec<(String, String)>,
    /// Query of the comparison with others.
    compare: String,
    also: Vec<(String, String)>,
    confused: Vec<(String, String, String)>,
    ladder: Ladder,
    ticks_c: Vec<Tick>,
    ticks_f: Vec<Tick>,
    curves: Option<DamageCurves>,
    has_class: bool,
    thresholds: Vec<(&'static str, String)>,
    doubt: String,
    evidence: String,
    thin: bool,
    traits: Vec<TraitLine>,
    needs: Vec<(&'static str, String, String)>,
    found: Vec<FoundLine>,
    claims: Vec<ClaimGroup>,
    outcome_count: usize,
    outcomes: Vec<OutcomeView>,
    reports_query: String,
    roots: Vec<RootLimit>,
    note: String,
    sources: Vec<SourceLine>,
    shortlist: &'static str,
}

struct TraitLine {
    name: &'static str,
    value: String,
    remark: String,
    provenance: &'static str,
    sources: Vec<String>,
    partly: &'static str,
    doubtful: bool,
}

/// A source as a page names it.
pub(crate) struct SourceLine {
    pub(crate) key: String,
    pub(crate) words: String,
    pub(crate) grade: &'static str,
    pub(crate) address: Option<String>,
}

/// Shows a cultivar.
pub async fn show(frame: Frame, State(state): State<AppState>, Path(slug): Path<String>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let cultivar = snapshot
        .catalogue
        .get(&slug)
        .ok_or_else(|| Failure::not_found("There is no cultivar at this address. The catalogue lists them all."))?;
    // The entry was merged into another; a merge can be undone, so the address is not told to be gone for good.
    if cultivar.slug.as_str() != slug {
        return Ok(Redirect::temporary(&address::cultivar(&cultivar.slug)).into_response());
    }
    let standing = snapshot.standing(&slug).ok_or_else(|| Failure::internal(format!("{slug} has no standing")))?;
    let register = state.registers.newest(&state.store).await?;
    let reported = outcomes(&register, &slug);
    Ok(page(frame, &snapshot, cultivar, standing, &reported).into_response())
}

fn page(
    frame: Frame,
    snapshot: &Snapshot,
    cultivar: &Cultivar,
    standing: &CultivarModel,
    (outcome_count, reported): &(usize, Vec<Outcome>),
) -> CultivarPage {
    let axis = own_axis();
    let thresholds = own_thresholds(snapshot, standing);
    let (evidence, thin) = evidence_words(standing);
    let levels = ["tips and figlets", "older wood", "everything above the ground", "the whole plant"];
    CultivarPage {
        slug: cultivar.slug.to_string(),
        family: cultivar.family.as_ref().and_then(|slug| snapshot.catalogue.get(slug.as_str())).map(slug_and_name),
        strains: cultivar.is_family.then(|| {
            snapshot.catalogue.cultivars().iter().filter(|c| c.family.as_ref() == Some(&cultivar.slug)).map(slug_and_name).collect()
        }),
        family_reports: standing.family_reports,
        dubious: cultivar.dubious.iter().map(|d| (d.name.clone(), d.reason.clone())).collect(),
        name: cultivar.name.clone(),
        invented: cultivar.is_invented(),
        compare: format!("cultivar={}", cultivar.slug),
        also: cultivar.synonyms.iter().map(|s| (s.name.clone(), s.remark.clone().unwrap_or_default())).collect(),
        confused: cultivar
            .confused_with
            .iter()
            .map(|c| {
                let name = snapshot.catalogue.get(c.other.as_str()).map_or_else(|| c.other.to_string(), |other| other.name.clone());
                (c.other.to_string(), name, c.why.trim_end_matches('.').to_owned())
            })
            .collect(),
        ladder: Ladder::with_marks(&thresholds, axis, Vec::new(), &frame),
        ticks_c: axis.ticks_c(),
        ticks_f: axis.ticks_f(),
        curves: curves(snapshot, cultivar, standing, axis, &frame),
        has_class: standing.class.is_some(),
        thresholds: levels.into_iter().zip(thresholds.t50.map(|t| frame.temperature(t))).collect(),
        doubt: frame.range(thresholds.to_ground_interval),
        evidence,
        thin,
        traits: traits(cultivar, &frame),
        needs: needs(snapshot, standing),
        found: found_lines(snapshot.catalogue.found(), cultivar.slug.as_str()),
        claims: claim_groups(&claims::claims(&snapshot.catalogue, cultivar).unwrap_or_default(), &frame),
        outcome_count: *outcome_count,
        outcomes: outcome_views(reported, &frame),
        reports_query: format!("cultivar={}", cultivar.slug),
        roots: root_limits(&snapshot.priors.roots, &snapshot.prior_rows, &frame),
        note: cultivar.note.clone(),
        sources: cultivar.sources.iter().filter_map(|key| snapshot.catalogue.source(key)).map(source_line).collect(),
        shortlist: "/",
        frame,
    }
}

fn slug_and_name(cultivar: &Cultivar) -> (String, String) {
    (cultivar.slug.to_string(), cultivar.name.clone())
}

/// The chances with and before the reports, where there are any.
fn curves(
    snapshot: &Snapshot,
    cultivar: &Cultivar,
    standing: &CultivarModel,
    axis: TemperatureAxis,
    frame: &Frame,
) -> Option<DamageCurves> {
    let learned = snapshot.learned.as_ref()?;
    let place = snapshot.catalogue.cultivars().iter().position(|c| c.slug == cultivar.slug)?;
    let points = learned.points.get(place).filter(|points| !points.is_empty())?;
    let now = Believed { belief: &standing.belief, scale: &snapshot.scale };
    let before = Believed { belief: learned.before.get(place)?, scale: &learned.scale_before };
    Some(DamageCurves::new(now, before, points, axis, &|t| frame.temperature(t)))
}

const fn names_sources(provenance: &Provenance) -> bool {
    matches!(provenance.kind, ProvenanceKind::Read | ProvenanceKind::Derived)
}

/// How a trait is known; where it was read follows as links.
const fn provenance_words(provenance: &Provenance) -> &'static str {
    match provenance.kind {
        ProvenanceKind::Read => "read",
        ProvenanceKind::Derived => "derived from what was read",
        ProvenanceKind::Unknown => "",
        kind => kind.label(),
    }
}

/// Heat to the first ripe fig of each crop it bears without the wasp, and what stands behind it.
fn needs(snapshot: &Snapshot, standing: &CultivarModel) -> Vec<(&'static str, String, String)> {
    let (fruit, priors) = (&standing.fruit, &snapshot.fruit_priors);
    let all = snapshot.fruit_effects.as_ref().map(FittedFruiting::ripe_reports).unwrap_or_default();
    let behind = |own: usize, all: usize| match (own, all) {
        (_, 0) => "from sources on figs of its season; nobody has reported a first ripe fig with its heat yet".to_owned(),
        (own, all) => format!(
            "from sources on figs of its season, moved by {own} {} of it and {} of other figs",
            if own == 1 { "report" } else { "reports" },
            all - own
        ),
    };
    let words = |need: Gaussian| format!("{} degree-days above 8\u{a0}°C (46.4\u{a0}°F), give or take {}", tens(need.mean), tens(need.sd));
    let bears = |crop: CropHabit| match fruit.kind {
        Some(FruitKind::Smyrna) => false,
        Some(FruitKind::Caprifig) => fruit.is_edible_caprifig() && crop == CropHabit::Breba,
        Some(FruitKind::SanPedro) => crop == CropHabit::Breba,
        Some(FruitKind::Common) | None => fruit.habit.is_none_or(|habit| habit == CropHabit::Both || habit == crop),
    };
    let (main, breba) = (standing.first_figs.main, standing.first_figs.breba);
    [
        (CropHabit::Breba, "Early crop, on last year’s tips", fruit.breba_need(priors), behind(breba, all.breba)),
        (CropHabit::Main, "Main crop, on sound wood", fruit.main_need(priors), behind(main, all.main)),
        (
            CropHabit::Main,
            "Main crop, on shoots from the base",
            fruit.main_need(priors).plus(fruit.base_need(priors)),
            behind(main, all.main),
        ),
    ]
    .into_iter()
    .filter(|(crop, ..)| bears(*crop))
    .filter(|(_, what, ..)| !what.contains("base") || fruit.fruits_on_regrowth != Some(false))
    .map(|(_, what, need, behind)| (what, words(need), behind))
    .collect()
}

fn traits(cultivar: &Cultivar, frame: &Frame) -> Vec<TraitLine> {
    let line = |name, value: Option<String>, remark: &Option<String>, provenance: &Provenance| TraitLine {
        name,
        value: value.unwrap_or_else(|| NOT_KNOWN.to_owned()),
        remark: remark.clone().unwrap_or_default(),
        provenance: provenance_words(provenance),
        sources: provenance.sources.iter().filter(|_| names_sources(provenance)).map(SourceKey::to_string).collect(),
        partly: if provenance.partly_from_memory { ", partly from memory" } else { "" },
        doubtful: provenance.rests_on_memory_alone(),
    };
    let c = cultivar;
    vec![
        line(
            "Hardiness class",
            c.hardiness_class.known().map(|class| format!("{} (of 5)", class_words(class))),
            &c.hardiness_class.remark,
            &c.hardiness_class.provenance,
        ),
        line(
            "Coldest that a source says it survived",
            c.survival_claim_c
                .known()
                .map(|t| format!("{} (a claim, without age, duration or protection: not a limit)", frame.temperature(t))),
            &c.survival_claim_c.remark,
            &c.survival_claim_c.provenance,
        ),
        line("Kind of fruit", c.fruit_kind.known().map(|k| k.label().to_owned()), &c.fruit_kind.remark, &c.fruit_kind.provenance),
        line("Crops", c.crop_habit.known().map(|h| h.label().to_owned()), &c.crop_habit.remark, &c.crop_habit.provenance),
        line("Comes back from the roots", c.resprouts.known().map(|r| r.label().to_owned()), &c.resprouts.remark, &c.resprouts.provenance),
        line(
            "Crops on shoots from the roots in the same year",
            c.fruits_on_regrowth.known().map(|r| if r { "yes" } else { "no" }.to_owned()),
            &c.fruits_on_regrowth.remark,
            &c.fruits_on_regrowth.provenance,
        ),
        line("Ripens", c.ripening.known().map(|r| r.label().to_owned()), &c.ripening.remark, &c.ripening.provenance),
        line("Skin", c.skin_colour.value.clone(), &c.skin_colour.remark, &c.skin_colour.provenance),
    ]
}

pub(crate) fn source_line(source: &Source) -> SourceLine {
    let mut words = source.title.clone();
    for part in [source.author.clone(), source.year.map(|y| y.to_string())].into_iter().flatten() {
        words.push_str(", ");
        words.push_str(&part);
    }
    SourceLine { key: source.key.to_string(), words, grade: source.grade.label(), address: source.address.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::learn_hardiness::tests::demonstration;
    use crate::web::frame::Scale;

    fn html(snapshot: &Snapshot, place: usize) -> String {
        let (cultivar, standing) = (&snapshot.catalogue.cultivars()[place], &snapshot.standings[place]);
        page(Frame::sample(Scale::Celsius), snapshot, cultivar, standing, &(0, Vec::new())).render().unwrap()
    }

    #[test]
    fn a_reported_cultivar_shows_its_reports_between_now_and_before() {
        let snapshot = demonstration();
        let (place, standing) = snapshot.standings.iter().enumerate().max_by_key(|(_, s)| s.reports).unwrap();
        let text = html(&snapshot, place);
        let page = scraper::Html::parse_document(&text);
        let count = |selector: &str| page.select(&scraper::Selector::parse(selector).unwrap()).count();
        assert_eq!(count("figure.picture :is(circle.c-point, line.c-dense)"), standing.reports);
        assert!(text.contains(&format!("With {} reports", standing.reports)) && text.contains("Before any report"));
    }

    #[test]
    fn a_cultivar_that_nobody_reported_says_so() {
        assert!(html(&Snapshot::from_seed().unwrap(), 0).contains("Nobody has reported a winter of it yet"));
    }
}
