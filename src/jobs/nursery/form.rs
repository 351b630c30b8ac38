//! A line of stock as people type it: on the form, in a row of a table, in a line of a list. One reader for all of them.

use crate::input::errors::FieldErrors;
use crate::input::fields::{Fields, decimal};
use crate::records::{PlantForm, Price, StockItem, StockLine};
use crate::science::site::{PotVolume, YearsEstablished};
use crate::units::counted;
use crate::units::customary::LITRES_PER_US_GALLON;

/// Fields of a line, which are the columns of a table too.
pub const FIELDS: [&str; 9] = ["name", "form", "pot_l", "pot_gal", "wood_years", "count", "price", "currency", "note"];

/// A count as people write it.
///
/// # Errors
/// Where it is no whole number, or out of bounds.
pub fn count(typed: &str) -> Result<i64, String> {
    let shown: String = typed.chars().take(40).collect();
    let number = typed.trim().replace(['−', '–'], "-");
    match number.parse::<i64>() {
        Ok(count) if count < 0 => Err(format!("“{shown}”: a count cannot be negative; write 0 where none is left")),
        Ok(count) if count > StockItem::MOST => Err(format!("“{shown}” is more than one line holds, {}", StockItem::MOST)),
        Ok(count) => Ok(count),
        Err(_) => Err(format!("“{shown}” is not a whole number of plants")),
    }
}

/// An amount as people write it, in hundredths.
///
/// # Errors
/// Where it is no amount.
pub fn hundredths(typed: &str) -> Result<i64, String> {
    let shown: String = typed.chars().take(40).collect();
    let number = decimal(typed).map_err(|_| format!("“{shown}” is not an amount; write, for example, 12.50"))?;
    let whole = (number * 100.0).round();
    if number < 0.0 || whole > Price::MOST as f64 {
        return Err(format!("“{shown}” is out of bounds: a price lies between 0 and {}", Price::MOST / 100));
    }
    if (number * 100.0 - whole).abs() > 1e-6 {
        return Err(format!("“{shown}” has more than two decimals"));
    }
    Ok(whole as i64)
}

/// Reads a line of stock: what it is of, and how many.
///
/// # Errors
/// What cannot be used, by field.
pub fn read_line(pairs: &[(String, String)]) -> Result<(StockItem, i64), FieldErrors> {
    let mut fields = Fields::new(pairs, &FIELDS);
    if fields.value("name").is_none() {
        fields.errors.add("name", "", "write which fig it is: a name of the catalogue, or any other");
    }
    let name = fields.line("name", StockItem::LONGEST_NAME);
    let in_l = fields.number("pot_l", PotVolume::new);
    let in_gal = fields.number("pot_gal", |gallons| PotVolume::new(gallons * LITRES_PER_US_GALLON));
    let pot = fields.either(("pot_l", in_l), ("pot_gal", in_gal));
    let form = fields.word::<PlantForm>("form").unwrap_or(if pot.is_some() { PlantForm::Pot } else { PlantForm::RootedCutting });
    if let Some(pot) = pot.filter(|_| form == PlantForm::RootedCutting) {
        let words = "a rooted cutting has no pot size here; choose “in a pot”, or leave the size out";
        fields.errors.add(if in_l.is_some() { "pot_l" } else { "pot_gal" }, &pot.litres().to_string(), words);
    }
    let wood_years = fields.number("wood_years", |years| {
        let most = YearsEstablished::MAX;
        let fits = years.fract() == 0.0 && (0.0..=f64::from(most)).contains(&years);
        if fits { Ok(years as u8) } else { Err(format!("whole years from 0 to {most} are accepted")) }
    });
    let counted = match fields.value("count") {
        None => Some(1),
        Some(typed) => fields.errors.keep("count", typed, count(typed)),
    };
    let currency = fields.line("currency", Price::LONGEST_CURRENCY).unwrap_or_default();
    let price = fields.value("price").and_then(|typed| fields.errors.keep("price", typed, hundredths(typed)));
    let note = fields.line("note", StockItem::LONGEST_NOTE);
    let price = price.map(|hundredths| Price { hundredths, currency });
    match (name, counted) {
        (Some(name), Some(counted)) if fields.errors.is_empty() => Ok((StockItem { name, form, pot, wood_years, price, note }, counted)),
        _ => Err(fields.errors),
    }
}

