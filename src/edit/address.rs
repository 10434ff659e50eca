//! Where a value stands in a job: `design.basins[0].outline[2]`.
//!
//! Addresses count as the tables of `surveys/README.md` do, whether a record is written with its
//! fields' names or without: `field_book.setups[0].sights[3].rod` is the second value in
//! `("4", 5.20, Offset("A", 0, 0))`.

use std::fmt;
use std::str::FromStr;

/// One step into a value.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Step {
    /// A field of a record.
    Field(String),
    /// An item of a list, or of a plain pair such as `(edge, batter)`.
    Item(usize),
    /// The item of a list that has this name.
    Named(String),
}

/// The way from the whole job to one value.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Address {
    steps: Vec<Step>,
}

impl Address {
    /// The whole job.
    pub fn job() -> Address {
        Address::default()
    }

    /// Reads `design.basins[0].water` or `design.basins["pond"].water`.
    ///
    /// ```
    /// use brimline::edit::Address;
    /// let corner = Address::of("design.basins[\"pond\"].outline[2]").unwrap();
    /// assert_eq!(corner.parent().unwrap().to_string(), "design.basins[\"pond\"].outline");
    /// assert!(Address::of("design..basins").is_err());
    /// ```
    pub fn of(text: &str) -> Result<Address, NotAnAddress> {
        text.parse()
    }

    /// A field of the record that stands here.
    pub fn field(&self, name: &str) -> Address {
        self.with(Step::Field(name.to_string()))
    }

    /// An item of the list that stands here.
    pub fn item(&self, index: usize) -> Address {
        self.with(Step::Item(index))
    }

    fn with(&self, step: Step) -> Address {
        let mut steps = self.steps.clone();
        steps.push(step);
        Address { steps }
    }

    /// What this is a field or an item of.
    pub fn parent(&self) -> Option<Address> {
        let (_, head) = self.steps.split_last()?;
        Some(Address {
            steps: head.to_vec(),
        })
    }

    /// The last step.
    pub fn last(&self) -> Option<&Step> {
        self.steps.last()
    }

    /// The number of an item of a list.
    pub fn index(&self) -> Option<usize> {
        match self.last() {
            Some(Step::Item(index)) => Some(*index),
            _ => None,
        }
    }

    /// All steps, from the job on.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Whether `other` is this, or inside it.
    pub fn holds(&self, other: &Address) -> bool {
        other.steps.starts_with(&self.steps)
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, step) in self.steps.iter().enumerate() {
            match step {
                Step::Field(name) if i == 0 => write!(f, "{name}")?,
                Step::Field(name) => write!(f, ".{name}")?,
                Step::Item(index) => write!(f, "[{index}]")?,
                Step::Named(name) => write!(f, "[\"{name}\"]")?,
            }
        }
        Ok(())
    }
}

/// A text that is not an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotAnAddress(pub String);

impl fmt::Display for NotAnAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` is not an address such as design.basins[0].water",
            self.0
        )
    }
}

impl std::error::Error for NotAnAddress {}

impl FromStr for Address {
    type Err = NotAnAddress;

    fn from_str(text: &str) -> Result<Address, NotAnAddress> {
        let bad = || NotAnAddress(text.to_string());
        let mut steps = Vec::new();
        let mut rest = text;
        while !rest.is_empty() {
            if let Some(tail) = rest.strip_prefix("[\"") {
                let (name, after) = tail.split_once("\"]").ok_or_else(bad)?;
                steps.push(Step::Named(name.to_string()));
                rest = after;
            } else if let Some(tail) = rest.strip_prefix('[') {
                let (number, after) = tail.split_once(']').ok_or_else(bad)?;
                steps.push(Step::Item(number.parse().map_err(|_| bad())?));
                rest = after;
            } else {
                let start = match rest.strip_prefix('.') {
                    Some(tail) if !steps.is_empty() => tail,
                    None if steps.is_empty() => rest,
                    _ => return Err(bad()),
                };
                let end = start.find(['.', '[']).unwrap_or(start.len());
                let (field, after) = start.split_at(end);
                if field.is_empty() {
                    return Err(bad());
                }
                steps.push(Step::Field(field.to_string()));
                rest = after;
            }
        }
        Ok(Address { steps })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_read_and_print() {
        for text in [
            "",
            "name",
            "design.basins[0].outline[12]",
            "field_book.setups[\"I\"].sights[3].rod",
        ] {
            assert_eq!(Address::of(text).expect(text).to_string(), text);
        }
        for text in [".name", "a..b", "a[x]", "a[\"x", "a[1", "a.", "a[0]b"] {
            assert_eq!(Address::of(text), Err(NotAnAddress(text.into())), "{text}");
        }
        let list = Address::job().field("sequence");
        assert!(list.holds(&list.item(2).field("works")));
        assert_eq!(list.item(2).index(), Some(2));
        assert_eq!(Address::job().parent(), None);
    }
}
