//! Uploads that are none, on purpose or by mistake: the server says what is wrong, goes on, stays small, and the book is as it was.

use super::{PLAN, ROOM, Server};
use crate::shop::Shop;
use std::io::Write;
use std::net::TcpStream;

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
    assert!(
        mistaken.body.contains("That did not work"),
        "{}",
        mistaken.body
    );
    assert!(!mistaken.body.contains("<b>"), "{}", mistaken.body);
    // After all that it answers as before.
    assert_eq!(server.upload("/car/0", &ROOM, &[&good]).status, 200);
}

/// Most memory that the server may take, MB.
const MOST_MB: f64 = 300.0;

/// The most memory that a process has taken, MB; none on a system that does not tell.
fn most_mb(server: &Server) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{}/status", server.child.id())).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kb: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb / 1024.0)
}

/// Numbers that look random and are the same every time (xorshift).
struct Odd(u64);

impl Odd {
    fn next(&mut self, below: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 >> 33).expect("small") % below
    }
}

/// One of many ways in which an upload is no log.
fn spoilt(good: &[u8], kind: usize, odd: &mut Odd) -> Vec<u8> {
    let mut log = good.to_vec();
    match kind % 10 {
        0 => log.truncate(odd.next(good.len() / 40)),
        1 => {
            // Bytes that are no text, all over it.
            for _ in 0..400 {
                let at = odd.next(log.len());
                log[at] = [0, 0xff, 0xfe, b'"', b',', b'\n'][odd.next(6)];
            }
        }
        2 => log = [b"PK\x03\x04".as_slice(), &good[..odd.next(4000)]].concat(),
        3 => {
            let width = 500 + odd.next(2500);
            let heads: Vec<String> = (0..width)
                .map(|n| format!("<script>{n}</script>"))
                .collect();
            log = format!("{}\n1,2,3\n", heads.join(",")).into_bytes();
        }
        4 => log = vec![b','; 1 + odd.next(200_000)],
        5 => log = vec![b'"'; 1 + odd.next(100_000)],
        6 => {
            log = "time (s),engine speed (rpm),wheel power (kW)\n"
                .repeat(1 + odd.next(400))
                .into_bytes();
        }
        7 => {
            let text = String::from_utf8_lossy(good).replace("wheel power", "../../etc/passwd");
            log = text.into_bytes();
        }
        8 => {
            log = format!(
                "time (s),engine speed (rpm),wheel power (kW)\n{}",
                "1e308,NaN,inf\n".repeat(300)
            )
            .into_bytes();
        }
        _ => {
            log = (0..odd.next(50_000))
                .map(|_| u8::try_from(odd.next(256)).unwrap_or(0))
                .collect();
        }
    }
    log
}

#[test]
fn five_hundred_spoilt_uploads_leave_book_and_server_unharmed() {
    let shop = Shop::new();
    shop.measure();
    let server = Server::of(&shop);
    let good = std::fs::read(shop.path("pull1.csv")).expect("a log");
    assert_eq!(server.upload("/car/0", &ROOM, &[&good]).status, 200);
    assert_eq!(server.form("/car/0/keep", PLAN).status, 200);
    let before = shop.well("book list --json").out;
    let mut odd = Odd(0x9e37_79b9_7f4a_7c15);
    for n in 0..500 {
        let log = spoilt(&good, n, &mut odd);
        let (path, kind) = [
            ("/car/0", "car"),
            ("/car/0/odd", "odd"),
            ("/car/0/spread/run", "spread"),
        ][n % 3];
        let reply = server.upload(path, &ROOM, &[&log]);
        let told = match kind {
            // A station's file is read while its answer is worked out.
            "spread" => matches!(reply.status, 303 | 422),
            _ => reply.status == 422 && reply.body.contains("That did not work"),
        };
        // Some of the bytes that were spoilt may have lain where nobody reads.
        let harmless = n % 10 == 1 && reply.status == 200;
        assert!(
            told || harmless,
            "{n}, {kind}: {}: {}",
            reply.status,
            reply.body
        );
        assert!(!reply.body.contains("<script>"), "{n}");
    }
    assert_eq!(shop.well("book list --json").out, before);
    shop.well("book check");
    // What was fitted before is there as it was, and what is sound is taken.
    assert_eq!(
        server
            .form("/car/0/answer", &format!("{PLAN}&ask=range"))
            .status,
        200
    );
    assert_eq!(server.upload("/car/0", &ROOM, &[&good]).status, 200);
    if let Some(mb) = most_mb(&server) {
        assert!(mb < MOST_MB, "{mb} MB");
    }
}

#[test]
fn a_stream_without_end_is_cut_off_and_never_held() {
    let shop = Shop::new();
    let server = Server::of(&shop);
    let mut stream = TcpStream::connect(("127.0.0.1", server.port)).expect("a connection");
    let head = format!(
        "POST /car/0 HTTP/1.1\r\nHost: {}\r\nTransfer-Encoding: chunked\r\nContent-Type: multipart/form-data; boundary=cut\r\n{}\r\n",
        server.host(),
        server.own()
    );
    stream.write_all(head.as_bytes()).expect("sent");
    let opening =
        "--cut\r\nContent-Disposition: form-data; name=\"log\"; filename=\"x.csv\"\r\n\r\n";
    write!(stream, "{:x}\r\n{opening}\r\n", opening.len()).expect("sent");
    let piece = vec![b'7'; 1 << 20];
    let mut sent = 0_u64;
    // 1 GB, or as much of it as is taken.
    while sent < 1 << 30 {
        let part = write!(stream, "{:x}\r\n", piece.len())
            .and_then(|()| stream.write_all(&piece))
            .and_then(|()| stream.write_all(b"\r\n"));
        if part.is_err() {
            break;
        }
        sent += piece.len() as u64;
    }
    assert!(sent < 100 << 20, "{sent} bytes were taken");
    assert_eq!(server.get("/").status, 200);
    if let Some(mb) = most_mb(&server) {
        assert!(mb < MOST_MB, "{mb} MB");
    }
}

#[test]
fn fifty_clients_at_once_are_served_and_the_server_stays_small() {
    let shop = Shop::new();
    shop.measure();
    let server = Server::of(&shop);
    let log = std::fs::read(shop.path("pull1.csv")).expect("a log");
    assert_eq!(server.upload("/car/0", &ROOM, &[&log]).status, 200);
    // A long log, most of it rubbish.
    let long = [log.as_slice(), &vec![b'x'; 1 << 20]].concat();
    std::thread::scope(|scope| {
        for n in 0..50 {
            let (server, long) = (&server, &long);
            scope.spawn(move || {
                let reply = match n % 5 {
                    0 => server.get("/car/0"),
                    1 => server.form("/car/0/answer", &format!("{PLAN}.{n}&ask=middle")),
                    2 => server.form("/car/0/answer", &format!("{PLAN}.{n}&ask=range")),
                    3 => server.get("/style.css"),
                    _ => server.upload("/car/0", &ROOM, &[long]),
                };
                // What stands above the rubbish may be enough for a fit.
                let fine = reply.status == 200 || n % 5 == 4 && reply.status == 422;
                assert!(fine, "{n}: {}: {}", reply.status, reply.body);
            });
        }
    });
    if let Some(mb) = most_mb(&server) {
        assert!(mb < MOST_MB, "{mb} MB");
    }
}
