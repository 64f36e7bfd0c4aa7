//! The document that staff and buyers see and print: the frozen sheet with a style sheet and a strip that proves it.
//! It is worked out from the stored row and the key alone, so that every showing and every reprint is the same, byte for byte.

use askama::Template;

use super::model::Paper;
use crate::house::assets;
use crate::house::errors::AppError;
use crate::house::qr;
use crate::house::secrets::LinkKey;

/// Where the style sheet's address goes in.
const HEAD_END: &str = "</head>";
/// Where the strip goes in. The figure is the strip's edition: a new look gets a new mark, and old papers keep theirs.
const STRIP: &str = "<!--strip-1-->";

#[derive(Template)]
#[template(path = "papers/strip-1.html")]
struct Strip<'a> {
    paper: &'a Paper,
    link: &'a str,
    code: &'a str,
}

/// The shown document; nothing when the stored bytes are not those that were issued.
///
/// # Errors
/// The strip can't be drawn.
pub(super) fn document(paper: &Paper, key: &LinkKey) -> Result<Option<String>, AppError> {
    if !paper.is_as_issued() {
        return Ok(None);
    }
    let Ok(body) = std::str::from_utf8(&paper.body) else { return Ok(None) };
    let link = paper.link(key, &paper.nonce);
    let strip = Strip { paper, link: &link, code: &qr::svg(&link)? }.render()?;
    let style = format!("<link rel=\"stylesheet\" href=\"{}\">\n{HEAD_END}", assets::address("sheet-1.css"));
    Ok(Some(body.replacen(HEAD_END, &style, 1).replacen(STRIP, &strip, 1)))
}
