//! A word of what was just done, with a button that takes it back.

use uuid::Uuid;

use crate::records::Member;
use crate::store::{Store, StoreError};
use crate::units::counted;
use crate::vocabulary::Vocabulary;

/// What was just done.
pub struct Done {
    /// In words.
    pub words: String,
    /// Id of the deed, where it can be taken back.
    pub undo: Option<String>,
    /// Where the page comes back to.
    pub back: String,
}

fn value<'a>(pairs: &'a [(String, String)], name: &str) -> Option<&'a str> {
    pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
}

/// What the pairs of an address tell of a deed of this steward; `back` is the page without them.
///
/// # Errors
/// When the store does not answer.
pub(super) async fn done(
    store: &dyn Store,
    steward: &Member,
    pairs: &[(String, String)],
    back: String,
) -> Result<Option<Done>, StoreError> {
    if value(pairs, "told").is_some() {
        return Ok(Some(Done { words: "Corrected, and the reporter is told.".to_owned(), undo: None, back }));
    }
    let Some(id) = value(pairs, "done").and_then(|id| Uuid::parse_str(id).ok()) else { return Ok(None) };
    let left: usize = value(pairs, "left").and_then(|left| left.parse().ok()).unwrap_or(0);
    let left = match left {
        0 => String::new(),
        1 => " One was left: it had changed or was decided meanwhile.".to_owned(),
        many => format!(" {many} were left: they had changed or were decided meanwhile."),
    };
    let Some(deed) = store.deed(id).await?.filter(|deed| deed.steward == Some(steward.id)) else {
        let words = format!("Nothing was decided.{left}");
        return Ok(Some(Done { words, undo: None, back }));
    };
    let what = match deed.reports.as_slice() {
        [one] => match store.report(*one).await? {
            Some(report) => format!("{}, winter {}", report.plant.name_written, report.record.winter),
            None => "one report".to_owned(),
        },
        several => counted(several.len(), "report", "reports"),
    };
    let taken_back = deed.reports.len().saturating_sub(deed.standing);
    if taken_back > 0 {
        let what = if deed.reports.len() == 1 { what } else { counted(taken_back, "report", "reports") };
        return Ok(Some(Done { words: format!("Taken back: {what} as before.{left}"), undo: None, back }));
    }
    let verdict = crate::web::cells::upper_first(deed.state.as_label());
    Ok(Some(Done { words: format!("{verdict}: {what}.{left}"), undo: Some(id.to_string()), back }))
}
