//! Who may ask: the token, the host, where a change comes from, and what a browser is told about every answer.

use super::frame::refusal;
use super::{Desk, MOST_BYTES};
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

/// Name of the cookie that carries the token.
const NAME: &str = "pullcast";
/// A page may show its own styles and run its own script, send its forms here, and nothing else.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; \
     frame-ancestors 'none'";

/// 128 random bits in hexadecimal: nobody guesses it, and it lives as long as the server.
#[expect(
    clippy::disallowed_methods,
    reason = "a token has to be beyond guessing, and no answer depends on it"
)]
pub(super) fn token() -> String {
    format!("{:032x}", rand::rng().random::<u128>())
}

/// Lets a request through, or says why not.
pub(super) async fn hold(State(desk): State<Arc<Desk>>, request: Request, next: Next) -> Response {
    let mut response = match judge(&desk, &request) {
        Ok(Entry::Known) => next.run(request).await,
        Ok(Entry::Comes) => enter(&desk),
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
    tell(REFERRER_POLICY, "no-referrer");
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
    /// Somebody with the cookie.
    Known,
    /// Somebody with the printed address.
    Comes,
}

fn judge(desk: &Desk, request: &Request) -> Result<Entry, (StatusCode, &'static str)> {
    let header = |name| {
        request
            .headers()
            .get(name)
            .and_then(|v: &HeaderValue| v.to_str().ok())
    };
    // A name that somebody else's page made to lead here (rebinding) is not ours.
    let host = header(HOST).unwrap_or_default();
    let ours = ["127.0.0.1", "localhost"].map(|name| format!("{name}:{}", desk.port));
    if !ours.iter().any(|name| name == host) {
        return Err((
            StatusCode::MISDIRECTED_REQUEST,
            "This server answers to its own address alone.",
        ));
    }
    if request.method() != Method::GET && request.method() != Method::HEAD {
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
            "This is larger than the log of any pull.",
        ));
    }
    let brought = header(COOKIE).unwrap_or_default().split(';').any(|pair| {
        let value = pair.trim().split_once('=');
        value.is_some_and(|(name, value)| name == NAME && same(value, &desk.token))
    });
    if brought {
        return Ok(Entry::Known);
    }
    let key = request.uri().query().unwrap_or_default();
    let key = key.strip_prefix("key=").unwrap_or_default();
    if request.method() == Method::GET && request.uri().path() == "/" && same(key, &desk.token) {
        return Ok(Entry::Comes);
    }
    Err((
        StatusCode::UNAUTHORIZED,
        "This page is opened by the address that `pullcast serve` printed when it started.",
    ))
}

/// Whether two texts are the same, in a time that does not tell where they differ.
fn same(one: &str, other: &str) -> bool {
    let differ = one
        .bytes()
        .zip(other.bytes())
        .fold(0, |differ, (a, b)| differ | (a ^ b));
    one.len() == other.len() && differ == 0
}

/// Takes the token out of the address bar and into a cookie that no other site can send.
fn enter(desk: &Desk) -> Response {
    let cookie = format!("{NAME}={}; HttpOnly; SameSite=Strict; Path=/", desk.token);
    (
        StatusCode::SEE_OTHER,
        [(SET_COOKIE, cookie), (LOCATION, "/".to_owned())],
    )
        .into_response()
}
