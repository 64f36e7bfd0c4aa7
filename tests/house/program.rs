//! The program as a person runs it: its commands, its exit codes, its lines.

use std::io::Write as _;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

fn silkward() -> Command {
    Command::new(env!("CARGO_BIN_EXE_silkward"))
}

fn reckon(name: &str, input: &str) -> Output {
    let mut running =
        silkward().args(["reckon", name]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    running.stdin.take().unwrap().write_all(input.as_bytes()).ok();
    running.wait_with_output().unwrap()
}

// ISO/IEC 7064 MOD 37,36: the example of the python-stdnum documentation.
#[test]
fn reckon_answers_in_json() {
    let answer = reckon("tag", r#"{"body": "A12425GABC1234002"}"#);
    assert!(answer.status.success());
    let answer: serde_json::Value = serde_json::from_slice(&answer.stdout).unwrap();
    assert_eq!(answer["check"], "M");
}

#[test]
fn reckon_names_what_it_knows_and_what_is_wrong_in_one_line() {
    for (name, input, says) in
        [("tags", "{}", "there are: "), ("units", r#"{"value": 1, "from": "cm", "to": "g"}"#, "g"), ("tag", "not json", "JSON")]
    {
        let answer = reckon(name, input);
        assert_eq!(answer.status.code(), Some(2));
        let told = String::from_utf8(answer.stderr).unwrap();
        assert!(told.contains(says) && told.trim().lines().count() == 1, "{told}");
    }
}

struct Serving(Child);

impl Drop for Serving {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

fn serve(data: &std::path::Path, port: u16) -> Command {
    let mut command = silkward();
    command.args(["serve", "--listen", &format!("127.0.0.1:{port}"), "--data"]).arg(data).stderr(Stdio::piped()).stdout(Stdio::null());
    command
}

fn is_ready(port: u16) -> bool {
    silkward().args(["health", "--listen", &format!("127.0.0.1:{port}")]).status().unwrap().success()
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let started = Instant::now();
    while !holds() {
        assert!(started.elapsed() < Duration::from_secs(20), "not {what} after 20 s");
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn free_port() -> u16 {
    std::net::TcpListener::bind(("127.0.0.1", 0)).unwrap().local_addr().unwrap().port()
}

#[test]
fn one_process_serves_a_folder_and_stops_in_order_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    let port = free_port();
    let mut first = Serving(serve(folder.path(), port).spawn().unwrap());
    until("ready", || is_ready(port));
    let second = serve(folder.path(), free_port()).output().unwrap();
    assert!(!second.status.success());
    let told = String::from_utf8(second.stderr).unwrap();
    assert!(told.contains(&format!("in use by process {}", first.0.id())), "{told}");
    // A silent connection does not keep it from stopping.
    let _silent = std::net::TcpStream::connect(("127.0.0.1", port)).unwrap();
    Command::new("kill").args(["-TERM", &first.0.id().to_string()]).status().unwrap();
    let asked = Instant::now();
    let ended = first.0.wait().unwrap();
    assert!(ended.success(), "{ended}");
    assert!(asked.elapsed() < Duration::from_secs(10));
    // The log was written back: the main file alone holds the house.
    let log = folder.path().join("silkward.sqlite-wal");
    assert!(!log.exists() || std::fs::metadata(&log).unwrap().len() == 0);
}

#[test]
fn plain_http_is_refused_where_others_can_listen() {
    let folder = tempfile::tempdir().unwrap();
    let refused = silkward().args(["serve", "--listen", "0.0.0.0:0", "--data"]).arg(folder.path()).output().unwrap();
    assert!(!refused.status.success());
    assert!(String::from_utf8(refused.stderr).unwrap().contains("plain http"));
}
