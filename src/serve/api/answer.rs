//! A request with a body -> its answer.

use axum::body::Bytes;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::error::ApiError;
use crate::serve::live::Deadline;
use crate::serve::shared::Shared;

/// A JSON answer, or the reason why there is none.
pub(super) type Answer = Result<Json, ApiError>;

/// A value as the body of an answer.
pub(super) struct Json(pub(super) Value);

impl IntoResponse for Json {
    fn into_response(self) -> Response {
        let kind = [(header::CONTENT_TYPE, "application/json")];
        (kind, self.0.to_string()).into_response()
    }
}

/// Reads the body of a request and answers it as live work, because reading a large body takes time too.
pub(super) async fn run_queued<T, V>(
    shared: &Shared,
    headers: &HeaderMap,
    bytes: Bytes,
    work: impl FnOnce(T, &Deadline) -> Result<V, ApiError> + Send + 'static,
) -> Result<V, ApiError>
where
    T: DeserializeOwned,
    V: Send + 'static,
{
    check_kind(headers)?;
    let answer = move |deadline: &Deadline| {
        let asked = serde_json::from_slice(&bytes)
            .map_err(|e| ApiError::new(StatusCode::BAD_REQUEST, format!("the body: {e}")))?;
        work(asked, deadline)
    };
    shared.live.run(answer).await?
}

/// Checks that the body claims to be JSON.
fn check_kind(headers: &HeaderMap) -> Result<(), ApiError> {
    let kind = headers
        .get(header::CONTENT_TYPE)
        .and_then(|v| v.to_str().ok());
    let json = kind.is_some_and(|k| {
        let essence = k.split(';').next().unwrap_or("").trim();
        essence.eq_ignore_ascii_case("application/json")
    });
    if !json {
        let why = "the body must be application/json";
        return Err(ApiError::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, why));
    }
    Ok(())
}
