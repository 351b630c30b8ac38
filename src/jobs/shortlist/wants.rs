//! What a fig is wanted for besides bearing: filters by what the catalogue knows, and a second wish for the three to plant together.

use std::str::FromStr;

use crate::catalogue::Cultivar;
use crate::catalogue::skin::SkinGroup;
use crate::input::fields::Fields;
use crate::science::cultivar::{CropHabit, FruitKind, RipeningSeason};
use crate::vocabulary::{UnknownWord, vocabulary};

/// Parameters of the filters, in the order of the form.
pub const FILTERS: [&str; 5] = ["skin", "ripens", "early_crop", "regrowth", "kind"];
/// Parameter of the second wish.
pub const WISH: &str = "wish";
/// The word that asks for what nobody knows.
const UNKNOWN: &str = "unknown";

vocabulary! {
    /// When the first figs of a kind ripen among figs grown side by side, in three groups; a kind between two belongs to both.
    pub enum Ripens: "ripening" {
        /// Early, early to mid.
        Early = "early" => "early",
        /// In the middle, or towards it.
        Mid = "mid" => "in the middle",
        /// Mid to late, late.
        Late = "late" => "late",
    }
}

vocabulary! {
    /// Yes or no.
    pub enum YesNo: "answer" {
        /// Yes.
        Yes = "yes" => "yes",
        /// No.
        No = "no" => "no",
    }
}

vocabulary! {
    /// What three figs to plant together should be, beside bearing.
    pub enum Wish: "wish" {
        /// Kinds that ripen early are chosen before surer ones.
        Early = "early" => "early before sure",
        /// One of the three light of skin, one dark.
        LightAndDark = "light_and_dark" => "one light, one dark",
    }
}

/// A filter: a word, or what nobody knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sought<T> {
    /// Known to be this.
    Known(T),
    /// Not known.
    Unknown,
}

/// A word that no filter of its kind takes.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}, unknown")]
pub struct NotSought(UnknownWord);

impl<T: FromStr<Err = UnknownWord>> FromStr for Sought<T> {
    type Err = NotSought;

    fn from_str(word: &str) -> Result<Self, NotSought> {
        if word == UNKNOWN { Ok(Self::Unknown) } else { word.parse().map(Self::Known).map_err(NotSought) }
    }
}

impl<T> Sought<T> {
    /// Whether what is known of a fig is what is sought; `matches` compares a known value.
    fn fits<V>(&self, known: Option<V>, matches: impl Fn(&T, V) -> bool) -> bool {
        match (self, known) {
            (Self::Known(wanted), Some(value)) => matches(wanted, value),
            (Self::Unknown, None) => true,
            (Self::Known(_), None) | (Self::Unknown, Some(_)) => false,
        }
    }
}

/// Filters, each left out where anything will do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Wants {
    /// Colour of the ripe skin.
    pub skin: Option<Sought<SkinGroup>>,
    /// Season of ripening.
    pub ripens: Option<Sought<Ripens>>,
    /// Whether it bears an early crop.
    pub early_crop: Option<Sought<YesNo>>,
    /// Whether it bears on shoots from the roots.
    pub regrowth: Option<Sought<YesNo>>,
    /// Kind of fruit.
    pub kind: Option<Sought<FruitKind>>,
    /// The second wish.
    pub wish: Option<Wish>,
}

impl Ripens {
    /// Whether a season belongs to the group.
    pub fn holds(self, season: RipeningSeason) -> bool {
        use RipeningSeason as R;
        match self {
            Self::Early => matches!(season, R::Early | R::EarlyToMid),
            Self::Mid => matches!(season, R::EarlyToMid | R::Mid | R::MidToLate),
            Self::Late => matches!(season, R::MidToLate | R::Late),
        }
    }
}

impl Wants {
    /// Reads the filters and the wish.
    pub fn read(fields: &mut Fields<'_>) -> Self {
        Self {
            skin: fields.word("skin"),
            ripens: fields.word("ripens"),
            early_crop: fields.word("early_crop"),
            regrowth: fields.word("regrowth"),
            kind: fields.word("kind"),
            wish: fields.word(WISH),
        }
    }

