//! Quantities as they stand in a settings file: `bore = "63 mm"`.

use crate::quantity::Quantity;
use crate::quantity::Typed;
use crate::quantity::parse;
use serde::Deserialize;
use serde::Deserializer;
use serde::de::Error;

/// A typed quantity in a file.
#[derive(Debug, Clone)]
pub(super) struct Text<Q>(pub Typed<Q>);

impl<Q: Quantity> Text<Q> {
    /// The quantity.
    pub fn get(&self) -> Q {
        self.0.quantity
    }
}

impl<'de, Q: Quantity> Deserialize<'de> for Text<Q> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        parse(&text).map(Self).map_err(D::Error::custom)
    }
}
