//! A text together with its tree, read once and looked at as often as anyone likes.

use std::sync::{Arc, OnceLock};

use self_cell::self_cell;

use crate::edit::names::Names;
use crate::edit::refused::Refused;
use crate::job::problem::{Problem, line_column};
use crate::job::tree::{self, Node};

type Root<'a> = Result<Node<'a>, Problem>;

self_cell!(
    struct Read {
        owner: Arc<str>,
        #[covariant]
        dependent: Root,
    }
);

/// A text, its tree, and the names in it once somebody asks.
pub struct Script {
    read: Read,
    names: OnceLock<Names>,
}

impl Script {
    /// Any text.
    pub fn read(text: &str) -> Script {
        Script::of(text, tree::read)
    }

    /// A text that is known to be well formed.
    pub fn walk(text: &str) -> Script {
        Script::of(text, tree::walk)
    }

    fn of(text: &str, tree: impl for<'a> FnOnce(&'a str) -> Root<'a>) -> Script {
        Script {
            read: Read::new(Arc::from(text), |text| tree(text)),
            names: OnceLock::new(),
        }
    }

    /// A text that came from this one; `as_text`: by other ways than values for values.
    pub fn after(&self, text: &str, as_text: bool) -> Arc<Script> {
        Arc::new(if as_text || self.tree().is_err() {
            Script::read(text)
        } else {
            Script::walk(text)
        })
    }

    pub fn text(&self) -> &str {
        self.read.borrow_owner()
    }

    /// The tree, or why there is none.
    pub fn tree(&self) -> Result<&Node<'_>, &Problem> {
        self.read.borrow_dependent().as_ref()
    }

    /// The tree for an edit.
    pub fn root(&self) -> Result<&Node<'_>, Refused> {
        self.tree().map_err(|problem| Refused::Unreadable {
            line: line_column(self.text(), problem.span.start).0,
            what: problem.what.clone(),
        })
    }

    pub fn names(&self) -> Result<&Names, Refused> {
        let root = self.root()?;
        Ok(self.names.get_or_init(|| Names::of(root)))
    }
}

impl std::fmt::Debug for Script {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Script({} bytes)", self.text().len())
    }
}
