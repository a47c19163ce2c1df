//! An app on a store of its own, for tests.

use api::{ApiError, Call, ListBoards, ListSites};
use survey::BoardId;
use tempfile::TempDir;
use waywright::App;

/// An app in a folder that goes away with it.
pub struct Bench {
    /// The app.
    pub app: App,
    folder: TempDir,
}

impl Bench {
    /// With an empty store.
    ///
    /// # Panics
    /// Where the machine has no room for it.
    #[must_use]
    pub fn empty() -> Self {
        let folder = TempDir::new().expect("a folder for the test");
        let app = App::open(folder.path()).expect("an empty store opens");
        Self { app, folder }
    }

    /// With the demo survey.
    ///
    /// # Panics
    /// Where the demo does not read.
    #[must_use]
    pub fn with_demo() -> Self {
        let bench = Self::empty();
        bench.app.seed_demo().expect("the demo reads");
        bench
    }

    /// Closes the store and opens it again.
    ///
    /// # Panics
    /// Where it does not open.
    pub fn restart(&mut self) {
        // The old one goes first: there is one writer.
        let elsewhere = TempDir::new().expect("a folder for the test");
        self.app = App::open(elsewhere.path()).expect("an empty store opens");
        self.app = App::open(self.folder.path()).expect("the store opens again");
    }

    /// The board of that reference.
    ///
    /// # Panics
    /// Where there is none.
    #[must_use]
    pub fn board(&self, reference: &str) -> BoardId {
        let rows =
            call(&self.app, ListBoards { query: reference.to_owned(), limit: 10 }).expect("boards are listed").rows;
        rows.iter().find(|row| row.reference == reference).unwrap_or_else(|| panic!("no board {reference}")).id
    }

    /// Every board as a survey file, in the order of their ids: what the store holds.
    ///
    /// # Panics
    /// Where a board does not read.
    #[must_use]
    pub fn surveys(&self) -> Vec<String> {
        assert!(!call(&self.app, ListSites {}).expect("sites are listed").is_empty());
        let rows = call(&self.app, ListBoards { query: String::new(), limit: 1000 }).expect("boards are listed").rows;
        let mut ids: Vec<BoardId> = rows.iter().map(|row| row.id).collect();
        ids.sort_unstable();
        ids.into_iter().map(|board| call(&self.app, api::ExportSurvey { board }).expect("a board is written")).collect()
    }
}

/// Makes a call through the same door as window and host.
///
/// # Errors
/// What the app answers.
///
/// # Panics
/// Where request or reply do not go through JSON.
pub fn call<C: Call>(app: &App, request: C) -> Result<C::Reply, ApiError> {
    let body = serde_json::to_value(request).expect("a request is JSON");
    match app.answer(&app.local_caller(), C::NAME, body) {
        Ok(reply) => Ok(serde_json::from_str(&reply).expect("the reply is what the contract says")),
        Err(error) => Err(serde_json::from_value(error).expect("an error is what the contract says")),
    }
}
