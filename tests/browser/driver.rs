//! A headless Chromium, driven over `WebDriver`: started for one test, ended with it.

use std::net::TcpListener;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use base64::Engine as _;
use thirtyfour::prelude::*;

/// Whether pages may run scripts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scripts {
    On,
    Off,
}

/// A browser, and how often it was tapped.
pub struct Browser {
    pub driver: WebDriver,
    taps: u32,
    service: Child,
    /// Removed with the browser; none when the test keeps it.
    profile: Option<tempfile::TempDir>,
}

/// A port of this machine that is free now.
pub fn free_port() -> u16 {
    TcpListener::bind(("127.0.0.1", 0)).unwrap().local_addr().unwrap().port()
}

/// Where screenshots are kept for people to look at.
pub fn pictures() -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

impl Browser {
    /// Starts a browser with a window of this size.
    pub async fn start(width: u32, height: u32, scripts: Scripts) -> Self {
        let profile = tempfile::tempdir().unwrap();
        let mut browser = Self::start_in(profile.path(), width, height, scripts).await;
        browser.profile = Some(profile);
        browser
    }

    /// Starts a browser that keeps what it keeps in a folder of the test's own, so that it can be killed and started again.
    pub async fn start_in(profile: &Path, width: u32, height: u32, scripts: Scripts) -> Self {
        let port = free_port();
        let service = Command::new("chromedriver")
            .arg(format!("--port={port}"))
            .arg("--log-level=SEVERE")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .process_group(0)
            .spawn()
            .expect("chromedriver is installed by tests/run");
        let mut wanted = DesiredCapabilities::chrome();
        for flag in [
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--hide-scrollbars",
        ] {
            wanted.add_arg(flag).unwrap();
        }
        wanted.add_arg(&format!("--user-data-dir={}", profile.display())).unwrap();
        wanted.add_arg(&format!("--window-size={width},{height}")).unwrap();
        if scripts == Scripts::Off {
            let off = serde_json::json!({ "profile.managed_default_content_settings.javascript": 2 });
            wanted.add_experimental_option("prefs", off).unwrap();
        }
        let driver = connect(port, wanted).await;
        // The window's outer size is not the page's: the device's own metrics are set instead, so that 320 px can be had.
        let size = serde_json::json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        driver.cdp().send_raw("Emulation.setDeviceMetricsOverride", size).await.unwrap();
        Self { driver, taps: 0, service, profile: None }
    }

    /// Opens a page.
    pub async fn open(&self, address: &str) {
        self.driver.goto(address).await.unwrap();
    }

