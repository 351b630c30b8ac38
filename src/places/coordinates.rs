//! Latitude and longitude as ISO 6709 and as people write them.
//!
//! Read are the strings of ISO 6709:2008, Annex H (`+40.20361-075.00417/`, degrees, minutes or seconds by the number of digits, height
//! after them) and its form for people, Annex D (`50°40′46,461″N 95°48′26,533″W 123,45m`); numbers with a letter before or behind
//! (`N40 12.22 W075 00.25`); plain numbers, latitude first (`40.2036, -75.0042`; decimal commas with a semicolon or a blank between,
//! `47,07; 15,44`); `geo:` addresses (RFC 5870).

/// Degrees in which a point of the Earth lies, with the height where one was written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Latitude, degrees, north positive.
    pub latitude: f64,
    /// Longitude, degrees, east positive.
    pub longitude: f64,
    /// Height, m.
    pub height_m: Option<f64>,
}

/// Coordinates that name no point.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CoordinateError {
    /// A latitude beyond a pole that would be a longitude.
    #[error(
        "“{read}”: a latitude lies between 90 south and 90 north, and it comes first; longitude first? Write {}, {}",
        plain(*.latitude),
        plain(*.longitude)
    )]
    Exchanged {
        /// What was typed.
        read: String,
        /// The second number.
        latitude: f64,
        /// The first.
        longitude: f64,
    },
    /// Out of range.
    #[error("“{read}”: a latitude lies between 90 south and 90 north, a longitude between 180 west and 180 east")]
    Beyond {
        /// What was typed.
        read: String,
    },
    /// Minutes or seconds of sixty or more.
    #[error("“{read}”: minutes and seconds go to 59")]
    Sixty {
        /// What was typed.
        read: String,
    },
    /// Figures that do not pair.
    #[error("“{read}” does not read as two coordinates; accepted: 48.21, 16.37 · 48°12′30″N 16°22′0″E · N48 12.5 E16 22 · +48.21+016.37/")]
    Unclear {
        /// What was typed.
        read: String,
    },
}

