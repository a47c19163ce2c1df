//! The JavaScript side of the compiled interface. Built only with the feature `bundle`.

use std::path::Path;

use wasm_bindgen_cli_support::Bindgen;

/// Writes `out/ui.js` and `out/ui_bg.wasm` for a page to load as a module.
///
/// # Errors
/// Where the compiled interface cannot be read, or was made for another version of `wasm-bindgen`.
pub fn make(wasm: &Path, out: &Path) -> Result<(), String> {
    Bindgen::new()
        .input_path(wasm)
        .out_name("ui")
        .web(true)
        .and_then(|bindgen| {
            bindgen.typescript(false).remove_name_section(true).remove_producers_section(true).generate(out)
        })
        .map_err(|error| format!("the interface cannot be bundled: {error:#}"))
}
