//! The answer to a spring question: alive or not, how long to wait, figs this year, safe dates, autumn, cutting back. No I/O.

use crate::catalogue::Cultivar;
use crate::jobs::season::safe::{self, SafeRow};
use crate::jobs::spring::place_year::PlaceYear;
use crate::jobs::spring::question::{Cover, Seen, SpringQuestion};
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::model::trained::{FirstFigs, FittedFruiting};
use crate::science::climate::season::{Origin, Season};
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::fruiting::asleep::{Rest, Verdict};
use crate::science::fruiting::autumn::{GreenFig, green_figs};
use crate::science::fruiting::cutting_back::{CutAnswer, cuts};
use crate::science::fruiting::return_to_crop::ReturnToCrop;
use crate::science::fruiting::shown::Shown;
use crate::science::fruiting::wait::{Wait, alive_though_silent, wait_until};
use crate::science::fruiting::year::{YearOutlook, YearSoFar, year_outlook};
use crate::science::fruiting::{DegreeDayCurve, FruitPriors, FruitTraits, HeadStart, SeasonDegreeDays};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::Gaussian;
use crate::science::shortlist::SitePicture;
use crate::science::site::Site;
use crate::units::{Celsius, Interval, TemperatureDelta};

/// Error of a temperature a grower gives for the winter's lowest, K. DESIGN: own or nearby thermometer.
const LOWEST_ERROR: TemperatureDelta = TemperatureDelta::literal(1.0);
/// Whether the plant lives, while nothing has moved or it is asleep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Silent {
    /// What may be said of it.
    pub verdict: Verdict,
    /// Chance that it is alive; with a winter still to come, that it lives through it.
    pub alive: f64,
    /// The same with the cultivar's hardiness at its 5 % and 95 % points.
    pub alive_range: Interval<f64>,
    /// How long to wait.
    pub wait: Wait,
    /// Chance that it is alive had it carried no leaf all last summer; set while it is asleep, its bark not green.
    pub had_it_never_leafed: Option<f64>,
}

/// The whole answer. Days are counted from the turn of the year.
#[derive(Debug)]
pub struct SpringAnswer<'a> {
    /// The cultivar, where it is known.
    pub cultivar: Option<&'a Cultivar>,
    /// What is known of its fruit.
    pub traits: FruitTraits,
    /// The site with every default filled in.
    pub site: Site,
    /// Heat through an average year.
    pub curve: DegreeDayCurve,
    /// The season's heat.
    pub heat: SeasonDegreeDays,
    /// Law of first growth for the damage that is seen or feared.
    pub shown: Shown,
    /// When a fig is at rest in a usual year here.
    pub rest: Rest,
    /// Set while nothing has moved, and while it is asleep with a winter to come.
    pub silent: Option<Silent>,
    /// Chance of each damage level now, given what is seen.
    pub levels: [f64; 5],
    /// Chance of ripe figs this year.
    pub figs: f64,
    /// 90 % range of it.
    pub figs_range: Interval<f64>,
    /// The outlook after each level of damage.
    pub outlooks: [YearOutlook; 5],
    /// The outlook for the likeliest living state.
    pub outlook: YearOutlook,
    /// The level that outlook is for.
    pub outlook_level: DamageLevel,
    /// Return to a full crop, for plants killed to the ground or feared so.
    pub return_to_crop: Option<ReturnToCrop>,
    /// Chance of another ground-kill in a usual winter here.
    pub ground_kill: f64,
    /// When is it safe.
    pub safe: Vec<SafeRow>,
    /// Nights to carry a leafy pot in, from today to the safe day; 0 where it is safe today.
    pub carrying: f64,
    /// Green figs, were they on the plant today.
    pub green: Vec<GreenFig>,
    /// Cuts.
    pub cuts: Vec<CutAnswer>,
    /// What a head start under cover would change in a usual year.
    pub head_start: HeadStartAnswer,
    /// Reports behind the law of first growth.
    pub shown_reports: usize,
    /// Reports of ripening in the model: of this cultivar, and of all.
    pub first_figs: [FirstFigs; 2],
}

