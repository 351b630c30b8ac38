//! Stock as programs send and are given it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::records::{Price, StockLine};
use crate::science::site::PotVolume;

/// The stock of the token's nursery.
#[derive(Debug, Serialize, ToSchema)]
pub struct StockJson {
    /// Name of the nursery.
    pub nursery: String,
    /// Its lines, by name.
    pub lines: Vec<StockLineJson>,
}

/// A line of stock.
#[derive(Debug, Serialize, ToSchema)]
pub struct StockLineJson {
    /// Id.
    pub id: String,
    /// Name as written.
    pub name: String,
    /// The fig of the catalogue, where the name is one of its names.
    pub cultivar: Option<String>,
    /// `rooted_cutting` or `pot`.
    pub form: &'static str,
    /// Volume of the pot, L.
    pub pot_l: Option<f64>,
    /// Years of standing wood.
    pub wood_years: Option<u8>,
    /// How many.
    pub count: i64,
    /// Price of one, as a decimal: `12.50`.
    pub price: Option<String>,
    /// Its currency.
    pub currency: Option<String>,
    /// The nursery's note.
    pub note: Option<String>,
    /// Which state of the line this is; a sale names it.
    pub version: i64,
    /// When it was last changed.
    pub changed: String,
}

impl StockLineJson {
    /// Of a line and the slug that its name stands for.
    pub fn new(line: &StockLine, cultivar: Option<String>) -> Self {
        let price = line.item.price.as_ref();
        Self {
            id: line.id.to_string(),
            name: line.item.name.clone(),
            cultivar,
            form: line.item.form.word(),
            pot_l: line.item.pot.map(PotVolume::litres),
            wood_years: line.item.wood_years,
            count: line.count,
            price: price.map(Price::amount),
            currency: price.map(|price| price.currency.clone()).filter(|currency| !currency.is_empty()),
            note: line.item.note.clone(),
            version: line.version,
            changed: line.changed.to_string(),
        }
    }
}

/// A sale.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SaleJson {
    /// Id of the line.
    pub line: String,
    /// The version of the line that the seller saw.
    pub version: i64,
    /// How many; one where it is left out.
    #[serde(default = "one")]
    pub count: i64,
}

const fn one() -> i64 {
    1
}

/// What came of a sale.
#[derive(Debug, Serialize, ToSchema)]
pub struct SoldJson {
    /// What takes it back on the page.
    pub deed: String,
    /// The line as it stands now; `null` where somebody removed it since.
    pub line: Option<StockLineJson>,
}
