//! The loopback host of the same interface.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;

use api::ApiError;

use crate::App;
use crate::error::failed;
use crate::ui_files::UI;

/// Serves the interface on a loopback port (0: a free one) until the process ends; prints the address.
pub(crate) fn serve(app: Arc<App>, port: u16) -> Result<(), ApiError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| failed(format!("the host does not start: {error}")))?;
    let address = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), port);
    let handler: hub::Handler = Arc::new(move |name, body| app.answer(name, body));
    runtime
        .block_on(hub::serve(address, handler, UI, |address| println!("Waywright at http://{address}/")))
        .map_err(|error| failed(error.to_string()))
}
