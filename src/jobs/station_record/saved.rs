//! Keeping a daily record under a name: packing it, bounding it, and finding it again for its member alone.

use std::io::{self, Read, Write};
use std::sync::Arc;

use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;
use jiff::Timestamp;
use uuid::Uuid;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::{Limits, TooOften};
use crate::jobs::shortlist::question_form;
use crate::jobs::station_record::{asked, read, thermometer_offset};
use crate::records::{KeptRecord, Member, NamedSite, SiteId, SiteName};
use crate::store::{Saving, Store, StoreError};

/// Field of the form that names a record to be kept.
pub const FIELD: &str = "keep_as";
/// Most records that one member keeps.
pub const MOST_SITES: i64 = 10;
/// Parameter of the page alone: the winter to draw.
const WINTER: &str = "winter";

/// Why a site was not kept or found.
#[derive(Debug, thiserror::Error)]
pub enum SiteError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// Too often.
    #[error(transparent)]
    TooOften(#[from] TooOften),
    /// There is no such site, or it is another's.
    #[error("there is no such site")]
    Absent,
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Daily records that members keep.
#[derive(Debug, Clone)]
pub struct Sites {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
    ids: Ids,
}

impl Sites {
    /// On a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, limits, ids }
    }

    /// Keeps a packed record under a name.
    ///
    /// # Errors
    /// When the member keeps [`MOST_SITES`] already or one under this name, or writes too often.
    pub async fn keep(&self, member: &Member, name: SiteName, record: &KeptRecord, now: Timestamp) -> Result<NamedSite, SiteError> {
        self.limits.writes.take(&member.id.to_string())?;
        let site = NamedSite { id: SiteId(self.ids.fresh(now)), member: member.id, name, made: now };
        match self.store.save_site(&site, record, MOST_SITES).await? {
            Saving::Saved => Ok(site),
            Saving::Full => Err(refused(
                site.name.as_str(),
                format!("you keep {MOST_SITES} records already, the most there is room for; nothing was kept: delete one first"),
            )),
            Saving::NameTaken => Err(refused(site.name.as_str(), "you keep another record under this name; nothing was kept")),
        }
    }

    /// Sites of a member, oldest first.
    pub async fn of(&self, member: &Member) -> Result<Vec<NamedSite>, SiteError> {
        Ok(self.store.sites_of(member.id).await?)
    }

    /// A member's site by its id as written in an address.
    pub async fn open(&self, member: Option<&Member>, id: &str) -> Result<(NamedSite, KeptRecord), SiteError> {
        let member = member.ok_or(SiteError::Absent)?;
        self.store.site(site_id(id)?, member.id).await?.ok_or(SiteError::Absent)
    }

    /// Deletes a member's site.
    pub async fn delete(&self, member: &Member, id: &str) -> Result<(), SiteError> {
        if self.store.delete_site(site_id(id)?, member.id).await? { Ok(()) } else { Err(SiteError::Absent) }
    }
}

fn site_id(text: &str) -> Result<SiteId, SiteError> {
    Uuid::parse_str(text).map(SiteId).map_err(|_| SiteError::Absent)
}

fn refused(typed: &str, why: impl std::fmt::Display) -> SiteError {
    SiteError::Fields(wrong(typed, why))
}

fn wrong(typed: &str, why: impl std::fmt::Display) -> FieldErrors {
    let mut errors = FieldErrors::default();
    errors.add(FIELD, typed, why);
    errors
}

/// The name that a form asks its record to be kept under, with who keeps it; `None` where nothing is to be kept.
///
/// # Errors
/// When the name cannot be used, or nobody is signed in to keep it.
pub fn asked(pairs: &[(String, String)], member: Option<&Member>) -> Result<Option<(Member, SiteName)>, FieldErrors> {
    let typed = pairs.iter().find(|(name, _)| name == FIELD).map_or("", |(_, text)| text.as_str());
    let Some(name) = SiteName::new(typed).map_err(|why| wrong(typed, why))? else { return Ok(None) };
    let member = member.ok_or_else(|| wrong(typed, "only a member who is signed in can keep a record; nothing was kept"))?;
    Ok(Some((member.clone(), name)))
}

