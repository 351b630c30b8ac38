//! A daily record, from a file or from bytes sent, to the climate of its site. Files are opened and gunzipped here, within limits.

use std::borrow::Cow;
use std::cell::Cell;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;
use std::rc::Rc;

use flate2::bufread::MultiGzDecoder;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::jobs::station_record::words::climate_error_words;
use crate::science::climate::equivalent::Counting;
use crate::science::climate::record::{DailyRecord, ReadOptions, ReadUnits, RecordError};
use crate::science::climate::site_climate::{ClimateError, SiteClimate};
use crate::science::priors::Priors;

/// First bytes of a gzip file (RFC 1952, section 2.3.1).
const GZIP_MAGIC: [u8; 2] = [0x1f, 0x8b];
/// Bytes unpacked before the ratio is looked at: small files may pack very well.
const RATIO_FROM_BYTES: u64 = 1 << 20;
/// Buffer between file and reader, bytes.
const BUFFER: usize = 1 << 16;

/// How much a source may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of text, unpacked.
    pub bytes: u64,
    /// Most bytes unpacked per byte packed; daily records pack about ten to one.
    pub ratio: u64,
}

impl Limits {
    /// For a file on the reader's own machine: a by-year file of all stations is about 1.3 GB.
    pub const FILE: Self = Self { bytes: 4 << 30, ratio: 100 };
    /// For what a visitor sends: 150 years of one station are about 5 MB in the widest layout.
    pub const UPLOAD: Self = Self { bytes: 32 << 20, ratio: 100 };
}

/// Why a source gave no climate. The message names the line where there is one.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReadError {
    /// The file could not be opened.
    #[error("{path}: {reason}")]
    Open {
        /// As given.
        path: String,
        /// What the system said.
        reason: String,
    },
    /// It is no daily record, or a broken one.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// It is one, and holds too little.
    #[error("{}", climate_error_words(.0))]
    Climate(#[from] ClimateError),
}

/// A record with the climate worked out from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The days.
    pub record: DailyRecord,
    /// What they tell.
    pub climate: SiteClimate,
}

impl Reading {
    /// Its climate with hardening counted by as much as reports have taught.
    pub fn climate_by(&self, priors: &Priors) -> Cow<'_, SiteClimate> {
        let counting = Counting { share: priors.hardening_share.mean, per_doubling_k: priors.repeat_nights.mean, ..Counting::STARTING };
        if counting == Counting::STARTING {
            Cow::Borrowed(&self.climate)
        } else {
            Cow::Owned(self.climate.clone().counted(&self.record, &counting))
        }
    }
}

/// What a reader of a record is told beside the file: parameters `units`, `station`, `latitude`, the same for page and API.
pub const PARAMETERS: [&str; 3] = ["units", "station", "latitude"];
/// Longest station identifier, characters; those of the network have eleven.
const STATION_LENGTH: usize = 40;

/// Reads those parameters; others are left alone.
pub fn options(pairs: &[(String, String)], now: Timestamp) -> Result<ReadOptions, FieldErrors> {
    let value = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, text)| text.trim()).filter(|text| !text.is_empty());
    let mut errors = FieldErrors::default();
    let mut options = ReadOptions::on(latest_date(now));
    if let Some(word) = value("units") {
        let units = ReadUnits::of_word(word).ok_or("accepted: c, f, tenths_c");
        options.units = errors.keep("units", word, units);
    }
    if let Some(text) = value("latitude") {
        let degrees = decimal(text).and_then(|degrees| {
            let fits = (-90.0..=90.0).contains(&degrees);
            fits.then_some(degrees).ok_or_else(|| "a latitude from −90 to 90 degrees, north positive, is accepted".to_owned())
        });
        options.latitude_deg = errors.keep("latitude", text, degrees);
    }
    if let Some(text) = value("station") {
        let fits = text.len() <= STATION_LENGTH && text.chars().all(|c| c.is_ascii_graphic());
        let station =
            fits.then(|| text.to_owned()).ok_or("a station identifier as it stands in the file is accepted, for example USW00024233");
        options.station = errors.keep("station", text, station);
    }
    errors.into_result()?;
    Ok(options)
}

/// Tomorrow in UTC: the latest date that it can be anywhere.
pub fn latest_date(now: Timestamp) -> Date {
    let today = TimeZone::UTC.to_datetime(now).date();
    today.tomorrow().unwrap_or(today)
}

/// Reads a file; `-` is not special.
pub fn from_file(path: &Path, options: &ReadOptions) -> Result<Reading, ReadError> {
    let opened = File::open(path).and_then(|file| {
        let is_folder = file.metadata()?.is_dir();
        if is_folder { Err(io::Error::other("is a folder, not a file")) } else { Ok(file) }
    });
    let file = opened.map_err(|error| ReadError::Open { path: path.display().to_string(), reason: error.to_string() })?;
    from_source(BufReader::with_capacity(BUFFER, file), options, Limits::FILE)
}

/// Reads bytes that were sent.
pub fn from_bytes(bytes: &[u8], options: &ReadOptions) -> Result<Reading, ReadError> {
    from_source(bytes, options, Limits::UPLOAD)
}

/// Reads any source, gzipped or not: found from its first two bytes.
pub fn from_source(mut source: impl BufRead, options: &ReadOptions, limits: Limits) -> Result<Reading, ReadError> {
    let head = source.fill_buf().map_err(|error| RecordError::Unreadable { line: 1, reason: error.to_string() })?;
    let record = if head.starts_with(&GZIP_MAGIC) {
        let packed = Rc::new(Cell::new(0));
        let counted = Counted { source, taken: Rc::clone(&packed) };
        let unpacked = Limited { source: MultiGzDecoder::new(counted), limits, taken: 0, packed: Some(packed) };
        DailyRecord::read(BufReader::with_capacity(BUFFER, unpacked), options)?
    } else {
        DailyRecord::read(BufReader::with_capacity(BUFFER, Limited { source, limits, taken: 0, packed: None }), options)?
    };
    let climate = SiteClimate::of(&record)?;
    Ok(Reading { record, climate })
}

