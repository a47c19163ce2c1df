// Starts the interface. A file of its own, because no inline script is allowed.
import init from './ui.js';

try {
  const theme = localStorage.getItem('theme');
  if (theme) document.documentElement.setAttribute('data-theme', theme);
} catch {
  // A device that keeps nothing shows its own theme.
}

init({ module_or_path: './ui_bg.wasm' }).catch((error) => {
  const place = document.getElementById('waiting');
  if (place) place.textContent = `Waywright could not start: ${error}`;
});
