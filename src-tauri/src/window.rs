//! The window: a Tauri shell around the embedded interface, with the command `call`, and with `part` and `take` for a
//! call that comes with a file.
//!
//! The page can do nothing but load the embedded files and make these calls: no plugin, no core
//! command, no address outside. The names and bodies of calls are in the `api` crate.

use std::borrow::Cow;
use std::fs::OpenOptions;
use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Arc;

use serde_json::{Value, json};
use tauri::ipc::{InvokeBody, Request, Response};
use tauri::utils::assets::{AssetKey, AssetsIter, CspHash};
use tauri::webview::NewWindowResponse;
use tauri::{App, Assets, Runtime, State, Url, WebviewWindowBuilder};

use crate::ui_files::UI;

pub(crate) type Shared = Arc<crate::App>;

/// Opens the window and returns when the person closes it. The app answers each call on a thread where it may block,
/// and puts what was saved into its file before the program ends: the shell does not return on every system.
///
/// # Errors
/// Where there is no display, or the system's web view cannot start.
pub fn open(app: Shared) -> Result<(), Box<dyn std::error::Error>> {
    let ending = Arc::clone(&app);
    tauri::Builder::default()
        .manage(app)
        .invoke_handler(tauri::generate_handler![call, part, take])
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
                ending.settle_file();
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
async fn call(app: State<'_, Shared>, name: String, body: Value) -> Result<Response, Value> {
    let app = app.inner().clone();
    answered(move || app.answer(&app.local_caller(), &name, body)).await
}

async fn answered(work: impl FnOnce() -> Result<String, Value> + Send + 'static) -> Result<Response, Value> {
    tauri::async_runtime::spawn_blocking(move || {
        // A call that panics must not take the window, and what is typed in it, with it.
        catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(broken_off()))
    })
    .await
    .unwrap_or_else(|_| Err(broken_off()))
    .map(|reply| Response::new(reply.into_bytes()))
}

/// Where the page's file of this number is put together.
fn on_its_way(app: &crate::App, file: u32) -> Result<PathBuf, Value> {
    let folder = app.on_their_way().map_err(|error| serde_json::to_value(error).unwrap_or(Value::Null))?;
    Ok(folder.join(format!("window-{}-{file}.part", std::process::id())))
}

/// Takes the next part of a file, as raw bytes; the header says which file.
#[tauri::command]
fn part(app: State<'_, Shared>, request: Request<'_>) -> Result<(), Value> {
    let file = request.headers().get("file").and_then(|value| value.to_str().ok()).and_then(|text| text.parse().ok());
    let (Some(file), InvokeBody::Raw(bytes)) = (file, request.body()) else { return Err(broken_off()) };
    let path = on_its_way(&app, file)?;
    let mut options = OpenOptions::new();
    options.append(true).create(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options.open(&path).and_then(|mut out| {
        let most = crate::App::largest_file("import_bundle").unwrap_or_default();
        if out.metadata()?.len() + bytes.len() as u64 > most {
            return Err(std::io::Error::other(format!("up to {} MB will do", most / 1024 / 1024)));
        }
        out.write_all(bytes)
    });
    written.map_err(|error| {
        let _left = std::fs::remove_file(&path);
        json!({ "kind": "failed", "message": format!("the file cannot be kept: {error}"), "problems": [] })
    })
}

/// Answers a call whose file has come.
#[tauri::command]
async fn take(app: State<'_, Shared>, name: String, request: String, file: u32) -> Result<Response, Value> {
    let app = app.inner().clone();
    answered(move || {
        let path = on_its_way(&app, file)?;
        let answer = app.take_file(&app.local_caller(), &name, request.as_bytes(), &path);
        let _left = std::fs::remove_file(&path);
        answer
    })
    .await
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
