//! The page from outside: who is let in, what is refused, and the way from a car to a kept quote, over plain sockets.

use crate::shop::Shop;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A server in a shop's folder.
struct Server {
    child: Child,
    port: u16,
    key: String,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What came back.
struct Reply {
    status: u16,
    head: String,
    body: String,
}

impl Server {
    fn of(shop: &Shop) -> Self {
        let mut child = Command::new(assert_cmd::cargo::cargo_bin("pullcast"))
            .arg("serve")
            .current_dir(shop.path(""))
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("started");
        let mut line = String::new();
        let out = child.stdout.take().expect("its output");
        BufReader::new(out)
            .read_line(&mut line)
            .expect("an address");
        let rest = line
            .trim()
            .strip_prefix("http://127.0.0.1:")
            .expect("an address");
        let (port, key) = rest.split_once("/?key=").expect("a key");
        Self {
            child,
            port: port.parse().expect("a port"),
            key: key.to_owned(),
        }
    }

    fn send(&self, request: &[u8]) -> Reply {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).expect("a connection");
        stream
            .set_read_timeout(Some(Duration::from_mins(2)))
            .expect("set");
        // A server may answer and close before it has read all.
        let _ = stream.write_all(request);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head
            .split(' ')
            .nth(1)
            .and_then(|s| s.parse().ok())
            .unwrap_or(0);
        Reply {
            status,
            head: head.to_lowercase(),
            body: body.to_owned(),
        }
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    fn get_with(&self, path: &str, host: &str, more: &str) -> Reply {
        self.send(
            format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{more}\r\n")
                .as_bytes(),
        )
    }

    fn get(&self, path: &str) -> Reply {
        self.get_with(
            path,
            &self.host(),
            &format!("Cookie: pullcast={}\r\n", self.key),
        )
    }

    fn post_with(&self, path: &str, kind: &str, body: &[u8], more: &str) -> Reply {
        let mut request = format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n{more}\r\n",
            self.host(),
            body.len()
        )
        .into_bytes();
        request.extend_from_slice(body);
        self.send(&request)
    }

    /// As a browser on one of its pages sends it.
    fn own(&self) -> String {
        format!(
            "Cookie: pullcast={}\r\nOrigin: http://{}\r\nSec-Fetch-Site: same-origin\r\n",
            self.key,
            self.host()
        )
    }

    fn form(&self, path: &str, body: &str) -> Reply {
        self.post_with(
            path,
            "application/x-www-form-urlencoded",
            body.as_bytes(),
            &self.own(),
        )
    }

    fn upload(&self, path: &str, fields: &[(&str, &str)], logs: &[&[u8]]) -> Reply {
        let mut body = Vec::new();
        for (name, value) in fields {
            body.extend_from_slice(
                format!(
                    "--cut\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n"
                )
                .as_bytes(),
            );
        }
        for log in logs {
            body.extend_from_slice(
                b"--cut\r\nContent-Disposition: form-data; name=\"log\"; filename=\"../../<script>.csv\"\r\nContent-Type: text/csv\r\n\r\n",
            );
            body.extend_from_slice(log);
            body.extend_from_slice(b"\r\n");
        }
        body.extend_from_slice(b"--cut--\r\n");
        self.post_with(
            path,
            "multipart/form-data; boundary=cut",
            &body,
            &self.own(),
        )
    }
}

const ROOM: [(&str, &str); 3] = [
    ("temperature", "14 °C"),
    ("relative_humidity", "71 %"),
    ("station_pressure", "911 hPa"),
];
/// A pulley is no use on a car without a blower; another compression ratio is.
const PLAN: &str = "name=more+squeeze&kind.0=compression+ratio&0.ratio=12";

