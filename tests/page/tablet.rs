//! A device of the shop's network, played by another port of this machine: it is let in by the code alone, and nothing else is open to it.

use super::{Reply, Server};
use crate::shop::Shop;

/// The tablet's door of a server.
struct Tablet {
    port: u16,
    code: String,
}

impl Tablet {
    fn of(shop: &Shop) -> (Server, Self) {
        let (server, line) = Server::with(shop, &["--listen", "127.0.0.1"]);
        let rest = line
            .trim()
            .strip_prefix("http://127.0.0.1:")
            .expect("an address");
        let (port, rest) = rest.split_once('/').expect("a port");
        let code: String = rest.chars().filter(char::is_ascii_digit).collect();
        let port = port.parse().expect("a port");
        (server, Self { port, code })
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    fn get(&self, path: &str, host: &str, more: &str) -> Reply {
        let request =
            format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{more}\r\n");
        Server::send_to(self.port, request.as_bytes())
    }

    fn post(&self, path: &str, body: &str, more: &str) -> Reply {
        let request = format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n{more}\r\n{body}",
            self.host(),
            body.len()
        );
        Server::send_to(self.port, request.as_bytes())
    }

    fn own(&self) -> String {
        format!(
            "Origin: http://{}\r\nSec-Fetch-Site: same-origin\r\n",
            self.host()
        )
    }
}

fn cookie(reply: &Reply) -> String {
    let set = reply.head.split("set-cookie: ").nth(1).expect("a cookie");
    let value = set.split(';').next().expect("a value");
    format!("Cookie: {value}\r\n")
}

#[test]
fn a_device_is_let_in_by_the_code_alone_and_each_code_once() {
    let shop = Shop::new();
    let (server, tablet) = Tablet::of(&shop);
    let host = tablet.host();
    // Not by the counter's key nor its cookie, whatever is asked for.
    for path in [
        "/",
        "/car/0",
        "/book",
        "/tablet",
        &format!("/?key={}", server.key),
    ] {
        for more in [
            String::new(),
            format!("Cookie: pullcast={}\r\n", server.key),
        ] {
            let reply = tablet.get(path, &host, &more);
            assert_eq!(reply.status, 401, "{path}");
            assert!(
                reply.body.contains("Pair this device") && !reply.body.contains("coupe"),
                "{path}"
            );
        }
    }
    let post = tablet.post("/car/0/keep", "", &tablet.own());
    assert_eq!(post.status, 401, "{}", post.body);
    // Nor under another name, from another page, or with another code.
    assert_eq!(tablet.get("/", "rebound.example", "").status, 421);
    assert_eq!(
        tablet.get("/", &server.host(), "").status,
        421,
        "the counter's name is not the tablet's"
    );
    let code = format!("code={}", tablet.code);
    assert_eq!(
        tablet
            .post("/pair", &code, "Origin: http://elsewhere.example\r\n")
            .status,
        403
    );
    let wrong = tablet.post("/pair", "code=0", &tablet.own());
    assert_eq!(wrong.status, 403);
    assert!(wrong.body.contains("not the code"), "{}", wrong.body);
    let paired = tablet.post("/pair", &code, &tablet.own());
    assert_eq!(paired.status, 303, "{}", paired.body);
    assert!(
        paired.head.contains("httponly") && paired.head.contains("samesite=strict"),
        "{}",
        paired.head
    );
    let own = cookie(&paired);
    let cars = tablet.get("/", &host, &own);
    assert_eq!(cars.status, 200);
    assert!(cars.body.contains("coupe"), "{}", cars.body);
    // The code was good for one; the next one stands on the counter's page and not on the tablet's.
    assert_eq!(tablet.post("/pair", &code, &tablet.own()).status, 403);
    let shown = server.get("/tablet").body;
    assert!(
        shown.contains("one device")
            && shown.contains("class=\"code\"")
            && shown.contains("Nothing is encrypted on the way"),
        "{shown}"
    );
    assert!(
        !tablet
            .get("/tablet", &host, &own)
            .body
            .contains("class=\"code\"")
    );
    // A device's cookie does not open the counter's door.
    let as_counter = own.replace("pullcast_tablet", "pullcast");
    assert_eq!(
        server.get_with("/", &server.host(), &as_counter).status,
        401
    );
    // And it is turned away from the counter alone.
    let away = tablet.post("/tablet", "do=away", &format!("{}{own}", tablet.own()));
    assert_eq!(away.status, 303);
    assert_eq!(tablet.get("/", &host, &own).status, 200);
    assert_eq!(server.form("/tablet", "do=away").status, 303);
    assert_eq!(tablet.get("/", &host, &own).status, 401);
}

#[test]
fn without_being_told_to_it_listens_to_this_machine_alone() {
    let shop = Shop::new();
    let server = Server::of(&shop);
    assert!(
        server
            .get("/tablet")
            .body
            .contains("open to this machine alone")
    );
    for address in ["0.0.0.0", "[::]:8080", "tablet"] {
        let ran = shop.run(&format!("serve --listen {address}"));
        assert_eq!(ran.code, 2, "{address}: {}", ran.err);
    }
}