    /// Names and words of those given, as an address takes them.
    pub fn pairs(&self) -> Vec<(&'static str, &'static str)> {
        fn word<T: Copy>(of: Option<Sought<T>>, known: impl Fn(T) -> &'static str) -> Option<&'static str> {
            of.map(|sought| match sought {
                Sought::Known(value) => known(value),
                Sought::Unknown => UNKNOWN,
            })
        }
        let [skin, ripens, early_crop, regrowth, kind] = FILTERS;
        [
            (skin, word(self.skin, SkinGroup::word)),
            (ripens, word(self.ripens, Ripens::word)),
            (early_crop, word(self.early_crop, YesNo::word)),
            (regrowth, word(self.regrowth, YesNo::word)),
            (kind, word(self.kind, FruitKind::word)),
            (WISH, self.wish.map(Wish::word)),
        ]
        .into_iter()
        .filter_map(|(name, word)| Some((name, word?)))
        .collect()
    }

    /// Whether a fig passes every filter.
    pub fn fit(&self, fig: &Cultivar) -> bool {
        let says = |answer: &YesNo, yes: bool| (*answer == YesNo::Yes) == yes;
        self.skin.is_none_or(|sought| sought.fits(fig.skin(), |a, b| *a == b))
            && self.ripens.is_none_or(|sought| sought.fits(fig.ripening.known(), |a, b| a.holds(b)))
            && self.early_crop.is_none_or(|sought| sought.fits(fig.crop_habit.known(), |a, b| says(a, b != CropHabit::Main)))
            && self.regrowth.is_none_or(|sought| sought.fits(fig.fruits_on_regrowth.known(), says))
            && self.kind.is_none_or(|sought| sought.fits(fig.fruit_kind.known(), |a, b| *a == b))
    }

    /// The filters in words: `light of skin, early`; `None` without any.
    pub fn words(&self) -> Option<String> {
        fn told<T: Copy>(of: Option<Sought<T>>, known: impl Fn(T) -> String, unknown: &str) -> Option<String> {
            of.map(|sought| match sought {
                Sought::Known(value) => known(value),
                Sought::Unknown => format!("{unknown} not known"),
            })
        }
        let yes = |answer: YesNo, yes: &str, no: &str| if answer == YesNo::Yes { yes.to_owned() } else { no.to_owned() };
        let all = [
            told(self.skin, |skin| format!("skin {}", skin.label()), "skin"),
            told(self.ripens, |when| format!("ripening {}", when.label()), "ripening"),
            told(self.early_crop, |a| yes(a, "with an early crop", "without an early crop"), "early crop"),
            told(
                self.regrowth,
                |a| yes(a, "bearing on shoots from the roots", "not bearing on shoots from the roots"),
                "bearing on regrowth",
            ),
            told(self.kind, |kind| kind.label().to_owned(), "kind of fruit"),
        ];
        let told: Vec<String> = all.into_iter().flatten().collect();
        (!told.is_empty()).then(|| told.join("; "))
    }
}

/// What the catalogue knows of the eating and looks of a fig, in one line; what it does not know is said so.
pub fn looks(fig: &Cultivar) -> String {
    let skin = fig.skin_colour.value.as_deref().map_or_else(|| "Skin not known".to_owned(), |colour| format!("Skin {colour}"));
    let ripens = fig.ripening.known().map_or_else(|| "ripening not known".to_owned(), |when| format!("ripens {}", when.label()));
    let crop = match fig.crop_habit.known() {
        Some(CropHabit::Breba) => "early crop alone",
        Some(CropHabit::Main) => "main crop alone",
        Some(CropHabit::Both) => "early and main crop",
        None => "crops not known",
    };
    let kind = match fig.fruit_kind.known() {
        Some(FruitKind::Common) => "common fig",
        Some(FruitKind::SanPedro) => "San Pedro kind",
        Some(FruitKind::Smyrna) => "Smyrna kind",
        Some(FruitKind::Caprifig) => "caprifig",
        None => "kind not known",
    };
    format!("{skin}; {ripens}; {crop}; {kind}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::shortlist::question::Question;
    use crate::model::snapshot::Snapshot;

    fn question(query: &[(&str, &str)]) -> Question {
        let pairs: Vec<(String, String)> = query.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        Question::parse(&pairs, true).unwrap()
    }

    #[test]
    fn a_filter_keeps_what_is_known_to_fit_and_unknown_asks_for_the_rest() {
        let snapshot = Snapshot::from_seed().unwrap();
        let ranked = |filter: &str, word: &str| {
            let answer = snapshot.recommend(&question(&[("zone", "8a"), ("rank_by", "wood"), (filter, word)]));
            assert_eq!(answer.ranked, answer.rows.len());
            answer.rows.iter().map(|r| r.cultivar.slug.to_string()).collect::<std::collections::BTreeSet<_>>()
        };
        let all = snapshot.recommend(&question(&[("zone", "8a"), ("rank_by", "wood")])).ranked;
        let parts = ["light", "brown", "dark", "mixed", "unknown"].map(|word| ranked("skin", word));
        assert_eq!(parts.iter().map(std::collections::BTreeSet::len).sum::<usize>(), all, "each fig has one group of skin, or none known");
        assert!(parts.iter().all(|part| !part.is_empty()));
        assert!(ranked("ripens", "early").contains("celeste") && !ranked("ripens", "late").contains("celeste"));
    }

    #[test]
    fn the_three_respect_the_wish() {
        let snapshot = Snapshot::from_seed().unwrap();
        let three = |wish: &str| snapshot.recommend(&question(&[("zone", "7b"), ("limit", "3"), ("wish", wish)])).three.unwrap();
        let early = three("early");
        assert!(early.figs.iter().all(|r| r.cultivar.ripening.known().is_some_and(|when| Ripens::Early.holds(when))));
        let both = three("light_and_dark");
        let skins: Vec<_> = both.figs.iter().map(|r| r.cultivar.skin()).collect();
        assert!(skins.contains(&Some(SkinGroup::Light)) && skins.contains(&Some(SkinGroup::Dark)), "{skins:?}");
        let plain = snapshot.recommend(&question(&[("zone", "7b"), ("limit", "3")])).three.unwrap();
        assert!(plain.one_bears >= early.one_bears - 1e-9 && plain.one_bears >= both.one_bears - 1e-9);
    }
}
