//! What may go out: the setting `--outbound`.

use std::fmt;
use std::str::FromStr;

/// What the operator allows to go out; nothing by default.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OutboundUses {
    /// Daily records of weather stations from the public archive.
    pub records: bool,
    /// Forecasts of the weather services.
    pub forecasts: bool,
    /// Mail by the relay: named here, the service does not start without one. A relay that is set sends mail whether it is named or not.
    pub mail: bool,
}

/// A word that names no use.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{0}” is nothing that goes out; accepted: none, or any of records, forecasts, mail, separated by commas")]
pub struct NotAUse(String);

impl FromStr for OutboundUses {
    type Err = NotAUse;

    fn from_str(text: &str) -> Result<Self, NotAUse> {
        let words: Vec<&str> = text.split(',').map(str::trim).filter(|word| !word.is_empty()).collect();
        let mut uses = Self::default();
        for word in &words {
            match *word {
                "records" => uses.records = true,
                "forecasts" => uses.forecasts = true,
                "mail" => uses.mail = true,
                "none" if words.len() == 1 => {}
                other => return Err(NotAUse(other.chars().take(40).collect())),
            }
        }
        Ok(uses)
    }
}

impl fmt::Display for OutboundUses {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let named = [(self.records, "records"), (self.forecasts, "forecasts"), (self.mail, "mail")];
        let named: Vec<&str> = named.iter().filter(|(on, _)| *on).map(|(_, word)| *word).collect();
        f.write_str(&if named.is_empty() { "none".to_owned() } else { named.join(",") })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_goes_out_unless_it_is_named() {
        assert_eq!("none".parse(), Ok(OutboundUses::default()));
        assert_eq!("".parse(), Ok(OutboundUses::default()));
        assert_eq!(" records ,records".parse(), Ok(OutboundUses { records: true, ..OutboundUses::default() }));
        assert_eq!("forecasts,mail".parse(), Ok(OutboundUses { forecasts: true, mail: true, records: false }));
        for bad in ["all", "records,none", "none,forecasts", "Records"] {
            assert!(bad.parse::<OutboundUses>().unwrap_err().to_string().contains("records, forecasts, mail"), "{bad}");
        }
        for uses in ["none", "records", "records,forecasts,mail", "forecasts"] {
            assert_eq!(uses.parse::<OutboundUses>().unwrap().to_string(), uses);
        }
    }
}
