//! HTTP host of the same interface: the pages, the calls and the files, on a loopback address.
//!
//! This crate knows HTTP and nothing of boards: a call goes to its handler as a name and JSON. A file comes and goes
//! as raw bytes, by way of the disk: however large it is, a part of it at a time is in memory.

mod files;
mod key;
mod patient;

use std::net::SocketAddr;
use std::path::{Path as FilePath, PathBuf};
use std::pin::{Pin, pin};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::{Body, Bytes, HttpBody};
use axum::extract::{Path, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::middleware::{Next, from_fn, from_fn_with_state, map_response};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use serde_json::{Value, json};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::time::timeout;

pub use key::{KEY_HEADER, Key};
use patient::Patient;

/// Answers a call: its name and the JSON of its body in, the text of the reply's JSON or an error out.
pub type Handler = Arc<dyn Fn(&str, &[u8]) -> Result<String, Value> + Send + Sync>;
/// Takes in a file that came: the call's name, the JSON of what goes with the file, the file.
pub type Taker = Arc<dyn Fn(&str, &[u8], &FilePath) -> Result<String, Value> + Send + Sync>;
/// Writes a file that was asked for: the call's name, the JSON of what is asked, where to.
pub type Giver = Arc<dyn Fn(&str, &[u8], &FilePath) -> Result<Given, Value> + Send + Sync>;

/// What a file that goes out is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Given {
    /// Name to save it under: letters that every file system takes.
    pub name: String,
    /// Media type.
    pub media: String,
}

/// What answers.
#[derive(Clone)]
pub struct Answers {
    /// Calls.
    pub call: Handler,
    /// Largest body of a call, in bytes.
    pub largest: fn(&str) -> usize,
    /// Files that come.
    pub take: Taker,
    /// Largest file that a call takes, in bytes; none where it takes no file.
    pub largest_file: fn(&str) -> Option<u64>,
    /// Files that go.
    pub give: Giver,
    /// Folder for files on their way; it is there, and its owner's alone.
    pub folder: PathBuf,
}

/// What one host bears with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// For the whole head of a request, and between two requests.
    pub head: Duration,
    /// For the next part of a body, and for the other side to take the next part of a reply.
    pub part: Duration,
    /// For the whole body of a call.
    pub body: Duration,
    /// Connections at a time; further ones wait.
    pub connections: usize,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            head: Duration::from_secs(15),
            part: Duration::from_secs(30),
            body: Duration::from_secs(120),
            connections: 64,
        }
    }
}

