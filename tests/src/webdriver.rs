//! Drives a browser or the app's own window over WebDriver: plain JSON over loopback HTTP, each
//! with its own display, port and profile, all ended when the value is dropped.

use std::fmt;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use base64::Engine as _;
use serde_json::{Value, json};

/// Longest wait for a page to change, generous for a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// Longest wait for one answer of a driver; starting a browser is one answer.
const ANSWER: Duration = Duration::from_secs(120);

/// The key under which WebDriver sends an element.
/// Source: W3C WebDriver, "Elements", web element identifier.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// Why a step did not succeed: what was tried and what came back.
pub struct Failed(String);

impl fmt::Debug for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Display for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Failed {}

type Outcome<T> = Result<T, Failed>;

fn failed(text: impl fmt::Display) -> Failed {
    Failed(text.to_string())
}

/// The program under test: `WAYWRIGHT_BIN`, else the one built beside this test.
#[must_use]
pub fn waywright() -> PathBuf {
    if let Some(path) = std::env::var_os("WAYWRIGHT_BIN") {
        return path.into();
    }
    let mut path = std::env::current_exe().unwrap_or_default();
    path.pop();
    if path.ends_with("deps") {
        path.pop();
    }
    path.join("waywright")
}

/// Where pictures of the screens are kept, for a person to look at.
#[must_use]
pub fn shots() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join("target").join("shots")
}

/// A process in its own group, ended with all its children when dropped.
pub struct Process(Child);

impl Process {
    /// Starts it.
    ///
    /// # Errors
    /// Where the program is missing; says how to get it.
    pub fn start(command: &mut Command) -> Outcome<Process> {
        let name = command.get_program().to_string_lossy().into_owned();
        command.process_group(0).spawn().map(Process).map_err(|error| {
            failed(format!("{name} does not start ({error}); `cargo xtask test` installs what is needed"))
        })
    }

    /// The first line of its output that holds `mark`.
    ///
    /// # Errors
    /// Where the output ends before, that is, where the process ended.
    pub fn wait_for_line(&mut self, mark: &str) -> Outcome<String> {
        let Some(output) = self.0.stdout.take() else { return Err(failed("its output is not piped")) };
        let mut lines = BufReader::new(output).lines();
        let mut seen = String::new();
        for line in &mut lines {
            let line = line.map_err(failed)?;
            if line.contains(mark) {
                // Somebody must go on reading, or a chatty process stops at a full pipe.
                std::thread::spawn(move || lines.for_each(drop));
                return Ok(line);
            }
            seen.push_str(&line);
            seen.push('\n');
        }
        Err(failed(format!("ended before it said {mark:?}; it said:\n{seen}")))
    }

    /// Ends it as a power cut would.
    pub fn kill(&mut self) {
        let group = format!("-{}", self.0.id());
        // The group first: a browser or a window started by a driver must not outlive it.
        let _ = Command::new("kill").args(["-9", "--", &group]).stderr(Stdio::null()).status();
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        self.kill();
    }
}

/// A screen of its own, on a display number that was free.
pub struct Display {
    _process: Process,
    name: String,
}

impl Display {
    /// Starts it, `width` by `height` pixels.
    ///
    /// # Errors
    /// Where Xvfb is missing or finds no free display.
    pub fn start(width: u32, height: u32) -> Outcome<Display> {
        let mut process = Process::start(
            Command::new("Xvfb")
                .args(["-displayfd", "1", "-nolisten", "tcp", "-screen", "0"])
                .arg(format!("{width}x{height}x24"))
                .stdin(Stdio::null())
                .stdout(Stdio::piped())
                .stderr(Stdio::null()),
        )?;
        let number = process.wait_for_line("")?;
        Ok(Display { _process: process, name: format!(":{}", number.trim()) })
    }

    /// As in the `DISPLAY` variable.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
}

/// The app as a host for a browser.
pub struct Host {
    process: Process,
    address: String,
}

impl Host {
    /// Starts `waywright serve` with these arguments and a free port.
    ///
    /// # Errors
    /// Where it ends before it says its address.
    pub fn start(arguments: &[&str]) -> Outcome<Host> {
        let mut process = Process::start(
            Command::new(waywright())
                .arg("serve")
                .args(["--port", "0"])
                .args(arguments)
                .stdin(Stdio::null())
                .stdout(Stdio::piped()),
        )?;
        let line = process.wait_for_line("Waywright at ")?;
        let address = line.split("Waywright at ").nth(1).unwrap_or_default().trim().to_owned();
        Ok(Host { process, address })
    }

