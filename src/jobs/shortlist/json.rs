//! A shortlist as JSON: the same for the command and the API. Keys are the contract; probabilities 0..=1, temperatures °C, differences K.

use rayon::prelude::*;
use serde::Serialize;
use utoipa::ToSchema;

use crate::catalogue::Cultivar;
use crate::catalogue::skin::SkinGroup;
use crate::jobs::shortlist::answer::{Answer, Recommendation};
use crate::jobs::shortlist::json_first_winter::FirstWinterJson;
use crate::jobs::shortlist::reasons::{POLLINATOR, change_code, evidence_words, improvement_sentence};
use crate::jobs::shortlist::three::Role;
pub(crate) use crate::jobs::shortlist::tidy::tidy;
use crate::model::snapshot::Snapshot;
use crate::science::climate::season::Origin;
use crate::science::cultivar::{CropHabit, FruitKind, RipeningSeason};
use crate::science::exposure::{circumstances_of, expose};
use crate::units::Interval;

/// A whole answer.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShortlistJson<'a> {
    /// The place as the answer took it.
    pub site: SiteJson,
    /// The model behind the answer.
    pub model: ModelJson,
    /// Ranked rows, best first.
    pub cultivars: Vec<RowJson<'a>>,
    /// Filters and wish that were given, by parameter.
    pub wanted: std::collections::BTreeMap<&'static str, &'static str>,
    /// How many cultivars were ranked; `cultivars` holds the first `limit` of them.
    pub ranked: usize,
    /// Cultivars of the catalogue that are not ranked, with the reason.
    pub left_out: Vec<NotRankedJson<'a>>,
    /// Those to plant together; null where only named figs were ranked or none is worth planting.
    pub three_together: Option<ThreeJson<'a>>,
    /// What their first winter asks for; null where there are none.
    pub first_winter: Option<FirstWinterJson>,
    /// What the ranges leave open; null where nothing is open.
    pub doubt: Option<DoubtJson>,
}

/// The set with the best chance that at least one bears in a year, never of guessed kinds.
#[derive(Debug, Serialize, ToSchema)]
pub struct ThreeJson<'a> {
    /// Slugs, by what each adds.
    pub cultivars: Vec<&'a str>,
    /// Slugs of the figs that are there already.
    pub beside: Vec<&'a str>,
    /// Chance that at least one of all these bears in a year.
    pub chance_one_bears: f64,
    /// The same of those that are there already; null where there are none.
    pub chance_without: Option<f64>,
    /// What each is for in the set.
    pub roles: Vec<&'static str>,
    /// The whole in a sentence.
    pub text: String,
}

/// What is not known, over the first twelve rows.
#[derive(Debug, Serialize, ToSchema)]
pub struct DoubtJson {
    /// The largest: place, setting, cover, store, age, hardening, hardiness, levels, roots, summer, regrowth.
    pub largest: &'static str,
    /// Part of each in all doubt about years with ripe figs; they sum to 1.
    pub shares: std::collections::BTreeMap<&'static str, f64>,
    /// The largest, and what would narrow it, in a sentence.
    pub text: String,
}

/// A cultivar that is not ranked.
#[derive(Debug, Serialize, ToSchema)]
pub struct NotRankedJson<'a> {
    /// Name in addresses.
    pub slug: &'a str,
    /// Name.
    pub name: &'a str,
    /// Why: code and sentence.
    pub reason: ReasonJson,
}

/// The place as the answer took it, assumptions included.
#[derive(Debug, Serialize, ToSchema)]
pub struct SiteJson {
    /// Coldest temperature of one winter.
    pub yearly_minimum: YearlyMinimumJson,
    /// The growing season.
    pub season: SeasonJson,
    /// Kind of climate: coast, inland or continental.
    pub climate: &'static str,
    /// Setting in the garden; several are parted by commas.
    pub setting: String,
    /// ground or container.
    pub culture: &'static str,
    /// Whole years since planting.
    pub years: u8,
    /// Winter protection.
    pub protection: &'static str,
    /// Mean of the equivalent midwinter minimum at the plant, °C.
    pub exposure_mean_c: f64,
    /// Spread of everything between the open air and the plant, K.
    pub exposure_doubt_k: f64,
}

