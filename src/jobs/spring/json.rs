//! A spring answer as JSON. Keys name their unit; probabilities 0..=1, temperatures °C, differences K, heat in degree-days (dd) above 8 °C with
//! a cap at 36 °C, days as dates.

use jiff::civil::Date;
use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::season::safe::{CHANCES, Safe};
use crate::jobs::shortlist::json::{LevelsJson, ModelJson, RangeJson, levels, pair, tidy};
use crate::jobs::spring::answer::SpringAnswer;
use crate::jobs::spring::question::SpringQuestion;
use crate::model::snapshot::Snapshot;
use crate::science::fruiting::asleep::Verdict;
use crate::science::fruiting::autumn::Fate;
use crate::science::fruiting::year::CropOutlook;
use crate::science::hardiness::chances::Levels;

/// A whole answer.
#[derive(Debug, Serialize, ToSchema)]
pub struct SpringJson {
    /// Day of the question.
    #[schema(value_type = String)]
    pub today: Date,
    /// What is seen, by its word.
    pub seen: &'static str,
    /// asleep, wait, late_but_likely_alive or likely_dead; null where growth is seen.
    pub verdict: Option<&'static str>,
    /// Whether a winter lies between today and the season of the answer; `alive` and `levels` are then of the plant after it.
    pub winter_ahead: bool,
    /// When a fig is at rest in a usual year here.
    pub rest: RestJson,
    /// Chance that the plant is alive; 1 where growth is seen.
    pub alive: f64,
    /// 90 % range of that.
    pub alive_interval: RangeJson,
    /// How long to wait; null where growth is seen.
    pub wait: Option<WaitJson>,
    /// Chance of each damage level now.
    pub levels: LevelsJson<f64>,
    /// This year's figs.
    pub ripe_figs: FigsJson,
    /// This year's heat.
    pub heat: HeatJson,
    /// When it is safe, by stage, tenderest first.
    pub safe: Vec<SafeJson>,
    /// Nights on which a pot in leaf put out today has to come in before green shoots are safe.
    pub nights_to_carry_in: f64,
    /// Chance that a full crop has come by season 1 (this one), 2 …; null where the top is not dead.
    pub full_crop_by_season: Option<Vec<f64>>,
    /// Green figs, were they on the plant today.
    pub green_figs: Vec<GreenJson>,
    /// What a cut gives and costs on a plant with nothing dead.
    pub cuts: Vec<CutJson>,
    /// What a head start under cover changes in a usual year.
    pub head_start: HeadStartJson,
    /// Reports behind these numbers.
    pub reports: SpringReportsJson,
    /// The model behind the answer.
    pub model: ModelJson,
}

/// When a fig is at rest in a usual year.
#[derive(Debug, Serialize, ToSchema)]
pub struct RestJson {
    /// From here on leaves may have fallen.
    #[schema(value_type = String)]
    pub leaf_fall: Date,
    /// One in ten plants with nothing dead has shown growth.
    #[schema(value_type = String)]
    pub bud_break: Date,
}

/// How long to wait.
#[derive(Debug, Serialize, ToSchema)]
pub struct WaitJson {
    /// Before this day nobody digs.
    #[schema(value_type = String)]
    pub not_dead_before: Date,
    /// When to look again.
    #[schema(value_type = Option<String>)]
    pub look_again: Option<Date>,
    /// Day by which nine in ten of the plants that lived had shown growth; null where a usual year here does not bring the heat.
    #[schema(value_type = Option<String>)]
    pub nine_in_ten_by: Option<Date>,
    /// Heat since the turn of the year by which they had.
    pub nine_in_ten_heat_dd: f64,
    /// 90 % interval of that heat.
    pub nine_in_ten_heat_interval_dd: RangeJson,
    /// Share of living plants that have shown growth by today.
    pub shown_by_today: Option<f64>,
}

/// This year's figs.
#[derive(Debug, Serialize, ToSchema)]
pub struct FigsJson {
    /// Chance of any.
    pub chance: f64,
    /// 90 % range of it.
    pub interval: RangeJson,
    /// The early crop, for the likeliest living state.
    pub breba: CropJson,
    /// The main crop, for the likeliest living state.
    pub main: CropJson,
}

/// One crop.
#[derive(Debug, Serialize, ToSchema)]
pub struct CropJson {
    /// Chance that it ripens.
    pub chance: f64,
    /// Days by which one, five and nine in ten of the years in which it does, and has not by today, have the first; none lies before today.
    /// Null where it hardly ever does, or nearly always has.
    #[schema(value_type = Option<Vec<String>>)]
    pub first_by: Option<[Date; 3]>,
    /// Share of the years in which it ripens that have had the first by today.
    pub ripe_by_today: f64,
    /// Heat it needs from the start of growth of undamaged figs, late start included.
    pub need_dd: f64,
    /// Doubt of that, one standard deviation.
    pub need_sd_dd: f64,
}

