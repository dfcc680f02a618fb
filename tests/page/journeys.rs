//! The ways through the page: from a car to a kept quote and a closed job, and what lies beside them.

use super::{PLAN, ROOM, Server};
use crate::shop::Shop;
use std::fmt::Write as _;
use std::time::{Duration, Instant};

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
    let promise = promised(&range.body);
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
    assert!(server.get("/book").body.contains(", open"));
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

/// A server whose car is fitted to two pulls.
fn fitted() -> (Shop, Server) {
    let shop = Shop::new();
    shop.measure();
    let server = Server::of(&shop);
    let log = |name: &str| std::fs::read(shop.path(name)).expect("a log");
    let reply = server.upload("/car/0", &ROOM, &[&log("pull1.csv"), &log("pull2.csv")]);
    assert_eq!(reply.status, 200, "{}", reply.body);
    (shop, server)
}

#[test]
fn a_new_car_is_written_only_where_it_can_be_read_and_never_over_a_file() {
    let shop = Shop::new();
    let server = Server::of(&shop);
    let car = "name=..%2FNew+one%21&engine.cylinders=4&engine.displacement=2.0+L&engine.compression_ratio=11&engine.redline=7000+rpm\
               &fuel.research_octane=98&driveline.gear=1.36&driveline.final_drive=4.1&wheels.tyre_radius=0.305+m&drums.radius=0.35+m";
    let lacking = server.form("/new", &format!("{car}&drums.inertia=110"));
    assert_eq!(lacking.status, 422, "{}", lacking.body);
    assert!(lacking.body.contains("inertia"), "{}", lacking.body);
    assert!(!shop.path("new_one.toml").exists());
    let whole = format!("{car}&drums.inertia=110+kg+m2");
    let written = server.form("/new", &whole);
    assert_eq!(written.status, 303, "{}", written.body);
    let text = std::fs::read_to_string(shop.path("new_one.toml")).expect("its file");
    assert!(text.contains("name = \"../New one!\""), "{text}");
    assert_eq!(server.get("/car/1").status, 200);
    let again = server.form("/new", &whole);
    assert_eq!(again.status, 422, "{}", again.body);
    let after = std::fs::read_to_string(shop.path("new_one.toml")).expect("its file");
    assert_eq!(after, text);
}

#[test]
fn columns_said_by_hand_are_read_so_kept_with_the_quote_and_remembered() {
    let shop = Shop::new();
    shop.measure();
    let server = Server::of(&shop);
    // Heads that no table of names knows, without units.
    let strange = |name: &str| {
        let text = std::fs::read_to_string(shop.path(name)).expect("a log");
        let (head, rows) = text.split_once('\n').expect("rows");
        let count = head.split(',').count();
        let heads: Vec<String> = (0..count).map(|n| format!("kanal{n}")).collect();
        (head.to_owned(), format!("{}\n{rows}", heads.join(",")))
    };
    let (names, log) = strange("pull1.csv");
    let unknown = server.upload("/car/0", &ROOM, &[log.as_bytes()]);
    assert_eq!(unknown.status, 422, "{}", unknown.body);
    assert!(
        unknown.body.contains("name=\"is.0\"") && unknown.body.contains("kanal0"),
        "{}",
        unknown.body
    );
    // Each column by its own name and unit.
    let said: Vec<String> = names
        .split(',')
        .enumerate()
        .map(|(n, head)| {
            let (name, unit) = head
                .trim()
                .split_once(" (")
                .map_or((head, ""), |(a, b)| (a, b.trim_end_matches(')')));
            let unit = match name.strip_suffix(" absolute") {
                Some(_) => format!("{unit} absolute"),
                None => unit.to_owned(),
            };
            let name = name.trim_end_matches(" absolute");
            format!(
                "is.{n}={}&unit.{n}={}",
                name.replace(' ', "+"),
                unit.replace("°C", "%C2%B0C").replace(' ', "+")
            )
        })
        .collect();
    let body = format!("log=0&keep=yes&{}", said.join("&"));
    let read = server.form("/car/0/columns", &body);
    assert_eq!(read.status, 200, "{body}: {}", read.body);
    assert!(read.body.contains("Read over fitted, %"), "{}", read.body);
    let kept = std::fs::read_to_string(shop.path("page_1.logger.toml")).expect("remembered");
    assert!(kept.contains("kanal0"), "{kept}");
    // The next log with these heads is read without a question, by another server too.
    drop(server);
    let server = Server::of(&shop);
    let next = server.upload("/car/0", &ROOM, &[strange("pull2.csv").1.as_bytes()]);
    assert_eq!(next.status, 200, "{}", next.body);
    // And a quote kept from it comes out of the book again without the logger file.
    assert_eq!(server.form("/car/0/keep", PLAN).status, 200);
    drop(server);
    std::fs::remove_file(shop.path("page_1.logger.toml")).expect("gone");
    let quotes = shop.well("book list --json").json("pullcast/book/1");
    let number = quotes["quotes"][0]["number"].as_str().expect("a number");
    let again = shop.well(&format!("book again {number} --json"));
    assert_eq!(again.json("pullcast/again/1")["same"], true);
}

