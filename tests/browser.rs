//! Pages in headless Chromium, against the real program on a real file.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

#[path = "browser/driver.rs"]
mod driver;

#[tokio::test]
async fn x() {
    let b = driver::Browser::start(320, 700, driver::Scripts::Off).await;
    b.open("data:text/html,<body><p>hi<noscript>none</noscript><script>document.write('JS')</script>").await;
    println!("{}", b.words().await);
    b.picture("x").await;
    b.end().await;
}
