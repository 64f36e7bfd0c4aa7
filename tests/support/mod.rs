//! A house for tests: a real database file, the real router, a clock that stands still, and people who sign in.

use std::collections::BTreeMap;
use std::path::PathBuf;

use axum::Router;
use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use chrono::{DateTime, Utc};
use http_body_util::BodyExt as _;
use scraper::{Html, Selector};
use silkward::house::app::App;
use silkward::house::clock::Clock;
use silkward::house::config::Config;
use silkward::house::database::Durability;
use silkward::house::ids::MemberId;
use silkward::house::{router, session};
use tempfile::TempDir;
use tower::ServiceExt as _;

/// The house's address in tests.
pub const URL: &str = "http://127.0.0.1:7373";

/// The instant at which a test house's clock stands at first: a Wednesday noon in spring.
pub fn noon() -> DateTime<Utc> {
    "2026-04-15T12:00:00Z".parse().unwrap()
}

/// A running house of its own, on a fresh database.
pub struct TestHouse {
    pub app: App,
    router: Router,
    _folder: TempDir,
}

impl TestHouse {
    pub async fn start() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let config = Config::new(folder.path().to_path_buf(), "127.0.0.1:7373".parse().unwrap(), None).unwrap();
        std::fs::copy(migrated(), config.database_file()).unwrap();
        let app = App::open(config, Clock::standing_at(noon()), Durability::Full).await.unwrap();
        Self { router: router::build(&app), app, _folder: folder }
    }

    /// Moves the clock.
    pub fn set_clock(&self, instant: &str) {
        self.app.clock.set(instant.parse().unwrap());
    }

    /// A visitor who is not signed in.
    pub fn visitor(&self) -> Person {
        Person::at(self.router.clone())
    }

    /// A new member with roles such as `"lead keeper"`, signed in on a browser of their own.
    pub async fn person(&self, name: &str, roles: &str) -> Person {
        let role = |code: &str| i64::from(roles.split(' ').any(|role| role == code));
        let id: MemberId = sqlx::query_scalar(
            "INSERT INTO member (name, sign_in_name, pass_hash, is_owner, is_lead, is_keeper, is_counter, created_at)
             VALUES (?, ?, '', ?, ?, ?, ?, ?) RETURNING id",
        )
        .bind(name)
        .bind(name.to_lowercase())
        .bind(role("owner"))
        .bind(role("lead"))
        .bind(role("keeper"))
        .bind(role("counter"))
        .bind(self.app.now())
        .fetch_one(&self.app.database.writer)
        .await
        .unwrap();
        self.sign_in(id).await
    }

    /// A browser that is the tablet of a room, made by a member.
    pub async fn tablet(&self, room: i64, by: MemberId) -> Person {
        let mut write = self.app.write(Some(by)).await.unwrap();
        let room = silkward::house::ids::RoomId(room);
        let made = silkward::staff::store::devices::make(&mut write, "By the door", room).await.unwrap();
        write.commit(silkward::house::audit::Change::new("tablet.made", "device", "By the door"), "/").await.unwrap();
        let mut browser = self.visitor();
        let address = format!("/tablet/open/{}", made.token);
        assert_eq!(browser.submit(&address, &[]).await.sent_to(), "/tablet");
        browser
    }

    /// Gives a member a PIN.
    pub async fn give_pin(&self, member: MemberId, pin: &str) {
        let hash = silkward::staff::passphrase::hash(&self.app, pin).await.unwrap();
        sqlx::query("UPDATE member SET pin_hash = ? WHERE id = ?")
            .bind(hash)
            .bind(member)
            .execute(&self.app.database.writer)
            .await
            .unwrap();
    }

    /// A further browser on which a member is signed in.
    pub async fn sign_in(&self, id: MemberId) -> Person {
        let store = std::sync::Arc::new(session::SqliteSessions::new(self.app.database.clone(), self.app.clock.clone()));
        let visit = session::Visit::new(tower_sessions::Session::new(None, store, None));
        visit.sign_in(id).await.unwrap();
        visit.save().await.unwrap();
        let cookies = BTreeMap::from([("silkward".to_owned(), visit.cookie_value())]);
        Person { router: self.router.clone(), cookies, id: Some(id) }
    }
}

/// A database with every migration run, made once for all tests.
fn migrated() -> PathBuf {
    static MADE: std::sync::LazyLock<(TempDir, PathBuf)> = std::sync::LazyLock::new(|| {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("silkward.sqlite");
        let made = file.clone();
        std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            runtime.block_on(async {
                let database = silkward::house::database::Database::open(&made, Durability::Full).await.unwrap();
                database.close().await;
            });
        })
        .join()
        .unwrap();
        (folder, file)
    });
    MADE.1.clone()
}

/// Somebody at a browser: keeps cookies, does not follow redirects by itself.
#[derive(Clone)]
pub struct Person {
    router: Router,
    cookies: BTreeMap<String, String>,
    id: Option<MemberId>,
}

impl Person {
    /// A visitor of a router of the test's own.
    pub fn at(router: Router) -> Self {
        Self { router, cookies: BTreeMap::new(), id: None }
    }

    /// The value of any cookie.
    pub fn cookie_named(&self, name: &str) -> &str {
        self.cookies.get(name).map_or("", String::as_str)
    }

