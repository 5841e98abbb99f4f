//! An error answer to a request, as JSON.

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::json;

use crate::serve::jobs::Full;
use crate::serve::live::NoResult;
use halfturn_engine::rig::InputError;

/// An error answer.
#[derive(Debug)]
pub(in crate::serve) struct ApiError {
    status: StatusCode,
    message: String,
    /// The fault in the user's input; `None` if something else is wrong.
    input: Option<Box<InputError>>,
}

impl ApiError {
    pub(in crate::serve) fn new(status: StatusCode, message: impl Into<String>) -> Self {
        Self {
            status,
            message: message.into(),
            input: None,
        }
    }

    /// An error of the program.
    pub(super) fn broken(message: impl Into<String>) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, message)
    }

    /// The page asked for more than it may.
    pub(super) fn too_much(message: impl Into<String>) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, message)
    }
}

impl From<InputError> for ApiError {
    fn from(error: InputError) -> Self {
        Self {
            status: StatusCode::UNPROCESSABLE_ENTITY,
            message: error.to_string(),
            input: Some(Box::new(error)),
        }
    }
}

impl From<NoResult> for ApiError {
    fn from(error: NoResult) -> Self {
        match error {
            NoResult::Busy => Self::new(
                StatusCode::SERVICE_UNAVAILABLE,
                "too many pages ask at once. Try again",
            ),
            NoResult::Broken => Self::broken("a fault in the program"),
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
        let mut error = json!({ "message": self.message });
        if let Some(input) = self.input {
            error["key"] = input.key.into();
            error["value"] = input.value.into();
            error["allowed"] = input.allowed.into();
            error["line"] = input.line.into();
        }
        let kind = [(header::CONTENT_TYPE, "application/json")];
        let text = json!({ "error": error }).to_string();
        let mut response = (self.status, kind, text).into_response();
        let later = [
            StatusCode::SERVICE_UNAVAILABLE,
            StatusCode::TOO_MANY_REQUESTS,
        ];
        if later.contains(&self.status) {
            let headers = response.headers_mut();
            headers.insert(header::RETRY_AFTER, HeaderValue::from_static("1"));
        }
        response
    }
}
