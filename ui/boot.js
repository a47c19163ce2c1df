// Starts the interface. A file of its own, because no inline script is allowed.
import init from './ui.js';

try {
  const theme = localStorage.getItem('theme');
  if (theme) document.documentElement.setAttribute('data-theme', theme);
} catch {
  // A device that keeps nothing shows its own theme.
}

// The key of this start stands in the address that was opened; it goes with every call, and off the screen.
const given = new URLSearchParams(location.search).get('key');
globalThis.waywrightKey = given ?? '';
try {
  if (given) sessionStorage.setItem('key', given);
  else globalThis.waywrightKey = sessionStorage.getItem('key') ?? '';
} catch {
  // A device that keeps nothing needs the whole address each time.
}
if (given) history.replaceState(null, '', location.pathname + location.hash);

init({ module_or_path: './ui_bg.wasm' }).catch((error) => {
  const place = document.getElementById('waiting');
  if (place) place.textContent = `Waywright could not start: ${error}`;
});
