//! Closed vocabularies: enums whose words are part of the contract of addresses, files and tables.
//!
//! Each word is written once; reading gives an error that names what was read and every word accepted.

/// Text that is not a word of a closed vocabulary.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{read}” is not a {what}; accepted: {accepted}")]
pub struct UnknownWord {
    /// What was being read, in words: "kind of fruit", "protection" …
    pub what: &'static str,
    /// The text as read, at most 40 characters of it.
    pub read: String,
    /// The accepted words, parted by commas.
    pub accepted: String,
}

/// What every closed vocabulary offers, for code that takes any of them.
pub trait Vocabulary: Copy + PartialEq + 'static {
    /// Every word, in order.
    fn all() -> &'static [Self];
    /// The word used in addresses, files and tables.
    fn as_word(self) -> &'static str;
    /// The words a person reads.
    fn as_label(self) -> &'static str;
}

/// Defines an enum together with its words and labels: `ALL`, `WHAT`, `word()`, `label()`, `FromStr`, `Display` and serde by word.
///
/// The order of the variants is the order shown to people and the order of `Ord`.
#[doc(hidden)]
#[macro_export]
macro_rules! define_vocabulary {
    // The ordinary form: `ALL` is a slice.
    ($(#[$meta:meta])* $vis:vis enum $name:ident: $what:literal { $($(#[$doc:meta])* $variant:ident = $word:literal => $label:literal),+ $(,)? }) => {
        $crate::vocabulary::vocabulary! { @all [&'static [$name]; &[$($name::$variant),+]; $name::ALL]
            $(#[$meta])* $vis enum $name: $what { $($(#[$doc])* $variant = $word => $label),+ } }
    };
    // With a count: `ALL` is an array of that many.
    ($(#[$meta:meta])* $vis:vis enum $name:ident: $what:literal, $count:literal words { $($(#[$doc:meta])* $variant:ident = $word:literal => $label:literal),+ $(,)? }) => {
        $crate::vocabulary::vocabulary! { @all [[$name; $count]; [$($name::$variant),+]; &$name::ALL]
            $(#[$meta])* $vis enum $name: $what { $($(#[$doc])* $variant = $word => $label),+ } }
    };
    (@all [$all:ty; $values:expr; $slice:expr] $(#[$meta:meta])* $vis:vis enum $name:ident: $what:literal { $($(#[$doc:meta])* $variant:ident = $word:literal => $label:literal),+ }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        $vis enum $name { $($(#[$doc])* $variant),+ }

        impl $name {
            /// Every word, in order.
            pub const ALL: $all = $values;
            /// What the vocabulary is of, in words.
            pub const WHAT: &'static str = $what;

            /// The word used in addresses, files and tables.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }

            /// The words a person reads.
            pub const fn label(self) -> &'static str {
                match self { $(Self::$variant => $label),+ }
            }
        }

        impl $crate::vocabulary::Vocabulary for $name {
            fn all() -> &'static [Self] {
                $slice
            }

            fn as_word(self) -> &'static str {
                self.word()
            }

            fn as_label(self) -> &'static str {
                self.label()
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::vocabulary::UnknownWord;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                match text.trim() {
                    $($word => Ok(Self::$variant),)+
                    other => Err($crate::vocabulary::UnknownWord {
                        what: $what,
                        read: other.chars().take(40).collect(),
                        accepted: [$($word),+].join(", "),
                    }),
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.word())
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = <std::borrow::Cow<'de, str>>::deserialize(deserializer)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }
    };
}

pub use define_vocabulary as vocabulary;

#[cfg(test)]
mod tests {
    use super::vocabulary;

    vocabulary! {
        /// For the test.
        pub enum Shade: "shade" {
            /// Little light.
            Dark = "dark" => "dark shade",
            /// Much light.
            Pale = "pale" => "pale shade",
        }
    }

    #[test]
    fn every_word_reads_back_as_itself() {
        for shade in Shade::ALL {
            assert_eq!(shade.word().parse::<Shade>().as_ref(), Ok(shade));
            let json = serde_json::to_string(shade).unwrap();
            assert_eq!(serde_json::from_str::<Shade>(&json).unwrap(), *shade);
        }
    }

    #[test]
    fn another_word_is_refused_with_the_ones_accepted() {
        let error = "grey".parse::<Shade>().unwrap_err();
        assert_eq!((Shade::WHAT, Shade::Dark.label()), ("shade", "dark shade"));
        assert_eq!(error.to_string(), "“grey” is not a shade; accepted: dark, pale");
    }
}