/// One file of the interface: path without leading slash, media type, bytes.
pub type UiFile = (&'static str, &'static str, &'static [u8]);

/// What the pages may do: nothing from elsewhere, no inline script or style.
pub const CONTENT_POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; \
     img-src 'self' data: blob:; connect-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'none'";

#[derive(Clone)]
struct Shared {
    answers: Answers,
    ui: &'static [UiFile],
    patience: Patience,
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
/// `Host` or `Origin` names anything else is refused, so that no page on the internet can reach it. And only who
/// holds the key gets a call answered or a file: other people and programs of this machine reach the same
/// address. The page itself, the same for everybody, needs none.
///
/// # Errors
/// [`ServeError`] where the address is taken, is not loopback, or the socket fails.
pub async fn serve(
    address: SocketAddr,
    key: Key,
    answers: Answers,
    ui: &'static [UiFile],
    ready: impl FnOnce(SocketAddr),
) -> Result<(), ServeError> {
    let failed = |source| ServeError { address, source };
    if !address.ip().is_loopback() {
        return Err(failed(std::io::Error::other("only a loopback address, such as 127.0.0.1")));
    }
    let listener = TcpListener::bind(address).await.map_err(failed)?;
    ready(listener.local_addr().map_err(failed)?);
    let patience = Patience::default();
    serve_on(&listener, router(key, answers, ui, patience), patience).await;
    Ok(())
}

/// Serves whoever connects, each with so much patience and no more: a connection that says nothing, or takes nothing
/// of what it asked for, is closed, so that others get their turn.
async fn serve_on(listener: &TcpListener, router: Router, patience: Patience) {
    let free = Arc::new(Semaphore::new(patience.connections));
    loop {
        let Ok(turn) = free.clone().acquire_owned().await else { return };
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            Err(_) => {
                // Out of descriptors, or the other side is gone already: neither is the end of the host.
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        // Small replies are not to wait for more.
        let _slower = stream.set_nodelay(true);
        let service = TowerToHyperService::new(router.clone());
        tokio::spawn(async move {
            let io = TokioIo::new(Patient::new(stream, patience.part));
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                // The header cannot name a day before 1970, and its writer panics on one.
                .auto_date_header(false)
                .header_read_timeout(patience.head)
                .max_buf_size(64 * 1024)
                .serve_connection(io, service);
            // However it ended, this connection is over.
            let _ended = connection.await;
            drop(turn);
        });
    }
}

/// The routes.
fn router(key: Key, answers: Answers, ui: &'static [UiFile], patience: Patience) -> Router {
    Router::new()
        .route("/api/{name}", post(call))
        .route("/files/{name}/{request}", get(files::give).post(files::take))
        // Before anything of a call is looked at, were it its length.
        .route_layer(from_fn_with_state(Arc::new(key), key::holders_only))
        .route("/", get(page))
        .route("/{*path}", get(page))
        .with_state(Shared { answers, ui, patience })
        .layer(from_fn(own_machine_only))
        .layer(map_response(guard_headers))
}

fn sent_as(headers: &HeaderMap, media: &str) -> bool {
    headers
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|value| value.split(';').next() == Some(media))
}

async fn call(State(shared): State<Shared>, Path(name): Path<String>, headers: HeaderMap, body: Body) -> Response {
    if !sent_as(&headers, "application/json") {
        return refuse(StatusCode::UNSUPPORTED_MEDIA_TYPE, "send the call as application/json");
    }
    let largest = (shared.answers.largest)(&name);
    let mut whole = Vec::new();
    let read = each_part(body, largest as u64, shared.patience.part, |part| {
        whole.extend_from_slice(&part);
        Ok(())
    });
    match timeout(shared.patience.body, read).await {
        Ok(Ok(())) => {}
        Ok(Err(refusal)) => return refusal.into_response(),
        Err(_) => return refuse(StatusCode::REQUEST_TIMEOUT, "the call did not come whole in time: send it again"),
    }
    if let Err(error) = serde_json::from_slice::<serde::de::IgnoredAny>(&whole) {
        return refuse(StatusCode::BAD_REQUEST, &format!("the body is not JSON: {error}"));
    }
    let handler = shared.answers.call.clone();
    reply(tokio::task::spawn_blocking(move || handler(&name, &whole)).await)
}

/// Why a body was not taken.
struct Refusal(StatusCode, String);

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let mut response = refuse(self.0, &self.1);
        // The rest of the body is not waited for.
        response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
        response
    }
}

/// Hands on a body part by part, up to a length, each part within a time.
async fn each_part(
    body: Body,
    largest: u64,
    patience: Duration,
    mut part: impl FnMut(Bytes) -> std::io::Result<()>,
) -> Result<(), Refusal> {
    let large = || {
        let shown = if largest < 1024 * 1024 { format!("{largest} bytes") } else { format!("{} MB", largest >> 20) };
        Refusal(StatusCode::PAYLOAD_TOO_LARGE, format!("too large: up to {shown} will do"))
    };
    if body.size_hint().lower() > largest {
        return Err(large());
    }
    let mut body = pin!(body);
    let mut length = 0_u64;
    loop {
        let next = std::future::poll_fn(|context| Pin::as_mut(&mut body).poll_frame(context));
        let frame = match timeout(patience, next).await {
            Err(_) => {
                let message = "nothing more came: send it again".to_owned();
                return Err(Refusal(StatusCode::REQUEST_TIMEOUT, message));
            }
            Ok(None) => return Ok(()),
            Ok(Some(Err(error))) => {
                return Err(Refusal(StatusCode::BAD_REQUEST, format!("it came in part ({error}): send it again")));
            }
            Ok(Some(Ok(frame))) => frame,
        };
        let Ok(data) = frame.into_data() else { continue };
        length += data.len() as u64;
        if length > largest {
            return Err(large());
        }
        part(data).map_err(|error| {
            let message = format!("it cannot be written to the disk ({error}): make room, then send it again");
            Refusal(StatusCode::INTERNAL_SERVER_ERROR, message)
        })?;
    }
}

