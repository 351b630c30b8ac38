//! The log of what was done by hand, in words and as a table.

use crate::address;
use crate::records::{Actor, text};
use crate::store::LogLine;

/// An entry of the log in words.
pub struct LogView {
    /// Day and time, UTC.
    pub at: String,
    /// Who did it.
    pub who: String,
    /// What was done.
    pub act: &'static str,
    /// Whom it concerns, with their page.
    pub about: Option<(String, String)>,
    /// More.
    pub detail: String,
}

impl LogView {
    /// In words.
    pub fn new(line: &LogLine) -> Self {
        let who = match (&line.author, line.entry.actor) {
            (Some(author), _) => author.clone(),
            (None, Actor::Command) => "a command".to_owned(),
            (None, Actor::Member(_)) => "a former member".to_owned(),
        };
        let about = line.about.clone().zip(line.entry.about).map(|(handle, id)| (handle, address::office_member(id)));
        let act = line.entry.act.label();
        Self {
            at: line.entry.at.strftime("%Y-%m-%d %H:%M").to_string(),
            who,
            // Where nobody is named, or they have left, the words end before them.
            act: [" of", " to"].iter().find_map(|end| act.strip_suffix(end).filter(|_| about.is_none())).unwrap_or(act),
            about,
            detail: line.entry.detail.clone(),
        }
    }
}

/// The log as a table.
///
/// # Errors
/// When a row cannot be written.
pub fn table(lines: &[LogLine]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(["at", "who", "door", "act", "about", "detail"])?;
    for line in lines {
        let view = LogView::new(line);
        let door = if line.entry.actor == Actor::Command { "command" } else { "page" };
        let about = view.about.map(|(handle, _)| handle).unwrap_or_default();
        let cells = [text::exported(&view.who), text::exported(&about), text::exported(&view.detail)];
        writer.write_record([&line.entry.at.to_string(), &cells[0], door, line.entry.act.word(), &cells[1], &cells[2]])?;
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}