#[test]
fn nobody_is_let_in_without_the_token_or_under_another_name() {
    let shop = Shop::new();
    let server = Server::of(&shop);
    assert_eq!(server.get_with("/", &server.host(), "").status, 401);
    assert_eq!(
        server.get_with("/?key=0123", &server.host(), "").status,
        401
    );
    let wrong = "Cookie: pullcast=00000000000000000000000000000000\r\n";
    assert_eq!(server.get_with("/car/0", &server.host(), wrong).status, 401);
    // The address that was printed brings the cookie, and leaves the token out of the next address.
    let entered = server.get_with(&format!("/?key={}", server.key), &server.host(), "");
    assert_eq!(entered.status, 303);
    assert!(
        entered.head.contains("httponly") && entered.head.contains("samesite=strict"),
        "{}",
        entered.head
    );
    assert!(entered.head.contains("location: /\r"), "{}", entered.head);
    // A name made to lead here is not ours, whoever has the cookie.
    let cookie = format!("Cookie: pullcast={}\r\n", server.key);
    for host in ["rebound.example", "127.0.0.1", "127.0.0.1:1", ""] {
        assert_eq!(server.get_with("/", host, &cookie).status, 421, "{host}");
    }
    let localhost = format!("localhost:{}", server.port);
    assert_eq!(server.get_with("/", &localhost, &cookie).status, 200);
    // The token opens the first page alone, not a form.
    assert_eq!(
        server
            .get_with(&format!("/car/0?key={}", server.key), &server.host(), "")
            .status,
        401
    );
}

#[test]
fn a_change_has_to_come_from_one_of_the_servers_own_pages() {
    let shop = Shop::new();
    let server = Server::of(&shop);
    let cookie = format!("Cookie: pullcast={}\r\n", server.key);
    let kind = "application/x-www-form-urlencoded";
    for more in [
        String::new(),
        "Origin: http://elsewhere.example\r\n".to_owned(),
        "Origin: null\r\n".to_owned(),
        format!(
            "Origin: http://{}\r\nSec-Fetch-Site: cross-site\r\n",
            server.host()
        ),
        format!("Origin: https://{}\r\n", server.host()),
    ] {
        let reply = server.post_with(
            "/car/0/keep",
            kind,
            PLAN.as_bytes(),
            &format!("{cookie}{more}"),
        );
        assert_eq!(reply.status, 403, "{more}");
    }
    assert!(!shop.path("jobs.book").exists());
}

#[test]
fn every_answer_tells_the_browser_to_ask_nobody_else() {
    let shop = Shop::new();
    let server = Server::of(&shop);
    for path in [
        "/",
        "/car/0",
        "/car/0/plan",
        "/car/0/odd",
        "/record",
        "/style.css",
        "/page.js",
        "/nowhere",
    ] {
        let reply = server.get(path);
        for text in [
            "content-security-policy: default-src 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
        ] {
            assert!(reply.head.contains(text), "{path}: {}", reply.head);
        }
        for call in [
            "http:", "https:", "//cdn", "<script>", "onclick", "style=\"",
        ] {
            assert!(!reply.body.contains(call), "{path}: {call}");
        }
    }
    assert_eq!(server.get("/nowhere").status, 404);
    assert_eq!(server.get("/car/99").status, 404);
    assert_eq!(server.get("/car/..%2f..%2fetc").status, 400);
}

#[test]
fn from_a_car_over_its_pulls_to_a_kept_quote() {
    let shop = Shop::new();
    shop.measure();
    let server = Server::of(&shop);
    let list = server.get("/").body;
    assert!(
        list.contains("href=\"/car/0\"") && list.contains("coupe"),
        "{list}"
    );
    let log = |name: &str| std::fs::read(shop.path(name)).expect("a log");
    let fitted = server.upload("/car/0", &ROOM, &[&log("pull1.csv"), &log("pull2.csv")]);
    assert_eq!(fitted.status, 200, "{}", fitted.body);
    assert!(
        fitted.body.contains("Read over fitted, %"),
        "{}",
        fitted.body
    );
    let middle = server.form("/car/0/answer", &format!("{PLAN}&ask=middle"));
    assert_eq!(middle.status, 200, "{}", middle.body);
    assert!(
        middle.body.contains("Expect ") && middle.body.contains("<svg"),
        "{}",
        middle.body
    );
    let range = server.form("/car/0/answer", &format!("{PLAN}&ask=range"));
    assert!(range.body.contains("Promise "), "{}", range.body);
    let promise = range
        .body
        .split("Promise ")
        .nth(1)
        .and_then(|rest| rest.split(" on ").next())
        .expect("a promise");
    let sheet = server.form("/car/0/sheet", &format!("{PLAN}&customer=A+Customer"));
    assert_eq!(sheet.status, 200, "{}", sheet.body);
    // The sheet says what the page said.
    assert!(
        sheet
            .body
            .contains(&format!("Count on <strong>{promise}</strong>")),
        "{promise} in {}",
        sheet.body
    );
    assert!(sheet.body.contains("A Customer"));
    let kept = server.form("/car/0/keep", PLAN);
    assert_eq!(kept.status, 200, "{}", kept.body);
    assert!(server.get("/record").body.contains("1 open"));
    let quotes = shop.well("book list --json").json("pullcast/book/1");
    let number = quotes["quotes"][0]["number"]
        .as_str()
        .expect("a number")
        .to_owned();
    drop(server);
    // What the page kept is made again without it.
    let again = shop
        .well(&format!("book again {number} --json"))
        .json("pullcast/again/1");
    assert_eq!(again["same"], true, "{again}");
}

