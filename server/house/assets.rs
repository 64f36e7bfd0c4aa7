//! Static files, embedded, each under a name that holds its hash and so may be kept for ever.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use askama::Template;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use include_dir::{Dir, include_dir};

use super::access::{May, Routes};
use super::errors::{Answer, AppError};
use super::extract::Path;
use super::layout::page;
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
    /// Style sheets and scripts name other files, so they are read last and their references are replaced by hashed names.
    fn load() -> Self {
        let mut assets = Self { by_hashed_name: BTreeMap::new(), hashed_names: BTreeMap::new() };
        let named = |kind: &'static str| FILES.files().filter(move |file| file.path().extension().is_some_and(|known| known == kind));
        for file in FILES.files().filter(|file| !file.path().extension().is_some_and(|kind| kind == "css" || kind == "js")) {
            assets.add(&file.path().to_string_lossy(), file.contents().to_vec());
        }
        for file in named("css") {
            let mut text = file.contents_utf8().unwrap_or_default().to_owned();
            for (plain, hashed) in &assets.hashed_names {
                text = text.replace(&format!("url(\"{plain}\")"), &format!("url(\"{hashed}\")"));
            }
            assets.add(&file.path().to_string_lossy(), text.into_bytes());
        }
        let scripts = named("js").map(|file| (file.path().to_string_lossy().into_owned(), file.contents_utf8().unwrap_or_default()));
        assets.add_scripts(scripts.collect());
        assets
    }

    /// A script is added once all scripts that it names have been. Those that name each other in a circle are left out, and a
    /// page that asks for one gets a 404.
    fn add_scripts(&mut self, mut waiting: Vec<(String, &str)>) {
        loop {
            let names: Vec<String> = waiting.iter().map(|(name, _)| format!("\"/static/{name}\"")).collect();
            let (ready, rest): (Vec<_>, Vec<_>) = waiting.into_iter().partition(|(_, text)| !names.iter().any(|name| text.contains(name)));
            if ready.is_empty() {
                return;
            }
            for (name, text) in ready {
                let text = self.with_addresses(text);
                self.add(&name, text.into_bytes());
            }
            waiting = rest;
        }
    }

    /// A script with the addresses of the files that it names.
    fn with_addresses(&self, text: &str) -> String {
        self.hashed_names
            .iter()
            .fold(text.to_owned(), |text, (plain, hashed)| text.replace(&format!("\"/static/{plain}\""), &format!("\"/static/{hashed}\"")))
    }

    fn add(&mut self, name: &str, bytes: Vec<u8>) {
        let hash: String = sha256_hex(&bytes).chars().take(16).collect();
        let (stem, kind) = name.rsplit_once('.').unwrap_or((name, ""));
        let hashed = format!("{stem}-{hash}.{kind}");
        let kind = match kind {
            "css" => "text/css; charset=utf-8",
            "js" => "text/javascript; charset=utf-8",
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
    Routes::new().get("/static/{name}", May::Anybody, show).get("/service-worker.js", May::Anybody, service_worker).get(
        super::paths::OFFLINE,
        May::Anybody,
        offline,
    )
}

/// What keeps the shell at hand without a wireless. It stands at the root, so that it may answer for every page, and is asked
/// for anew each time, so that a new version of the house takes over.
async fn service_worker() -> Result<Response, AppError> {
    let name = ASSETS.hashed_names.get("service-worker.js").ok_or(AppError::NotFound)?;
    let script = ASSETS.by_hashed_name.get(name).ok_or(AppError::NotFound)?;
    let headers =
        [(header::CONTENT_TYPE, HeaderValue::from_static(script.kind)), (header::CACHE_CONTROL, HeaderValue::from_static("no-cache"))];
    Ok((StatusCode::OK, headers, script.bytes.clone()).into_response())
}

#[derive(Template)]
#[template(path = "shared/offline.html")]
struct OfflinePage {}

/// The shell: what a browser shows when there is no wireless. It holds nothing of the book.
async fn offline() -> Answer {
    let mut answer = page(&OfflinePage {})?;
    answer.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    Ok(answer)
}

async fn show(Path(name): Path<String>) -> Result<Response, AppError> {
    let asset = ASSETS.by_hashed_name.get(&name).ok_or(AppError::NotFound)?;
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(asset.kind)),
        (header::CACHE_CONTROL, HeaderValue::from_static("public, max-age=31536000, immutable")),
    ];
    Ok((StatusCode::OK, headers, asset.bytes.clone()).into_response())
}
