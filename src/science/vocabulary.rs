//! One macro for the small closed vocabularies of the contract: an enum, its code in addresses and JSON, its words on a page.

/// Text that is not in a vocabulary.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{read}” is not a {what}; accepted: {accepted}")]
pub struct NotInVocabulary {
    /// What was expected, in words.
    pub what: &'static str,
    /// The text as read, cut at 40 characters.
    pub read: String,
    /// Every accepted code, comma-separated.
    pub accepted: String,
}

/// Defines an enum with `ALL`, `code()`, `words()`, `Display` (the code), `FromStr` (codes only) and serde by code.
macro_rules! vocabulary {
    (
        $(#[$meta:meta])*
        pub enum $name:ident: $what:literal {
            $( $(#[$vmeta:meta])* $variant:ident = $code:literal, $words:literal, )+
        }
    ) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name { $( $(#[$vmeta])* #[serde(rename = $code)] $variant, )+ }

        impl $name {
            /// Every value, in the order of the forms.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// Code in addresses, commands and JSON.
            pub const fn code(self) -> &'static str {
                match self { $(Self::$variant => $code,)+ }
            }

            /// Words on a page.
            pub const fn words(self) -> &'static str {
                match self { $(Self::$variant => $words,)+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.code())
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::science::vocabulary::NotInVocabulary;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                let wanted = text.trim();
                Self::ALL.iter().copied().find(|v| v.code() == wanted).ok_or_else(|| $crate::science::vocabulary::NotInVocabulary {
                    what: $what,
                    read: text.chars().take(40).collect(),
                    accepted: Self::ALL.iter().map(|v| v.code()).collect::<Vec<_>>().join(", "),
                })
            }
        }
    };
}
pub(crate) use vocabulary;
