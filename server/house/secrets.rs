//! Random secrets, their hashes, and the key from which buyers' links are worked out.

use std::fs;
use std::io::Write as _;
use std::path::Path;

use anyhow::Context as _;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use hmac::{Hmac, KeyInit as _, Mac as _};
use rand::RngExt as _;
use sha2::{Digest as _, Sha256};

/// A fresh secret of 160 random bits, safe in an address: 27 characters.
#[must_use]
pub fn random_token() -> String {
    let bytes: [u8; 20] = rand::rng().random();
    URL_SAFE_NO_PAD.encode(bytes)
}

/// SHA-256 in lower-case hexadecimal.
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Bytes in lower-case hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a String can't fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// The key that turns a paper's nonce into its buyer's link. It lives beside the database, not in it, so that a copy of
/// the database alone opens no buyer's page.
#[derive(Clone)]
pub struct LinkKey([u8; 32]);

impl std::fmt::Debug for LinkKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("LinkKey(…)")
    }
}

impl LinkKey {
    /// Reads the key from the data folder, or makes it the first time.
    ///
    /// # Errors
    /// A folder that can't be read or written, or a key file of the wrong length.
    pub fn open(data: &Path) -> anyhow::Result<Self> {
        let file = data.join("link.key");
        match fs::read(&file) {
            Ok(bytes) => Ok(Self(bytes.try_into().map_err(|_| anyhow::anyhow!("{} is damaged: it must hold 32 bytes", file.display()))?)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                let key: [u8; 32] = rand::rng().random();
                let mut made = fs::File::create_new(&file).with_context(|| format!("cannot write {}", file.display()))?;
                made.write_all(&key)?;
                made.sync_all()?;
                Ok(Self(key))
            }
            Err(error) => Err(error).with_context(|| format!("cannot read {}", file.display())),
        }
    }

    /// The secret part of a buyer's link for a nonce: 27 characters, safe in an address.
    #[must_use]
    pub fn token(&self, nonce: &str) -> String {
        // HMAC takes a key of any length, so this can't fail; an empty token would open nothing.
        let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(&self.0) else { return String::new() };
        mac.update(nonce.as_bytes());
        URL_SAFE_NO_PAD.encode(mac.finalize().into_bytes().iter().take(20).copied().collect::<Vec<u8>>())
    }
}
