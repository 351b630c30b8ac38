//! What was ticked as done before the nights that are over.

/// Something ticked as done: so many plants of a row, into a place or out, before a night.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Done {
    /// Row of the plants.
    pub row: usize,
    /// How many.
    pub count: usize,
    /// Row of the place; `None`: out.
    pub place: Option<usize>,
    /// The night before which it was done, from 1.
    pub night: usize,
}

impl Done {
    /// As a field of the form holds it: `3x4@s2n1`, `3x4@outn2`.
    pub fn written(&self) -> String {
        let place = self.place.map_or_else(|| "out".to_owned(), |row| format!("s{row}"));
        format!("{}x{}@{place}n{}", self.row, self.count, self.night)
    }

    /// From the value of a field; `None` where it is something else.
    pub fn read(text: &str) -> Option<Self> {
        let (row, rest) = text.split_once('x')?;
        let (count, rest) = rest.split_once('@')?;
        let (place, night) = rest.rsplit_once('n')?;
        let place = match place {
            "out" => None,
            place => Some(place.strip_prefix('s')?.parse().ok()?),
        };
        Some(Self { row: row.parse().ok()?, count: count.parse().ok()?, place, night: night.parse().ok()? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_ticked_is_read_as_written() {
        for done in [Done { row: 3, count: 4, place: Some(2), night: 1 }, Done { row: 1, count: 1, place: None, night: 5 }] {
            assert_eq!(Done::read(&done.written()), Some(done));
        }
        assert_eq!(Done::read("nonsense"), None);
    }
}