    /// The address it serves.
    #[must_use]
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Ends it as a power cut would.
    pub fn kill(&mut self) {
        self.process.kill();
    }
}

/// A page under control.
pub struct Page {
    driver: Process,
    port: u16,
    session: String,
    _display: Option<Display>,
}

impl Page {
    /// Opens headless Chromium on an address.
    ///
    /// # Errors
    /// Where `chromedriver` or the browser does not start.
    pub fn browser(address: &str) -> Outcome<Page> {
        let port = free_port()?;
        let driver = Process::start(
            Command::new("chromedriver")
                .arg(format!("--port={port}"))
                .stdin(Stdio::null())
                .stdout(Stdio::null())
                .stderr(Stdio::null()),
        )?;
        let mut arguments = vec![
            "--headless=new",
            "--window-size=1280,900",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--no-first-run",
        ];
        if is_root() {
            // Chromium refuses its sandbox to root.
            arguments.push("--no-sandbox");
        }
        let capabilities =
            json!({ "goog:chromeOptions": { "args": arguments }, "goog:loggingPrefs": { "browser": "ALL" } });
        let page = Page::open(driver, port, &capabilities, None)?;
        page.post("url", &json!({ "url": address }))?;
        Ok(page)
    }

    /// Opens the app's own window on a display of its own.
    ///
    /// # Errors
    /// Where `Xvfb`, `WebKitWebDriver` or the window does not start.
    pub fn window(arguments: &[&str]) -> Outcome<Page> {
        let display = Display::start(1280, 900)?;
        let port = free_port()?;
        let driver = Process::start(
            Command::new("WebKitWebDriver")
                .arg(format!("--port={port}"))
                // The driver starts the window, which inherits these.
                .envs([
                    ("DISPLAY", display.name()),
                    ("GDK_BACKEND", "x11"),
                    ("NO_AT_BRIDGE", "1"),
                    ("TAURI_AUTOMATION", "true"),
                    ("TAURI_WEBVIEW_AUTOMATION", "true"),
                ])
                .env_remove("WAYLAND_DISPLAY")
                .stdin(Stdio::null())
                .stdout(Stdio::null())
                .stderr(Stdio::null()),
        )?;
        let capabilities = json!({ "webkitgtk:browserOptions": { "binary": waywright(), "args": arguments } });
        Page::open(driver, port, &capabilities, Some(display))
    }

    fn open(driver: Process, port: u16, capabilities: &Value, display: Option<Display>) -> Outcome<Page> {
        wait("the driver to listen", || Ok(TcpStream::connect(("127.0.0.1", port)).ok()))?;
        let body = json!({ "capabilities": { "alwaysMatch": capabilities } });
        let reply = request(port, "POST", "/session", Some(&body))?;
        let session = reply["sessionId"].as_str().ok_or_else(|| failed(format!("no session in {reply}")))?.to_owned();
        Ok(Page { driver, port, session, _display: display })
    }

    fn post(&self, command: &str, body: &Value) -> Outcome<Value> {
        request(self.port, "POST", &format!("/session/{}/{command}", self.session), Some(body))
    }

    fn get(&self, command: &str) -> Outcome<Value> {
        request(self.port, "GET", &format!("/session/{}/{command}", self.session), None)
    }

    /// Goes to an address.
    ///
    /// # Errors
    /// Where it does not load.
    pub fn go(&self, address: &str) -> Outcome<()> {
        self.post("url", &json!({ "url": address })).map(drop)
    }

    /// Runs a script in the page; its `return` comes back.
    ///
    /// # Errors
    /// Where the script throws.
    pub fn run(&self, script: &str, arguments: Value) -> Outcome<Value> {
        self.post("execute/sync", &json!({ "script": script, "args": arguments }))
    }

    fn element(&self, css: &str) -> Outcome<Option<String>> {
        let found = self.post("elements", &json!({ "using": "css selector", "value": css }))?;
        Ok(found.get(0).and_then(|element| element[ELEMENT].as_str()).map(str::to_owned))
    }