#[test]
fn plans_stand_side_by_side_up_to_four() {
    let (_shop, server) = fitted();
    for ratio in ["11.5", "12", "12.5", "13"] {
        let set = format!("name=squeeze+{ratio}&kind.0=compression+ratio&0.ratio={ratio}");
        let reply = server.form("/car/0/beside", &set);
        assert_eq!(reply.status, 200, "{}", reply.body);
    }
    let all = server.get("/car/0/beside").body;
    for text in [
        "squeeze 11.5",
        "squeeze 13",
        "as it stands",
        "promise, uncorrected",
        "<svg",
    ] {
        assert!(all.contains(text), "{text}: {all}");
    }
    let fifth = server.form(
        "/car/0/beside",
        "name=fifth&kind.0=compression+ratio&0.ratio=10",
    );
    assert_eq!(fifth.status, 422, "{}", fifth.body);
    assert!(fifth.body.contains("4 plans stand side by side already"));
    // One of the same name takes the place of the one before.
    let again = server.form(
        "/car/0/beside",
        "name=squeeze+13&kind.0=compression+ratio&0.ratio=10",
    );
    assert_eq!(again.status, 200, "{}", again.body);
    let fewer = server.form("/car/0/beside/0/away", "");
    assert!(!fewer.body.contains("squeeze 11.5"), "{}", fewer.body);
    // What stands beside is what the plan's own page promises.
    let own = server.form(
        "/car/0/answer",
        "name=squeeze+12&kind.0=compression+ratio&0.ratio=12&ask=range",
    );
    let promise = promised(&own.body);
    assert!(fewer.body.contains(promise), "{promise:?}");
}

/// The power that a page's first line says 9 pulls in 10 read, be it a gain or none.
fn promised(page: &str) -> &str {
    let (from, to) = if page.contains("Promise no gain") {
        ("should read ", " or more")
    } else {
        ("Promise ", " on ")
    };
    let after = page.split(from).nth(1).expect("a promise");
    after.split(to).next().expect("its power")
}

#[test]
fn what_reaches_a_power_and_pulls_in_a_row_are_answered_as_by_the_verbs() {
    let (shop, server) = fitted();
    let plan = "name=more&kind.0=compression+ratio&0.ratio=11.2";
    let far = server.form(
        "/car/0/reach",
        &format!("{plan}&reach=900+kW&by=octane&ask=part"),
    );
    assert_eq!(far.status, 200, "{}", far.body);
    assert!(far.body.contains("900 kW is out of reach"), "{}", far.body);
    assert!(!far.body.contains("<html"), "a part alone");
    let whole = server.form(
        "/car/0/reach",
        &format!("{plan}&reach=50+kW&by=compression-ratio"),
    );
    assert!(whole.body.contains("Back to the plan") && whole.body.contains("value=\"11.2\""));
    for (body, words) in [
        ("reach=900&by=compression-ratio", "no unit"),
        ("reach=900+kW&by=nothing", "which number"),
        (
            "reach=900+kW&by=compression-ratio&chance=2",
            "a chance lies",
        ),
    ] {
        let wrong = server.form("/car/0/reach", &format!("{plan}&{body}"));
        assert_eq!(wrong.status, 422, "{body}: {}", wrong.body);
        assert!(!wrong.body.contains("<script>"));
        assert!(wrong.body.contains(words), "{body}: {}", wrong.body);
    }
    let row = server.form("/car/0/row", "pulls=3&rest=90+s&temperature=14+%C2%B0C&relative_humidity=71+%25&station_pressure=911+hPa");
    assert_eq!(row.status, 200, "{}", row.body);
    assert!(row.body.contains("Pulls in a row"), "{}", row.body);
    drop(shop);
    for pulls in ["", "1", "101", "many"] {
        assert_eq!(
            server.form("/car/0/row", &format!("pulls={pulls}")).status,
            422
        );
    }
}

