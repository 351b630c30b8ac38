//! Dates of the plain layout.

use jiff::civil::Date;

/// `1990-01-31` or `19900131`.
pub(super) fn parse_date(text: &[u8]) -> Option<Date> {
    let digits =
        |part: &[u8]| part.iter().try_fold(0_i16, |number, byte| byte.is_ascii_digit().then(|| number * 10 + i16::from(byte - b'0')));
    let (year, month, day) = match text {
        [y @ .., b'-', m1, m2, b'-', d1, d2] if y.len() == 4 => (digits(y)?, digits(&[*m1, *m2])?, digits(&[*d1, *d2])?),
        [y1, y2, y3, y4, m1, m2, d1, d2] => (digits(&[*y1, *y2, *y3, *y4])?, digits(&[*m1, *m2])?, digits(&[*d1, *d2])?),
        _ => return None,
    };
    Date::new(year, month as i8, day as i8).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_iso_dates_that_exist_are_dates() {
        assert!(parse_date(b"1990-01-31").is_some());
        assert_eq!(parse_date(b"19900131"), parse_date(b"1990-01-31"));
        for bad in ["1990-02-30", "31.01.1990", "1/31/90", "1990-1-31", "1990-01-31T00:00", "", "abcdefgh", "-9990131"] {
            assert_eq!(parse_date(bad.as_bytes()), None, "{bad}");
        }
    }
}
