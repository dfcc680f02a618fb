//! Devices of the shop's network: each is paired once, by a code that the counter shows, and has a token of its own from then on.
//!
//! A code is good for one device. A wrong one costs a second, and after some wrong ones nobody is paired until the counter asks for a new code: eight
//! figures are then beyond guessing. Nothing is encrypted on the way, so the network has to be the shop's own.

use super::Desk;
use super::draft::Fields;
use super::frame::{outside, page as framed};
use super::guard::{Door, code, enter, same, token};
use axum::Extension;
use axum::extract::{Form, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{Html, IntoResponse, Response};
use pullcast::report::html::escaped;
use std::sync::Arc;
use std::time::Duration;

/// What a wrong code costs.
const WAIT: Duration = Duration::from_secs(1);
/// Wrong codes after which nobody is paired any more.
const TRIES: u32 = 20;

/// What is protected of what goes over the shop's network, and what is not.
const PROTECTION: &str = "<h2>What is protected</h2>\n<ul>\n\
    <li>Nobody gets in without a code from this counter; each device has a key of its own, and all of them can be turned away.</li>\n\
    <li>Other web pages open on the device cannot read this one or send to it.</li>\n</ul>\n\
    <h2>What is not</h2>\n<ul>\n\
    <li>Nothing is encrypted on the way. Whoever can listen in this network can read cars, logs and quotes, and can take a device's key and use it until all \
    devices are turned away.</li>\n\
    <li>So let it be the shop's own network, with a password, and not the guests'. Away from it, use this machine alone.</li>\n</ul>\n";

/// The pairing of a server that listens on the shop's network.
#[derive(Debug, Default)]
pub(crate) struct Pairing {
    /// Where it listens; none where it does not.
    pub(super) address: Option<String>,
    code: String,
    wrong: u32,
    devices: Vec<String>,
}

impl Pairing {
    pub(super) fn at(address: Option<String>) -> Self {
        Self {
            address,
            code: code(),
            ..Self::default()
        }
    }

    /// Whether a token is a paired device's.
    pub(super) fn knows(&self, value: &str) -> bool {
        self.devices
            .iter()
            .fold(false, |known, device| known | same(device, value))
    }

    /// The code as it is shown.
    pub(super) fn shown(&self) -> String {
        let (one, other) = self.code.split_at(self.code.len() / 2);
        format!("{one} {other}")
    }

    /// Pairs a device that knows the code: gives its token.
    fn paired(&mut self, tried: &str) -> Option<String> {
        if self.wrong >= TRIES {
            return None;
        }
        if !same(tried, &self.code) {
            self.wrong += 1;
            return None;
        }
        let device = token();
        self.devices.push(device.clone());
        self.renewed();
        Some(device)
    }

    fn renewed(&mut self) {
        self.code = code();
        self.wrong = 0;
    }
}

/// What a device sees that is not paired.
pub(super) fn form(status: StatusCode, trouble: &str) -> (StatusCode, Html<String>) {
    let body = format!(
        "{trouble}<p>The counter shows a code of eight figures under “Tablet”. Each code is good for one device.</p>\n\
         <form method=\"post\" action=\"/pair\"><div class=\"row\"><label>Code<input name=\"code\" inputmode=\"numeric\" autocomplete=\"off\" \
         maxlength=\"12\" autofocus></label><button class=\"first\">Pair this device</button></div></form>\n"
    );
    (status, outside("Pair this device", &body))
}

pub(super) async fn pair(
    State(desk): State<Arc<Desk>>,
    Extension(door): Extension<Door>,
    Form(fields): Form<Fields>,
) -> Response {
    let tried = fields.into_iter().find(|(name, _)| name == "code");
    let tried: String = tried.map_or_else(String::new, |(_, code)| {
        code.chars().filter(char::is_ascii_digit).collect()
    });
    if !matches!(door, Door::Tablet(_)) {
        return (StatusCode::SEE_OTHER, [(LOCATION, "/")]).into_response();
    }
    // One try at a time: a wrong one holds up the next.
    let _turn = desk.pairs.lock().await;
    let paired = desk.pairing().paired(&tried);
    if let Some(device) = paired {
        return enter(&device, &door);
    }
    tokio::time::sleep(WAIT).await;
    let why = if desk.pairing().wrong >= TRIES {
        "Too many wrong codes: ask the counter for a new one."
    } else {
        "That is not the code."
    };
    form(
        StatusCode::FORBIDDEN,
        &format!("<p class=\"trouble\" role=\"alert\">{why}</p>\n"),
    )
    .into_response()
}

pub(super) async fn page(
    State(desk): State<Arc<Desk>>,
    Extension(door): Extension<Door>,
) -> Html<String> {
    let pairing = desk.pairing();
    let body = match (&pairing.address, &door) {
        (None, _) => "<p>This server is open to this machine alone. Started as <code>pullcast serve --listen ADDRESS</code>, with this machine's address \
                      on the shop's network, it also lets in devices that are paired by a code.</p>\n"
            .to_owned(),
        (Some(_), Door::Tablet(_)) => format!("<p>This device is paired.</p>\n{PROTECTION}"),
        (Some(address), Door::Counter(_)) => {
            let code = if pairing.wrong >= TRIES {
                "<p role=\"alert\">Too many wrong codes were typed; ask for a new one.</p>\n".to_owned()
            } else {
                format!("<p class=\"code\">{}</p>\n", pairing.shown())
            };
            format!(
                "<p>On the tablet open <strong>http://{}/</strong> and type this code. It is good for one device; then there is another.</p>\n{code}\
                 <p>Paired: {}.</p>\n{PROTECTION}<form method=\"post\" \
                 action=\"/tablet\"><div class=\"row\"><button name=\"do\" value=\"code\">A new code</button><button name=\"do\" value=\"away\">Turn all \
                 devices away</button></div></form>\n",
                escaped(address),
                match pairing.devices.len() {
                    0 => "no device".to_owned(),
                    1 => "one device".to_owned(),
                    many => format!("{many} devices"),
                }
            )
        }
    };
    framed("Tablet", &body)
}

pub(super) async fn change(
    State(desk): State<Arc<Desk>>,
    Extension(door): Extension<Door>,
    Form(fields): Form<Fields>,
) -> Response {
    if matches!(door, Door::Counter(_)) {
        let mut pairing = desk.pairing();
        pairing.renewed();
        if fields
            .iter()
            .any(|(name, value)| name == "do" && value == "away")
        {
            pairing.devices.clear();
        }
    }
    (StatusCode::SEE_OTHER, [(LOCATION, "/tablet")]).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_pairs_one_device_and_cannot_be_guessed_at_leisure() {
        let mut pairing = Pairing::at(Some("192.0.2.1:80".to_owned()));
        let first = pairing.code.clone();
        let device = pairing.paired(&first).expect("paired");
        assert!(pairing.knows(&device) && !pairing.knows(&first));
        assert_eq!(pairing.paired(&first), None, "it was good for one");
        for _ in 0..TRIES {
            assert_eq!(pairing.paired("x"), None);
        }
        let right = pairing.code.clone();
        assert_eq!(pairing.paired(&right), None, "nobody any more");
        pairing.renewed();
        let right = pairing.code.clone();
        assert!(pairing.paired(&right).is_some());
        assert!(pairing.knows(&device), "who is paired stays so");
    }
}
