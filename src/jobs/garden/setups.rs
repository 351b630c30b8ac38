//! Keeping places and shelters in a member's garden, and taking them up again.

use std::sync::Arc;

use jiff::Timestamp;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::Limits;
use crate::jobs::accounts::members::MemberError;
use crate::records::setup::Described;
use crate::records::{Member, MemberId, Setup, SetupId, SetupKind, SiteName};
use crate::store::{Saving, Store, StoreError};

/// Most setups of one kind that a member keeps: as many places as the form of a night has rows.
pub const MOST: usize = crate::jobs::cold_night::sent_form::PLACE_ROWS;
/// Name of the nights of the own thermometer: a member has one.
const THERMOMETER: &str = "own thermometer";
/// Longest answer kept, characters.
const LONGEST_ANSWER: usize = 4_000;

/// Places and shelters that members keep.
#[derive(Debug, Clone)]
pub struct Setups {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
    ids: Ids,
}

impl Setups {
    /// On a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, limits, ids }
    }

    /// Keeps descriptions under their names, each in the place of what was kept under it: all of them, or none.
    ///
    /// # Errors
    /// When a name is missing or given twice, or the member keeps [`MOST`] others of the kind; errors name the fields of the names.
    pub async fn keep(&self, member: &Member, kind: SetupKind, all: Vec<Described>, now: Timestamp) -> Result<(), MemberError> {
        let mut errors = FieldErrors::default();
        let first = all.first().map_or_else(String::new, |described| described.field.clone());
        let mut setups: Vec<Setup> = Vec::with_capacity(all.len());
        for Described { field, name: typed, answers } in all {
            let Some(name) = errors.keep(&field, &typed, SiteName::new(&typed)) else { continue };
            match name {
                None => errors.add(&field, &typed, "give it the name by which you will know it again"),
                Some(name) if setups.iter().any(|earlier| earlier.name == name) => {
                    errors.add(&field, &typed, "another one above has this name; give each its own");
                }
                Some(name) => setups.push(Setup { id: SetupId(self.ids.fresh(now)), member: member.id, kind, name, answers, made: now }),
            }
        }
        for (answer, typed) in setups.iter().flat_map(|s| &s.answers).filter(|(_, typed)| typed.chars().count() > LONGEST_ANSWER) {
            errors.add(answer, typed, format!("at most {LONGEST_ANSWER} characters are kept"));
        }
        errors.into_result()?;
        self.limits.writes.take(&member.id.to_string())?;
        match self.store.save_setups(&setups, MOST).await? {
            Saving::Full => {
                let mut errors = FieldErrors::default();
                let words =
                    format!("you keep {MOST} already, the most there is room for; nothing was kept: delete one in your garden first");
                errors.add(first, "", words);
                Err(errors.into())
            }
            Saving::Saved | Saving::NameTaken => Ok(()),
        }
    }

    /// A member's setups of one kind.
    pub async fn of(&self, member: &Member, kind: SetupKind) -> Result<Vec<Setup>, StoreError> {
        Ok(self.store.setups_of(member.id).await?.into_iter().filter(|setup| setup.kind == kind).collect())
    }

    /// Keeps what the own thermometer said of a night beside its forecast, °C.
    pub async fn keep_night(&self, member: &Member, forecast_c: f64, measured_c: f64, now: Timestamp) -> Result<(), MemberError> {
        let kept = self.of(member, SetupKind::Thermometer).await?;
        let earlier = kept.first().map(|setup| setup.answers.as_slice()).unwrap_or_default();
        let answers = crate::jobs::cold_night::form_kept::with_night(earlier, forecast_c, measured_c);
        let all = vec![Described { field: "measured".to_owned(), name: THERMOMETER.to_owned(), answers }];
        self.keep(member, SetupKind::Thermometer, all, now).await
    }

    /// Deletes one by its id as written in a form; `false` where there is none or it is another's.
    pub async fn delete(&self, member: MemberId, id: &str) -> Result<bool, StoreError> {
        match id.parse() {
            Ok(id) => self.store.delete_setup(SetupId(id), member).await,
            Err(_) => Ok(false),
        }
    }
}
