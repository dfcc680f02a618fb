//! From a path to text: every way a file can fail to be readable, and the encodings loggers write.
//!
//! It exists because the same recording arrives as UTF-8 with a mark, as UTF-16 from a spreadsheet, or in the old western
//! code page for the sake of one degree sign. It refuses binary data: text with NUL bytes that is not UTF-16 is
//! reported, never decoded.

use std::borrow::Cow;
use std::fs;
use std::io::{ErrorKind, Read};
use std::path::Path;

use encoding_rs::{SHIFT_JIS, UTF_16BE, UTF_16LE, WINDOWS_1250, WINDOWS_1252};

use super::diagnostic::{Code, Problem, Problems};

/// Largest TOML file, bytes. A fitted car with its covariance stays under a tenth of it.
pub const TOML_LIMIT_BYTES: u64 = 4 << 20;
/// Largest recording, bytes: the 200 MB the reader is built for, and some room.
pub const RECORDING_LIMIT_BYTES: u64 = 256 << 20;

/// How the bytes became text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8 (ASCII included), with or without a byte order mark.
    Utf8,
    /// UTF-16, low byte first.
    Utf16LittleEndian,
    /// UTF-16, high byte first.
    Utf16BigEndian,
    /// The western code page 1252, which contains Latin-1's printable characters; taken when UTF-8 does not fit.
    Windows1252,
    /// The central European code page 1250; taken where more heads are words under it.
    Windows1250,
    /// The Japanese Shift-JIS, likewise.
    ShiftJis,
}

/// The bytes of a file, or the one problem that kept them away.
pub fn read_bytes(path: &Path, limit_bytes: u64) -> Result<Vec<u8>, Problems> {
    let name = path.display().to_string();
    let problem = |code, message: String| Problem::of_file(code, name.clone(), message);
    let unreadable = |error: &std::io::Error| {
        Problems::from(match error.kind() {
            ErrorKind::NotFound => problem(Code::FILE_MISSING, "there is no such file".to_owned())
                .expected("the path of an existing file"),
            _ => problem(
                Code::FILE_UNREADABLE,
                format!("the file cannot be read: {error}"),
            )
            .expected("a file this user may read"),
        })
    };
    let too_large = |bytes: u64| {
        Problems::from(
            problem(
                Code::FILE_TOO_LARGE,
                format!("the file is {} MB", bytes.div_ceil(1 << 20)),
            )
            .value(format!("{bytes} bytes"))
            .expected(format!("at most {} MB", limit_bytes >> 20)),
        )
    };
    let metadata = fs::metadata(path).map_err(|error| unreadable(&error))?;
    if metadata.is_dir() {
        return Err(problem(Code::FILE_IS_FOLDER, "this is a folder".to_owned())
            .expected("a file")
            .into());
    }
    if metadata.len() > limit_bytes {
        return Err(too_large(metadata.len()));
    }
    let file = fs::File::open(path).map_err(|error| unreadable(&error))?;
    let mut bytes = Vec::with_capacity(usize::try_from(metadata.len()).unwrap_or(0) + 1);
    // A pipe has no length to check beforehand; one byte over the limit is enough to know.
    file.take(limit_bytes + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(&error))?;
    if bytes.len() as u64 > limit_bytes {
        return Err(too_large(bytes.len() as u64));
    }
    if bytes.is_empty() {
        return Err(problem(Code::FILE_EMPTY, "the file is empty".to_owned())
            .expected("content")
            .into());
    }
    Ok(bytes)
}

/// Text of a TOML file: UTF-8 by its own standard, a byte order mark is dropped.
pub fn decode_utf8(file: &str, bytes: Vec<u8>) -> Result<String, Problems> {
    let mut text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..at].split(|&byte| byte == b'\n').count();
        Problem::of_file(
            Code::FILE_NOT_TEXT,
            file,
            format!("line {line} is not UTF-8 text"),
        )
        .value(format!(
            "byte 0x{:02X} at offset {at}",
            error.as_bytes()[at]
        ))
        .expected("a text file saved as UTF-8")
    })?;
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    Ok(text)
}

/// Text of a recording, in whichever encoding it was saved.
pub fn decode_recording<'a>(
    file: &str,
    bytes: &'a [u8],
) -> Result<(Cow<'a, str>, Encoding), Problems> {
    let (body, encoding) = match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => (rest, Encoding::Utf8),
        [0xFF, 0xFE, rest @ ..] => (rest, Encoding::Utf16LittleEndian),
        [0xFE, 0xFF, rest @ ..] => (rest, Encoding::Utf16BigEndian),
        _ => (bytes, without_mark(bytes)),
    };
    let (text, malformed) = match encoding {
        Encoding::Utf8 => match std::str::from_utf8(body) {
            Ok(text) => (Cow::Borrowed(text), false),
            Err(_) => (Cow::Borrowed(""), true),
        },
        Encoding::Utf16LittleEndian => UTF_16LE.decode_without_bom_handling(body),
        Encoding::Utf16BigEndian => UTF_16BE.decode_without_bom_handling(body),
        Encoding::Windows1250 => WINDOWS_1250.decode_without_bom_handling(body),
        Encoding::ShiftJis => SHIFT_JIS.decode_without_bom_handling(body),
        Encoding::Windows1252 => WINDOWS_1252.decode_without_bom_handling(body),
    };
    // A write that broke off leaves its block filled with zeros.
    let text = match text {
        Cow::Borrowed(text) => Cow::Borrowed(text.trim_end_matches('\0')),
        Cow::Owned(text) => Cow::Owned(text.trim_end_matches('\0').to_owned()),
    };
    if malformed || text.contains('\0') {
        let what = match bytes {
            [b'P', b'K', 3, 4, ..] => ", but a workbook or an archive (ZIP)",
            [0xD0, 0xCF, 0x11, 0xE0, ..] => ", but a workbook of an old form",
            [0x1F, 0x8B, ..] => ", but packed (gzip)",
            _ => "",
        };
        let message = format!("the file is not text{what}");
        let problem = Problem::of_file(Code::FILE_NOT_TEXT, file, message).expected(
            "comma, semicolon or tab separated text in UTF-8, UTF-16 or the western code page",
        );
        return Err(problem.into());
    }
    Ok((text, encoding))
}

