//! How a request reaches the app: Tauri's bridge inside the window, HTTP in a browser.

use std::pin::Pin;

use crate::words::{t, tr};
use api::{ApiError, Call};
use js_sys::{Function, JSON, Object, Promise, Reflect, Uint8Array};
use leptos::prelude::{ArcRwSignal, Update};
use serde::Serialize;
use serde::de::DeserializeOwned;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::File;

/// Sends one request and waits for its reply.
///
/// # Errors
/// What the app refused or failed at, or a sentence that says that it did not answer.
pub async fn call<C: Call>(request: C) -> Result<C::Reply, ApiError> {
    call_as(request).await
}

/// Sends one request and reads its reply as another type of the same form: a board as JSON.
///
/// # Errors
/// As [`call`].
pub async fn call_as<C: Call, R: DeserializeOwned>(request: C) -> Result<R, ApiError> {
    read(&sent(C::NAME, written(&request)).await?)
}

/// A request as it is sent.
///
/// # Errors
/// Where it is no JSON.
pub fn written<T: Serialize>(request: &T) -> Result<String, ApiError> {
    serde_json::to_string(request)
        .map_err(|error| ApiError::failed(tr("ui-call-unsent", &[("why", error.to_string().into())])))
}

/// A reply from its text.
///
/// # Errors
/// Where it is not what the contract says.
pub fn read<R: DeserializeOwned>(reply: &str) -> Result<R, ApiError> {
    serde_json::from_str(reply)
        .map_err(|error| ApiError::failed(tr("ui-call-unread", &[("why", error.to_string().into())])))
}

/// Sends what was written. One function for all calls: a machine of states for each would weigh more
/// than all they send.
pub fn sent(
    name: &'static str,
    body: Result<String, ApiError>,
) -> Pin<Box<dyn Future<Output = Result<String, ApiError>>>> {
    Box::pin(async move { send(name, &body?).await })
}

/// Sends a call whose file goes as raw bytes: a browser sends it from the disk, the window part by part. The reply is
/// that of the call without a file.
///
/// # Errors
/// As [`call`].
pub async fn call_with<C: Call>(request: C, file: &File) -> Result<C::Reply, ApiError> {
    read(&sent_with(C::NAME, written(&request), file.clone()).await?)
}

/// One function for all of them, as [`sent`].
pub fn sent_with(
    name: &'static str,
    request: Result<String, ApiError>,
    file: File,
) -> Pin<Box<dyn Future<Output = Result<String, ApiError>>>> {
    Box::pin(async move {
        let request = request?;
        waiting(async {
            match bridge() {
                Some(invoke) => file_over_bridge(&invoke, name, &request, &file).await,
                None => over_http(&file_path(name, &request), "application/octet-stream", &file).await,
            }
        })
        .await
    })
}

/// Where the host takes or gives the file of a call.
fn file_path(name: &str, request: &str) -> String {
    format!("/files/{name}/{}", String::from(js_sys::encode_uri_component(request)))
}

/// A link that the host gives the file of a call by: it bears the key itself.
pub fn file_link(name: &str, request: &str) -> String {
    format!("{}?key={}", file_path(name, request), key())
}

/// The key of the address that was opened, kept by `boot.js`.
fn key() -> String {
    Reflect::get(&js_sys::global(), &"waywrightKey".into()).ok().and_then(|key| key.as_string()).unwrap_or_default()
}

thread_local! {
    static PENDING: ArcRwSignal<usize> = ArcRwSignal::new(0);
}

/// How many requests wait for their reply.
pub fn pending() -> ArcRwSignal<usize> {
    PENDING.with(Clone::clone)
}

async fn send(name: &str, body: &str) -> Result<String, ApiError> {
    waiting(async {
        match bridge() {
            Some(invoke) => over_bridge(&invoke, name, body).await,
            None => over_http(&format!("/api/{name}"), "application/json", &JsValue::from_str(body)).await,
        }
    })
    .await
}

async fn waiting(reply: impl Future<Output = Result<String, ApiError>>) -> Result<String, ApiError> {
    let pending = pending();
    pending.update(|count| *count += 1);
    let reply = reply.await;
    pending.update(|count| *count = count.saturating_sub(1));
    reply
}

/// True inside the app's own window, where files are saved by the app and not by a browser.
pub fn in_window() -> bool {
    bridge().is_some()
}