#[test]
fn a_spread_tells_how_far_it_is_and_what_it_came_to() {
    let (_shop, server) = fitted();
    let mut station = String::from(
        "# elevation: 900 m\n# utc offset: 1 h\ntime, temperature (°C), dew point (°C), station pressure (hPa)\n",
    );
    for hour in 0..96 {
        let (day, of_day) = (1 + hour / 24, hour % 24);
        let warm = f64::from(of_day).mul_add(0.5, f64::from(day));
        let _ = writeln!(
            station,
            "2025-06-{day:02}T{of_day:02}:00, {:.1}, 4.0, {:.1}",
            8.0 + warm,
            905.0 + f64::from(hour) * 0.1
        );
    }
    let none = server.upload("/car/0/spread/run", &[], &[]);
    assert_eq!(none.status, 422);
    assert!(none.body.contains("weather station"), "{}", none.body);
    let begun = server.upload(
        "/car/0/spread/run",
        &[("promise", "150 kW")],
        &[station.as_bytes()],
    );
    assert_eq!(begun.status, 303, "{}", begun.body);
    let mut told = Vec::new();
    let started = Instant::now();
    let answer = loop {
        let far = server.get("/car/0/spread/so-far").body;
        if far.contains("pulls in 100 over these hours") || far.contains("did not work") {
            break far;
        }
        assert!(started.elapsed() < Duration::from_mins(4), "{far}");
        told.push(far);
        std::thread::sleep(Duration::from_millis(100));
    };
    assert!(answer.contains("pulls in 100 over these hours"), "{answer}");
    assert!(
        told.iter().any(|far| far.contains("<progress")),
        "it was over before it was looked at"
    );
    // Pages are served while it runs and after; another one may be ended before it has enough.
    assert_eq!(server.upload("/car/0/spread/run", &[], &[]).status, 303);
    assert_eq!(server.form("/car/0/spread/end", "").status, 303);
    let started = Instant::now();
    while server
        .get("/car/0/spread/so-far")
        .body
        .contains("data-runs")
    {
        assert!(started.elapsed() < Duration::from_mins(4));
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[test]
fn a_job_is_closed_with_the_pulls_after_and_stays_to_be_seen() {
    let (shop, server) = fitted();
    assert!(server.get("/book").body.contains("no job book yet"));
    assert_eq!(
        server
            .form("/car/0/keep", &format!("{PLAN}&customer=A+Customer"))
            .status,
        200
    );
    let quotes = shop.well("book list --json").json("pullcast/book/1");
    let number = quotes["quotes"][0]["number"]
        .as_str()
        .expect("a number")
        .to_owned();
    let path = format!("/book/{number}");
    let open = server.get(&path).body;
    assert!(
        open.contains("Promise ") && open.contains("Close the job"),
        "{open}"
    );
    let sheet = server.get(&format!("{path}/sheet"));
    assert_eq!(sheet.status, 200, "{}", sheet.body);
    let paper = server.get(&format!("{path}/sheet.pdf"));
    assert!(paper.status == 200 && paper.body.starts_with("%PDF-"));
    assert!(open.contains(&format!("{path}/sheet.pdf")), "{open}");
    let log = std::fs::read(shop.path("pull1.csv")).expect("a log");
    let without = server.upload(&format!("{path}/close"), &[], &[&log]);
    assert_eq!(without.status, 422, "{}", without.body);
    assert_eq!(
        server
            .form(&format!("{path}/note"), "text=%3Cb%3Eremark")
            .status,
        200
    );
    let closed = server.upload(&format!("{path}/close"), &ROOM, &[&log]);
    assert_eq!(closed.status, 200, "{}", closed.body);
    for text in [
        "Predicted and read",
        "the promise is kept",
        "&lt;b&gt;remark",
    ] {
        assert!(closed.body.contains(text), "{text}: {}", closed.body);
    }
    assert!(!closed.body.contains("Close the job"), "it is closed");
    // The book tells it again, without the log that is gone.
    assert!(server.get(&path).body.contains("Predicted and read"));
    let twice = server.upload(&format!("{path}/close"), &ROOM, &[&log]);
    assert_eq!(twice.status, 422);
    assert!(twice.body.contains("is closed"), "{}", twice.body);
    assert_eq!(server.get("/book/nothing").status, 422);
    let list = shop.well("book list --json").json("pullcast/book/1");
    assert!(
        list["quotes"][0]["outcome"]["read_w"]
            .as_f64()
            .is_some_and(|w| w > 1e4)
    );
}

#[test]
fn the_page_learns_from_closed_jobs_unless_it_is_told_not_to() {
    let shop = Shop::new();
    shop.measure();
    crate::job_book::closed_jobs(&shop, 0..5);
    let ask = format!("{PLAN}&ask=range");
    let answered = |words: &[&str]| {
        let (server, _) = Server::with(&shop, words);
        let reply = server.form("/car/0/answer", &ask);
        assert_eq!(reply.status, 200, "{}", reply.body);
        assert!(reply.body.contains("Promise "), "{}", reply.body);
        reply.body
    };
    let learned = answered(&[]);
    assert!(learned.contains("Learned from 5 closed jobs"), "{learned}");
    let general = answered(&["--no-learning"]);
    assert!(!general.contains("closed jobs"), "{general}");
}
