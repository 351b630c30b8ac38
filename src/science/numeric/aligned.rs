//! Numbers in memory that begins with a line of the processor's cache, so that eight of them at a time lie in one line each.

use std::ops::{Deref, DerefMut};

use super::eight_numbers::{LANES, Line};

/// Whole lines of numbers, used as a slice of them.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Aligned(Vec<Line>);

impl Aligned {
    /// As many noughts as were asked for, and more up to the end of a line.
    pub fn zeros(len: usize) -> Self {
        Self(vec![Line::default(); len.div_ceil(LANES)])
    }

    /// Changes how many lines there are so that so many numbers have room; those of new lines are noughts.
    pub fn resize(&mut self, len: usize) {
        self.0.resize(len.div_ceil(LANES), Line::default());
    }

    /// The same, with the numbers of the last line made this value.
    pub fn reset(&mut self, len: usize, value: f64) {
        self.resize(len);
        if let Some(last) = self.0.last_mut() {
            *last = Line([value; LANES]);
        }
    }
}

impl Deref for Aligned {
    type Target = [f64];

    fn deref(&self) -> &[f64] {
        bytemuck::must_cast_slice(&self.0)
    }
}

impl DerefMut for Aligned {
    fn deref_mut(&mut self) -> &mut [f64] {
        bytemuck::must_cast_slice_mut(&mut self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_fill_whole_lines_that_begin_where_lines_of_the_cache_do() {
        let mut numbers = Aligned::zeros(3);
        assert_eq!(*numbers, [0.0; 8]);
        numbers[2] = 5.0;
        numbers.reset(11, 1.5);
        assert_eq!(numbers[..8], [0.0, 0.0, 5.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
        assert_eq!(numbers[8..], [1.5; 8]);
        assert_eq!(numbers.as_ptr() as usize % size_of::<Line>(), 0);
        numbers.reset(0, 9.0);
        assert!(numbers.is_empty());
    }
}
