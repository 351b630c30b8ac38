//! A question that may be passed on: one of this service's own, whose answer stands at an address.

use jiff::civil::Date;

use crate::address::{BENCH, COMPARE, Path, SHORTLIST, SPRING};
use crate::input::errors::FieldErrors;
use crate::jobs::compare::question::{CULTIVAR, CompareQuestion};
use crate::jobs::shortlist::named::identified;
use crate::jobs::shortlist::question::Question;
use crate::jobs::spring::question::{SITE, SpringQuestion};
use crate::model::snapshot::Snapshot;
use crate::records::ShortAddress;

/// Names and values of an address.
pub type Pairs = Vec<(String, String)>;

/// What a question asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Asked {
    /// A shortlist.
    Shortlist(Question),
    /// Some figs with each other.
    Compare(CompareQuestion),
    /// An answer sheet of one fig, by its place in the catalogue.
    Sheet(usize, Question),
    /// Whether a fig is alive, and when it bears.
    Spring(Box<SpringQuestion>),
}

/// A question that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedQuestion {
    /// What it asks.
    pub asked: Asked,
    /// Its path and query, equal for equal questions.
    pub address: String,
}

/// Why a question is not one to be passed on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotShared {
    /// It asks too much at once.
    #[error("this question is {0} bytes long; up to {most} are kept", most = ShortAddress::LONGEST_QUESTION)]
    TooLong(usize),
    /// It is no answer of this service.
    #[error(
        "only an answer of this service has a short address: a shortlist, a comparison, an answer sheet, or one about a plant in spring"
    )]
    Elsewhere,
    /// Its answer is one member's.
    #[error("this answer stands on a record that one member keeps, and nobody else can open it")]
    Private,
    /// It cannot be asked so.
    #[error("{0}")]
    Fields(FieldErrors),
}

/// The page that a path and query ask, and the names and values of the query without blanks.
pub fn parts(address: &str) -> Option<(Path, Pairs)> {
    let (path, query) = address.split_once('?')?;
    let page = [SHORTLIST, COMPARE, BENCH, SPRING].into_iter().find(|page| page.as_str() == path)?;
    let pairs = form_urlencoded::parse(query.as_bytes()).into_owned().filter(|(_, value)| !value.trim().is_empty());
    Some((page, pairs.collect()))
}

impl SharedQuestion {
    /// Reads a path and query of this service.
    ///
    /// # Errors
    /// When it is too long, asks another page than those that answer from an address, or cannot be asked so.
    pub fn read(address: &str, snapshot: &Snapshot, today: Date) -> Result<Self, NotShared> {
        if address.len() > ShortAddress::LONGEST_QUESTION {
            return Err(NotShared::TooLong(address.len()));
        }
        let (page, pairs) = parts(address).ok_or(NotShared::Elsewhere)?;
        let (asked, address) = Self::asked(page, pairs, snapshot, today)?;
        // Written out by us it may be longer than it was typed.
        if address.len() > ShortAddress::LONGEST_QUESTION { Err(NotShared::TooLong(address.len())) } else { Ok(Self { asked, address }) }
    }

    fn asked(page: Path, pairs: Pairs, snapshot: &Snapshot, today: Date) -> Result<(Asked, String), NotShared> {
        let catalogue = &snapshot.catalogue;
        Ok(if page == SHORTLIST {
            let question = Question::parse_for(&pairs, false, catalogue).map_err(NotShared::Fields)?;
            let address = page.with_query(&question.to_query());
            (Asked::Shortlist(question), address)
        } else if page == COMPARE {
            let question = CompareQuestion::parse(&pairs, false, catalogue).map_err(NotShared::Fields)?;
            let address = page.with_query(&question.to_query(catalogue));
            (Asked::Compare(question), address)
        } else if page == BENCH {
            let named = pairs.iter().find(|(name, _)| name == CULTIVAR).map_or("", |(_, value)| value.as_str());
            let mut errors = FieldErrors::default();
            let fig = errors.keep(CULTIVAR, named, identified(catalogue, named));
            let question = FieldErrors::together(errors.into_result(), Question::parse(&pairs, false)).map_err(NotShared::Fields)?;
            let fig = fig.ok_or(NotShared::Elsewhere)?;
            let slug = catalogue.cultivars().get(fig).map_or("", |cultivar| cultivar.slug.as_str());
            let address = page.with_query(&format!("{CULTIVAR}={slug}&{}", question.to_query()));
            (Asked::Sheet(fig, question), address)
        } else {
            if pairs.iter().any(|(name, _)| name == SITE) {
                return Err(NotShared::Private);
            }
            let question = SpringQuestion::parse(&pairs, snapshot, today, None).map_err(NotShared::Fields)?;
            (Asked::Spring(Box::new(question)), page.with(pairs))
        })
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::catalogue::Catalogue;

    fn read(address: &str) -> Result<String, NotShared> {
        let snapshot = Snapshot::from_priors(Catalogue::embedded().unwrap()).unwrap();
        SharedQuestion::read(address, &snapshot, date(2026, 5, 15)).map(|question| question.address)
    }

    #[test]
    fn a_question_of_each_page_is_written_one_way_and_read_again() {
        for (typed, written) in [
            ("/shortlist?zone=7a&years=&climate=", "/shortlist?zone=7a&climate=inland"),
            (
                "/compare?cultivar=Celeste&cultivar=brown+turkey&zone=7a",
                "/compare?cultivar=celeste&cultivar=brown-turkey&zone=7a&climate=inland",
            ),
            ("/bench?zone=7a&cultivar=Celeste", "/bench?cultivar=celeste&zone=7a&climate=inland"),
            ("/spring?zone=7a&seen=nothing&figs=", "/spring?zone=7a&seen=nothing"),
        ] {
            assert_eq!(read(typed).as_deref(), Ok(written), "{typed}");
            assert_eq!(read(written).as_deref(), Ok(written));
        }
    }

    #[test]
    fn nothing_else_is_passed_on() {
        for elsewhere in
            ["", "/", "/garden?x=1", "https://evil.example/shortlist?zone=7a", "//evil.example/?zone=7a", "/shortlist", "/shortlist/../x?y"]
        {
            assert_eq!(read(elsewhere), Err(NotShared::Elsewhere), "{elsewhere}");
        }
        assert!(matches!(read("/shortlist?zone=17q"), Err(NotShared::Fields(_))));
        assert_eq!(read("/spring?site=0&seen=nothing"), Err(NotShared::Private));
        let long = format!("/shortlist?zone=7a&have={}", "x".repeat(2_000));
        assert_eq!(read(&long), Err(NotShared::TooLong(long.len())));
    }
}
