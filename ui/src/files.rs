//! Files in and out: a picked file as base64 or text, bytes as a download or a picture.

use crate::words::tr;
use api::{ApiError, Blob};
use js_sys::{Array, Promise, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{File, FileReader};

/// The file picked in an `<input type=file>`; the input is emptied, so the same file can be picked again.
pub fn picked(event: &web_sys::Event) -> Option<File> {
    picked_all(event).into_iter().next()
}

/// The same for several.
pub fn picked_all(event: &web_sys::Event) -> Vec<File> {
    let input = event.target().and_then(|target| target.dyn_into::<web_sys::HtmlInputElement>().ok());
    let Some(input) = input else { return Vec::new() };
    let files = input.files().map(|list| (0..list.length()).filter_map(|at| list.get(at)).collect());
    input.set_value("");
    files.unwrap_or_default()
}

async fn read(file: &File, how: impl Fn(&FileReader, &File) -> Result<(), JsValue>) -> Result<String, ApiError> {
    let failed = || ApiError::failed(tr("ui-file-unread", &[("file", file.name().into())]));
    let reader = FileReader::new().map_err(|_| failed())?;
    let done = Promise::new(&mut |resolve, reject| {
        reader.set_onload(Some(&resolve));
        reader.set_onerror(Some(&reject));
    });
    how(&reader, file).map_err(|_| failed())?;
    JsFuture::from(done).await.map_err(|_| failed())?;
    reader.result().ok().and_then(|result| result.as_string()).ok_or_else(failed)
}

/// A file's bytes as base64.
///
/// # Errors
/// A sentence that names the file.
pub async fn base64(file: &File) -> Result<String, ApiError> {
    let url = read(file, |reader, file| reader.read_as_data_url(file)).await?;
    Ok(url.split_once(',').map(|(_, data)| data.to_owned()).unwrap_or_default())
}

/// A file's text.
///
/// # Errors
/// A sentence that names the file.
pub async fn text(file: &File) -> Result<String, ApiError> {
    read(file, |reader, file| reader.read_as_text(file)).await
}

/// A `data:` address of bytes.
pub fn data_url(blob: &Blob) -> String {
    format!("data:{};base64,{}", blob.media, blob.base64)
}

/// Offers bytes as a download under a name.
pub fn download(name: &str, blob: &Blob) {
    let Some(window) = web_sys::window() else { return };
    let Ok(binary) = window.atob(&blob.base64) else { return };
    // `atob` gives one char per byte, so every char fits in a byte.
    let bytes: Vec<u8> = binary.chars().map(|letter| letter as u32 as u8).collect();
    save(name, &Uint8Array::from(bytes.as_slice()), &blob.media);
}

/// Offers what the host gives at a path as a download: the browser puts it on the disk as it comes.
pub fn download_from(path: &str) {
    let Some(document) = web_sys::window().and_then(|window| window.document()) else { return };
    if let Ok(Ok(link)) = document.create_element("a").map(JsCast::dyn_into::<web_sys::HtmlAnchorElement>) {
        link.set_href(path);
        // The name is the host's to say.
        link.set_download("");
        link.click();
    }
}

/// Offers a text as a download under a name.
pub fn download_text(name: &str, text: &str, media: &str) {
    save(name, &JsValue::from_str(text), media);
}

fn save(name: &str, part: &JsValue, media: &str) {
    let Some(url) = object_url(part, media) else { return };
    let Some(document) = web_sys::window().and_then(|window| window.document()) else { return };
    if let Ok(Ok(link)) = document.create_element("a").map(JsCast::dyn_into::<web_sys::HtmlAnchorElement>) {
        link.set_href(&url);
        link.set_download(name);
        link.click();
    }
    // The browser holds the bytes until the download has read them.
    leptos::prelude::set_timeout(move || release(&url), std::time::Duration::from_secs(60));
}

/// A `blob:` address for bytes or text; release it when it is no longer shown.
pub fn object_url(part: &JsValue, media: &str) -> Option<String> {
    let options = web_sys::BlobPropertyBag::new();
    options.set_type(media);
    let blob = web_sys::Blob::new_with_str_sequence_and_options(&Array::of1(part), &options).ok()?;
    web_sys::Url::create_object_url_with_blob(&blob).ok()
}

/// Gives the memory of a `blob:` address back.
pub fn release(url: &str) {
    let _ = web_sys::Url::revoke_object_url(url);
}
