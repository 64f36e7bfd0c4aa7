//! The README's first command, and every main page of the house that it serves: narrow and wide, in every theme, by the
//! accessibility rules of axe-core.

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::driver::{Browser, Scripts, free_port};

/// The pages that a lead who also keeps can open.
const PAGES: [(&str, &str); 80] = [
    ("round", "/round"),
    ("today", "/today"),
    ("cohorts", "/cohorts"),
    ("share-out", "/today/share?member=3&minutes=240&present=3"),
    ("prey", "/today/prey"),
    ("prey-delivery", "/today/prey/enter"),
    ("prey-kinds", "/today/prey/kinds"),
    ("ahead", "/today/ahead"),
    ("duties", "/today/duties?only=unassigned"),
    ("rota", "/staff/rota"),
    ("hours", "/staff/members/3/hours"),
    ("paper", "/round/paper"),
    ("paper-enter", "/round/paper/enter"),
    ("why-due", "/animals/26/due"),
    ("apart", "/animals/26/apart"),
    ("board", "/handling/board"),
    ("who-may", "/handling/who-may"),
    ("walking-order", "/rooms/order"),
    ("rules", "/species/4/rules"),
    ("cohort", "/cohorts/2"),
    ("cohort-alarm", "/cohorts/10"),
    ("animals", "/animals"),
    ("animal", "/animals/26"),
    ("forecasts", "/animals/forecasts"),
    ("handovers", "/handovers"),
    ("handover", "/handovers/3"),
    ("breeding", "/breeding"),
    ("planned-pairing", "/breeding/planned"),
    ("sac", "/breeding/sacs/2"),
    ("handling", "/handling"),
    ("emergency", "/handling/emergency"),
    ("species", "/species/4"),
    ("rooms", "/rooms"),
    ("rack", "/racks/7"),
    ("reading", "/racks/7/read"),
    ("audit", "/records/audit"),
    ("import", "/records/import"),
    ("stock", "/stock"),
    ("stock-ready", "/stock?only=yes"),
    ("orders", "/orders"),
    ("order", "/orders/1"),
    ("order-new", "/orders/new"),
    ("pick-list", "/orders/1/pick"),
    ("reservations", "/reservations"),
    ("prices", "/prices"),
    ("price-list", "/prices/1"),
    ("outings", "/outings"),
    ("outing-back", "/outings/1"),
    ("outing-packing", "/outings/2/pack"),
    ("dispatch", "/dispatch"),
    ("dispatch-rules", "/dispatch/rules"),
    ("buyers", "/buyers"),
    ("buyer", "/buyers/1"),
    ("buyers-data", "/buyers/data"),
    ("buyers-rule", "/buyers/rule"),
    ("buyer-erase", "/buyers/1/erase"),
    ("recalls", "/recall"),
    ("recall", "/recall/1"),
    ("recall-new", "/recall/new?animal=26"),
    ("paper-settings", "/papers/settings"),
    ("label-sheets", "/papers/label-sheets"),
    ("vial-labels", "/papers/vial-labels/2"),
    ("provenance", "/papers/provenance?animal=26"),
    ("stock-statements", "/papers/stock-statements"),
    ("verify", "/verify"),
    ("lines", "/breeding/lines"),
    ("line", "/breeding/lines/1"),
    ("kinship", "/breeding/kinship?species=14"),
    ("pairing", "/breeding/pairings/1"),
    ("introduction", "/breeding/pairings/10/introduced"),
    ("sac-log", "/breeding/sacs/2/log"),
    ("sac-seen", "/breeding/sacs/2/seen"),
    ("lineage", "/animals/173/lineage"),
    ("lineage-cohort", "/cohorts/14/lineage"),
    ("scorecard", "/cohorts/16/scorecard"),
    ("scorecards", "/species/14/scorecards"),
    ("holdbacks", "/cohorts/2/holdbacks"),
    ("texts", "/species/texts"),
    ("texts-of-species", "/species/4/text"),
    ("text-editor", "/species/4/text/en"),
];

struct Demo {
    process: Child,
    address: String,
    _folder: tempfile::TempDir,
}

impl Demo {
    /// Builds and serves the demo with the built program.
    fn start() -> Self {
        let built = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/release/silkward");
        let program = if built.exists() { built } else { env!("CARGO_BIN_EXE_silkward").into() };
        let folder = tempfile::tempdir().unwrap();
        let port = free_port();
        let started = Instant::now();
        let process = Command::new(program)
            .args(["demo", "--listen", &format!("127.0.0.1:{port}"), "--data"])
            .arg(folder.path())
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        let mut demo = Self { process, address: format!("http://127.0.0.1:{port}"), _folder: folder };
        while std::net::TcpStream::connect(("127.0.0.1", port)).is_err() {
            assert!(demo.process.try_wait().unwrap().is_none(), "the demo ended before it served");
            assert!(started.elapsed() < Duration::from_secs(240), "the demo is not served yet");
            std::thread::sleep(Duration::from_millis(100));
        }
        println!("the demo was served after {:.1} s", started.elapsed().as_secs_f64());
        demo
    }
}