/// Distribution of the coldest temperature of one winter in the open.
#[derive(Debug, Serialize, ToSchema)]
pub struct YearlyMinimumJson {
    /// Mean, °C.
    pub mean_c: f64,
    /// Standard deviation between winters, K.
    pub sd_c: f64,
    /// Half-zone of the mean, where it lies within 1a to 13b.
    pub half_zone: Option<String>,
    /// Temperatures that 5, 10, 50, 90 and 95 % of winters undercut.
    pub quantiles_c: QuantilesJson,
}

/// Temperatures undercut by a share of winters, °C.
#[derive(Debug, Serialize, ToSchema)]
pub struct QuantilesJson {
    /// By one winter in twenty.
    pub p05: f64,
    /// By one winter in ten.
    pub p10: f64,
    /// By every other winter.
    pub p50: f64,
    /// By nine winters in ten.
    pub p90: f64,
    /// By nineteen winters in twenty.
    pub p95: f64,
}

/// The growing season.
#[derive(Debug, Serialize, ToSchema)]
pub struct SeasonJson {
    /// Days between the median dates of last and first 0 °C frost.
    pub frost_free_days: f64,
    /// Whether that is given, assumed or recorded.
    pub frost_free_days_origin: &'static str,
    /// Mean of the warmest month, °C.
    pub warmest_month_c: f64,
    /// Whether that is given, assumed or recorded.
    pub warmest_month_origin: &'static str,
    /// Kind of summer that was assumed, cool or warm; null where the warmest month is not assumed.
    pub summer_assumed: Option<&'static str>,
    /// Degree-days (single sine, base 8 °C, cap 36 °C) from the start of growth to the first −1 °C night, mean over years.
    pub degree_days: f64,
    /// Year-to-year standard deviation of that sum.
    pub degree_days_sd: f64,
}

/// The model behind an answer.
#[derive(Debug, Serialize, ToSchema)]
pub struct ModelJson {
    /// Name of this state of the model.
    pub version: String,
    /// Winter reports it has learned from.
    pub reports: usize,
    /// When it was fitted; null for priors alone.
    pub fitted_at: Option<String>,
    /// Whether members and reports are simulated.
    pub simulated: bool,
}

impl ModelJson {
    /// Of a snapshot.
    pub(crate) fn of(snapshot: &Snapshot) -> Self {
        Self {
            version: snapshot.model.version.clone(),
            reports: snapshot.model.reports,
            fitted_at: snapshot.model.fitted_at.map(|t| t.to_string()),
            simulated: snapshot.simulated,
        }
    }
}

/// One value per damage level.
#[derive(Debug, Serialize, ToSchema)]
pub struct LevelsJson<T> {
    /// Nothing dead.
    pub unharmed: T,
    /// Tips and figlets lost.
    pub tips: T,
    /// Older wood dead, framework alive.
    pub wood: T,
    /// All top growth dead, regrew.
    pub to_ground: T,
    /// No growth from anywhere.
    pub dead: T,
}

/// Low and high end of a 90 % range.
#[derive(Debug, Serialize, ToSchema)]
pub struct RangeJson([f64; 2]);

/// One ranked cultivar.
#[derive(Debug, Serialize, ToSchema)]
pub struct RowJson<'a> {
    /// Name in addresses.
    pub slug: &'a str,
    /// Name.
    pub name: &'a str,
    /// Place, from 1.
    pub rank: usize,
    /// Chance of each damage level in one winter.
    pub chance: LevelsJson<f64>,
    /// 90 % interval of each chance: low, high.
    pub chance_interval: LevelsJson<RangeJson>,
    /// Years in ten with ripe figs.
    pub ripe_years_in_ten: f64,
    /// 90 % range of that: low, high.
    pub ripe_interval: RangeJson,
    /// Years in ten that it has or passes with a chance of three in four: what one can count on.
    pub ripe_years_lower_quartile: f64,
    /// Chance that it bears in at least five years of ten.
    pub chance_of_five_in_ten: f64,
    /// Chance that it bears in the most years of all that were ranked with it; they sum to 1.
    pub chance_best: f64,
    /// sourced, or guessed: neither a source nor reports say how hardy it is. Guessed ones stand below all others.
    pub group: &'static str,
    /// Chance of being alive after ten winters like these, hardiness held fixed across them.
    pub alive_after_ten_winters: f64,
    /// Outside temperature at which half of plants grown so have reached tips, wood, to the ground, dead, °C.
    pub t50_c: [f64; 4],
    /// 90 % interval of the third of these, °C.
    pub to_ground_interval_c: RangeJson,
    /// What sources say of its fruit.
    pub fruit: FruitJson<'a>,
    /// What stands behind the row.
    pub evidence: EvidenceJson<'a>,
    /// Why it stands here, most telling first.
    pub reasons: Vec<ReasonJson>,
    /// What would make a difference.
    pub changes: Vec<ChangeJson>,
}