#[test]
fn an_odd_pull_is_explained() {
    let shop = Shop::new();
    shop.measure();
    let server = Server::of(&shop);
    let log = |name: &str| std::fs::read(shop.path(name)).expect("a log");
    let early = server.upload("/car/0/odd", &ROOM, &[&log("pull2.csv")]);
    assert_eq!(early.status, 422);
    assert!(
        early.body.contains("nothing to judge the odd pull against"),
        "{}",
        early.body
    );
    assert_eq!(
        server.upload("/car/0", &ROOM, &[&log("pull1.csv")]).status,
        200
    );
    let told = server.upload("/car/0/odd", &ROOM, &[&log("pull2.csv")]);
    assert_eq!(told.status, 200, "{}", told.body);
    assert!(told.body.contains("What may be wrong"), "{}", told.body);
}

#[test]
fn a_malformed_upload_is_told_and_harms_nothing() {
    let shop = Shop::new();
    shop.measure();
    let server = Server::of(&shop);
    let good = std::fs::read(shop.path("pull1.csv")).expect("a log");
    let zip = [b"PK\x03\x04".as_slice(), &[0; 200]].concat();
    let wide = (0..10_000)
        .map(|n| format!("c{n}"))
        .collect::<Vec<_>>()
        .join(",")
        + "\n1,2\n";
    let bad: [(&str, &[u8]); 7] = [
        ("zip", &zip),
        ("zeros", &[0; 4096]),
        ("script", b"<script>alert(1)</script>,time (s)\n1,2\n"),
        ("wide", wide.as_bytes()),
        ("text", b"\xff\xfe\x00hello"),
        ("cut short", &good[..good.len() / 50]),
        ("one line", b"time (s),engine speed (rpm)"),
    ];
    for (name, log) in bad {
        let reply = server.upload("/car/0", &ROOM, &[log]);
        assert_eq!(reply.status, 422, "{name}: {}", reply.body);
        assert!(
            reply.body.contains("That did not work"),
            "{name}: {}",
            reply.body
        );
        assert!(!reply.body.contains("<script>"), "{name}");
    }
    // No room, no log, no form, a form that ends early, values with markup.
    assert_eq!(server.upload("/car/0", &[], &[&good]).status, 422);
    assert_eq!(server.upload("/car/0", &ROOM, &[]).status, 422);
    assert_eq!(
        server
            .post_with("/car/0", "text/plain", b"x", &server.own())
            .status,
        400
    );
    assert_eq!(
        server
            .post_with(
                "/car/0",
                "multipart/form-data; boundary=cut",
                b"--cut\r\nConte",
                &server.own()
            )
            .status,
        400
    );
    let marked = server.upload(
        "/car/0",
        &[("temperature", "<img src=x>"), ROOM[1], ROOM[2]],
        &[&good],
    );
    assert_eq!(marked.status, 422);
    assert!(!marked.body.contains("<img"), "{}", marked.body);
    let outside = server.upload("/car/0", &[("visit", "../../visit.toml")], &[]);
    assert_eq!(outside.status, 422, "{}", outside.body);
    let many: Vec<&[u8]> = vec![b"x"; 20];
    assert_eq!(server.upload("/car/0", &ROOM, &many).status, 413);
    // More than any log: told by its length, before it is read.
    let huge = format!(
        "POST /car/0 HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Type: multipart/form-data; boundary=cut\r\nContent-Length: 1000000000\r\n{}\r\n",
        server.host(),
        server.own()
    );
    assert_eq!(server.send(huge.as_bytes()).status, 413);
    let mistaken = server.form(
        "/car/0/answer",
        "kind.0=compression+ratio&0.ratio=%3Cb%3E&ask=range",
    );
    assert_eq!(mistaken.status, 422);
    assert!(!mistaken.body.contains("<b>"), "{}", mistaken.body);
    // After all that it answers as before.
    assert_eq!(server.upload("/car/0", &ROOM, &[&good]).status, 200);
}