impl Drop for Demo {
    fn drop(&mut self) {
        self.process.kill().ok();
        self.process.wait().ok();
    }
}

async fn signed_in(demo: &Demo, width: u32, height: u32) -> Browser {
    let mut browser = Browser::start(width, height, Scripts::On).await;
    browser.open(&format!("{}/sign-in", demo.address)).await;
    browser.type_in("#sign_in_name", "tamsin").await;
    browser.type_in("#pass_phrase", "seven wet umbrellas dancing").await;
    browser.tap("main form.sheet button").await;
    browser.says("Today").await;
    browser
}

/// Runs axe-core in the page and gives each broken rule with the first place where it breaks.
async fn broken_rules(browser: &Browser) -> Vec<String> {
    let axe = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/tools/node_modules/axe-core/axe.min.js");
    let axe = std::fs::read_to_string(&axe).expect("axe-core is installed by tests/run");
    browser.driver.execute(axe, Vec::new()).await.unwrap();
    let run = "const done = arguments[arguments.length - 1];
        axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }).then(found =>
            done(found.violations.map(rule => rule.id + ': ' + rule.help + ' — ' + rule.nodes[0].html.slice(0, 160))));";
    browser.driver.execute_async(run, Vec::new()).await.unwrap().convert().unwrap()
}

/// How far the page can be pushed sideways, in pixels; what a table does in a scroller of its own does not count.
async fn sideways(browser: &Browser) -> i64 {
    let measure = "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
    browser.driver.execute(measure, Vec::new()).await.unwrap().convert().unwrap()
}

/// What a room's tablet shows, held to the same rules: its room, the first shelf, and the first duty that is signed by itself.
async fn rooms_tablet(demo: &Demo) -> Vec<String> {
    let mut lead = signed_in(demo, 1280, 900).await;
    lead.open(&format!("{}/staff/tablets", demo.address)).await;
    lead.type_in("#name", "By the door").await;
    lead.choose("#room", "1").await;
    lead.tap_words("main form.sheet", "Make its address").await;
    let link = lead.find("#link").await.text().await.unwrap();
    lead.end().await;
    let mut tablet = Browser::start(390, 844, Scripts::On).await;
    tablet.open(&link).await;
    tablet.tap("main button").await;
    tablet.says("By the door").await;
    let mut faults = Vec::new();
    for (name, first) in [("room", ""), ("shelf", "a[href^='/tablet/shelves/']"), ("duty", "a[href^='/tablet/duties/']")] {
        tablet.open(&format!("{}/tablet", demo.address)).await;
        if !first.is_empty() {
            let link = tablet.find(first).await.attr("href").await.unwrap().unwrap();
            tablet.open(&format!("{}{link}", demo.address)).await;
        }
        faults.extend(broken_rules(&tablet).await.into_iter().map(|rule| format!("the tablet's {name}: {rule}")));
        let over = sideways(&tablet).await;
        if over > 0 {
            faults.push(format!("the tablet's {name} can be pushed {over} px sideways"));
        }
        tablet.picture(&format!("tablet-{name}-390")).await;
    }
    tablet.end().await;
    faults
}

#[tokio::test(flavor = "multi_thread")]
async fn every_main_page_fits_a_phone_and_a_desk_and_keeps_the_accessibility_rules() {
    let demo = Demo::start();
    let mut faults = Vec::new();
    for (width, height, theme) in [(320, 700, "light"), (390, 844, "dim"), (390, 844, "light"), (1280, 900, "dark"), (1280, 900, "light")] {
        let mut browser = signed_in(&demo, width, height).await;
        browser.open(&format!("{}/account", demo.address)).await;
        browser.tap(&format!("button[name=theme][value={theme}]")).await;
        browser.find(&format!("html[data-theme={theme}]")).await;
        let for_looking = width != 320 && theme != "dark";
        for (name, path) in PAGES {
            browser.open(&format!("{}{path}", demo.address)).await;
            let over = sideways(&browser).await;
            if over > 0 {
                faults.push(format!("{path} at {width} px can be pushed {over} px sideways"));
            }
            if !for_looking || theme == "dim" {
                faults.extend(broken_rules(&browser).await.into_iter().map(|rule| format!("{path} at {width} px, {theme}: {rule}")));
            }
            if for_looking {
                browser.picture(&format!("{name}-{width}-{theme}")).await;
            }
        }
        browser.end().await;
    }
    faults.extend(rooms_tablet(&demo).await);
    faults.sort();
    faults.dedup();
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}
