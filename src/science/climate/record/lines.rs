//! Lines and fields of a text in bounded memory.
//!
//! The fields are split here and not by a CSV reader, since a quote left open would make one swallow the rest of the file; no field of a
//! daily record spans lines.

use std::io::BufRead;

use super::RecordError;

/// Longest line accepted, bytes: the widest access CSV has a few hundred columns.
pub const LINE_LIMIT: usize = 8192;

/// Lines of a source, numbered from 1, one buffer for all.
pub struct Lines<R> {
    source: R,
    buffer: Vec<u8>,
    number: u64,
    comments: Vec<(u64, Vec<u8>)>,
}

/// Comment lines kept from before the first other line: the header of a logger's table may begin with `#`.
const COMMENTS_KEPT: usize = 20;

impl<R: BufRead> Lines<R> {
    /// Starts before the first line.
    pub fn new(source: R) -> Self {
        Self { source, buffer: Vec::with_capacity(512), number: 0, comments: Vec::new() }
    }

    /// Lines read so far.
    pub fn number(&self) -> u64 {
        self.number
    }

    /// The next line that is neither blank nor a `#` comment, with its number, without its end (LF or CR LF) and, on the first, without a
    /// byte order mark. `None` at the end.
    pub fn next_line(&mut self) -> Result<Option<(u64, &[u8])>, RecordError> {
        loop {
            if !self.fill()? {
                return Ok(None);
            }
            if self.number == 1 && self.buffer.starts_with(b"\xef\xbb\xbf") {
                self.buffer.drain(..3);
            }
            if !self.buffer.iter().all(u8::is_ascii_whitespace) && self.buffer.first() != Some(&b'#') {
                return Ok(Some((self.number, &self.buffer)));
            }
            if self.comments.len() < COMMENTS_KEPT {
                self.comments.push((self.number, self.buffer.clone()));
            }
        }
    }

    /// Comment lines and blank lines passed over so far, the first few.
    pub fn comments(&self) -> &[(u64, Vec<u8>)] {
        &self.comments
    }

    /// The line last given.
    pub fn current(&self) -> (u64, &[u8]) {
        (self.number, &self.buffer)
    }

    /// Reads one line into the buffer; `false` at the end of the source.
    fn fill(&mut self) -> Result<bool, RecordError> {
        self.buffer.clear();
        self.number += 1;
        let line = self.number;
        loop {
            let chunk = match self.source.fill_buf() {
                Ok(chunk) => chunk,
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(RecordError::Unreadable { line, reason: error.to_string() }),
            };
            if chunk.is_empty() {
                if self.buffer.is_empty() {
                    self.number -= 1;
                    return Ok(false);
                }
                break;
            }
            let end = chunk.iter().position(|&byte| byte == b'\n');
            let taken = end.map_or(chunk.len(), |at| at + 1);
            if self.buffer.len() + taken > LINE_LIMIT + 2 {
                return Err(RecordError::LineTooLong { line, limit: LINE_LIMIT });
            }
            self.buffer.extend_from_slice(&chunk[..taken]);
            self.source.consume(taken);
            if end.is_some() {
                break;
            }
        }
        while matches!(self.buffer.last(), Some(b'\n' | b'\r')) {
            self.buffer.pop();
        }
        Ok(true)
    }
}

/// Splits a line at commas outside double quotes and takes blanks and quotes off each field. `fields` is cleared first.
pub fn split<'a>(line: &'a [u8], fields: &mut Vec<&'a [u8]>) {
    split_at(line, b',', fields);
}

/// The same at another sign.
pub fn split_at<'a>(line: &'a [u8], sign: u8, fields: &mut Vec<&'a [u8]>) {
    fields.clear();
    let mut start = 0;
    let mut quoted = false;
    for (at, &byte) in line.iter().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            _ if byte == sign && !quoted => {
                fields.push(bare(&line[start..at]));
                start = at + 1;
            }
            _ => {}
        }
    }
    fields.push(bare(&line[start..]));
}

/// A field without the blanks and quotes around it.
fn bare(field: &[u8]) -> &[u8] {
    let field = field.trim_ascii();
    match field {
        [b'"', inner @ .., b'"'] => inner.trim_ascii(),
        _ => field,
    }
}

/// At most 40 characters of what was read, for a message; control characters and broken UTF-8 replaced.
pub fn shown(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(&bytes[..bytes.len().min(160)]);
    let mut short: String = text.chars().take(40).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.chars().count() > 40 {
        short.push('…');
    }
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commas_within_quotes_do_not_split() {
        let mut fields = Vec::new();
        split(br#""A","TOWN AIRPORT, WA US","  178",",,0""#, &mut fields);
        assert_eq!(fields, [b"A".as_slice(), b"TOWN AIRPORT, WA US", b"178", b",,0"]);
    }

    #[test]
    fn a_line_without_end_is_refused_and_not_kept() {
        let noise = std::io::BufReader::new(std::io::Read::take(std::io::repeat(b'x'), 1 << 30));
        let mut lines = Lines::new(noise);
        assert_eq!(lines.next_line().unwrap_err(), RecordError::LineTooLong { line: 1, limit: LINE_LIMIT });
        assert!(lines.buffer.capacity() < 4 * LINE_LIMIT);
    }

    #[test]
    fn ends_marks_blank_lines_and_comments_are_passed_over() {
        let mut lines = Lines::new(&b"\xef\xbb\xbf# made by hand\r\n\r\n  \na,b\r\nlast"[..]);
        assert_eq!(lines.next_line().unwrap(), Some((4, &b"a,b"[..])));
        assert_eq!(lines.next_line().unwrap(), Some((5, &b"last"[..])));
        assert_eq!(lines.next_line().unwrap(), None);
        assert_eq!(lines.number(), 5);
    }
}