    /// Waits until something matches the selector; returns how many do.
    ///
    /// # Errors
    /// Where nothing does in time; says what the page shows instead.
    pub fn wait_for(&self, css: &str) -> Outcome<usize> {
        self.wait_until(&format!("{css} on the page"), || {
            let found = self.post("elements", &json!({ "using": "css selector", "value": css }))?;
            Ok(found.as_array().map(Vec::len).filter(|count| *count > 0))
        })
    }

    /// Waits until `look` finds what it looks for.
    ///
    /// # Errors
    /// Where it does not in time; says what the page shows instead.
    pub fn wait_until<T>(&self, what: &str, look: impl FnMut() -> Outcome<Option<T>>) -> Outcome<T> {
        wait(what, look).map_err(|error| {
            let shows = self.run("return document.body.innerText.slice(0, 500)", json!([]));
            failed(format!("{error}; the page shows: {}", shows.unwrap_or_default().as_str().unwrap_or("nothing")))
        })
    }

    /// Waits like [`Page::wait_until`], and tries again what the page was not ready for: it was drawn anew, or
    /// something still moves.
    fn insist(&self, what: &str, mut act: impl FnMut() -> Outcome<Option<()>>) -> Outcome<()> {
        let mut last = String::new();
        self.wait_until(what, || match act() {
            Err(error) if again(&error) => {
                last = error.0;
                Ok(None)
            }
            other => other,
        })
        .map_err(|error| failed(format!("{last}; {error}")))
    }

    /// Presses what the selector finds, once it is there.
    ///
    /// # Errors
    /// Where it is not there in time, or something lies over it.
    pub fn click(&self, css: &str) -> Outcome<()> {
        self.wait_for(css)?;
        self.insist(&format!("{css} to be pressed"), || {
            let Some(element) = self.element(css)? else { return Ok(None) };
            self.post(&format!("element/{element}/click"), &json!({})).map(|_| Some(()))
        })
    }

    /// Picks files in a field for files.
    ///
    /// # Errors
    /// Where the field is not there in time or takes no files.
    pub fn choose(&self, css: &str, files: &[&Path]) -> Outcome<()> {
        self.wait_for(css)?;
        let Some(element) = self.element(css)? else { return Err(failed(format!("{css} is gone"))) };
        let paths: Vec<String> = files.iter().map(|file| file.display().to_string()).collect();
        self.post(&format!("element/{element}/value"), &json!({ "text": paths.join("\n") })).map(drop)
    }

    /// Replaces the text of a field and leaves it, as a person does.
    ///
    /// # Errors
    /// Where the field is not there in time or takes no text.
    pub fn fill(&self, css: &str, text: &str) -> Outcome<()> {
        self.wait_for(css)?;
        self.insist(&format!("{css} to be filled"), || {
            let Some(element) = self.element(css)? else { return Ok(None) };
            self.post(&format!("element/{element}/clear"), &json!({}))?;
            // U+E004 is the Tab key in WebDriver: leaving the field is what saves it.
            let keys = format!("{text}\u{E004}");
            self.post(&format!("element/{element}/value"), &json!({ "text": keys })).map(|_| Some(()))
        })
    }

    /// The text of what the selector finds first, as shown.
    ///
    /// # Errors
    /// Where it is not there in time.
    pub fn text(&self, css: &str) -> Outcome<String> {
        self.wait_for(css)?;
        let text =
            self.run("const e = document.querySelector(arguments[0]); return e ? e.innerText : ''", json!([css]))?;
        Ok(text.as_str().unwrap_or_default().to_owned())
    }

    /// An attribute of what the selector finds first.
    ///
    /// # Errors
    /// Where the page does not answer.
    pub fn attribute(&self, css: &str, name: &str) -> Outcome<Option<String>> {
        let script = "const e = document.querySelector(arguments[0]); return e && e.getAttribute(arguments[1])";
        Ok(self.run(script, json!([css, name]))?.as_str().map(str::to_owned))
    }

    /// The value a field holds now.
    ///
    /// # Errors
    /// Where it is not there in time.
    pub fn value(&self, css: &str) -> Outcome<String> {
        self.wait_for(css)?;
        let script = "const e = document.querySelector(arguments[0]); return e ? e.value : null";
        Ok(self.run(script, json!([css]))?.as_str().unwrap_or_default().to_owned())
    }