fn reply(answered: Result<Result<String, Value>, tokio::task::JoinError>) -> Response {
    match answered {
        Ok(Ok(reply)) => ([(header::CONTENT_TYPE, "application/json")], reply).into_response(),
        Ok(Err(error)) => told(error),
        Err(_) => broke_off(),
    }
}

fn told(error: Value) -> Response {
    let status = match error.get("kind").and_then(Value::as_str) {
        Some("refused") => StatusCode::UNPROCESSABLE_ENTITY,
        Some("not_found") => StatusCode::NOT_FOUND,
        _ => StatusCode::INTERNAL_SERVER_ERROR,
    };
    (status, axum::Json(error)).into_response()
}

fn broke_off() -> Response {
    refuse(StatusCode::INTERNAL_SERVER_ERROR, "the call broke off; what was saved before is safe")
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

    const KEY: &str = "5f0c4d1e9b7a43b2a1d0c9e8f7a6b5c4";

    /// A host in a folder of its own.
    struct Host {
        address: SocketAddr,
        folder: tempfile::TempDir,
    }

    async fn host(patience: Patience) -> Host {
        let folder = tempfile::tempdir().unwrap();
        let answers = Answers {
            call: Arc::new(|name, body| match name {
                "echo" => Ok(String::from_utf8(body.to_vec()).unwrap()),
                "refuse" => Err(json!({"kind": "refused", "message": "no", "problems": []})),
                _ => Err(json!({"kind": "not_found", "message": "no such call"})),
            }),
            largest: |name| if name == "echo" { 1000 } else { 10 },
            take: Arc::new(|_, request, file| {
                let request = String::from_utf8(request.to_vec()).unwrap();
                Ok(json!([request, std::fs::metadata(file).unwrap().len()]).to_string())
            }),
            largest_file: |name| (name == "put").then_some(3_000_000),
            give: Arc::new(|_, request, file| {
                let length: usize = serde_json::from_slice(request).unwrap();
                std::fs::write(file, vec![b'x'; length]).unwrap();
                Ok(Given { name: "all.zip".to_owned(), media: "application/zip".to_owned() })
            }),
            folder: folder.path().to_owned(),
        };
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        static UI: &[UiFile] = &[("index.html", "text/html; charset=utf-8", b"<title>board</title>")];
        tokio::spawn(async move {
            serve_on(&listener, router(Key::new(KEY).unwrap(), answers, UI, patience), patience).await
        });
        Host { address, folder }
    }

    impl Host {
        async fn connect(&self, request: &[u8]) -> tokio::net::TcpStream {
            let mut stream = tokio::net::TcpStream::connect(self.address).await.unwrap();
            stream.write_all(request).await.unwrap();
            stream
        }
        async fn ask(&self, request: &str) -> String {
            let request = request.replace("HOST", &self.address.to_string()).replace("KEY", KEY);
            let mut stream = self.connect(request.as_bytes()).await;
            let mut reply = String::new();
            stream.read_to_string(&mut reply).await.unwrap();
            reply
        }
    }

    async fn ask(request: &str) -> String {
        host(Patience::default()).await.ask(request).await
    }

    /// One that waits for nobody.
    fn hasty() -> Patience {
        let soon = Duration::from_millis(200);
        Patience { head: soon, part: soon, body: soon * 5, connections: 2 }
    }

    #[tokio::test]
    async fn files_come_and_go_by_way_of_the_disk() {
        let host = host(Patience::default()).await;
        let raw = "Host: HOST\r\nWaywright-Key: KEY\r\nContent-Type: application/octet-stream\r\n";
        let body = "y".repeat(2_500_000);
        let reply = host.ask(&post("/files/put/%7B%22a%22%3A%22b%2Fc%22%7D", raw, &body)).await;
        assert!(reply.ends_with(r#"["{\"a\":\"b/c\"}",2500000]"#), "{reply:.300}");
        let reply =
            host.ask("GET /files/get/3000000?key=KEY HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n").await;
        let (head, file) = reply.split_once("\r\n\r\n").unwrap();
        let head = head.to_lowercase();
        assert!(head.contains("content-length: 3000000") && head.contains("filename=\"all.zip\""), "{head}");
        assert!(file.len() == 3_000_000 && file.bytes().all(|byte| byte == b'x'));
        let reply = host.ask(&post("/files/put/1", raw, &"y".repeat(3_000_001))).await;
        assert!(reply.starts_with("HTTP/1.1 413") && reply.contains("up to 2 MB"), "{reply:.300}");
        assert!(host.ask(&post("/files/nothing/1", raw, "y")).await.starts_with("HTTP/1.1 404"));
        assert!(
            host.ask(&post("/files/put/1", "Host: HOST\r\nWaywright-Key: KEY\r\n", "y"))
                .await
                .starts_with("HTTP/1.1 415")
        );
        let left: Vec<_> = std::fs::read_dir(host.folder.path()).unwrap().collect();
        assert!(left.is_empty(), "{left:?}");
    }

    #[tokio::test]
    async fn each_call_has_its_own_largest_body_and_status() {
        let json = "Host: HOST\r\nWaywright-Key: KEY\r\nContent-Type: application/json\r\n";
        let reply = ask(&post("/api/echo", json, &format!("\"{}\"", "a".repeat(999)))).await;
        assert!(reply.starts_with("HTTP/1.1 413") && reply.contains("up to 1000 bytes"), "{reply}");
        assert!(ask(&post("/api/refuse", json, "\"aaaaaaaaa\"")).await.starts_with("HTTP/1.1 413"));
        assert!(ask(&post("/api/refuse", json, "1")).await.starts_with("HTTP/1.1 422"));
    }

    #[tokio::test]
    async fn who_says_nothing_or_stops_halfway_is_let_go_and_others_get_their_turn() {
        let host = host(hasty()).await;
        let head = format!(
            "POST /api/echo HTTP/1.1\r\nHost: {}\r\nWaywright-Key: {KEY}\r\nContent-Type: application/json\r\nContent-Length: 9\r\n\r\n[1,",
            host.address
        );
        // More than it bears at a time; none of them ever goes on.
        let mut waiting = Vec::new();
        for start in ["", "GET / HT", "GET / HTTP/1.1\r\nHost: x\r\n", &head, "", "G"] {
            waiting.push(host.connect(start.as_bytes()).await);
        }
        let page = host.ask("GET / HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n").await;
        assert!(page.starts_with("HTTP/1.1 200"), "{page}");
        for mut stream in waiting {
            let mut rest = Vec::new();
            // It ends, with an answer or without.
            let _cut = stream.read_to_end(&mut rest).await;
            let rest = String::from_utf8(rest).unwrap();
            assert!(rest.is_empty() || rest.starts_with("HTTP/1.1 408"), "{rest}");
        }
    }

    #[tokio::test]
    async fn who_takes_nothing_of_the_reply_is_let_go() {
        let host = host(hasty()).await;
        let request = format!("GET /files/get/90000000?key={KEY} HTTP/1.1\r\nHost: {}\r\n\r\n", host.address);
        let held = [host.connect(request.as_bytes()).await, host.connect(request.as_bytes()).await];
        let page = host.ask("GET / HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n").await;
        assert!(page.starts_with("HTTP/1.1 200"), "{page}");
        drop(held);
    }

    fn post(path: &str, headers: &str, body: &str) -> String {
        format!("POST {path} HTTP/1.1\r\n{headers}Connection: close\r\nContent-Length: {}\r\n\r\n{body}", body.len())
    }

    #[tokio::test]
    async fn pages_and_calls_of_this_machine_are_answered() {
        let page = ask("GET / HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n").await;
        assert!(page.starts_with("HTTP/1.1 200") && page.contains("<title>board</title>"), "{page}");
        assert!(page.to_lowercase().contains("content-security-policy"));
        let json = "Host: HOST\r\nWaywright-Key: KEY\r\nContent-Type: application/json\r\n";
        assert!(ask(&post("/api/echo", json, "{\"a\":1}")).await.ends_with("{\"a\":1}"));
        assert!(ask(&post("/api/none", json, "{}")).await.starts_with("HTTP/1.1 404"));
        assert!(ask(&post("/api/echo", json, "{")).await.starts_with("HTTP/1.1 400"));
        assert!(
            ask(&post("/api/echo", "Host: HOST\r\nWaywright-Key: KEY\r\n", "{}")).await.starts_with("HTTP/1.1 415")
        );
    }

    #[tokio::test]
    async fn no_call_and_no_file_without_the_key() {
        let json = "Host: HOST\r\nContent-Type: application/json\r\n";
        let raw = "Host: HOST\r\nContent-Type: application/octet-stream\r\n";
        let get = |path: &str| format!("GET {path} HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n");
        for request in [
            post("/api/echo", json, "1"),
            // Which calls there are is nobody's business either.
            post("/api/none", json, "1"),
            post("/files/put/1", raw, "y"),
            get("/files/get/3"),
            get("/files/get/3?key="),
            // Sent as the page's own requests never are: not in the address of a call.
            post("/api/echo?key=KEY", json, "1"),
            post("/files/put/1?key=KEY", raw, "y"),
        ] {
            let reply = ask(&request).await;
            assert!(reply.starts_with("HTTP/1.1 401"), "{request}: {reply}");
            assert!(reply.contains("open the whole address that was printed"), "{reply}");
        }
        let wrong = KEY.replace('5', "6");
        for request in [
            post("/api/echo", &format!("{json}Waywright-Key: {wrong}\r\n"), "1"),
            post("/api/echo", &format!("{json}Waywright-Key: {}\r\n", &KEY[..31]), "1"),
            post("/api/echo", &format!("{json}Waywright-Key: {KEY}0\r\n"), "1"),
            post("/files/put/1", &format!("{raw}Waywright-Key: {wrong}\r\n"), "y"),
            get(&format!("/files/get/3?key={wrong}")),
            get("/files/get/3?keys=KEY&key=KEY0"),
        ] {
            let reply = ask(&request).await;
            assert!(reply.starts_with("HTTP/1.1 403") && reply.contains("another start"), "{request}: {reply}");
        }
        // The page and what belongs to it are the same for everybody.
        assert!(ask(&get("/")).await.starts_with("HTTP/1.1 200"));
        assert!(ask(&get("/?key=whatever")).await.starts_with("HTTP/1.1 200"));
        // The key alone is not enough.
        let elsewhere =
            "Host: HOST\r\nOrigin: http://example.org\r\nWaywright-Key: KEY\r\nContent-Type: application/json\r\n";
        assert!(ask(&post("/api/echo", elsewhere, "1")).await.starts_with("HTTP/1.1 403"));
        assert!(Key::new("").is_none() && Key::new("short").is_none() && Key::new(&"ä".repeat(32)).is_none());
    }

    #[tokio::test]
    async fn others_are_refused() {
        for headers in
            ["Host: example.org\r\n", "Host: HOST\r\nOrigin: http://example.org\r\n", "Host: HOST\r\nOrigin: null\r\n"]
        {
            let all = format!("{headers}Waywright-Key: KEY\r\nContent-Type: application/json\r\n");
            assert!(ask(&post("/api/echo", &all, "{}")).await.starts_with("HTTP/1.1 403"), "{headers}");
        }
    }
}