/// A number for a message.
fn plain(degrees: f64) -> String {
    format!("{degrees:.4}").trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The point that a text names; `None` when it does not look like coordinates at all.
pub fn read(text: &str) -> Option<Result<Point, CoordinateError>> {
    let text = text.trim();
    let quoted = || text.chars().take(60).collect::<String>();
    if let Some(found) = iso_string(text) {
        return Some(found.and_then(|(parts, height)| checked(parts, height, quoted())));
    }
    let tokens = tokens(text)?;
    let digits = tokens.iter().filter(|t| matches!(t, Token::Number { .. })).count();
    if digits < 2 {
        return None;
    }
    Some(match pairs(&tokens) {
        Some((parts, height)) => checked(parts, height, quoted()),
        None => Err(CoordinateError::Unclear { read: quoted() }),
    })
}

/// Degrees, minutes and seconds of one coordinate, sign included; whether a letter said which it is.
#[derive(Debug, Clone, Copy)]
struct Angle {
    degrees: f64,
    /// Minutes and seconds are below sixty.
    proper: bool,
    lettered: bool,
}

impl Angle {
    fn of(parts: &[f64], negative: bool, lettered: bool) -> Option<Self> {
        let (&degrees, rest) = parts.split_first()?;
        let (minutes, seconds) = (rest.first().copied().unwrap_or(0.0), rest.get(1).copied().unwrap_or(0.0));
        let fraction_last = parts.iter().rev().skip(1).all(|p| p.fract() == 0.0);
        if parts.len() > 3 || !fraction_last {
            return None;
        }
        let size = degrees.abs() + minutes / 60.0 + seconds / 3600.0;
        Some(Self { degrees: if negative { -size } else { size }, proper: minutes < 60.0 && seconds < 60.0, lettered })
    }
}

fn checked((latitude, longitude): (Angle, Angle), height_m: Option<f64>, read: String) -> Result<Point, CoordinateError> {
    if !latitude.proper || !longitude.proper {
        return Err(CoordinateError::Sixty { read });
    }
    let (lat, lon) = (latitude.degrees, longitude.degrees);
    let lettered = latitude.lettered || longitude.lettered;
    if lat.abs() <= 90.0 && lon.abs() <= 180.0 {
        Ok(Point { latitude: lat, longitude: lon, height_m })
    } else if !lettered && lat.abs() <= 180.0 && lon.abs() <= 90.0 {
        Err(CoordinateError::Exchanged { read, latitude: lon, longitude: lat })
    } else {
        Err(CoordinateError::Beyond { read })
    }
}

type Read = ((Angle, Angle), Option<f64>);

/// The strings of ISO 6709, Annex H: a sign before each, no blanks, degrees alone or with minutes and seconds by the number of digits.
fn iso_string(text: &str) -> Option<Result<Read, CoordinateError>> {
    let body = text.strip_suffix('/').unwrap_or(text);
    let body = body.split("CRS").next().unwrap_or(body);
    if !body.starts_with(['+', '-', '−']) || body.contains(char::is_whitespace) || body.contains([',', ';', '°']) {
        return None;
    }
    let mut fields: Vec<(bool, String)> = Vec::new();
    for c in body.chars() {
        match c {
            '+' => fields.push((false, String::new())),
            '-' | '−' => fields.push((true, String::new())),
            '0'..='9' | '.' => fields.last_mut()?.1.push(c),
            _ => return None,
        }
    }
    let unclear = || CoordinateError::Unclear { read: text.chars().take(60).collect() };
    let angle = |field: &(bool, String), whole: usize| {
        let digits = field.1.split('.').next().unwrap_or("").len();
        let cut = |from: usize, to: usize| field.1.get(from..to).and_then(|t| t.parse::<f64>().ok());
        let end = field.1.len();
        let parts = match digits.checked_sub(whole)? {
            0 => vec![cut(0, end)?],
            2 => vec![cut(0, whole)?, cut(whole, end)?],
            4 => vec![cut(0, whole)?, cut(whole, whole + 2)?, cut(whole + 2, end)?],
            _ => return None,
        };
        Angle::of(&parts, field.0, false)
    };
    if !(2..=3).contains(&fields.len()) {
        return None;
    }
    // Plain numbers with a sign each, written together without the leading noughts of the standard, are read as degrees.
    let loose = |field: &(bool, String)| field.1.parse::<f64>().ok().and_then(|d| Angle::of(&[d], field.0, false));
    let parts = angle(&fields[0], 2).zip(angle(&fields[1], 3)).or_else(|| loose(&fields[0]).zip(loose(&fields[1])));
    let height = match fields.get(2) {
        None => Some(None),
        Some((negative, digits)) => digits.parse::<f64>().ok().map(|h| Some(if *negative { -h } else { h })),
    };
    Some(parts.zip(height).ok_or_else(unclear))
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Token {
    /// A number and whether it was signed negative.
    Number { value: f64, negative: bool },
    /// N, S, E or W.
    Letter(char),
    /// A comma or semicolon between coordinates.
    Between,
    /// m after a height.
    Metres,
}

/// The text in tokens; `None` when there is anything in it that coordinates do not have.
fn tokens(text: &str) -> Option<Vec<Token>> {
    let mut lower = text.to_lowercase();
    for word in ["geo:", "latitude", "longitude", "lat", "lng", "lon", ":", "="] {
        lower = lower.replace(word, " ");
    }
    let letters: Vec<char> = lower.chars().collect();
    let decimal_comma = has_decimal_commas(&lower, &letters);
    let (mut tokens, mut at) = (Vec::new(), 0);
    while let Some(&c) = letters.get(at) {
        at += 1;
        match c {
            '0'..='9' => {
                let mut number = String::from(c);
                while let Some(&next) = letters.get(at) {
                    match next {
                        '0'..='9' | '.' => number.push(next),
                        ',' if decimal_comma && letters.get(at + 1).is_some_and(char::is_ascii_digit) => number.push('.'),
                        _ => break,
                    }
                    at += 1;
                }
                let before = number_sign(&letters, at - number.chars().count());
                tokens.push(Token::Number { value: number.parse().ok()?, negative: before });
            }
            'n' | 's' | 'e' | 'w' => tokens.push(Token::Letter(c)),
            'm' => tokens.push(Token::Metres),
            ',' | ';' => tokens.push(Token::Between),
            '+' | '-' | '−' | '°' | 'º' | '˚' | '\'' | '’' | '′' | '"' | '”' | '″' | '/' => {}
            c if c.is_whitespace() => {}
            _ => return None,
        }
    }
    Some(tokens)
}

/// Whether a minus stands before the number that begins at `start`.
fn number_sign(letters: &[char], start: usize) -> bool {
    start.checked_sub(1).and_then(|i| letters.get(i)).is_some_and(|c| matches!(c, '-' | '−'))
}

/// Whether commas between digits are decimal: no point anywhere, and something else parts the coordinates.
fn has_decimal_commas(text: &str, letters: &[char]) -> bool {
    let between_digits = letters.windows(3).filter(|w| w[1] == ',' && w[0].is_ascii_digit() && w[2].is_ascii_digit()).count();
    between_digits > 0
        && !text.contains('.')
        && (text.contains(';') || text.contains(['°', '′', '″']) || letters.iter().any(|c| c.is_alphabetic()) || between_digits == 2)
}

/// Both coordinates and the height.
fn pairs(tokens: &[Token]) -> Option<Read> {
    let mut tokens = tokens.to_vec();
    let mut height = None;
    if let [.., Token::Number { value, negative }, Token::Metres] = tokens[..] {
        height = Some(if negative { -value } else { value });
        tokens.truncate(tokens.len() - 2);
        if tokens.last() == Some(&Token::Between) {
            tokens.pop();
        }
    }
    if tokens.contains(&Token::Metres) {
        return None;
    }
    let letters: Vec<char> = tokens.iter().filter_map(|t| if let Token::Letter(c) = t { Some(*c) } else { None }).collect();
    match letters.len() {
        0 => Some((unlettered(&tokens, &mut height)?, height)),
        2 => Some((lettered(&tokens, letters[0], letters[1])?, height)),
        _ => None,
    }
}

fn numbers(tokens: &[Token]) -> Vec<(f64, bool)> {
    tokens.iter().filter_map(|t| if let Token::Number { value, negative } = t { Some((*value, *negative)) } else { None }).collect()
}

fn angle(tokens: &[Token], letter: Option<char>) -> Option<Angle> {
    let numbers = numbers(tokens);
    let (values, signs): (Vec<f64>, Vec<bool>) = numbers.into_iter().unzip();
    // A sign belongs to the degrees alone, and not beside a letter.
    if signs.iter().skip(1).any(|s| *s) || (letter.is_some() && signs.first() == Some(&true)) {
        return None;
    }
    Angle::of(&values, signs.first() == Some(&true) || matches!(letter, Some('s' | 'w')), letter.is_some())
}

fn lettered(tokens: &[Token], first: char, second: char) -> Option<(Angle, Angle)> {
    let places: Vec<usize> = tokens.iter().enumerate().filter(|(_, t)| matches!(t, Token::Letter(_))).map(|(i, _)| i).collect();
    // Letters stand before both or behind both.
    let cut = if places[0] == 0 { places[1] } else { places[0] + 1 };
    let (one, other) = (angle(&tokens[..cut], Some(first))?, angle(&tokens[cut..], Some(second))?);
    match (first, second) {
        ('n' | 's', 'e' | 'w') => Some((one, other)),
        ('e' | 'w', 'n' | 's') => Some((other, one)),
        _ => None,
    }
}

fn unlettered(tokens: &[Token], height: &mut Option<f64>) -> Option<(Angle, Angle)> {
    let groups: Vec<&[Token]> = tokens.split(|t| *t == Token::Between).filter(|g| !g.is_empty()).collect();
    match groups[..] {
        [one, other] => Some((angle(one, None)?, angle(other, None)?)),
        // The third number of a geo: address is the height.
        [one, other, &[Token::Number { value, negative }]] if height.is_none() => {
            *height = Some(if negative { -value } else { value });
            Some((angle(one, None)?, angle(other, None)?))
        }
        [all] => {
            let count = all.len();
            (count % 2 == 0).then(|| angle(&all[..count / 2], None).zip(angle(&all[count / 2..], None))).flatten()
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> (f64, f64, Option<f64>) {
        let point = read(text).unwrap_or_else(|| panic!("{text} is coordinates")).unwrap();
        (point.latitude, point.longitude, point.height_m)
    }

    fn near(text: &str, latitude: f64, longitude: f64) {
        let (lat, lon, _) = at(text);
        assert!((lat - latitude).abs() < 1e-6 && (lon - longitude).abs() < 1e-6, "{text}: {lat}, {lon}");
    }

    // ISO 6709:2008, examples of Annex H as restated in public copies: the same point in degrees, minutes and seconds.
    #[test]
    fn the_strings_of_iso_6709_are_read() {
        near("+40.20361-075.00417/", 40.203_61, -75.004_17);
        near("+4012.22-07500.25/", 40.203_666_667, -75.004_166_667);
        near("+401213.1-0750015.1/", 40.203_638_889, -75.004_194_444);
        near("+40-075CRSxxxx/", 40.0, -75.0);
        assert_eq!(at("+27.5916+086.5640+8850CRSWGS_84/"), (27.5916, 86.564, Some(8850.0)));
        assert_eq!(at("+90+000/"), (90.0, 0.0, None));
        assert_eq!(at("+48.5299-123.5-12.5/"), (48.5299, -123.5, Some(-12.5)));
    }

    // ISO 6709:2008, Annex D, the form for people.
    #[test]
    fn the_form_for_people_is_read_with_its_height() {
        let (lat, lon, height) = at("50°40′46,461″N 95°48′26,533″W 123,45m");
        assert!((lat - 50.679_572_5).abs() < 1e-6 && (lon + 95.807_370_28).abs() < 1e-6 && height == Some(123.45));
        assert!(at("50°03′46.461″S 125°48′26.533″E 978.90m").0 < 0.0);
    }

    // RFC 5870, section 6.1 and 3.4.
    #[test]
    fn geo_addresses_are_read() {
        assert_eq!(at("geo:13.4125,103.8667"), (13.4125, 103.8667, None));
        assert_eq!(at("geo:48.2010,16.3695,183"), (48.201, 16.3695, Some(183.0)));
    }

    #[test]
    fn what_people_type_is_read() {
        for text in [
            "40.2036, -75.0042",
            "40.2036 -75.0042",
            "40.2036,-75.0042",
            "40.2036N 75.0042W",
            "40.2036° N, 75.0042° W",
            "N 40.2036 W 75.0042",
            "75.0042 W 40.2036 N",
            "lat 40.2036 lon −75.0042",
            "40,2036; -75,0042",
            "40,2036 -75,0042",
            "40° 12.216' N 75° 0.252' W",
            "N40 12.216 W075 00.252",
            "40°12'12.96\"N, 75°0'15.12\"W",
            "40 12 12.96, -75 0 15.12",
        ] {
            near(text, 40.2036, -75.0042);
        }
        near("47 15", 47.0, 15.0);
        near("47, 15", 47.0, 15.0);
    }

    #[test]
    fn wrong_coordinates_are_told_from_names() {
        let wrong = |text: &str| read(text).unwrap().unwrap_err().to_string();
        assert!(wrong("-122.33, 47.61").contains("47.61, -122.33"));
        assert!(wrong("95, 200").contains("between 90"));
        assert!(wrong("40°75′N 75°W").contains("59"));
        assert!(wrong("1 2 3").contains("accepted"));
        assert!(wrong("N40 S75").contains("accepted"));
        assert!(wrong("122.33 N 47 W").contains("between 90"));
        for name in ["Vienna", "100 Mile House", "Paris 12", "Wes", "", "28801", "Sens", "S. Menns", "M"] {
            assert!(read(name).is_none(), "{name}");
        }
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_read_without_a_panic(text in "\\PC{0,60}") {
            let _ = read(&text);
        }

        #[test]
        fn any_mixture_of_signs_is_read_without_a_panic(text in "[-+0-9., ;°′NSEWm/]{0,30}") {
            if let Some(Ok(point)) = read(&text) {
                proptest::prop_assert!(point.latitude.abs() <= 90.0 && point.longitude.abs() <= 180.0);
            }
        }

        #[test]
        fn a_point_written_as_iso_6709_is_read_back(lat in -90.0..90.0f64, lon in -180.0..180.0f64) {
            let text = format!("{lat:+010.6}{lon:+011.6}/");
            let point = read(&text).unwrap().unwrap();
            proptest::prop_assert!((point.latitude - lat).abs() < 1e-6 && (point.longitude - lon).abs() < 1e-6, "{}", text);
        }
    }
}