/// A head start under cover in a usual year, for a plant in the state that is seen or feared.
#[derive(Debug, Clone, PartialEq)]
pub struct HeadStartAnswer {
    /// First and last day under cover, days from the turn of the year.
    pub days: (f64, f64),
    /// The state.
    pub level: DamageLevel,
    /// Chance of ripe figs without it, and the day by which half of such years have the first.
    pub without: (f64, Option<f64>),
    /// By how much warmer it is under the cover.
    pub rows: Vec<HeadStartRow>,
    /// Whether the reader gave the warmth.
    pub given: bool,
}

/// One cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadStartRow {
    /// Warmer than outside, day and night together.
    pub warmer: TemperatureDelta,
    /// Heat and days gained.
    pub gain: HeadStart,
    /// Chance of ripe figs, and its 90 % range.
    pub chance: (f64, Interval<f64>),
    /// Day of the first figs in a year that has them on the day of [`HeadStartAnswer::without`] in the open.
    pub first: Option<f64>,
}

/// Warmth under covers that is shown when the reader gives none, K: DESIGN, from little to much.
const COVERS_K: [f64; 3] = [2.0, 5.0, 8.0];
/// Day from which a cover is shown when the reader gives none, from the turn of the year: 1 March, or 29 August (DESIGN).
const COVER_FROM: f64 = 59.0;
/// Days under cover that are shown at least, where it is safe outside already when the cover goes on.
const LEAST_COVERED: f64 = 14.0;

/// A plant through usual years.
struct Usual<'a> {
    traits: &'a FruitTraits,
    level: DamageLevel,
    season: &'a Season,
    curve: &'a DegreeDayCurve,
    heat: &'a SeasonDegreeDays,
    /// First day after which shoots are safe.
    safe_day: f64,
}

impl Usual<'_> {
    fn head_start(&self, cover: &Cover, priors: &FruitPriors) -> HeadStartAnswer {
        let whole = |head_start| {
            let so_far = YearSoFar { head_start, ..YearSoFar::default() };
            year_outlook(self.traits, self.level, self.curve, self.heat, &so_far, priors)
        };
        let first = |outlook: &YearOutlook| {
            let best = if outlook.breba.chance > outlook.main.chance { &outlook.breba } else { &outlook.main };
            best.days.map(|days| days.middle)
        };
        let plain = whole(0.0);
        let from = cover.from.unwrap_or(COVER_FROM);
        let to = cover.to.unwrap_or_else(|| self.safe_day.max(from + LEAST_COVERED));
        let warmths = cover.warmer_k.map_or_else(|| COVERS_K.to_vec(), |k| vec![k]);
        let ripe_day = first(&plain).unwrap_or_else(|| self.curve.hard_frost());
        let rows = warmths.into_iter().map(|k| {
            let gain = HeadStart::of(self.season, k, (from, to), ripe_day, priors);
            let outlook = whole(gain.degree_days);
            HeadStartRow {
                warmer: TemperatureDelta::literal(k),
                gain,
                chance: (outlook.chance, outlook.range),
                first: first(&plain).map(|day| day - gain.days),
            }
        });
        HeadStartAnswer {
            days: (from, to),
            level: self.level,
            without: (plain.chance, first(&plain)),
            rows: rows.collect(),
            given: cover.warmer_k.is_some(),
        }
    }
}