/// Counts the packed bytes on their way to the decoder.
struct Counted<R> {
    source: R,
    taken: Rc<Cell<u64>>,
}

impl<R: BufRead> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.source.read(buffer)?;
        self.taken.set(self.taken.get() + read as u64);
        Ok(read)
    }
}

impl<R: BufRead> BufRead for Counted<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.source.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        self.taken.set(self.taken.get() + amount as u64);
        self.source.consume(amount);
    }
}

/// Stops a source that gives more than it may.
struct Limited<R> {
    source: R,
    limits: Limits,
    taken: u64,
    packed: Option<Rc<Cell<u64>>>,
}

impl<R: Read> Read for Limited<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.source.read(buffer)?;
        self.taken += read as u64;
        if self.taken > self.limits.bytes {
            return Err(io::Error::other(format!("it holds more than the {} MB accepted", self.limits.bytes >> 20)));
        }
        if let Some(packed) = &self.packed
            && self.taken > RATIO_FROM_BYTES
            && self.taken / packed.get().max(1) > self.limits.ratio
        {
            return Err(io::Error::other(format!(
                "it unpacks to more than {} times its size, which no daily record does",
                self.limits.ratio
            )));
        }
        Ok(read)
    }
}

#[cfg(test)]
mod tests {
    use std::fmt::Write as _;
    use std::io::Write;

    use flate2::Compression;
    use flate2::write::GzEncoder;

    use super::*;

    fn options() -> ReadOptions {
        ReadOptions::on(Date::constant(2026, 1, 1))
    }

    fn gzipped(text: &[u8]) -> Vec<u8> {
        let mut packed = GzEncoder::new(Vec::new(), Compression::default());
        packed.write_all(text).unwrap();
        packed.finish().unwrap()
    }

    /// Three simulated years, a line a day.
    fn years() -> String {
        let mut date = Date::constant(2000, 7, 1);
        let mut text = String::from("date,tmin_c,tmax_c\n");
        for i in 0..1100 {
            let mean = 11.0 - 9.0 * (f64::from(date.day_of_year()) / 58.1).cos() + f64::from(i % 7);
            writeln!(text, "{date},{:.1},{:.1}", mean - 5.0, mean + 5.0).unwrap();
            date = date.tomorrow().unwrap();
        }
        text
    }

    #[test]
    fn a_gzipped_record_reads_like_the_plain_one() {
        let text = years();
        let plain = from_bytes(text.as_bytes(), &options()).unwrap();
        assert_eq!(from_bytes(&gzipped(text.as_bytes()), &options()).unwrap(), plain);
        // Two members one after the other are one text (RFC 1952, section 2.2).
        let (a, b) = text.split_at(9_000);
        let members = [gzipped(a.as_bytes()), gzipped(b.as_bytes())].concat();
        assert_eq!(from_bytes(&members, &options()).unwrap(), plain);
    }

    #[test]
    fn a_gzip_that_ends_early_is_refused_with_the_line_reached() {
        let packed = gzipped(years().as_bytes());
        let error = from_bytes(&packed[..packed.len() / 2], &options()).unwrap_err();
        assert!(matches!(error, ReadError::Record(RecordError::Unreadable { line, .. }) if line > 1), "{error}");
    }

    #[test]
    fn a_gzip_bomb_is_refused_long_before_it_is_unpacked() {
        // 64 MB of one valid comment line over and over packs about a thousand to one.
        let line = b"# nothing to see on this line of a bomb\n".repeat(1 << 14);
        let mut packed = GzEncoder::new(Vec::new(), Compression::best());
        packed.write_all(b"date,tmin_c,tmax_c\n").unwrap();
        for _ in 0..100 {
            packed.write_all(&line).unwrap();
        }
        let error = from_bytes(&packed.finish().unwrap(), &options()).unwrap_err();
        assert!(error.to_string().contains("times its size"), "{error}");
    }

    #[test]
    fn a_gibibyte_of_noise_is_refused_at_its_first_line() {
        struct Noise(u64);
        impl Read for Noise {
            fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
                for byte in buffer.iter_mut() {
                    self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    *byte = (self.0 >> 33) as u8 | 0x40;
                }
                Ok(buffer.len())
            }
        }
        let error = from_source(BufReader::new(Noise(7).take(1 << 30)), &options(), Limits::FILE).unwrap_err();
        assert!(matches!(error, ReadError::Record(RecordError::LineTooLong { line: 1, .. })), "{error}");
    }

    #[test]
    fn a_text_beyond_the_limit_is_refused_and_not_read_on() {
        let endless = "# a comment\n".repeat(1 << 12);
        let limits = Limits { bytes: 1 << 12, ratio: 100 };
        let error = from_source(endless.as_bytes(), &options(), limits).unwrap_err();
        assert!(error.to_string().contains("more than the 0 MB"), "{error}");
    }

    #[test]
    fn a_missing_file_and_a_folder_are_named() {
        let missing = from_file(Path::new("no-such-record.csv"), &options()).unwrap_err();
        assert!(missing.to_string().starts_with("no-such-record.csv: "));
        assert!(from_file(Path::new("src"), &options()).unwrap_err().to_string().contains("is a folder"));
    }
}