/// The fruit of a cultivar by the catalogue, null where no source says it.
#[derive(Debug, Serialize, ToSchema)]
pub struct FruitJson<'a> {
    /// common, `san_pedro`, smyrna, caprifig.
    pub kind: Option<&'static str>,
    /// breba, main, both.
    pub crop: Option<&'static str>,
    /// early, `early_to_mid`, mid, `mid_to_late`, late.
    pub ripens: Option<&'static str>,
    /// Colour of the ripe skin in the source's words.
    pub skin: Option<&'a str>,
    /// light, brown, dark, mixed.
    pub skin_group: Option<&'static str>,
}

/// What stands behind a row.
#[derive(Debug, Serialize, ToSchema)]
pub struct EvidenceJson<'a> {
    /// Winter reports in the model.
    pub reports: usize,
    /// Hardiness class 1..=5; null where none is known.
    pub class: Option<u8>,
    /// Where the class comes from: READ, MEMORY, … UNKNOWN.
    pub class_provenance: &'static str,
    /// Whether little stands behind the row.
    pub thin: bool,
    /// Keys of the sources consulted.
    pub sources: Vec<&'a str>,
}

/// One reason.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReasonJson {
    /// Stable code.
    pub code: &'static str,
    /// The sentence.
    pub text: String,
}

/// One change and what it would bring.
#[derive(Debug, Serialize, ToSchema)]
pub struct ChangeJson {
    /// The parameters that would differ.
    pub change: String,
    /// Years in ten with ripe figs after it.
    pub ripe_years_in_ten: f64,
    /// Chance of a winter that kills to the ground or worse after it.
    pub to_ground_or_dead: f64,
    /// The sentence.
    pub text: String,
}

pub(crate) fn pair(i: Interval<f64>) -> RangeJson {
    RangeJson([tidy(i.low), tidy(i.high)])
}

pub(crate) fn levels<T: Copy, U>(of: crate::science::hardiness::chances::Levels<T>, write: impl Fn(T) -> U) -> LevelsJson<U> {
    LevelsJson {
        unharmed: write(of.unharmed),
        tips: write(of.tips),
        wood: write(of.wood),
        to_ground: write(of.to_ground),
        dead: write(of.dead),
    }
}

const fn origin(origin: Origin) -> &'static str {
    match origin {
        Origin::Given => "given",
        Origin::Assumed => "assumed",
        Origin::Estimated => "estimated",
        Origin::Recorded => "recorded",
    }
}

fn row<'a>(r: &Recommendation<'a>) -> RowJson<'a> {
    let t50 = r.thresholds.t50.map(|t| tidy(t.degrees()));
    let doubt = r.thresholds.to_ground_interval;
    RowJson {
        slug: r.cultivar.slug.as_str(),
        name: &r.cultivar.name,
        rank: r.rank,
        chance: levels(r.row.winter.chance, tidy),
        chance_interval: levels(r.interval, pair),
        ripe_years_in_ten: tidy(10.0 * r.row.ripe_share),
        ripe_interval: RangeJson([tidy(10.0 * r.ripe_range.low), tidy(10.0 * r.ripe_range.high)]),
        ripe_years_lower_quartile: tidy(10.0 * r.row.sure.lower_quartile),
        chance_of_five_in_ten: tidy(r.row.sure.five_in_ten),
        chance_best: tidy(r.row.sure.best),
        group: if r.row.guessed { "guessed" } else { "sourced" },
        alive_after_ten_winters: tidy(r.row.winter.alive_long_run),
        t50_c: t50,
        to_ground_interval_c: RangeJson([tidy(doubt.low.degrees()), tidy(doubt.high.degrees())]),
        fruit: FruitJson {
            kind: r.cultivar.fruit_kind.known().map(FruitKind::word),
            crop: r.cultivar.crop_habit.known().map(CropHabit::word),
            ripens: r.cultivar.ripening.known().map(RipeningSeason::word),
            skin: r.cultivar.skin_colour.value.as_deref(),
            skin_group: r.cultivar.skin().map(SkinGroup::word),
        },
        evidence: EvidenceJson {
            reports: r.standing.reports,
            class: r.standing.class.map(crate::science::cultivar::HardinessClass::number),
            class_provenance: r.cultivar.hardiness_class.provenance.kind.word(),
            thin: evidence_words(r.standing).1,
            sources: r.cultivar.sources.iter().map(crate::catalogue::provenance::SourceKey::as_str).collect(),
        },
        reasons: r.reasons.iter().map(|reason| ReasonJson { code: reason.code, text: reason.sentence.clone() }).collect(),
        changes: r
            .improvements
            .iter()
            .map(|tried| ChangeJson {
                change: change_code(tried.change),
                ripe_years_in_ten: tidy(10.0 * tried.ripe_share),
                to_ground_or_dead: tidy(tried.loses_top),
                text: improvement_sentence(tried, &r.row),
            })
            .collect(),
    }
}

