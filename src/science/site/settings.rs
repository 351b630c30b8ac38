//! Several settings at once: in a town, under trees and against a wall.

use std::fmt;
use std::str::FromStr;

use super::place::Setting;
use crate::vocabulary::UnknownWord;

/// A set of settings that can hold together; never empty: [`Setting::Open`] alone where nothing is near.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Settings(u8);

/// Settings that cannot hold together, or words that are none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SettingsError {
    /// Not a word.
    #[error("{0}; several are parted by commas: town,wall")]
    Word(#[from] UnknownWord),
    /// In the open and not.
    #[error("“open” says that no wall, slope, water or tree is near, and “{other}” says that there is: which is it?")]
    OpenAnd {
        /// The other.
        other: Setting,
    },
    /// Cold air collects in one and drains from the other.
    #[error("cold air collects in a hollow and drains from a slope: which of the two is it where the plant stands?")]
    HollowAndSlope,
    /// A courtyard's walls are counted already.
    #[error("a courtyard counts its walls already: is it a wall with open ground before it, or a courtyard?")]
    WallAndCourtyard,
}

impl Settings {
    /// In the open.
    pub const OPEN: Self = Self(1);

    const fn bit(setting: Setting) -> u8 {
        1 << setting as u8
    }

    /// Settings that hold together; none is the open.
    pub fn new(settings: impl IntoIterator<Item = Setting>) -> Result<Self, SettingsError> {
        let set = Self(settings.into_iter().fold(0, |bits, s| bits | Self::bit(s)));
        if set.0 == 0 {
            return Ok(Self::OPEN);
        }
        if set.has(Setting::Open)
            && let Some(other) = set.iter().find(|s| *s != Setting::Open)
        {
            return Err(SettingsError::OpenAnd { other });
        }
        if set.has(Setting::Hollow) && set.has(Setting::Slope) {
            return Err(SettingsError::HollowAndSlope);
        }
        if set.has(Setting::Wall) && set.has(Setting::Courtyard) {
            return Err(SettingsError::WallAndCourtyard);
        }
        Ok(set)
    }

    /// Whether one is among them.
    pub const fn has(self, setting: Setting) -> bool {
        self.0 & Self::bit(setting) != 0
    }

    /// Nothing near.
    pub fn is_open(self) -> bool {
        self == Self::OPEN
    }

    /// Each of them, in the order of [`Setting::ALL`].
    pub fn iter(self) -> impl Iterator<Item = Setting> {
        Setting::ALL.iter().copied().filter(move |s| self.has(*s))
    }

    /// The only one, where there is one.
    pub fn single(self) -> Option<Setting> {
        let mut all = self.iter();
        all.next().filter(|_| all.next().is_none())
    }

    /// With one more, dropping what it contradicts: open ground, hollow or slope, wall or courtyard.
    #[must_use]
    pub fn with(self, setting: Setting) -> Self {
        let away = match setting {
            Setting::Open => return Self::OPEN,
            Setting::Hollow => Self::bit(Setting::Slope),
            Setting::Slope => Self::bit(Setting::Hollow),
            Setting::Wall => Self::bit(Setting::Courtyard),
            Setting::Courtyard => Self::bit(Setting::Wall),
            Setting::Town | Setting::Water | Setting::Trees => 0,
        };
        Self((self.0 & !away & !Self::bit(Setting::Open)) | Self::bit(setting))
    }

    /// Words a person reads: "in a town, against a warm wall".
    pub fn label(self) -> String {
        self.iter().map(Setting::label).collect::<Vec<_>>().join(", ")
    }
}

impl From<Setting> for Settings {
    fn from(setting: Setting) -> Self {
        Self(Self::bit(setting))
    }
}

/// Words parted by commas, as in addresses and commands.
impl fmt::Display for Settings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.iter().map(Setting::word).collect::<Vec<_>>().join(","))
    }
}

impl FromStr for Settings {
    type Err = SettingsError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let words: Vec<Setting> = text.split(',').map(str::parse).collect::<Result<_, UnknownWord>>()?;
        Self::new(words)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_contradicts_itself_is_asked_and_not_added_up() {
        assert_eq!("hollow,slope".parse::<Settings>(), Err(SettingsError::HollowAndSlope));
        assert_eq!("wall,courtyard".parse::<Settings>(), Err(SettingsError::WallAndCourtyard));
        assert_eq!("town,open".parse::<Settings>(), Err(SettingsError::OpenAnd { other: Setting::Town }));
        let said = "town,moon".parse::<Settings>().unwrap_err().to_string();
        assert!(said.contains("moon") && said.contains("courtyard") && said.contains("commas"), "{said}");
        assert!("town,,wall".parse::<Settings>().is_err());
    }

    #[test]
    fn one_word_is_what_it_always_was() {
        for &setting in Setting::ALL {
            let read: Settings = setting.word().parse().unwrap();
            assert_eq!((read.single(), read.to_string()), (Some(setting), setting.word().to_owned()));
        }
        assert_eq!(" town , wall,town".parse::<Settings>().unwrap().to_string(), "wall,town");
    }

    proptest! {
        #[test]
        fn adding_one_keeps_a_set_that_holds_together(bits in prop::collection::vec(0..8usize, 0..8), one in 0..8usize) {
            let all = Setting::ALL;
            let set = bits.iter().fold(Settings::OPEN, |set, &i| set.with(all[i])).with(all[one]);
            prop_assert!(set.has(all[one]));
            prop_assert_eq!(Settings::new(set.iter()), Ok(set));
            prop_assert_eq!(set.to_string().parse::<Settings>(), Ok(set));
        }
    }
}
