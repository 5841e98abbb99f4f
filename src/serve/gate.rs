//! Refuses whatever [`guard`](super::guard) forbids, and sets the headers of every answer.

use std::sync::Arc;

use axum::body::to_bytes;
use axum::extract::{Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};

use super::api::ApiError;
use super::shared::Shared;

/// Longest text of a refusal \[bytes\].
const MOST_WORDS: usize = 4096;

/// The content policy of the page. A report has its own.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
connect-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// Passes a request on or refuses it, and sets the headers of the answer.
pub(super) async fn gate(
    State(shared): State<Arc<Shared>>,
    request: Request,
    next: Next,
) -> Response {
    let fault = shared
        .origins
        .fault(request.method(), request.uri(), request.headers());
    let mut response = match fault {
        Some(why) => ApiError::new(StatusCode::FORBIDDEN, why).into_response(),
        None => in_json(next.run(request).await).await,
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("permissions-policy"),
            "camera=(), geolocation=(), microphone=(), serial=(), usb=()",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers
        .entry(header::CONTENT_SECURITY_POLICY)
        .or_insert(HeaderValue::from_static(POLICY));
    response
}

/// Turns a refusal of the library into the form of ours.
async fn in_json(response: Response) -> Response {
    let status = response.status();
    let json = response.headers().get(header::CONTENT_TYPE);
    let json = json.is_some_and(|kind| kind == "application/json");
    if json || !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    let text = to_bytes(response.into_body(), MOST_WORDS).await;
    let text = text.unwrap_or_default();
    let words = String::from_utf8_lossy(&text);
    let why = if words.is_empty() {
        status.canonical_reason().unwrap_or("refused")
    } else {
        &words
    };
    ApiError::new(status, why).into_response()
}
