//! Who belongs to a nursery: starting one, inviting, joining, leaving. All members may do the same with its stock; who has been in it longest
//! may take others out.

use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::accounts::limits::{Limits, TooOften};
use crate::jobs::shortlist::question::{Place, Question};
use crate::records::{Member, MemberId, Nursery, NurseryCode, NurseryId, text};
use crate::science::climate::zone::HalfZone;
use crate::store::{NurseryJoined, Store, StoreError};
use crate::token::{self, NoRandomness};

/// How long an invitation holds: colleagues are told the same week. DESIGN.
pub const INVITATION_LIFE: SignedDuration = SignedDuration::from_hours(14 * 24);

/// Why nothing was done.
#[derive(Debug, thiserror::Error)]
pub enum NurseryError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// The member belongs to none.
    #[error("you belong to no nursery yet: start one, or join one by its invitation")]
    None,
    /// The member's role does not start one.
    #[error("a nursery is started by members with that role, which the office gives; anybody may join one by its invitation")]
    MayNotStart,
    /// The member belongs to one already.
    #[error("you belong to a nursery already; leave it first")]
    HasOne,
    /// As many members as one may have.
    #[error("this nursery has {} members, the most there may be", Nursery::MOST_MEMBERS)]
    Full,
    /// Something that is not there.
    #[error("there is no such line in your stock")]
    Absent,
    /// Another change came between; what stands now is said.
    #[error("{0}")]
    Moved(String),
    /// Only who has been in it longest does this.
    #[error("only who has been in the nursery longest takes others out")]
    NotKeeper,
    /// Too many changes in a short time.
    #[error(transparent)]
    TooOften(#[from] TooOften),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Randomness.
    #[error(transparent)]
    Randomness(#[from] NoRandomness),
}

impl From<FieldErrors> for NurseryError {
    fn from(errors: FieldErrors) -> Self {
        Self::Fields(errors)
    }
}

/// Nurseries over a store.
#[derive(Debug, Clone)]
pub struct Nurseries {
    pub(super) store: Arc<dyn Store>,
    limits: Arc<Limits>,
    pub(super) ids: Ids,
}

/// What is said of a nursery on a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NurserySaid {
    /// Its name.
    pub name: String,
    /// Its place as the query of a question; empty where none was said.
    pub place: String,
}

/// A place as one types it in one box, a hardiness zone or a town, as the pairs of a question.
pub fn place_pairs(typed: &str) -> Vec<(String, String)> {
    let typed = typed.trim();
    let name = if typed.parse::<HalfZone>().is_ok() { "zone" } else { "place" };
    if typed.is_empty() { Vec::new() } else { vec![(name.to_owned(), typed.to_owned())] }
}

/// What stands in that box for a kept place.
pub fn place_typed(query: &str) -> String {
    let of = |name: &str| form_urlencoded::parse(query.as_bytes()).find(|(key, _)| key == name).map(|(_, value)| value.into_owned());
    of("zone").or_else(|| of("place")).unwrap_or_default()
}

/// Reads name and place of a nursery.
///
/// # Errors
/// What cannot be kept, by field.
pub fn read_nursery(pairs: &[(String, String)]) -> Result<NurserySaid, FieldErrors> {
    let mut fields = Fields::new(pairs, &["name", "where"]);
    if fields.value("name").is_none() {
        fields.errors.add("name", "", "give it the name that buyers know it by: it stands on its sheets and labels");
    }
    let name = fields.line("name", Nursery::LONGEST_NAME);
    let typed = fields.value("where").unwrap_or_default();
    let mut place = String::new();
    if !typed.is_empty() {
        match Question::parse(&place_pairs(typed), false) {
            Ok(question) if !matches!(question.place, Place::Record { .. }) => place = question.to_query(),
            Ok(_) => {}
            Err(errors) => errors.iter().for_each(|error| fields.errors.add("where", typed, &error.message)),
        }
    }
    match name {
        Some(name) if fields.errors.is_empty() => Ok(NurserySaid { name, place }),
        _ => Err(fields.errors),
    }
}

