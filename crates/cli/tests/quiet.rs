//! The program calls nobody: it works in a network of its own from which nothing leads out, and its system calls name no address but its
//! own.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![cfg(target_os = "linux")]

mod common;

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use tempfile::TempDir;

/// Set for the test that is started inside the network of its own.
const INSIDE: &str = "INTERSTICE_TEST_INSIDE";
/// Brings the loopback of a new network up: by `ip` where there is one, else by the call itself.
const LOOPBACK_UP: &str = "ip link set lo up 2>/dev/null || python3 -c 'import fcntl,socket,struct; \
    fcntl.ioctl(socket.socket(), 0x8914, struct.pack(\"16sh14x\", b\"lo\", 0x49))'";

fn works(program: &str, args: &[&str]) -> bool {
    let run = Command::new(program)
        .args(args)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    run.is_ok_and(|status| status.success())
}

/// A command of ours, under a tool where one is given.
fn command(under: &[String], book: &Path, args: &[&str]) -> Command {
    let binary = env!("CARGO_BIN_EXE_interstice");
    let mut command = match under.split_first() {
        None => Command::new(binary),
        Some((tool, rest)) => {
            let mut command = Command::new(tool);
            command.args(rest).arg(binary);
            command
        }
    };
    command.arg("--book").arg(book).args(args);
    command
        .env("TZ", "UTC")
        .env("INTERSTICE_BACKUP_PASSPHRASE", "otter lamp quiet brass seven")
        .env("INTERSTICE_PASSPHRASE", "otter lamp quiet brass seven")
        .stdin(Stdio::null());
    command
}

