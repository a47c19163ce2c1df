// A file of its own: the content policy allows no inline script.
import init from "./waywright-ui.js";

await init({ module_or_path: "waywright-ui_bg.wasm" });
