//! Long work: start it, ask about it, stop it, read its report.

use std::sync::Arc;

use axum::body::Bytes;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use serde::Deserialize;
use serde_json::json;
use tokio::task::spawn_blocking;

use super::answer::check_kind;
use super::{Answer, ApiError, Json};
use crate::command::ONE_FILE;
use crate::serve::Shared;
use crate::serve::guard::page;
use halfturn_answers::Work;

/// `POST /api/jobs`: starts a job.
pub(super) async fn submit(
    State(shared): State<Arc<Shared>>,
    headers: HeaderMap,
    bytes: Bytes,
) -> Answer {
    check_kind(&headers)?;
    let page = page(&headers).unwrap_or_default().to_owned();
    let work = shared.live.run(move |_| Work::read(&bytes)).await??;
    let id = shared.jobs.submit(&page, work)?;
    Ok(Json(json!({ "id": id })))
}

#[derive(Deserialize)]
pub(super) struct Kind {
    /// Without its script, for a frame that runs none.
    #[serde(default)]
    still: bool,
    /// With the page and its engine in it, to save.
    #[serde(default)]
    engine: bool,
}

#[derive(Deserialize)]
pub(super) struct From {
    #[serde(default)]
    from: usize,
}

/// `GET /api/jobs/ID?from=N`: the state of a job, with its rows from number N.
pub(super) async fn status(
    State(shared): State<Arc<Shared>>,
    Path(id): Path<String>,
    Query(From { from }): Query<From>,
) -> Answer {
    // Turning many rows into JSON takes time.
    let told = spawn_blocking(move || shared.jobs.status(&id, from));
    told.await.ok().flatten().map(Json).ok_or_else(unknown)
}

/// `DELETE /api/jobs/ID`: stops a job.
pub(super) async fn stop(State(shared): State<Arc<Shared>>, Path(id): Path<String>) -> Answer {
    if shared.jobs.stop(&id) {
        Ok(Json(json!({ "id": id })))
    } else {
        Err(unknown())
    }
}

/// `GET /api/jobs/ID/report`: the report of a finished job.
pub(super) async fn report(
    State(shared): State<Arc<Shared>>,
    Path(id): Path<String>,
    Query(Kind { still, engine }): Query<Kind>,
) -> Result<Response, ApiError> {
    let one_file = engine.then_some(ONE_FILE);
    let mut report = shared.jobs.report(&id, one_file).ok_or_else(unknown)?;
    if still && let Some((before, after)) = report.rsplit_once("<script>") {
        report = format!(
            "{before}{}",
            after.split_once("</script>").unwrap_or_default().1
        );
    }
    let headers = [
        (header::CONTENT_TYPE, "text/html; charset=utf-8".to_owned()),
        (
            header::CONTENT_SECURITY_POLICY,
            halfturn_report::page::policy_when_served(),
        ),
    ];
    Ok((headers, report).into_response())
}

fn unknown() -> ApiError {
    ApiError::new(
        StatusCode::NOT_FOUND,
        "this job does not exist, or is too long ago. Start it again",
    )
}