    /// Puts any cookie beside the others.
    pub fn set_cookie_named(&mut self, name: &str, value: &str) {
        self.cookies.insert(name.to_owned(), value.to_owned());
    }

    /// The value of the session's cookie.
    pub fn cookie(&self) -> &str {
        self.cookies.get("silkward").map_or("", String::as_str)
    }

    /// Puts another cookie in the session's place.
    pub fn set_cookie(&mut self, value: &str) {
        self.cookies.insert("silkward".to_owned(), value.to_owned());
    }

    /// Who they are.
    pub fn id(&self) -> MemberId {
        self.id.expect("a visitor has no id")
    }

    /// Opens a page.
    pub async fn get(&mut self, path: &str) -> Page {
        self.send(Request::get(path).body(Body::empty()).unwrap()).await
    }

    /// Opens a page and sends its form whose action is `path` (or that has none), with the given fields over the form's own.
    pub async fn submit(&mut self, page: &str, fields: &[(&str, &str)]) -> Page {
        self.submit_at(page, page, fields).await
    }

    /// Opens `page` and sends its form that goes to `action`.
    pub async fn submit_at(&mut self, page: &str, action: &str, fields: &[(&str, &str)]) -> Page {
        let (csrf, once) = self.get(page).await.tokens();
        let mut all = vec![("csrf", csrf.as_str()), ("once", once.as_str())];
        all.extend_from_slice(fields);
        self.post_raw(action, &all).await
    }

    /// Sends a form as it is, tokens and all.
    pub async fn post_raw(&mut self, path: &str, fields: &[(&str, &str)]) -> Page {
        // In one expression, so that people can send forms from tasks of their own.
        let body = url::form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let request = Request::post(path)
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header(header::ORIGIN, URL)
            .body(Body::from(body))
            .unwrap();
        self.send(request).await
    }

    /// Sends a request with this person's cookies.
    pub async fn send(&mut self, mut request: Request<Body>) -> Page {
        request.headers_mut().insert(header::HOST, "127.0.0.1:7373".parse().unwrap());
        if !self.cookies.is_empty() {
            let cookies: Vec<String> = self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
            request.headers_mut().insert(header::COOKIE, cookies.join("; ").parse().unwrap());
        }
        let response = self.router.clone().oneshot(request).await.unwrap();
        for cookie in response.headers().get_all(header::SET_COOKIE) {
            let (pair, _) = cookie.to_str().unwrap().split_once(';').unwrap();
            let (name, value) = pair.split_once('=').unwrap();
            self.cookies.insert(name.to_owned(), value.to_owned());
        }
        let (parts, body) = response.into_parts();
        let bytes = body.collect().await.unwrap().to_bytes().to_vec();
        Page { status: parts.status, headers: parts.headers, bytes }
    }
}

/// What came back.
#[derive(Debug)]
pub struct Page {
    pub status: StatusCode,
    pub headers: axum::http::HeaderMap,
    pub bytes: Vec<u8>,
}

impl Page {
    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8(self.bytes.clone()).unwrap()
    }

    /// The page as people read it, white space folded.
    pub fn words(&self) -> String {
        let html = Html::parse_document(&self.text());
        html.root_element().text().collect::<Vec<_>>().join(" ").split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// The token and a one-time key from the page's own forms.
    pub fn tokens(&self) -> (String, String) {
        (self.value("input[name=csrf]"), self.value("main input[name=once], form input[name=once]"))
    }

    /// The value of the first element that matches.
    #[track_caller]
    pub fn value(&self, selector: &str) -> String {
        self.attribute(selector, "value")
    }

    /// An attribute of the first element that matches.
    #[track_caller]
    pub fn attribute(&self, selector: &str, name: &str) -> String {
        let html = Html::parse_document(&self.text());
        let found = html.select(&Selector::parse(selector).unwrap()).next();
        let found = found.unwrap_or_else(|| panic!("no {selector} on the page ({}):\n{}", self.status, self.text()));
        found.value().attr(name).unwrap_or_default().to_owned()
    }

    /// How many elements match.
    pub fn count(&self, selector: &str) -> usize {
        Html::parse_document(&self.text()).select(&Selector::parse(selector).unwrap()).count()
    }

    /// The page was shown.
    #[track_caller]
    pub fn ok(self) -> Self {
        assert_eq!(self.status, StatusCode::OK, "{}", self.text());
        self
    }

    /// A change was made: 303 to a page.
    #[track_caller]
    pub fn sent_to(self) -> String {
        assert_eq!(self.status, StatusCode::SEE_OTHER, "{}", self.text());
        self.headers.get(header::LOCATION).unwrap().to_str().unwrap().to_owned()
    }

    /// The answer has this status.
    #[track_caller]
    pub fn is(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "{}", self.text());
        self
    }

    /// The page says this.
    #[track_caller]
    pub fn says(self, words: &str) -> Self {
        assert!(self.words().contains(words), "“{words}” is not on the page:\n{}", self.words());
        self
    }

    /// The page does not say this.
    #[track_caller]
    pub fn lacks(self, words: &str) -> Self {
        assert!(!self.words().contains(words), "“{words}” is on the page:\n{}", self.words());
        self
    }
}

/// How many rows a query counts.
pub async fn number(house: &TestHouse, query: &'static str) -> i64 {
    sqlx::query_scalar(query).fetch_one(&house.app.database.writer).await.unwrap()
}