/// This year's heat.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeatJson {
    /// First day that counts.
    #[schema(value_type = String)]
    pub from: Date,
    /// Given for this year so far; null where nothing is.
    pub so_far_dd: Option<f64>,
    /// Usual by today.
    pub usual_by_today_dd: f64,
    /// From the start of growth to the first night of −1 °C.
    pub season_dd: f64,
    /// Spread of that over years and doubt of the place, one standard deviation.
    pub season_sd_dd: f64,
}

/// When a stage is safe.
#[derive(Debug, Serialize, ToSchema)]
pub struct SafeJson {
    /// The stage, in words.
    pub stage: &'static str,
    /// Air temperature at the plant that hurts it.
    pub hurt_at_c: f64,
    /// What may be done from then on.
    pub then: &'static str,
    /// Chance of such a night after today, up to this summer or, later in the year, up to `safe_from`.
    pub chance_after_today: f64,
    /// Expected number of them.
    pub nights_after_today: f64,
    /// First day after which only one year in ten has one before summer; today where that is so, never a day before it.
    #[schema(value_type = String)]
    pub safe_from: Date,
    /// Where it is safe today: last day up to which nine years in ten stay free of them; null where it is not, or through the winter too.
    #[schema(value_type = Option<String>)]
    pub safe_until: Option<Date>,
    /// The same day for other chances.
    pub dates: Vec<SafeDateJson>,
    /// Where the temperature comes from.
    pub source: &'static str,
}

/// A date and the chance of a harmful night that is left after it.
#[derive(Debug, Serialize, ToSchema)]
pub struct SafeDateJson {
    /// Chance of at least one.
    pub chance: f64,
    /// The day.
    #[schema(value_type = String)]
    pub from: Date,
}

/// Green figs of a size.
#[derive(Debug, Serialize, ToSchema)]
pub struct GreenJson {
    /// The size, by its word.
    pub size: &'static str,
    /// Chance to ripen before the first night of −1 °C.
    pub chance: f64,
    /// ripens, may_ripen, lost or next_year.
    pub fate: &'static str,
}

/// A cut.
#[derive(Debug, Serialize, ToSchema)]
pub struct CutJson {
    /// How far back, by its word.
    pub depth: &'static str,
    /// Chance of ripe figs that year without it.
    pub uncut: f64,
    /// With it.
    pub cut: f64,
    /// Days by which growth starts later.
    pub later_days: f64,
    /// Length of the longest new shoots by autumn, m: half of such plants have longer ones; null where the cut forces no regrowth.
    pub shoots_m: Option<f64>,
    /// The same for nine plants of ten.
    pub shoots_range_m: Option<RangeJson>,
    /// Reports of shoots' length behind it, beside the starting value.
    pub shoots_reports: Option<usize>,
}

/// A head start under cover in a usual year.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeadStartJson {
    /// First and last day under cover.
    #[schema(value_type = Vec<String>)]
    pub under_cover: [Date; 2],
    /// Chance of ripe figs without it.
    pub without: f64,
    /// By how much warmer it is, day and night together.
    pub covers: Vec<CoverJson>,
}

/// One cover.
#[derive(Debug, Serialize, ToSchema)]
pub struct CoverJson {
    /// Warmer than outside.
    pub warmer_k: f64,
    /// Heat gained.
    pub gained_dd: f64,
    /// Days by which ripening comes earlier.
    pub gained_days: f64,
    /// Chance of ripe figs with it.
    pub chance: f64,
    /// 90 % range of that.
    pub interval: RangeJson,
}

/// Reports behind the numbers; where there are none the sources speak alone.
#[derive(Debug, Serialize, ToSchema)]
pub struct SpringReportsJson {
    /// First growth after such damage.
    pub first_growth: usize,
    /// Ripening of the main crop, or of a season too short for it: of this cultivar, and of all.
    pub first_ripe_main: [usize; 2],
    /// Ripening of the early crop: of this cultivar, and of all.
    pub first_ripe_breba: [usize; 2],
    /// Reports with dates whose heat no daily record counts.
    pub heat_unknown: usize,
    /// Reports with dates whose damage was not plain or whose plant was not known to live.
    pub unclear: usize,
}

