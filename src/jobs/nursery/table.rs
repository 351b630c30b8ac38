//! Stock as a table: CSV out, and in as CSV or as a plain list with a plant a line. All rows are taken, or none.

use std::collections::BTreeMap;

use crate::input::pasted::{self, BadTable, Pasted, RefusedRow, shown};
use crate::jobs::nursery::form::{self, FIELDS, pairs_of, read_line};
use crate::records::{Nursery, StockItem, StockLine, text};

/// Columns that are written, in this order; `pot_gal` is read beside them.
const WRITTEN: [&str; 8] = ["name", "form", "pot_l", "wood_years", "count", "price", "currency", "note"];

/// A row: its line in the file, what it is of and how many.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Line of the file.
    pub line: u64,
    /// What it is of.
    pub item: StockItem,
    /// How many.
    pub count: i64,
}

/// Reads a CSV table with a header, or a list.
///
/// # Errors
/// Every row that cannot be used, with its line; a kind that stands in two rows names both.
pub fn read(bytes: &[u8]) -> Result<Vec<Row>, BadTable> {
    let (read, mut refused) = match pasted::open(bytes, &FIELDS, Nursery::MOST_LINES)? {
        Pasted::Table(rows) => of_table(&rows),
        Pasted::List(lines) => of_list(&lines),
    };
    let mut rows: Vec<Row> = Vec::with_capacity(read.len());
    let mut lines: BTreeMap<String, u64> = BTreeMap::new();
    for row in read {
        if let Some(earlier) = lines.get(&row.item.kind()) {
            let what = form::item_words(&row.item);
            let why = format!("“{what}” stands in line {earlier} already, in the same form and size; add the two together");
            refused.push(RefusedRow { line: row.line, why });
        } else {
            lines.insert(row.item.kind(), row.line);
            rows.push(row);
        }
    }
    refused.sort_by_key(|row| row.line);
    match (rows.len(), refused.is_empty()) {
        (0, true) => Err(BadTable::Empty),
        (many, true) if many > Nursery::MOST_LINES => Err(BadTable::TooLarge { most_rows: Nursery::MOST_LINES }),
        (_, true) => Ok(rows),
        (_, false) => Err(BadTable::Rows(refused)),
    }
}

type ReadRows = (Vec<Row>, Vec<RefusedRow>);

fn take(rows: &mut ReadRows, line: u64, pairs: &[(String, String)]) {
    match read_line(pairs) {
        Ok((item, count)) => rows.0.push(Row { line, item, count }),
        Err(errors) => {
            let why = errors.iter().map(|error| format!("{}: {}", error.field, error.message)).collect::<Vec<_>>().join("; ");
            rows.1.push(RefusedRow { line, why });
        }
    }
}

fn of_table(read: &[(u64, pasted::Pairs)]) -> ReadRows {
    let mut rows = ReadRows::default();
    read.iter().for_each(|(line, pairs)| take(&mut rows, *line, pairs));
    rows
}

/// A line of a list: the name, then in any order how many, the size and the price, parted by commas, semicolons or tabs:
/// `Celeste, 12, 4 l, 15 EUR`.
fn of_list(lines: &[(u64, &str)]) -> ReadRows {
    let mut rows = ReadRows::default();
    for (nth, line) in lines {
        let mut parts = pasted::parts(line);
        let mut pairs = vec![("name".to_owned(), parts.next().unwrap_or_default().to_owned())];
        let mut not_read = None;
        for part in parts {
            match cells_of(part) {
                Some(cells) => pairs.extend(cells.into_iter().map(|(name, value)| (name.to_owned(), value))),
                None => not_read = Some(shown(part)),
            }
        }
        match not_read {
            Some(part) => {
                let why = format!(
                    "“{part}” is not read; after the name come a count, a size such as 4 l or 1 gal, a price such as 15 EUR, or “cutting”"
                );
                rows.1.push(RefusedRow { line: *nth, why });
            }
            None => take(&mut rows, *nth, &pairs),
        }
    }
    rows
}

/// What a part of a list's line says.
fn cells_of(part: &str) -> Option<Vec<(&'static str, String)>> {
    match part.to_lowercase().as_str() {
        "cutting" | "cuttings" | "rooted cutting" | "rooted cuttings" => return Some(vec![("form", "rooted_cutting".to_owned())]),
        "pot" | "in a pot" => return Some(vec![("form", "pot".to_owned())]),
        _ => {}
    }
    let (number, unit) = pasted::number_with_unit(part)?;
    Some(match unit.to_lowercase().as_str() {
        "" => vec![("count", number)],
        unit if pasted::is_litres(unit) => vec![("pot_l", number)],
        unit if pasted::is_gallons(unit) => vec![("pot_gal", number)],
        "year" | "years" | "years of wood" | "year of wood" => vec![("wood_years", number)],
        _ => vec![("price", number), ("currency", unit.to_owned())],
    })
}

