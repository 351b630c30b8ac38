//! Where effects live, and the distinct rows of them that records have.

/// Where an effect's coefficient lives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Slot {
    Maximised(usize),
    Border(usize),
}

/// Distinct rows of effects, split into the border and the maximised part.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Patterns {
    pub(super) border: Rows,
    pub(super) maximised: Rows,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Rows {
    ends: Vec<u32>,
    entries: Vec<(u32, f64)>,
}

impl Rows {
    pub(super) fn push(&mut self, entries: impl Iterator<Item = (u32, f64)>) {
        self.entries.extend(entries);
        self.ends.push(self.entries.len() as u32);
    }

    #[inline]
    fn row(&self, index: usize) -> &[(u32, f64)] {
        let start = if index == 0 { 0 } else { self.ends[index - 1] as usize };
        &self.entries[start..self.ends[index] as usize]
    }
}

impl Patterns {
    /// Border entries (index in the border, x) of a pattern.
    #[inline]
    pub(super) fn border(&self, pattern: u32) -> &[(u32, f64)] {
        self.border.row(pattern as usize)
    }

    /// Maximised entries (index among the maximised, x) of a pattern.
    #[inline]
    pub(super) fn maximised(&self, pattern: u32) -> &[(u32, f64)] {
        self.maximised.row(pattern as usize)
    }

    /// Adds a pattern of others; gives its number.
    pub(super) fn take(&mut self, others: &Self, pattern: u32) -> u32 {
        self.border.push(others.border(pattern).iter().copied());
        self.maximised.push(others.maximised(pattern).iter().copied());
        self.len() as u32 - 1
    }

    pub(super) fn len(&self) -> usize {
        self.border.ends.len()
    }

    /// Entries of all patterns together.
    pub(super) fn entries(&self) -> usize {
        self.border.entries.len() + self.maximised.entries.len()
    }
}
