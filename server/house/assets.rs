//! Static files, embedded, each under a name that holds its hash and so may be kept for ever.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use include_dir::{Dir, include_dir};

use super::access::{May, Routes};
use super::errors::AppError;
use super::extract::Path;
use super::secrets::sha256_hex;

static FILES: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/static");

struct Asset {
    bytes: Vec<u8>,
    kind: &'static str,
}

struct Assets {
    by_hashed_name: BTreeMap<String, Asset>,
    hashed_names: BTreeMap<String, String>,
}

static ASSETS: LazyLock<Assets> = LazyLock::new(Assets::load);

impl Assets {
    /// Style sheets name other files, so they are read last and their references are replaced by hashed names.
    fn load() -> Self {
        let mut assets = Self { by_hashed_name: BTreeMap::new(), hashed_names: BTreeMap::new() };
        let (sheets, others): (Vec<_>, Vec<_>) = FILES.files().partition(|file| file.path().extension().is_some_and(|kind| kind == "css"));
        for file in others {
            assets.add(&file.path().to_string_lossy(), file.contents().to_vec());
        }
        for file in sheets {
            let mut text = file.contents_utf8().unwrap_or_default().to_owned();
            for (plain, hashed) in &assets.hashed_names {
                text = text.replace(&format!("url(\"{plain}\")"), &format!("url(\"{hashed}\")"));
            }
            assets.add(&file.path().to_string_lossy(), text.into_bytes());
        }
        assets
    }

    fn add(&mut self, name: &str, bytes: Vec<u8>) {
        let hash: String = sha256_hex(&bytes).chars().take(16).collect();
        let (stem, kind) = name.rsplit_once('.').unwrap_or((name, ""));
        let hashed = format!("{stem}-{hash}.{kind}");
        let kind = match kind {
            "css" => "text/css; charset=utf-8",
            "svg" => "image/svg+xml",
            "woff2" => "font/woff2",
            "txt" => "text/plain; charset=utf-8",
            _ => "application/octet-stream",
        };
        self.hashed_names.insert(name.to_owned(), hashed.clone());
        self.by_hashed_name.insert(hashed, Asset { bytes, kind });
    }
}

/// The address of a static file, for templates. An unknown name gives an address that answers 404, which a test looks for.
#[must_use]
pub fn address(name: &str) -> String {
    let hashed = ASSETS.hashed_names.get(name).map_or(name, String::as_str);
    format!("/static/{hashed}")
}

/// The routes of static files.
#[must_use]
pub fn routes() -> Routes {
    Routes::new().get("/static/{name}", May::Anybody, show)
}

async fn show(Path(name): Path<String>) -> Result<Response, AppError> {
    let asset = ASSETS.by_hashed_name.get(&name).ok_or(AppError::NotFound)?;
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(asset.kind)),
        (header::CACHE_CONTROL, HeaderValue::from_static("public, max-age=31536000, immutable")),
    ];
    Ok((StatusCode::OK, headers, asset.bytes.clone()).into_response())
}
