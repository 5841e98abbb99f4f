//! What the page asks for, as JSON. `docs/serve.md` lists the addresses.

mod error;
mod files;
mod given;
mod jobs;
mod live;
mod start;
mod verdicts;

pub(super) use error::ApiError;

use std::sync::Arc;

use axum::Router;
use axum::body::Bytes;
use axum::extract::DefaultBodyLimit;
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::live::Deadline;
use super::{Shared, assets, guard};

/// Largest body of a request \[bytes\].
const BODY_BYTES: usize = 1024 * 1024;

/// A JSON answer, or what is wrong.
type Answer = Result<Json, ApiError>;

/// A value as the body of an answer.
struct Json(Value);

impl axum::response::IntoResponse for Json {
    fn into_response(self) -> Response {
        let kind = [(header::CONTENT_TYPE, "application/json")];
        (kind, self.0.to_string()).into_response()
    }
}

/// All addresses.
pub(super) fn router(shared: Arc<Shared>) -> Router {
    Router::new()
        .route("/", get(assets::page))
        .route("/icon.svg", get(assets::icon))
        .route("/page/player.js", get(assets::player_script))
        .route("/page/player.css", get(assets::player_style))
        .route("/page/{*name}", get(assets::asset))
        .route("/api/start", get(start::start))
        .route("/api/rig/read", post(files::read_rig_file))
        .route("/api/rig/write", post(files::write_rig_file))
        .route("/api/targets/read", post(files::read_targets_file))
        .route("/api/targets/write", post(files::write_targets_file))
        .route("/api/panels", post(given::panels))
        .route("/api/fit", post(given::fit_log))
        .route("/api/live", post(live::live))
        .route("/api/hunting", post(live::hunting))
        .route("/api/verdicts", post(verdicts::verdicts))
        .route("/api/jobs", post(jobs::submit))
        .route("/api/jobs/{id}", get(jobs::status).delete(jobs::stop))
        .route("/api/jobs/{id}/report", get(jobs::report))
        .fallback(async || {
            ApiError::new(StatusCode::NOT_FOUND, "there is nothing here").into_response()
        })
        .method_not_allowed_fallback(async || {
            ApiError::new(StatusCode::METHOD_NOT_ALLOWED, "not in this way").into_response()
        })
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .layer(from_fn_with_state(Arc::clone(&shared), guard::guard))
        .with_state(shared)
}

/// Reads the body of a request and answers it among the live work: reading a large one takes time, too.
async fn run_queued<T, V>(
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

/// The body says that it is JSON.
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