/// Code pages that bytes taken as the western one may be in.
pub(super) const OTHER_PAGES: [Encoding; 2] = [Encoding::Windows1250, Encoding::ShiftJis];

/// Bytes of one of those pages as text; none where they cannot be.
pub(super) fn decode_page(bytes: &[u8], encoding: Encoding) -> Option<Cow<'_, str>> {
    let page = match encoding {
        Encoding::Windows1250 => WINDOWS_1250,
        Encoding::ShiftJis => SHIFT_JIS,
        _ => WINDOWS_1252,
    };
    let (text, malformed) = page.decode_without_bom_handling(bytes);
    (!malformed).then_some(text)
}

/// Text that was taken for the western code page and written as UTF-8 once more, mended: `Â°C`. None where it was not.
pub(super) fn unmangled(text: &str) -> Option<String> {
    if !text.contains(['Â', 'Ã']) && !text.contains("â€") {
        return None;
    }
    let (bytes, _, unmappable) = WINDOWS_1252.encode(text);
    let whole = (!unmappable)
        .then(|| String::from_utf8(bytes.into_owned()).ok())
        .flatten();
    // Of a text that is mangled in part, the signs of units at least.
    whole.or_else(|| {
        let mended = text
            .replace("Â°", "°")
            .replace("Âµ", "µ")
            .replace("Â²", "²");
        (mended != text).then_some(mended)
    })
}

/// The encoding of unmarked bytes: in UTF-16 every other byte of mostly western text is zero.
fn without_mark(bytes: &[u8]) -> Encoding {
    let sample = &bytes[..bytes.len().min(1024) & !1];
    let zeros = |parity: usize| {
        sample
            .iter()
            .skip(parity)
            .step_by(2)
            .filter(|&&byte| byte == 0)
            .count()
    };
    let mostly = sample.len() * 2 / 5;
    if sample.len() >= 4 && zeros(1) > mostly {
        Encoding::Utf16LittleEndian
    } else if sample.len() >= 4 && zeros(0) > mostly {
        Encoding::Utf16BigEndian
    } else if std::str::from_utf8(bytes).is_ok() {
        Encoding::Utf8
    } else {
        Encoding::Windows1252
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_way_to_fail_has_its_own_code() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let empty = folder.path().join("empty.toml");
        fs::write(&empty, "").expect("writable");
        let large = folder.path().join("large.toml");
        fs::write(&large, "# 123456789").expect("writable");
        for (path, limit, code) in [
            (folder.path().join("none.toml"), 10, Code::FILE_MISSING),
            (folder.path().to_owned(), 10, Code::FILE_IS_FOLDER),
            (empty, 10, Code::FILE_EMPTY),
            (large.clone(), 10, Code::FILE_TOO_LARGE),
        ] {
            let problem = read_bytes(&path, limit).expect_err("unreadable").only();
            assert_eq!(
                (problem.code, problem.file),
                (code, path.display().to_string())
            );
            assert!(problem.expected.is_some());
        }
        assert_eq!(read_bytes(&large, 11).expect("just fits").len(), 11);
    }

    #[test]
    fn one_text_arrives_alike_in_every_encoding() {
        let text = "time_s;charge_temp (°C)\r\n0,1;25\r\n";
        let utf16 =
            |bytes: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(bytes).collect::<Vec<u8>>();
        let marked = |mark: &[u8], body: Vec<u8>| [mark, &body].concat();
        for (bytes, encoding) in [
            (text.as_bytes().to_vec(), Encoding::Utf8),
            (
                marked(&[0xEF, 0xBB, 0xBF], text.as_bytes().to_vec()),
                Encoding::Utf8,
            ),
            (
                marked(&[0xFF, 0xFE], utf16(u16::to_le_bytes)),
                Encoding::Utf16LittleEndian,
            ),
            (
                marked(&[0xFE, 0xFF], utf16(u16::to_be_bytes)),
                Encoding::Utf16BigEndian,
            ),
            (utf16(u16::to_le_bytes), Encoding::Utf16LittleEndian),
            (utf16(u16::to_be_bytes), Encoding::Utf16BigEndian),
            (
                WINDOWS_1252.encode(text).0.into_owned(),
                Encoding::Windows1252,
            ),
        ] {
            let (read, found) = decode_recording("a.csv", &bytes).expect("text");
            assert_eq!((read.as_ref(), found), (text, encoding));
        }
    }

    #[test]
    fn binary_is_refused() {
        let problem = decode_recording("a.csv", b"PK\x03\x04\x00\x01\xFFabc\x00")
            .expect_err("binary")
            .only();
        assert_eq!(problem.code, Code::FILE_NOT_TEXT);
        let problem = decode_utf8("car.toml", b"a = 1\nb = \"\xB0C\"".to_vec())
            .expect_err("not UTF-8")
            .only();
        assert_eq!(
            (problem.code, problem.value.as_deref()),
            (Code::FILE_NOT_TEXT, Some("byte 0xB0 at offset 11"))
        );
        assert!(problem.message.contains("line 2"));
    }
}
