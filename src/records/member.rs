//! Members: handle, role, what they may do.

use std::collections::BTreeSet;
use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use unicode_security::{GeneralSecurityProfile, MixedScript, skeleton};
use uuid::Uuid;

use super::text::{self, BadText};
use super::words::Credit;
use crate::catalogue::names;
use crate::vocabulary::vocabulary;

/// A member's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MemberId(pub Uuid);

impl fmt::Display for MemberId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

vocabulary! {
    /// What a member may do; each role may do what those before it may.
    pub enum Role: "role" {
        /// Reports and keeps a garden.
        Member = "member" => "member",
        /// A member who sells or hands out plants.
        Nursery = "nursery" => "nursery",
        /// Judges reports of others.
        Steward = "steward" => "steward",
        /// Gives roles.
        Administrator = "administrator" => "administrator",
    }
}

/// The name a member signs in and is shown by: 3 to 30 letters, digits, `-`, `_` or single spaces.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Handle(String);

/// Why a text cannot be a handle.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadHandle {
    /// The text itself.
    #[error(transparent)]
    Text(#[from] BadText),
    /// Too short or too long.
    #[error("a name here has {least} to {most} characters", least = Handle::LENGTH.start(), most = Handle::LENGTH.end())]
    Length,
    /// A sign that is not accepted.
    #[error("“{sign}” is not accepted in a name here; letters, digits, spaces, - and _ are")]
    Sign {
        /// The sign.
        sign: char,
    },
    /// Letters of more than one script, which could pass for another's name.
    #[error("letters of different scripts in one name are not accepted")]
    MixedScripts,
    /// Kept for the house.
    #[error("this name is kept for the service itself; please choose another")]
    Reserved,
}

/// Folded names that would pass for the service.
const RESERVED: [&str; 4] = ["moderator", "support", "a member", "a former member"];
/// Words that make any name pass for the service's own, wherever they stand in it.
const RESERVED_ANYWHERE: [&str; 3] = ["admin", "steward", "winterfig"];

impl Handle {
    /// Characters accepted.
    pub const LENGTH: std::ops::RangeInclusive<usize> = 3..=30;

    /// A handle as typed.
    pub fn new(typed: &str) -> Result<Self, BadHandle> {
        let name = text::line(typed, *Self::LENGTH.end())?.ok_or(BadHandle::Length)?;
        if !Self::LENGTH.contains(&name.chars().count()) {
            return Err(BadHandle::Length);
        }
        if let Some(sign) = name.chars().find(|c| !c.is_alphanumeric() && !matches!(c, ' ' | '-' | '_')) {
            return Err(BadHandle::Sign { sign });
        }
        // Letters that look like nothing or are used in no living language (UTS 39, identifier status), such as the Hangul fillers.
        if let Some(sign) = name.chars().find(|c| c.is_alphanumeric() && !c.identifier_allowed()) {
            return Err(BadHandle::Sign { sign });
        }
        if !name.as_str().is_single_script() {
            return Err(BadHandle::MixedScripts);
        }
        let handle = Self(name);
        if RESERVED.contains(&handle.folded().as_str()) || handle.folded().is_empty() || handle.forms().iter().any(|form| is_official(form))
        {
            return Err(BadHandle::Reserved);
        }
        Ok(handle)
    }

    /// A handle as kept.
    pub fn stored(name: String) -> Self {
        Self(name)
    }

    /// As shown.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Folded for comparison: two handles that fold alike are one. Digits that pass for letters are taken for them.
    pub fn folded(&self) -> String {
        names::fold(&self.0)
            .chars()
            .map(|c| match c {
                '0' => 'o',
                '1' => 'l',
                other => other,
            })
            .collect()
    }

    /// Every form under which another name would pass for this one: as folded, and as it looks in its own letters and in small ones, for
    /// capitals have other lookalikes. Two names that share one are one.
    pub fn forms(&self) -> BTreeSet<String> {
        [self.folded(), form(&self.0), form(&self.0.to_lowercase())].into()
    }
}

/// A text as it looks: its skeleton (UTS 39, confusable detection), folded like any name.
fn form(text: &str) -> String {
    names::fold(&skeleton(text).collect::<String>())
}

