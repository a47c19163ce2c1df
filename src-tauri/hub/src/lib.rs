//! HTTP host of the same interface: the pages and the calls, on a loopback address.
//!
//! This crate knows HTTP and nothing of boards: a call goes to the handler as its name and JSON.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::Router;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Path, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::middleware::{Next, from_fn, map_response};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde_json::{Value, json};
use tokio::net::TcpListener;

/// Answers a call: its name and body in, the text of the reply's JSON or an error out.
pub type Handler = Arc<dyn Fn(&str, Value) -> Result<String, Value> + Send + Sync>;

/// One file of the interface: path without leading slash, media type, bytes.
pub type UiFile = (&'static str, &'static str, &'static [u8]);

/// Largest body of a call: one original photo or bundle in base64.
pub const LARGEST_BODY: usize = 384 * 1024 * 1024;

/// What the pages may do: nothing from elsewhere, no inline script or style.
pub const CONTENT_POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; \
     img-src 'self' data: blob:; connect-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'none'";

#[derive(Clone)]
struct Shared {
    handler: Handler,
    ui: &'static [UiFile],
}

/// A failure to start or to go on serving.
#[derive(Debug, thiserror::Error)]
#[error("the address {address} cannot be served: {source}")]
pub struct ServeError {
    /// The address asked for.
    pub address: SocketAddr,
    /// What the system says.
    #[source]
    pub source: std::io::Error,
}

/// Serves pages and calls until the process ends. `ready` gets the address once it is open.
///
/// Only this machine may ask: the listener must be on a loopback address, and a request whose
/// `Host` or `Origin` names anything else is refused, so that no page on the internet can reach it.
///
/// # Errors
/// [`ServeError`] where the address is taken, is not loopback, or the socket fails.
pub async fn serve(
    address: SocketAddr,
    handler: Handler,
    ui: &'static [UiFile],
    ready: impl FnOnce(SocketAddr),
) -> Result<(), ServeError> {
    let failed = |source| ServeError { address, source };
    if !address.ip().is_loopback() {
        return Err(failed(std::io::Error::other("only a loopback address, such as 127.0.0.1")));
    }
    let listener = TcpListener::bind(address).await.map_err(failed)?;
    ready(listener.local_addr().map_err(failed)?);
    axum::serve(listener, router(handler, ui)).await.map_err(failed)
}

/// The routes, for [`serve`] and for tests.
pub fn router(handler: Handler, ui: &'static [UiFile]) -> Router {
    Router::new()
        .route("/api/{name}", post(call))
        .route("/", get(page))
        .route("/{*path}", get(page))
        .with_state(Shared { handler, ui })
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        .layer(from_fn(own_machine_only))
        .layer(map_response(guard_headers))
}

async fn call(State(shared): State<Shared>, Path(name): Path<String>, headers: HeaderMap, body: Bytes) -> Response {
    let json_body = headers
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|value| value.split(';').next() == Some("application/json"));
    if !json_body {
        return refuse(StatusCode::UNSUPPORTED_MEDIA_TYPE, "send the call as application/json");
    }
    let body: Value = match serde_json::from_slice(&body) {
        Ok(body) => body,
        Err(error) => return refuse(StatusCode::BAD_REQUEST, &format!("the body is not JSON: {error}")),
    };
    let handler = shared.handler.clone();
    match tokio::task::spawn_blocking(move || handler(&name, body)).await {
        Ok(Ok(reply)) => ([(header::CONTENT_TYPE, "application/json")], reply).into_response(),
        Ok(Err(error)) => {
            let status = match error.get("kind").and_then(Value::as_str) {
                Some("refused") => StatusCode::UNPROCESSABLE_ENTITY,
                Some("not_found") => StatusCode::NOT_FOUND,
                _ => StatusCode::INTERNAL_SERVER_ERROR,
            };
            (status, axum::Json(error)).into_response()
        }
        Err(_) => refuse(StatusCode::INTERNAL_SERVER_ERROR, "the call broke off; what was saved before is safe"),
    }
}

