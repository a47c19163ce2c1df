//! Ended by the system or by Ctrl-C: what is under way is finished, and the database file is left whole.

use std::sync::{Arc, Weak};

use crate::App;

/// Exit codes as a shell gives them: 128 and the signal's number.
const INTERRUPTED: i32 = 130;
const TERMINATED: i32 = 143;

/// From now on, Ctrl-C and the system's request to end put everything saved into the database file first. Asked a
/// second time, the program ends at once: nothing saved is lost by that, it is in the log.
pub(crate) fn watch(app: &Arc<App>) {
    let app = Arc::downgrade(app);
    // Without it the program ends as it would have, with what was saved in the log.
    let _only_a_convenience = std::thread::Builder::new().name("ending".to_owned()).spawn(move || {
        let Ok(runtime) = tokio::runtime::Builder::new_current_thread().enable_all().build() else { return };
        runtime.block_on(async {
            let Ok(mut asked) = Asked::new() else { return };
            let first = asked.next().await;
            let _ends_without = std::thread::Builder::new().spawn(move || {
                settle(&app);
                std::process::exit(first)
            });
            std::process::exit(asked.next().await)
        });
    });
}

/// A file that may not grow any further, by the limit a process is given, makes a write fail like a full disk; it does
/// not end the program. To be called before the first file is opened.
#[cfg(unix)]
pub(crate) fn bear_full_files() {
    /// SIGXFSZ, on Linux but for MIPS, on macOS and the BSDs.
    const FILE_TOO_LARGE: i32 = 25;
    let Ok(runtime) = tokio::runtime::Builder::new_current_thread().enable_all().build() else { return };
    let _inside = runtime.enter();
    // Once it is listened for, the signal never ends the program again, whether or not anyone still listens.
    let _ends_as_before = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::from_raw(FILE_TOO_LARGE));
}

#[cfg(not(unix))]
pub(crate) fn bear_full_files() {}

fn settle(app: &Weak<App>) {
    if let Some(app) = app.upgrade() {
        app.settle_file();
    }
}

#[cfg(unix)]
struct Asked {
    interrupt: tokio::signal::unix::Signal,
    terminate: tokio::signal::unix::Signal,
    hang_up: tokio::signal::unix::Signal,
}

#[cfg(unix)]
impl Asked {
    fn new() -> std::io::Result<Self> {
        use tokio::signal::unix::{SignalKind, signal};
        Ok(Self {
            interrupt: signal(SignalKind::interrupt())?,
            terminate: signal(SignalKind::terminate())?,
            hang_up: signal(SignalKind::hangup())?,
        })
    }

    async fn next(&mut self) -> i32 {
        tokio::select! {
            _ = self.interrupt.recv() => INTERRUPTED,
            _ = self.terminate.recv() => TERMINATED,
            _ = self.hang_up.recv() => TERMINATED,
        }
    }
}

#[cfg(windows)]
struct Asked {
    interrupt: tokio::signal::windows::CtrlC,
    close: tokio::signal::windows::CtrlClose,
    shutdown: tokio::signal::windows::CtrlShutdown,
}

#[cfg(windows)]
impl Asked {
    fn new() -> std::io::Result<Self> {
        use tokio::signal::windows::{ctrl_c, ctrl_close, ctrl_shutdown};
        Ok(Self { interrupt: ctrl_c()?, close: ctrl_close()?, shutdown: ctrl_shutdown()? })
    }

    async fn next(&mut self) -> i32 {
        tokio::select! {
            _ = self.interrupt.recv() => INTERRUPTED,
            _ = self.close.recv() => TERMINATED,
            _ = self.shutdown.recv() => TERMINATED,
        }
    }
}
