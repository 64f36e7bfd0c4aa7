//! The document that staff and buyers see and print: the frozen paper with a style sheet and a strip that proves it.
//! It is worked out from the stored row and the key alone, so that every showing and every reprint is the same, byte for byte.

use askama::Template;

use super::model::Paper;
use super::wording::{Tongue, Wording};
use crate::house::assets;
use crate::house::errors::AppError;
use crate::house::paths;
use crate::house::qr;
use crate::house::secrets::LinkKey;

/// Where the style sheet's address goes in.
const HEAD_END: &str = "</head>";
/// Where the strip goes in. The figure is the edition: a new look gets a new mark, and old papers keep theirs.
const STRIP_1: &str = "<!--strip-1-->";
const STRIP_2: &str = "<!--strip-2-->";
/// What a sheet of labels holds in its head: the edition, and its page in tenths of a millimetre.
const LABELS_1: &str = "<!--labels-1 ";
/// Where the part that named a person stood. What it says when that person was erased.
const ERASED: &str = "<p class=\"erased\">What named the buyer was erased. The number, the animals and all else stay as issued.</p>";

#[derive(Template)]
#[template(path = "papers/strip-1.html")]
struct Strip1<'a> {
    paper: &'a Paper,
    link: &'a str,
    code: &'a str,
}

#[derive(Template)]
#[template(path = "papers/strip-2.html")]
struct Strip2<'a> {
    paper: &'a Paper,
    link: &'a str,
    code: &'a str,
}

/// The strip of edition 2 in German.
#[derive(Template)]
#[template(path = "papers/strip-2-de.html")]
struct Strip2German<'a> {
    paper: &'a Paper,
    link: &'a str,
    code: &'a str,
    issued: String,
}

/// The strip of edition 2, in the language of the paper as far as it is there.
fn strip_2(paper: &Paper, link: &str, code: &str) -> Result<String, AppError> {
    if paper.language == Tongue::German.code() {
        let issued = (Wording::in_tongue(Tongue::German).long_day)(paper.issued_on);
        return Ok(Strip2German { paper, link, code, issued }.render()?);
    }
    Ok(Strip2 { paper, link, code }.render()?)
}

/// A document that was never issued, with the newest look and without a strip.
pub(super) fn styled(document: &str) -> String {
    let link = format!("<link rel=\"stylesheet\" href=\"{}\">\n{HEAD_END}", assets::address("sheet-2.css"));
    document.replacen(HEAD_END, &link, 1).replacen(STRIP_2, "", 1)
}

/// The mark of a sheet of labels, by its page in tenths of a millimetre.
pub(super) fn label_mark(width: i64, height: i64) -> String {
    format!("{LABELS_1}{width}x{height}-->")
}

/// The page of a sheet of labels, as its mark has it: `2100x2970`; nothing for other papers.
fn label_page(body: &str) -> Option<&str> {
    let (_, rest) = body.split_once(LABELS_1)?;
    let (page, _) = rest.split_once("-->")?;
    label_size(page).map(|_| page)
}

/// Width and height of a label sheet's page, tenths of a millimetre, out of `2100x2970`.
pub(super) fn label_size(page: &str) -> Option<(u16, u16)> {
    let (width, height) = page.split_once('x')?;
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let sizes = width.parse::<u16>().ok().zip(height.parse::<u16>().ok())?;
    let sound = digits(width) && digits(height) && (200..=5000).contains(&sizes.0) && (200..=5000).contains(&sizes.1);
    sound.then_some(sizes)
}

/// The style sheet of a size of page; nothing for sizes that are not known.
fn page_style(size: &str) -> Option<&'static str> {
    match size {
        "a4" => Some("page-a4.css"),
        "letter" => Some("page-letter.css"),
        _ => None,
    }
}

/// The shown document, on pages of a size (`a4`, `letter`) or else of the printer's own; nothing when the stored bytes are not those that
/// were issued.
///
/// # Errors
/// The strip can't be drawn.
pub(super) fn document(paper: &Paper, key: &LinkKey, size: &str) -> Result<Option<String>, AppError> {
    if !paper.is_as_issued() && !paper.person_is_gone() {
        return Ok(None);
    }
    let whole = paper.document();
    let Ok(body) = std::str::from_utf8(&whole) else { return Ok(None) };
    let link = paper.printed_address(key);
    let code = qr::svg(&link)?;
    let first = body.contains(STRIP_1);
    let (mark, strip, look) = match first {
        true => (STRIP_1, Strip1 { paper, link: &link, code: &code }.render()?, "sheet-1.css"),
        false => (STRIP_2, strip_2(paper, &link, &code)?, "sheet-2.css"),
    };
    let sheets = match label_page(body) {
        Some(page) => [Some(assets::address("labels-1.css")), Some(paths::label_page(page))],
        None => [Some(assets::address(look)), page_style(size).map(assets::address)],
    };
    let link_to = |address: String| format!("<link rel=\"stylesheet\" href=\"{address}\">\n");
    let style: String = sheets.into_iter().flatten().map(link_to).collect();
    let shown = body.replacen(HEAD_END, &format!("{style}{HEAD_END}"), 1).replacen(mark, &strip, 1);
    Ok(Some(shown.replacen(super::model::PERSON, ERASED, 1)))
}
