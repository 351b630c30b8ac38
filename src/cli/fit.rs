//! `winterfig fit`: learns hardiness from a file of reports, or from a released package, and prints T50 per cultivar and level.

use std::fs::File;
use std::io::{BufRead, Read, Write};
use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};
use serde::Serialize;

use super::{CliError, fit_package};
use crate::catalogue::{Catalogue, NameMatch, prior_table};
use crate::model::diagnostic_words::diagnostic_words;
use crate::records::report_file::{self, Headings, ReportFile};
use crate::science::cultivar::HardinessClass;
use crate::science::hardiness::fit::{FitError, HardinessSpec, Likelihood, PriorUse, fit};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::Reports;
use crate::science::hardiness::ordinal::FitOptions;
use crate::science::hardiness::posterior::Fitted;
use crate::science::hardiness::scoring::{LeaveOut, Validation, cross_validate, meaningful};
use crate::science::hardiness::selection::{FittedWithLists, Weighed, fit_with_lists};
use crate::science::numeric::Z_90;
use crate::units::{Celsius, FAHRENHEIT_DEGREES_PER_KELVIN, both_scales, change_in_both_scales};

/// Reports and what to do with them.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// CSV of reports: cultivar, reporter, winter, `exposure_c`, `exposure_sd_c`, damage and more; or a released package, PACKAGE.zip
    #[arg(value_name = "REPORTS.csv")]
    file: PathBuf,
    /// What the file calls a column, for each that it calls otherwise: `--column winter=year`
    #[arg(long = "column", value_name = "COLUMN=HEADING")]
    columns: Vec<String>,
    /// Priors of the published evidence, or none
    #[arg(long, value_enum, default_value_t = PriorChoice::Evidence)]
    priors: PriorChoice,
    /// Leave out the scores, which fit the model again without each winter
    #[arg(long)]
    no_scores: bool,
    /// JSON
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PriorChoice {
    /// No priors: what the reports say alone
    None,
    /// Every prior of the shipped table
    Evidence,
}

/// Reports above which the scores are worked out on fewer winters would mislead, so they are left out and it is said.
const MOST_SCORED: usize = 300_000;

#[derive(Serialize)]
struct Answer {
    records: usize,
    cultivars_seen: usize,
    reporters: usize,
    converged: bool,
    doubts: Vec<String>,
    notes: Vec<String>,
    priors: &'static str,
    /// 1/β.
    spread_k: f64,
    beta_per_k: f64,
    beta_sd_per_k: f64,
    /// T50 of tips and of wood minus that of ground-kill, and T50 of ground-kill minus that of death.
    gaps_k: [f64; 3],
    /// Spread of cultivars within a class.
    tau_k: f64,
    /// Spread of reporters, as a temperature.
    rho_k: f64,
    sigma_r_logit: f64,
    /// Spread of what all plants of a garden share in a winter; 0 without.
    event_state_k: f64,
    /// T50 of ground-kill minus that of death in a plant's first three winters.
    gap_dead_young_k: Option<f64>,
    /// Share of reports that do not say what happened.
    contamination: f64,
    /// Error of thermometers beyond what is stated of them.
    thermometer_unstated_k: f64,
    /// Share of the computed hardening that is real.
    hardening_share: Option<f64>,
    /// Means of h of the classes reported.
    classes: Vec<ClassJson>,
    effects: Vec<EffectJson>,
    cultivars: Vec<CultivarJson>,
    log_marginal: f64,
    evaluations: usize,
    passes: f64,
    scores: Option<Validation>,
}

#[derive(Serialize)]
struct EffectJson {
    effect: String,
    value_k: f64,
    sd_k: f64,
}

#[derive(Serialize)]
struct ClassJson {
    class: u8,
    mean_c: f64,
    sd_k: f64,
}

#[derive(Serialize)]
struct CultivarJson {
    cultivar: String,
    records: u32,
    hardiness_class: Option<u8>,
    t50_c: Vec<f64>,
    t50_sd_c: Vec<f64>,
}

