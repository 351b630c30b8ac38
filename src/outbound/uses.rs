//! What may be fetched: the setting `--outbound`.

use std::fmt;
use std::str::FromStr;

/// What the operator allows to go out; nothing by default.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OutboundUses {
    /// Daily records of weather stations from the public archive.
    pub records: bool,
}

/// A word that names no use.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{0}” is nothing that goes out; accepted: none, records")]
pub struct NotAUse(String);

impl FromStr for OutboundUses {
    type Err = NotAUse;

    fn from_str(text: &str) -> Result<Self, NotAUse> {
        let words: Vec<&str> = text.split(',').map(str::trim).filter(|word| !word.is_empty()).collect();
        let mut uses = Self::default();
        for word in &words {
            match *word {
                "records" => uses.records = true,
                "none" if words.len() == 1 => {}
                other => return Err(NotAUse(other.chars().take(40).collect())),
            }
        }
        Ok(uses)
    }
}

impl fmt::Display for OutboundUses {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.records { "records" } else { "none" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_goes_out_unless_it_is_named() {
        assert_eq!("none".parse(), Ok(OutboundUses { records: false }));
        assert_eq!("".parse(), Ok(OutboundUses::default()));
        assert_eq!(" records ,records".parse(), Ok(OutboundUses { records: true }));
        for bad in ["all", "records,none", "none,records", "Records"] {
            assert!(bad.parse::<OutboundUses>().unwrap_err().to_string().contains("none, records"), "{bad}");
        }
        for uses in ["none", "records"] {
            assert_eq!(uses.parse::<OutboundUses>().unwrap().to_string(), uses);
        }
    }
}
