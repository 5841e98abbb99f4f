//! A request with a body -> its answer.

use axum::body::Bytes;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
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

/// Answers a request as live work, because reading a large body takes time too.
pub(super) async fn answered(
    shared: &Shared,
    headers: &HeaderMap,
    path: &'static str,
    body: Bytes,
) -> Answer {
    check_kind(headers)?;
    let work = move |deadline: &Deadline| halfturn_answers::answer(path, &body, deadline);
    Ok(Json(shared.live.run(work).await??))
}

/// Checks that the body claims to be JSON.
pub(super) fn check_kind(headers: &HeaderMap) -> Result<(), ApiError> {
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
