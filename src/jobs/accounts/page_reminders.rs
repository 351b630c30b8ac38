//! The part of the account page about the dates that come by themselves: their secret address, and the scale they are written in.

use crate::address;
use crate::records::{FirstScale, Member};
use crate::store::StoreError;
use crate::web::forms::Choice;
use crate::web::frame::{Frame, Scale, day};
use crate::web::state::AppState;

/// What a member sees of it.
pub(crate) struct RemindersView {
    /// Whole address of the calendar, of the feed, and the day they were made; none yet.
    pub at: Option<(String, String, String)>,
    /// Scales to choose from.
    pub scales: Vec<Choice>,
}

impl RemindersView {
    /// Of a member.
    ///
    /// # Errors
    /// When the store does not answer.
    pub(crate) async fn of(state: &AppState, frame: &Frame, member: &Member) -> Result<Self, StoreError> {
        let read = if frame.scale() == Scale::Fahrenheit { FirstScale::Fahrenheit } else { FirstScale::Celsius };
        let chosen = state.store.first_scale(member.id).await?.unwrap_or(read);
        let address = state.store.reminder_address(member.id).await?;
        Ok(Self {
            at: address
                .map(|kept| (frame.whole(&address::calendar(&kept.secret)), frame.whole(&address::feed(&kept.secret)), day(kept.made))),
            scales: FirstScale::ALL
                .iter()
                .map(|&scale| Choice { value: scale.word().to_owned(), words: scale.label().to_owned(), chosen: scale == chosen })
                .collect(),
        })
    }
}
