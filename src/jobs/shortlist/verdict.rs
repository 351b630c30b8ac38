//! Why the first row is first, in a sentence or two; and when the first rows cannot be told apart.

use crate::jobs::shortlist::answer::{Answer, Recommendation};
use crate::jobs::shortlist::reasons::{in_ten, percent, winters_in_ten};
use crate::science::shortlist::RankBy;

/// Rows whose measure is this near the first one's cannot be told apart: half a year, or half a winter, in ten. DESIGN: far inside any range.
const NEAR: f64 = 0.05;
/// A 90 % range as wide as this is said to be wide: half of all years.
const WIDE: f64 = 0.5;

/// The sentences, the first as far as its colon apart from the rest; empty where nothing was ranked.
pub fn verdict(answer: &Answer<'_>) -> Vec<String> {
    let [first, rest @ ..] = answer.rows.as_slice() else { return Vec::new() };
    let by = answer.question.rank_by;
    let near = rest.iter().take_while(|row| row.row.guessed == first.row.guessed && measure(first, by) - measure(row, by) < NEAR).count();
    let mut said = vec![format!("{} comes first:", first.cultivar.name), format!("{}.", why(first, by))];
    match (near, rest.get(near)) {
        (0, Some(second)) => said.push(format!("Next comes {}: {}.", second.cultivar.name, merit(second, by))),
        (0, None) => {}
        (near, after) => {
            let tied = near + 1;
            let those = if after.is_none() { format!("All {} shown", count(tied)) } else { format!("The first {}", count(tied)) };
            said.push(format!("{those} are too close to tell apart; choose among them by what you can get."));
        }
    }
    if by == RankBy::Fruit && answer.ranked > 1 {
        said.push(format!("The chance that it is truly the best of the {} is {}.", answer.ranked, percent(first.row.sure.best)));
    }
    if by == RankBy::Fruit && first.ripe_range.high - first.ripe_range.low >= WIDE {
        said.push("Ranges this wide mean that little is known yet, of the figs or of your place.".to_owned());
    }
    said
}

fn measure(row: &Recommendation<'_>, by: RankBy) -> f64 {
    match by {
        RankBy::Fruit => row.row.sure.lower_quartile,
        RankBy::Wood => row.row.keeps_wood(),
        RankBy::Alive => row.row.stays_alive(),
    }
}

fn merit(row: &Recommendation<'_>, by: RankBy) -> String {
    match by {
        RankBy::Fruit => {
            format!(
                "you can count on ripe figs {}, and on average it has them {}",
                in_ten(row.row.sure.lower_quartile),
                in_ten(row.row.ripe_share)
            )
        }
        RankBy::Wood => format!("nothing worse than lost tips {}", winters_in_ten(row.row.keeps_wood())),
        RankBy::Alive => format!("it dies {}", winters_in_ten(row.row.winter.chance.dead)),
    }
}

fn why(row: &Recommendation<'_>, by: RankBy) -> String {
    let merit = merit(row, by);
    let hardy = row.standing.class.is_some_and(|class| class.number() >= 4);
    let because = match (by, row.reasons.first().map(|reason| reason.code)) {
        (RankBy::Fruit, Some("crops_on_regrowth")) => ", since it bears again on shoots from the roots when winter has killed its top",
        (RankBy::Fruit, Some("keeps_top")) => ", since it keeps its top in most winters and has time to ripen",
        (RankBy::Fruit, Some("regrowth_unknown" | "no_crop_on_regrowth")) if hardy => {
            ", since it is among the hardiest and keeps its top more often"
        }
        (RankBy::Wood | RankBy::Alive, _) => ", since none here takes more cold",
        _ => "",
    };
    format!("{merit}{because}")
}

fn count(n: usize) -> String {
    const WORDS: [&str; 13] = ["none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    WORDS.get(n).map_or_else(|| n.to_string(), |word| (*word).to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::shortlist::question::Question;
    use crate::model::snapshot::Snapshot;

    #[test]
    fn the_verdict_names_the_first_row_and_counts_those_that_cannot_be_told_from_it() {
        let snapshot = Snapshot::from_seed().unwrap();
        for (zone, by) in [("5b", "fruit"), ("6b", "fruit"), ("7a", "wood"), ("8b", "fruit"), ("8b", "alive"), ("10a", "fruit")] {
            let pairs = [("zone", zone), ("rank_by", by)].map(|(k, v)| (k.to_owned(), v.to_owned()));
            let answer = snapshot.recommend(&Question::parse(&pairs, true).unwrap());
            let said = verdict(&answer);
            assert_eq!(said[0], format!("{} comes first:", answer.rows[0].cultivar.name));
            let best = measure(&answer.rows[0], answer.question.rank_by);
            let near = answer.rows.iter().filter(|row| !row.row.guessed && best - measure(row, answer.question.rank_by) < NEAR).count();
            let told = said.iter().any(|s| s.contains(&format!("{} ", count(near))) && s.contains("too close to tell apart"));
            assert_eq!(told, near > 1, "{zone} {by}: {said:?}");
        }
    }
}
