//! Who makes a call.

use std::ops::Deref;

use survey::By;
use survey::intent::Stamp;
use uuid::Uuid;

use crate::{App, clock};

/// Who makes a call, as far as the way it came by tells: no call is answered without one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caller {
    /// The device it is made on, by the id of its store; none where the store has none.
    pub device: Option<Uuid>,
    /// The person's name; empty where nobody said it.
    pub person: String,
    /// The person's role: "surveyor", "office".
    pub role: String,
    /// The language and region to answer in, as BCP 47 writes them.
    pub locale: String,
}

impl Caller {
    /// As it is written beside what the call saves.
    #[must_use]
    pub fn by(&self) -> By {
        By { role: self.role.clone(), person: self.person.clone(), device: self.device }
    }

    /// As it is stamped on values, now.
    pub(crate) fn stamp(&self) -> Stamp {
        Stamp { by: self.by(), at: clock::now() }
    }
}

/// The app as one caller finds it: what writes is done by somebody.
#[derive(Clone, Copy)]
pub(crate) struct Asked<'a> {
    app: &'a App,
    pub(crate) caller: &'a Caller,
}

impl Deref for Asked<'_> {
    type Target = App;
    fn deref(&self) -> &App {
        self.app
    }
}

impl App {
    /// Whoever sits at this machine: the caller that window, loopback host and command line make of each call.
    #[must_use]
    pub fn local_caller(&self) -> Caller {
        let locale = self.language().to_owned();
        Caller { device: self.store().device(), person: String::new(), role: self.role(), locale }
    }

    /// The app as this caller finds it.
    pub(crate) fn asked<'a>(&'a self, caller: &'a Caller) -> Asked<'a> {
        Asked { app: self, caller }
    }
}
