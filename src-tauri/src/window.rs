//! The window: a Tauri shell around the embedded interface, with one command, `call`.
//!
//! The page can do nothing but load the embedded files and make that call: no plugin, no core
//! command, no address outside. The names and bodies of calls are in the `api` crate.

use std::borrow::Cow;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use serde_json::{Value, json};
use tauri::ipc::Response;
use tauri::utils::assets::{AssetKey, AssetsIter, CspHash};
use tauri::webview::NewWindowResponse;
use tauri::{App, Assets, Runtime, State, Url, WebviewWindowBuilder};

use crate::ui_files::UI;

type Handler = Arc<dyn Fn(&str, Value) -> Result<String, Value> + Send + Sync>;

/// Opens the window and returns when the person closes it. `handler` answers each call by name and body, on a
/// thread where it may block. `at_end` is done before the program ends: the shell does not return on every system.
///
/// # Errors
/// Where there is no display, or the system's web view cannot start.
pub fn open(
    handler: impl Fn(&str, Value) -> Result<String, Value> + Send + Sync + 'static,
    at_end: impl Fn() + 'static,
) -> Result<(), Box<dyn std::error::Error>> {
    let handler: Handler = Arc::new(handler);
    tauri::Builder::default()
        .manage(handler)
        .invoke_handler(tauri::generate_handler![call])
        .setup(|app| {
            for window in &app.config().app.windows {
                WebviewWindowBuilder::from_config(app, window)?
                    .on_navigation(ours)
                    .on_new_window(|_, _| NewWindowResponse::Deny)
                    .build()?;
            }
            Ok(())
        })
        .build(tauri::generate_context!(assets = Embedded))?
        .run(move |_, event| {
            if matches!(event, tauri::RunEvent::Exit) {
                at_end();
            }
        });
    Ok(())
}

/// Only the embedded files are ever shown. Some systems serve them under a host name instead of a scheme.
fn ours(address: &Url) -> bool {
    address.scheme() == "tauri" || address.host_str() == Some("tauri.localhost")
}

/// The reply goes as bytes: as JSON the page would parse it only to hand its text on.
#[tauri::command]
async fn call(handler: State<'_, Handler>, name: String, body: Value) -> Result<Response, Value> {
    let handler = handler.inner().clone();
    tauri::async_runtime::spawn_blocking(move || {
        // A call that panics must not take the window, and what is typed in it, with it.
        catch_unwind(AssertUnwindSafe(|| handler(&name, body))).unwrap_or_else(|_| Err(broken_off()))
    })
    .await
    .unwrap_or_else(|_| Err(broken_off()))
    .map(|reply| Response::new(reply.into_bytes()))
}

fn broken_off() -> Value {
    json!({ "kind": "failed", "message": "the call broke off; what was saved before is safe", "problems": [] })
}

/// Serves the window the same embedded files that the host serves a browser.
struct Embedded;

impl<R: Runtime> Assets<R> for Embedded {
    fn setup(&self, _app: &App<R>) {}

    fn get(&self, key: &AssetKey) -> Option<Cow<'_, [u8]>> {
        let path = key.as_ref().trim_start_matches('/');
        UI.iter().find(|(name, _, _)| *name == path).map(|(_, _, bytes)| Cow::Borrowed(*bytes))
    }

    fn iter(&self) -> Box<AssetsIter<'_>> {
        Box::new(UI.iter().map(|(name, _, bytes)| (Cow::Borrowed(*name), Cow::Borrowed(*bytes))))
    }

    fn csp_hashes(&self, _html_path: &AssetKey) -> Box<dyn Iterator<Item = CspHash<'_>> + '_> {
        // The page has no inline script or style.
        Box::new(std::iter::empty())
    }
}
