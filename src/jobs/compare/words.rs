//! What a comparison says, in sentences.

use crate::jobs::compare::answer::{CompareAnswer, Pair};
use crate::jobs::compare::beside::Grown;
use crate::jobs::season::dates::day_words;
use crate::jobs::shortlist::reasons::percent;
use crate::science::climate::winters::Hemisphere;
use crate::science::cultivar::FruitKind;
use crate::science::fruiting::year::RipeDays;
use crate::science::shortlist::Comparison;
use crate::units::counted;

/// A chance in whole tenths where it is far from the ends, in words at them.
pub fn chance_words(p: f64) -> String {
    match p {
        p if p >= 0.995 => "almost certainly".to_owned(),
        p if p >= 0.945 => "very likely (over 9 chances in ten)".to_owned(),
        p if p < 0.055 => "hardly (under 1 chance in ten)".to_owned(),
        p => {
            let tenths = (10.0 * p).round() as u32;
            format!("with {tenths} {} in ten", if tenths == 1 { "chance" } else { "chances" })
        }
    }
}

/// A pair as one sentence, the likelier to bear more first.
pub fn pair_sentence(answer: &CompareAnswer<'_>, pair: &Pair) -> Option<String> {
    let (a, b) = (answer.row(pair.a)?, answer.row(pair.b)?);
    let (a, b) = (a.cultivar.name.as_str(), b.cultivar.name.as_str());
    let Comparison { first, second, same, first_ahead } = pair.comparison;
    if same >= 0.9 {
        return Some(format!("{a} and {b} bear in the same number of years here, as far as anyone can tell."));
    }
    let (ahead, behind, wins) = if first_ahead >= 0.5 { (a, b, first) } else { (b, a, second) };
    let tied =
        if same >= 0.055 { format!("; {} they come within half a year in ten of each other", chance_words(same)) } else { String::new() };
    let loses = 1.0 - wins - same;
    Some(if wins >= 2.0 * loses {
        format!("{ahead} bears in more years than {behind} here {}{tied}.", chance_words(wins))
    } else {
        format!("Nobody can say yet whether {ahead} or {behind} bears in more years here: {ahead} does {}{tied}.", chance_words(wins))
    })
}

/// What gardens with both saw; `None` where no public report tells of both in one winter.
pub fn same_garden_sentence(answer: &CompareAnswer<'_>, pair: &Pair) -> Option<String> {
    let (a, b) = (answer.row(pair.a)?, answer.row(pair.b)?);
    let (a, b) = (a.cultivar.name.as_str(), b.cultivar.name.as_str());
    let seen = pair.same_garden;
    if seen.winters == 0 {
        return None;
    }
    let winters = counted(seen.winters, "winter", "winters");
    Some(format!(
        "Side by side in one garden, planted alike: {winters} reported. {a} was harmed less in {}, {b} in {}, alike in {}.",
        seen.first_less,
        seen.second_less,
        seen.equal()
    ))
}

/// The first thing the page says.
pub fn verdict(answer: &CompareAnswer<'_>) -> Option<String> {
    if let [pair] = answer.pairs.as_slice() {
        return pair_sentence(answer, pair);
    }
    let (first, best) = (answer.row(0)?, *answer.best.first()?);
    Some(format!(
        "{} is the one to count on here: of the {} it bears in the most years {}.",
        first.cultivar.name,
        answer.rows.rows.len(),
        chance_words(best)
    ))
}

/// When the first figs of a crop ripen: `from about 12 Aug (28 Jul to 9 Sep)`.
pub fn crop_words(crop: Option<RipeDays>, hemisphere: Hemisphere) -> String {
    let day = |day: f64| day_words(day, hemisphere);
    crop.map_or_else(|| "hardly ever here".to_owned(), |days| format!("{} ({} to {})", day(days.middle), day(days.early), day(days.late)))
}

/// How soon half of plants bear fully again after dying to the ground.
pub fn again_words(season: Option<usize>) -> String {
    season.map_or_else(|| "not within ten seasons".to_owned(), |season| format!("season {season}"))
}

/// Ground or pot in a cell: `8 years in ten; dies in 1 % of winters`.
pub fn grown_words(grown: &Grown) -> String {
    let years = (10.0 * grown.ripe_share).round();
    let unit = if years == 1.0 { "year" } else { "years" };
    format!(
        "{years:.0} {unit} in ten; killed to the ground in {} of winters, dead in {}",
        percent(grown.loses_top - grown.dead),
        percent(grown.dead)
    )
}

/// What kills or spoils each fig here, the likeliest first.
pub fn dies_of(answer: &CompareAnswer<'_>, place: usize) -> Option<String> {
    let row = answer.row(place)?;
    let levels = row.row.winter.chance;
    let ripe = row.row.ripe_share;
    let [sound, .., regrown, _] = row.row.crop.expected;
    let lost_to = [
        (levels.dead, "death of the whole plant"),
        (levels.to_ground * (1.0 - regrown), "a top killed to the ground and no figs ripe on the shoots that follow"),
        ((levels.unharmed + levels.tips) * (1.0 - sound), "a season too short or too cool to ripen figs on sound wood"),
        (levels.wood, "older wood lost"),
    ];
    if matches!(row.standing.fruit.kind, Some(FruitKind::Smyrna)) {
        return Some("It ripens nothing without the fig wasp.".to_owned());
    }
    let (share, cause) = lost_to.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    (1.0 - ripe >= 0.05 && share >= 0.03).then(|| format!("Most years without figs come from {cause}."))
}