/// Everything a person does in a week: bring in, read, trust, wear, the visit sheet, hand out, back up and restore, the app.
fn a_week(under: &[String], folder: &Path) {
    let table = folder.join("readings.csv");
    let mut text = String::from("time;glucose mg/dL\n");
    for row in 0..7 * 288 {
        use std::fmt::Write as _;
        let (day, minute) = (row / 288, row % 288 * 5);
        let _ = writeln!(
            text,
            "2025-03-{:02} {:02}:{:02};{}",
            day + 1,
            minute / 60,
            minute % 60,
            90 + row * 7 % 90
        );
    }
    fs::write(&table, text).unwrap();
    let (book, table) = (folder.join("book.interstice"), table.display().to_string());
    let at = |name: &str| folder.join(name).display().to_string();
    let (sheet, out, backup) = (at("visit.pdf"), at("out"), at("backup"));
    for args in [
        vec!["import", &table, "--zone", "Europe/Lisbon"],
        vec![
            "log",
            "--at",
            "2025-03-05 08:00",
            "blood",
            "110",
            "--unit",
            "mg/dL",
        ],
        vec!["now"],
        vec!["review"],
        vec!["trust"],
        vec!["wear", "--plan"],
        vec!["visit", "--out", &sheet],
        vec!["export", &out, "--as", "csv"],
        vec!["backup", &backup],
        vec!["check"],
    ] {
        let output = command(under, &book, &args).output().unwrap();
        let code = output.status.code().unwrap();
        assert!(code <= 1, "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
    for args in [
        vec!["serve"],
        vec!["serve", "--home", "--home-port", "0", "--address", "127.0.0.1"],
    ] {
        let mut served = Served::start(command(under, &book, &args));
        for page in [
            "/",
            "/review",
            "/trust",
            "/wear",
            "/visit",
            "/settings",
            "/nowhere",
        ] {
            let answer = served.ask(page);
            assert!(answer.starts_with("HTTP/1.1 "), "{page}: {answer}");
        }
    }
}

/// The app, ended when dropped.
struct Served {
    child: Child,
    address: String,
}

impl Served {
    fn start(mut command: Command) -> Self {
        let mut child = command
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut said = Vec::new();
        let address = loop {
            let line = lines
                .next()
                .unwrap_or_else(|| panic!("it ended: {said:?}"))
                .unwrap();
            match line.strip_prefix("listening on http://") {
                Some(address) => break address.to_owned(),
                None => said.push(line),
            }
        };
        // What it says later must go somewhere.
        std::thread::spawn(move || lines.for_each(drop));
        Served { child, address }
    }

    fn ask(&mut self, page: &str) -> String {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        let address = &self.address;
        write!(
            stream,
            "GET {page} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
        )
        .unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap();
        String::from_utf8_lossy(&answer).into_owned()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // Under a tool that stands between, the program is its child.
        let id = self.child.id();
        let below = fs::read_to_string(format!("/proc/{id}/task/{id}/children")).unwrap_or_default();
        let program = below
            .split_whitespace()
            .next()
            .map_or(id.to_string(), str::to_owned);
        let _ = Command::new("kill").args(["-INT", &program]).status();
        for _ in 0..100 {
            if self.child.try_wait().is_ok_and(|ended| ended.is_some()) {
                return;
            }
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn it_works_where_no_way_leads_out() {
    if std::env::var_os(INSIDE).is_some() {
        // Nobody else is here: not even a name could be looked up.
        assert!(TcpStream::connect("192.0.2.1:80").is_err());
        let folder = TempDir::new().unwrap();
        a_week(&[], folder.path());
        return;
    }
    if !works(
        "unshare",
        &["--net", "--user", "--map-root-user", "sh", "-c", LOOPBACK_UP],
    ) {
        println!("skipped: this machine gives no network of one's own (unshare)");
        return;
    }
    let test = std::env::current_exe().unwrap();
    let script = format!("{LOOPBACK_UP}; exec \"$0\" --exact it_works_where_no_way_leads_out --nocapture");
    let output = Command::new("unshare")
        .args(["--net", "--user", "--map-root-user", "sh", "-c", &script])
        .arg(test)
        .env(INSIDE, "1")
        .output()
        .unwrap();
    let said =
        String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && said.contains("1 passed"), "{said}");
}

#[test]
fn its_system_calls_reach_for_nobody() {
    if !works("strace", &["-f", "-o", "/dev/null", "true"]) {
        assert!(
            std::env::var_os("INTERSTICE_CI").is_none() || works("strace", &["-V"]),
            "strace is not there"
        );
        println!("skipped: no strace here, or it may not look");
        return;
    }
    let folder = TempDir::new().unwrap();
    let log = folder.path().join("calls");
    let under: Vec<String> = [
        "strace",
        "-f",
        "-A",
        "-o",
        log.to_str().unwrap(),
        "-e",
        "trace=%network",
    ]
    .map(str::to_owned)
    .to_vec();
    a_week(&under, folder.path());
    let calls = fs::read_to_string(&log).unwrap();
    let reached: Vec<&str> = calls.lines().filter(|call| reaches_out(call)).collect();
    assert_eq!(reached, [""; 0]);
    // The log is of the right program: it did listen and did answer.
    assert!(
        calls.contains("listen(") && calls.contains("accept4("),
        "{}",
        calls.len()
    );
    // And what reaches out would be seen.
    assert!(reaches_out(
        "7 connect(3, {sa_family=AF_INET, sin_port=htons(443), sin_addr=inet_addr(\"192.0.2.1\")}, 16) = 0"
    ));
    assert!(reaches_out(
        "7 sendto(3, \"x\", 1, 0, {sa_family=AF_INET6, sin6_port=htons(53)}, 28) = 1"
    ));
    assert!(!reaches_out(
        "7 accept4(3, {sa_family=AF_INET, sin_port=htons(4000)}, [128 => 16], 0) = 4"
    ));
}

/// A call that begins a connection or sends to an address of a network. Names are asked for over sockets of the system, too.
fn reaches_out(call: &str) -> bool {
    let begins = ["connect(", "sendto(", "sendmsg(", "sendmmsg("]
        .iter()
        .any(|name| call.contains(name));
    begins
        && ["AF_INET", "nscd", "resolve", "systemd"]
            .iter()
            .any(|word| call.contains(word))
}
