//! `winterfig shortlist`: the ranked shortlist without a server.

use std::io::Write;

use clap::Args as ClapArgs;

use super::{CliError, in_both_scales};
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::answer::Answer;
use crate::jobs::shortlist::json::ShortlistJson;
use crate::jobs::shortlist::named::HAVE;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::reasons::{evidence_words, percent, winters_in_ten};
use crate::jobs::station_record::answer;
use crate::jobs::station_record::answer::AgainstZone;
use crate::model::snapshot::Snapshot;

/// The question; the same words and limits as the address of a shortlist.
#[derive(Debug, ClapArgs)]
#[command(allow_negative_numbers = true)]
pub struct Args {
    /// A town with its country or region (“Vienna, AT”, “Asheville NC”), or coordinates
    #[arg(long, value_name = "WORDS")]
    place: Option<String>,
    /// Height of the garden, m, where it differs from the town's
    #[arg(long, value_name = "M")]
    elevation_m: Option<String>,
    /// The coldest night you remember, °C; alone or beside a place
    #[arg(long, value_name = "T")]
    coldest_c: Option<String>,
    /// In how many winters
    #[arg(long, value_name = "N")]
    coldest_winters: Option<String>,
    /// Hardiness half-zone, 1a to 13b
    #[arg(long)]
    zone: Option<String>,
    /// Mean of the yearly minimum, °C, in place of a zone
    #[arg(long, value_name = "M")]
    yearly_minimum_c: Option<String>,
    /// Its standard deviation between winters, K
    #[arg(long, value_name = "S")]
    yearly_spread_k: Option<String>,
    /// Daily record of the place, in place of a zone (as `climate` reads it)
    #[arg(long, value_name = "FILE")]
    pub(super) record: Option<std::path::PathBuf>,
    #[command(flatten)]
    reading: super::climate::ReadingArgs,
    /// Kind of climate: coast, inland, continental
    #[arg(long)]
    climate: Option<String>,
    /// open, wall, courtyard, hollow, slope, town, water, trees; several at once with commas: town,wall
    #[arg(long)]
    setting: Option<String>,
    /// ground or container
    #[arg(long)]
    culture: Option<String>,
    /// Volume of the pot, L
    #[arg(long, value_name = "L")]
    container_l: Option<String>,
    /// Whole years since planting
    #[arg(long, value_name = "N")]
    years: Option<String>,
    /// Whole years since the top was last killed back
    #[arg(long, value_name = "N")]
    wood_years: Option<String>,
    /// none, mulch, wrap, `cover_to_ground`, `filled_cage`, `unheated_house`, `carried_in`
    #[arg(long)]
    protection: Option<String>,
    /// Where a pot is carried in to: `attached_garage`, `detached_shed`, `cellar`
    #[arg(long)]
    store: Option<String>,
    /// Days between the median dates of last and first frost
    #[arg(long, value_name = "DAYS")]
    frost_free_days: Option<String>,
    /// Median date of the last frost of spring, MM-DD
    #[arg(long, value_name = "MM-DD")]
    last_frost: Option<String>,
    /// Median date of the first frost of autumn, MM-DD
    #[arg(long, value_name = "MM-DD")]
    first_frost: Option<String>,
    /// Mean temperature of the warmest month, °C
    #[arg(long, value_name = "T")]
    warmest_month_c: Option<String>,
    /// cool or warm, where the warmest month is not known
    #[arg(long)]
    summer: Option<String>,
    /// fruit, wood or alive
    #[arg(long)]
    rank_by: Option<String>,
    /// Only figs whose ripe skin is light, brown, dark or mixed, or unknown
    #[arg(long)]
    skin: Option<String>,
    /// Only figs that ripen early, mid or late, or unknown
    #[arg(long)]
    ripens: Option<String>,
    /// Only figs with an early crop: yes, no, unknown
    #[arg(long)]
    early_crop: Option<String>,
    /// Only figs that bear on shoots from the roots: yes, no, unknown
    #[arg(long)]
    regrowth: Option<String>,
    /// Only common, `san_pedro`, smyrna or caprifig, or unknown
    #[arg(long)]
    kind: Option<String>,
    /// The three to plant together besides: early, or `light_and_dark`
    #[arg(long)]
    wish: Option<String>,
    /// Figs that are there already, by any name, parted by commas: the three to plant together are chosen beside them
    #[arg(long, value_name = "NAMES")]
    pub(super) have: Option<String>,
    /// Most rows; every cultivar when left out
    #[arg(long, value_name = "N")]
    limit: Option<String>,
    /// JSON, as the API gives it
    #[arg(long)]
    pub(super) json: bool,
}

impl Args {
    pub(super) fn pairs(&self) -> Vec<(String, String)> {
        [
            ("place", &self.place),
            ("elevation_m", &self.elevation_m),
            ("coldest_c", &self.coldest_c),
            ("coldest_winters", &self.coldest_winters),
            ("zone", &self.zone),
            ("yearly_minimum_c", &self.yearly_minimum_c),
            ("yearly_spread_k", &self.yearly_spread_k),
            ("climate", &self.climate),
            ("setting", &self.setting),
            ("culture", &self.culture),
            ("container_l", &self.container_l),
            ("years", &self.years),
            ("wood_years", &self.wood_years),
            ("protection", &self.protection),
            ("store", &self.store),
            ("frost_free_days", &self.frost_free_days),
            ("last_frost", &self.last_frost),
            ("first_frost", &self.first_frost),
            ("warmest_month_c", &self.warmest_month_c),
            ("summer", &self.summer),
            ("rank_by", &self.rank_by),
            ("skin", &self.skin),
            ("ripens", &self.ripens),
            ("early_crop", &self.early_crop),
            ("regrowth", &self.regrowth),
            ("kind", &self.kind),
            ("wish", &self.wish),
            ("limit", &self.limit),
            ("have", &self.have),
        ]
        .into_iter()
        .filter_map(|(name, value)| value.clone().map(|v| (name.to_owned(), v)))
        .collect()
    }
}

