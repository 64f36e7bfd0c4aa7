//! Configuration, from flags and `SILKWARD_*` variables; everything is checked at start.

use std::net::SocketAddr;
use std::path::PathBuf;

use url::Url;

/// How this process serves.
#[derive(Debug, Clone)]
pub struct Config {
    /// The folder that holds everything: database, lock, link key.
    pub data: PathBuf,
    /// The address to listen on.
    pub listen: SocketAddr,
    /// The address that browsers use, without a trailing slash: links, QR codes and the origin check are built from it.
    pub public_url: String,
    /// Whether browsers come over TLS (the public address begins with https).
    pub secure: bool,
}

/// Why a configuration is refused.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The public address can't be read.
    #[error("--public-url {given}: give an address such as https://book.example.org ({why})")]
    PublicUrl {
        /// What was given.
        given: String,
        /// What is wrong with it.
        why: String,
    },
    /// Plain HTTP where others can listen in.
    #[error(
        "plain http would send pass phrases in the clear: listen on 127.0.0.1, or give --public-url https://… and put a TLS proxy in front"
    )]
    PlainHttp,
}

impl Config {
    /// Checks the parts and joins them. Without a public address, the listening address is used over plain HTTP,
    /// which is allowed on this machine's own loopback only.
    ///
    /// # Errors
    /// A public address that is not http(s) with a host and no path; plain HTTP on an address that others reach.
    pub fn new(data: PathBuf, listen: SocketAddr, public_url: Option<&str>) -> Result<Self, ConfigError> {
        let given = public_url.map_or_else(|| format!("http://{listen}"), str::to_owned);
        let refuse = |why: &str| ConfigError::PublicUrl { given: given.clone(), why: why.to_owned() };
        let url = Url::parse(&given).map_err(|error| refuse(&error.to_string()))?;
        if !matches!(url.scheme(), "http" | "https") || url.host_str().is_none() {
            return Err(refuse("it must begin with http:// or https:// and name a host"));
        }
        if url.path() != "/" || url.query().is_some() || url.fragment().is_some() || !url.username().is_empty() {
            return Err(refuse("it must hold nothing after the host and port"));
        }
        let secure = url.scheme() == "https";
        if !secure && !listen.ip().is_loopback() {
            return Err(ConfigError::PlainHttp);
        }
        let public_url = url.origin().ascii_serialization();
        Ok(Self { data, listen, public_url, secure })
    }

    /// The database file.
    #[must_use]
    pub fn database_file(&self) -> PathBuf {
        self.data.join("silkward.sqlite")
    }
}