impl Snapshot {
    /// Answers a spring question.
    pub fn spring(&self, question: &SpringQuestion) -> SpringAnswer<'_> {
        let cultivar = question.cultivar.as_deref().and_then(|slug| self.catalogue.get(slug));
        let standing: Option<&CultivarModel> = cultivar.and_then(|c| self.standing(c.slug.as_str()));
        let traits = standing.map(|s| s.fruit).unwrap_or_default();
        let belief = standing.map_or_else(|| self.priors.belief(None, false), |s| s.belief.clone());
        let PlaceYear { site, curve, heat, nights, rest } = self.place_year(&question.place, question.record.as_ref());
        let (priors, so_far) = (&self.fruit_priors, question.so_far());
        let (today, ahead) = (so_far.today.unwrap_or(0.0), question.winter_ahead);
        let heat_now = so_far.degree_days.unwrap_or_else(|| curve.until(today));
        let any = winter_of(self, &site, heat, &belief, None);
        let this = winter_of(self, &site, heat, &belief, question.coldest());
        let feared = match question.seen {
            Seen::Green => DamageLevel::Wood,
            seen => seen.level().unwrap_or(DamageLevel::ToGround),
        };
        let shown = self.shown(feared);
        let silent = (question.seen.level().is_none() || ahead).then(|| {
            let mut wait = wait_until(&shown, &curve, &so_far);
            let before = |levels: [f64; 5]| alive_before(question.seen, ahead, levels);
            let alive = |levels: [f64; 5]| alive_though_silent(before(levels), wait.shown_by_today.unwrap_or(0.0));
            let ends = belief.interval_90();
            let at_end = |h: Celsius| {
                let known = HardinessBelief::mixture([(1.0, Gaussian::new(h.degrees(), 0.0))]);
                let belief = known.as_ref().unwrap_or(&belief);
                alive(winter_of(self, &site, heat, belief, question.coldest()).chance.to_array())
            };
            let alive_range = Interval::between(at_end(ends.low), at_end(ends.high));
            let centre = alive(this.chance.to_array());
            let verdict = Verdict::of(&rest, &wait, (today, heat_now), centre);
            let unlike_green = verdict == Verdict::Asleep && matches!(question.seen, Seen::Nothing | Seen::Brown);
            let all_summer = shown.by(curve.until(rest.leaf_fall));
            let had_it_never_leafed = unlike_green.then(|| alive_though_silent(before(any.chance.to_array()), all_summer));
            if verdict == Verdict::Asleep && rest.bud_break > today {
                wait.look_again = Some(rest.bud_break);
            }
            Silent { verdict, alive: centre, alive_range: alive_range.including(centre), wait, had_it_never_leafed }
        });
        // With a winter to come it may leave anything, but for a top that is dead already.
        let sight = if ahead && question.seen != Seen::Brown { Seen::Nothing } else { question.seen };
        let levels = levels_now(sight, this.chance.to_array(), &|k| {
            let shown = (k < DamageLevel::Dead).then(|| self.shown(k))?;
            Some(shown.by(heat_now))
        });
        let outlooks = DamageLevel::ALL.map(|k| year_outlook(&traits, k, &curve, &heat, &so_far, priors));
        let sum = |of: &dyn Fn(&YearOutlook) -> f64| levels.iter().zip(&outlooks).map(|(p, o)| p * of(o)).sum::<f64>();
        let (figs, low, high) = (sum(&|o| o.chance), sum(&|o| o.range.low), sum(&|o| o.range.high));
        let likeliest = levels.iter().enumerate().take(4).max_by(|a, b| a.1.total_cmp(b.1)).map_or(3, |(k, _)| k);
        let outlook_level = DamageLevel::from_index(likeliest).unwrap_or(DamageLevel::ToGround);
        let [first, second, third, fourth, _] = outlooks;
        let outlook = match outlook_level {
            DamageLevel::Unharmed => first,
            DamageLevel::Tips => second,
            DamageLevel::Wood => third,
            DamageLevel::ToGround | DamageLevel::Dead => fourth,
        };
        let ground_kill = any.chance.to_ground + any.chance.dead;
        // In the open it may be colder by as much as the spot is warmer on a clear still night.
        let spot = TemperatureDelta::literal(self.priors.settings(site.setting).clear.mean);
        let safe = safe::rows(&nights, today, spot);
        let tender = safe::outside(&safe::STAGES[0], spot).degrees();
        let carrying = safe.first().map_or(0.0, |row| nights.between(today, row.when.from(today), tender).nights);
        let safe_day = nights.safe_from(0.0, tender, safe::ACCEPTED);
        let usual = Usual { traits: &traits, level: outlook_level, season: &site.season, curve: &curve, heat: &heat, safe_day };
        SpringAnswer {
            head_start: usual.head_start(&question.cover, priors),
            shown_reports: shown.reports,
            first_figs: [
                standing.map(|s| s.first_figs).unwrap_or_default(),
                self.fruit_effects.as_ref().map(FittedFruiting::ripe_reports).unwrap_or_default(),
            ],
            cultivar,
            traits,
            return_to_crop: (feared == DamageLevel::ToGround && !ahead).then(|| ReturnToCrop::new(ground_kill, priors)),
            green: green_figs(&traits, &curve, &heat, today, priors),
            cuts: cuts(&traits, &heat, self.new_shoots(&heat, Some(site.years.years())), priors),
            rest,
            silent,
            levels,
            figs,
            figs_range: Interval::between(low, high).including(figs),
            outlooks,
            outlook,
            outlook_level,
            ground_kill,
            safe,
            carrying,
            site,
            curve,
            heat,
            shown,
        }
    }
}

