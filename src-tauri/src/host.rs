//! The loopback host of the same interface.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;

use api::ApiError;
use survey::say;

use crate::error::failed;
use crate::ui_files::UI;
use crate::{App, clock};

/// Serves the interface on a loopback port (0: a free one) until the process ends; prints the address with its key.
pub(crate) fn serve(app: Arc<App>, port: u16) -> Result<(), ApiError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| failed(say!("cli-no-host", why = error.to_string())))?;
    let address = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), port);
    let folder = app.on_their_way()?;
    let (taking, giving) = (Arc::clone(&app), Arc::clone(&app));
    let answers = hub::Answers {
        call: Arc::new(move |name, body| app.answer_text(&app.local_caller(), name, body)),
        largest: App::largest_body,
        take: Arc::new(move |name, request, file| taking.take_file(&taking.local_caller(), name, request, file)),
        largest_file: App::largest_file,
        give: Arc::new(move |name, request, file| {
            giving
                .give_file(&giving.local_caller(), name, request, file)
                .map(|(name, media)| hub::Given { name, media })
        }),
        folder,
    };
    let Some(key) = hub::Key::new(&clock::secret()) else { return Err(failed(say!("cli-no-key"))) };
    let query = key.query();
    runtime
        .block_on(hub::serve(address, key, answers, UI, |address| {
            println!("{}", say!("cli-serving", address = format!("http://{address}/{query}")));
        }))
        .map_err(|error| failed(error.to_string()))
}
