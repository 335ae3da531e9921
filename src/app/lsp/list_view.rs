//! What the rules say of an open list, ready for every question that the editor asks of it.

use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;

use crate::app::batch::judged;
use crate::app::report::Audited;
use crate::build::Build;
use crate::build::brief::Brief;
use crate::build::resolve::Resolved;
use crate::kit::Kit;
use crate::source::{Problems, Source};

/// What was made of a text.
pub(crate) struct Seen {
    /// The editor's number of the text.
    pub(crate) version: i32,
    /// The number of the shop's layers.
    pub(crate) generation: u64,
    /// The day that prices are of where the list gives none.
    pub(crate) today: Date,
    /// What it is, or what is wrong with it.
    pub(crate) outcome: Result<Rc<ListView>, Rc<Problems>>,
    /// What the last text that read was, while this one does not.
    pub(crate) last: Option<Rc<ListView>>,
}

/// A list or a brief that reads.
pub(crate) struct ListView {
    /// The list as it is written, joined with its catalogue.
    pub(crate) build: Rc<Resolved>,
    /// What the rules say, open lines filled; none of a brief, which has no parts yet.
    pub(crate) audited: Option<Box<Audited>>,
}

impl ListView {
    /// Reads and audits a list.
    pub(crate) fn of_list(kit: &Kit, source: &Arc<Source>, today: Date) -> Result<Self, Problems> {
        let build = kit.read(source, today)?;
        let audited = judged(kit, &build, false)?;
        Ok(Self { build: joined(kit, build), audited: Some(Box::new(audited)) })
    }

    pub(crate) fn of_brief(
        kit: &Kit,
        source: &Arc<Source>,
        today: Date,
    ) -> Result<(Self, Brief), Problems> {
        let brief = Brief::parse(source, kit.catalogue(), today)?;
        Ok((Self { build: joined(kit, brief.build.clone()), audited: None }, brief))
    }

    pub(crate) fn list(&self) -> &Build {
        &self.build.build
    }
}

fn joined(kit: &Kit, build: Build) -> Rc<Resolved> {
    Rc::new(Resolved::new(Arc::new(build), kit.catalogue().clone()))
}