/// Runs the command.
pub fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let shown = args.file.display();
    let mut headings = Headings::default();
    for given in &args.columns {
        headings.add(given).map_err(|e| CliError::Input(format!("--column: {e}")))?;
    }
    let cannot =
        |e: std::io::Error| CliError::Input(format!("{shown} cannot be opened: {e}; a CSV file of reports or a package is accepted"));
    let mut opened = std::io::BufReader::with_capacity(1 << 18, File::open(&args.file).map_err(cannot)?);
    let package = fit_package::is_package(opened.fill_buf().map_err(cannot)?);
    let mut file = if package {
        let mut bytes = Vec::new();
        opened.read_to_end(&mut bytes).map_err(cannot)?;
        fit_package::read(&bytes, &shown.to_string())?
    } else {
        report_file::read(opened, &headings).map_err(|e| CliError::Input(format!("{shown}: {e}")))?
    };
    let prior_use = if args.priors == PriorChoice::None { PriorUse::Flat } else { PriorUse::Evidence };
    if prior_use == PriorUse::Evidence && !package {
        add_known_classes(&mut file)?;
    }
    let priors = prior_table::priors().map_err(anyhow::Error::from)?;
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    // Without priors it is the ordinary mixed model, for comparison with other programs.
    let likelihood = if prior_use == PriorUse::Flat { Likelihood::PLAIN } else { Likelihood::default() };
    let spec = HardinessSpec { priors: &priors, prior_use, likelihood, effort: FitOptions { threads, ..FitOptions::default() } };
    let refused = |e: FitError| CliError::Input(format!("{shown}: {e}"));
    let fitted = if package {
        let FittedWithLists { fitted, reported } = fit_with_lists(&spec, &file.reports, None).map_err(refused)?;
        file.reports = Reports::of(&Weighed::by(&file.reports, reported.as_ref()));
        let note = |share: f64| format!("unharmed plants outside complete lists weigh 1/{share:.3}, as complete lists tell");
        file.notes.extend(reported.map(|share| note(share.value())));
        fitted
    } else {
        fit(&spec, &file.reports).map_err(refused)?
    };
    let scores = if args.no_scores || !meaningful(prior_use) {
        None
    } else if fitted.records() > MOST_SCORED {
        file.notes.push(format!("scores are left out above {MOST_SCORED} reports"));
        None
    } else {
        cross_validate(&spec, &file.reports, &fitted, LeaveOut::Winter).map_err(refused)?
    };
    let answer = answer(args, file, &fitted, scores);
    if args.json {
        serde_json::to_writer_pretty(&mut *out, &answer).map_err(anyhow::Error::from)?;
        writeln!(out)?;
    } else {
        print(&answer, out)?;
    }
    Ok(())
}

/// Cultivars of the catalogue bring their class along where the file gives none.
fn add_known_classes(file: &mut ReportFile) -> Result<(), CliError> {
    let catalogue = Catalogue::embedded().map_err(anyhow::Error::from)?;
    let mut added = 0;
    for (name, prior) in file.cultivars.iter().zip(&mut file.reports.cultivars) {
        if prior.class.is_some() {
            continue;
        }
        let known = catalogue.get(name).or_else(|| match catalogue.identify(name) {
            NameMatch::Accepted(cultivar) | NameMatch::Synonym(cultivar) => Some(cultivar),
            _ => None,
        });
        if let Some(known) = known.filter(|c| c.hardiness_class.known().is_some()) {
            prior.class = known.hardiness_class.known();
            prior.from_memory = known.hardiness_class.provenance.rests_on_memory_alone();
            added += 1;
        }
    }
    if added > 0 {
        file.notes.push(format!("hardiness class of {added} cultivars taken from the catalogue"));
    }
    Ok(())
}

fn answer(args: &Args, file: ReportFile, fitted: &Fitted, scores: Option<Validation>) -> Answer {
    let levels = &DamageLevel::ALL[1..];
    let cultivars = file
        .cultivars
        .into_iter()
        .enumerate()
        .map(|(c, cultivar)| {
            let (t50_c, t50_sd_c) = levels.iter().filter_map(|l| fitted.t50(c, *l)).map(|t| (t.mean, t.sd)).unzip();
            let class = file.reports.cultivars.get(c).and_then(|p| p.class).map(u8::from);
            CultivarJson { cultivar, records: fitted.reports_of(c), hardiness_class: class, t50_c, t50_sd_c }
        })
        .collect::<Vec<_>>();
    let beta = fitted.beta();
    Answer {
        records: fitted.records(),
        cultivars_seen: cultivars.len(),
        reporters: file.reporters.len(),
        converged: fitted.convergence().converged,
        doubts: fitted.diagnostics().iter().map(diagnostic_words).collect(),
        notes: file.notes,
        priors: if args.priors == PriorChoice::None { "none" } else { "evidence" },
        spread_k: 1.0 / beta.mean,
        beta_per_k: beta.mean,
        beta_sd_per_k: beta.sd,
        gaps_k: fitted.gaps_k(),
        tau_k: fitted.sigma_h(),
        rho_k: fitted.sigma_r() / beta.mean,
        sigma_r_logit: fitted.sigma_r(),
        event_state_k: fitted.event_state().mean,
        gap_dead_young_k: fitted.gap_dead_young().map(|g| g.mean),
        contamination: fitted.contamination(),
        thermometer_unstated_k: fitted.unstated().mean,
        hardening_share: fitted.hardening_share().map(|g| g.mean),
        classes: HardinessClass::all()
            .filter_map(|class| fitted.class_mean(class).map(|h| ClassJson { class: class.into(), mean_c: h.mean, sd_k: h.sd }))
            .collect(),
        effects: fitted.effects().map(|(e, k)| EffectJson { effect: e.key(), value_k: k.mean, sd_k: k.sd }).collect(),
        cultivars,
        log_marginal: fitted.log_marginal(),
        evaluations: fitted.convergence().evaluations,
        passes: fitted.convergence().passes,
        scores,
    }
}