/// Answers on `out`.
pub fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let refused = |errors: FieldErrors| CliError::Input(errors.to_string());
    let (answer, against_zone) = if let Some(path) = &args.record {
        let reading = args.reading.read(path)?;
        let (had, rest): (Vec<_>, Vec<_>) = args.pairs().into_iter().partition(|(name, _)| name == HAVE);
        let mut wrong = FieldErrors::default();
        let have = Question::read_have(&had, &snapshot.catalogue, &mut wrong);
        wrong.into_result().map_err(refused)?;
        let question = Question { have, ..answer::question(&reading.climate, &rest, true).map_err(refused)? };
        let own = answer::recommend(&snapshot, &question, &reading);
        (own.answer, own.against_zone)
    } else {
        let question = Question::parse_for(&args.pairs(), true, &snapshot.catalogue).map_err(refused)?;
        (snapshot.recommend(&question), None)
    };
    if args.json {
        serde_json::to_writer_pretty(&mut *out, &ShortlistJson::of(&answer, &snapshot)).map_err(anyhow::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    if let Some(spot) = answer.question.said.as_ref().and_then(|said| said.spot.as_ref()) {
        writeln!(out, "{}", spot.town.label())?;
        for line in crate::jobs::places::words::doubts(spot).into_iter().chain(crate::jobs::places::words::namesakes(spot)) {
            writeln!(out, "{line}")?;
        }
    }
    if let Some(three) = &answer.three {
        writeln!(out, "{}", three.sentence())?;
        if let Some(said) = three.wish_sentence() {
            writeln!(out, "{said}")?;
        }
        for (r, role) in three.figs.iter().zip(three.roles()) {
            writeln!(out, "  {}: {}", r.cultivar.name, role.words())?;
        }
        writeln!(out)?;
    }
    write_text(&answer, out)?;
    if let Some(doubt) = snapshot.doubt_sentence(&answer) {
        writeln!(out, "{doubt}")?;
    }
    against_zone.map_or(Ok(()), |difference| write_difference(&difference, out))
}

/// Why the record says something else than its zone.
fn write_difference(difference: &AgainstZone, out: &mut dyn Write) -> Result<(), CliError> {
    let AgainstZone { zone, loses_top_by_zone, loses_top, other_night: (other, all), mean_shift, .. } = difference;
    writeln!(
        out,
        "By its zone alone ({zone}) an average fig of the catalogue is killed to the ground or worse in {:.0} % of winters, by this record in {:.0} %:",
        100.0 * loses_top_by_zone,
        100.0 * loses_top
    )?;
    writeln!(
        out,
        "in {other} of {all} winters another night than the coldest did the most harm, since plants were not hard then; on average that counts {mean_shift} colder."
    )?;
    Ok(())
}

pub(super) fn write_text(answer: &Answer<'_>, out: &mut dyn Write) -> Result<(), CliError> {
    let winter = &answer.site.one_winter();
    writeln!(
        out,
        "{}: every other winter {}, one in ten {}",
        if answer.site.hardening_counted {
            "Hardest night of a winter, as its equivalent in midwinter"
        } else {
            "Coldest night of a winter"
        },
        in_both_scales(winter.quantile(0.5), 0),
        in_both_scales(winter.quantile(0.1), 0)
    )?;
    writeln!(
        out,
        "Season: {:.0} frost-free days, warmest month {:.1}; {:.0} degree-days above 8 °C\n",
        answer.site.season.frost_free_days(),
        answer.site.season.warmest_month(),
        answer.heat.over_years.mean
    )?;
    writeln!(
        out,
        "{:>3}  {:<26} {:>8}  {:>12}  {:>10}  {:>20}  evidence",
        "", "cultivar", "count on", "mean (range)", "5 or more", "to ground or worse"
    )?;
    let mut guessed = false;
    for r in &answer.rows {
        if r.row.guessed && !guessed {
            guessed = true;
            writeln!(out, "     Hardiness a guess, in no source:")?;
        }
        let figs = format!("{:.1} ({:.0}–{:.0})", 10.0 * r.row.ripe_share, 10.0 * r.ripe_range.low, 10.0 * r.ripe_range.high);
        let (evidence, _) = evidence_words(r.standing);
        let (sure, half) = (format!("{:.1}", 10.0 * r.row.sure.lower_quartile), percent(r.row.sure.five_in_ten));
        let lost = winters_in_ten(r.row.loses_top());
        writeln!(out, "{:>3}  {:<26} {sure:>8}  {figs:>12}  {half:>10}  {lost:>20}  {evidence}", r.rank, r.cultivar.name)?;
        if let Some(reason) = r.reasons.first() {
            writeln!(out, "     {}", reason.sentence)?;
        }
    }
    writeln!(
        out,
        "\n{} of {} cultivars. Count on: years in ten with ripe figs that it has or passes with a chance of three in four; mean and 90 % range beside it; chance of five years in ten or more. Chances from priors alone, no winter reports.",
        answer.rows.len(),
        answer.ranked,
    )?;
    if !answer.left_out.is_empty() {
        let names: Vec<&str> = answer.left_out.iter().map(|cultivar| cultivar.name.as_str()).collect();
        writeln!(out, "Not ranked, as pollinators whose figs are not eaten: {}.", names.join(", "))?;
    }
    Ok(())
}
