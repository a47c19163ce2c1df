//! Drives a browser or the app's own window over WebDriver, each with its own display, port and profile, all ended
//! when the value is dropped. The protocol is fantoccini's; here one step waits for the next.

use std::fmt;
use std::io::{BufRead, BufReader};
use std::net::{TcpListener, TcpStream};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use fantoccini::elements::Element;
use fantoccini::error::CmdError;
use fantoccini::key::Key;
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tokio::runtime::{Builder, Runtime};

/// Longest wait for a page to change, generous for a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// Longest wait for one answer of a driver; starting a browser is one answer.
const ANSWER: Duration = Duration::from_secs(120);

/// Why a step did not succeed: what was tried and what came back.
pub struct Failed {
    words: String,
    /// The page was drawn anew, or something still moves: tried again it may succeed.
    passing: bool,
}

impl fmt::Debug for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl fmt::Display for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl std::error::Error for Failed {}

type Outcome<T> = Result<T, Failed>;

fn failed(text: impl fmt::Display) -> Failed {
    Failed { words: text.to_string(), passing: false }
}

impl From<CmdError> for Failed {
    fn from(error: CmdError) -> Self {
        let passing = error.is_no_such_element()
            || error.is_stale_element_reference()
            || matches!(&error, CmdError::Standard(one) if one.error() == "element click intercepted")
            || error.is_element_not_interactable();
        Self { words: error.to_string(), passing }
    }
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
        let line = process.wait_for_line("http://")?;
        let address = line.find("http://").map(|at| line[at..].trim().to_owned()).unwrap_or_default();
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
    client: Client,
    runtime: Runtime,
    _display: Option<Display>,
}

/// A command of one browser alone, under the session's address.
#[derive(Debug)]
struct Own {
    command: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Own {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.command))
    }
    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}

/// What a script begins with that looks at a screen as a whole.
const BEFORE_LOOKING: &str = r"
    for (let deep = 0; deep < 4; deep++)
        document.querySelectorAll('details:not([open])').forEach(one => { one.open = true; });
    const at = element => {
        const names = [];
        for (let one = element; one && one !== document.body && names.length < 3; one = one.parentElement)
            names.unshift(one.tagName.toLowerCase() + (one.id ? '#' + one.id : '') + [...one.classList].map(name => '.' + name).join(''));
        return names.join(' > ');
    };
";

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
        page.go(address)?;
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
        let runtime = Builder::new_current_thread().enable_all().build().map_err(failed)?;
        let capabilities = capabilities.as_object().cloned().unwrap_or_default();
        let client = runtime.block_on(async {
            let mut builder = ClientBuilder::new(HttpConnector::new());
            let address = format!("http://127.0.0.1:{port}");
            let begun = builder.capabilities(capabilities).connect(&address);
            tokio::time::timeout(ANSWER, begun).await.map_err(failed)?.map_err(failed)
        })?;
        Ok(Page { driver, client, runtime, _display: display })
    }

    /// Waits for one answer of the driver.
    fn answer<T>(&self, step: impl Future<Output = Result<T, CmdError>>) -> Outcome<T> {
        self.runtime.block_on(async { tokio::time::timeout(ANSWER, step).await.map_err(failed)?.map_err(Failed::from) })
    }

    fn own(&self, command: &'static str, body: Value) -> Outcome<Value> {
        self.answer(self.client.issue_cmd(Own { command, body }))
    }

    /// Goes to an address.
    ///
    /// # Errors
    /// Where it does not load.
    pub fn go(&self, address: &str) -> Outcome<()> {
        self.answer(self.client.goto(address))
    }

    /// Runs a script that looks at a screen as a whole: what is folded away is unfolded first, and `at` names an element.
    ///
    /// # Errors
    /// Where the script throws, or the browser does not answer.
    pub fn look(&self, script: &str) -> Outcome<Value> {
        self.run(&format!("{BEFORE_LOOKING}{script}"), json!([]))
    }

    /// Runs a script in the page; its `return` comes back.
    ///
    /// # Errors
    /// Where the script throws.
    pub fn run(&self, script: &str, arguments: Value) -> Outcome<Value> {
        let arguments = match arguments {
            Value::Array(arguments) => arguments,
            one => vec![one],
        };
        self.answer(self.client.execute(script, arguments))
    }

    fn elements(&self, css: &str) -> Outcome<Vec<Element>> {
        self.answer(self.client.find_all(Locator::Css(css)))
    }

    /// Waits until something matches the selector; returns how many do.
    ///
    /// # Errors
    /// Where nothing does in time; says what the page shows instead.
    pub fn wait_for(&self, css: &str) -> Outcome<usize> {
        self.wait_until(
            &format!("{css} on the page"),
            || Ok(Some(self.elements(css)?.len()).filter(|count| *count > 0)),
        )
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
            Err(error) if error.passing => {
                last = error.words;
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
            let Some(element) = self.elements(css)?.into_iter().next() else { return Ok(None) };
            self.answer(element.click()).map(Some)
        })
    }

    /// Picks files in a field for files.
    ///
    /// # Errors
    /// Where the field is not there in time or takes no files.
    pub fn choose(&self, css: &str, files: &[&Path]) -> Outcome<()> {
        self.wait_for(css)?;
        let Some(element) = self.elements(css)?.into_iter().next() else {
            return Err(failed(format!("{css} is gone")));
        };
        let paths: Vec<String> = files.iter().map(|file| file.display().to_string()).collect();
        self.answer(element.send_keys(&paths.join("\n")))
    }

    /// Replaces the text of a field and leaves it, as a person does.
    ///
    /// # Errors
    /// Where the field is not there in time or takes no text.
    pub fn fill(&self, css: &str, text: &str) -> Outcome<()> {
        self.wait_for(css)?;
        self.insist(&format!("{css} to be filled"), || {
            let Some(element) = self.elements(css)?.into_iter().next() else { return Ok(None) };
            self.answer(element.clear())?;
            // Leaving the field is what saves it.
            self.answer(element.send_keys(&format!("{text}{}", char::from(Key::Tab)))).map(Some)
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
        self.own("goog/cdp/execute", command).map(drop)
    }

    /// Keeps a picture of the page as `target/shots/NAME.png`.
    ///
    /// # Errors
    /// Where it cannot be taken or written.
    pub fn shot(&self, name: &str) -> Outcome<PathBuf> {
        let bytes = self.answer(self.client.screenshot())?;
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
        let log = self.own("se/log", json!({ "type": "browser" }))?;
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
        let _ = self.answer(self.client.clone().close());
        self.driver.kill();
    }
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
