//! Setup and step become one setup, as somebody would have written it for this hold alone.
//!
//! What the unit, its oil, hoses and sensors are comes from the setup; how it is plumbed and
//! for how long it is held comes from the step.

use super::file::HoldStepTable;
use crate::account::FigureName;
use crate::cylinder::Chamber;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::settings::Shop;
use crate::settings::limits::LimitSet;
use toml::Table;
use toml::Value;

/// How far from the pressure of a hold a limit may be stated and still be its own, relative.
const SAME_PRESSURE: f64 = 0.1;

/// What a step asks of plumbing and time.
pub(super) struct Wanted<'a> {
    pub cap_port: &'a str,
    pub rod_port: Option<&'a str>,
    pub rod: &'a str,
    pub joined: bool,
    pub settle_s: f64,
    pub length_s: f64,
    pub until_decided: bool,
    /// What flows are stated at.
    pub pressure: Option<GaugePressure>,
    /// Where the rod stands, if a person sees to that.
    pub rod_out: Option<Length>,
    /// Ids of the limits it is held against.
    pub limits: Vec<String>,
}

impl<'a> Wanted<'a> {
    /// Nothing in particular: a cylinder that stands on the bench.
    pub(super) fn standing(limits: Vec<String>) -> Self {
        Self {
            cap_port: "blocked",
            rod_port: Some("open_to_vessel"),
            rod: "locked",
            joined: false,
            settle_s: 0.0,
            length_s: 60.0,
            until_decided: false,
            pressure: None,
            rod_out: None,
            limits,
        }
    }

    /// Of a hold.
    pub(super) fn of_hold(
        table: &'a HoldStepTable,
        pressure: Option<GaugePressure>,
        limits: Vec<String>,
    ) -> Self {
        Self {
            cap_port: &table.cap_port,
            rod_port: table.rod_port.as_deref(),
            rod: &table.rod,
            joined: table.joined,
            settle_s: table.settle.get().si(),
            length_s: table.length.get().si(),
            until_decided: table.until_decided,
            pressure,
            rod_out: None,
            limits,
        }
    }
}

/// The setup of one hold, as a table.
pub(super) fn merged(setup: &Table, wanted: &Wanted<'_>) -> Table {
    let mut whole = setup.clone();
    whole.remove("procedure");
    let mut circuit = inner(&whole, "circuit");
    circuit.insert("cap_port".into(), wanted.cap_port.into());
    match wanted.rod_port {
        Some(port) => circuit.insert("rod_port".into(), port.into()),
        None => circuit.remove("rod_port"),
    };
    circuit.insert("rod".into(), wanted.rod.into());
    if matches!(wanted.rod, "locked" | "bottomed") {
        circuit.remove("load");
    }
    if wanted.joined {
        circuit.insert("joined".into(), true.into());
    }
    whole.insert("circuit".into(), circuit.into());
    let own_hold = inner(&whole, "hold");
    let mut hold = Table::new();
    hold.insert("settle".into(), format!("{} s", wanted.settle_s).into());
    hold.insert("length".into(), format!("{} s", wanted.length_s).into());
    if wanted.until_decided {
        hold.insert("until_decided".into(), true.into());
    }
    if let Some(pressure) = wanted.pressure {
        let text = format!("{} bar", pressure.bar());
        hold.insert("pressure".into(), text.into());
    }
    // A step without a place is held wherever the setup says that the rod stands.
    if let Some(out) = own_hold.get("at") {
        hold.insert("at".into(), out.clone());
    }
    if let Some(out) = wanted.rod_out {
        hold.insert("at".into(), format!("{} m", out.value).into());
    }
    whole.insert("hold".into(), hold.into());
    match wanted.limits.is_empty() {
        true => {
            whole.remove("acceptance");
        }
        false => {
            let mut acceptance = inner(&whole, "acceptance");
            let limits = wanted.limits.iter().map(|id| Value::from(id.as_str()));
            acceptance.insert("limits".into(), limits.collect::<Vec<Value>>().into());
            whole.insert("acceptance".into(), acceptance.into());
        }
    }
    whole
}

/// Lets a step go up to its own pressure where the cylinder alone is rated for less: a proof
/// is meant to. What is plumbed to it keeps its rating.
pub(super) fn rated_for(setup: &mut Table, chamber: Chamber, pressure: GaugePressure) {
    let key = match chamber {
        Chamber::Cap => "cap_rating",
        Chamber::Rod => "rod_rating",
    };
    let mut cylinder = inner(setup, "cylinder");
    let most = format!("{:.0} bar", (1.1 * pressure.bar()).ceil());
    cylinder.insert(key.into(), most.into());
    setup.insert("cylinder".into(), cylinder.into());
}

/// Names of the setup's limits that are for one of `figures`, and for about this pressure if
/// they are stated for one.
pub(super) fn limits_for(
    setup: &Table,
    shop: Option<&Shop>,
    figures: &[FigureName],
    pressure: Option<GaugePressure>,
) -> Vec<String> {
    let is_for = |set: &LimitSet| {
        let near = match (set.stated_pressure(), pressure) {
            (Some(stated), Some(own)) => {
                (stated.pa() - own.pa()).abs() <= SAME_PRESSURE * stated.pa().abs()
            }
            _ => true,
        };
        near && figures.contains(&set.figure)
    };
    let mut ids = named_limits(setup);
    ids.retain(|id| {
        let set = shop.and_then(|shop| shop.limits.iter().find(|set| set.id == *id));
        // One that nobody knows is refused with the setup, not lost here.
        set.is_none_or(is_for)
    });
    ids
}

/// Names of the limits in the setup's `[acceptance]`.
pub(super) fn named_limits(setup: &Table) -> Vec<String> {
    let acceptance = inner(setup, "acceptance");
    let ids = acceptance.get("limits").and_then(Value::as_array);
    let ids = ids.into_iter().flatten().filter_map(Value::as_str);
    ids.map(str::to_owned).collect()
}

fn inner(table: &Table, key: &str) -> Table {
    let found = table.get(key).and_then(Value::as_table);
    found.cloned().unwrap_or_default()
}