/// Chances of one winter: of any winter here, or of the one whose lowest temperature is known.
fn winter_of(
    snapshot: &Snapshot,
    site: &Site,
    heat: SeasonDegreeDays,
    belief: &HardinessBelief,
    lowest: Option<Celsius>,
) -> crate::science::hardiness::chances::WinterChances {
    let site = lowest.map_or_else(
        || site.clone(),
        // One winter's lowest reading says nothing of how hardened the plants were.
        |mean| Site {
            winter: WinterMinimum::Normal { mean, spread: LOWEST_ERROR },
            place_error_k: 0.0,
            winter_by_class: None,
            hardening_counted: false,
            own_spot: None,
            hardening_doubt_k: 0.0,
            ..site.clone()
        },
    );
    SitePicture::new(&site, &snapshot.priors, &snapshot.scale, heat, [belief]).winter(belief)
}

/// Chance of being alive before any waiting, from the levels a winter leaves and what the bark shows.
fn alive_before(seen: Seen, winter_ahead: bool, [_, _, _, ground, dead]: [f64; 5]) -> f64 {
    match seen {
        Seen::Nothing => 1.0 - dead,
        // Alive now; the winter is still to come.
        seen if winter_ahead && seen != Seen::Brown => 1.0 - dead,
        // Brown down to the ground: what is left is the root.
        Seen::Brown => ground / (ground + dead).max(1e-12),
        _ => 1.0,
    }
}

/// Chance of each level now: what the winter leaves, narrowed by what is seen and by the silence until today.
fn levels_now(seen: Seen, winter: [f64; 5], shown: &dyn Fn(DamageLevel) -> Option<f64>) -> [f64; 5] {
    let mut levels = [0.0; 5];
    if let Some(level) = seen.level() {
        if let Some(slot) = levels.get_mut(level.index()) {
            *slot = 1.0;
        }
        return levels;
    }
    for ((slot, p), level) in levels.iter_mut().zip(winter).zip(DamageLevel::ALL) {
        let possible = match seen {
            Seen::Brown => level >= DamageLevel::ToGround,
            Seen::Green => level <= DamageLevel::Wood,
            _ => true,
        };
        let silent = shown(level).map_or(1.0, |by| 1.0 - by);
        // A level that the winter hardly allows stays possible: what is seen overrules it.
        *slot = if possible { p.max(1e-6) * silent } else { 0.0 };
    }
    let total: f64 = levels.iter().sum();
    if total > 0.0 {
        for slot in &mut levels {
            *slot /= total;
        }
    }
    levels
}

impl SpringAnswer<'_> {
    /// Whether length or warmth of the season was assumed.
    pub fn season_assumed(&self) -> bool {
        self.site.season.length_origin == Origin::Assumed || self.site.season.warmth_origin == Origin::Assumed
    }
}