/// The whole stock as a table.
///
/// # Errors
/// None in memory; the library's type says there may be.
pub fn write(stock: &[StockLine]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(WRITTEN)?;
    for line in stock {
        let pairs = pairs_of(&line.item, line.count);
        let cell = |name: &&str| pairs.iter().find(|(key, _)| key == name).map(|(_, value)| text::exported(value)).unwrap_or_default();
        writer.write_record(WRITTEN.iter().map(cell))?;
    }
    writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use uuid::Uuid;

    use super::*;
    use crate::records::{PlantForm, StockLineId};

    #[test]
    fn a_table_written_reads_as_what_was_written_whatever_parts_its_cells() {
        let rows = read(b"Name;pot_l;count;price;currency\nCeleste;4;12;12,50;EUR\n\nAlma;;3;;\n").unwrap();
        assert_eq!(rows.iter().map(|row| (row.item.name.as_str(), row.count)).collect::<Vec<_>>(), [("Celeste", 12), ("Alma", 3)]);
        assert_eq!((rows[0].item.form, rows[1].item.form), (PlantForm::Pot, PlantForm::RootedCutting));
        let stock: Vec<StockLine> = rows
            .iter()
            .map(|row| StockLine {
                id: StockLineId(Uuid::nil()),
                item: row.item.clone(),
                count: row.count,
                version: 1,
                changed: Timestamp::UNIX_EPOCH,
            })
            .collect();
        let again = read(&write(&stock).unwrap()).unwrap();
        assert_eq!(
            again.iter().map(|row| (&row.item, row.count)).collect::<Vec<_>>(),
            rows.iter().map(|row| (&row.item, row.count)).collect::<Vec<_>>()
        );
        assert!(read(&write(&[]).unwrap()).is_err(), "a table with nothing in it");
    }

    #[test]
    fn a_list_has_a_plant_a_line() {
        let rows = read("Celeste, 12, 4 l, 15 EUR\nBrown Turkey\nSeedling 7\t3\tcutting\nAlma; 2; 1 gal; 2 years\n".as_bytes()).unwrap();
        let told: Vec<_> = rows.iter().map(|row| (row.line, form::item_words(&row.item), row.count)).collect();
        assert_eq!(told[0], (1, "Celeste, in a pot, 4 L (1.1 gal)".to_owned(), 12));
        assert_eq!(told[1], (2, "Brown Turkey, rooted cutting".to_owned(), 1));
        assert_eq!(told[2].2, 3);
        assert_eq!(told[3].1, "Alma, in a pot, 3.79 L (1.0 gal), 2 years of wood");
        assert_eq!(rows[0].item.price.as_ref().unwrap().to_string(), "15.00 EUR");
    }

    #[test]
    fn rows_that_cannot_be_used_are_all_named_and_none_is_taken() {
        let Err(BadTable::Rows(rows)) = read(b"name,count\nCeleste,2\nAlma,-1\nCELESTE,3\n,4\n") else { panic!("rows") };
        let told: Vec<String> = rows.iter().map(ToString::to_string).collect();
        assert!(told[0].starts_with("line 3: count: ") && told[0].contains("cannot be negative"), "{told:?}");
        assert!(told[1].starts_with("line 4: ") && told[1].contains("stands in line 2 already"), "{told:?}");
        assert!(told[2].starts_with("line 5: name: "), "{told:?}");
        for (bad, words) in [
            (&b"name,colour\nCeleste,blue\n"[..], "no column “colour”"),
            (b"", "nothing in it"),
            (b" \n\n", "nothing in it"),
            (b"name\n\xff\n", "UTF-8"),
            (b"Celeste, lots\n", "cannot be used"),
        ] {
            assert!(read(bad).unwrap_err().to_string().contains(words), "{words}");
        }
        let many = (0..=Nursery::MOST_LINES).map(|nth| format!("fig {nth}")).collect::<Vec<_>>().join("\n");
        assert_eq!(read(many.as_bytes()), Err(BadTable::TooLarge { most_rows: Nursery::MOST_LINES }));
    }
}