impl SpringJson {
    /// From an answer.
    #[expect(clippy::too_many_lines, reason = "one line a key of the document")]
    pub fn of(question: &SpringQuestion, answer: &SpringAnswer<'_>, snapshot: &Snapshot) -> Self {
        let date = |day: f64| question.date(day);
        let today = question.so_far().today.unwrap_or(0.0);
        let outlook = &answer.outlook;
        let crop = |crop: &CropOutlook| CropJson {
            chance: tidy(crop.chance),
            first_by: crop.days.map(|d| [date(d.early), date(d.middle), date(d.late)]),
            ripe_by_today: tidy(crop.ripe_by_today),
            need_dd: tidy(crop.need.mean),
            need_sd_dd: tidy(crop.need.sd),
        };
        let [unharmed, tips, wood, to_ground, dead] = answer.levels;
        let silent = answer.silent.as_ref();
        let alive = crate::units::Interval { low: 1.0, high: 1.0 };
        let [own, all] = answer.first_figs;
        let lesson = snapshot.fruit_effects.as_ref();
        let head = &answer.head_start;
        Self {
            today: question.today,
            seen: question.seen.word(),
            verdict: silent.map(|s| match s.verdict {
                Verdict::Asleep => "asleep",
                Verdict::Wait => "wait",
                Verdict::LateButLikelyAlive => "late_but_likely_alive",
                Verdict::LikelyDead => "likely_dead",
            }),
            winter_ahead: question.winter_ahead,
            rest: RestJson { leaf_fall: date(answer.rest.leaf_fall), bud_break: date(answer.rest.bud_break) },
            alive: silent.map_or(1.0, |s| tidy(s.alive)),
            alive_interval: pair(silent.map_or(alive, |s| s.alive_range)),
            wait: silent.map(|s| WaitJson {
                not_dead_before: date(s.wait.not_dead_before),
                look_again: s.wait.look_again.map(date),
                nine_in_ten_by: s.wait.nine_in_ten.map(date),
                nine_in_ten_heat_dd: tidy(s.wait.degree_days),
                nine_in_ten_heat_interval_dd: pair(s.wait.degree_days_range),
                shown_by_today: s.wait.shown_by_today.map(tidy),
            }),
            levels: levels(Levels { unharmed, tips, wood, to_ground, dead }, tidy),
            ripe_figs: FigsJson {
                chance: tidy(answer.figs),
                interval: pair(answer.figs_range),
                breba: crop(&outlook.breba),
                main: crop(&outlook.main),
            },
            heat: HeatJson {
                from: question.turn(),
                so_far_dd: question.heat_by_today().map(tidy),
                usual_by_today_dd: tidy(answer.curve.until(today)),
                season_dd: tidy(outlook.degree_days.mean),
                season_sd_dd: tidy(outlook.degree_days.sd),
            },
            safe: answer
                .safe
                .iter()
                .map(|row| SafeJson {
                    stage: row.stage.words,
                    hurt_at_c: row.stage.threshold.degrees(),
                    chance_after_today: tidy(row.to_come.chance),
                    nights_after_today: tidy(row.to_come.nights),
                    then: row.stage.then,
                    safe_from: date(row.when.from(today)),
                    safe_until: match row.when {
                        Safe::Now(end) => end.map(date),
                        Safe::From(_) => None,
                    },
                    dates: CHANCES.iter().zip(row.dates).map(|(&chance, d)| SafeDateJson { chance, from: date(d.from(today)) }).collect(),
                    source: row.stage.source,
                })
                .collect(),
            nights_to_carry_in: tidy(answer.carrying),
            full_crop_by_season: answer.return_to_crop.as_ref().map(|back| back.by_season.iter().map(|&p| tidy(p)).collect()),
            green_figs: answer
                .green
                .iter()
                .map(|green| GreenJson {
                    size: green.size.word(),
                    chance: tidy(green.chance),
                    fate: match green.fate {
                        Fate::Ripens => "ripens",
                        Fate::MayRipen => "may_ripen",
                        Fate::Lost => "lost",
                        Fate::NextYear => "next_year",
                    },
                })
                .collect(),
            cuts: answer
                .cuts
                .iter()
                .map(|c| CutJson {
                    depth: c.depth.word(),
                    uncut: tidy(c.uncut),
                    cut: tidy(c.cut),
                    later_days: tidy(c.later_days.mean),
                    shoots_m: c.regrowth.map(|shoots| tidy(shoots.median_m())),
                    shoots_range_m: c.regrowth.map(|shoots| pair(shoots.range_90_m())),
                    shoots_reports: c.regrowth.map(|shoots| shoots.reports),
                })
                .collect(),
            head_start: HeadStartJson {
                under_cover: [date(head.days.0), date(head.days.1)],
                without: tidy(head.without.0),
                covers: head
                    .rows
                    .iter()
                    .map(|row| CoverJson {
                        warmer_k: tidy(row.warmer.kelvin()),
                        gained_dd: tidy(row.gain.degree_days),
                        gained_days: tidy(row.gain.days),
                        chance: tidy(row.chance.0),
                        interval: pair(row.chance.1),
                    })
                    .collect(),
            },
            reports: SpringReportsJson {
                first_growth: answer.shown_reports,
                first_ripe_main: [own.main, all.main],
                first_ripe_breba: [own.breba, all.breba],
                heat_unknown: lesson.map_or(0, |l| l.heat_unknown),
                unclear: lesson.map_or(0, |l| l.unclear),
            },
            model: ModelJson::of(snapshot),
        }
    }
}
