//! Bytes to text. A file that is not UTF-8 is refused with what it seems to be, never guessed at.

/// The text of a file, without its byte order mark.
///
/// # Errors
/// What is wrong with the file, and how to save it again.
pub fn text(bytes: &[u8]) -> Result<&str, Vec<String>> {
    let refuse = |problem: &str| Err(vec![problem.to_owned()]);
    if bytes.is_empty() {
        return refuse("The file is empty. Choose the file with the lines to import.");
    }
    if bytes.len() > super::LARGEST_FILE {
        return refuse("The file is larger than 16 MiB. Divide it into several files, each with the line of column names.");
    }
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"\xd0\xcf\x11\xe0") {
        return refuse("This is a spreadsheet file, not CSV. Save it from the spreadsheet as “CSV UTF-8” and choose that file.");
    }
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
        return refuse("This file is UTF-16 (“Unicode text”). Save it as “CSV UTF-8”.");
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if bytes.contains(&0) {
        return refuse("This file holds zero bytes, so it is not a text file. Save it as “CSV UTF-8”.");
    }
    let text = std::str::from_utf8(bytes).map_err(|error| vec![not_utf8(bytes, error.valid_up_to())])?;
    if text.trim().is_empty() {
        return refuse("The file holds nothing but blank lines. Choose the file with the lines to import.");
    }
    Ok(text)
}

fn not_utf8(bytes: &[u8], good: usize) -> String {
    let (before, rest) = bytes.split_at_checked(good).unwrap_or((bytes, &[]));
    let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
    let seen = rest.first().copied().and_then(windows_1252);
    match seen {
        Some(letter) => format!(
            "Line {line} is not UTF-8. Read as Windows-1252 it would hold “{letter}” there, so the file was probably saved in that \
             encoding: save it again as “CSV UTF-8”."
        ),
        None => format!("Line {line} is not UTF-8. Save the file again as “CSV UTF-8”."),
    }
}

/// The letter that a byte above 127 stands for in Windows-1252; none where that has no letter (WHATWG Encoding, index windows-1252).
fn windows_1252(byte: u8) -> Option<char> {
    const LOW: [char; 32] = [
        '€', '\0', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\0', 'Ž', '\0', '\0', '‘', '’', '“', '”', '•', '–', '—', '˜',
        '™', 'š', '›', 'œ', '\0', 'ž', 'Ÿ',
    ];
    match byte {
        0x80..=0x9f => LOW.get(usize::from(byte - 0x80)).copied().filter(|letter| *letter != '\0'),
        0xa0..=0xff => Some(char::from(byte)),
        _ => None,
    }
}