    /// The first element that matches, or a panic that shows the page.
    pub async fn find(&self, css: &str) -> WebElement {
        for _ in 0..150 {
            if let Ok(found) = self.driver.find(By::Css(css)).await {
                return found;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        panic!("no {css} at {}:\n{}", self.address().await, self.words().await)
    }

    /// Taps the first element that matches, and counts it.
    pub async fn tap(&mut self, css: &str) {
        let element = self.find(css).await;
        element.scroll_into_view().await.ok();
        self.taps += 1;
        element.click().await.unwrap_or_else(|error| panic!("{css} can't be tapped: {error}"));
    }

    /// Taps the first button or link with these words inside an element, and counts it.
    pub async fn tap_words(&mut self, within: &str, words: &str) {
        let path = format!(".//*[self::button or self::a or self::summary or self::label][contains(normalize-space(.), \"{words}\")]");
        let element = match self.find(within).await.find(By::XPath(path)).await {
            Ok(found) => found,
            Err(_) => panic!("nothing reads “{words}” in {within} at {}:\n{}", self.address().await, self.words().await),
        };
        self.taps += 1;
        element.click().await.unwrap_or_else(|error| panic!("“{words}” can't be tapped: {error}"));
    }

    /// Taps what a path finds, and counts it.
    pub async fn tap_path(&mut self, path: &str) {
        let Ok(element) = self.driver.find(By::XPath(path)).await else {
            panic!("nothing at {path} on {}:\n{}", self.address().await, self.words().await)
        };
        element.scroll_into_view().await.ok();
        self.taps += 1;
        element.click().await.unwrap_or_else(|error| panic!("{path} can't be tapped: {error}"));
    }

    /// Whether a path finds something.
    pub async fn has_path(&self, path: &str) -> bool {
        self.driver.find(By::XPath(path)).await.is_ok()
    }

    /// All elements that match.
    pub async fn all(&self, css: &str) -> Vec<WebElement> {
        self.driver.find_all(By::Css(css)).await.unwrap()
    }

    /// Types over what a field holds.
    pub async fn type_in(&self, css: &str, text: &str) {
        let field = self.find(css).await;
        field.clear().await.ok();
        field.send_keys(text).await.unwrap();
    }

    /// Chooses an option of a list by its code.
    pub async fn choose(&self, css: &str, code: &str) {
        self.find(&format!("{css} option[value=\"{code}\"]")).await.click().await.unwrap();
    }

    /// What the page says.
    pub async fn words(&self) -> String {
        match self.driver.find(By::Tag("body")).await {
            Ok(body) => body.text().await.unwrap_or_default(),
            Err(_) => String::new(),
        }
    }

    /// Where the browser is.
    pub async fn address(&self) -> String {
        self.driver.current_url().await.unwrap().to_string()
    }

    /// The page says this.
    pub async fn says(&self, words: &str) {
        // A tap that sends a form does not wait for the answer.
        for _ in 0..150 {
            if self.words().await.contains(words) {
                return;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        panic!("“{words}” is not at {}:\n{}", self.address().await, self.words().await);
    }

    /// How many pages this window has loaded so far.
    pub async fn loads(&self) -> usize {
        let history = self.driver.cdp().send_raw("Page.getNavigationHistory", serde_json::json!({})).await.unwrap();
        history["entries"].as_array().unwrap().len()
    }

    /// How many taps since last asked.
    pub fn taps(&mut self) -> u32 {
        std::mem::take(&mut self.taps)
    }

    /// Keeps a picture of the whole page for people to look at.
    pub async fn picture(&self, name: &str) {
        let tools = self.driver.cdp();
        let metrics = tools.send_raw("Page.getLayoutMetrics", serde_json::json!({})).await.unwrap();
        let (size, view) = (&metrics["cssContentSize"], &metrics["cssLayoutViewport"]);
        // Very long pages are cut: a picture is for looking at.
        let height = size["height"].as_f64().unwrap().clamp(view["clientHeight"].as_f64().unwrap(), 2600.0);
        let clip = serde_json::json!({ "x": 0, "y": 0, "width": view["clientWidth"], "height": height, "scale": 1 });
        let wanted = serde_json::json!({ "captureBeyondViewport": true, "clip": clip });
        let taken = tools.send_raw("Page.captureScreenshot", wanted).await.unwrap();
        let bytes = base64::engine::general_purpose::STANDARD.decode(taken["data"].as_str().unwrap()).unwrap();
        std::fs::write(pictures().join(format!("{name}.png")), bytes).unwrap();
    }

    /// Takes the wireless away from the page, or gives it back.
    pub async fn offline(&self, offline: bool) {
        let wanted = serde_json::json!({ "offline": offline, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1 });
        self.driver.cdp().send_raw("Network.emulateNetworkConditions", wanted).await.unwrap();
    }

    /// Kills the browser as a phone does that needs its memory: at once, with every process.
    pub fn kill(self) {
        drop(self);
    }

    /// Ends the browser.
    pub async fn end(self) {
        self.driver.clone().quit().await.ok();
    }
}

impl Drop for Browser {
    /// Ends the driver and every browser process that it started, also when a test stops half way.
    fn drop(&mut self) {
        Command::new("kill").args(["-9", "--", &format!("-{}", self.service.id())]).status().ok();
        self.service.wait().ok();
    }
}

async fn connect(port: u16, wanted: thirtyfour::ChromeCapabilities) -> WebDriver {
    for _ in 0..100 {
        if let Ok(driver) = WebDriver::new(format!("http://127.0.0.1:{port}"), wanted.clone()).await {
            return driver;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("chromedriver did not answer on port {port}");
}
