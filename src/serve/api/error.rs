//! An error answer to a request, as JSON.

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::serve::jobs::Full;
use crate::serve::live::NoResult;
use halfturn_answers::Refusal;

/// An error answer.
#[derive(Debug)]
pub(in crate::serve) struct ApiError(Refusal);

impl ApiError {
    pub(in crate::serve) fn new(status: StatusCode, message: impl Into<String>) -> Self {
        Self(Refusal::new(status.as_u16(), message))
    }
}

impl From<Refusal> for ApiError {
    fn from(refusal: Refusal) -> Self {
        Self(refusal)
    }
}

impl From<NoResult> for ApiError {
    fn from(error: NoResult) -> Self {
        match error {
            NoResult::Busy => Self::new(
                StatusCode::SERVICE_UNAVAILABLE,
                "too many pages ask at once. Try again",
            ),
            NoResult::Broken => Self(Refusal::broken("a fault in the program")),
        }
    }
}

impl From<Full> for ApiError {
    fn from(error: Full) -> Self {
        let why = match error {
            Full::Queue => "the queue is full. Try again later",
            Full::Page => "this page has enough work waiting. Stop some of it, or wait",
        };
        Self::new(StatusCode::TOO_MANY_REQUESTS, why)
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.0.status);
        let status = status.unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let kind = [(header::CONTENT_TYPE, "application/json")];
        let mut response = (status, kind, self.0.json().to_string()).into_response();
        let later = [
            StatusCode::SERVICE_UNAVAILABLE,
            StatusCode::TOO_MANY_REQUESTS,
        ];
        if later.contains(&status) {
            let headers = response.headers_mut();
            headers.insert(header::RETRY_AFTER, HeaderValue::from_static("1"));
        }
        response
    }
}