/// Packs what was sent, to be kept. Takes a core for a moment.
///
/// # Errors
/// When it packs to more than [`KeptRecord::MOST_BYTES`].
pub fn pack(bytes: &[u8], pairs: &[(String, String)]) -> Result<KeptRecord, FieldErrors> {
    let too_large = || wrong("", format!("the record packs to more than the {} MB that can be kept", KeptRecord::MOST_BYTES >> 20));
    let mut packer = GzEncoder::new(Vec::new(), Compression::default());
    let packed = packer.write_all(bytes).and_then(|()| packer.finish()).map_err(|why| wrong("", why))?;
    if packed.len() > KeptRecord::MOST_BYTES {
        return Err(too_large());
    }
    let known = |name: &str| {
        read::PARAMETERS.contains(&name)
            || asked::PARAMETERS.contains(&name)
            || asked::OF_FORMS.contains(&name)
            || thermometer_offset::FIELDS.contains(&name)
            || question_form::PARAMETERS.contains(&name)
            || name == WINTER
    };
    let answers = pairs.iter().filter(|(name, text)| known(name) && !text.trim().is_empty()).cloned().collect();
    Ok(KeptRecord { packed, answers })
}

/// The bytes as they were sent: a file that came gzipped comes out gzipped.
///
/// # Errors
/// When the packed bytes are damaged, or hold more than `most`.
pub fn unpack(record: &KeptRecord, most: usize) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    GzDecoder::new(record.packed.as_slice()).take(most as u64 + 1).read_to_end(&mut bytes)?;
    if bytes.len() > most { Err(io::Error::other("a kept record holds more than was ever accepted")) } else { Ok(bytes) }
}

/// The answers kept with a record, those asked anew taking their place; a new blank blanks.
pub fn answered(record: &KeptRecord, anew: &[(String, String)]) -> Vec<(String, String)> {
    let kept = record.answers.iter().filter(|(name, _)| !anew.iter().any(|(other, _)| other == name));
    kept.chain(anew.iter().filter(|(name, _)| name != FIELD)).cloned().collect()
}

/// Most bytes of a kept record, unpacked once.
const MOST_BYTES: usize = 24 << 20;

/// A kept record read again, as on the day it was sent. Takes a core for a moment.
///
/// # Errors
/// In words, when the kept bytes can no longer be read.
pub fn reading(site: &NamedSite, kept: &KeptRecord) -> Result<read::Reading, String> {
    let bytes = unpack(kept, MOST_BYTES).map_err(|error| error.to_string())?;
    let options = read::options(&kept.answers, site.made).map_err(|errors| errors.to_string())?;
    let question = asked::question(&kept.answers).map_err(|errors| errors.to_string())?;
    read::from_bytes(&bytes, &options).and_then(|reading| asked::answered(reading, &question)).map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(list: &[(&str, &str)]) -> Vec<(String, String)> {
        list.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
    }

    #[test]
    fn a_record_comes_out_as_it_went_in_with_the_answers_that_matter() {
        let sent = pairs(&[("units", "f"), ("years", " "), (FIELD, "Home"), ("winter", "1990"), ("other", "x")]);
        let kept = pack(b"date,tmin_f\n", &sent).unwrap();
        assert_eq!(unpack(&kept, 12).unwrap(), b"date,tmin_f\n");
        assert_eq!(kept.answers, pairs(&[("units", "f"), ("winter", "1990")]));
        assert_eq!(answered(&kept, &pairs(&[("winter", ""), ("years", "3")])), pairs(&[("units", "f"), ("winter", ""), ("years", "3")]));
    }

    #[test]
    fn what_does_not_pack_into_its_bound_is_refused_and_what_unpacks_beyond_it_too() {
        let mut state = 7_u64;
        let mut noise = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as u8
        };
        let noise: Vec<u8> = (0..=KeptRecord::MOST_BYTES).map(|_| noise()).collect();
        assert!(pack(&noise, &[]).unwrap_err().of(FIELD).unwrap().contains("4 MB"));
        assert!(unpack(&pack(&[b'a'; 100], &[]).unwrap(), 99).is_err());
    }

    #[test]
    fn nobody_keeps_a_record_without_an_account_and_a_blank_name_keeps_nothing() {
        assert_eq!(asked(&pairs(&[(FIELD, "  ")]), None), Ok(None));
        assert!(asked(&pairs(&[(FIELD, "Home")]), None).unwrap_err().of(FIELD).unwrap().contains("signed in"));
        assert!(asked(&pairs(&[(FIELD, &"a".repeat(61))]), None).unwrap_err().of(FIELD).unwrap().contains("60"));
    }
}
