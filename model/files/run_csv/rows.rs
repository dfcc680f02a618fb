//! Rows with their true line numbers, and the place of a field for a message.
//!
//! The `csv` crate splits the fields; its own position of a record starts before skipped blank lines, so the line is
//! counted here.

use std::ops::Range;

use csv::ByteRecord;

/// Walks over the rows of a text.
pub(super) struct Rows<'t> {
    text: &'t str,
    reader: csv::Reader<&'t [u8]>,
    separator: u8,
    /// Byte offset up to which lines were counted.
    counted: usize,
    line: usize,
}

/// Where a row stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) line: usize,
    /// The row's own bytes in the text, without line end.
    pub(super) bytes: Range<usize>,
}

impl<'t> Rows<'t> {
    /// Rows of a text whose first line is line `line` of its file.
    pub(super) fn new(text: &'t str, separator: u8, line: usize) -> Self {
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator)
            .comment(Some(b'#'))
            .from_reader(text.as_bytes());
        Self {
            text,
            reader,
            separator,
            counted: 0,
            line,
        }
    }

    /// The next row that holds anything, or `None` at the end.
    pub(super) fn next(&mut self, record: &mut ByteRecord) -> Option<Place> {
        loop {
            let before = self.offset();
            // Reading from memory with a flexible width cannot fail; an end of input is the only other answer.
            if !self.reader.read_byte_record(record).unwrap_or(false) {
                return None;
            }
            let place = self.place(before);
            let blank = record.iter().all(|field| field.trim_ascii().is_empty());
            let comment = record
                .get(0)
                .is_some_and(|first| first.trim_ascii_start().starts_with(b"#"));
            if !blank && !comment {
                return Some(place);
            }
        }
    }

    fn offset(&self) -> usize {
        usize::try_from(self.reader.position().byte())
            .unwrap_or(usize::MAX)
            .min(self.text.len())
    }

    fn place(&mut self, before: usize) -> Place {
        let bytes = self.text.as_bytes();
        let end = self.offset();
        let mut start = before;
        loop {
            match bytes.get(start) {
                Some(b'\r' | b'\n') if start < end => start += 1,
                Some(b'#') if start < end => {
                    start += bytes[start..]
                        .iter()
                        .position(|&byte| byte == b'\n')
                        .unwrap_or(bytes.len() - start);
                }
                _ => break,
            }
        }
        let start = start.min(end);
        self.line += bytes[self.counted..start]
            .split(|&byte| byte == b'\n')
            .count()
            - 1;
        self.counted = start;
        let row = self.text[start..end].trim_end_matches(['\r', '\n']);
        Place {
            line: self.line,
            bytes: start..start + row.len(),
        }
    }

    /// The text of a row.
    pub(super) fn raw(&self, place: &Place) -> &'t str {
        &self.text[place.bytes.clone()]
    }

    /// Bytes of a field within its row, blanks and quotes left out.
    pub(super) fn field(&self, place: &Place, index: usize) -> Range<usize> {
        field_range(self.raw(place), self.separator, index)
    }
}

fn field_range(row: &str, separator: u8, index: usize) -> Range<usize> {
    let bytes = row.as_bytes();
    let (mut field, mut start, mut quoted) = (0, 0, false);
    let mut end = bytes.len();
    for (at, &byte) in bytes.iter().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            _ if byte == separator && !quoted => {
                if field == index {
                    end = at;
                    break;
                }
                field += 1;
                start = at + 1;
            }
            _ => {}
        }
    }
    let written = &row[start.min(end)..end];
    let inner = written.trim();
    let from = start.min(end) + (written.len() - written.trim_start().len());
    match inner
        .strip_prefix('"')
        .and_then(|rest| rest.strip_suffix('"'))
    {
        Some(unquoted) => from + 1..from + 1 + unquoted.len(),
        None => from..from + inner.len(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_counted_past_blanks_comments_and_line_ends() {
        for end in ["\n", "\r\n"] {
            let text = [
                "# head", "", "a;b", "  ", "1;2", "", "# note", "", ";", "3;\"4\"", "5;6",
            ]
            .join(end);
            let mut rows = Rows::new(&text, b';', 1);
            let mut record = ByteRecord::new();
            let mut found = Vec::new();
            while let Some(place) = rows.next(&mut record) {
                found.push((place.line, rows.raw(&place).to_owned()));
            }
            let expected = [(3, "a;b"), (5, "1;2"), (10, "3;\"4\""), (11, "5;6")];
            let found: Vec<(usize, &str)> = found
                .iter()
                .map(|(line, row)| (*line, row.as_str()))
                .collect();
            assert_eq!(found, expected);
        }
    }

    #[test]
    fn a_field_is_found_in_its_row() {
        let row = " 1 ;\"a;b\"; 3";
        for (index, text) in [(0, "1"), (1, "a;b"), (2, "3")] {
            assert_eq!(&row[field_range(row, b';', index)], text);
        }
    }
}
