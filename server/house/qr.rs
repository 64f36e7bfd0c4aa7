//! QR codes as pictures that stand in the page itself.

use anyhow::Context as _;
use qrcode::render::svg::Color;
use qrcode::{EcLevel, QrCode};

use super::errors::AppError;

/// A QR code of an address, as an SVG element: dark on light with its quiet margin, four units a module. Issued papers
/// depend on every byte of it.
///
/// # Errors
/// An address that is too long for a QR code (over 2 300 characters).
pub fn svg(address: &str) -> Result<String, AppError> {
    let code = QrCode::with_error_correction_level(address, EcLevel::M).context("an address is too long for a QR code")?;
    let picture = code.render::<Color<'_>>().module_dimensions(4, 4).build();
    let element = picture.find("<svg").and_then(|start| picture.get(start..)).unwrap_or_default();
    Ok(element.replacen("<svg", "<svg class=\"qr\" role=\"img\" aria-label=\"QR code of the address beside it\"", 1))
}

/// The same code as a symbol that other pictures of a page show by its id, at any size.
///
/// # Errors
/// As for [`svg`].
pub fn symbol(address: &str, id: &str) -> Result<String, AppError> {
    let element = svg(address)?;
    let view = element.split_once("viewBox=\"").and_then(|(_, rest)| rest.split_once('"')).map_or("0 0 100 100", |(view, _)| view);
    let inside = element.split_once('>').and_then(|(_, rest)| rest.rsplit_once("</svg>")).map_or("", |(inside, _)| inside);
    Ok(format!("<symbol id=\"{id}\" viewBox=\"{view}\">{inside}</symbol>"))
}