/// Whether a form reads as one of the words that are the service's own, spaces and the likeness of l and i set aside.
fn is_official(form_of_name: &str) -> bool {
    let read = |text: &str| text.replace(' ', "").replace('l', "i");
    RESERVED_ANYWHERE.iter().any(|word| read(form_of_name).contains(&read(&form(word))))
}

impl fmt::Display for Handle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// A member as others and the house see them; the passphrase is elsewhere.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Id.
    pub id: MemberId,
    /// Handle.
    pub handle: Handle,
    /// E-mail, where given; unverified.
    pub email: Option<String>,
    /// Role.
    pub role: Role,
    /// How to be named beside published records.
    pub credit: Credit,
    /// When they joined.
    pub joined: Timestamp,
    /// Since when they are suspended.
    pub suspended: Option<Timestamp>,
}

impl Member {
    /// Whether they may judge reports (never their own: `review` sees to that).
    pub const fn may_review(&self) -> bool {
        matches!(self.role, Role::Steward | Role::Administrator) && self.suspended.is_none()
    }

    /// Whether they may start a nursery.
    pub const fn may_start_nursery(&self) -> bool {
        !matches!(self.role, Role::Member) && self.suspended.is_none()
    }

    /// Whether they keep the office: members, invitations, the society's name.
    pub const fn may_administer(&self) -> bool {
        matches!(self.role, Role::Administrator) && self.suspended.is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // INP-07: names that pass for another's or the house's.
    #[test]
    fn handles_that_look_alike_fold_alike_and_reserved_ones_are_refused() {
        assert_eq!(Handle::new("Fíg Grower").unwrap().folded(), Handle::new("fig-grower").unwrap().folded());
        assert_eq!(Handle::new("f1g grower").unwrap().folded(), Handle::new("flg grower").unwrap().folded());
        for official in
            ["Admin", "the Stewards", "fig admin", "w i n t e r f i g", "Winterfig team", "wlnterflg", "administrator 2", "st3ward"]
        {
            let refused = Handle::new(official) == Err(BadHandle::Reserved);
            assert_eq!(refused, official != "st3ward", "{official}: digits that look like no letter are not read as one");
        }
        assert_eq!(Handle::new("4dmin_adm\u{0456}n"), Err(BadHandle::MixedScripts));
        for bad in ["ab", "a@b.example", "<b>fig</b>", "x\u{202E}y z", &"x".repeat(31)] {
            assert!(Handle::new(bad).is_err(), "{bad}");
        }
        // Hangul fillers and the blank of braille: letters and a sign that look like nothing.
        for bad in ["fig\u{3164}grower", "\u{115F}\u{1160}\u{3164}", "fig\u{2800}grower", "\u{FFA0}\u{FFA0}\u{FFA0}"] {
            assert!(Handle::new(bad).is_err(), "{bad:?}");
        }
        // Greek with Cyrillic.
        assert_eq!(Handle::new("\u{3B1}\u{3B2}\u{431}\u{432}"), Err(BadHandle::MixedScripts));
        assert!(Handle::new("Ιωάννης").is_ok() && Handle::new("Смоковница").is_ok() && Handle::new("無花果 園").is_ok());
    }

    // UTS 39, version 16, confusables.txt: rn for m, capital I for l, Cyrillic letters for Latin ones.
    #[test]
    fn names_that_look_alike_share_a_form() {
        let share = |one: &str, other: &str| !Handle::stored(one.to_owned()).forms().is_disjoint(&Handle::stored(other.to_owned()).forms());
        for (one, other) in [
            ("Illex", "lllex"),
            ("mission", "rnission"),
            ("сосо", "coco"),
            ("Fíg Grower", "fig-grower"),
            ("f1g grower", "flg grower"),
            ("0live", "Olive"),
        ] {
            assert!(share(one, other), "{one} {other}");
        }
        for (one, other) in [("fig grower", "fig growers"), ("celeste", "alma"), ("moss", "mass")] {
            assert!(!share(one, other), "{one} {other}");
        }
    }
}
