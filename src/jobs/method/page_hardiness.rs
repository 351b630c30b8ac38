//! The part of `/method` on what reports changed: fitted effects, validation scores, reports by cultivar.

use crate::jobs::method::page_scale;
use crate::model::snapshot::Snapshot;
use crate::model::trained::{Scored, TrainedModel};
use crate::science::hardiness::fit::Effect;
use crate::science::hardiness::scoring::Validation;
use crate::science::numeric::Gaussian;
use crate::units::counted;
use crate::web::charts::reliability::{Panel, panels};
use crate::web::frame::Scale;

/// What reports have taught.
pub struct Lessons {
    /// Name, before, now.
    pub values: Vec<(String, String, String)>,
    /// What to know about the fit.
    pub doubts: Vec<String>,
    /// Scores by what was left out.
    pub trials: Vec<Trial>,
    /// Of which model they are, or why there are none.
    pub tried: String,
    /// Reliability with winters left out.
    pub reliability: Vec<Panel>,
    /// Share of forecasts in each tenth of the probability integral transform, per cent.
    pub tenths: Vec<String>,
    /// Slug, name and number of reports, most first; those without any are counted.
    pub counts: Vec<(String, String, usize)>,
    /// Cultivars without reports.
    pub without: usize,
    /// Accepted reports that could not be used.
    pub left_out: usize,
}

