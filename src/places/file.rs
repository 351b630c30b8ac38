//! Where each part of `seed-data/places.bin` lies, and the numbers in it.
//!
//! Layout: eight bytes [`MAGIC`], then for each [`Part`] its offset and length (two little-endian u32), then the parts.
//! Numbers are little-endian. A *slot* is the place of a town in the file: by country, region and position.

use std::io::Read;

use flate2::read::DeflateDecoder;

use super::error::PlacesError;

/// First bytes of the file; the digit is the version of the layout.
pub const MAGIC: &[u8; 8] = b"WFTOWNS1";
/// Bytes before the first part.
pub const HEADER: usize = MAGIC.len() + 8 * Part::ALL.len();
/// Towns, or stations, in one packed block.
pub const PER_BLOCK: usize = 128;
/// Largest inflated part, bytes: a bound on damage, ten times the largest block.
const MOST_INFLATED: u64 = 1 << 20;

/// A part of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Deflated CSV `cc,code,name,first_slot`, in the order of slots.
    Regions,
    /// Identifier of each town in GeoNames, u24 by slot.
    Ids,
    /// End of each block within [`Part::Blocks`], u32.
    BlockEnds,
    /// South, north, west and east edge of each block, four i16 in 0.01°.
    BlockBoxes,
    /// Blocks of [`PER_BLOCK`] towns (see `block`).
    Blocks,
    /// Slots, u24 with [`LAST_OF_LIST`] on the last of each list; lists by the most people in them.
    Postings,
    /// Finite-state transducer from folded names to the place of their list in [`Part::Postings`].
    Names,
    /// Stations behind the estimates, deflated (see `stations`).
    EstimateStations,
    /// End of each block of their names, u32.
    EstimateNameEnds,
    /// Their names, in deflated blocks.
    EstimateNames,
    /// Stations of the public archive with a long record, deflated.
    ArchiveStations,
    /// End of each block of their names, u32.
    ArchiveNameEnds,
    /// Their identifiers and names, in deflated blocks.
    ArchiveNames,
    /// What the file was made from, as text: file names and SHA-256.
    Origin,
}

/// Marks the last slot of a list in [`Part::Postings`].
pub const LAST_OF_LIST: u32 = 1 << 23;

impl Part {
    /// Every part in the order of the file.
    pub const ALL: [Self; 14] = [
        Self::Regions,
        Self::Ids,
        Self::BlockEnds,
        Self::BlockBoxes,
        Self::Blocks,
        Self::Postings,
        Self::Names,
        Self::EstimateStations,
        Self::EstimateNameEnds,
        Self::EstimateNames,
        Self::ArchiveStations,
        Self::ArchiveNameEnds,
        Self::ArchiveNames,
        Self::Origin,
    ];

    const fn name(self) -> &'static str {
        match self {
            Self::Regions => "regions",
            Self::Ids => "ids",
            Self::BlockEnds => "ends of blocks",
            Self::BlockBoxes => "boxes of blocks",
            Self::Blocks => "blocks",
            Self::Postings => "postings",
            Self::Names => "names",
            Self::EstimateStations => "stations of the estimates",
            Self::EstimateNameEnds | Self::EstimateNames => "names of stations of the estimates",
            Self::ArchiveStations => "stations of the archive",
            Self::ArchiveNameEnds | Self::ArchiveNames => "names of stations of the archive",
            Self::Origin => "origin",
        }
    }
}

/// The file, taken apart.
#[derive(Debug, Clone, Copy)]
pub struct PlacesFile {
    bytes: &'static [u8],
}

impl PlacesFile {
    /// Checks that every part lies within the file.
    pub fn open(bytes: &'static [u8]) -> Result<Self, PlacesError> {
        if bytes.get(..MAGIC.len()) != Some(MAGIC.as_slice()) {
            return Err(PlacesError { part: "first bytes" });
        }
        let file = Self { bytes };
        for part in Part::ALL {
            file.range(part).and_then(|range| bytes.get(range)).ok_or(PlacesError { part: part.name() })?;
        }
        Ok(file)
    }

    fn range(&self, part: Part) -> Option<std::ops::Range<usize>> {
        let at = MAGIC.len() + 8 * part as usize;
        let start = u32_at(self.bytes, at)? as usize;
        Some(start..start.checked_add(u32_at(self.bytes, at + 4)? as usize)?)
    }

    /// The bytes of a part.
    pub fn part(&self, part: Part) -> &'static [u8] {
        self.range(part).and_then(|range| self.bytes.get(range)).unwrap_or_default()
    }

    /// Block `index` of a part that is packed in blocks, inflated.
    pub fn block(&self, ends: Part, blocks: Part, index: usize) -> Option<Vec<u8>> {
        let end = |i: usize| u32_at(self.part(ends), 4 * i).map(|e| e as usize);
        let start = if index == 0 { 0 } else { end(index - 1)? };
        inflate(self.part(blocks).get(start..end(index)?)?)
    }
}

/// What deflate packed; `None` when it is damaged.
pub fn inflate(packed: &[u8]) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(packed.len() * 3);
    DeflateDecoder::new(packed).take(MOST_INFLATED).read_to_end(&mut bytes).ok()?;
    Some(bytes)
}

/// The u32 at a byte offset.
pub fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..at + 4)?.try_into().ok().map(u32::from_le_bytes)
}

/// The u24 at a byte offset.
pub fn u24_at(bytes: &[u8], at: usize) -> Option<u32> {
    let b = bytes.get(at..at + 3)?;
    Some(u32::from(b[0]) | u32::from(b[1]) << 8 | u32::from(b[2]) << 16)
}

/// The i16 at a byte offset.
pub fn i16_at(bytes: &[u8], at: usize) -> Option<i16> {
    bytes.get(at..at + 2)?.try_into().ok().map(i16::from_le_bytes)
}