async fn page(State(shared): State<Shared>, uri: Uri) -> Response {
    let path = match uri.path().trim_start_matches('/') {
        "" => "index.html",
        path => path,
    };
    match shared.ui.iter().find(|(name, _, _)| *name == path) {
        Some((_, media, bytes)) => ([(header::CONTENT_TYPE, *media)], *bytes).into_response(),
        None => refuse(StatusCode::NOT_FOUND, "there is no such page"),
    }
}

async fn own_machine_only(request: Request, next: Next) -> Response {
    if from_own_machine(request.headers()) {
        next.run(request).await
    } else {
        refuse(StatusCode::FORBIDDEN, "only pages of this app on this machine may ask")
    }
}

fn from_own_machine(headers: &HeaderMap) -> bool {
    let text = |name| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    let Some(host) = text(header::HOST) else { return false };
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => host,
    };
    let same_origin = text(header::ORIGIN).is_none_or(|origin| origin.strip_prefix("http://") == Some(host));
    matches!(name, "127.0.0.1" | "localhost" | "[::1]") && same_origin
}

async fn guard_headers(mut response: Response) -> Response {
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(CONTENT_POLICY));
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    response
}

fn refuse(status: StatusCode, message: &str) -> Response {
    let kind = if status == StatusCode::NOT_FOUND {
        "not_found"
    } else if status.is_client_error() {
        "refused"
    } else {
        "failed"
    };
    (status, axum::Json(json!({ "kind": kind, "message": message, "problems": [] }))).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    async fn ask(request: &str) -> String {
        let handler: Handler = Arc::new(|name, body| {
            if name == "echo" {
                Ok(body.to_string())
            } else {
                Err(json!({"kind": "not_found", "message": "no such call"}))
            }
        });
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        static UI: &[UiFile] = &[("index.html", "text/html; charset=utf-8", b"<title>board</title>")];
        tokio::spawn(async move { axum::serve(listener, router(handler, UI)).await });
        let mut stream = tokio::net::TcpStream::connect(address).await.unwrap();
        let request = request.replace("HOST", &address.to_string());
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut reply = String::new();
        stream.read_to_string(&mut reply).await.unwrap();
        reply
    }

    fn post(path: &str, headers: &str, body: &str) -> String {
        format!("POST {path} HTTP/1.1\r\n{headers}Connection: close\r\nContent-Length: {}\r\n\r\n{body}", body.len())
    }

    #[tokio::test]
    async fn pages_and_calls_of_this_machine_are_answered() {
        let page = ask("GET / HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n").await;
        assert!(page.starts_with("HTTP/1.1 200") && page.contains("<title>board</title>"), "{page}");
        assert!(page.to_lowercase().contains("content-security-policy"));
        let json = "Host: HOST\r\nContent-Type: application/json\r\n";
        assert!(ask(&post("/api/echo", json, "{\"a\":1}")).await.ends_with("{\"a\":1}"));
        assert!(ask(&post("/api/none", json, "{}")).await.starts_with("HTTP/1.1 404"));
        assert!(ask(&post("/api/echo", json, "{")).await.starts_with("HTTP/1.1 400"));
        assert!(ask(&post("/api/echo", "Host: HOST\r\n", "{}")).await.starts_with("HTTP/1.1 415"));
    }

    #[tokio::test]
    async fn others_are_refused() {
        for headers in
            ["Host: example.org\r\n", "Host: HOST\r\nOrigin: http://example.org\r\n", "Host: HOST\r\nOrigin: null\r\n"]
        {
            let all = format!("{headers}Content-Type: application/json\r\n");
            assert!(ask(&post("/api/echo", &all, "{}")).await.starts_with("HTTP/1.1 403"), "{headers}");
        }
    }
}