fn print(answer: &Answer, out: &mut dyn Write) -> Result<(), CliError> {
    writeln!(
        out,
        "{} reports, {} cultivars, {} reporters; priors: {}",
        answer.records, answer.cultivars_seen, answer.reporters, answer.priors
    )?;
    let state = if answer.converged { "converged" } else { "NOT converged" };
    writeln!(out, "{state} after {} evaluations; log marginal {:.3}", answer.evaluations, answer.log_marginal)?;
    for note in answer.notes.iter().chain(&answer.doubts) {
        writeln!(out, "note: {note}")?;
    }
    let [tips, wood, dead] = answer.gaps_k;
    writeln!(
        out,
        "\nsteepness {:.3} ± {:.3} per °C ({:.3} ± {:.3} per °F); cultivars of a class ± {}; reporters ± {}",
        answer.beta_per_k,
        answer.beta_sd_per_k,
        answer.beta_per_k / FAHRENHEIT_DEGREES_PER_KELVIN,
        answer.beta_sd_per_k / FAHRENHEIT_DEGREES_PER_KELVIN,
        both_scales(answer.tau_k),
        both_scales(answer.rho_k)
    )?;
    writeln!(
        out,
        "ground-kill is at T50; tips {} and wood {} before it, death {} beyond",
        both_scales(tips),
        both_scales(wood),
        both_scales(dead)
    )?;
    for effect in &answer.effects {
        writeln!(out, "{}: {} ± {}", effect.effect, change_in_both_scales(effect.value_k), both_scales(effect.sd_k))?;
    }
    writeln!(out, "\nEquivalent midwinter minimum at which half of plants reach each level, 90 % interval (°C; °F for ground-kill):")?;
    let widest = answer.cultivars.iter().map(|c| c.cultivar.chars().count()).max().unwrap_or(8).clamp(8, 40);
    writeln!(
        out,
        "{:widest$} {:>7}  {:>18}  {:>18}  {:>18}  {:>18}  {:>8}",
        "cultivar", "reports", "tips", "wood", "to the ground", "dead", "°F"
    )?;
    for c in &answer.cultivars {
        write!(out, "{:widest$} {:>7}", c.cultivar, c.records)?;
        for (mean, sd) in c.t50_c.iter().zip(&c.t50_sd_c) {
            let half = Z_90 * sd;
            write!(out, "  {:>6.1} [{:>5.1},{:>5.1}]", mean, mean - half, mean + half)?;
        }
        let ground = c.t50_c.get(2).copied().unwrap_or(f64::NAN);
        writeln!(out, "  {:>8.1}", Celsius::literal(ground).fahrenheit())?;
    }
    if let Some(s) = &answer.scores {
        writeln!(out, "\nEach of {} winters left out and forecast (lower is better):", s.folds)?;
        writeln!(out, "{:20} {:>10} {:>10}", "", "ranked", "log")?;
        for (name, score) in [("model", &s.model), ("class alone", &s.class_only), ("overall frequencies", &s.frequencies)] {
            writeln!(out, "{name:20} {:>10.4} {:>10.4}", score.ranked_probability_score, score.log_score)?;
        }
        writeln!(out, "central 90 % of levels: given {:.3}, seen {:.3}", s.model.claimed_coverage, s.model.coverage)?;
    }
    Ok(())
}
