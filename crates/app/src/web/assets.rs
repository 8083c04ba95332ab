//! Files that the pages load: style, scripts, icon. They are part of the program; no path reaches the file system.

use super::person::hex;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Files;

/// One asset, with an entity tag so that a phone loads it once.
pub(crate) async fn serve(Path(path): Path<String>, headers: HeaderMap) -> Response {
    let Some(file) = Files::get(&path) else { return StatusCode::NOT_FOUND.into_response() };
    let tag = format!("\"{}\"", hex(&file.metadata.sha256_hash()[..12]));
    let mime = mime_guess::from_path(&path).first_or_octet_stream();
    if headers.get(header::IF_NONE_MATCH).is_some_and(|t| t.as_bytes() == tag.as_bytes()) {
        return (StatusCode::NOT_MODIFIED, [(header::ETAG, tag)]).into_response();
    }
    let kind = if mime.type_() == "text" { format!("{mime}; charset=utf-8") } else { mime.to_string() };
    ([(header::CONTENT_TYPE, kind), (header::ETAG, tag), (header::CACHE_CONTROL, "no-cache".to_owned())], file.data.into_owned())
        .into_response()
}
