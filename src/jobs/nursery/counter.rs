//! The buyer's question at the counter: of what is in stock, three for a place in the order of the shortlist; where none will do, the one that
//! would if it is carried in for winter.

use crate::jobs::bench::verdicts::would_do;
use crate::jobs::shortlist::answer::{Answer, Recommendation};
use crate::jobs::shortlist::named::identified;
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::records::StockLine;
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::site::{Culture, Protection};

/// How many are offered.
pub const OFFERED: usize = 3;
/// How many of the stock are looked at in full, from the top of the order.
const LOOKED_AT: usize = 12;

/// The stock by what the catalogue knows of it.
#[derive(Debug, Default)]
pub struct KnownStock<'a> {
    /// Place in the catalogue with the lines of that fig, most first.
    pub kinds: Vec<(usize, Vec<&'a StockLine>)>,
    /// Lines that no entry of the catalogue stands for.
    pub unknown: Vec<&'a StockLine>,
}

impl<'a> KnownStock<'a> {
    /// Lines with plants left; `all`: also those that are sold out.
    pub fn new(snapshot: &Snapshot, stock: &'a [StockLine], all: bool) -> Self {
        let mut known = Self::default();
        for line in stock.iter().filter(|line| all || line.count > 0) {
            match identified(&snapshot.catalogue, &line.item.name) {
                Ok(place) => match known.kinds.iter_mut().find(|(other, _)| *other == place) {
                    Some((_, lines)) => lines.push(line),
                    None => known.kinds.push((place, vec![line])),
                },
                Err(_) => known.unknown.push(line),
            }
        }
        known
    }

    /// The lines of a fig.
    pub fn lines_of(&self, snapshot: &Snapshot, slug: &str) -> Vec<&'a StockLine> {
        let is = |place: usize| snapshot.catalogue.cultivars().get(place).is_some_and(|fig| fig.slug.as_str() == slug);
        self.kinds.iter().find(|(place, _)| is(*place)).map(|(_, lines)| lines.clone()).unwrap_or_default()
    }
}

/// What the counter answers.
#[derive(Debug)]
pub struct AtCounter<'a> {
    /// The question, as many rows as are looked at.
    pub question: Question,
    /// The stock in order.
    pub answer: Answer<'a>,
    /// Where none of it will do: the same carried in for winter.
    pub carried: Option<(Question, Answer<'a>)>,
}

impl AtCounter<'_> {
    /// Those that will do, best first.
    pub fn offered(&self) -> Vec<&Recommendation<'_>> {
        self.answer.rows.iter().filter(|r| does(r)).take(OFFERED).collect()
    }

    /// The one that will do if it is carried in, where none will otherwise.
    pub fn if_carried(&self) -> Option<(&Question, &Recommendation<'_>)> {
        let (question, answer) = self.carried.as_ref()?;
        answer.rows.iter().find(|r| does(r)).map(|r| (question, r))
    }
}

fn does(r: &Recommendation<'_>) -> bool {
    !r.row.guessed && would_do(r.row.winter.chance.dead, r.row.ripe_share)
}

/// The same plant in a pot that is carried into a shed for winter.
pub fn carried_in(question: &Question) -> Question {
    let culture = match question.culture {
        Culture::Ground => Culture::Container(None),
        pot @ Culture::Container(_) => pot,
    };
    Question { culture, protection: Protection::CarriedIn, ..question.clone() }
}

impl Snapshot {
    /// Answers for the figs in stock, by their places in the catalogue.
    pub fn at_counter(&self, question: &Question, places: &[usize]) -> AtCounter<'_> {
        let asked = |question: &Question| {
            let site = question.site(&self.priors);
            let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
            self.recommend_these(question, site, heat, places)
        };
        let question = Question { limit: Some(LOOKED_AT), ..question.clone() };
        let answer = asked(&question);
        let none = !answer.rows.iter().any(does);
        let carried = (none && question.protection != Protection::CarriedIn).then(|| {
            let carried = Question { limit: Some(OFFERED), ..carried_in(&question) };
            let answer = asked(&carried);
            (carried, answer)
        });
        AtCounter { question, answer, carried }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(pairs: &[(&str, &str)]) -> Question {
        Question::parse(&pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect::<Vec<_>>(), true).unwrap()
    }

    #[test]
    fn the_stock_stands_in_the_order_of_the_shortlist_and_where_none_will_do_one_is_carried_in() {
        let snapshot = Snapshot::from_seed().unwrap();
        let places: Vec<usize> = (0..snapshot.catalogue.cultivars().len()).step_by(7).collect();
        let mild = question(&[("zone", "8b")]);
        let counter = snapshot.at_counter(&mild, &places);
        let here: Vec<&str> = counter.answer.rows.iter().map(|r| r.cultivar.slug.as_str()).collect();
        let whole = snapshot.recommend(&mild);
        let in_order: Vec<&str> = whole.rows.iter().map(|r| r.cultivar.slug.as_str()).filter(|slug| here.contains(slug)).collect();
        assert_eq!(here, in_order);
        assert!(counter.offered().len() == OFFERED && counter.carried.is_none());
        let balcony = snapshot.at_counter(&question(&[("zone", "6b"), ("culture", "container")]), &places);
        assert!(balcony.offered().is_empty());
        let (carried, fig) = balcony.if_carried().unwrap();
        assert_eq!(carried.protection, Protection::CarriedIn);
        assert!(fig.row.winter.chance.dead < balcony.answer.rows[0].row.winter.chance.dead);
    }
}
