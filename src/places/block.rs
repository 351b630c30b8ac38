//! A block of up to [`PER_BLOCK`](super::file::PER_BLOCK) towns, packed column by column.
//!
//! Inflated it holds for each column of [`Row::columns`] the differences from town to town, zigzag (0, −1, 1, −2 … as 0, 1, 2, 3 …), first
//! the low bytes of the column and then the high bytes; then the names, one a line.

/// Columns of a row.
pub const COLUMNS: usize = 13;
/// No elevation is known.
const NO_ELEVATION: i16 = i16::MIN;
/// Steps of the population's logarithm to base 2: a step is 4.4 %.
const POPULATION_STEPS: f64 = 16.0;

/// The numbers of one town as the file holds them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Row {
    /// Latitude, 0.01°.
    pub latitude: i16,
    /// Longitude, 0.01°.
    pub longitude: i16,
    /// Elevation, m.
    pub elevation: Option<i16>,
    /// People, 16·log₂(people + 1); 0 where not known.
    pub people: i16,
    /// Mean of the yearly minimum, 0.1 °C.
    pub mean: i16,
    /// Its spread between winters, 0.1 K.
    pub spread: i16,
    /// Mean of the daily minima of the coldest month, 0.1 °C.
    pub coldest_month: i16,
    /// Mean of the warmest month, 0.1 °C.
    pub warmest_month: i16,
    /// Median day of the year of the last frost of spring; 0 where frosts are no yearly event.
    pub last_frost: i16,
    /// Median day of the year of the first frost of autumn; 0 likewise.
    pub first_frost: i16,
    /// Standard error of the mean, 0.1 K.
    pub error: i16,
    /// Distance of the nearest station behind the estimate, km.
    pub station_km: i16,
    /// 1 where the estimate was lowered since the winters behind it were mild.
    pub lowered: i16,
}

impl Row {
    /// The row as its columns.
    pub fn columns(&self) -> [i16; COLUMNS] {
        [
            self.latitude,
            self.longitude,
            self.elevation.unwrap_or(NO_ELEVATION),
            self.people,
            self.mean,
            self.spread,
            self.coldest_month,
            self.warmest_month,
            self.last_frost,
            self.first_frost,
            self.error,
            self.station_km,
            self.lowered,
        ]
    }

    fn of_columns(c: [i16; COLUMNS]) -> Self {
        Self {
            latitude: c[0],
            longitude: c[1],
            elevation: (c[2] != NO_ELEVATION).then_some(c[2]),
            people: c[3],
            mean: c[4],
            spread: c[5],
            coldest_month: c[6],
            warmest_month: c[7],
            last_frost: c[8],
            first_frost: c[9],
            error: c[10],
            station_km: c[11],
            lowered: c[12],
        }
    }

    /// How the file holds a number of people.
    pub fn people_code(people: u64) -> i16 {
        (POPULATION_STEPS * (people as f64 + 1.0).log2()).round() as i16
    }

    /// People, to about 4 %; `None` where not known.
    pub fn population(&self) -> Option<f64> {
        (self.people > 0).then(|| (f64::from(self.people) / POPULATION_STEPS).exp2() - 1.0)
    }
}

/// Packs rows and names, before deflating.
pub fn pack(rows: &[Row], names: &[&str]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(rows.len() * 2 * COLUMNS);
    for column in 0..COLUMNS {
        let values: Vec<i16> = rows.iter().map(|row| row.columns()[column]).collect();
        let steps: Vec<u16> =
            values.iter().enumerate().map(|(i, v)| zigzag(v.wrapping_sub(if i == 0 { 0 } else { values[i - 1] }))).collect();
        bytes.extend(steps.iter().map(|s| s.to_le_bytes()[0]));
        bytes.extend(steps.iter().map(|s| s.to_le_bytes()[1]));
    }
    bytes.extend(names.join("\n").bytes());
    bytes
}

/// A column of an inflated block of `count` towns; `None` when it is damaged.
fn column(bytes: &[u8], count: usize, column: usize) -> Option<impl Iterator<Item = i16> + '_> {
    let start = column * 2 * count;
    let (low, high) = (bytes.get(start..start + count)?, bytes.get(start + count..start + 2 * count)?);
    Some(low.iter().zip(high).scan(0_i16, |value, (low, high)| {
        *value = value.wrapping_add(unzigzag(u16::from_le_bytes([*low, *high])));
        Some(*value)
    }))
}

/// Latitudes and longitudes of the towns of an inflated block, 0.01°; `None` when it is damaged.
pub fn positions(bytes: &[u8], count: usize) -> Option<impl Iterator<Item = (i16, i16)> + '_> {
    Some(column(bytes, count, 0)?.zip(column(bytes, count, 1)?))
}

/// People of the towns of an inflated block, as [`Row::people`]; `None` when it is damaged.
pub fn people(bytes: &[u8], count: usize) -> Option<impl Iterator<Item = i16> + '_> {
    column(bytes, count, 3)
}

/// The row and name of one town of an inflated block of `count`; `None` when it is damaged.
pub fn unpack(bytes: &[u8], count: usize, index: usize) -> Option<(Row, &str)> {
    let mut columns = [0_i16; COLUMNS];
    for (at, value) in columns.iter_mut().enumerate() {
        *value = column(bytes, count, at)?.nth(index)?;
    }
    let names = std::str::from_utf8(bytes.get(2 * count * COLUMNS..)?).ok()?;
    Some((Row::of_columns(columns), names.split('\n').nth(index)?))
}

const fn zigzag(step: i16) -> u16 {
    ((step << 1) ^ (step >> 15)).cast_unsigned()
}

const fn unzigzag(code: u16) -> i16 {
    (code >> 1).cast_signed() ^ -(code & 1).cast_signed()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_packed_is_unpacked(values in prop::collection::vec(prop::array::uniform13(any::<i16>()), 1..40)) {
            let rows: Vec<Row> = values.into_iter().map(Row::of_columns).collect();
            let names: Vec<String> = (0..rows.len()).map(|i| format!("Ortß {i}")).collect();
            let borrowed: Vec<&str> = names.iter().map(String::as_str).collect();
            let packed = pack(&rows, &borrowed);
            for (i, row) in rows.iter().enumerate() {
                prop_assert_eq!(unpack(&packed, rows.len(), i), Some((*row, borrowed[i])));
            }
            let places: Vec<(i16, i16)> = rows.iter().map(|row| (row.latitude, row.longitude)).collect();
            prop_assert_eq!(positions(&packed, rows.len()).unwrap().collect::<Vec<_>>(), places);
            prop_assert!(people(&packed, rows.len()).unwrap().eq(rows.iter().map(|row| row.people)));
        }

        #[test]
        fn a_number_of_people_is_kept_to_five_in_a_hundred(people in 1_u64..40_000_000) {
            let row = Row { people: Row::people_code(people), ..Row::default() };
            let kept = row.population().unwrap();
            prop_assert!((kept + 1.0) / (people as f64 + 1.0) < 1.03 && (kept + 1.0) / (people as f64 + 1.0) > 0.97);
        }
    }

    #[test]
    fn a_block_cut_short_is_refused() {
        let packed = pack(&[Row::default(); 3], &["a", "b", "c"]);
        assert!(unpack(&packed[..packed.len() - 2], 3, 2).is_none());
        assert!(unpack(&packed[..20], 3, 0).is_none());
        assert!(unpack(&packed, 4, 3).is_none());
        assert!(positions(&packed[..8], 3).is_none() && people(&packed[..20], 3).is_none());
    }
}
