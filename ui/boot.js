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

// Words for when there are none yet stand in the page; the interface shows them too where no words come.
const part = (name) => document.getElementById(name);
globalThis.waywrightSilent = (why) => {
  part('opening')?.remove();
  part('silent')?.removeAttribute('hidden');
  if (part('why')) part('why').textContent = why;
};
part('again')?.addEventListener('click', () => location.reload());

init({ module_or_path: './ui_bg.wasm' }).catch((error) => globalThis.waywrightSilent(error));