fn not_ranked(cultivar: &Cultivar) -> NotRankedJson<'_> {
    let reason = ReasonJson { code: POLLINATOR.0, text: POLLINATOR.1.to_owned() };
    NotRankedJson { slug: cultivar.slug.as_str(), name: &cultivar.name, reason }
}

impl<'a> ShortlistJson<'a> {
    /// Writes an answer of a snapshot.
    pub fn of(answer: &Answer<'a>, snapshot: &Snapshot) -> Self {
        let site = &answer.site;
        let winter = site.one_winter();
        let q = |p| tidy(winter.quantile(p).degrees());
        let met = expose(&circumstances_of(site, &snapshot.priors), &snapshot.priors);
        Self {
            site: SiteJson {
                yearly_minimum: YearlyMinimumJson {
                    mean_c: tidy(winter.mean().degrees()),
                    sd_c: tidy(winter.sd().kelvin()),
                    half_zone: crate::science::climate::zone::HalfZone::of_mean(winter.mean()).map(|z| z.to_string()),
                    quantiles_c: QuantilesJson { p05: q(0.05), p10: q(0.1), p50: q(0.5), p90: q(0.9), p95: q(0.95) },
                },
                season: SeasonJson {
                    frost_free_days: site.season.frost_free_days(),
                    frost_free_days_origin: origin(site.season.length_origin),
                    warmest_month_c: tidy(site.season.warmest_month().degrees()),
                    warmest_month_origin: origin(site.season.warmth_origin),
                    summer_assumed: (site.season.warmth_origin == Origin::Assumed).then(|| answer.question.summer().word()),
                    degree_days: tidy(answer.heat.over_years.mean),
                    degree_days_sd: tidy(answer.heat.over_years.sd),
                },
                climate: site.climate.word(),
                setting: site.setting.to_string(),
                culture: site.culture.code(),
                years: site.years.years(),
                protection: site.protection.word(),
                exposure_mean_c: tidy(met.top.equivalent_c(site.winter.mean().degrees())),
                exposure_doubt_k: tidy(met.top.variance_k2().sqrt()),
            },
            model: ModelJson::of(snapshot),
            cultivars: answer.rows.par_iter().map(row).collect(),
            wanted: answer.question.wants.pairs().into_iter().collect(),
            ranked: answer.ranked,
            left_out: answer.left_out.iter().map(|cultivar| not_ranked(cultivar)).collect(),
            three_together: answer.three.as_ref().map(|three| ThreeJson {
                cultivars: three.figs.iter().map(|r| r.cultivar.slug.as_str()).collect(),
                beside: three.had.iter().map(|cultivar| cultivar.slug.as_str()).collect(),
                chance_one_bears: tidy(three.one_bears),
                chance_without: three.without.map(tidy),
                roles: three.roles().into_iter().map(Role::words).collect(),
                text: three.sentence(),
            }),
            first_winter: FirstWinterJson::of(answer),
            doubt: answer.doubt.first().zip(snapshot.doubt_sentence(answer)).map(|((largest, _), text)| DoubtJson {
                largest: largest.word(),
                shares: answer.doubt.iter().map(|(source, part)| (source.word(), tidy(*part))).collect(),
                text,
            }),
        }
    }
}