    /// Shows the page as on a screen of this size. Chromium only.
    ///
    /// # Errors
    /// Where the driver has no such command.
    pub fn resize(&self, width: u32, height: u32) -> Outcome<()> {
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        let command = json!({ "cmd": "Emulation.setDeviceMetricsOverride", "params": size });
        self.post("goog/cdp/execute", &command).map(drop)
    }

    /// Keeps a picture of the page as `target/shots/NAME.png`.
    ///
    /// # Errors
    /// Where it cannot be taken or written.
    pub fn shot(&self, name: &str) -> Outcome<PathBuf> {
        let picture = self.get("screenshot")?;
        let bytes = base64::engine::general_purpose::STANDARD
            .decode(picture.as_str().unwrap_or_default())
            .map_err(|error| failed(format!("the picture is no base64: {error}")))?;
        let folder = shots();
        std::fs::create_dir_all(&folder).map_err(failed)?;
        let path = folder.join(format!("{name}.png"));
        std::fs::write(&path, bytes).map_err(failed)?;
        Ok(path)
    }

    /// What the browser wrote to its console as errors. Chromium only.
    ///
    /// # Errors
    /// Where the driver has no such command.
    pub fn console_errors(&self) -> Outcome<Vec<String>> {
        let log = self.post("se/log", &json!({ "type": "browser" }))?;
        let entries = log.as_array().map(Vec::as_slice).unwrap_or_default();
        Ok(entries
            .iter()
            .filter(|entry| entry["level"] == "SEVERE")
            .filter_map(|entry| entry["message"].as_str().map(str::to_owned))
            .collect())
    }

    /// Ends page, driver and window as a power cut would.
    pub fn kill(&mut self) {
        self.driver.kill();
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        // Asked politely the driver also clears its profile away.
        let _ = request(self.port, "DELETE", &format!("/session/{}", self.session), None);
        self.driver.kill();
    }
}

/// Whether a step may succeed if tried again: the page was drawn anew, or something still moves.
fn again(error: &Failed) -> bool {
    ["stale element", "element click intercepted", "not interactable", "no such element"]
        .iter()
        .any(|name| error.0.contains(name))
}

fn wait<T>(what: &str, mut look: impl FnMut() -> Outcome<Option<T>>) -> Outcome<T> {
    let begun = Instant::now();
    loop {
        if let Some(found) = look()? {
            return Ok(found);
        }
        if begun.elapsed() > PATIENCE {
            return Err(failed(format!("waited {} s for {what}", PATIENCE.as_secs())));
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn free_port() -> Outcome<u16> {
    let listener = TcpListener::bind(("127.0.0.1", 0)).map_err(failed)?;
    listener.local_addr().map(|address| address.port()).map_err(failed)
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}

/// One request of the WebDriver protocol; the `value` of the answer.
fn request(port: u16, method: &str, path: &str, body: Option<&Value>) -> Outcome<Value> {
    let what = |error: &dyn fmt::Display| failed(format!("{method} {path}: {error}"));
    let text = body.map(Value::to_string).unwrap_or_default();
    let mut stream = TcpStream::connect(("127.0.0.1", port)).map_err(|error| what(&error))?;
    stream.set_read_timeout(Some(ANSWER)).map_err(|error| what(&error))?;
    let head = format!(
        "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        text.len()
    );
    stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(text.as_bytes())).map_err(|error| what(&error))?;

    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    let mut length = None;
    reader.read_line(&mut line).map_err(|error| what(&error))?;
    let good = line.split(' ').nth(1).is_some_and(|status| status.starts_with('2'));
    loop {
        line.clear();
        reader.read_line(&mut line).map_err(|error| what(&error))?;
        let header = line.trim();
        if header.is_empty() {
            break;
        }
        if let Some((name, value)) = header.split_once(':')
            && name.eq_ignore_ascii_case("content-length")
        {
            length = value.trim().parse::<usize>().ok();
        }
    }
    let mut bytes = Vec::new();
    match length {
        Some(length) => {
            bytes.resize(length, 0);
            reader.read_exact(&mut bytes).map_err(|error| what(&error))?;
        }
        None => {
            reader.read_to_end(&mut bytes).map_err(|error| what(&error))?;
        }
    }
    let mut reply: Value = serde_json::from_slice(&bytes).map_err(|error| what(&error))?;
    let value = reply["value"].take();
    if good { Ok(value) } else { Err(what(&format!("{}: {}", value["error"], value["message"]))) }
}