/// One kind of trial.
pub struct Trial {
    /// What was left out, in words.
    pub words: String,
    /// Name, ranked probability score, log score.
    pub lines: Vec<(&'static str, String, String)>,
    /// The model's gain over the class alone, in words.
    pub skill: String,
    /// Coverage in words.
    pub coverage: String,
}

impl Lessons {
    /// From what a snapshot learned.
    pub fn of(snapshot: &Snapshot, learned: &TrainedModel, scale: Scale) -> Self {
        let names = snapshot.catalogue.cultivars().iter().zip(&snapshot.standings);
        let mut counts: Vec<(String, String, usize)> =
            names.filter(|(_, s)| s.reports > 0).map(|(c, s)| (c.slug.to_string(), c.name.clone(), s.reports)).collect();
        counts.sort_by(|a, b| b.2.cmp(&a.2).then_with(|| a.1.cmp(&b.1)));
        let scored = learned.scored.load();
        let winter = scored.by_winter.as_ref();
        Self {
            values: values(snapshot, learned, scale),
            doubts: learned.lesson.doubts.clone(),
            trials: [("winter", winter), ("group of reporters", scored.by_reporter.as_ref())]
                .into_iter()
                .filter_map(|(what, v)| v.map(|v| trial(what, v)))
                .collect(),
            tried: tried(&scored, snapshot),
            reliability: winter.map(|v| panels(&v.model.reliability)).unwrap_or_default(),
            tenths: winter.map(|v| v.model.pit.iter().map(|m| format!("{:.1}", 100.0 * m)).collect()).unwrap_or_default(),
            without: snapshot.standings.len() - counts.len(),
            counts,
            left_out: learned.left_out,
        }
    }
}

/// Which model the scores are of, or why there are none.
fn tried(scored: &Scored, snapshot: &Snapshot) -> String {
    let Some(of) = &scored.of else {
        return "Scores are worked out when nothing has changed for a while; there are none yet.".to_owned();
    };
    let fitted = of.fitted_at.map(|at| format!(", fitted on {}", jiff::tz::Offset::UTC.to_datetime(at).date())).unwrap_or_default();
    if scored.by_winter.is_none() && scored.by_reporter.is_none() {
        return "Scores need reports from at least two winters.".to_owned();
    }
    let model = format!("Scores of the model “{}” of {}{fitted}.", of.version, counted(of.reports, "report", "reports"));
    if *of == snapshot.model {
        model
    } else {
        format!("{model} Those of the model in use are worked out when nothing has changed for a while.")
    }
}

fn trial(what: &str, v: &Validation) -> Trial {
    let rows = [("this model", &v.model), ("the class alone", &v.class_only), ("how often each damage came overall", &v.frequencies)];
    let skill = 100.0 * v.skill_over_class();
    Trial {
        words: format!("Each {what} left out in turn ({} of them; {} forecasts)", v.folds, v.model.records),
        lines: rows.map(|(name, s)| (name, format!("{:.3}", s.ranked_probability_score), format!("{:.3}", s.log_score))).into(),
        skill: if skill >= 0.0 {
            format!("Reports take {skill:.0} % off the ranked score of the class alone.")
        } else {
            format!("The class alone would have done better by {:.0} %: too few reports yet, or the model is wrong.", -skill)
        },
        coverage: format!(
            "The central 90 % of levels held {:.0} % of what happened; they were given {:.0} %.",
            100.0 * v.model.coverage,
            100.0 * v.model.claimed_coverage
        ),
    }
}

fn values(snapshot: &Snapshot, learned: &TrainedModel, scale: Scale) -> Vec<(String, String, String)> {
    let (before, now) = (snapshot.priors_before(), &learned.lesson);
    let priors = &before;
    let mut lines = Vec::new();
    let mut line = |name: &str, before: String, now: String| lines.push((name.to_owned(), before, now));
    let both = |g: Gaussian| page_scale::spread(g, scale);
    let alone = |kelvin: f64| page_scale::difference(kelvin, false, scale);
    let beta = Gaussian::new(priors.beta.mean, priors.beta.mean * priors.beta.sd);
    line("steepness β", page_scale::steepness(beta, scale), page_scale::steepness(now.beta, scale));
    let [tips, wood, dead] = now.gaps_k;
    line("tips are lost before ground-kill by", both(priors.gap_tips), alone(tips));
    line("wood is lost before ground-kill by", both(priors.gap_wood), alone(wood));
    line("death comes beyond ground-kill by", both(priors.gap_dead), alone(dead));
    line("spread of cultivars within a class", both(priors.sigma_h), alone(now.sigma_h));
    line("spread of reporters", plain(priors.sigma_r, " logit"), format!("{:.2} logit", now.sigma_r));
    if let Some(young) = now.gap_dead_young {
        line("the same in the first three winters", both(priors.gap_dead_young), both(young));
    }
    line("what all plants of a garden share in a winter", both(priors.event_state), both(now.event_state));
    let percent = |share: f64| format!("{:.1} %", 100.0 * share);
    line("reports that do not say what happened", percent(priors.contamination.mean), percent(now.contamination));
    line("error of a thermometer beyond what is stated of it", both(priors.thermometer_unstated), both(now.unstated));
    if let Some(share) = now.hardening_share {
        line("share of the computed hardening that is real", plain(priors.hardening_share, ""), plain(share, ""));
    }
    if let Some(reported) = &now.reported {
        let now =
            format!("{} as often as harmed ones ({} reports in complete lists tell it)", percent(reported.value()), reported.in_lists);
        line("unharmed plants outside complete lists are reported", "not known".to_owned(), now);
    }
    let moving = |kelvin: f64| page_scale::difference(kelvin, true, scale);
    for s in &now.sensitivity {
        let name = format!("if unharmed plants were reported {:.0} % as often as harmed ones", 100.0 * s.share);
        let moved = format!("T50 of tips would move by {}, of ground-kill by {}", moving(s.tips_k), moving(s.ground_k));
        line(&name, "too few complete lists to tell".to_owned(), moved);
    }
    for (effect, learned) in &now.effects {
        line(effect_words(*effect), both(effect.prior(priors)), both(*learned));
    }
    lines
}

fn effect_words(effect: Effect) -> &'static str {
    match effect {
        Effect::FirstTwoWinters => "tenderer in its first two winters by",
        Effect::ThirdWinter => "tenderer in its third winter by",
        Effect::FourthFifthWinter => "tenderer in its fourth and fifth winter by",
        Effect::Container => "tenderer in a pot in the open by",
        Effect::Protection(protection) => match protection {
            crate::science::site::Protection::Wrap => "gain of a wrap",
            crate::science::site::Protection::CoverToGround => "gain of a cover to the ground",
            crate::science::site::Protection::FilledCage => "gain of a filled cage",
            crate::science::site::Protection::UnheatedHouse => "gain of an unheated house",
            other => other.label(),
        },
    }
}

fn plain(g: Gaussian, unit: &str) -> String {
    format!("{:.2} ± {:.2}{unit}", g.mean, g.sd).replace('-', "−")
}
