//! The requests of the page, answered as JSON. `docs/serve.md` lists the addresses.

mod answer;
mod error;
mod files;
mod given;
mod jobs;
mod live;
mod start;
mod verdicts;

use answer::{Answer, Json, run_queued};
pub(super) use error::ApiError;

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::from_fn_with_state;
use axum::response::IntoResponse as _;
use axum::routing::{get, post};

use super::gate::gate;
use super::{Shared, assets};

/// Largest body of a request \[bytes\].
const BODY_BYTES: usize = 1024 * 1024;

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
        .fallback(async || ApiError::new(StatusCode::NOT_FOUND, "nothing here").into_response())
        .method_not_allowed_fallback(async || {
            ApiError::new(
                StatusCode::METHOD_NOT_ALLOWED,
                "this address does not take this method",
            )
            .into_response()
        })
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .layer(from_fn_with_state(Arc::clone(&shared), gate))
        .with_state(shared)
}
