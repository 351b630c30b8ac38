//! What an answer says, in a few figures that can be laid beside those of another day. No temperatures: a reader of either scale sees the same.

use crate::jobs::compare::words::verdict;
use crate::jobs::sharing::question::{Asked, SharedQuestion};
use crate::jobs::shortlist::answer::Recommendation;
use crate::jobs::shortlist::reasons::{in_ten, percent};
use crate::jobs::spring::{words, words_alive};
use crate::model::snapshot::Snapshot;
use crate::records::{KeyFigure, Register};
use crate::units::Interval;

/// Most rows of a shortlist that are kept.
const ROWS: usize = 3;

impl SharedQuestion {
    /// The key figures of today's answer; `reports` are those that count.
    pub fn figures(&self, snapshot: &Snapshot, reports: &Register) -> Vec<KeyFigure> {
        match &self.asked {
            Asked::Shortlist(question) => {
                let answer = snapshot.recommend(&question.clone().on_a_page());
                let three = answer.three.iter().flat_map(|three| {
                    let names = three.figs.iter().map(|r| r.cultivar.name.as_str()).collect::<Vec<_>>().join(", ");
                    [KeyFigure::new("to plant together", names), KeyFigure::new("at least one of them bears", in_ten(three.one_bears))]
                });
                let order = answer.rows.iter().take(ROWS).map(|r| r.cultivar.name.as_str()).collect::<Vec<_>>().join(", ");
                let order = KeyFigure::new("first in the list", order);
                three.chain([order]).chain(answer.rows.iter().take(ROWS).map(years_of)).collect()
            }
            Asked::Compare(question) => {
                let answer = snapshot.compare(question, reports);
                let said = verdict(&answer).map(|said| KeyFigure::new("the comparison", said.trim_end_matches('.')));
                said.into_iter().chain(answer.rows.rows.iter().map(years_of)).collect()
            }
            Asked::Sheet(fig, question) => {
                let slug = snapshot.catalogue.cultivars().get(*fig).map_or("", |cultivar| cultivar.slug.as_str());
                let Some(sheet) = snapshot.sheet(slug, question) else { return Vec::new() };
                let lost = KeyFigure::new("killed to the ground", in_ten(sheet.row.loses_top()));
                let first = sheet.first_winter.first().map(|w| KeyFigure::new("dies in its first winter, left as it is", percent(w.dies)));
                [KeyFigure::new("years in ten with ripe figs", years(sheet.row.ripe_share, sheet.ripe_range)), lost]
                    .into_iter()
                    .chain(first)
                    .collect()
            }
            Asked::Spring(question) => {
                let answer = snapshot.spring(question);
                let alive = words_alive::alive(question, &answer);
                let wait = words_alive::wait(question, &answer).join(" ");
                let wait = (!wait.is_empty()).then(|| KeyFigure::new("how long to wait", wait.trim_end_matches('.')));
                [
                    KeyFigure::new("whether it is alive", alive.trim_end_matches('.')),
                    KeyFigure::new("chance of ripe figs", words::chance(answer.figs)),
                ]
                .into_iter()
                .chain(wait)
                .collect()
            }
        }
    }
}

fn years_of(row: &Recommendation<'_>) -> KeyFigure {
    KeyFigure::new(format!("years in ten with ripe figs, {}", row.cultivar.name), years(row.row.ripe_share, row.ripe_range))
}

/// `6 (3 to 9)`.
fn years(share: f64, range: Interval<f64>) -> String {
    let whole = |share: f64| (10.0 * share).round() as u32;
    format!("{} ({} to {})", whole(share), whole(range.low), whole(range.high))
}
