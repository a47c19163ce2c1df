//! How a request reaches the app: Tauri's bridge inside the window, HTTP in a browser.

use std::pin::Pin;

use api::{ApiError, Call};
use js_sys::{Function, JSON, Object, Promise, Reflect, Uint8Array};
use leptos::prelude::{ArcRwSignal, Update};
use serde::Serialize;
use serde::de::DeserializeOwned;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;

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
    serde_json::to_string(request).map_err(|error| ApiError::failed(format!("This cannot be sent: {error}.")))
}

/// A reply from its text.
///
/// # Errors
/// Where it is not what the contract says.
pub fn read<R: DeserializeOwned>(reply: &str) -> Result<R, ApiError> {
    serde_json::from_str(reply).map_err(|error| ApiError::failed(format!("The reply cannot be read: {error}.")))
}

/// Sends what was written. One function for all calls: a machine of states for each would weigh more
/// than all they send.
pub fn sent(
    name: &'static str,
    body: Result<String, ApiError>,
) -> Pin<Box<dyn Future<Output = Result<String, ApiError>>>> {
    Box::pin(async move { send(name, &body?).await })
}

thread_local! {
    static PENDING: ArcRwSignal<usize> = ArcRwSignal::new(0);
}

/// How many requests wait for their reply.
pub fn pending() -> ArcRwSignal<usize> {
    PENDING.with(Clone::clone)
}

async fn send(name: &str, body: &str) -> Result<String, ApiError> {
    let pending = pending();
    pending.update(|count| *count += 1);
    let reply = match bridge() {
        Some(invoke) => over_bridge(&invoke, name, body).await,
        None => over_http(name, body).await,
    };
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

async fn over_bridge((internals, invoke): &(JsValue, Function), name: &str, body: &str) -> Result<String, ApiError> {
    let arguments = Object::new();
    let parsed = JSON::parse(body).map_err(|_| silent())?;
    for (key, value) in [("name", JsValue::from_str(name)), ("body", parsed)] {
        Reflect::set(&arguments, &key.into(), &value).map_err(|_| silent())?;
    }
    let promise = invoke.call2(internals, &"call".into(), &arguments).map_err(|error| refused(&error))?;
    let reply = JsFuture::from(promise.unchecked_into::<Promise>()).await.map_err(|error| refused(&error))?;
    String::from_utf8(Uint8Array::new(&reply).to_vec()).map_err(|_| silent())
}

async fn over_http(name: &str, body: &str) -> Result<String, ApiError> {
    let window = web_sys::window().ok_or_else(silent)?;
    let headers = web_sys::Headers::new().map_err(|_| silent())?;
    headers.set("content-type", "application/json").map_err(|_| silent())?;
    let options = web_sys::RequestInit::new();
    options.set_method("POST");
    options.set_headers(&headers);
    options.set_body(&JsValue::from_str(body));
    let sent = window.fetch_with_str_and_init(&format!("/api/{name}"), &options);
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
    serde_json::from_str(&text).unwrap_or_else(|_| ApiError::failed(format!("The app could not do this: {text}.")))
}

fn error_in(text: &str, status: u16) -> ApiError {
    serde_json::from_str(text)
        .unwrap_or_else(|_| ApiError::failed(format!("The app could not do this (answer {status}).")))
}

fn silent() -> ApiError {
    ApiError::failed("The app does not answer. Nothing was changed. Check that it is running, then try again.")
}
