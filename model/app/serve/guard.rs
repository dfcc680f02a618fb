//! Who may ask: the token or a paired device, the host, where a change comes from, and what a browser is told about every answer.

use super::Desk;
use super::frame::refusal;
use super::tablet;
use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, COOKIE, HOST, HeaderName, HeaderValue,
    LOCATION, ORIGIN, REFERRER_POLICY, SET_COOKIE, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use rand::RngExt;
use std::sync::Arc;

/// Largest upload: some of the longest logs of a pull.
pub(super) const MOST_BYTES: usize = 48 << 20;
/// A page may show its own styles and its own picture, run its own script, send its forms here, and nothing else.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; \
     base-uri 'none'; frame-ancestors 'none'";

/// Where somebody comes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Door {
    /// The machine's own loopback address, with its port: opened by the token.
    Counter(u16),
    /// The address on the shop's network, `address:port`: opened by the pairing code.
    Tablet(String),
}

impl Door {
    /// Name of the cookie that opens it. Cookies know no ports, so each door has its own.
    const fn cookie(&self) -> &'static str {
        match self {
            Self::Counter(_) => "pullcast",
            Self::Tablet(_) => "pullcast_tablet",
        }
    }

    /// Whether a host is called by one of its own names. One that somebody else's page made to lead here (rebinding) is not.
    fn is_called(&self, host: &str) -> bool {
        match self {
            Self::Counter(port) => ["127.0.0.1", "localhost"]
                .iter()
                .any(|name| format!("{name}:{port}") == host),
            // A browser leaves the usual port out.
            Self::Tablet(address) => address == host || address.strip_suffix(":80") == Some(host),
        }
    }
}

/// 128 random bits in hexadecimal: nobody guesses it, and it lives as long as the server.
#[expect(
    clippy::disallowed_methods,
    reason = "a token has to be beyond guessing, and no answer depends on it"
)]
pub(super) fn token() -> String {
    format!("{:032x}", rand::rng().random::<u128>())
}

/// Eight random figures.
#[expect(
    clippy::disallowed_methods,
    reason = "a code has to be beyond guessing, and no answer depends on it"
)]
pub(super) fn code() -> String {
    format!("{:08}", rand::rng().random_range(0..100_000_000_u32))
}

/// Lets a request through, or says why not.
pub(super) async fn hold(
    State((desk, door)): State<(Arc<Desk>, Door)>,
    mut request: Request,
    next: Next,
) -> Response {
    let mut response = match judge(&desk, &door, &request) {
        Ok(Entry::Known) => {
            request.extensions_mut().insert(door);
            next.run(request).await
        }
        Ok(Entry::Comes) => enter(&desk.token, &door),
        Ok(Entry::Pairs) => tablet::form(StatusCode::UNAUTHORIZED, "").into_response(),
        Err((status, why)) => refusal(status, why).into_response(),
    };
    let headers = response.headers_mut();
    let mut tell = |name: HeaderName, value: &'static str| {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    };
    tell(CONTENT_SECURITY_POLICY, POLICY);
    tell(X_CONTENT_TYPE_OPTIONS, "nosniff");
    // With none at all a browser would not say where a form comes from.
    tell(REFERRER_POLICY, "same-origin");
    tell(CACHE_CONTROL, "no-store");
    tell(
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    );
    tell(
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    );
    response
}

/// Who comes.
enum Entry {
    /// Somebody with the cookie, or asking for what everybody may have: the style of the pairing form, and to be paired.
    Known,
    /// Somebody with the printed address.
    Comes,
    /// A device that is not paired yet.
    Pairs,
}

fn judge(desk: &Desk, door: &Door, request: &Request) -> Result<Entry, (StatusCode, &'static str)> {
    let header = |name| {
        request
            .headers()
            .get(name)
            .and_then(|v: &HeaderValue| v.to_str().ok())
    };
    let host = header(HOST).unwrap_or_default();
    if !door.is_called(host) {
        return Err((
            StatusCode::MISDIRECTED_REQUEST,
            "This server answers to its own address alone.",
        ));
    }
    let asks = request.method() == Method::GET || request.method() == Method::HEAD;
    if !asks {
        let origin = header(ORIGIN);
        let from = header(HeaderName::from_static("sec-fetch-site"));
        let own =
            origin.is_some_and(|origin| origin.strip_prefix("http://").is_some_and(|o| o == host));
        let stranger = from.is_some_and(|from| from != "same-origin");
        if !own || stranger {
            return Err((
                StatusCode::FORBIDDEN,
                "This did not come from one of the pages of this server.",
            ));
        }
    }
    let length = header(CONTENT_LENGTH).and_then(|text| text.parse::<u64>().ok());
    if length.is_some_and(|length| length > MOST_BYTES as u64) {
        // Told before it is read.
        return Err((
            StatusCode::PAYLOAD_TOO_LARGE,
            "This is larger than the logs of any visit: 48 MB are taken at once, 16 MB of one log.",
        ));
    }
    let brought = header(COOKIE).unwrap_or_default().split(';').any(|pair| {
        let value = pair.trim().split_once('=');
        value.is_some_and(|(name, value)| name == door.cookie() && opens(desk, door, value))
    });
    let path = request.uri().path();
    match door {
        _ if brought => Ok(Entry::Known),
        Door::Counter(_) => {
            let key = request.uri().query().unwrap_or_default();
            let key = key.strip_prefix("key=").unwrap_or_default();
            if request.method() == Method::GET && path == "/" && same(key, &desk.token) {
                return Ok(Entry::Comes);
            }
            Err((
                StatusCode::UNAUTHORIZED,
                "This page is opened by the address that `pullcast serve` printed when it started.",
            ))
        }
        Door::Tablet(_) if asks && ["/style.css", "/icon.svg", "/page.js"].contains(&path) => {
            Ok(Entry::Known)
        }
        Door::Tablet(_) if request.method() == Method::POST && path == "/pair" => Ok(Entry::Known),
        Door::Tablet(_) if asks => Ok(Entry::Pairs),
        Door::Tablet(_) => Err((
            StatusCode::UNAUTHORIZED,
            "This device is not paired, or not any more: open the address anew and type the code that the counter shows.",
        )),
    }
}

/// Whether a cookie's value opens a door.
fn opens(desk: &Desk, door: &Door, value: &str) -> bool {
    match door {
        Door::Counter(_) => same(value, &desk.token),
        Door::Tablet(_) => desk.pairing().knows(value),
    }
}

/// Whether two texts are the same, in a time that does not tell where they differ.
pub(super) fn same(one: &str, other: &str) -> bool {
    let differ = one
        .bytes()
        .zip(other.bytes())
        .fold(0, |differ, (a, b)| differ | (a ^ b));
    one.len() == other.len() && differ == 0
}

/// Puts a token into a cookie that no other site can send, and goes on to the first page: the token does not stay in the address bar.
pub(super) fn enter(token: &str, door: &Door) -> Response {
    let cookie = format!(
        "{}={token}; HttpOnly; SameSite=Strict; Path=/",
        door.cookie()
    );
    (
        StatusCode::SEE_OTHER,
        [(SET_COOKIE, cookie), (LOCATION, "/".to_owned())],
    )
        .into_response()
}
