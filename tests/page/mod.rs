//! The page from outside, over plain sockets: who is let in, and what every answer tells the browser. What a browser makes of it stands in `browser/`.

mod hostile;
mod journeys;
mod tablet;

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
        Self::with(shop, &[]).0
    }

    /// With further words of the command line; and the line printed below the address.
    fn with(shop: &Shop, words: &[&str]) -> (Self, String) {
        let mut child = Command::new(assert_cmd::cargo::cargo_bin("pullcast"))
            .arg("serve")
            .args(words)
            .current_dir(shop.path(""))
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("started");
        let (mut line, mut below) = (String::new(), String::new());
        let mut out = BufReader::new(child.stdout.take().expect("its output"));
        out.read_line(&mut line).expect("an address");
        if words.contains(&"--listen") {
            out.read_line(&mut below).expect("a second one");
        }
        let rest = line
            .trim()
            .strip_prefix("http://127.0.0.1:")
            .expect("an address");
        let (port, key) = rest.split_once("/?key=").expect("a key");
        let server = Self {
            child,
            port: port.parse().expect("a port"),
            key: key.to_owned(),
        };
        (server, below)
    }

    fn send(&self, request: &[u8]) -> Reply {
        Self::send_to(self.port, request)
    }

    fn send_to(port: u16, request: &[u8]) -> Reply {
        let mut stream = TcpStream::connect(("127.0.0.1", port)).expect("a connection");
        stream
            .set_read_timeout(Some(Duration::from_mins(8)))
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
        "/car/0/beside",
        "/car/0/spread",
        "/new",
        "/book",
        "/tablet",
        "/icon.svg",
        "/style.css",
        "/page.js",
        "/nowhere",
    ] {
        let reply = server.get(path);
        for text in [
            "content-security-policy: default-src 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: same-origin",
        ] {
            assert!(reply.head.contains(text), "{path}: {}", reply.head);
        }
        // The name of a language is no address to go to.
        let body = reply.body.replace("http://www.w3.org/2000/svg", "");
        for call in [
            "http:", "https:", "//cdn", "<script>", "onclick", "style=\"",
        ] {
            assert!(!body.contains(call), "{path}: {call}");
        }
    }
    assert_eq!(server.get("/nowhere").status, 404);
    assert_eq!(server.get("/car/99").status, 404);
    assert_eq!(server.get("/car/..%2f..%2fetc").status, 400);
}
