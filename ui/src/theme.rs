//! Light, dark and high contrast; the choice stays on the device.

const KEY: &str = "theme";

/// A theme: key and message.
pub const THEMES: [(&str, &str); 4] = [
    ("auto", "ui-theme-auto"),
    ("light", "ui-theme-light"),
    ("dark", "ui-theme-dark"),
    ("contrast", "ui-theme-contrast"),
];

/// The theme in use.
pub fn current() -> String {
    storage()
        .and_then(|storage| storage.get_item(KEY).ok().flatten())
        .filter(|theme| THEMES.iter().any(|(key, _)| key == theme))
        .unwrap_or_else(|| "auto".to_owned())
}

/// Uses a theme and keeps the choice.
pub fn choose(theme: &str) {
    if let Some(storage) = storage() {
        // A device that keeps nothing still shows the theme for this session.
        let _ = storage.set_item(KEY, theme);
    }
    show(theme);
}

/// Puts the theme on the page.
pub fn show(theme: &str) {
    let root = web_sys::window().and_then(|window| window.document()).and_then(|document| document.document_element());
    if let Some(root) = root {
        let _ = root.set_attribute("data-theme", theme);
    }
}

fn storage() -> Option<web_sys::Storage> {
    web_sys::window().and_then(|window| window.local_storage().ok().flatten())
}