fn bridge() -> Option<(JsValue, Function)> {
    let window = web_sys::window()?;
    let internals = Reflect::get(&window, &"__TAURI_INTERNALS__".into()).ok()?;
    if !internals.is_object() {
        return None;
    }
    let invoke = Reflect::get(&internals, &"invoke".into()).ok()?.dyn_into::<Function>().ok()?;
    Some((internals, invoke))
}

async fn over_bridge(bridge: &(JsValue, Function), name: &str, body: &str) -> Result<String, ApiError> {
    let parsed = JSON::parse(body).map_err(|_| silent())?;
    let arguments = object(&[("name", JsValue::from_str(name)), ("body", parsed)])?;
    said(&invoked(bridge, "call", &arguments, &JsValue::UNDEFINED).await?)
}

/// Bytes of a file sent at a time.
const PART: f64 = 4.0 * 1024.0 * 1024.0;

async fn file_over_bridge(
    bridge: &(JsValue, Function),
    name: &str,
    request: &str,
    file: &File,
) -> Result<String, ApiError> {
    // Which of the files on their way it is; two at once are rare, two of one number never.
    let number = (js_sys::Math::random() * f64::from(u32::MAX)).floor();
    let headers = object(&[("file", JsValue::from_str(&number.to_string()))])?;
    let options = object(&[("headers", headers)])?;
    let mut from = 0.0;
    // An empty file has a part too.
    loop {
        let to = (from + PART).min(file.size());
        let part = file.slice_with_f64_and_f64(from, to).map_err(|_| silent())?;
        let bytes = JsFuture::from(part.array_buffer()).await.map_err(|_| silent())?;
        invoked(bridge, "part", &Uint8Array::new(&bytes), &options).await?;
        from = to;
        if from >= file.size() {
            break;
        }
    }
    let arguments = object(&[
        ("name", JsValue::from_str(name)),
        ("request", JsValue::from_str(request)),
        ("file", JsValue::from_f64(number)),
    ])?;
    said(&invoked(bridge, "take", &arguments, &JsValue::UNDEFINED).await?)
}

async fn invoked(
    (internals, invoke): &(JsValue, Function),
    command: &str,
    arguments: &JsValue,
    options: &JsValue,
) -> Result<JsValue, ApiError> {
    let promise = invoke.call3(internals, &command.into(), arguments, options).map_err(|error| refused(&error))?;
    JsFuture::from(promise.unchecked_into::<Promise>()).await.map_err(|error| refused(&error))
}

fn said(reply: &JsValue) -> Result<String, ApiError> {
    String::from_utf8(Uint8Array::new(reply).to_vec()).map_err(|_| silent())
}

fn object(fields: &[(&str, JsValue)]) -> Result<JsValue, ApiError> {
    let object = Object::new();
    for (key, value) in fields {
        Reflect::set(&object, &JsValue::from_str(key), value).map_err(|_| silent())?;
    }
    Ok(object.into())
}

async fn over_http(path: &str, media: &str, body: &JsValue) -> Result<String, ApiError> {
    let window = web_sys::window().ok_or_else(silent)?;
    let headers = web_sys::Headers::new().map_err(|_| silent())?;
    headers.set("content-type", media).map_err(|_| silent())?;
    headers.set("waywright-key", &key()).map_err(|_| silent())?;
    let options = web_sys::RequestInit::new();
    options.set_method("POST");
    options.set_headers(&headers);
    options.set_body(body);
    let sent = window.fetch_with_str_and_init(path, &options);
    let response: web_sys::Response = JsFuture::from(sent).await.map_err(|_| silent())?.unchecked_into();
    let text = JsFuture::from(response.text().map_err(|_| silent())?).await.map_err(|_| silent())?;
    let text = text.as_string().ok_or_else(silent)?;
    if response.ok() { Ok(text) } else { Err(error_in(&text, response.status())) }
}

fn text_of(value: &JsValue) -> Option<String> {
    JSON::stringify(value).ok().and_then(|text| text.as_string())
}

fn refused(error: &JsValue) -> ApiError {
    let text = error.as_string().or_else(|| text_of(error)).unwrap_or_default();
    serde_json::from_str(&text).unwrap_or_else(|_| ApiError::failed(tr("ui-call-failed", &[("why", text.into())])))
}

fn error_in(text: &str, status: u16) -> ApiError {
    serde_json::from_str(text)
        .unwrap_or_else(|_| ApiError::failed(tr("ui-call-answered", &[("status", status.into())])))
}

fn silent() -> ApiError {
    ApiError::failed(t("ui-call-silent"))
}
