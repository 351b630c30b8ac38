//! The ledger as a table.

use crate::records::{KeptBatch, text};

/// Columns of the table.
pub const COLUMNS: [&str; 14] = [
    "batch",
    "name",
    "cultivar",
    "mother",
    "method",
    "stuck",
    "stuck_on",
    "bottom_heat_c",
    "place",
    "rooted",
    "rooted_on",
    "potted",
    "potted_on",
    "note",
];

/// Batches as CSV, in their order.
///
/// # Errors
/// When a row cannot be written.
pub fn table(batches: &[KeptBatch]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for batch in batches {
        let record = &batch.record;
        let number = |count: Option<u32>| count.map(|count| count.to_string()).unwrap_or_default();
        let day = |on: Option<jiff::civil::Date>| on.map(|on| on.to_string()).unwrap_or_default();
        writer.write_record([
            batch.id.to_string(),
            text::exported(&record.name_written),
            record.cultivar.as_ref().map(ToString::to_string).unwrap_or_default(),
            text::exported(record.mother_words.as_deref().unwrap_or_default()),
            record.method.word().to_owned(),
            record.stuck.to_string(),
            record.stuck_on.to_string(),
            record.bottom_heat_c.map(|c| c.to_string()).unwrap_or_default(),
            text::exported(record.place.as_deref().unwrap_or_default()),
            number(record.rooted.map(|rooted| rooted.count)),
            day(record.rooted.map(|rooted| rooted.on)),
            number(record.potted.map(|potted| potted.count)),
            day(record.potted.map(|potted| potted.on)),
            text::exported(record.note.as_deref().unwrap_or_default()),
        ])?;
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}