/// The pairs that [`read_line`] reads a line from.
pub fn pairs_of(item: &StockItem, count: i64) -> Vec<(String, String)> {
    let price = item.price.as_ref();
    [
        ("name", Some(item.name.clone())),
        ("form", Some(item.form.word().to_owned())),
        ("pot_l", item.pot.map(litres)),
        ("wood_years", item.wood_years.map(|years| years.to_string())),
        ("count", Some(count.to_string())),
        ("price", price.map(Price::amount)),
        ("currency", price.map(|price| price.currency.clone()).filter(|currency| !currency.is_empty())),
        ("note", item.note.clone()),
    ]
    .into_iter()
    .filter_map(|(name, value)| Some((name.to_owned(), value?)))
    .collect()
}

/// Litres as they are written, at most two decimals.
pub fn litres(pot: PotVolume) -> String {
    ((pot.litres() * 100.0).round() / 100.0).to_string()
}

/// Form and size in words: `in a pot, 4 L (1.1 gal), 2 years of wood`.
pub fn form_words(item: &StockItem) -> String {
    let pot = item.pot.map(|pot| format!("{} L ({:.1} gal)", litres(pot), pot.litres() / LITRES_PER_US_GALLON));
    let wood = item.wood_years.map(|years| format!("{} of wood", counted(usize::from(years), "year", "years")));
    [Some(item.form.label().to_owned()), pot, wood].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// A line in one: `Celeste, in a pot, 4 L (1.1 gal)`.
pub fn line_words(line: &StockLine) -> String {
    item_words(&line.item)
}

/// What a line is of, in one: `Celeste, in a pot, 4 L (1.1 gal)`.
pub fn item_words(item: &StockItem) -> String {
    format!("{}, {}", item.name, form_words(item))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(of: &[(&str, &str)]) -> Vec<(String, String)> {
        of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    #[test]
    fn a_line_is_read_in_either_unit_and_comes_back_as_it_was() {
        let typed = pairs(&[("name", "Celeste"), ("pot_gal", "1"), ("count", "12"), ("price", "12,50"), ("currency", "EUR")]);
        let (item, count) = read_line(&typed).unwrap();
        assert_eq!((item.form, count, item.price.as_ref().unwrap().hundredths), (PlantForm::Pot, 12, 1250));
        // 1 US gallon is 231 cubic inches of 25.4 mm: 3.785411784 L.
        assert!((item.pot.unwrap().litres() - 231.0 * 2.54_f64.powi(3) / 1000.0).abs() < 1e-9);
        let again = read_line(&pairs_of(&item, count)).unwrap();
        let (same, kind) = (again.0.price.clone(), again.0.kind());
        assert_eq!((again.1, same, kind), (count, item.price.clone(), item.kind()));
        assert_eq!(read_line(&pairs(&[("name", "Alma")])).unwrap().0.form, PlantForm::RootedCutting);
        assert_eq!(form_words(&item), "in a pot, 3.79 L (1.0 gal)");
    }

    #[test]
    fn what_cannot_be_kept_is_named_by_its_field() {
        for (wrong, field) in [
            (&[("count", "-1")][..], "count"),
            (&[("count", "−3")], "count"),
            (&[("count", "1.5")], "count"),
            (&[("count", "999999999")], "count"),
            (&[("price", "-2")], "price"),
            (&[("price", "cheap")], "price"),
            (&[("price", "1.999")], "price"),
            (&[("name", "")], "name"),
            (&[("name", "=1+1")], "name"),
            (&[("form", "bonsai")], "form"),
            (&[("form", "rooted_cutting"), ("pot_l", "4")], "pot_l"),
            (&[("pot_l", "4"), ("pot_gal", "1")], "pot_gal"),
            (&[("pot_l", "0")], "pot_l"),
            (&[("wood_years", "2.5")], "wood_years"),
            (&[("colour", "blue")], "colour"),
        ] {
            let given: Vec<_> =
                [("name", "Celeste")].into_iter().filter(|(k, _)| wrong.iter().all(|(w, _)| w != k)).chain(wrong.iter().copied()).collect();
            let errors = read_line(&pairs(&given)).unwrap_err();
            assert_eq!(errors.iter().map(|e| e.field.as_str()).collect::<Vec<_>>(), [field], "{wrong:?}");
        }
        let negative = read_line(&pairs(&[("name", "Celeste"), ("count", "-1")])).unwrap_err();
        assert!(negative.of("count").unwrap().contains("cannot be negative"));
    }
}