impl Nurseries {
    /// Over a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, limits, ids }
    }

    /// The nursery that a member belongs to.
    ///
    /// # Errors
    /// Where they belong to none.
    pub async fn needed(&self, member: &Member) -> Result<Nursery, NurseryError> {
        self.store.nursery_of(member.id).await?.ok_or(NurseryError::None)
    }

    /// Counts one change against the member's allowance.
    pub(super) fn count(&self, member: &Member) -> Result<(), NurseryError> {
        Ok(self.limits.writes.take(&member.id.to_string())?)
    }

    /// Starts a nursery.
    pub async fn start(&self, member: &Member, said: NurserySaid, now: Timestamp) -> Result<Nursery, NurseryError> {
        if !member.may_start_nursery() {
            return Err(NurseryError::MayNotStart);
        }
        self.count(member)?;
        let id = self.ids.fresh(now);
        let nursery = Nursery {
            id: NurseryId(id),
            code: NurseryCode::from_random(self.ids.fresh(now)),
            name: said.name,
            place: said.place,
            label: String::new(),
            invitation_ends: None,
            made: now,
        };
        if self.store.start_nursery(&nursery, member.id).await? { Ok(nursery) } else { Err(NurseryError::HasOne) }
    }

    /// Gives it another name or place.
    pub async fn change(&self, member: &Member, said: NurserySaid) -> Result<(), NurseryError> {
        let nursery = self.needed(member).await?;
        self.count(member)?;
        Ok(self.store.set_nursery(&Nursery { name: said.name, place: said.place, ..nursery }).await?)
    }

    /// Keeps the sizes of its label sheets.
    pub async fn keep_label(&self, nursery: &Nursery, label: String) -> Result<(), NurseryError> {
        Ok(self.store.set_nursery(&Nursery { label, ..nursery.clone() }).await?)
    }

    /// Makes an invitation in the place of the one before; gives its code, which is shown this once.
    pub async fn invite(&self, member: &Member, now: Timestamp) -> Result<String, NurseryError> {
        let nursery = self.needed(member).await?;
        self.count(member)?;
        let code = token::fresh()?;
        self.store.set_nursery_invitation(nursery.id, Some((&token::hash(&code), now + INVITATION_LIFE))).await?;
        Ok(code)
    }

    /// Ends the invitation that holds.
    pub async fn end_invitation(&self, member: &Member) -> Result<(), NurseryError> {
        let nursery = self.needed(member).await?;
        Ok(self.store.set_nursery_invitation(nursery.id, None).await?)
    }

    /// Joins by an invitation's code, or its whole address.
    pub async fn join(&self, member: &Member, typed: &str, now: Timestamp) -> Result<(), NurseryError> {
        self.count(member)?;
        let code = typed.trim().rsplit(['=', '/']).next().unwrap_or_default();
        match self.store.join_nursery(member.id, &token::hash(code), now).await? {
            NurseryJoined::Yes => Ok(()),
            NurseryJoined::HasOne => Err(NurseryError::HasOne),
            NurseryJoined::Full => Err(NurseryError::Full),
            NurseryJoined::NoInvitation => {
                let mut errors = FieldErrors::default();
                let days = INVITATION_LIFE.as_hours() / 24;
                errors.add(
                    "code",
                    "",
                    format!("no invitation has this code; one holds for {days} days and a newer one ends it: ask for another"),
                );
                Err(errors.into())
            }
        }
    }

    /// Leaves; the last one takes the nursery and its stock along, which is typed out as `close`.
    pub async fn leave(&self, member: &Member, confirmed: &str) -> Result<(), NurseryError> {
        let nursery = self.needed(member).await?;
        let last = self.store.nursery_members(nursery.id).await?.len() <= 1;
        if last && text::line(confirmed, Nursery::LONGEST_NAME).ok().flatten().as_deref() != Some(nursery.name.as_str()) {
            let mut errors = FieldErrors::default();
            let words =
                format!("you are the last one: its stock and history go with you. Type “{}” to close it, or invite somebody", nursery.name);
            errors.add("confirm", confirmed, words);
            return Err(errors.into());
        }
        if self.store.leave_nursery(nursery.id, member.id).await? { Ok(()) } else { Err(NurseryError::None) }
    }

    /// Takes another member out.
    pub async fn take_out(&self, member: &Member, other: MemberId) -> Result<(), NurseryError> {
        let nursery = self.needed(member).await?;
        let members = self.store.nursery_members(nursery.id).await?;
        if members.first().map(|(first, _)| first.id) != Some(member.id) || other == member.id {
            return Err(NurseryError::NotKeeper);
        }
        if self.store.leave_nursery(nursery.id, other).await? { Ok(()) } else { Err(NurseryError::Absent) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_a_zone_or_a_town_in_one_box_and_comes_back_in_words() {
        let read = |typed: &str| read_nursery(&[("name".to_owned(), "Weir Lane".to_owned()), ("where".to_owned(), typed.to_owned())]);
        assert_eq!(read("6B").unwrap().place, "zone=6b&climate=inland");
        assert_eq!(place_typed(&read("6b").unwrap().place), "6b");
        assert_eq!(place_typed(&read("Graz, Austria").unwrap().place), "Graz, Styria, Austria");
        assert_eq!(read("").unwrap().place, "");
        assert!(read("Narnia-upon-Qqqq").unwrap_err().of("where").is_some());
        assert!(read_nursery(&[]).unwrap_err().of("name").is_some());
    }
}
