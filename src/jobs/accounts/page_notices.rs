//! Words of stewards and administrators to a member, shown on the member's own pages until put aside.

use axum::Form;
use axum::extract::State;
use axum::response::Redirect;

use crate::address;
use crate::records::{Member, Notice};
use crate::store::{Store, StoreError};
use crate::web::cells::upper_first;
use crate::web::errors::Failure;
use crate::web::frame::day;
use crate::web::preferences::own_address;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// Notices that a member's own pages show.
const SHOWN: i64 = 50;

/// A notice in words.
pub struct NoticeView {
    /// What it is.
    pub kind: String,
    /// Day.
    pub day: String,
    /// Its words.
    pub words: String,
    /// Page of the report that it is about.
    pub report: Option<String>,
}

impl NoticeView {
    /// In words.
    pub fn new(notice: &Notice) -> Self {
        Self {
            kind: upper_first(notice.kind.label()),
            day: day(notice.at),
            words: notice.words.clone(),
            report: notice.about.map(address::report),
        }
    }
}

/// What a member has not put aside yet, newest first.
///
/// # Errors
/// When the store does not answer.
pub(crate) async fn unseen(store: &dyn Store, member: &Member) -> Result<Vec<NoticeView>, StoreError> {
    let notices = store.notices_of(member.id, SHOWN).await?;
    // One's own words are no news.
    Ok(notices.iter().filter(|n| n.seen.is_none() && n.author != Some(member.id)).map(NoticeView::new).collect())
}

/// `POST /account/notices`: they were read.
pub async fn seen(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Vec<(String, String)>>) -> Result<Redirect, Failure> {
    state.store.see_notices(who.member.id, state.clock.now()).await?;
    let back = pairs.iter().find(|(name, _)| name == "back").map_or(address::ACCOUNT.as_str(), |(_, back)| own_address(back));
    Ok(Redirect::to(back))
}
